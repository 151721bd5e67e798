"""Weighted least squares with priors and without outliers, by Gauss and Newton with Levenberg's damping."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray

_STEPS = 40
SETTLED, ROUGHLY = 1e-4, 1e-2
_NEAR = 0.1
"""A step that gains less than this share is near the end."""
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
    function: Callable[[FloatArray], FloatArray], at: FloatArray, steps: FloatArray, here: FloatArray
) -> FloatArray:
    """Return the derivatives of a fit's residuals by differences from `here`, all at once. [shape=(2 n, p)]"""
    ahead = function(at + np.diag(steps)).reshape(len(at), -1)
    return np.asarray(((ahead - here.ravel()) / steps[:, None]).T)


def fit(
    residuals: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    prior: FloatArray,
    information: FloatArray,
    *,
    noise_floor: float,
    noise_start: float,
    settled: float = SETTLED,
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
    settled : float
        Share of the cost by which a step has to better it for another one: ROUGHLY for a first guess.
    """
    values, noise = start.astype(float).copy(), noise_start
    known = np.diag(information) > 0.0
    sd = 1.0 / np.sqrt(np.where(known, np.diag(information), 1.0))
    steps = np.where(known, np.minimum(sd * 0.01, 1e-5), 1e-5)

    here = residuals(values)
    for _ in range(3):
        values, here = _descend(residuals, values, here, prior, information, noise, steps, settled)
        # the median of a two-dimensional normal distance is 1.1774 standard deviations (Rayleigh)
        renewed = max(noise_floor, float(np.median(np.hypot(*here.T))) / 1.1774)
        if abs(renewed - noise) < 0.05 * noise:
            break
        noise = renewed
    kept = np.hypot(*here.T) < 4.0 * noise
    slopes = _slopes(residuals, values, steps, here)[np.repeat(kept, 2)] / noise
    known_of_it = slopes.T @ slopes + information
    # radians beside millimetres and pixels: brought to one scale, so that nothing small is lost
    size = np.sqrt(np.maximum(np.diag(known_of_it), 1e-300))
    covariance = np.linalg.pinv(known_of_it / np.outer(size, size), hermitian=True) / np.outer(size, size)
    return Solution(values, covariance, noise, kept)


def _descend(
    residuals: Callable[[FloatArray], FloatArray],
    values: FloatArray,
    here: FloatArray,
    prior: FloatArray,
    information: FloatArray,
    noise: float,
    steps: FloatArray,
    settled: float,
) -> tuple[FloatArray, FloatArray]:
    """Return better values and their residuals, from values and residuals `here`."""
    damping = 1e-3

    def cost_of(at: FloatArray, r: FloatArray) -> float:
        inside = np.clip(1.0 - ((r / noise) ** 2).sum(axis=1) / _TUKEY**2, 0.0, None)
        away = at - prior
        return float((1.0 - inside**3).sum() * _TUKEY**2 / 3.0 + away @ information @ away)

    cost = cost_of(values, here)
    slopes = _slopes(residuals, values, steps, here)
    for _ in range(_STEPS):
        inside = np.clip(1.0 - ((here / noise) ** 2).sum(axis=1) / _TUKEY**2, 0.0, None)
        weighted = (slopes * (np.repeat(inside, 2) / noise)[:, None] ** 2).T
        left = weighted @ slopes + information
        right = -weighted @ here.ravel() - information @ (values - prior)
        for _ in range(8):
            move = np.linalg.solve(left + np.diag(damping * np.diag(left) + 1e-12), right)
            there = residuals(values + move)
            new_cost = cost_of(values + move, there)
            if new_cost <= cost:
                break
            damping *= 8.0
        else:
            return values, here
        values, here = values + move, there
        damping = max(1e-9, damping / 8.0)
        gain, cost = cost - new_cost, new_cost
        if gain < settled * (1.0 + cost):
            break
        # near the end the slopes hardly change any more, and they are what takes time
        if gain > _NEAR * (1.0 + cost):
            slopes = _slopes(residuals, values, steps, here)
    return values, here


def information_of(sd: FloatArray) -> FloatArray:
    """Return the inverse covariance of independent values; infinite deviations give zero. [shape=(p, p)]"""
    return np.diag(np.where(np.isfinite(sd), 1.0 / np.where(np.isfinite(sd), sd, 1.0) ** 2, 0.0))
