"""Wishes for a fade, and how near a blend comes to each.

Leads and fades go by perceived strength, as the forecast does; shares by vapour over the film.
A miss is 0 where the wish is met; the misses of all wishes are of one size, about that of a
natural logarithm of strength, so that they can be added up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fading import LONGEST_HOURS
from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.perception import plain_strengths
from blendkit.evaporation.wear import Film, film_of, rows_of
from blendkit.foundation.errors import Problem, near_miss, quoted
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import SECONDS_PER_HOUR, FloatArray, show
from blendkit.materials import catalogue

_FAINTEST = 0.01  # far below what is perceived: there, strengths count alike
_FADE_HOURS = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 6.0, 8.0)


class Trial:
    """A blend that is tried: its film, and vapour and strength of each oil at a few hours."""

    def __init__(
        self,
        film: Film,
        hours: Sequence[float],
        heard: Callable[[Film], Film] | None = None,
    ) -> None:
        film = heard(film) if heard else film
        self.film = film
        self.hours = tuple(hours)
        seconds = np.asarray(hours) * SECONDS_PER_HOUR
        left = film_amounts(film.moles, film.carrier_moles, film.loss_rates, seconds)
        moles = np.maximum(left.sum(axis=1) + film.carrier_moles, 1e-12)
        each = film.activity * film.vapour_pressures_pa * film.has_smell * left
        self.of_oils: FloatArray = film.share_of_oil @ (each / moles[:, None]).T
        self.strengths = plain_strengths(film, left, film.activity)

    def note(self, note: str, hour: float) -> float:
        """Perceived strength of one note at an hour: that of its strongest oil."""
        at = self.strengths[rows_of(self.film, note), self.hours.index(hour)]
        return float(at.max(initial=0.0))


class _AtAnHour:
    """A wish for one hour."""

    hour: float

    @property
    def hours(self) -> tuple[float, ...]:
        """Hours that have to be looked at."""
        return (self.hour,)

    def problems(self, blend: Blend) -> list[Problem]:
        """Problems of this target with a blend."""
        if 0 <= self.hour <= LONGEST_HOURS:
            return []
        needed = f"an hour from 0 to {LONGEST_HOURS:g}"
        return [Problem("hour", quoted(self.hour), needed)]


@dataclass(frozen=True)
class Leads(_AtAnHour):
    """A note should lead at an hour: be perceived as the strongest."""

    note: str
    hour: float

    def problems(self, blend: Blend) -> list[Problem]:
        """Problems of this target with a blend."""
        found = super().problems(blend)
        if self.note not in {part.note for part in blend.oils}:
            found.append(Problem("note", quoted(self.note), "a note of this blend"))
        return found

    def miss(self, trial: Trial) -> float:
        """Natural logarithm of strength that is missing; 0 where the note leads. [-]"""
        mine = trial.note(self.note, self.hour)
        others = max(trial.note(note, self.hour) for note in NOTES if note != self.note)
        if others <= 0:
            return 0.0
        return max(0.0, math.log(others / max(mine, _FAINTEST)))

    def report(self, trial: Trial) -> str:
        """Result in a sentence."""
        missing = self.miss(trial)
        weaker = f"is {show(math.exp(missing), 2)} times weaker than what leads"
        place = weaker if missing > 0 else "leads"
        return f"at hour {show(self.hour)} the {self.note} {place}"


@dataclass(frozen=True)
class Share(_AtAnHour):
    """A share of the vapour at an hour that should come from some oils.

    Attributes
    ----------
    of : str
        A family such as "citrus", a note or an oil's id.
    share : float
        Of the vapour over the film. [-]
    hour : float
    """

    of: str
    share: float
    hour: float = 0.0

    def problems(self, blend: Blend) -> list[Problem]:
        """Problems of this target with a blend."""
        found = super().problems(blend)
        known = {name for oil in blend.base_oils for name in (oil.id, oil.family)}
        known |= {part.note for part in blend.oils}
        if self.of not in known:
            needed = "a family, a note or an oil of this blend"
            hint = near_miss(self.of, known)
            found.append(Problem("share of", quoted(self.of), needed, hint))
        if not 0 <= self.share <= 1:
            found.append(Problem("share", quoted(self.share), "a share from 0 to 1"))
        return found

    def got(self, trial: Trial) -> float:
        """The share it has. [-]"""
        of_oils = trial.of_oils[:, trial.hours.index(self.hour)]
        names = zip(trial.film.oils, trial.film.notes, strict=True)
        mine = [self.of in (oil, note, catalogue.oil(oil).family) for oil, note in names]
        whole = of_oils.sum()
        return float(of_oils[mine].sum() / whole) if whole > 0 else 0.0

    def miss(self, trial: Trial) -> float:
        """Distance of the share from its target. [-]"""
        return abs(self.got(trial) - self.share)

    def report(self, trial: Trial) -> str:
        """Result in a sentence."""
        got, wish = show(self.got(trial) * 100, 2), show(self.share * 100, 2)
        known = self.of in catalogue.oil_ids()
        whose = catalogue.oil(self.of).name if known else self.of
        when = "in the opening" if self.hour == 0 else f"at hour {show(self.hour)}"
        return f"{whose} makes {got} % of the vapour {when}, target {wish} %"


@dataclass(frozen=True)
class SameFade:
    """Every note should fade as in another blend, and stand to the others as there.

    Make one with `like`.
    """

    target: Mapping[str, tuple[float, ...]]
    name: str = "the other blend"
    hours: ClassVar[tuple[float, ...]] = _FADE_HOURS

    @classmethod
    def like(
        cls,
        blend: Blend,
        conditions: Conditions | None = None,
        heard: Callable[[Film], Film] | None = None,
    ) -> SameFade:
        """The wish to fade like a blend, for a nose as `design` takes it."""
        trial = Trial(film_of(blend.bottle, conditions or Conditions()), _FADE_HOURS, heard)
        return cls(_curves(trial), blend.name or "the other blend")

    def problems(self, blend: Blend) -> list[Problem]:
        """Problems of this target with a blend: none."""
        return []

    def miss(self, trial: Trial) -> float:
        """Root mean square of the difference in the logarithm of strength. [-]"""
        mine, missing = _curves(trial), (-5.0,) * len(_FADE_HOURS)
        away = [np.subtract(mine.get(n, missing), curve) for n, curve in self.target.items()]
        return float(np.sqrt(np.mean(np.square(away))))

    def report(self, trial: Trial) -> str:
        """Result in a sentence."""
        factor = show(math.exp(self.miss(trial)), 3)
        return (
            f"strengths of the notes are within a factor of {factor} of {self.name}, as a mean"
        )


Wish = Leads | Share | SameFade


def _curves(trial: Trial) -> dict[str, tuple[float, ...]]:
    """Logarithm of each note's strength beside the strongest note's start."""
    notes = [note for note in NOTES if note in trial.film.notes]
    strength = {note: [trial.note(note, hour) for hour in _FADE_HOURS] for note in notes}
    start = max(_FAINTEST, *(curve[0] for curve in strength.values()))
    return {
        note: tuple(math.log(max(each, _FAINTEST) / start) for each in curve)
        for note, curve in strength.items()
    }
