"""Forecast of a fade: strength of each note, oil and the whole, hour by hour, with a band.

Strength is what a nose perceives (`evaporation.perception`) and is shown relative to a group's
own start alone: nothing here says how strong a blend is. Heavy notes may rise above their
start: as light ones leave, the share of heavy ones in the film grows.

The band is always there. What is uncertain for all molecules alike (air, load, warmth, skin,
nose) moves the clock; each molecule's own vapour pressure, activity and curve of smell move it
against the others. Masking, and getting used to a smell, are left out.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from blendkit.evaporation import perception
from blendkit.evaporation.film import film_amounts, film_amounts_stepped
from blendkit.evaporation.film_nodes import last_above
from blendkit.evaporation.perception import SMELL, STRENGTH_EXPONENT, grouped, groups_of
from blendkit.evaporation.uncertainty import Clock, Draws, Uncertainty, class_logs, drawn
from blendkit.evaporation.wear import Film
from blendkit.foundation.units import SECONDS_PER_HOUR, FloatArray

DRAWS, SEED = 512, 1
QUANTILES = (0.05, 1 / 6, 5 / 6, 0.95)  # 9 in 10 and 2 in 3
LAST_HOUR = 7 * 24.0  # that lasting is looked for
_EARLIEST_S = 20.0


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
    levels : ndarray, shape (g, m)
        Perceived strength: comparable between groups by smell, and relative to each oil's start
        by vapour. [-]
    log_draws : ndarray, shape (g, m, draws)
        Its natural logarithm in each draw of the uncertain figures.
    way : str
        "smell" or "vapour".
    """

    film: Film
    hours: FloatArray
    groups: tuple[str, ...]
    kinds: tuple[str, ...]
    remaining: FloatArray
    levels: FloatArray
    log_draws: npt.NDArray[np.float32]
    way: str = SMELL

    @property
    def gone(self) -> float:
        """The level below which a smell is no longer perceived."""
        return perception.gone_at(self.way)

    @property
    def strength(self) -> FloatArray:
        """Relative to each group's own start, shape (g, m); 1 at hour 0. [-]"""
        start = self.levels[:, :1]
        return np.divide(self.levels, start, out=np.zeros_like(self.levels), where=start > 0)

    def strength_draws(self) -> FloatArray:
        """Strength in each draw, shape (g, m, draws). [-]"""
        return np.asarray(np.exp(self.log_draws - self.log_draws[:, :1]), dtype=np.float64)

    def band(self) -> FloatArray:
        """Ends of the band, shape (4, g, m): lowest, low, high, highest.

        Nine in ten draws lie between the outer ends, two in three between the inner ones.
        """
        ends = _quantiles(self.log_draws - self.log_draws[:, :1])
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


def _quantiles(draws: npt.NDArray[np.float32]) -> FloatArray:
    """`QUANTILES` of what has these logarithms, over the last axis, which is put in order."""
    count = draws.shape[-1]
    spots = np.array(QUANTILES) * (count - 1)
    below = spots.astype(int)
    draws.sort(axis=-1)  # quicker here than picking out a few ranks
    low = np.exp(draws[..., below], dtype=np.float64)
    high = np.exp(draws[..., np.minimum(below + 1, count - 1)], dtype=np.float64)
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
    way: str = SMELL,
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
    way : str, optional
        "smell", by curves; or "vapour", by a power of each oil's vapour.
    exponent : float, optional
        That power; it does not count by smell. [-]

    Returns
    -------
    Forecast
    """
    moments = np.asarray(hours, dtype=np.float64)
    if moments.size == 0 or moments[0] != 0:
        moments = np.concatenate([[0.0], moments])
    seconds = moments * SECONDS_PER_HOUR
    sure = drawn(film, draws, seed, uncertainty or Uncertainty(), clock)
    left = film_amounts(film.moles, film.carrier_moles, sure.loss_rates[0], seconds)
    of_oils = perception.plain_strengths(film, left, film.activity, way=way, exponent=exponent)
    later = seconds[1:] if seconds.size > 1 else np.ones(1)
    uncertain = Draws(*(each[1:] for each in sure))
    nodes, logs = perception.perceived(
        film, uncertain, later[0], later[-1], way=way, exponent=exponent
    )
    of_draws = perception.draws_at(film, nodes, logs, seconds)
    if activity == "stepped":
        left = _stepped_amounts(film, seconds, clock)
        held = of_oils
        follows = film.activity_at(np.maximum(left, 1e-12 * film.moles))
        of_oils = perception.plain_strengths(film, left, follows, way=way, exponent=exponent)
        with np.errstate(divide="ignore", invalid="ignore"):
            shift = grouped(film, of_oils) / grouped(film, held)
        of_draws += np.log(np.where(shift > 0, shift, 1)).astype(np.float32)[..., None]
    remaining, levels = _remaining(film, left), grouped(film, of_oils)
    return Forecast(film, moments, *groups_of(film), remaining, levels, of_draws, way)


def _remaining(film: Film, left: FloatArray) -> FloatArray:
    masses = film.share_of_oil * film.molar_masses
    members = np.array(
        [[of == note for of in film.notes] for note in perception.notes_of(film)], float
    )
    rows = np.concatenate([members @ masses, masses, masses.sum(axis=0, keepdims=True)])
    return np.asarray((rows @ left.T) / (rows @ film.moles)[:, None])


def _stepped_amounts(film: Film, seconds: FloatArray, clock: Clock | None) -> FloatArray:
    slower = np.exp(class_logs(film, clock)[0]) * (clock.factor if clock else 1.0)

    def loss_rates_at(moles: FloatArray) -> FloatArray:
        return film.loss_rates_at(moles) / slower

    return film_amounts_stepped(film.moles, film.carrier_moles, loss_rates_at, seconds)


@dataclass(frozen=True, eq=False)
class Lasting:
    """Times at which g groups (notes from the top down, oils, the whole) are gone. [h]

    An oil is gone when it sinks below the one level of `perception.gone_at` for good. A note
    lasts as long as the last of its oils, and the whole as its last note, in every draw.

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
        ends = np.quantile(late, QUANTILES[1:3], axis=1)
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
    """Lasting of the groups of one film; arguments as of `forecast`."""
    made = drawn(film, draws, seed, uncertainty or Uncertainty(), clock)
    nodes, logs = perception.perceived(
        film, made, _EARLIEST_S, LAST_HOUR * SECONDS_PER_HOUR, way=way
    )
    seconds = last_above(nodes, logs, math.log(perception.gone_at(way)))
    hours = seconds / SECONDS_PER_HOUR
    hours[hours > LAST_HOUR] = math.inf
    of_groups = grouped(film, hours)
    return Lasting(film, *groups_of(film), of_groups[:, 0], of_groups[:, 1:])
