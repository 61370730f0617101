"""A fade, and how long it lasts, as tables: what a maker asks for, units and all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from blendkit.blend.blend import BlendLike, as_blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.forecast import DRAWS, SEED, Forecast, forecast, lasting_of
from blendkit.evaporation.perception import SMELL, WAYS
from blendkit.evaporation.uncertainty import Clock
from blendkit.evaporation.wear import film_of
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.units import FloatArray, Time, in_hours

if TYPE_CHECKING:
    from pint import Quantity

Hours = Time | Sequence[Time]

LONGEST_HOURS = 72.0
ACTIVITIES = ("constant", "stepped")


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
    air_speed: str | Quantity[Any] = "bare",
    surface: str = "skin",
    nose: str = "wrist",
    *,
    way: str = SMELL,
    clock: Clock | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    activity: str = "constant",
) -> pd.DataFrame:
    """Strength of a blend through the day, relative to its own start.

    Parameters
    ----------
    blend : Blend, document, or path
    hours : float, text, pint Quantity or timedelta, or a sequence of them, optional
        How far to look; or the very hours to look at. A plain number counts hours; else such
        as "8 h" or "90 min". [h]
    skin_temperature, film, air_speed, surface, nose : str or pint Quantity, optional
        As for `evaporation.conditions.Conditions.read`: "32 degC" on skin where left out.
    way : str, optional
        "smell": by published curves of strength. "vapour": by a power of each oil's vapour.
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
    conditions = Conditions.read(skin_temperature, film, air_speed, surface, nose=nose)
    for name, word, known in (("activity", activity, ACTIVITIES), ("way", way, WAYS)):
        if word not in known:
            raise BadNumber([Problem(name, quoted(word), " or ".join(known))])
    worn, when = film_of(as_blend(blend).bottle, conditions), read_hours(hours)
    return table_of(
        forecast(worn, when, draws, seed=seed, activity=activity, clock=clock, way=way)
    )


def table_of(found: Forecast) -> pd.DataFrame:
    """A forecast as a long table; see `fade`."""
    groups, times = len(found.groups), len(found.hours)
    columns = {
        "hours": np.tile(found.hours, groups),
        "group": np.repeat(found.groups, times),
        "kind": np.repeat(found.kinds, times),
        "remaining_fraction": found.remaining.ravel(),
        "strength": found.strength.ravel(),
    }
    lowest, low, high, highest = (end.ravel() for end in found.band())
    columns |= {"strength_low": low, "strength_high": high}
    return pd.DataFrame(columns | {"strength_lowest": lowest, "strength_highest": highest})


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


def lasting(
    blend: BlendLike, *, clock: Clock | None = None, draws: int = DRAWS, **conditions: Any
) -> pd.DataFrame:
    """Hours until each note, each oil and the whole of a blend are no longer perceived.

    Parameters
    ----------
    blend : Blend, document, or path
    clock : Clock, optional
        What a nose log taught.
    draws : int, optional
        Of the uncertain figures, for the band.
    **conditions
        Keywords of `evaporation.conditions.Conditions.read`, such as ``skin_temperature``.

    Returns
    -------
    DataFrame
        ``group, kind, hours, hours_low, hours_high``; two in three draws lie from low to high.
        Infinite where still perceived after seven days; 0 where never perceived.

    Raises
    ------
    BadNumber
        Lists every condition that cannot be used.
    """
    film = film_of(as_blend(blend).bottle, Conditions.read(**conditions))
    found = lasting_of(film, draws, clock=clock)
    columns = ("group", "kind", "hours", "hours_low", "hours_high")
    values = (found.groups, found.kinds, found.hours, *found.ends())
    return pd.DataFrame(dict(zip(columns, values, strict=True)))
