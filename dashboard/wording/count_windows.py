"""Sentences about the windows of flow and how well each predicts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording.numbers import clause, count_of

if TYPE_CHECKING:
    from dashboard.answers.counts_answer import CountsAnswer
    from ecology.count_cross_validation import CrossValidation

TOO_NARROW = (
    "This window was chosen because it predicted best: intervals after such a choice are too narrow and p too small."
)
DECLARED = "The window was declared beforehand and not chosen by this comparison: had it been, the intervals would be too narrow."

CURVE_TITLE, WINDOW_AXIS = "Windows of flow compared", "discharge averaged over"
SCORE, USED = "log score behind the best", "used"
CURVE_KEY = (
    "◆ mean log score of visits predicted by a fit without their flow cycle, less the best window's; higher is better, bars "
    "± 2 standard errors. Ring: the window used on this page."
)


def curve_alt(cv: CrossValidation, used: int) -> str:
    """The curve for people who do not see it."""
    each = ", ".join(
        f"{short_span(int(w))} {-b:.4f}" for w, b in zip(cv.windows["window"], cv.windows["behind"], strict=True)
    )
    return f"Score of each window of flow, less that of the best one: {each}. Used: {short_span(used)}."


def short_span(window: int) -> str:
    return "1 day" if window == 1 else f"{window} days"


def after_choosing(chosen: bool) -> str:
    """What a choice of window does to the intervals."""
    return TOO_NARROW if chosen else DECLARED


def span_of(window: int) -> str:
    return "the day before" if window == 1 else f"the {window} days before"


def windows(a: CountsAnswer) -> list[str]:
    """How the windows compare."""
    cv = a.cross_validation
    if cv is None:
        return (
            []
            if a.why_no_cross_validation is None
            else [f"Windows are not compared: {clause(a.why_no_cross_validation)}."]
        )
    out = [_compared(cv)]
    if len(cv.windows) > 1:
        out.append(after_choosing(a.window_chosen))
    if a.choices.response.kind not in ("presence", "temperature"):
        inside = cv.windows.set_index("window").loc[cv.best]
        out.append(
            f"Of the visits left out, {100 * inside['covered_95']:.0f} in 100 lie inside their 95 % interval and "
            f"{100 * inside['covered_80']:.0f} in 100 inside their 80 % interval (a little more is expected, because counts are whole)."
        )
    out += [f"Not judged. {s}" for s in cv.skipped]
    return out


def _compared(cv: CrossValidation) -> str:
    if len(cv.windows) == 1:
        return f"Judged on {count_of(cv.n, 'visit')} left out by flow cycle ({count_of(cv.n_blocks, 'block')})."
    near = cv.windows[(cv.windows["window"] != cv.best) & (cv.windows["behind"] < 2 * cv.windows["behind_se"])]
    tail = "the others predict clearly worse"
    if len(near):
        each = [f"{w:g}" for w in near["window"]]
        names = each[0] if len(each) == 1 else f"{', '.join(each[:-1])} and {each[-1]}"
        tail = f"those over {names} {'day' if names == '1' else 'days'} are not clearly worse"
    return (
        f"Left out by flow cycle ({count_of(cv.n_blocks, 'block')}, {count_of(cv.n, 'visit')}), visits were best predicted by the "
        f"discharge over {span_of(cv.best)}; {tail}."
    )
