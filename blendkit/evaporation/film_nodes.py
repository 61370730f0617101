"""Many films of the same constituents at once, at nodes of their own clocks.

What a nose makes of a film is smooth between nodes evenly spaced in ln tau, so a few nodes to
each doubling do for any number of moments. Single precision is far finer than any figure that
goes in. Arrays have draws before nodes, and constituents or groups in front of both, so that
one constituent of all draws lies together in memory.
"""

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.evaporation.film_clock import Films, course_of
from blendkit.foundation.units import FloatArray

Singles = npt.NDArray[np.float32]

NOTHING = -60.0  # logarithm of what is not there
_TO_AN_OCTAVE = 4
_STEP = math.log(2) / _TO_AN_OCTAVE
_MOST_SQUARES = 7  # in a row: each doubles the rounding, to 4e-6
_NOTHING_LEFT = 1e-6  # of a film's moles at the start: below, quotients are noise
_TINY = 1e-30


class Nodes(NamedTuple):
    """Films at the nodes of their clocks; node 0 is time 0. Arrays of shape (draws, nodes).

    Attributes
    ----------
    clock : ndarray
        tau. [s m2/mol]
    log_moles : ndarray
        Natural logarithm of N over the moles at the start. [-]
    elapsed : ndarray
        [s]
    is_there : ndarray of bool
        False once a film without carrier is dry.
    sums : ndarray, shape (groups, draws, nodes)
        Weighted sums over the constituents. [unit of the weights times mol/m2]
    """

    clock: Singles
    log_moles: Singles
    elapsed: Singles
    is_there: npt.NDArray[np.bool_]
    sums: Singles


def nodes_of(
    films: Films,
    earliest: float,
    latest: float,
    weights: FloatArray | None = None,
    members: FloatArray | None = None,
) -> Nodes:
    """The nodes of some films from 0 to beyond a time, the first ones before another.

    Parameters
    ----------
    films : Films
        Of n constituents; moles (n,), the same in all films, and loss rates (draws, n).
    earliest, latest : float
        Above 0. [s]
    weights : ndarray, shape (draws, n), optional
    members : ndarray, shape (groups, n), optional
        Share of each constituent that counts to each group, for `Nodes.sums`. [-]
    """
    course = course_of(films, earliest, latest)
    low = np.broadcast_to(course.low, len(films.loss_rates))
    count = 2 + math.floor(math.log((course.high / low).max()) / _STEP)
    begun = course.staying * low - (
        course.spans * np.expm1(films.loss_rates * -low[:, None])
    ).sum(axis=1)
    clock = np.zeros((len(low), 1 + count), dtype=np.float32)
    clock[:, 1:] = low[:, None] * np.exp(_STEP * np.arange(count))
    moles, sums = _summed(films, clock, weights, members)
    elapsed = np.zeros_like(clock)
    elapsed[:, 1] = begun
    _elapse(moles[:, 1:] * clock[:, 1:], elapsed[:, 1:])
    whole = np.float32(films.carrier_moles + films.moles.sum())
    is_there = moles > _NOTHING_LEFT * whole
    np.maximum(moles, _TINY, out=moles)
    moles /= whole
    return Nodes(clock, np.log(moles, out=moles), elapsed, is_there, sums)


def _summed(
    films: Films, clock: Singles, weights: FloatArray | None, members: FloatArray | None
) -> tuple[Singles, Singles]:
    """N at the nodes, and the weighted sums.

    Clocks double every few nodes, where what is left of each constituent is squared: far
    quicker than an exponential.
    """
    draws, nodes = clock.shape
    rates = np.negative(films.loss_rates.T, dtype=np.float32, casting="same_kind", order="C")
    octaves = math.ceil((nodes - 1) / _TO_AN_OCTAVE)
    left = np.empty((octaves, _TO_AN_OCTAVE, *rates.shape), dtype=np.float32)
    first = np.multiply.outer(np.exp(_STEP * np.arange(_TO_AN_OCTAVE)), clock[:, 1])
    for octave, here in enumerate(left):
        if octave % _MOST_SQUARES:
            np.multiply(left[octave - 1], left[octave - 1], out=here)
        else:
            np.exp((first * 2.0**octave).astype(np.float32)[:, None] * rates, out=here)
    left = left.reshape(-1, *rates.shape)[: nodes - 1]
    amounts = films.moles.astype(np.float32)
    moles = np.empty_like(clock)
    moles[:, 1:] = (amounts @ left).T
    moles[:, 0] = amounts.sum()
    moles += np.float32(films.carrier_moles)
    if members is None or weights is None:
        return moles, np.zeros((0, draws, nodes), dtype=np.float32)
    weighed = np.ascontiguousarray((weights * films.moles).T, dtype=np.float32)
    shares = members.astype(np.float32)
    left *= weighed
    sums = np.empty((len(members), draws, nodes), dtype=np.float32)
    sums[:, :, 1:] = (shares @ left).transpose(1, 2, 0)
    sums[:, :, 0] = shares @ weighed
    return moles, sums


def _elapse(pace: Singles, elapsed: Singles) -> None:
    """Fill in the time at each node but the first: the integral of N tau over ln tau."""
    rise = np.gradient(pace, axis=1)
    steps = pace[:, 1:] + pace[:, :-1]
    steps -= (rise[:, 1:] - rise[:, :-1]) / 6  # Euler and Maclaurin, slopes by differences
    steps *= _STEP / 2
    np.maximum(steps, 0, out=steps)
    np.cumsum(steps, axis=1, out=elapsed[:, 1:])
    elapsed[:, 1:] += elapsed[:, :1]


def at_moments(nodes: Nodes, logs: Singles, moments: FloatArray, found: Singles) -> None:
    """Fill in logarithms at sorted moments, (rows, moments, draws), from (rows, draws, nodes).

    Straight in time from node to node, as the logarithm of what decays is: within a percent,
    and up to 15 % too high inside the cell where one molecule takes over from another.
    """
    draws, count = nodes.elapsed.shape
    passed = moments.searchsorted(nodes.elapsed)  # moments before each node
    passed[:, 0], passed[:, -1] = 0, moments.size
    cells = np.arange(draws * count).reshape(draws, count)[:, :-1]
    place = cells.ravel().repeat(np.diff(passed, axis=1).ravel())
    place = np.ascontiguousarray(place.reshape(draws, -1).T)
    elapsed = nodes.elapsed.ravel()
    width = np.maximum(np.diff(elapsed, append=np.float32(np.inf)), _TINY)
    along = moments[:, None].astype(np.float32) - elapsed.take(place)
    along /= width.take(place)
    np.minimum(along, 1, out=along)
    for number, log in enumerate(logs.reshape(len(logs), -1)):
        rise = np.diff(log, append=np.float32(0))
        rise.take(place, out=found[number], mode="clip")  # not clipped, numpy copies
        found[number] *= along
        found[number] += log.take(place, mode="clip")


def last_above(nodes: Nodes, logs: Singles, level: FloatArray | float) -> FloatArray:
    """Time at which logarithms at nodes, (rows, draws, nodes), sink below a level for good. [s]

    Infinite where they are above it at the last node; 0 where they never are. (rows, draws)
    """
    above = logs >= level
    count = logs.shape[-1]
    last = count - 1 - above[..., ::-1].argmax(axis=-1)
    ends = np.minimum(last + 1, count - 1)
    draws = np.arange(logs.shape[1])[None]
    rows = np.arange(logs.shape[0])[:, None]
    before, after = logs[rows, draws, last], logs[rows, draws, ends]
    fall = np.where(before > after, before - after, 1)
    here = np.broadcast_to(np.asarray(level), logs.shape)[..., 0]
    part = np.clip((before - here) / fall, 0, 1)
    start, end = nodes.elapsed[draws, last], nodes.elapsed[draws, ends]
    when = start + part * (end - start)
    when = np.where(above[..., -1], np.inf, when)
    return np.asarray(np.where(above.any(axis=-1), when, 0.0), dtype=np.float64)
