"""Loudness: how strong each oil smells to one nose, matched on two blotters.

One oil is diluted in steps of two until it seems as strong as another: referencing, as in ASTM
E544-18, *Standard Practice for Referencing Suprathreshold Odor Intensity* (abstract and scope
read: matched in strength and not in kind, a geometric row with a ratio of 2, at least eight
independent judgments). That practice takes 1-butanol as its reference and a panel; here an oil
is the reference, so figures hold on one bench and for one nose.

Each oil has one unknown: a factor on its concentration, before its published or estimated
curves of strength (`evaporation.smell`) are read. Errors of the curves are the wide band
before any answer. Half of them are shared by oils that a molecule of one class leads, so that
no class gains by an error of its own.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from blendkit.blend.blend import Blend
from blendkit.choosing.answers import SAID, Belief, settle
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.fade_words import LEAD
from blendkit.evaporation.targets import Trial
from blendkit.evaporation.uncertainty import Uncertainty
from blendkit.evaporation.wear import Film, film_of_masses
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted, refuse_any
from blendkit.foundation.units import FloatArray, counted, show, to_si
from blendkit.materials import catalogue
from blendkit.skin import check
from blendkit.skin.counted_bottle import CountedBottle, name_of

Counts = npt.NDArray[np.int64]

ROW = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)  # percent by mass of the blotters: a ratio of 2
ENOUGH_ANSWERS = 8  # independent judgments that the practice asks for
HEARD_HOURS = (0.0, 0.5, 1.0, 2.0, 4.0, 8.0)  # of wear, at one of which an oil has its turn
# Of ln strength, one sniff each: means of thirty assessors put strengths 10 to 20 % apart in
# order in 83 % of pairs (2021 data), which is 0.15; one nose is taken as less sure (judgement)
_ERROR, _NOTICED = 0.25, 0.1
_CARRIER = "mct-fractionated-coconut"
_BLOTTER_SHARE = 0.01  # that curves are read at; a dilution moves along them
_TO_THE_MIDDLE = 0.2  # of a step away from it, next to a step of a worse match (judgement)
_TWO_IN_THREE = 0.967  # standard deviations either way


class Answer(NamedTuple):
    """One comparison of two blotters: oils, their shares by mass, which smelt stronger."""

    first: str
    first_share: float
    second: str
    second_share: float
    said: int


class _Smell(NamedTuple):
    """Smelling molecules of an oil on a blotter at 1 %, and doubt about the leading one."""

    log_dose: FloatArray
    power: FloatArray
    greatest: FloatArray
    log_spread: float
    chemical_class: str

    def log_strength(self, shift: float) -> tuple[float, float]:
        """Natural logarithm of strength at a shifted ln dose, and its slope."""
        rising = self.power * (self.log_dose + shift)
        logs = np.log(self.greatest) - np.logaddexp(0.0, -rising)
        top = int(logs.argmax())
        return float(logs[top]), float(self.power[top] / (1 + math.exp(min(rising[top], 700))))

    def shift_for(self, log_strength: float) -> float:
        """Least shift of ln dose that gives a strength; infinite where none does."""
        level = math.exp(log_strength) / self.greatest
        with np.errstate(divide="ignore", invalid="ignore"):
            shifts = np.log(level / (1 - level)) / self.power - self.log_dose
        return float(np.where(level < 1, shifts, np.inf).min())


@dataclass(frozen=True, eq=False)
class Loudness:
    """Loudness of some oils to one nose.

    Attributes
    ----------
    oils : tuple of str
    belief : Belief
        Natural logarithm of the factor on each oil's concentration; 0 is what the curves say.
    before : ndarray
        Covariance before any answer.
    """

    oils: tuple[str, ...]
    belief: Belief
    before: FloatArray

    def drops_as_loud(self, oil_id: str, other: str) -> tuple[float, float, float]:
        """Mass of another oil that smells as strong as one of this: likely, and 2 in 3.

        On blotters, one of them at 1 %; infinite where the other never gets as strong. [-]
        """
        one, two = (self.oils.index(name) for name in (oil_id, other))
        mean, covariance = self.belief
        spread = covariance[one, one] + covariance[two, two] - 2 * covariance[one, two]
        away = _TWO_IN_THREE * math.sqrt(max(spread, 0.0))
        likely, low, high = (
            math.exp(self._match(oil_id, other, off) - mean[two]) for off in (0.0, -away, away)
        )
        return likely, low, high

    def next_step(self, oil_id: str, reference: str, reference_percent: float) -> float:
        """The step of `ROW` that is likeliest to match a reference. [% by mass]"""
        percent = self._percent_like(oil_id, reference, reference_percent)
        return min(ROW, key=lambda step: abs(math.log(step / percent)))

    def next_pair(self, oil_id: str, reference: str) -> tuple[float, float]:
        """Steps of an oil and of a reference that are likeliest to match. [% by mass]

        Of pairs that match about as well, the one nearest the middle of the row.
        """

        def miss(pair: tuple[float, float]) -> float:
            percent = self._percent_like(oil_id, reference, pair[1])
            from_middle = abs(math.log(pair[1] / ROW[len(ROW) // 2]))
            return abs(math.log(pair[0] / percent)) + _TO_THE_MIDDLE * from_middle

        pairs = ((self.next_step(oil_id, reference, percent), percent) for percent in ROW)
        return min(pairs, key=miss)

    def _percent_like(self, oil_id: str, reference: str, reference_percent: float) -> float:
        at = math.log(reference_percent / 100 / _BLOTTER_SHARE)
        match = self._match(reference, oil_id, at) - self.belief.mean[self.oils.index(oil_id)]
        return 100 * _BLOTTER_SHARE * math.exp(min(match, 700.0))

    def _match(self, oil_id: str, other: str, at: float) -> float:
        shift = self.belief.mean[self.oils.index(oil_id)] + at
        return _smell_of(other).shift_for(_smell_of(oil_id).log_strength(shift)[0])


class Nose(NamedTuple):
    """One nose, and the conditions of wear that it smells at."""

    loudness: Loudness | None = None
    conditions: Conditions = Conditions()

    def heard(self, film: Film) -> Film:
        """A film as this nose smells it: what `evaporation.forecast` then works on.

        A molecule that several oils brought takes the mean of their factors, by amount.
        """
        if self.loudness is None:
            return film
        mean, covariance = self.loudness.belief
        surer = np.sqrt(covariance.diagonal() / self.loudness.before.diagonal())
        known = dict(zip(self.loudness.oils, zip(mean, surer, strict=True), strict=True))
        shift, ratio = np.array([known.get(name, (0.0, 1.0)) for name in film.oils]).T
        curves = film.curves._replace(
            half_kg_per_m3=film.curves.half_kg_per_m3 / np.exp(shift @ film.share_of_oil),
            log_spread=film.curves.log_spread * (ratio @ film.share_of_oil),
        )
        return replace(film, curves=curves)

    def film_of(self, bottle: CountedBottle, drops: Counts | FloatArray) -> Film:
        """The film that some whole drops leave, filled up with carrier, as it is smelt."""
        masses = dict(zip(bottle.ids, (drops * bottle.drop_kg).tolist(), strict=True))
        notes = dict(zip(bottle.ids, bottle.notes, strict=True))
        poured = bottle.blend.carriers
        room_m3 = max(bottle.blend.liquid_m3 - float(bottle.drop_m3 @ drops), 0.0)
        unit_m3 = room_m3 / max(sum(part.parts for part in poured), 1e-300)
        carriers = {
            each.carrier.id: unit_m3 * each.parts * each.carrier.density_kg_per_m3
            for each in poured
        }
        return self.heard(film_of_masses(masses, carriers, notes, self.conditions))


NOSE = Nose()


def read_answer(document: Mapping[str, Any]) -> Answer:
    """One comparison as people write it.

    Parameters
    ----------
    document : mapping
        Keys ``first``, ``second`` (oil ids), ``first_at``, ``second_at`` (shares by mass such
        as "4 %") and ``stronger``: "first", "second" or "cannot tell".

    Raises
    ------
    BadNumber
        Lists every problem.
    UnknownMaterial
        No such oil.
    """
    problems: list[Problem] = []
    oils = [catalogue.oil(str(document.get(key, ""))).id for key in ("first", "second")]
    shares = [
        attempt(problems, to_si, document.get(key, ""), "dimensionless", name=key) or 0.0
        for key in ("first_at", "second_at")
    ]
    said = str(document.get("stronger"))
    if oils[0] == oils[1] or said not in SAID:
        needed = ", ".join(SAID)
        problems.append(Problem("answer", quoted((*oils, said)), f"two oils; {needed}"))
    if not problems and not 0 < min(shares) <= max(shares) <= 1:
        problems.append(Problem("dilution", quoted(shares), "above 0 % and at most 100 %"))
    refuse_any(problems)
    return Answer(oils[0], shares[0], oils[1], shares[1], SAID[said])


def match(oils: Sequence[str], answers: Iterable[Answer] = ()) -> Loudness:
    """Loudness of some oils after some answers; oils that only answers name come in."""
    answers = tuple(answers)
    oils = tuple(dict.fromkeys((*oils, *(name for each in answers for name in each[:3:2]))))
    smells = [_smell_of(name) for name in oils]
    spread = np.array([smell.log_spread for smell in smells])
    classes = np.array([smell.chemical_class for smell in smells])
    shared = Uncertainty().shared * (classes[:, None] == classes)
    before = np.outer(spread, spread) * (
        shared + (1 - Uncertainty().shared) * np.eye(len(oils))
    )

    def difference(shifts: FloatArray) -> tuple[FloatArray, FloatArray]:
        felt, slopes = np.zeros(len(answers)), np.zeros((len(answers), len(oils)))
        for row, each in enumerate(answers):
            for name, share, sign in ((*each[:2], 1), (*each[2:4], -1)):
                place = oils.index(name)
                at = shifts[place] + math.log(share / _BLOTTER_SHARE)
                strength, slope = smells[place].log_strength(at)
                felt[row] += sign * strength
                slopes[row, place] = sign * slope
        return felt, slopes

    start, said = Belief(np.zeros(len(oils)), before), [each.said for each in answers]
    belief = settle(start, difference, said, noticed=_NOTICED, error=_ERROR)
    return Loudness(oils, belief, before)


class HeardRatio(NamedTuple):
    """Whole drops in which every oil is heard, or as nearly as the drops and limits allow.

    Attributes
    ----------
    heard : dict of str to float
        Strength of each oil next to the strongest, at the hour where that is greatest. [-]
    sentences : tuple of str
        Oils that are not heard all the same, and why.
    blend : Blend
        With these drops.
    """

    heard: dict[str, float]
    sentences: tuple[str, ...]
    blend: Blend


def heard_ratio(blend: Blend, nose: Nose = NOSE) -> HeardRatio:
    """A starting ratio for a blend's oils and its total of drops.

    Every oil starts with one drop; each further drop goes to the least heard one or, where a
    skin limit bars that, where the least heard ones are then heard best. An oil counts as heard
    where, at one of `HEARD_HOURS`, none is more than a quarter stronger. The search proves
    nothing.

    Raises
    ------
    BadNumber
        Fewer drops than oils, or one drop of each is over a skin limit already.
    """
    bottle = CountedBottle(blend, check.rules_in(blend), {})
    drops = np.ones(len(bottle.ids), dtype=int)
    total = int(bottle.drops.sum())
    if total < len(drops) or bottle.over(drops):
        got = f"{counted(total, 'drop')} for {counted(len(drops), 'oil')}"
        got += "".join(f"; one of each breaks {name_of(rule)}" for rule in bottle.over(drops))
        raise BadNumber([Problem("drops", got, "one drop of each oil within the skin limits")])
    heard = _heard(bottle, drops, nose)
    while drops.sum() < total:
        more = [bottle.with_more(drops, int(place)) for place in heard.argsort(kind="stable")]
        fits = [not bottle.over(each) and bottle.has_room(each) for each in more]
        if not any(fits):
            break
        tried = more[:1] if fits[0] else [more[place] for place in np.flatnonzero(fits)]
        trials = [(each, _heard(bottle, each, nose)) for each in tried]
        drops, heard = max(trials, key=lambda trial: sorted(trial[1].tolist()))
    words = []
    for place, (name, share) in enumerate(zip(bottle.names, heard, strict=True)):
        if share < 1 / LEAD:
            is_held = bool(bottle.over(bottle.with_more(drops, place)))
            why = ", and a skin limit allows no more" if is_held else ""
            words.append(f"{name} stays {show(1 / max(share, 1e-3), 2)} times too weak{why}.")
    shares = dict(zip(bottle.ids, heard.tolist(), strict=True))
    sentences = tuple(words) or (
        f"Each oil is heard at some time in {HEARD_HOURS[-1]:g} hours.",
    )
    return HeardRatio(shares, sentences, bottle.make(drops))


def _heard(bottle: CountedBottle, drops: Counts, nose: Nose) -> FloatArray:
    """Best strength of each oil next to the strongest, over the hours."""
    film = nose.film_of(bottle, drops)
    strengths = Trial(film, HEARD_HOURS).strengths
    best = (strengths / np.maximum(strengths.max(axis=0), 1e-300)).max(axis=1)
    found = dict(zip(film.oils, best.tolist(), strict=True))
    return np.array([found.get(name, 1.0) for name in bottle.ids])


def _smell_of(oil_id: str) -> _Smell:
    return _smell(catalogue.oil(oil_id))


@lru_cache(maxsize=512)
def _smell(oil: catalogue.Oil) -> _Smell:
    masses, carriers = {oil.id: _BLOTTER_SHARE}, {_CARRIER: 1 - _BLOTTER_SHARE}
    film = film_of_masses(masses, carriers, {}, Conditions.read(surface="blotter"))
    shares = film.moles / (film.moles.sum() + film.carrier_moles)
    smells, curves = film.has_smell, film.curves
    dose = np.log(shares * film.dose)
    logs = np.log(np.maximum(curves.greatest, 1e-300)) - np.logaddexp(0.0, -curves.power * dose)
    lead = int(logs.argmax())
    spread = math.hypot(curves.log_spread[lead], film.log_spread[lead])
    dose, power, greatest = (each[smells] for each in (dose, curves.power, curves.greatest))
    return _Smell(dose, power, greatest, spread, film.molecules[lead].chemical_class)
