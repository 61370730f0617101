"""Sums over the constituents of many films at once, without solving for each moment.

Sums of ``exp(-K tau)`` are smooth in ln tau whatever the K, and so is the time t(tau). Both are
worked out at evenly spaced nodes in ln tau, with slopes; from node to node, each sum is cubic
in ln t. A few nodes to each doubling of tau do for any number of moments.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.film_clock import Films, course_of

FloatArray = npt.NDArray[np.float64]

_OCTAVE = 4  # nodes to each doubling of tau: for sums within 1e-5
_STEP = math.log(2) / _OCTAVE
_MOST_SQUARINGS = 16  # each doubles the rounding, which stays below 1e-11
_NUMBERS_AT_ONCE = 100_000  # under a megabyte, which a processor's cache can hold
_TINY = 1e-300


class _Cells(NamedTuple):
    """Where the moments of some films lie between the nodes of their clocks."""

    width: FloatArray  # in ln t (draws, nodes - 1)
    of_moment: npt.NDArray[np.intp]  # (draws * moments,)
    along: FloatArray  # how far through it, from 0 to 1


def figures_at(films: Films, weights: FloatArray, moments: FloatArray) -> FloatArray:
    """N and the weighted sums at sorted moments, (1 + groups, draws, moments).

    Films (draws, n), weights (draws, groups, n).
    """
    begun = int(moments.searchsorted(0.0, side="right"))
    draws, groups, n = weights.shape
    figures = np.empty((1 + groups, draws, moments.size))
    figures[0, :, :begun] = (films.carrier_moles + films.moles.sum(axis=1))[:, None]
    figures[1:, :, :begun] = (weights @ films.moles[:, :, None]).transpose(1, 0, 2)
    if begun == moments.size or draws == 0:
        return figures
    later = moments[begun:]
    course = course_of(films, later[0], later[-1])
    count = 2 + math.floor(math.log((course.high / course.low).max()) / _STEP)
    growth = np.exp(_STEP * np.arange(count))
    begun_at = course.staying * course.low - (
        course.spans * np.expm1(films.loss_rates * -course.low[:, None])
    ).sum(axis=1)
    at_once = min(draws, max(1, _NUMBERS_AT_ONCE // (max(count * n, later.size) + 1)))
    room = np.empty(count * at_once * n)  # fresh memory is slow
    for start in range(0, draws, at_once):
        here = slice(start, start + at_once)
        few = Films(*(each[here] for each in films))
        clock = course.low[here, None] * growth
        left = room[: few.moles.size * count].reshape(count, *few.moles.shape)
        _leave(few.loss_rates * course.low[here, None], growth, left)
        values, slopes = _on_nodes(few, weights[here], left)
        elapsed = _elapsed(clock, values[0], slopes[0], begun_at[here])
        slopes *= elapsed / np.maximum(values[0], _TINY)
        figures[:, here, begun:] = _between(values, slopes, _cells(elapsed, later))
    if course.dry_at.min() <= moments[-1]:
        figures *= moments < course.dry_at[:, None]
    return figures


def _leave(paces: FloatArray, growth: FloatArray, left: FloatArray) -> None:
    """Fill in ``exp(-paces growth)``: what doubles the clock squares what is left."""
    for octave, node in enumerate(range(0, len(growth), _OCTAVE)):
        now = left[node : node + _OCTAVE]
        if octave % (1 + _MOST_SQUARINGS):
            before = left[node - _OCTAVE :][: len(now)]
            np.multiply(before, before, out=now)
        else:
            np.multiply.outer(growth[node:][: len(now)], -paces, out=now)
            np.exp(now, out=now)


def _on_nodes(
    films: Films, weights: FloatArray, left: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """N and the weighted sums, and their slopes in tau, (1 + groups, draws, nodes) each.

    From what is left of each constituent at the nodes, (nodes, draws, n).
    """
    draws, groups, n = weights.shape
    of_each = np.empty((draws, 2, 1 + groups, n))
    of_each[:, 0, 0] = films.moles
    np.multiply(films.moles[:, None], weights, out=of_each[:, 0, 1:])
    np.multiply(of_each[:, 0], -films.loss_rates[:, None], out=of_each[:, 1])
    sums = of_each.reshape(draws, -1, n) @ left.transpose(1, 2, 0)
    values, slopes = sums.reshape(draws, 2, 1 + groups, -1).transpose(1, 2, 0, 3)
    values[0] += films.carrier_moles[:, None]
    return values, slopes


def _elapsed(
    clock: FloatArray, moles: FloatArray, slopes: FloatArray, begun_at: FloatArray
) -> FloatArray:
    """Time at each node, (draws, nodes): the integral of N, cubic in between. [s]"""
    rate = clock * moles
    bend = rate + clock**2 * slopes
    elapsed = np.empty_like(clock)
    elapsed[:, 0] = begun_at
    elapsed[:, 1:] = (rate[:, 1:] + rate[:, :-1]) * (_STEP / 2)
    elapsed[:, 1:] -= (bend[:, 1:] - bend[:, :-1]) * (_STEP**2 / 12)
    return elapsed.cumsum(axis=1, out=elapsed)


def _cells(elapsed: FloatArray, moments: FloatArray) -> _Cells:
    log_elapsed = np.log(np.maximum(elapsed, _TINY))
    width = np.maximum(log_elapsed[:, 1:] - log_elapsed[:, :-1], 1e-15)
    place = moments.searchsorted(elapsed)
    place[:, 0], place[:, -1] = 0, moments.size
    of_moment = np.arange(width.size).repeat((place[:, 1:] - place[:, :-1]).ravel())
    before = log_elapsed[:, :-1].ravel().take(of_moment)
    along = (np.log(moments) - before.reshape(-1, moments.size)).ravel()
    along /= width.ravel().take(of_moment)
    np.minimum(np.maximum(along, 0.0, out=along), 1.0, out=along)
    return _Cells(width, of_moment, along)


def _between(values: FloatArray, slopes: FloatArray, cells: _Cells) -> FloatArray:
    """Figures at nodes, (rows, draws, nodes), as cubics at the moments."""
    growth = values[..., 1:] - values[..., :-1]
    start, rise, second, third = coefficients = np.empty((4, *growth.shape))
    start[...] = values[..., :-1]
    np.multiply(slopes[..., :-1], cells.width, out=rise)
    third[...] = rise + slopes[..., 1:] * cells.width - 2 * growth
    second[...] = growth - rise - third
    *lower, highest = coefficients.reshape(4, len(values), -1)
    sums = highest.take(cells.of_moment, axis=1)
    room = np.empty_like(sums)
    for each in reversed(lower):
        each.take(cells.of_moment, axis=1, out=room, mode="clip")  # not clipped, numpy copies
        sums *= cells.along
        sums += room
    np.maximum(sums, 0.0, out=sums)  # a cubic may end a hair below nothing
    return sums.reshape(*values.shape[:2], -1)
