"""Count models on an open survey of salamanders at 23 streams, some of them below mines: 644 visits, 7 species.

Data: `glmmTMB::Salamanders` of Debian's package r-cran-glmmtmb (`debian_data.py`). Reference numbers: Poisson and
negative binomial coefficients, log likelihoods and θ agree between R 4.2.2 (glm, MASS::glm.nb) and statsmodels; robust
Poisson errors are those of R's sandwich (vcovCL: HC0 and HC1 forms). Mixed models are glmmTMB's alone (Laplace).
Baseline: mined, species GP.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from ecology.cluster_errors import robust_errors
from ecology.count_fit import CountFit, likelihood_ratio_alpha
from ecology.count_model import fit_counts
from ecology.cycle_effects import CycleModel, CycleNode, fit_cycles
from ecology.predicted_total import coefficient_draws

SPECIES = ("PR", "DM", "EC-A", "EC-L", "DES-L", "DF")


def design(d: pd.DataFrame) -> np.ndarray:
    return np.column_stack([np.ones(len(d)), d["mined"] == "no", *(d["spp"] == s for s in SPECIES)]).astype(float)


@pytest.fixture(scope="module")
def by_species(salamanders: pd.DataFrame) -> CountFit:
    d = salamanders
    return fit_counts(d["count"].to_numpy(), design(d), terms=["mined", "not mined", *SPECIES])


@pytest.fixture(scope="module")
def by_site(salamanders: pd.DataFrame, by_species: CountFit) -> CycleModel:
    """The model behind `explain`, with sites in the place of flow cycles."""
    f = by_species
    return fit_cycles(
        f.count, f.design, f.offset, salamanders["site"].to_numpy(), start=f.estimate, start_alpha=f.alpha
    )


def test_the_table_is_the_one_that_the_numbers_are_of(salamanders: pd.DataFrame) -> None:
    d = salamanders
    assert (len(d), d["site"].nunique(), d["spp"].nunique()) == (644, 23, 7)
    assert set(d["mined"]) == {"yes", "no"}


def test_counts_below_mines_as_poisson_with_errors_by_visit_and_by_stream(salamanders: pd.DataFrame) -> None:
    d, site = salamanders, salamanders["site"].to_numpy()
    poisson = fit_counts(d["count"].to_numpy(), design(d)[:, :2], terms=["mined", "not mined"], family="poisson")
    np.testing.assert_allclose(poisson.estimate, [-1.219240, 2.036763], atol=6e-7)
    np.testing.assert_allclose(poisson.standard_error, [0.1048285, 0.1109192], atol=6e-8)
    assert poisson.log_likelihood == pytest.approx(-1149.2479103, abs=1e-6)
    known = {"HC0": [0.1622931, 0.1805527], "CL0": [0.3001794, 0.3155283], "CL1": [0.3071648, 0.3228708]}
    for kind, expected in known.items():
        errors = robust_errors(poisson, kind=kind, groups=None if kind == "HC0" else site)  # type: ignore[arg-type]
        np.testing.assert_allclose(errors.standard_error, expected, atol=6e-8, err_msg=kind)
    everything = fit_counts(d["count"].to_numpy(), design(d), terms=["mined", "not mined", *SPECIES], family="poisson")
    assert everything.log_likelihood == pytest.approx(-1016.8023333, abs=1e-6)  # statsmodels alone
    assert everything.aic == pytest.approx(2049.6046666, abs=1e-6)


def test_negative_binomial_by_species(by_species: CountFit) -> None:
    expected = [-1.4605320, 2.0380754, -1.2277880, 0.4043891, -0.6707205, 0.6387474, 0.8215330, 0.3600423]
    np.testing.assert_allclose(by_species.estimate, expected, atol=6e-8)
    assert 1 / by_species.alpha == pytest.approx(0.80528669, abs=1e-7)
    assert by_species.alpha == pytest.approx(1.24179378, abs=1e-7)
    assert by_species.log_likelihood == pytest.approx(-837.6529866, abs=1e-6)
    assert by_species.aic == pytest.approx(1693.3059732, abs=1e-6)
    # R's errors hold θ fixed and use the expected information: near, not equal.
    fixed = [0.2043075, 0.1468139, 0.2911182, 0.2318053, 0.2624566, 0.2277862, 0.2251044, 0.2326473]
    np.testing.assert_allclose(by_species.standard_error, fixed, rtol=0.04)
    ratio, p = likelihood_ratio_alpha(by_species)
    assert ratio == pytest.approx(2 * (1016.8023333 - 837.6529866), abs=1e-5)
    assert p < 1e-70


def test_negative_binomial_errors_by_stream_are_those_of_statsmodels(
    salamanders: pd.DataFrame, by_species: CountFit
) -> None:
    """Joint bread, fitted again here; with α fixed R says 0.3227059 for “not mined”, statsmodels' GLM 0.31566203."""
    import statsmodels.api as sm

    site = pd.factorize(salamanders["site"])[0]
    outside = sm.NegativeBinomial(by_species.count, by_species.design).fit(
        method="newton", start_params=np.append(by_species.estimate, by_species.alpha), disp=0, cov_type="cluster",
        cov_kwds={"groups": site, "use_correction": False},
    )  # fmt: skip
    own = robust_errors(by_species, kind="CL0", groups=site)
    np.testing.assert_allclose(np.sqrt(np.diag(own.joint_covariance)), outside.bse, rtol=1e-7)
    assert own.n_clusters == 23
    assert own.standard_error[1] == pytest.approx(0.3227059, rel=0.03)
    assert own.standard_error[1] == pytest.approx(0.31566203, rel=0.03)


def test_sites_in_the_place_of_cycles_say_what_the_mixed_model_says(by_site: CycleModel) -> None:
    """glmmTMB, NB2 + (1 | site). Ours is averaged over spread and dispersion with a prior, so that it is near."""
    mixed = np.array([-1.68323, 2.263289, -1.319739, 0.3685899, -0.7098386, 0.5714003, 0.7929362, 0.3120271])
    apart = np.abs(by_site.coefficients - mixed)
    errors = np.sqrt(np.diag(np.cov(coefficient_draws(by_site, 4_000, 1).T)))
    assert (apart < 0.12 * errors).all(), apart / errors
    # glmmTMB's errors hold spread and dispersion at their best values, ours do not.
    assert errors[:2] == pytest.approx([0.274163, 0.2838101], rel=0.12)
    assert by_site.spread == pytest.approx(0.542634, rel=0.12)
    assert by_site.alpha == pytest.approx(1 / 0.942401, rel=0.07)


def test_no_node_is_likelier_than_the_maximum_of_the_mixed_model_and_the_best_comes_near(
    salamanders: pd.DataFrame, by_species: CountFit, by_site: CycleModel
) -> None:
    """Laplace's likelihood of each node, from its published parts and scipy, against glmmTMB's -826.202205."""
    member = np.searchsorted(by_site.labels, salamanders["site"].to_numpy().astype(str))

    def laplace(node: CycleNode) -> float:
        mean = np.exp(by_species.design @ node.coefficients + node.spread * node.deviation[member])
        counts = stats.nbinom.logpmf(by_species.count, 1 / node.alpha, 1 / (1 + node.alpha * mean)).sum()
        return float(counts - 0.5 * (node.deviation**2).sum() - 0.5 * np.log(node.precision).sum())

    found = [laplace(node) for node in by_site.nodes]
    # The nodes' coefficients are those of the joint mode, a little off those that are best for this likelihood.
    assert -826.202205 - 0.3 < max(found) < -826.202205 + 0.01
