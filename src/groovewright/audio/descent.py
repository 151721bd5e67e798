"""Finding the parameters that fit best: damped Gauss-Newton steps, for least squares and for likelihoods."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from groovewright.quantities import FloatArray

ROUNDS = 40
TRIES = 10
SMALL = 1e-5
"""Steps and gains that end the search: a gain of so little likelihood is far below its uncertainty."""


def descend(
    cost: Callable[[FloatArray], float],
    slopes: Callable[[FloatArray], tuple[FloatArray, FloatArray]],
    start: FloatArray,
    low: FloatArray,
    high: FloatArray,
    *,
    tolerance: float = 1.0,
) -> FloatArray:
    """Return the parameters of least cost between two limits, near the start. [each shape=(n,)]

    K. Levenberg (Quart. Appl. Math. 2, 164, 1944) and D. W. Marquardt (J. SIAM 11, 431, 1963): a step that
    does not lower the cost is damped and tried again.

    Parameters
    ----------
    tolerance : float
        What counts as one unit of cost.
    slopes : callable
        Gives the gradient of the cost, and its curvature as Gauss-Newton or Fisher scoring sees it.
        [shape=(n,), (n, n)]
    """
    place = np.clip(start, low, high)
    value = cost(place)
    damping = 1e-3
    for _ in range(ROUNDS):
        gradient, curvature = slopes(place)
        scale = np.diag(np.maximum(np.diag(curvature), 1e-9))
        for _ in range(TRIES):
            tried = np.clip(place - np.linalg.solve(curvature + damping * scale, gradient), low, high)
            new = cost(tried)
            if new < value:
                break
            damping *= 5.0
        else:
            return place
        done = float(np.max(np.abs(tried - place))) < SMALL or value - new < SMALL * tolerance
        place, value, damping = tried, new, max(damping / 8.0, 1e-9)
        if done:
            break
    return place
