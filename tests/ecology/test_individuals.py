"""Animals across dry spells, moves, occasions, and lists of matches."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.capture_chances import DRY, NOBODY, capture_chances
from ecology.closed_window import DRY_INSIDE, FEW_RECAPTURES, NOT_CLOSED, OUTLETS_TOGETHER, closed_window
from ecology.encounters import encounters
from ecology.individuals import spell_crossings
from ecology.match_lists import match_names, read_match_list
from ecology.outlet_moves import outlet_moves
from ecology.release_counts import releases_of
from ecology.survival_checks import DIFFERENCES, TRANSIENTS, check_survival
from hydro.dry_spells import find_dry_spells
from hydro.problems import InputError

DAYS = pd.date_range("2020-01-01", "2021-12-31", freq="D")


def dry_spells(*spans):
    flow = pd.Series(60.0, index=DAYS)
    for first, last in spans:
        flow[first:last] = 30.0
    return find_dry_spells(flow, 40.0)


def captured(*rows):
    frame = pd.DataFrame(rows, columns=["date", "outlet", "individual"])
    frame["date"] = pd.to_datetime(frame["date"])
    frame["row"] = np.arange(2, len(frame) + 2)
    frame["match_confidence"] = np.nan
    return frame.sort_values("date", kind="stable").reset_index(drop=True)


def visited(*rows):
    frame = pd.DataFrame(rows, columns=["date", "outlet", "kind", "effort"])
    frame["date"] = pd.to_datetime(frame["date"])
    return frame


SEEN = captured(
    ("2020-05-01", "ledge", "stays"),
    ("2020-05-01", "ledge", "goes"),
    ("2020-05-01", "ledge", "moves"),
    ("2020-05-01", "ledge", "away"),
    ("2020-06-01", "pool", "moves"),
    ("2020-05-01", "ledge", "meanwhile"),
    ("2020-08-01", "pool", "meanwhile"),
    ("2020-10-01", "ledge", "stays"),
    ("2020-10-01", "pool", "away"),
    ("2020-11-01", "ledge", "meanwhile"),
    ("2020-11-01", "ledge", "new"),
)
DRY_SUMMER = dry_spells(("2020-07-01", "2020-09-14"))


def crossings(seen=SEEN, dry=DRY_SUMMER, visits=None, today="2021-12-31"):
    return spell_crossings("ledge", dry, seen, visits, pd.Timestamp(today))


def test_animals_are_counted_by_where_they_were_last_seen_before_the_spell():
    """“moves” had left before the spell: it is not an animal of this outlet any more."""
    (row,) = crossings().spells.to_dict("records")
    assert (row["seen_before"], row["seen_after"], row["lately"]) == (4, 3, 4)
    assert row["back_here"] == 2
    assert row["elsewhere_during"] == 1
    # Clopper and Pearson 1934 for 3 of 4, 0.194120 to 0.993691 (scipy.stats.beta, values from memory).
    assert (row["share"], row["low"], row["high"]) == pytest.approx((0.75, 0.194120, 0.993691), abs=1e-5)


def test_an_absence_lasts_at_least_the_spell_and_at_most_between_the_sightings():
    absences = crossings().absences.set_index("individual")
    assert set(absences.index) == {"stays", "away"}
    assert absences.loc["stays", "least_days"] == 76  # 1 July to 14 September
    assert absences.loc["stays", "most_days"] == 153  # 1 May to 1 October
    assert absences.loc["away", "first_after_outlet"] == "pool"


def test_an_animal_seen_elsewhere_while_it_was_dry_was_not_out_of_sight():
    assert "meanwhile" not in set(crossings().absences["individual"])


def test_effort_after_the_spell_is_counted_and_never_guessed():
    visits = visited(
        ("2020-06-01", "ledge", "counted", 30.0),
        ("2020-08-01", "ledge", "dry", np.nan),
        ("2020-10-01", "ledge", "counted", 45.0),
        ("2020-10-01", "ledge", "counted", 15.0),
        ("2020-11-01", "ledge", "searched-uncounted", np.nan),
        ("2020-12-01", "ledge", "not-searched", np.nan),
        ("2020-10-01", "pool", "counted", 20.0),
    )
    (row,) = crossings(visits=visits).spells.to_dict("records")
    assert (row["searches"], row["effort"], row["without_effort"]) == (2, 60.0, 1)
    assert (row["searches_anywhere"], row["effort_anywhere"]) == (3, 80.0)


def test_nothing_is_said_of_a_spell_that_is_not_over():
    dry = find_dry_spells(pd.Series(np.where(DAYS >= "2021-12-01", 30.0, 60.0), index=DAYS), 40.0)
    (row,) = crossings(dry=dry).spells.to_dict("records")
    assert not row["over"]
    assert row["seen_before"] == 4
    assert np.isnan(row["share"])


def test_an_absence_over_two_spells_stands_under_both():
    dry = dry_spells(("2020-07-01", "2020-07-31"), ("2020-09-01", "2020-09-14"))
    absences = crossings(dry=dry).absences
    assert absences.loc[absences["individual"] == "stays", "least_days"].tolist() == [31, 14]


def test_nothing_after_the_day_asked_is_used():
    assert crossings(today="2020-10-15").spells["seen_after"].tolist() == [2]


def test_animals_last_seen_more_than_a_year_before_are_not_lately():
    seen = captured(("2020-02-01", "ledge", "old"), ("2021-03-01", "ledge", "recent"), ("2021-11-01", "ledge", "old"))
    (row,) = crossings(seen, dry_spells(("2021-07-01", "2021-08-01"))).spells.to_dict("records")
    assert (row["seen_before"], row["seen_after"], row["lately"], row["lately_after"]) == (2, 1, 1, 0)


def test_moves_are_told_from_stays_and_by_whether_the_outlet_was_dry_between():
    found = outlet_moves(SEEN, {"ledge": DRY_SUMMER, "pool": None})
    moves = found.moves.set_index("individual")
    assert moves.loc["moves", ["from_outlet", "to_outlet", "days"]].tolist() == ["ledge", "pool", 31]
    assert not moves.loc["moves", "over_dry_spell"]
    assert moves.loc["away", "over_dry_spell"]
    assert found.pairs == 5
    assert found.pairs_over_dry_spell == 3
    assert found.same_day.empty


def test_an_animal_at_two_outlets_on_one_day_is_listed():
    seen = captured(("2020-05-01", "ledge", "x"), ("2020-05-01", "pool", "x"), ("2020-06-01", "pool", "x"))
    found = outlet_moves(seen, {"ledge": DRY_SUMMER})
    assert found.same_day["outlets"].tolist() == ["ledge, pool"]
    assert "x" not in set(found.moves["individual"][found.moves["days"] == 0])


def test_occasions_are_dated_by_the_mean_date_of_their_captures():
    seen = captured(
        ("2020-05-01", "a", "x"), ("2020-05-04", "a", "y"), ("2020-05-04", "a", "x"), ("2020-07-01", "a", "x")
    )
    found = encounters(seen, "month")
    assert found.occasions["label"].tolist() == ["2020-05", "2020-07"]
    # 3 May and 1 July are 59 days apart.
    assert found.gap_years == pytest.approx([59 / 365.25])
    assert len(found.meetings) == 3
    assert encounters(seen, "visit").n_occasions == 3
    assert encounters(seen, "year").n_occasions == 1


def test_where_nobody_could_be_met_the_chance_is_fixed_and_the_reason_kept():
    seen = captured(
        ("2020-05-01", "ledge", "x"), ("2020-05-01", "pool", "y"), ("2020-08-01", "pool", "y"), ("2020-10-01", "pool",
        "y"), ("2020-11-01", "ledge", "x"),
    )  # fmt: skip
    found = encounters(seen, "month")
    dry = {"ledge": DRY_SUMMER, "pool": None}
    by_flow = capture_chances(found, "month", dry, None)
    assert by_flow.fixed.tolist() == [["", DRY, "", ""], ["", "", "", ""]]
    assert by_flow.dry_days[0].tolist() == [32, 44, 0]  # July and 1 August; 2 August to 14 September
    visits = visited(
        ("2020-05-01", "ledge", "counted", 1.0),
        ("2020-08-01", "ledge", "dry", 1.0),
        ("2020-11-01", "ledge", "counted", 1.0),
        ("2020-11-02", "ledge", "counted", 1.0),
    )
    by_visits = capture_chances(found, "month", dry, visits)
    assert by_visits.fixed[0].tolist() == ["", DRY, NOBODY, ""]
    assert by_visits.looks[0].tolist() == [1, 0, 0, 2]


def test_releases_follow_an_animal_to_another_outlet():
    seen = captured(("2020-05-01", "ledge", "x"), ("2020-06-01", "pool", "x"), ("2020-07-01", "pool", "x"))
    counts = releases_of(encounters(seen), np.ones((2, 3), bool))
    assert counts.met.tolist() == [[0, 0, 0], [0, 0, 1]]
    assert counts.lived.tolist() == [[1, 0], [0, 1]]
    only = releases_of(encounters(seen), np.ones((2, 3), bool), ("ledge",))
    assert only.met.sum() == 0
    assert only.lived.tolist() == [[1, 0], [0, 0]]


def test_animals_that_only_pass_through_are_noticed():
    """Half of the animals leave at once after their first sighting: they are met again less often than known ones."""
    rng = np.random.default_rng(3)
    rows = []
    for i in range(300):
        start = int(rng.integers(0, 9))
        rows.append((start, f"a{i}"))
        if i % 2:
            rows += [(t, f"a{i}") for t in range(start + 1, 12) if rng.random() < 0.5]
    seen = captured(*((pd.Timestamp("2020-01-15") + pd.DateOffset(months=t), "a", i) for t, i in rows))
    transients, *_ = check_survival(encounters(seen))
    assert transients.name == TRANSIENTS
    assert transients.passed is False
    assert transients.z < -3


@pytest.mark.parametrize(("spread", "noticed"), [(0.0, False), (1.2, True)])
def test_animals_that_differ_in_how_easily_they_are_met_are_noticed(spread, noticed):
    """Standard deviation of the logit of being met; all live alike."""
    rng = np.random.default_rng(4)
    rows = []
    for i in range(400):
        start, p = int(rng.integers(0, 12)), 1 / (1 + np.exp(0.85 - spread * rng.normal()))
        rows.append((start, f"a{i}"))
        last = start + rng.geometric(0.12)
        rows += [(t, f"a{i}") for t in range(start + 1, min(last, 16)) if rng.random() < p]
    seen = captured(*((pd.Timestamp("2020-01-15") + pd.DateOffset(months=t), "a", i) for t, i in rows))
    *_, differences = check_survival(encounters(seen))
    assert differences.name == DIFFERENCES
    assert differences.passed is not noticed
    assert (differences.z > 3) is noticed


def test_a_window_says_what_speaks_against_it():
    seen = captured(
        ("2020-05-01", "a", "x"), ("2020-05-01", "b", "y"), ("2020-06-10", "a", "x"), ("2020-06-10", "a", "z"),
    )  # fmt: skip
    span = pd.Timestamp("2020-05-01"), pd.Timestamp("2020-06-30")
    found = closed_window(seen, *span, survival_per_year=0.3, dry_days=4)
    estimate, doubts = found.estimates[0]
    assert estimate.estimator == "chapman"
    assert {FEW_RECAPTURES, NOT_CLOSED, DRY_INSIDE, OUTLETS_TOGETHER} <= {d.kind for d in doubts}
    lost = next(d.number for d in doubts if d.kind == NOT_CLOSED)
    assert lost == pytest.approx(1 - 0.3 ** (61 / 365.25))
    assert "one day" in closed_window(seen, span[0], span[0]).why
    assert closed_window(seen, pd.Timestamp("2021-01-01"), pd.Timestamp("2021-02-01")).why.startswith("no animal")


def match_file(tmp_path, text):
    path = tmp_path / "pairs.csv"
    path.write_text(text, encoding="utf-8")
    return path


PAIRS = """\
first,second,same,confidence
p1,p2,yes,0.95
p2,p3,,0.7
p4,p5,yes,0.4
p1,p3,no,0.8
p6,p1,no,
"""


def test_pairs_become_connected_groups_with_their_weakest_link(tmp_path):
    names = match_names(read_match_list(match_file(tmp_path, PAIRS))).names.set_index("name")
    assert names["individual"].to_dict() == {"p1": "p1", "p2": "p1", "p3": "p1", "p4": "p4", "p5": "p4", "p6": "p6"}
    assert names.loc["p3", "weakest_link"] == 0.7
    assert names.loc["p5", "weakest_link"] == 0.4
    assert np.isnan(names.loc["p6", "weakest_link"])


def test_a_pair_judged_not_the_same_that_ends_up_in_one_animal_is_a_conflict(tmp_path):
    found = match_names(read_match_list(match_file(tmp_path, PAIRS)))
    assert found.conflicts[["first", "second", "row", "chain"]].to_numpy().tolist() == [["p1", "p3", 5, "p1 – p2 – p3"]]


def test_unsure_matches_are_left_out_and_listed(tmp_path):
    found = match_names(read_match_list(match_file(tmp_path, PAIRS)), least_confidence=0.9)
    assert found.ids()["p3"] == "p3"
    assert found.conflicts.empty
    assert found.unsure["row"].tolist() == [3, 4, 5]


def test_the_weakest_link_is_that_of_the_strongest_chain(tmp_path):
    text = "first,second,confidence\na,b,0.2\nb,c,0.9\na,c,0.8\n"
    names = match_names(read_match_list(match_file(tmp_path, text))).names
    assert set(names["weakest_link"]) == {0.8}


def test_every_mistake_in_a_match_list_is_told_at_once(tmp_path):
    text = "first,second,same,confidence\na,a,yes,\n,b,maybe,1.5\n"
    with pytest.raises(InputError) as error:
        read_match_list(match_file(tmp_path, text))
    assert len(error.value.problems) == 4
    with pytest.raises(InputError, match="a column “second”"):
        read_match_list(match_file(tmp_path, "first,other\na,b\n"))
