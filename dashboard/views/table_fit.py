"""Which columns of a table stand at which width: the most wanted as far as they fit, the others open below it.

The browser shows and hides them by the width that the table has, so that a turned phone or a wider window need not ask
the server. How much a column takes is estimated here from its words.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate

#: Widths at which columns come and go [px]: from what a small phone leaves to a table (288 of 320), closer where it
#: matters most.
EDGES = (*range(288, 488, 10), *range(500, 1500, 40))
#: Width of letters in 1,000ths of their size, about as in the page's type; the size of letters [px]; how much wider a
#: heading is; the room between two columns [px] in a narrow table, up to which width, and in a wide one.
_WIDTHS = {
    **dict.fromkeys("iljftrI.,:;'()|!", 310),
    **dict.fromkeys("0123456789", 500),
    " ": 200,
    **dict.fromkeys("mwMW%—", 830),
}
_OTHERS, _SIZE, _BOLD = 535, 14.72, 1.07
GAP, NARROW, WIDE_GAP = 8.0, 440, 12.0
#: From this width of a table [px] there is more room between columns and for words. It is so far beyond a narrow one
#: that columns that stand in that stand in a wide one, too.
_WIDE = 641
#: A cell with more letters than this is broken over lines, down to this width [px] in a narrow and in a wide table.
LONG_TEXT = 14
LEAST_TEXT, WIDE_TEXT = 80.0, 144.0
#: Where a cell may be broken besides at spaces: within the names of files and of series.
BREAKS = re.compile(r"(?<=\w\w\w[/_])(?=\w\w\w)")


def rules() -> str:
    """The rules that make columns come and go inside `.plain-table-with`."""
    steps = []
    for n, edge in enumerate(EDGES):
        gone = f".from-{n} {{ display: none; }} .below-{n} {{ display: revert; }}"
        steps.append(f"@container table (max-width: {edge - 0.02:.2f}px) {{ {gone} }}")
    return (
        ".plain-table-with { container: table / inline-size; } "
        ":where(.plain-table-more, .plain-table-more span) { display: none; } "
        f"{' '.join(steps)} "
        f".plain-table :is(th, td) {{ padding-right: {WIDE_GAP:g}px; }} "
        f".plain-table td.words.long {{ min-width: {LEAST_TEXT:g}px; }} "
        f"@container table (max-width: {_WIDE - 0.02:.2f}px) "
        f"{{ .plain-table :is(th, td) {{ padding-right: {GAP:g}px; }} }} "
        f"@container table (min-width: {_WIDE}px) {{ .airy td.words.long {{ min-width: {WIDE_TEXT:g}px; }} }} "
        # Opened: all columns, and the first stays while the others are moved, so that a row keeps its name.
        ".plain-table-with:has(> details[open]) :is(th, td) { display: table-cell; } "
        ".plain-table-with:has(> details[open]) :is(th, td):first-child "
        "{ position: sticky; left: 0; background: var(--page); box-shadow: 1px 0 rgba(128,128,128,0.4); } "
    )


def width_of(heading: str, cells: Iterable[str], *, wraps: bool) -> tuple[float, float]:
    """About how much a column takes at least in a narrow and in an airy table [px]; `wraps`: broken at spaces."""
    texts = list(cells)
    if wraps:
        taken = max((_length(w) for t in texts for part in t.split() for w in BREAKS.split(part)), default=0.0)
        both = max(LEAST_TEXT, taken), max(WIDE_TEXT, taken)
    else:
        taken = max(map(_length, texts), default=0.0)
        both = taken, taken
    words = max((_BOLD * _length(w) for w in heading.split()), default=0.0)
    return max(both[0], words), max(both[1], words)


def _length(text: str) -> float:
    """Of a text on one line [px]."""
    return sum(_WIDTHS.get(letter, _OTHERS) for letter in text) * _SIZE / 1000


def steps(widths: Mapping[str, tuple[float, float]], wanted: Sequence[Sequence[str]]) -> tuple[dict[str, int], bool]:
    """For each column the step of width from which it stands, without those that always do; whether the table is airy.

    An airy table has more room for words where it is wide; one with many columns of words is none.

    widths   what each column takes in a narrow and in an airy table [px]
    wanted   columns in groups that come and go together, the most wanted first; the first group always stands
    """
    found: dict[str, int] = {}
    groups = [[widths[c] for c in group] for group in wanted]
    narrow = list(accumulate(sum(w[0] + GAP for w in g) for g in groups))
    airy = list(accumulate(sum(w[1] + WIDE_GAP for w in g) for g in groups))
    is_airy = all(wide < _WIDE for small, wide in zip(narrow, airy, strict=True) if small <= NARROW)
    wide = airy if is_airy else list(accumulate(sum(w[0] + WIDE_GAP for w in g) for g in groups))
    for place, group in enumerate(wanted):
        room = narrow[place] if narrow[place] <= NARROW else wide[place]
        step = min(bisect_left(EDGES, room), len(EDGES) - 1)
        if place and step > 0:
            found |= dict.fromkeys(group, step)
    return found, is_airy
