"""The film's own clock, turned round: from moments to tau, for many films at once.

``t(tau) = n_c tau + sum_j n_j (1 - exp(-K_j tau)) / K_j`` is summed exactly at Chebyshev points
in ln tau, guessed by interpolation and corrected until it fits. A few dozen exponentials per
constituent then serve any number of moments. Used by `evaporation.film` and by nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_MOST_CORRECTIONS = 40
_NUMBERS_AT_ONCE = 200_000  # under two megabytes, which a processor's cache can hold
TIMES_AT_ONCE = 1024
_NO_RATE = 1e-150  # below this share of the fastest, a loss rate counts as none
_HARDLY_ANY = 1e-14  # as a share of all moles at time 0
_HARDLY_BEGUN = 1e-18  # on a clock on which the fastest loss rate is 1
_TINY = 1e-300


class Films(NamedTuple):
    """Films to be solved together: one a draw."""

    moles: FloatArray  # (draws, n)
    carrier_moles: FloatArray  # (draws,)
    loss_rates: FloatArray  # (draws, n)
    weights: FloatArray  # (draws, groups, n)


class _Scaled(NamedTuple):
    """Films in their own units: all moles together 1, fastest loss rate 1; axis 0 is draws."""

    shares: FloatArray
    rates: FloatArray
    weights: FloatArray
    spans: FloatArray  # share over rate: how long each would last as the whole film
    staying: FloatArray  # carrier, and whatever has no loss rate
    carrier: FloatArray
    total: FloatArray  # [mol/m2]
    fastest: FloatArray  # [mol/m2/s]
    dry_at: FloatArray  # [s]
    low: FloatArray  # ln tau before the first moment, and after the last
    high: FloatArray


class _Grid(NamedTuple):
    """Exact figures at Chebyshev points in ln tau; axis 0 is draws."""

    ends: FloatArray  # ln tau at the points
    times: FloatArray  # [s]
    slopes: FloatArray  # d ln tau / d ln t, and its own slope
    curvatures: FloatArray
    figures: FloatArray  # (draws, figures, points): t / tau, sum of K tau n, N, groups, 1


class _Part(NamedTuple):
    draws: slice
    times: slice
    films: _Scaled
    log_clock: FloatArray  # (draws, times)
    figures: FloatArray  # (draws, figures, times)
    wet: npt.NDArray[np.bool_]  # (draws, times)


def parts_of(
    films: Films, moments: FloatArray, digits: float, within: float
) -> Iterator[_Part]:
    """Solve for all moments after 0, some draws and some moments at a time.

    Sums of ``exp(-K tau)`` are smooth in ln tau whatever the K: analytic and bounded in a strip
    of half-width pi/2. On an interval of length L their Chebyshev series fall as
    ``exp(-asinh(pi / L) terms)``, so a few dozen exponentials do for any number of moments.
    """
    first, draws, n = int(moments.searchsorted(0.0, side="right")), *films.moles.shape
    if first == moments.size or draws == 0:
        return
    scaled = _scaled(films, moments[first], moments[-1])
    length = float(np.max(scaled.high - scaled.low))
    if np.min(scaled.staying) < 0.01:
        digits += 1.5  # what is left of a film that dries up hangs on a small difference
    terms = 3 + math.ceil(digits * math.log(10) / math.asinh(math.pi / length))
    widest = max(n, min(moments.size - first, TIMES_AT_ONCE))
    at_once = min(draws, max(1, _NUMBERS_AT_ONCE // (terms * widest)))
    room = np.empty(at_once * terms * widest)  # fresh memory is slow, so it is used again
    for start in range(0, draws, at_once):
        here = slice(start, start + at_once)
        few = _Scaled(*(figures[here] for figures in scaled))
        grid = _on_grid(few, terms, room)
        for begin in range(first, moments.size, TIMES_AT_ONCE):
            times = slice(begin, begin + TIMES_AT_ONCE)
            wet = moments[times] < few.dry_at[:, None]
            solved = _turned_round(few, grid, moments[times], wet, within, room)
            yield _Part(here, times, few, *solved, wet)


def _scaled(films: Films, earliest: float, latest: float) -> _Scaled:
    total = films.carrier_moles + films.moles.sum(axis=1)
    total = np.where(total > 0, total, 1.0)
    fastest = films.loss_rates.max(axis=1, initial=0.0)
    fastest = np.where(fastest > 0, fastest, 1.0)
    shares, rates = films.moles / total[:, None], films.loss_rates / fastest[:, None]
    carrier = films.carrier_moles / total
    leaving = (rates > _NO_RATE) & (shares > 0)
    spans = np.divide(shares, rates, out=np.zeros_like(shares), where=leaving)
    staying = carrier + np.where(leaving, 0.0, shares).sum(axis=1)
    slowest = np.where(leaving, rates, np.inf).min(axis=1, initial=np.inf)
    span, seconds = spans.sum(axis=1), total / fastest
    low, until = np.maximum(earliest / seconds, _HARDLY_BEGUN), latest / seconds
    # t <= tau gives the lower end. The upper: t >= staying tau; t >= span (1 - exp(-slowest
    # tau)); and once slowest tau is 800, nothing is left but what stays.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share = np.minimum(until / span, 1 - 1e-15)
        settled = np.where(until < span, -np.log1p(-share), 800.0) / slowest
        high = np.fmin(until / staying, np.where(np.isinf(slowest), np.inf, settled))
    high = np.where(np.isfinite(high), np.maximum(high, 1.1 * low), 2 * low)
    dry_at = np.where(staying > 0, np.inf, span * seconds)
    made = shares, rates, films.weights, spans, staying, carrier, total, fastest, dry_at
    return _Scaled(*made, np.log(low), np.log(high))


@lru_cache(maxsize=64)
def _points_and_pulls(terms: int) -> tuple[FloatArray, FloatArray]:
    """Chebyshev points from 0 to 1, and their weights in the barycentric formula.

    References
    ----------
    J.-P. Berrut and L. N. Trefethen, SIAM Rev. 46 (2004) 501, equations (4.2) and (5.4).
    """
    points = np.array([math.sin(math.pi / 2 * k / (terms - 1)) ** 2 for k in range(terms)])
    pulls = np.array([(-1.0) ** k for k in range(terms)])
    pulls[[0, -1]] /= 2
    return points, pulls


def _on_grid(films: _Scaled, terms: int, room: FloatArray) -> _Grid:
    points, _ = _points_and_pulls(terms)
    ends = films.low[:, None] + (films.high - films.low)[:, None] * points
    clock = np.exp(ends)
    gone = room[: clock.size * films.rates.shape[1]].reshape(*clock.shape, films.rates.shape[1])
    np.multiply(clock[:, :, None], -films.rates[:, None, :], out=gone)
    np.expm1(gone, out=gone)  # not exp: early on, what is gone must not drown in what is left
    shares = films.shares[:, None, :]
    weighted, ones = shares * films.weights, np.zeros_like(shares)
    leave = shares * films.rates[:, None, :]
    of_each = np.concatenate([films.spans[:, None, :], leave, shares, weighted, ones], axis=1)
    figures = of_each @ gone.swapaxes(1, 2)
    elapsed = films.staying[:, None] * clock - figures[:, 0]
    figures += of_each.sum(axis=2, keepdims=True)
    figures[:, 0] = elapsed / clock
    figures[:, 1] *= clock
    figures[:, 2] += films.carrier[:, None]
    figures[:, -1] = 1
    film = np.maximum(figures[:, 2], _HARDLY_ANY)
    slopes = figures[:, 0] / film
    curvatures = slopes * (1 - slopes + slopes * figures[:, 1] / film)
    times = np.maximum(elapsed * (films.total / films.fastest)[:, None], _TINY)
    return _Grid(ends, times, slopes, curvatures, figures)


def _at(log_clock: FloatArray, grid: _Grid, room: FloatArray) -> FloatArray:
    """Sum up the figures at (draws, times), between grid points: (draws, figures, times)."""
    draws, terms = grid.ends.shape
    pull = room[: terms * log_clock.size].reshape(draws, terms, -1)
    np.subtract(log_clock[:, None, :], grid.ends[:, :, None], out=pull)
    np.divide(_points_and_pulls(terms)[1][:, None], pull, out=pull)
    sums = grid.figures @ pull
    sums /= sums[:, -1:]
    return sums


def _turned_round(
    films: _Scaled,
    grid: _Grid,
    moments: FloatArray,
    wet: npt.NDArray[np.bool_],
    within: float,
    room: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Clock (ln tau) at each moment, and all figures less than `within` from there."""
    low, high, log_clock = _first_guess(grid, moments)
    elapsed = moments * (films.fastest / films.total)[:, None]
    for _ in range(_MOST_CORRECTIONS):
        figures = _at(log_clock, grid, room)
        film = np.maximum(figures[:, 2], _HARDLY_ANY)
        # Newton's step in tau, as a share of tau; then bent, as if N fell exponentially (third
        # order, by Pade's form of the logarithm); then made a step in ln tau (likewise)
        step = (elapsed * np.exp(-log_clock) - figures[:, 0]) / film
        bend = np.maximum(-step * figures[:, 1] / film, -0.9)
        step = np.maximum(step * (6 + bend) / (6 + 4 * bend), -1.0)
        before = log_clock
        log_clock = np.minimum(np.maximum(before + step / (1 + step / 2), low), high)
        if np.max(np.abs(log_clock - before) * wet) < within:
            break
    return log_clock, figures


def _first_guess(grid: _Grid, moments: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Ends of the grid's interval around each moment, and ln tau inside."""
    draws, points = grid.times.shape
    row = np.arange(draws)[:, None]
    # how many grid times lie at or before each moment, for all draws with one sorted search
    place = moments.searchsorted(grid.times) + row * (moments.size + 1)
    found = np.bincount(place.ravel(), minlength=draws * (moments.size + 1))
    before = found.reshape(draws, -1)[:, :-1].cumsum(axis=1)
    left = np.minimum(np.maximum(before - 1, 0), points - 2) + row * points
    right = left + 1
    ends, log_times = grid.ends.ravel(), np.log(grid.times).ravel()
    slopes, curvatures = grid.slopes.ravel(), grid.curvatures.ravel()
    low, start = ends[left], log_times[left]
    width, length = ends[right] - low, np.maximum(log_times[right] - start, _TINY)
    # through both ends with their slopes (cubic, slopes held back so that it keeps rising:
    # Fritsch and Carlson), then with their curvatures as well (quintic)
    along = np.minimum(np.maximum((np.log(moments) - start) / length, 0.0), 1.0)
    rest, area = 1 - along, length**2
    rise = np.minimum(slopes[left] * length, 3 * width)
    end_rise = np.minimum(slopes[right] * length, 3 * width)
    inside = along**2 * (3 - 2 * along) * width + along * rest * (
        rest * rise - along * end_rise
    )
    curve = curvatures[left] * area - 6 * width + 4 * rise + 2 * end_rise
    end_curve = curvatures[right] * area + 6 * width - 2 * rise - 4 * end_rise
    inside += (along * rest) ** 2 * (rest * curve + along * end_curve) / 2
    # a hair away from grid points, where the barycentric formula divides by 0
    hair = np.maximum(1e-9 * width, 1e-12)
    low, high = low + hair, low + width - hair
    return low, high, np.minimum(np.maximum(low + inside, low), high)


_SHAPES = {  # one film, then what many films may have as well
    "loss_rates": ("n", "draws, n"),
    "moles": ("n", "draws, n"),
    "carrier_moles": ("", "draws"),
    "times": ("m",),
    "weights": ("groups, n", "draws, groups, n"),
}
