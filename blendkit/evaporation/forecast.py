"""How a blend fades: what is left of each note, oil and the whole, hour by hour, with a band.

Strength is always relative to a group's own start, so that thresholds, the size of the patch
and the distance of the nose cancel; nothing here says how strong a blend is. It follows a power
law of the vapour over the film. The vapour of a group is the sum over its molecules, each
counted alike (odour-neutral): thresholds are on record for few molecules and disagree up to
two-thousandfold, so weighing by them would pretend knowledge.

The whole follows its strongest note and not the sum of its notes, as studies of mixed odours
found for pairs, where sums came out too strong (grade: read, an abstract). Heavy notes may rise
above their start: as light ones leave, the share of heavy ones in the film grows.

The band is always there. What is uncertain for all molecules alike (air, load, warmth, skin)
moves the clock; each molecule's own vapour pressure and activity move it against the others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from blendkit.blend.blend import BlendLike, as_blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.film import film_amounts, film_amounts_stepped, film_sums
from blendkit.evaporation.uncertainty import Clock, Uncertainty, class_logs, drawn
from blendkit.evaporation.wear import Film, film_of
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import SECONDS_PER_HOUR, Time, in_hours

if TYPE_CHECKING:
    from pint import Quantity

FloatArray = npt.NDArray[np.float64]
Hours = Time | Sequence[Time]

LONGEST_HOURS = 72.0
# Exponents read for single odours run from 0.2 to 0.8; compiled ones lie near 0.35 (memory)
STRENGTH_EXPONENT = 0.35
DRAWS, SEED = 512, 1
WHOLE = "whole"
QUANTILES = (0.05, 1 / 6, 5 / 6, 0.95)  # 9 in 10 and 2 in 3
ACTIVITIES = ("constant", "stepped")
_NOTHING_LEFT = 1e-6  # of a film's moles at the start: below, quotients are noise


@dataclass(frozen=True, eq=False)
class Forecast:
    """A fade on plain arrays: g groups (notes from the top down, oils, the whole), m hours.

    Attributes
    ----------
    film : Film
    hours : ndarray, shape (m,)
    groups, kinds : tuple of str
        Note, oil id or "whole"; and "note", "oil" or "whole".
    remaining : ndarray, shape (g, m)
        Share of the starting mass of the group's volatile part still in the film. [-]
    vapour : ndarray, shape (g, m)
        Vapour over the film. Comparable between groups, every molecule counting alike;
        relative to the whole's at the start. [-]
    vapour_draws : ndarray, shape (g, m, draws)
        The same for each draw of the uncertain figures.
    start_pa : float
        The whole's vapour at the start, to set films of one wearer beside each other. [Pa]
    exponent : float
    """

    film: Film
    hours: FloatArray
    groups: tuple[str, ...]
    kinds: tuple[str, ...]
    remaining: FloatArray
    vapour: FloatArray
    vapour_draws: FloatArray
    start_pa: float
    exponent: float = STRENGTH_EXPONENT

    @property
    def strength(self) -> FloatArray:
        """Relative to each group's own start, shape (g, m); 1 at hour 0. [-]"""
        return np.asarray((self.vapour / self.vapour[:, :1]) ** self.exponent)

    def strength_draws(self) -> FloatArray:
        """Strength in each draw, shape (g, m, draws). [-]"""
        return np.asarray((self.vapour_draws / self.vapour_draws[:, :1]) ** self.exponent)

    def band(self) -> FloatArray:
        """Ends of the band, shape (4, g, m): lowest, low, high, highest.

        Nine in ten draws lie between the outer ends, two in three between the inner ones.
        """
        # the power law keeps the order, so it can wait until after the quantiles
        ends = _quantiles(self.vapour_draws / self.vapour_draws[:, :1]) ** self.exponent
        strength = self.strength
        ends[:2] = np.minimum(ends[:2], strength)
        ends[2:] = np.maximum(ends[2:], strength)
        return ends

    def place(self, group: str) -> int:
        """Row of a group."""
        return self.groups.index(group)

    def rows(self, kind: str) -> slice:
        """Rows of the groups of one kind, which stand together."""
        first = self.kinds.index(kind)
        return slice(first, first + self.kinds.count(kind))


def _quantiles(draws: FloatArray) -> FloatArray:
    """`QUANTILES` over the last axis, linear between draws."""
    count = draws.shape[-1]
    spots = np.array(QUANTILES) * (count - 1)
    below = spots.astype(int)
    ranked = np.sort(draws, axis=-1)  # quicker here than picking out a few ranks
    low, high = ranked[..., below], ranked[..., np.minimum(below + 1, count - 1)]
    return np.moveaxis(low + (high - low) * (spots - below), -1, 0)


def forecast(
    film: Film,
    hours: npt.ArrayLike,
    draws: int = DRAWS,
    *,
    seed: int = SEED,
    activity: str = "constant",
    uncertainty: Uncertainty | None = None,
    clock: Clock | None = None,
    exponent: float = STRENGTH_EXPONENT,
) -> Forecast:
    """Fade of one film on plain arrays; what panels call.

    Parameters
    ----------
    film : Film
        From `blendkit.evaporation.wear.film_of`, with the conditions in it.
    hours : array_like, shape (m,)
        In rising order; hour 0 is put in front where it is missing.
    draws : int, optional
        Of the uncertain figures, for the band.
    seed : int, optional
        The same seed draws the same figures.
    activity : str, optional
        "constant": one activity coefficient for the film's life. "stepped": following the
        composition; the band is then the constant one, moved along with the curve.
    uncertainty : Uncertainty, optional
    clock : Clock, optional
        From `blendkit.evaporation.nose_log`.
    exponent : float, optional

    Returns
    -------
    Forecast
    """
    moments = np.asarray(hours, dtype=np.float64)
    if moments.size == 0 or moments[0] != 0:
        moments = np.concatenate([[0.0], moments])
    seconds = moments * SECONDS_PER_HOUR
    rates, volatility = drawn(film, draws, seed, uncertainty or Uncertainty(), clock)
    left = film_amounts(film.moles, film.carrier_moles, rates[0], seconds)
    vapour = _vapour_of(film, left, "constant")
    vapour_draws = _vapour_draws(film, seconds, rates[1:], volatility[1:])
    if activity == "stepped":
        held, left = vapour, _stepped_amounts(film, seconds, clock)
        vapour = _vapour_of(film, left, "stepped")
        with np.errstate(divide="ignore", invalid="ignore"):
            shift = np.where(held > 0, vapour / held, 1.0) / (vapour[-1, 0] / held[-1, 0])
        vapour_draws *= shift[..., None]
    notes = [note for note in NOTES if note in film.notes]
    return Forecast(
        film=film,
        hours=moments,
        groups=(*notes, *film.oils, WHOLE),
        kinds=("note",) * len(notes) + ("oil",) * len(film.oils) + (WHOLE,),
        remaining=_remaining(film, left),
        vapour=vapour / vapour[-1, 0],
        vapour_draws=vapour_draws,
        start_pa=float(vapour[-1, 0]),
        exponent=exponent,
    )


def _grouped(film: Film, of_oils: FloatArray) -> FloatArray:
    """Notes, oils and the whole from oils on axis 0; the whole is its strongest note."""
    of_notes = np.tensordot(_members(film), of_oils, axes=1)
    return np.concatenate([of_notes, of_oils, of_notes.max(axis=0, keepdims=True)])


def _members(film: Film) -> FloatArray:
    """Which oils (columns) are of which note (rows, from the top down): ones and zeros."""
    notes = [note for note in NOTES if note in film.notes]
    return np.array([[of == note for of in film.notes] for note in notes], dtype=np.float64)


def _vapour_draws(
    film: Film, seconds: FloatArray, rates: FloatArray, volatility: FloatArray
) -> FloatArray:
    """Vapour of all groups in each draw, beside the whole's start there, (g, m, draws)."""
    left = film_sums(
        film.moles,
        film.carrier_moles,
        rates,
        seconds,
        film.share_of_oil * volatility[:, None],
    )
    moles = left.film_moles.T
    least = _NOTHING_LEFT * moles[0]
    of_oils = left.sums.transpose(2, 1, 0) / np.maximum(moles, least)
    of_oils *= moles > least
    vapour = _grouped(film, of_oils)
    vapour /= vapour[-1, 0].copy()
    return vapour


def _remaining(film: Film, left: FloatArray) -> FloatArray:
    masses = film.share_of_oil * film.molar_masses
    rows = np.concatenate([_members(film) @ masses, masses, masses.sum(axis=0, keepdims=True)])
    return np.asarray((rows @ left.T) / (rows @ film.moles)[:, None])


def _stepped_amounts(film: Film, seconds: FloatArray, clock: Clock | None) -> FloatArray:
    slower = np.exp(class_logs(film, clock)[0]) * (clock.factor if clock else 1.0)
    return film_amounts_stepped(
        film.moles,
        film.carrier_moles,
        lambda moles: film.loss_rates_at(moles) / slower,
        seconds,
    )


def _vapour_of(film: Film, left: FloatArray, activity: str) -> FloatArray:
    """Vapour of all groups over amounts of shape (m, n), shape (g, m). [Pa]"""
    moles = left.sum(axis=1, keepdims=True) + film.carrier_moles
    least = _NOTHING_LEFT * moles[0]
    held = film.activity
    if activity == "stepped":
        # any composition will do where nothing is left
        held = film.activity_at(np.where(moles > least, left, film.moles))
    vapour = held * film.vapour_pressures_pa * left / np.maximum(moles, least)
    return _grouped(film, film.share_of_oil @ (vapour * (moles > least)).T)


def hours_until(last: float) -> FloatArray:
    """A grid for charts: close at first, when most happens, then every quarter of an hour."""
    early = np.array([0, 2, 4, 7, 10, 15, 20, 25, 30, 37.5, 45, 52.5]) / 60
    later = np.arange(1, math.floor(last * 4 + 1e-9) / 4 + 0.125, 0.25)
    grid = np.concatenate([early, later, [last]])
    return np.unique(grid[grid <= last])


def fade(
    blend: BlendLike,
    hours: Hours = 12,
    skin_temperature: str | Quantity[Any] | None = None,
    film: str | Quantity[Any] = "20 g/m**2",
    air_speed: str | Quantity[Any] = "0.2 m/s",
    surface: str = "skin",
    *,
    clock: Clock | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    activity: str = "constant",
) -> pd.DataFrame:
    """What a blend smells like through the day, beside its own start.

    Parameters
    ----------
    blend : Blend, document, or path
    hours : float, text, pint Quantity or timedelta, or a sequence of them, optional
        How far to look; or the very hours to look at. A plain number counts hours; else such
        as "8 h" or "90 min". [h]
    skin_temperature, film, air_speed, surface : str or pint Quantity, optional
        As for `evaporation.conditions.Conditions.read`: "32 degC" on skin where left out.
    clock : Clock, optional
        What a nose log taught.
    draws, seed, activity
        As for `forecast`.

    Returns
    -------
    DataFrame
        Long: ``hours, group, kind, remaining_fraction, strength, strength_low, strength_high,
        strength_lowest, strength_highest``. Strength is relative to the group's own start;
        two in three draws lie from low to high, nine in ten from lowest to highest.

    Raises
    ------
    BadNumber
        Lists every condition that cannot be used.
    """
    conditions = Conditions.read(skin_temperature, film, air_speed, surface)
    if activity not in ACTIVITIES:
        raise BadNumber([Problem("activity", quoted(activity), " or ".join(ACTIVITIES))])
    found = forecast(
        film_of(as_blend(blend).bottle, conditions),
        read_hours(hours),
        draws,
        seed=seed,
        activity=activity,
        clock=clock,
    )
    return table_of(found)


def table_of(found: Forecast) -> pd.DataFrame:
    """A forecast as a long table; see `fade`."""
    groups, times = len(found.groups), len(found.hours)
    lowest, low, high, highest = found.band()
    return pd.DataFrame(
        {
            "hours": np.tile(found.hours, groups),
            "group": np.repeat(found.groups, times),
            "kind": np.repeat(found.kinds, times),
            "remaining_fraction": found.remaining.ravel(),
            "strength": found.strength.ravel(),
            "strength_low": low.ravel(),
            "strength_high": high.ravel(),
            "strength_lowest": lowest.ravel(),
            "strength_highest": highest.ravel(),
        }
    )


def read_hours(hours: Hours) -> FloatArray:
    """The hours to look at: as given, or a row of them up to the only one. [h]

    Raises
    ------
    BadNumber
        No time, or one below 0 or beyond `LONGEST_HOURS`.
    """
    needed = f"hours above 0 and at most {LONGEST_HOURS:g}, as one time or a list"
    is_one = isinstance(hours, str | Real | timedelta) or hasattr(hours, "magnitude")
    try:
        given: Sequence[Any] = [hours] if is_one else list(hours)  # type: ignore[arg-type]
        numbers = np.array([in_hours(one) for one in given])
    except TypeError:
        numbers = np.array([])
    fine = numbers.size and np.all((numbers >= 0) & (numbers <= LONGEST_HOURS))
    if not fine or not numbers.max() > 0:
        raise BadNumber([Problem("hours", quoted(hours), needed)])
    return hours_until(float(numbers[0])) if is_one else np.unique(numbers)
