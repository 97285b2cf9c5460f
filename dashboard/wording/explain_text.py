"""The whole answer about a drop for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.explain import DOES_NOT_SHOW, PART_NAMES, details, read_aloud, signed, tried
from dashboard.wording.explain_comparison import assumptions, comparison
from dashboard.wording.numbers import figures

if TYPE_CHECKING:
    from dashboard.answers.explain import ExplainAnswer


def as_text(a: ExplainAnswer) -> str:
    """The whole answer for a terminal."""
    h, j = a.header, a.judgement
    lines = [f"{h.title}, as of {h.as_of}", "", read_aloud(a), ""]
    if j is not None and not j.factors.empty:
        lines.append(f"  {'part':<14}{'factor':>9}{f'{100 * a.level:g} % interval':>18}{'animals':>10}")
        for p in j.factors.itertuples(index=False):
            between = f"{figures(p.low)} to {'?' if p.high != p.high else figures(p.high)}"
            lines.append(f"  {PART_NAMES[p.part]:<14}{figures(p.factor):>9}{between:>18}{signed(p.animals):>10}")
        if j.split is not None:
            lines.append(f"  {'together':<14}{figures(j.split.ratio):>9}{'':>18}{signed(j.split.difference):>10}")
        lines.append("")
    lines += [f"  {s}" for s in details(a)]
    compared = comparison(a)
    if compared is not None:
        lines += ["", compared, *(f"  {s}" for s in assumptions(a))]
    lines += ["", DOES_NOT_SHOW]
    many = tried(a)
    if many is not None:
        lines += ["", many]
    return "\n".join([*lines, "", cautions.PROVISIONAL])
