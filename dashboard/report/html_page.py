"""A report as one HTML file: pictures that can be pointed at, no request to anywhere, laid out for A4 and Letter."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import plotly.graph_objects as go
from plotly.io import to_html

from dashboard.figures.picture_file import drawing_library
from dashboard.report import hatching
from dashboard.report.printed import body, head, wraps
from dashboard.report.section import Plate, Report, Section, ShortTable
from dashboard.wording import report as words

#: Width of a picture: fits between the margins of A4 and of Letter [px].
PICTURE_PX = 680
_INK = "#1f2328"
_STYLE = f"""
:root {{ color-scheme: light; }}
body {{ margin: 0; background: #fff; color: {_INK};
  font: 15px/1.5 "DejaVu Sans", "Helvetica Neue", Arial, sans-serif; }}
main {{ max-width: {PICTURE_PX}px; margin: 0 auto; padding: 1.5rem 1rem 3rem; }}
h1, h2, h3 {{ font-family: "DejaVu Serif", Georgia, serif; line-height: 1.25; }}
h1 {{ font-size: 2rem; margin-bottom: .2rem; }}
h2 {{ font-size: 1.35rem; margin: 0 0 .3rem; }}
h3 {{ font-size: 1rem; margin: 1.2rem 0 .2rem; }}
p.answer {{ font-size: 1.2rem; line-height: 1.45; margin: .2rem 0 .8rem; }}
section {{ border-top: 1px solid #8c959f; padding-top: 1rem; margin-top: 2rem; }}
.caution {{ border-left: 4px solid #D55E00; padding: .1rem 0 .1rem .8rem; margin: .8rem 0; }}
.caution p {{ margin: .3rem 0; }}
figure {{ margin: 1rem 0; }}
figcaption {{ font-size: .88rem; line-height: 1.4; }}
.wide {{ overflow-x: auto; }}
.main-svg .annotation-text {{ paint-order: stroke; stroke: #fff; stroke-width: 4px; stroke-linejoin: round; }}
table {{ border-collapse: collapse; font-size: .78rem; line-height: 1.35; width: 100%; }}
th, td {{ text-align: left; vertical-align: top; padding: .15rem .4rem; border-bottom: 1px solid #d0d7de; }}
td {{ overflow-wrap: break-word; }}
td.n {{ white-space: nowrap; }}
th {{ border-bottom: 2px solid {_INK}; }}
ol, ul {{ padding-left: 1.3rem; }}
li {{ margin: .25rem 0; }}
footer {{ font-size: .85rem; margin-top: 2rem; }}
@page {{ size: A4; margin: 11mm 14mm 15mm; @bottom-right {{ content: counter(page) " / " counter(pages);
  font: 10px "DejaVu Sans", Arial, sans-serif; }} }}
@media print {{
  body {{ font-size: 12px; line-height: 1.4; }}
  p.answer {{ font-size: 1.25rem; line-height: 1.35; }}
  main {{ padding: 0; }}
  figure {{ margin: .4rem 0; }}
  figure .wide {{ zoom: .9; }}
  h3 {{ margin-top: .6rem; }}
  figcaption, .caution {{ font-size: 11px; }}
  li {{ margin: .12rem 0; }}
  section {{ break-before: page; border: 0; margin: 0; padding: 0; }}
  figure, tr, .caution {{ break-inside: avoid; }}
  h2, h3 {{ break-after: avoid; }}
  thead {{ display: table-header-group; }}
  .wide {{ overflow: visible; }}
  table {{ font-size: 9.5px; }}
  th, td {{ padding: .1rem .25rem; hyphens: auto; }}
  td:not(.n) {{ overflow-wrap: anywhere; }}
  .screen {{ display: none; }}
}}
"""


def report_html(report: Report, made: Mapping[str, str] | None = None) -> str:
    """The whole file; the same report gives the same text.

    made   texts of sections by name, where they are made already
    """
    texts = [(made or {}).get(s.name) or section_html(s, report.unit) for s in report.sections]
    return page(report.title, [top_html(report), *texts, rest_html(report)])


def page(title: str, parts: Sequence[str]) -> str:
    """A page of these parts, or of places for them."""
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{_safe(words.title(title))}</title><style>{_STYLE}</style>
<script>{drawing_library()}</script><script>{hatching.SCRIPT}</script></head>
<body><main>
{"".join(parts)}
</main></body></html>
"""


def top_html(report: Report) -> str:
    """What stands before the first section: it needs the answers of all."""
    return f"""<h1>{_safe(report.title)}</h1>
<p>{_safe(words.period(report.first, report.last, report.as_of))}</p>
<p class="screen">{_safe(words.PRINT_HINT)}</p>
<noscript><p>{_safe(words.NO_SCRIPT)}</p></noscript>
<h2>{_safe(words.IN_SHORT)}</h2>
<ol>{_items(report.summary)}</ol>
{_cautions(report.cautions[:2])}
"""


def section_html(s: Section, unit: str) -> str:
    """One section, discharge in that unit."""
    about = f"<p>{_safe(s.about)}</p>" if s.about else ""
    details = f"<ul>{_items(s.details)}</ul>" if s.details else ""
    return (
        f'<section id="{s.name}"><h2>{_safe(s.question)}</h2>{about}<p class="answer">{_safe(s.answer)}</p>'
        f"{''.join(_figure(p, s.name) for p in s.plates)}{details}{''.join(_table(t, unit) for t in s.printed)}"
        f"{_cautions(s.cautions)}</section>\n"
    )


def rest_html(report: Report) -> str:
    """What is not known, cautions, sources: after the last section."""
    unknown = report.unknown
    known = f"<ul>{_items(unknown)}</ul>" if unknown else f"<p>{_safe(words.NOTHING_UNKNOWN)}</p>"
    doubtful = f"<h3>{_safe(words.WARNINGS)}</h3><ul>{_items(report.warnings)}</ul>" if report.warnings else ""
    sources = "".join(_table(t, report.unit) for t in report.sources if len(t.frame))
    return (
        f'<section id="rest"><h2>{_safe(words.UNKNOWN)}</h2>{known}{doubtful}'
        f"<h3>{_safe(words.CAUTIONS)}</h3>{_cautions(report.cautions)}<h3>{_safe(words.SOURCES)}</h3>{sources}"
        f"<footer><p>{_safe(words.method(report.method_version))}</p></footer></section>"
    )


def _figure(plate: Plate, section: str) -> str:
    drawing = plate.drawing
    id = f"{section}-{drawing.name}"
    picture = to_html(
        on_paper(drawing.figure), validate=False, full_html=False, include_plotlyjs=False, div_id=id,
        default_width=f"{PICTURE_PX}px", post_script="hatched('{plot_id}')",
        config={"displayModeBar": False, "showTips": False, "responsive": False},
    )  # fmt: skip
    key = f"<figcaption>{_safe(plate.key)}</figcaption>" if plate.key else ""
    return (
        f'<figure role="group" aria-label="{_safe(drawing.alt)}"><h3>{_safe(drawing.title)}</h3>'
        f'<div class="wide">{picture}</div>{key}</figure>'
    )


def on_paper(figure: go.Figure) -> dict[str, Any]:
    """A figure of the pages on white paper, at the width of a report: plain data, that is not checked once more."""
    paper: dict[str, Any] = figure.to_dict()
    layout = paper["layout"]
    layout |= {"paper_bgcolor": "white", "plot_bgcolor": "white", "width": PICTURE_PX}
    layout["font"] |= {"color": _INK, "family": "DejaVu Sans, Arial, sans-serif"}
    return _ordered(paper)


def _ordered(held: Any) -> Any:
    """The same with every key in its place: a figure that came from another process has its own order of them."""
    if isinstance(held, dict):
        return {key: _ordered(held[key]) for key in sorted(held)}
    if isinstance(held, (list, tuple)) and held and isinstance(held[0], dict):
        return [_ordered(one) for one in held]
    return held


def _table(table: ShortTable, unit: str) -> str:
    rows = body(table, unit)
    if not rows:
        return ""
    heads = "".join(f'<th scope="col">{_safe(h)}</th>' for h in head(table, unit))
    opening = ["<td>" if words_in else '<td class="n">' for words_in in wraps(table)]
    lines = "".join(
        f"<tr>{''.join(f'{td}{_safe(c)}</td>' for td, c in zip(opening, row, strict=True))}</tr>" for row in rows
    )
    grid = f"<table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table>"
    return f'<h3>{_safe(table.title)}</h3><div class="wide">{grid}</div>'


def _cautions(sentences: Iterable[str]) -> str:
    lines = "".join(f"<p>{_safe(s)}</p>" for s in sentences)
    return f'<div class="caution" role="note">{lines}</div>' if lines else ""


def _items(sentences: Iterable[str]) -> str:
    return "".join(f"<li>{_safe(s)}</li>" for s in sentences)


def _safe(text: str) -> str:
    return html.escape(text)
