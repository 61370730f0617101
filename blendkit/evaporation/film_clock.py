"""The film's own clock, turned round: from moments to tau, for many films at once.

Sums of ``exp(-K tau)`` are smooth in ln tau whatever the K, so they are worked out at evenly
spaced nodes in ln tau, with slope and curvature, and are quintic in between. A few nodes to
each doubling of tau do for any number of moments, and ``exp(-2 K tau)`` is the square of
``exp(-K tau)``, so that a few exponentials per constituent do for all the nodes.
Used by `evaporation.film` and by nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_NUMBERS_AT_ONCE = 100_000  # under a megabyte, which a processor's cache can hold
_MOST_SQUARINGS = 16  # in a row: each doubles the error of rounding
_MOST_OCTAVES = 400.0
_MOST_CORRECTIONS = 40
_NO_RATE = 1e-100  # below this share of the fastest, a loss rate counts as none
_HARDLY_BEGUN = 1e-18  # on a clock on which the fastest loss rate is 1
_TINY = 1e-300

# From value, slope and curvature at both ends of a unit of length: the quintic's coefficients,
# lowest first, and its integral
_QUINTIC = np.array(
    [
        [1, 0, 0, 0, 0, 0],
        [0, 1, 0, 0, 0, 0],
        [0, 0, 0.5, 0, 0, 0],
        [-10, -6, -1.5, 10, -4, 0.5],
        [15, 8, 1.5, -15, 7, -1],
        [-6, -3, -0.5, 6, -3, 0.5],
    ]
)
_INTEGRAL = (1 / np.arange(1, 7)) @ _QUINTIC
# From coefficients: growth over the unit, and the slope at its end
_GROWTH = np.array([[0, 1, 1, 1, 1, 1], [0, 1, 2, 3, 4, 5]], dtype=np.float64)


class Films(NamedTuple):
    """Films to be solved together: one a draw."""

    moles: FloatArray  # (draws, n)
    carrier_moles: FloatArray  # (draws,)
    loss_rates: FloatArray  # (draws, n)
    weights: FloatArray  # (draws, groups, n)


class Part(NamedTuple):
    """Some of the films, solved for all moments."""

    draws: slice
    step: float  # between nodes, in ln tau
    clock: FloatArray  # tau at each node (nodes, draws)
    nodes: FloatArray  # N and the sums (3, 1 + groups, nodes, draws), as by `_on_nodes`
    before: npt.NDArray[np.intp]  # the node before each moment of each draw, all in one row
    along: FloatArray  # how far it is from there to the next, from 0 to 1
    wet: npt.NDArray[np.bool_]  # (moments, draws)

    def clock_at_moments(self) -> FloatArray:
        """Tau, (moments, draws); after all is gone where a film is dry."""
        clock = self.clock.ravel().take(self.before) * np.exp(self.step * self.along)
        return np.where(self.wet, clock.reshape(self.wet.shape), self.clock[-1])

    def figures_at_moments(self) -> FloatArray:
        """N and the weighted sums, (1 + groups, moments, draws)."""
        along, rest = self.along, 1 - self.along
        square, rest_square = along * along, rest * rest  # numpy is slow to raise to the third
        bend, end_bend = square * rest_square * rest / 2, square * rest_square * along / 2
        end = along * square * (10 + along * (6 * along - 15))
        pull = along * rest * rest_square * (1 + 3 * along)
        end_pull = -rest * along * square * (1 + 3 * rest)
        at_start, at_end = (1 - end, pull, bend), (end, end_pull, end_bend)
        nodes = self.nodes.reshape(3, self.nodes.shape[1], -1)
        sums = np.zeros((nodes.shape[1], along.size))
        room = np.empty_like(sums)
        for node, shares in (self.before, at_start), (self.before + self.wet.shape[1], at_end):
            for figures, share in zip(nodes, shares, strict=True):
                figures.take(node, axis=1, out=room, mode="clip")  # not clipped, numpy copies
                room *= share
                sums += room
        np.maximum(sums, 0.0, out=sums)  # a series may end a hair below nothing
        sums = sums.reshape(-1, *self.wet.shape)
        sums *= self.wet
        return sums


def parts_of(films: Films, moments: FloatArray, per_octave: int) -> Iterator[Part]:
    """Solve for all moments, sorted and after 0, some draws at a time.

    With 4 nodes to each doubling of tau, figures are within 1e-7 of those at time 0, and within
    1e-8 where half the film stays; errors fall as the sixth power of the nodes.
    """
    draws, n = films.moles.shape
    if moments.size == 0 or draws == 0:
        return
    low, high, dry_at, begun_at = _bounds(films, moments[0], moments[-1])
    octaves = min(math.log2((high / low).max()), _MOST_OCTAVES)
    count = 2 + math.floor(octaves * per_octave)
    step = math.log(2) / per_octave
    growth = np.exp(step * np.arange(count))[:, None]
    at_once = min(draws, max(1, _NUMBERS_AT_ONCE // (max(count * n, moments.size) + 1)))
    room = np.empty((count, at_once, n))  # fresh memory is slow
    for start in range(0, draws, at_once):
        here = slice(start, start + at_once)
        few = Films(*(figures[here] for figures in films))
        clock = low[here] * growth
        nodes = _on_nodes(few, clock, per_octave, room[:, : len(few.moles)])
        times = _elapsed(nodes[:, 0], clock, begun_at[here], per_octave)
        before, along = _turned_round(times, moments, (0.3 / per_octave) ** 3)
        wet = moments[:, None] < dry_at[here]
        yield Part(here, step, clock, nodes, before, along, wet)


def _bounds(
    films: Films, earliest: float, latest: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Tau before the first moment and after the last, when all is gone, and t of the first."""
    moles, carrier, rates = films.moles, films.carrier_moles, films.loss_rates
    fastest = rates.max(axis=1, initial=0.0)
    fastest += fastest == 0
    leaving = (rates > fastest[:, None] * _NO_RATE) & (moles > 0)
    leaving_rates = np.where(leaving, rates, np.inf)
    spans = moles / leaving_rates  # how long each would last as the whole film
    span = spans.sum(axis=1)
    staying = carrier + moles.sum(axis=1, where=~leaving)
    total = carrier + moles.sum(axis=1)
    total += total == 0
    # t <= total tau gives the lower end. The upper: t >= staying tau;
    # t >= span (1 - exp(-slowest tau)); at slowest tau = 800, nothing is left but what stays.
    low = np.maximum(earliest / total, _HARDLY_BEGUN / fastest)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share = latest / span
        settled = np.where(share < 1 - 1e-15, -np.log1p(-share), 800.0)
        settled /= leaving_rates.min(axis=1, initial=np.inf)
        high = np.maximum(np.minimum(latest / staying, settled), low)
    begun_at = staying * low - (spans * np.expm1(rates * -low[:, None])).sum(axis=1)
    return low, high, np.where(staying > 0, np.inf, span), begun_at


def _on_nodes(films: Films, clock: FloatArray, per_octave: int, left: FloatArray) -> FloatArray:
    """N and the weighted sums at each node, (3, 1 + groups, nodes, draws).

    On axis 0: value, slope per step and curvature per step squared. Fills in `left`, what is
    left of each constituent, (nodes, draws, n).
    """
    for node in range(0, len(clock), per_octave):
        octave = left[node : node + per_octave]
        if node % (_MOST_SQUARINGS * per_octave) == 0:
            np.multiply(clock[node : node + per_octave, :, None], -films.loss_rates, out=octave)
            np.exp(octave, out=octave)
        else:
            np.square(left[node - per_octave :][: len(octave)], out=octave)
    draws, groups, n = films.weights.shape
    of_each = np.empty((draws, 3, 1 + groups, n))
    of_each[:, 0, 0] = films.moles
    np.multiply(films.moles[:, None], films.weights, out=of_each[:, 0, 1:])
    np.multiply(of_each[:, 0], films.loss_rates[:, None], out=of_each[:, 1])
    np.multiply(of_each[:, 1], films.loss_rates[:, None], out=of_each[:, 2])
    sums = of_each.reshape(draws, 3 * (1 + groups), n) @ left.transpose(1, 2, 0)
    nodes = np.empty((3, 1 + groups, *clock.shape))
    nodes[:] = sums.reshape(draws, 3, 1 + groups, -1).transpose(1, 2, 3, 0)
    values, slopes, curvatures = nodes
    step = math.log(2) / per_octave
    values[0] += films.carrier_moles
    slopes *= -step * clock
    curvatures *= (step * clock) ** 2
    curvatures += step * slopes
    return nodes


def _elapsed(
    film: FloatArray, clock: FloatArray, begun_at: FloatArray, per_octave: int
) -> FloatArray:
    """Time at each node, (3, nodes, draws), as the integral of N: its quintic is exact here."""
    step = math.log(2) / per_octave
    rate = (step * clock) * film  # N tau, which has slopes of its own
    rate[1] += step * rate[0]
    rate[2] += step * (2 * rate[1] - step * rate[0])
    times = np.empty_like(rate)
    times[0, 0] = begun_at
    times[0, 1:] = (_INTEGRAL @ _ends(rate)).reshape(-1, len(begun_at))
    times[0].cumsum(axis=0, out=times[0])
    times[1:] = rate[:2]
    return times


def _ends(nodes: FloatArray) -> FloatArray:
    """Figures at both ends of each cell, (6, all), from those at nodes, (3, nodes, draws)."""
    return np.concatenate([nodes[:, :-1], nodes[:, 1:]]).reshape(6, -1)


def _turned_round(
    times: FloatArray, moments: FloatArray, near_enough: float
) -> tuple[npt.NDArray[np.intp], FloatArray]:
    """The node before each moment, and how far along the moment is to the next."""
    _, count, draws = times.shape
    place = moments.searchsorted(times[0].T)
    place[:, 0], place[:, -1] = 0, moments.size
    nodes = np.arange((count - 1) * draws).reshape(-1, draws).T.ravel()
    before = nodes.repeat((place[:, 1:] - place[:, :-1]).ravel()).reshape(draws, -1).T.ravel()
    pieces = (_QUINTIC @ _ends(times)).take(before, axis=1)
    start, rise, third, fourth, fifth, sixth = pieces
    width, end_rise = _GROWTH @ pieces
    part = (moments[:, None] - start.reshape(-1, draws)).ravel()
    width = np.maximum(width, 1e-15 * start + _TINY)  # rounding may leave nothing, or less
    part = np.minimum(np.maximum(part, 0.0), width)
    # guessed by the cubic that is turned round; slopes held back so that it keeps rising
    share = part / width
    rest, least = 1 - share, width / 3
    pull = rest * (width / np.maximum(rise, least))
    pull -= share * (width / np.maximum(end_rise, least))
    along = share * (share * (3 - 2 * share) + rest * pull)
    least = 1e-6 * width
    for _ in range(_MOST_CORRECTIONS):  # Newton's; what they leave is about their square
        value = sixth * along + fifth
        slope = sixth * along + value
        for coefficient in (fourth, third, rise):
            value = value * along + coefficient
            slope = slope * along + value
        behind = along
        along = along - (value * along - part) / np.maximum(slope, least)
        along = np.minimum(np.maximum(along, 0.0), 1.0)
        if np.abs(along - behind).max() < near_enough:
            break
    return before, along
