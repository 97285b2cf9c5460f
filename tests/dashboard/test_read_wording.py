"""What `read` says of a file, as a person weighs it: how much is there, what is doubtful, and in which rows."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from dashboard.answers.read import read
from dashboard.wording.read import as_text
from hydro.sources.gauge_file import ReadChoices


def told(folder: Path, values: list[str], start: str = "2021-01-01", **choices: object) -> str:
    path = folder / "beck.csv"
    days = pd.date_range(start, periods=len(values))
    rows = [f"{d:%Y-%m-%d},{v}" for d, v in zip(days, values, strict=True) if v != "absent"]
    path.write_text("\n".join(["date,flow (cfs)", *rows]) + "\n")
    return as_text(read(path, ReadChoices(**choices)))  # type: ignore[arg-type]


WAVES = [str(10 + i % 7) for i in range(40)]


def test_a_good_file_is_called_good_in_its_first_sentence(tmp_path: Path) -> None:
    first = told(tmp_path, WAVES).split("\n")[1]
    assert first == (
        "One discharge series: every step has a value, no row is provisional, and nothing in it looks suspicious."
    )


def test_gaps_are_counted_and_the_longest_is_named(tmp_path: Path) -> None:
    text = told(tmp_path, [*WAVES, "absent", *WAVES, "", "", "", *WAVES])
    assert "2 gaps: 2021-02-10 to 2021-02-10; 2021-03-23 to 2021-03-25" in text
    assert "longest gap: 2021-03-23 to 2021-03-25" in text
    assert "96.8 % of the steps have a value" in text  # 120 of 124 days


@pytest.mark.parametrize(
    ("odd", "words"),
    [
        (["900"], "row 42 (2021-02-10), 900"),
        (["8"] * 30, "rows 42 to 71 (2021-02-10 to 2021-03-11), 8.00"),
        (["0"] * 5, "rows 42 to 46 (2021-02-10 to 2021-02-14), 0"),
        (["9999"] * 2, "rows 42 to 43 (2021-02-10 to 2021-02-11)"),
    ],
)
def test_suspicious_stretches_are_told_with_their_rows_and_only_once(
    tmp_path: Path, odd: list[str], words: str
) -> None:
    text = told(tmp_path, [*WAVES, *odd, *WAVES])
    assert f"look at {words}" in text
    assert "1 stretch to look at before trusting it" in text
    assert "Doubtful:" not in text


def test_the_unit_and_how_it_was_known_are_told(tmp_path: Path) -> None:
    assert "unit ft³/s, known from header" in told(tmp_path, WAVES)


def test_the_machine_answer_lists_every_stretch(tmp_path: Path) -> None:
    told(tmp_path, [*WAVES, "900", *WAVES])
    (series,) = read(tmp_path / "beck.csv", ReadChoices()).as_json()["series"]  # type: ignore[misc]
    (run,) = series["suspicious"]
    assert (run["kind"], run["row"], run["first"]) == ("spike", 42, "2021-02-10")
