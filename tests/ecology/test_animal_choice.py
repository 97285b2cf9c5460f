"""Which animals a visit speaks for."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.animal_choice import animal_choices, choose_animals, matching_choice

NAN = np.nan


def visits(*rows):
    """(count, adults, juveniles, gravid, taxon) of visits that counted; a count of None is a visit that did not."""
    frame = pd.DataFrame(rows, columns=["count", "adults", "juveniles", "gravid", "taxon"])
    kind = np.where(frame["count"].isna(), "not-searched", "counted")
    return frame.astype(dict.fromkeys(("count", "adults", "juveniles", "gravid"), np.float64)).assign(kind=kind)


def told(frame, animals):
    return choose_animals(frame, animals).frame["count"].tolist()


def test_a_stage_that_was_not_written_down_is_not_a_zero():
    chosen = choose_animals(visits((5, NAN, NAN, NAN, ""), (5, 3, 2, 1, "")), "juveniles")
    assert np.isnan(chosen.frame["count"].iloc[0])
    assert chosen.frame["count"].iloc[1] == 2
    assert chosen.frame["kind"].tolist() == ["searched-uncounted", "counted"]
    assert chosen.n_not_told == 1


def test_no_animal_at_all_is_none_of_any_stage():
    frame = visits((0, NAN, NAN, NAN, ""))
    assert [told(frame, stage) for stage in ("adults", "juveniles", "gravid")] == [[0], [0], [0]]


def test_where_the_adults_are_all_there_are_no_juveniles():
    frame = visits((4, 4, NAN, NAN, ""), (4, 3, NAN, NAN, ""))
    assert told(frame, "juveniles")[0] == 0
    assert np.isnan(told(frame, "juveniles")[1])


def test_a_search_that_names_another_taxon_says_nothing_of_this_one():
    frame = visits((3, NAN, NAN, NAN, "toe-biter"), (2, NAN, NAN, NAN, "Candleback"), (0, NAN, NAN, NAN, ""))
    chosen = choose_animals(frame, "Candleback")
    assert np.isnan(chosen.frame["count"].iloc[0])
    assert chosen.frame["count"].iloc[1:].tolist() == [2, 0]
    assert chosen.n_not_told == 1


def test_animals_of_no_named_taxon_are_not_taken_for_the_one_asked():
    assert np.isnan(told(visits((3, NAN, NAN, NAN, ""), (1, NAN, NAN, NAN, "candleback")), "candleback")[0])


def test_what_can_be_chosen_is_what_the_visits_hold():
    frame = visits((3, 2, NAN, NAN, "candleback"), (1, NAN, NAN, NAN, "Candleback"), (1, NAN, NAN, NAN, "toe-biter"))
    choices = animal_choices(frame)
    assert choices == ("all", "adults", "candleback", "toe-biter")
    assert matching_choice(" CANDLEBACK ", choices) == "candleback"
    assert matching_choice("newt", choices) is None


def test_a_taxon_that_no_visit_names_is_refused():
    with pytest.raises(ValueError, match="no visit names"):
        choose_animals(visits((3, NAN, NAN, NAN, "")), "newt")


def test_a_visit_that_did_not_count_stays_what_it_was():
    chosen = choose_animals(visits((None, NAN, NAN, NAN, "")), "adults")
    assert chosen.frame["kind"].tolist() == ["not-searched"]
    assert chosen.n_not_told == 0
