"""The maximiser against a general library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize, rosen, rosen_der

from ecology.bounded_ascent import ascend


@pytest.mark.parametrize("k", [2, 5, 12])
def test_rosenbrocks_valley_is_climbed_to_its_known_end(k):
    found = ascend(lambda x: (-float(rosen(x)), -rosen_der(x)), np.full(k, -1.2), bound=5.0)
    assert found == pytest.approx(np.ones(k), abs=1e-6)


def test_a_maximum_outside_the_box_is_found_on_its_wall_as_scipy_finds_it():
    rng = np.random.default_rng(8)
    for _ in range(20):
        a = rng.normal(size=(6, 6))
        a = a @ a.T + np.eye(6)
        b = 6 * rng.normal(size=6)
        found = ascend(lambda x, a=a, b=b: (float(b @ x - 0.5 * x @ a @ x), b - a @ x), np.zeros(6), bound=1.0)
        reference = minimize(
            lambda x, a=a, b=b: (0.5 * x @ a @ x - b @ x, a @ x - b), np.zeros(6), jac=True, method="L-BFGS-B",
            bounds=[(-1, 1)] * 6, options={"ftol": 1e-14, "gtol": 1e-10},
        )  # fmt: skip
        assert found == pytest.approx(reference.x, abs=1e-6)
