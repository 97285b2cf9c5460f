"""Planned visits against published tables, standard sample sizes and another library.

Sources beside each check. “Value from memory” marks what was not read in the source here; the tables were then also
computed independently of this project (exact rational arithmetic).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from ecology.survey_plan import (
    best_visits_per_site,
    probability_found,
    probability_present,
    visits_for_absence,
    visits_for_posterior,
)
from ecology.survey_power import Comparison, CountSurvey, detectable_decline, exact_share, formula_power

DETECTIONS = (0.5, 0.4, 0.3, 0.25, 0.2, 0.15, 0.1, 0.05, 0.02, 0.01)
#: n = ln(alpha) / ln(1 − p) rounded up: McArdle 1990, Oikos 57:276–277; Kéry 2002, J. Wildl. Manage. 66:330–338. 22,
#: 29, 45, 59, 90, 230, 299 and 459 are the standard first-order tolerance (success run) sample sizes, as in Hahn and
#: Meeker (values from memory).
VISITS = {
    0.10: (4, 5, 7, 9, 11, 15, 22, 45, 114, 230),
    0.05: (5, 6, 9, 11, 14, 19, 29, 59, 149, 299),
    0.01: (7, 10, 13, 17, 21, 29, 44, 90, 228, 459),
}
#: MacKenzie and Royle 2005, J. Appl. Ecol. 42:1105–1114, Table 1, standard design (values from memory; equal to the
#: minimum of the asymptotic variance computed independently). Rows: detection; columns: occupancy 0.1 to 0.9.
SITE_VISITS = {
    0.1: (14, 15, 16, 17, 18, 20, 23, 26, 34),
    0.2: (7, 7, 8, 8, 9, 10, 11, 13, 16),
    0.3: (5, 5, 5, 5, 6, 6, 7, 8, 10),
    0.4: (3, 4, 4, 4, 4, 5, 5, 6, 7),
    0.5: (3, 3, 3, 3, 3, 3, 4, 4, 5),
    0.6: (2, 2, 2, 2, 3, 3, 3, 3, 4),
    0.7: (2, 2, 2, 2, 2, 2, 2, 3, 3),
    0.8: (2,) * 9,
    0.9: (2,) * 9,
}


@pytest.mark.parametrize("alpha", VISITS)
def test_visits_to_conclude_absence_are_those_of_the_table(alpha):
    assert [visits_for_absence(p, alpha) for p in DETECTIONS] == list(VISITS[alpha])


def test_a_chance_reached_exactly_needs_no_visit_more():
    """Rounded logarithms give 7 for the first; 0.8⁶ = 0.262144, 0.1² = 0.01, 0.5³ = 0.125 exactly."""
    assert math.ceil(math.log(0.262144) / math.log(1 - 0.2)) == 7
    assert visits_for_absence(0.2, 0.262144) == 6
    assert visits_for_absence(0.2, 0.8**6) == 6
    assert visits_for_absence(0.9, 0.01) == 2
    assert visits_for_absence(0.5, 0.125) == 3
    assert visits_for_absence(1.0, 0.05) == 1
    assert visits_for_absence(0.0, 0.05) == math.inf


def test_a_chance_missed_by_a_little_does_need_one():
    assert visits_for_absence(0.2, 0.262143) == 7
    assert visits_for_absence(0.9, 0.00999999) == 3


def test_a_published_detection_gives_the_published_visits():
    """Durso and others 2011, Biol. Conserv. 144:1508, abstract: detection up to 0.46, from 5 visits."""
    assert visits_for_absence(0.46, 0.05) == 5


def test_rare_finds_follow_the_limit_of_green_and_young():
    """Green and Young 1993, Ecol. Appl. 3:351–356: −ln(0.05) / m = 2.995732 / m for a small mean m (from memory)."""
    m = 0.001
    assert visits_for_absence(-math.expm1(-m), 0.05) == math.ceil(2.995732 / m)


def test_chance_of_presence_after_visits_without_a_find():
    """Bayes' rule as in Wintle and others 2012, Divers. Distrib. 18:417–424; numbers computed independently."""
    assert probability_present(0.5, 0.3, np.array([3, 5, 9])) == pytest.approx([0.255398, 0.143887, 0.038788], abs=5e-7)
    assert visits_for_posterior(0.5, 0.3, 0.05) == 9
    assert visits_for_posterior(0.8, 0.3, 0.05) == 13
    assert visits_for_posterior(0.8, 0.2, 0.05) == 20
    assert float(probability_present(0.8, 0.2, 20)) == pytest.approx(0.044084, abs=5e-7)
    assert visits_for_posterior(0.2, 0.1, 0.05) == 15
    assert float(probability_present(0.2, 0.1, 15)) == pytest.approx(0.048953, abs=5e-7)


def test_two_misses_and_a_find_at_the_third_visit():
    """p = 0.4: two misses 0.36, first find at the third visit 0.6² · 0.4 = 0.144 (by hand)."""
    missed = 1.0 - probability_found(0.4, np.array([2, 3]))
    assert missed[0] == pytest.approx(0.36)
    assert missed[0] - missed[1] == pytest.approx(0.144)


@pytest.mark.parametrize("detection", SITE_VISITS)
def test_visits_a_site_are_those_of_mackenzie_and_royle(detection):
    found = [best_visits_per_site(k / 10, detection) for k in range(1, 10)]
    assert found == list(SITE_VISITS[detection])


@pytest.mark.parametrize(("n", "limit"), [(10, 0.258866), (30, 0.0950339), (100, 0.0295130)])
def test_exact_limit_beside_the_rule_of_three(n, limit):
    """Hanley and Lippman-Hand 1983, JAMA 249:1743–1745: 3/n stands in for 1 − 0.05^(1/n)."""
    assert exact_share(0, n, level=0.90)[1] == pytest.approx(limit, abs=5e-7)
    assert exact_share(0, n, level=0.90)[1] < 3 / n


def test_exact_share_of_seven_in_nine():
    """Clopper and Pearson 1934; numbers computed independently."""
    assert exact_share(7, 9) == pytest.approx((0.399906, 0.971855), abs=5e-7)


@pytest.mark.parametrize(
    ("visits", "power", "ratio"), [(6, 0.346924, 0.309749), (12, 0.600698, 0.436606), (24, 0.879540, 0.556551)]
)
def test_power_of_a_rate_ratio_is_that_of_zhu_and_lakkis(visits, power, ratio):
    """8 animals a visit halved, alpha 0.4, two groups of `visits` (Zhu and Lakkis 2014, Stat. Med. 33:376–387), against
    a general library; the detectable ratio at power 0.8 was computed independently, with normal quantiles."""
    from statsmodels.stats.rates import power_negbin_ratio_2indep

    survey = CountSurvey(expected=np.array([8.0]), visit_alpha=0.4, between=0.0)
    halved = Comparison(cycles_before=2, cycles_after=2, decline=0.5)
    found = formula_power(survey, halved, visits / 2)
    library = power_negbin_ratio_2indep(
        4.0, 8.0, visits, dispersion=0.4, alpha=0.025, alternative="smaller", method_var="alt", return_results=False
    )
    assert found == pytest.approx(power, abs=5e-7)
    assert found == pytest.approx(library, rel=1e-9)
    # With many cycles t and normal quantiles agree.
    many = Comparison(cycles_before=10**6, cycles_after=10**6, decline=0.5)
    assert 1 - detectable_decline(survey, many, visits / 10**6) == pytest.approx(ratio, abs=2e-6)
