"""Weighted least squares with priors and without outliers, by Gauss and Newton with Levenberg's damping."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray

_STEPS = 40
_TUKEY = 4.7
"""Tukey's biweight: 95 % efficient on normal noise (J. W. Tukey; P. J. Huber, Robust Statistics, 1981)."""


@dataclass(frozen=True)
class Solution:
    """What was found: values, covariance, the noise of one residual, and which points were kept.

    `noise` is in the residuals' unit; `kept` has one entry for each residual pair. [shape=(n,)]
    """

    values: FloatArray
    covariance: FloatArray
    noise: float
    kept: np.ndarray


def jacobian(function: Callable[[FloatArray], FloatArray], at: FloatArray, steps: FloatArray) -> FloatArray:
    """Return the derivatives of a function by central differences. [shape=(outputs, inputs)]"""
    columns = []
    for k, step in enumerate(steps):
        up, down = at.copy(), at.copy()
        up[k] += step
        down[k] -= step
        columns.append((function(up) - function(down)) / (2.0 * step))
    return np.array(columns).T


def _slopes(
    function: Callable[[FloatArray], FloatArray], at: FloatArray, steps: FloatArray, here: FloatArray | None
) -> FloatArray:
    """Return the derivatives of a fit's residuals, all at once. [shape=(2 n, p)]

    By central differences, or where the residuals `here` are given, by one-sided ones, which are enough on the
    way and half the work.
    """
    moves = np.diag(steps)
    ahead = function(at + moves).reshape(len(at), -1)
    behind = function(at - moves).reshape(len(at), -1) if here is None else here
    return np.asarray(((ahead - behind) / (steps[:, None] * (2.0 if here is None else 1.0))).T)


def fit(
    residuals: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    prior: FloatArray,
    information: FloatArray,
    *,
    noise_floor: float,
    noise_start: float,
) -> Solution:
    """Return the values that fit point residuals and priors best.

    Parameters
    ----------
    residuals : function of values [shape=(..., p)] to residuals [shape=(..., n, 2)]
        It is asked for several sets of values at once.
    prior : [shape=(p,)]
    information : [shape=(p, p)]
        The inverse of the prior's covariance; zero where nothing is known.
    noise_floor, noise_start : float
        Least standard deviation of one residual, and the one to begin with.
    """
    values, noise = start.astype(float).copy(), noise_start
    known = np.diag(information) > 0.0
    sd = 1.0 / np.sqrt(np.where(known, np.diag(information), 1.0))
    steps = np.where(known, np.minimum(sd * 0.01, 1e-5), 1e-5)

    for _ in range(3):
        values = _descend(residuals, values, prior, information, noise, steps)
        distance = np.hypot(*residuals(values).T)
        # the median of a two-dimensional normal distance is 1.1774 standard deviations (Rayleigh)
        renewed = max(noise_floor, float(np.median(distance)) / 1.1774)
        if abs(renewed - noise) < 0.05 * noise:
            break
        noise = renewed
    kept = np.hypot(*residuals(values).T) < 4.0 * noise
    slopes = _slopes(residuals, values, steps, None)[np.repeat(kept, 2)] / noise
    covariance = np.linalg.pinv(slopes.T @ slopes + information, hermitian=True)
    return Solution(values, covariance, noise, kept)


def _descend(
    residuals: Callable[[FloatArray], FloatArray],
    values: FloatArray,
    prior: FloatArray,
    information: FloatArray,
    noise: float,
    steps: FloatArray,
) -> FloatArray:
    damping = 1e-3

    def cost_and_weights(at: FloatArray) -> tuple[float, FloatArray, FloatArray]:
        r = residuals(at) / noise
        inside = np.clip(1.0 - (r**2).sum(axis=1) / _TUKEY**2, 0.0, None)
        away = at - prior
        cost = float((1.0 - inside**3).sum() * _TUKEY**2 / 3.0 + away @ information @ away)
        return cost, r.ravel(), np.repeat(inside, 2) ** 2

    cost, r, w = cost_and_weights(values)
    for _ in range(_STEPS):
        slopes = _slopes(residuals, values, steps, r * noise) / noise
        left = (slopes * w[:, None]).T @ slopes + information
        right = -(slopes * w[:, None]).T @ r - information @ (values - prior)
        for _ in range(8):
            move = np.linalg.lstsq(left + damping * np.diag(np.diag(left) + 1e-12), right, rcond=None)[0]
            new_cost, new_r, new_w = cost_and_weights(values + move)
            if new_cost <= cost:
                break
            damping *= 8.0
        else:
            return values
        values, r, w = values + move, new_r, new_w
        damping = max(1e-9, damping / 8.0)
        if cost - new_cost < 1e-4 * (1.0 + cost):
            return values
        cost = new_cost
    return values


def information_of(sd: FloatArray) -> FloatArray:
    """Return the inverse covariance of independent values; infinite deviations give zero. [shape=(p, p)]"""
    return np.diag(np.where(np.isfinite(sd), 1.0 / np.where(np.isfinite(sd), sd, 1.0) ** 2, 0.0))
