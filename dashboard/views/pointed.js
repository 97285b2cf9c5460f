// A picture over days: shows the drawing it is sent, reads out the day under the pointer, a finger or the arrow keys,
// and gives back the days that are dragged across with a mouse.

const DAY = 86400000;
const NEAR = 5; // a mark so far from the pointer is still meant [px]
const DRAGGED = 6; // less than this is a click [px]
const MORE = 3; // so many marks of other days are read out at most
const KEYS = { ArrowLeft: -1, ArrowRight: 1, ArrowDown: -1, ArrowUp: 1, PageDown: -30, PageUp: 30 };
const views = new WeakMap();

export default function ({ data, parentElement, setTriggerValue }) {
  const box = parentElement.querySelector(".pointed-picture");
  if (!views.has(box)) views.set(box, new View(box));
  views.get(box).take(new TextDecoder().decode(data), setTriggerValue);
}

class View {
  constructor(box) {
    this.box = box;
    this.text = "";
    this.drawing = box.appendChild(document.createElement("div"));
    this.across = part(box, "pointed-across");
    this.hair = part(box, "pointed-hair");
    this.said = part(box, "pointed-said");
    this.field = box.appendChild(document.createElement("div"));
    this.field.className = "pointed-field";
    this.field.tabIndex = 0;
    this.field.setAttribute("role", "slider");
    this.field.setAttribute("aria-valuemin", "0");
    const f = this.field;
    f.onpointermove = (e) => this.move(e);
    f.onpointerdown = (e) => this.press(e);
    f.onpointerup = (e) => this.release(e);
    f.onpointercancel = () => this.hide();
    // A finger that is lifted leaves too: what it showed stays until the next touch elsewhere.
    f.onpointerleave = (e) => { if (e.pointerType === "mouse") this.hide(); };
    const elsewhere = (e) => {
      if (!box.isConnected) document.removeEventListener("pointerdown", elsewhere);
      else if (e.target !== f) this.hide();
    };
    document.addEventListener("pointerdown", elsewhere);
    f.onfocus = () => { if (f.matches(":focus-visible")) this.read(this.day, true); };
    f.onblur = () => this.hide();
    f.onkeydown = (e) => this.key(e);
    // The first width is told too, before anything is painted; asking for it would lay the page out once more.
    this.width = 0;
    new ResizeObserver(() => this.fit()).observe(f);
  }

  // Marks keep their size where the picture is wider or narrower: their places are worked out in pixels.
  fit() {
    if (this.width === this.field.clientWidth) return;
    this.width = this.field.clientWidth;
    this.marks();
  }

  marks() {
    if (!this.width) return;
    for (const path of this.drawing.querySelectorAll("[data-at]")) {
      const size = path.transform.baseVal.getItem(0).matrix.a;
      const mark = path.dataset.mark;
      let lines = "";
      for (const place of path.dataset.at.split(" ")) {
        const [x, y] = place.split(",");
        lines += `M${((x / 100) * this.width / size).toFixed(2)},${(y / size).toFixed(2)}${mark}`;
      }
      path.setAttribute("d", lines);
    }
  }

  take(text, give) {
    this.give = give;
    if (text === this.text) return;
    this.text = text;
    const d = (this.d = JSON.parse(text));
    const [left, right, top, bottom] = d.margin;
    this.drawing.style.padding = `${top}px ${right}px ${bottom}px ${left}px`;
    this.drawing.innerHTML = d.svg;
    this.marks();
    Object.assign(this.field.style, { left: `${left}px`, right: `${right}px`, top: `${top}px`, bottom: `${bottom}px` });
    for (const series of [...d.lines, ...d.marks]) {
      let at = 0;
      series.at = series.days.map((step) => (at += step));
    }
    this.day = d.days - 1;
    this.start = null;
    this.field.setAttribute("aria-label", d.words.control);
    this.field.setAttribute("aria-valuemax", d.days - 1);
    this.name();
    this.hide();
  }

  // Which day lies at a place of the window, as its number in the picture.
  dayAt(x) {
    const r = this.field.getBoundingClientRect();
    return clamp(Math.floor(((x - r.left) / r.width) * this.d.days), 0, this.d.days - 1);
  }

  move(e) {
    const day = this.dayAt(e.clientX);
    if (this.start && Math.abs(e.clientX - this.start.x) >= DRAGGED) {
      this.start.dragged = true;
      const [a, b] = [this.start.day, day].sort((p, q) => p - q);
      this.place(this.across, a, b - a + 1);
    }
    this.read(day, false);
  }

  press(e) {
    if (e.pointerType === "mouse" && e.button === 0) {
      this.start = { x: e.clientX, day: this.dayAt(e.clientX), dragged: false };
      this.field.setPointerCapture(e.pointerId);
    }
    this.read(this.dayAt(e.clientX), false);
  }

  release(e) {
    const start = this.start;
    this.start = null;
    this.across.hidden = true;
    if (!start || !start.dragged) return;
    const [a, b] = [start.day, this.dayAt(e.clientX)].sort((p, q) => p - q);
    this.hide();
    if (b > a) this.give("days", [this.iso(a), this.iso(b)]);
  }

  key(e) {
    let day = this.day;
    if (e.key in KEYS) day += KEYS[e.key];
    else if (e.key === "Home") day = 0;
    else if (e.key === "End") day = this.d.days - 1;
    else if (e.key === "Escape") return this.hide();
    else return;
    e.preventDefault();
    this.read(clamp(day, 0, this.d.days - 1), true);
  }

  hide() {
    this.start = null;
    this.hair.hidden = this.said.hidden = this.across.hidden = true;
  }

  read(day, aloud) {
    this.day = day;
    const lines = this.lines(day);
    this.place(this.hair, day + 0.5, 0);
    this.said.replaceChildren(...lines.map((text) => {
      const p = document.createElement("div");
      p.textContent = text;
      return p;
    }));
    this.said.hidden = false;
    const x = this.field.offsetLeft + ((day + 0.5) / this.d.days) * this.field.offsetWidth;
    const w = this.said.offsetWidth;
    this.said.style.left = `${clamp(x > w + 16 ? x - w - 10 : x + 10, 0, this.box.offsetWidth - w)}px`;
    this.said.style.top = `${this.field.offsetTop + 100}px`;
    if (aloud) this.name(lines);
  }

  // What the day is called and what it held, for a person who hears the page.
  name(lines = this.lines(this.day)) {
    this.field.setAttribute("aria-valuenow", this.day);
    this.field.setAttribute("aria-valuetext", lines.join(", "));
  }

  lines(day) {
    const d = this.d;
    const lines = [this.long(day)];
    // A day where two kinds of line meet is in both, and says the same there.
    for (const s of d.lines) {
      const k = found(s.at, day);
      if (lines.length === 1 && s.at[k] === day) lines.push(s.said[k] + s.after + (s.notes[k] || ""));
    }
    if (lines.length === 1) lines.push(d.words.unknown);
    for (const s of d.spans) s.from.forEach((a, k) => { if (a <= day && day <= s.to[k]) lines.push(s.said[k]); });
    const reach = Math.floor((NEAR * d.days) / Math.max(this.width, 1));
    const others = [];
    for (const s of d.marks) {
      let k = found(s.at, day - reach);
      for (; k < s.at.length && s.at[k] <= day + reach; k++) {
        if (s.at[k] === day) lines.push(s.said);
        else others.push([Math.abs(s.at[k] - day), s.at[k], s.said]);
      }
    }
    others.sort((p, q) => p[0] - q[0]);
    for (const [, at, said] of others.slice(0, MORE)) lines.push(`${this.short(at)}: ${said}`);
    return lines;
  }

  place(part, from, days) {
    const f = this.field;
    part.style.left = `${f.offsetLeft + (from / this.d.days) * f.offsetWidth}px`;
    if (days) part.style.width = `${(days / this.d.days) * f.offsetWidth}px`;
    part.style.top = `${f.offsetTop}px`;
    part.style.height = `${f.offsetHeight}px`;
    part.hidden = false;
  }

  date(day) { return new Date((this.d.first + day) * DAY); }
  iso(day) { return this.date(day).toISOString().slice(0, 10); }
  long(day) {
    const t = this.date(day);
    const weekday = this.d.words.weekdays[(t.getUTCDay() + 6) % 7];
    return `${weekday} ${t.getUTCDate()} ${this.d.words.months[t.getUTCMonth()]} ${t.getUTCFullYear()}`;
  }
  short(day) {
    const t = this.date(day);
    return `${t.getUTCDate()} ${this.d.words.months[t.getUTCMonth()].slice(0, 3)} ${t.getUTCFullYear()}`;
  }
}

// The position of the first of `at` (increasing) that is not below `day`.
function found(at, day) {
  let low = 0;
  let high = at.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (at[middle] < day) low = middle + 1;
    else high = middle;
  }
  return low;
}

function part(box, name) {
  const made = box.appendChild(document.createElement("div"));
  made.className = name;
  made.setAttribute("aria-hidden", "true");
  made.hidden = true;
  return made;
}

function clamp(value, low, high) {
  return Math.min(Math.max(value, low), high);
}
