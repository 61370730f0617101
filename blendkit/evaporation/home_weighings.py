"""Weighings at home: grams that a roll-on leaves, and the speed at which a drop dries.

A bottle weighed before and after ten strokes gives the load on a wrist; a drop of oil weighed
while it dries gives the air of a room. Both narrow the clock before any smell is written down.
Each weighing is a normal error of a logarithm, so what was expected before and all weighings
join by adding precisions: another weighing never widens the clock.
"""

from __future__ import annotations

import contextlib
import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.film_clock import Films
from blendkit.evaporation.film_nodes import nodes_of
from blendkit.evaporation.uncertainty import MOLECULES_ALONE, Uncertainty, drawn
from blendkit.evaporation.wear import Film, film_of_masses
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.field_reader import FieldReader
from blendkit.foundation.units import G_PER_KG, FloatArray, show, to_si
from blendkit.materials import catalogue

STROKES, DROP = "strokes", "drop"
USUAL_LOAD_KG_PER_M2 = Conditions().film_kg_per_m2
_USUAL = Uncertainty()
WARMTH_SPREAD = 0.14  # in the logarithm of the clock, for 2 K of skin warmth
# Natural logarithms, 2 in 3 inside; judgements
_STROKE_SPREAD = math.log(1.25)  # nobody rolls alike twice
_WRIST_OVER_TABLE = math.log(1.4)  # air over a wrist that moves, beside that over a table
_ROOM_WARMTH = 0.07  # a room's thermometer, 1 K
_EDGE_M = 0.001  # of either edge of a patch
_DRAUGHT = 0.02  # of the drop, in each reading
_DRAWS, _SEED = 128, 1
GRID = np.linspace(-math.log(30), math.log(30), 137)  # of logarithms that are fitted


def fitted(chances: FloatArray) -> tuple[float, float]:
    """Mean and spread of a logarithm, from the chance of each on `GRID`, in any unit."""
    weights = chances / chances.sum()
    mean = float(weights @ GRID)
    return mean, math.sqrt(max(float(weights @ (GRID - mean) ** 2), 1e-4))


class Belief(NamedTuple):
    """A logarithm and its standard uncertainty. [-]"""

    mean: float
    spread: float

    def joined(self, other: Belief) -> Belief:
        """Both together: precisions add."""
        mine, theirs = self.spread**-2, other.spread**-2
        mean = (mine * self.mean + theirs * other.mean) / (mine + theirs)
        return Belief(mean, (mine + theirs) ** -0.5)

    def off_by(self, spread: float) -> Belief:
        """The same with a further error."""
        return Belief(self.mean, math.hypot(self.spread, spread))


@dataclass(frozen=True)
class Strokes:
    """A bottle weighed before and after some strokes.

    Attributes
    ----------
    stroke_kg : float
        One stroke leaves. [kg]
    load_kg_per_m2 : float
        The strokes of one wearing leave on their patch. [kg/m2]
    worn : int
        Strokes of one wearing on one patch.
    scale_share : float
        What the scale's last digit may be of what was rolled off, at worst: half a step at
        either reading. [-]
    belief : Belief
        The load over the usual one.
    """

    stroke_kg: float
    load_kg_per_m2: float
    worn: int
    scale_share: float
    belief: Belief


@dataclass(frozen=True)
class DryingDrop:
    """A drop of one oil weighed while it dries.

    Attributes
    ----------
    film : Film
        As the forecast takes it.
    area_m2, step_kg : float
    seconds, lost_kg : tuple of float
        Of each reading after the first.
    patch_spread : float
        Error of the area, of its logarithm. [-]
    """

    film: Film
    area_m2: float
    step_kg: float
    seconds: tuple[float, ...]
    lost_kg: tuple[float, ...]
    patch_spread: float

    @property
    def belief(self) -> Belief | None:
        """The room's air over the usual one; None where the readings tell nothing of it."""
        lost = self.lost_at(np.exp(GRID))
        noise = math.hypot(
            self.step_kg / math.sqrt(6),  # of a difference of two readings
            _DRAUGHT * self.film.conditions.film_kg_per_m2 * self.area_m2,
        )
        off = ((lost - np.array(self.lost_kg)) / noise) ** 2
        logs = -0.5 * off.sum(axis=-1)
        top = logs.max()
        fits = np.exp(logs - top).mean(axis=0) * np.exp(-0.5 * GRID**2)
        mean, spread = fitted(fits)
        precision = spread**-2
        gained = precision - 1  # without the bell that kept the grid's ends quiet
        if gained < 1e-2:
            return None
        alone = Belief(precision * mean / gained, gained**-0.5)
        return alone.off_by(math.hypot(self.patch_spread, _ROOM_WARMTH))

    def lost_at(self, air: FloatArray, seed: int = _SEED) -> FloatArray:
        """Mass lost by the readings, (draws, air, readings), in air so much faster. [kg]"""
        film = self.film
        made = drawn(film, _DRAWS, seed, MOLECULES_ALONE, None)
        films = Films(film.moles, np.array(film.carrier_moles), made.loss_rates)
        when = np.multiply.outer(air, self.seconds)
        weights = np.broadcast_to(film.molar_masses, made.loss_rates.shape)
        members = np.ones((1, len(film.moles)))
        nodes = nodes_of(films, float(when.min()), float(when.max()), weights, members)
        left = [
            np.interp(when, elapsed, mass)
            for elapsed, mass in zip(nodes.elapsed, nodes.sums[0], strict=True)
        ]
        whole = film.moles @ film.molar_masses
        return np.asarray((whole - np.array(left)) * self.area_m2)


Weighing = Strokes | DryingDrop


def read_weighing(document: Mapping[str, Any]) -> Weighing:
    """A weighing from its document.

    Parameters
    ----------
    document : mapping
        ``kind`` "strokes": ``before`` and ``after`` (masses of the bottle), ``strokes``, and
        ``worn`` (strokes of one wearing on one patch). ``kind`` "drop": ``oil`` (its id),
        ``temperature``, and ``readings`` (minutes and mass of the drop alone, the first at
        minute 0). Both: ``scale_step``, and the patch, ``length`` and ``width``; no width for
        a round one.

    Raises
    ------
    BadNumber
        Lists every problem.
    """
    needed = 'a document with kind "strokes" or "drop"'
    if not isinstance(document, Mapping) or document.get("kind") not in (STROKES, DROP):
        raise BadNumber([Problem("weighing", quoted(document), needed)])
    reader = _Reader(document)
    return reader.strokes() if document["kind"] == STROKES else reader.drop()


class _Reader(FieldReader):
    """Reads the document of one weighing; what cannot be read is NaN."""

    def above_0(self, key: str, unit: str, name: str) -> float:
        value = self.document.get(key)
        number = attempt(self.problems, to_si, value, unit, name=name)
        if number is not None and number <= 0:
            self.add(name, quoted(value), "above 0")
        return number if number and number > 0 else math.nan

    def patch(self) -> tuple[float, float]:
        """Area of a rectangle, or of a circle without a width, and its error. [m2, -]"""
        long_m = self.above_0("length", "m", "patch, length")
        if self.document.get("width") in (None, ""):
            return math.pi / 4 * long_m**2, 2 * _EDGE_M / long_m
        wide_m = self.above_0("width", "m", "patch, width")
        return long_m * wide_m, math.hypot(_EDGE_M / long_m, _EDGE_M / wide_m)

    def strokes(self) -> Strokes:
        area_m2, patch_spread = self.patch()
        step_kg = self.above_0("scale_step", "kg", "scale step")
        before, after = (self.above_0(n, "kg", f"bottle {n}") for n in ("before", "after"))
        rolled, worn = (
            self.whole(name, self.document.get(name), 1, 1000) for name in ("strokes", "worn")
        )
        off = before - after
        if off <= 0:
            fix = "Weigh before and after more strokes."
            was, now = (quoted(self.document[name]) for name in ("before", "after"))
            self.add("bottle", f"{was} before, {now} after", "less after the strokes", fix)
        refuse_any(self.problems)
        load = off / rolled * worn / area_m2
        errors = (step_kg / math.sqrt(6) / off, patch_spread, _STROKE_SPREAD)
        belief = Belief(math.log(load / USUAL_LOAD_KG_PER_M2), math.hypot(*errors))
        return Strokes(off / rolled, load, worn, step_kg / off, belief)

    def drop(self) -> DryingDrop:
        area_m2, patch_spread = self.patch()
        step_kg = self.above_0("scale_step", "kg", "scale step")
        oil, room = self.document.get("oil"), self.document.get("temperature", "22 degC")
        oils = {catalogue.oil(str(oil)).id: 1.0}
        read = attempt(self.problems, Conditions.read, room, surface="blotter")
        minutes, masses = self.readings()
        refuse_any(self.problems)
        load = masses[0] / area_m2
        if not 0.001 <= load <= 0.2:
            got = f"{show(load * G_PER_KG, 2)} g/m²"
            fix = "Spread it over more of the slide." if load > 0.2 else ""
            raise BadNumber([Problem("drop over its patch", got, "1 to 200 g/m²", fix)])
        conditions = replace(read or Conditions(), film_kg_per_m2=load)
        film = film_of_masses(oils, {}, {}, conditions)
        lost = tuple(masses[0] - mass for mass in masses[1:])
        seconds = tuple(60 * minute for minute in minutes[1:])
        return DryingDrop(film, area_m2, step_kg, seconds, lost, patch_spread)

    def readings(self) -> tuple[list[float], list[float]]:
        """Minutes, and masses in kg."""
        given = self.document.get("readings")
        pairs: list[tuple[float, Any]] = []
        with contextlib.suppress(TypeError, ValueError):
            pairs = [(float(minute), mass) for minute, mass in given]  # type: ignore[union-attr]
        minutes = [minute for minute, _ in pairs]
        weighed = (attempt(self.problems, to_si, mass, "kg", name="drop") for _, mass in pairs)
        masses = [mass or 0.0 for mass in weighed]
        in_order = all(early < late <= 48 * 60 for early, late in itertools.pairwise(minutes))
        if not in_order or len(pairs) < 2 or minutes[0] != 0 or masses[0] <= 0:
            needed = (
                "minutes and mass, of the drop at minute 0 and once or more later, in order"
            )
            self.add("readings", quoted(given), needed)
        return minutes, masses


def clock_before_smells(weighings: Iterable[Weighing]) -> Belief:
    """Logarithm of the clock on skin that is expected before any smell.

    Load stretches it and air shortens it. Without weighings the usual ones are expected.
    """
    load, air = (Belief(0.0, math.log(spread)) for spread in (_USUAL.load, _USUAL.air))
    room: Belief | None = None
    for each in weighings:
        if isinstance(each, Strokes):
            load = load.joined(each.belief)
        elif each.belief is not None:
            room = room.joined(each.belief) if room else each.belief
    air = air.joined(room.off_by(_WRIST_OVER_TABLE)) if room else air
    return Belief(load.mean - air.mean, math.hypot(load.spread, air.spread, WARMTH_SPREAD))


def sentences(weighing: Weighing, bottle_kg: float) -> list[str]:
    """Result of one weighing, for a bottle that holds so much."""
    if isinstance(weighing, DryingDrop):
        air = weighing.belief
        if air is None:
            return ["The readings say nothing of your air: weigh a larger drop, or longer."]
        low, high = (math.exp(air.mean + way * air.spread) for way in (-1, 1))
        return [
            f"Your air dries a drop {show(math.exp(air.mean), 2)} times as fast as is usual; "
            f"with two chances in three {show(low, 2)} to {show(high, 2)} times."
        ]
    strokes = bottle_kg / weighing.stroke_kg
    a_day = 2 * weighing.worn
    return [
        f"A stroke leaves {show(weighing.stroke_kg * G_PER_KG * 1000, 2)} mg "
        f"(± {show(weighing.scale_share * 100, 2)} % by the scale: half a step at either "
        f"reading), and {weighing.worn} of them {show(weighing.load_kg_per_m2 * G_PER_KG, 2)} "
        f"g/m² on your patch; {show(USUAL_LOAD_KG_PER_M2 * G_PER_KG, 2)} by common practice.",
        f"This bottle holds about {show(strokes, 2)} strokes: {show(strokes / a_day, 2)} days "
        f"at {a_day} a day, for two wrists.",
    ]
