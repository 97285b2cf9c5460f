"""A fitted count model, and how much better it is than the Poisson model inside it.

Source: Self and Liang 1987, JASA 82:605–610 (likelihood ratio on the edge).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import chdtrc

from ecology.count_likelihood import CountData, alpha_scores
from ecology.count_residuals import quantile_residuals_at
from ecology.model_fit import ModelFit
from ecology.not_estimable import NotEstimable


@dataclass(frozen=True, eq=False, kw_only=True)
class CountFit(ModelFit):
    """A fitted count model; `estimate` is on the log scale.

    model            "negative-binomial" or "poisson"
    covariance       for the negative binomial the block for the coefficients of the inverse of the joint information
                     of (coefficients, α)
    alpha            dispersion; 0 for a Poisson model at the edge; NaN where a Poisson model was asked for or
                     chosen because of few rows (then `notes` says so)
    alpha_low, alpha_high   profile likelihood interval at `level`; alpha_low is 0 where the Poisson model lies
                     inside it. At the edge alpha_high is the one-sided limit with the ½χ²₀ + ½χ²₁ mixture.
    alpha_se         from the joint observed information; NaN at the edge and for Poisson
    boundary         the likelihood is largest at α = 0
    poisson_log_likelihood   of the Poisson model with the same terms
    """

    model: Literal["negative-binomial", "poisson"]
    alpha: float
    alpha_low: float
    alpha_high: float
    alpha_se: float
    boundary: bool
    poisson_log_likelihood: float

    @property
    def dispersion(self) -> float:
        """α as the variance uses it: 0 where it was not estimated."""
        return max(float(np.nan_to_num(self.alpha)), 0.0)

    @property
    def eta_score(self) -> np.ndarray:
        """Each row's derivative of the log likelihood by its linear predictor."""
        return (self.count - self.mean) / (1.0 + self.dispersion * self.mean)

    @property
    def eta_weight(self) -> np.ndarray:
        """Minus each row's second derivative by its linear predictor."""
        return self.mean * (1.0 + self.dispersion * self.count) / (1.0 + self.dispersion * self.mean) ** 2

    @property
    def score_rows(self) -> np.ndarray:
        """Each row's derivative of the log likelihood, one column a coefficient and, where α > 0, a last one for α."""
        by_beta = self.eta_score[:, None] * self.design
        if self.dispersion == 0.0:
            return by_beta
        data = CountData.of(self.count, self.design, self.offset)
        return np.column_stack((by_beta, alpha_scores(data, self.mean, self.dispersion)))

    def quantile_residuals_at(self, u: np.ndarray) -> np.ndarray:
        """Randomised quantile residuals, standard normal if the model is right and `u` uniform on (0, 1)."""
        return quantile_residuals_at(self.count, self.mean, self.dispersion, u)


def likelihood_ratio_alpha(fit: CountFit) -> tuple[float, float]:
    """(2·log likelihood ratio, p) of the negative binomial against the Poisson model with the same terms.

    α = 0 lies on the edge of what is possible: p is half the χ² tail (mixture of ½χ²₀ and ½χ²₁); a ratio of 0 has
    p = 1. Raises NotEstimable where α was not estimated.
    """
    if np.isnan(fit.alpha):
        raise NotEstimable("α was not estimated, so that there is nothing to compare the Poisson model with.")
    ratio = max(0.0, 2.0 * (fit.log_likelihood - fit.poisson_log_likelihood))
    return ratio, (1.0 if ratio == 0.0 else 0.5 * float(chdtrc(1.0, ratio)))
