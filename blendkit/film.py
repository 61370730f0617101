"""How a thin film of perfume oil wears off skin: the arithmetic, on plain SI arrays.

A constituent leaves, into the air and into the skin together, at a rate set by its share of
all the moles in the film: ``d n_i / dt = -K_i n_i / N``, carrier counted in N. As light notes
go, the shares of heavy ones rise, so independent exponentials will not do. With constant K
the answer is exact on the film's own clock, ``d tau = dt / N``: each n_i falls as
``exp(-K_i tau)``, and ``t(tau) = n_c tau + sum_j n_j (1 - exp(-K_j tau)) / K_j`` only has to
be turned round.

The film is well mixed and held back by the air alone: fair below about 0.1 mm, not for drops.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.errors import BadNumber, Problem, quoted

Numbers = npt.ArrayLike
FloatArray = npt.NDArray[np.float64]

GAS_CONSTANT_J_PER_MOL_K = 8.314462618  # CODATA 2018
INDOOR_AIR_SPEED_M_PER_S = 0.2

_MOST_CORRECTIONS = 40
_NUMBERS_AT_ONCE = 200_000  # under two megabytes, which a processor's cache can hold
_TIMES_AT_ONCE = 1024
_NO_RATE = 1e-150  # below this share of the fastest, a loss rate counts as none
_NOTHING_LEFT = -690.0  # exp() of anything lower is slow to work out and as good as nothing
_HARDLY_ANY = 1e-14  # as a share of all moles at time 0
_HARDLY_BEGUN = 1e-18  # on a clock on which the fastest loss rate is 1
_TINY = 1e-300


def film_amounts(
    moles: Numbers, carrier_moles: float, loss_rates: Numbers, times: Numbers
) -> FloatArray:
    """Amounts left in the film, for constant loss rates.

    Parameters
    ----------
    moles : array_like, shape (n,)
        Amounts at time 0. [mol/m2]
    carrier_moles : float
        Carrier, which stays. [mol/m2]
    loss_rates : array_like, shape (n,)
        K: what each constituent would lose if it were the whole film. [mol/m2/s]
    times : array_like, shape (m,)
        In any order, with repeats. [s]

    Returns
    -------
    ndarray, shape (m, n)
        Within 1e-9 of the starting amounts; 0 once a film without carrier is dry. [mol/m2]

    Raises
    ------
    BadNumber
        Lists every misfit of shapes and every argument with a number below 0 or not finite.

    Notes
    -----
    The same solution covers a factor s(t) common to all loss rates (pass the integral of s as
    `times`), a film rubbed off as a whole at w [1/s] (pass ``expm1(w t) / w``, multiply by
    ``exp(-w t)``), and a carrier that leaves (list it among the constituents).

    Examples
    --------
    >>> film_amounts([2.0], 0.0, [0.5], [0.0, 1.0, 4.0, 9.0])[:, 0]
    array([2. , 1.5, 0. , 0. ])
    """
    films, moments, place = _checked(moles, carrier_moles, loss_rates, times)
    amounts, rates = films.moles[0], films.loss_rates[0]
    left = np.empty((moments.size, amounts.size))
    left[moments == 0] = amounts
    for part in _parts(films, moments, digits=9.5, within=1e-5):
        clock = np.exp(part.log_clock[0]) / part.films.fastest
        share = np.multiply(clock[:, None], -rates, out=left[part.times])
        np.exp(np.maximum(share, _NOTHING_LEFT, out=share), out=share)
        share *= amounts
        share[~part.wet[0]] = 0.0
    return left[place]


class FilmSums(NamedTuple):
    """Weighted sums over the constituents of many films.

    Attributes
    ----------
    sums : ndarray, shape (draws, m, groups)
        ``sum_i weight_i n_i``. [unit of the weights times mol/m2]
    film_moles : ndarray, shape (draws, m)
        N: ``sums / film_moles`` are sums over mole fractions, such as activities. [mol/m2]
    """

    sums: FloatArray
    film_moles: FloatArray


def film_sums(
    moles: Numbers,
    carrier_moles: Numbers,
    loss_rates: Numbers,
    times: Numbers,
    weights: Numbers,
) -> FilmSums:
    """Sums over the constituents of many films at once, such as draws of uncertain figures.

    Parameters
    ----------
    moles, loss_rates : array_like, shape (n,) or (draws, n)
    carrier_moles : array_like, shape () or (draws,)
    times : array_like, shape (m,)
        All as for `film_amounts`.
    weights : array_like, shape (groups, n) or (draws, groups, n)
        0 or more; rows of zeros and ones give the moles of a group.

    Returns
    -------
    FilmSums
        Within 1e-7 of each figure at time 0; so where less than that is left of a whole film,
        quotients are noise.

    Raises
    ------
    BadNumber
        As for `film_amounts`.

    Notes
    -----
    Beyond the result, memory does not grow with draws times times times constituents.
    """
    films, moments, place = _checked(moles, carrier_moles, loss_rates, times, weights)
    draws, groups = len(films.moles), films.weights.shape[1]
    result = np.empty((draws, 1 + groups, moments.size))
    at_start = moments == 0
    result[:, 0, at_start] = (films.carrier_moles + films.moles.sum(axis=1))[:, None]
    result[:, 1:, at_start] = films.weights @ films.moles[:, :, None]

    def fill(here: slice) -> None:
        for part in _parts(
            _Films(*(each[here] for each in films)), moments, digits=7.0, within=5e-8
        ):
            # a series may end a hair below nothing
            figures = np.maximum(part.figures[:, 2:-1], 0.0)
            scale = (part.films.total[:, None] * part.wet)[:, None, :]
            np.multiply(figures, scale, out=result[here][part.draws, :, part.times])

    workers = min(os.cpu_count() or 1, 1 + draws * moments.size // _TIMES_AT_ONCE // 20)
    edges = np.linspace(0, draws, workers + 1).astype(int)
    with ThreadPoolExecutor(workers) as pool:  # numpy lets go of the lock while it counts
        list(pool.map(fill, map(slice, edges[:-1], edges[1:])))
    result = result[:, :, place].swapaxes(1, 2)
    return FilmSums(result[:, :, 1:], result[:, :, 0])


def film_amounts_stepped(
    moles: Numbers,
    carrier_moles: float,
    loss_rates_at: Callable[[FloatArray], FloatArray],
    times: Numbers,
    step: float = 0.05,
) -> FloatArray:
    """Amounts left in the film, for loss rates that follow its composition.

    Parameters
    ----------
    moles, carrier_moles, times
        As for `film_amounts`.
    loss_rates_at : callable
        From amounts (n,) [mol/m2] to K (n,) [mol/m2/s].
    step : float, optional
        Growth of the film's clock at each step, above 0. [-]

    Returns
    -------
    ndarray, shape (m, n)
        [mol/m2]

    Notes
    -----
    K is held at its value in the middle of each step (explicit midpoint), the closed form does
    the rest. The error falls as the square of `step`: at 0.05, with Flory-Huggins activities
    and notes in a carrier, below 2e-5 of the starting amount.
    """
    amounts = np.asarray(moles, dtype=np.float64)
    _, moments, place = _checked(amounts, carrier_moles, loss_rates_at(amounts), times)
    if not 0 < step < math.inf:
        raise BadNumber([Problem("step", quoted(step), "a number above 0, such as 0.05")])
    fastest = float(np.max(loss_rates_at(amounts), initial=0.0)) or 1.0
    least = 1e-12 * (carrier_moles + amounts.sum())
    clock, elapsed = 0.0, 0.0
    steps: list[tuple[float, FloatArray, FloatArray]] = []
    while not steps or (elapsed < moments[-1:].sum() and carrier_moles + amounts.sum() > least):
        tick = step * (clock + 1 / fastest)
        rates = loss_rates_at(amounts * np.exp(loss_rates_at(amounts) * (-tick / 2)))
        steps.append((elapsed, amounts, rates))
        lost = amounts * -np.expm1(-rates * tick)
        spent = np.divide(lost, rates, out=amounts * tick, where=rates > 0)
        elapsed += carrier_moles * tick + float(spent.sum())
        amounts, clock = amounts - lost, clock + tick
    begun, before, held = (np.array(each) for each in zip(*steps, strict=True))
    step_of = np.searchsorted(begun, moments, side="right") - 1
    # each moment as a film of its own, that wears for one unit of time from its step's start
    rates = held[step_of] * (moments - begun[step_of])[:, None]
    films = film_sums(before[step_of], carrier_moles, rates, [1.0], np.eye(amounts.size))
    return films.sums[place, 0]


def flory_huggins(
    moles: Numbers,
    carrier_moles: float,
    molar_volumes: Numbers,
    carrier_molar_volume: float,
    interactions: Numbers,
) -> FloatArray:
    """Activity coefficients in a film, on mole fractions.

    Parameters
    ----------
    moles : array_like, shape (..., n)
        [mol/m2]
    carrier_moles : float
        [mol/m2]
    molar_volumes : array_like, shape (n,)
        [m3/mol]
    carrier_molar_volume : float
        [m3/mol]
    interactions : array_like, shape (n,)
        Flory's chi of each constituent with the carrier. [-]

    Returns
    -------
    ndarray, shape (..., n)
        [-]

    Notes
    -----
    ``ln gamma_i = ln(V_i / V) + 1 - V_i / V + chi_i phi_c**2``, V the mean molar volume and
    phi_c the carrier's share of the volume. Without the first terms, for size, a light carrier
    seems to hold scents much longer than a heavy one. Alcohols clinging to each other are
    beyond it.

    References
    ----------
    P. J. Flory, Principles of Polymer Chemistry, 1953, chapter 12 (grade: memory).
    """
    moles, volumes = np.asarray(moles, dtype=np.float64), np.asarray(molar_volumes)
    volume = (moles @ volumes + carrier_moles * carrier_molar_volume)[..., None]
    relative = volumes * (moles.sum(axis=-1)[..., None] + carrier_moles) / volume
    carrier_share = carrier_moles * carrier_molar_volume / volume
    return np.asarray(
        relative * np.exp(1 - relative + np.asarray(interactions) * carrier_share**2)
    )


def interaction_from_dilute(
    dilute_activity_coefficients: Numbers, molar_volumes: Numbers, carrier_molar_volume: float
) -> FloatArray:
    """Flory's chi [-] that gives a known activity coefficient at infinite dilution."""
    relative = np.asarray(molar_volumes) / carrier_molar_volume
    return np.asarray(np.log(dilute_activity_coefficients) - np.log(relative) - 1 + relative)


def constant_activity(
    moles: Numbers,
    carrier_moles: float,
    molar_volumes: Numbers,
    carrier_molar_volume: float,
    interactions: Numbers,
) -> FloatArray:
    """One activity coefficient [-] per constituent, to hold for a film's whole life.

    The geometric mean of `flory_huggins` (same arguments) at the start and when the carrier is
    nearly all that is left; times to a half and to a tenth then come out between 5 % early and
    15 % late in blends with a fifth of oils. Without carrier, the coefficient at the start.
    """
    rest = molar_volumes, carrier_molar_volume, interactions
    start = flory_huggins(moles, carrier_moles, *rest)
    if carrier_moles == 0:
        return start
    return np.sqrt(start * flory_huggins(np.zeros_like(start), carrier_moles, *rest))


def gas_side_coefficient(
    molar_masses_g_per_mol: Numbers, air_speed_m_per_s: float = INDOOR_AIR_SPEED_M_PER_S
) -> FloatArray:
    """Speed [m/s] at which air carries vapour off skin.

    ``1.0e-3 (150 / M)**(1/3)`` indoors, times ``(u / 0.2 m/s)**0.78``.

    Notes
    -----
    Good to a factor of 1.6 for skin in a room; clothing lowers it. Nearly the same for all
    constituents, so an error moves the whole clock and not the order of the notes.

    References
    ----------
    Exponents: US EPA, Risk Management Program offsite guidance, 1999; its constant gives
    0.94e-3 m/s at 150 g/mol and 0.2 m/s (grade: memory). The default is a judgement between
    that, a pool correlation and the heat that a body loses in still air.
    """
    masses = np.asarray(molar_masses_g_per_mol, dtype=np.float64)
    return np.asarray(
        1.0e-3 * np.cbrt(150 / masses) * (air_speed_m_per_s / INDOOR_AIR_SPEED_M_PER_S) ** 0.78
    )


def evaporation_rate(
    coefficients_m_per_s: Numbers, vapour_pressures_pa: Numbers, temperature_k: float
) -> FloatArray:
    """What each pure liquid would lose to the air: ``k P / (R T)``. [mol/m2/s]"""
    vapour = np.asarray(vapour_pressures_pa) / (GAS_CONSTANT_J_PER_MOL_K * temperature_k)
    return np.asarray(np.asarray(coefficients_m_per_s) * vapour)


def skin_uptake_rate(
    log_octanol_water: Numbers,
    molar_masses_g_per_mol: Numbers,
    solubilities_mol_per_m3: Numbers | None = None,
) -> FloatArray:
    """What each pure liquid would lose into the skin. [mol/m2/s]

    Parameters
    ----------
    log_octanol_water : array_like
        log10 Kow. [-]
    molar_masses_g_per_mol : array_like
    solubilities_mol_per_m3 : array_like, optional
        In water; estimated from Kow where left out.

    Notes
    -----
    Permeability from water times solubility in water. Good to a factor of 5; it counts for
    water-loving notes of low volatility (eugenol, vanillin) and hardly for terpenes. The skin
    is taken to swallow without filling up.

    References
    ----------
    ``log10 kp [cm/h] = -2.7 + 0.71 log Kow - 0.0061 M``: R. O. Potts and R. H. Guy, Pharm. Res.
    9 (1992) 663. ``kp / (1 + kp sqrt(M) / 2.6)`` for large Kow: US EPA, RAGS Part E, 2004.
    ``log10 S [mol/L] = 0.5 - log Kow`` for liquids: N. Jain and S. H. Yalkowsky, J. Pharm. Sci.
    90 (2001) 234. (Grade of all three: memory.)
    """
    log_kow = np.asarray(log_octanol_water, dtype=np.float64)
    masses = np.asarray(molar_masses_g_per_mol, dtype=np.float64)
    cm_per_h = 10 ** (-2.7 + 0.71 * log_kow - 0.0061 * masses)
    cm_per_h /= 1 + cm_per_h * np.sqrt(masses) / 2.6
    if solubilities_mol_per_m3 is None:
        solubilities_mol_per_m3 = 1000 * 10 ** (0.5 - log_kow)
    return np.asarray(cm_per_h / 100 / 3600 * np.asarray(solubilities_mol_per_m3))


class _Films(NamedTuple):
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


def _parts(films: _Films, moments: FloatArray, digits: float, within: float) -> Iterator[_Part]:
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
    widest = max(n, min(moments.size - first, _TIMES_AT_ONCE))
    at_once = min(draws, max(1, _NUMBERS_AT_ONCE // (terms * widest)))
    room = np.empty(at_once * terms * widest)  # fresh memory is slow, so it is used again
    for start in range(0, draws, at_once):
        here = slice(start, start + at_once)
        few = _Scaled(*(figures[here] for figures in scaled))
        grid = _on_grid(few, terms, room)
        for begin in range(first, moments.size, _TIMES_AT_ONCE):
            times = slice(begin, begin + _TIMES_AT_ONCE)
            wet = moments[times] < few.dry_at[:, None]
            solved = _turned_round(few, grid, moments[times], wet, within, room)
            yield _Part(here, times, few, *solved, wet)


def _scaled(films: _Films, earliest: float, latest: float) -> _Scaled:
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


def _checked(
    moles: Numbers,
    carrier_moles: Numbers,
    loss_rates: Numbers,
    times: Numbers,
    weights: Numbers | None = None,
) -> tuple[_Films, FloatArray, slice | npt.NDArray[np.intp]]:
    """Films with a draw axis, sorted moments, and where each time is among them."""
    given = dict(zip(_SHAPES, (loss_rates, moles, carrier_moles, times, weights), strict=True))
    if weights is None:
        del given["weights"]
    problems: list[Problem] = []
    sizes: dict[str, int] = {}
    arrays = {
        name: _array(
            name, numbers, _SHAPES[name][: 1 if weights is None else 2], sizes, problems
        )
        for name, numbers in given.items()
    }
    if problems:
        raise BadNumber(problems)
    when, draws, n = arrays["times"], sizes.get("draws", 1), sizes["n"]
    of_groups = arrays.get("weights", np.empty((0, n)))
    films = _Films(
        np.zeros((draws, 1)) + arrays["moles"],
        np.zeros(draws) + arrays["carrier_moles"],
        np.zeros((draws, 1)) + arrays["loss_rates"],
        np.broadcast_to(of_groups, (draws, *of_groups.shape[-2:])),
    )
    if np.all(when[1:] > when[:-1]):
        return films, when, slice(None)
    return films, *np.unique(when, return_inverse=True)


def _array(
    name: str,
    numbers: object,
    shapes: tuple[str, ...],
    sizes: dict[str, int],
    problems: list[Problem],
) -> FloatArray:
    """The numbers, noting what is wrong with them; the first use of a letter sets its size."""
    needed = "numbers, each 0 or more and finite"
    try:
        array = np.asarray(numbers, dtype=np.float64)
    except (TypeError, ValueError):
        problems.append(Problem(name, quoted(numbers), needed))
        return np.empty(0)
    fine = (array >= 0) & (array < np.inf)  # NaN is neither
    if not fine.all():
        problems.append(Problem(name, quoted(float(array[~fine].flat[0])), needed))
    for shape in shapes:
        letters = shape.split(", ") if shape else []
        if len(letters) == array.ndim:
            here = dict(zip(letters, array.shape, strict=True))
            if all(sizes.get(letter, size) == size for letter, size in here.items()):
                sizes |= here
                return array
    known = ", ".join(f"{letter} = {size}" for letter, size in sizes.items())
    wanted = " or ".join(f"({shape})" for shape in shapes)
    needed = f"shape {wanted}" + (f" with {known}, as the others have" if known else "")
    problems.append(Problem(name, f"shape {array.shape}", needed))
    return array
