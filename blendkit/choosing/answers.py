"""Answers "this one, that one, or cannot tell", and the belief that follows from them.

A nose compares two strengths or likings with an error. It calls one of them where the
difference it feels is above the just-noticeable one, and cannot tell otherwise: a probit with
three outcomes. The belief is a Gaussian around the most likely values (Laplace's
approximation), found by Newton's method. The exact belief is skew, so bands are rough.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from blendkit.foundation.units import FloatArray

FIRST, CANNOT_TELL, SECOND = 1, 0, -1
SAID = {"first": FIRST, "second": SECOND, "cannot tell": CANNOT_TELL}  # as it is kept
_MOST_STEPS = 60
_NEAR_ENOUGH = 1e-9
_LEAST_CURVATURE = 1e-9
_LEAST_STEP = 1e-4

Difference = Callable[[FloatArray], tuple[FloatArray, FloatArray]]


class Belief(NamedTuple):
    """Gaussian belief in k values: mean, shape (k,), and covariance, shape (k, k)."""

    mean: FloatArray
    covariance: FloatArray


def settle(
    belief: Belief,
    difference: Difference,
    answers: Sequence[int],
    *,
    noticed: float,
    error: float,
) -> Belief:
    """Belief after some answers.

    Parameters
    ----------
    belief : Belief
        Before them.
    difference : callable
        From k values to the m differences that were judged, first less second, and their
        derivatives, shape (m, k).
    answers : sequence of int, length m
        `FIRST`, `SECOND` or `CANNOT_TELL`.
    noticed, error : float
        Just-noticeable difference, and standard deviation of the error of one comparison, in
        the unit of the differences.

    Returns
    -------
    Belief
    """
    if not len(answers):
        return belief
    said = np.asarray(answers)
    low = np.select([said == FIRST, said == CANNOT_TELL], [noticed, -noticed], -np.inf)
    high = np.select([said == SECOND, said == CANNOT_TELL], [-noticed, noticed], np.inf)
    mean, covariance = belief
    here, pull = mean.copy(), np.zeros_like(mean)  # pull: inverse covariance @ (here - mean)
    for _ in range(_MOST_STEPS):
        felt, slopes = difference(here)
        level, gradient, curvature = _likelihood(felt, low, high, error)
        along = covariance @ slopes.T
        spread = slopes @ along + np.diag(1 / curvature)
        off = gradient / curvature + slopes @ (here - mean)
        towards = slopes.T @ np.linalg.solve(spread, off)
        whole, step = mean + covariance @ towards - here, 1.0
        now = level - pull @ (here - mean) / 2
        while step > _LEAST_STEP:
            tried, pulled = here + step * whole, pull + step * (towards - pull)
            there = _likelihood(difference(tried)[0], low, high, error)[0]
            if there - pulled @ (tried - mean) / 2 >= now - _NEAR_ENOUGH:
                break
            step /= 2
        moved = np.abs(tried - here).max()
        here, pull = tried, pulled
        if moved < _NEAR_ENOUGH:
            break
    return Belief(here, covariance - along @ np.linalg.solve(spread, along.T))


def _likelihood(
    felt: FloatArray, low: FloatArray, high: FloatArray, error: float
) -> tuple[float, FloatArray, FloatArray]:
    """Log likelihood of the answers, its gradient and its negative curvature."""
    from scipy.special import log_ndtr, ndtr

    under, over = (low - felt) / error, (high - felt) / error
    # mirrored into the lower tail, where differences keep their digits
    flip = under + over > 0
    under, over = np.where(flip, -over, under), np.where(flip, -under, over)
    between = np.log(np.maximum(ndtr(over) - ndtr(under), 1e-300))
    log_chance = np.where(np.isinf(under), log_ndtr(over), between)
    peak = log_chance + np.log(2 * np.pi) / 2
    at_under, at_over = (np.exp(np.minimum(-z * z / 2 - peak, 700)) for z in (under, over))
    # at infinity the density is 0 faster than any distance grows
    bend = np.where(np.isinf(under), 0, under) * at_under - over * at_over
    gradient = (at_under - at_over) / error
    curvature = np.maximum(gradient**2 - bend / error**2, _LEAST_CURVATURE)
    return float(log_chance.sum()), np.where(flip, -gradient, gradient), curvature
