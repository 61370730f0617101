"""Lasting of a blend: time at which each oil, note and the whole is no longer perceived.

An oil is gone when it sinks below the one level of `perception.gone_at` for good. A note lasts
as long as the last of its oils, and the whole as long as its last note, in every draw.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from blendkit.blend.blend import BlendLike, as_blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.film_nodes import last_above
from blendkit.evaporation.forecast import DRAWS, SEED
from blendkit.evaporation.perception import SMELL, gone_at, grouped, groups_of, perceived
from blendkit.evaporation.uncertainty import Clock, Uncertainty, drawn
from blendkit.evaporation.wear import Film, film_of
from blendkit.foundation.units import SECONDS_PER_HOUR, FloatArray

LAST_HOUR = 7 * 24.0
_EARLIEST_S = 20.0
_TWO_IN_THREE = (1 / 6, 5 / 6)


@dataclass(frozen=True, eq=False)
class Lasting:
    """Times at which g groups (notes from the top down, oils, the whole) are gone. [h]

    Attributes
    ----------
    film : Film
    groups, kinds : tuple of str
        As of a forecast.
    hours : ndarray, shape (g,)
        Of the plain film; infinite beyond `LAST_HOUR`, 0 where never perceived.
    draws : ndarray, shape (g, draws)
        In each draw of the uncertain figures.
    """

    film: Film
    groups: tuple[str, ...]
    kinds: tuple[str, ...]
    hours: FloatArray
    draws: FloatArray

    def ends(self) -> FloatArray:
        """Ends of the band that two in three draws lie in, shape (2, g)."""
        # infinite draws count as very late
        late = np.where(np.isfinite(self.draws), self.draws, 1e9)
        ends = np.quantile(late, _TWO_IN_THREE, axis=1)
        ends = np.where(ends < 1e8, ends, math.inf)
        return np.stack([np.minimum(ends[0], self.hours), np.maximum(ends[1], self.hours)])


def lasting_of(
    film: Film,
    draws: int = DRAWS,
    *,
    seed: int = SEED,
    uncertainty: Uncertainty | None = None,
    clock: Clock | None = None,
    way: str = SMELL,
) -> Lasting:
    """Lasting of the groups of one film; arguments as of `forecast.forecast`."""
    made = drawn(film, draws, seed, uncertainty or Uncertainty(), clock)
    nodes, logs = perceived(film, made, _EARLIEST_S, LAST_HOUR * SECONDS_PER_HOUR, way=way)
    seconds = last_above(nodes, logs, math.log(gone_at(way)))
    hours = seconds / SECONDS_PER_HOUR
    hours[hours > LAST_HOUR] = math.inf
    of_groups = grouped(film, hours)
    return Lasting(film, *groups_of(film), of_groups[:, 0], of_groups[:, 1:])


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
