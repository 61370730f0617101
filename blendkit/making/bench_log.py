"""The bench log: events in their order, and what each of them left in the bottle.

The log only grows. Taking something back is an event too: what it names stays in the log and
no longer counts, and all that came after is reckoned anew without it. An event that then makes
no sense any more (a millilitre spilled from what is now an empty bottle) stays as well, and the
log says that it does not count and why.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from blendkit.foundation.errors import BadNumber, BlendkitError, Problem, quoted
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, counted, show
from blendkit.making.bench_events import (
    LEFT,
    LONGEST_REMARK,
    LOST,
    Drops,
    Event,
    Fell,
    Measured,
    MixedIn,
    Remark,
    SavedAs,
    ScaleSays,
    Spilled,
    Start,
    Undo,
    amount_of,
    drops_of,
)
from blendkit.making.mixture import Amount, Mixture, Plan, empty, is_oil
from blendkit.materials.amounts import material

LARGEST_AMOUNT_M3 = 0.02
AGREES_WITHIN = 0.02  # a scale and a count nearer than this are said to agree (judgement)
DOUBTFUL_FACTOR = 2.0  # beyond it the reading or the count is more likely wrong (judgement)


@dataclass(frozen=True)
class Line:
    """One event in the log.

    Attributes
    ----------
    number : int
        Its place, from 1.
    event : Event
    mixture : Mixture
        What is in the bottle after it.
    said : str
        What it brought to light: where scale and count disagree, or why it does not count.
    counts : bool
        Whether it counts; False for what was taken back or no longer makes sense.
    """

    number: int
    event: Event
    mixture: Mixture
    said: str = ""
    counts: bool = True


@dataclass(frozen=True)
class Bench:
    """A bench session.

    Attributes
    ----------
    lines : tuple of Line
        At least one; the first is a `Start`.
    """

    lines: tuple[Line, ...]

    @classmethod
    def start(cls, document: Mapping[str, Any]) -> Bench:
        """A bottle on the bench, with nothing in it yet.

        Raises
        ------
        BadBlend
            The plan is broken.
        """
        return cls((Line(1, Start(document), empty(Plan.read(document))),))

    @classmethod
    def of(cls, events: Iterable[Event]) -> Bench:
        """The session that a list of events tells of.

        Raises
        ------
        BadNumber
            The first event is no `Start`.
        """
        told = list(events)
        if not told or not isinstance(told[0], Start):
            needed = "a log whose first event puts a bottle on the bench"
            raise BadNumber([Problem("bench log", quoted(str(told[:1])), needed)])
        lines = list(cls.start(told[0].document).lines)
        for event in told[1:]:
            _append(lines, event)
        return cls(tuple(lines))

    @property
    def mixture(self) -> Mixture:
        """What is in the bottle now."""
        return self.lines[-1].mixture

    @property
    def plan(self) -> Plan:
        """What is meant to go in."""
        return self.mixture.plan

    @cached_property
    def last(self) -> Line | None:
        """The newest event that counts and can be taken back."""
        return next((line for line in reversed(self.lines) if _can_be_undone(line)), None)

    def after(self, event: Event) -> Bench:
        """The session with one more event.

        Raises
        ------
        BlendkitError
            The event cannot be: no such material, no amount, nothing there to spill.
        """
        if not isinstance(event, Undo):
            step(self.mixture, event)  # refused here, and not only noted in the log
        elif not 1 <= event.number <= len(self.lines) or not _can_be_undone(
            self.lines[event.number - 1]
        ):
            needed = "an event that counts and is not the first"
            raise BadNumber([Problem("take back", f"event {event.number}", needed)])
        lines = list(self.lines)
        _append(lines, event)
        return Bench(tuple(lines))


def _can_be_undone(line: Line) -> bool:
    return line.counts and not isinstance(line.event, Start | Undo | SavedAs)


def _append(lines: list[Line], event: Event) -> None:
    """Put one event behind the others, reckoning anew what an undo touches."""
    if isinstance(event, Undo):
        place = event.number - 1
        known = 0 < place < len(lines) and _can_be_undone(lines[place])
        if known:
            lines[place] = replace(
                lines[place],
                mixture=lines[place - 1].mixture,
                said="Taken back.",
                counts=False,
            )
            for later in range(place + 1, len(lines)):
                lines[later] = _line_after(lines[later - 1].mixture, lines[later])
        said = "" if known else "There is no such event to take back."
        lines.append(Line(len(lines) + 1, event, lines[-1].mixture, said, known))
    else:
        mixture = lines[-1].mixture
        lines.append(_line_after(mixture, Line(len(lines) + 1, event, mixture)))


def _line_after(mixture: Mixture, line: Line) -> Line:
    """A line reckoned anew on what is in the bottle before it."""
    if isinstance(line.event, Undo) or line.said == "Taken back.":
        return replace(line, mixture=mixture)
    try:
        after, said = step(mixture, line.event)
    except BlendkitError as error:
        return replace(line, mixture=mixture, said=f"Does not count: {error}", counts=False)
    return replace(line, mixture=after, said=said, counts=True)


def step(mixture: Mixture, event: Event) -> tuple[Mixture, str]:
    """What one event leaves in the bottle, and what it brought to light.

    Raises
    ------
    BlendkitError
        The event cannot be.
    """
    taken = _STEPS.get(type(event))
    if taken is None:
        raise BadNumber([Problem("bench event", quoted(str(event)), "an event of this bench")])
    return taken(mixture, event)


def _drops(mixture: Mixture, event: Drops) -> tuple[Mixture, str]:
    count = drops_of(event.count)
    if not is_oil(event.material):
        needed = "an essential oil; carriers go in by mass or by volume"
        raise BadNumber([Problem("drops", quoted(event.material), needed)])
    return mixture.with_drops(event.material, count), ""


def _measured(mixture: Mixture, event: Measured) -> tuple[Mixture, str]:
    kind, number = amount_of(event.amount)
    density = material(event.material).density_kg_per_m3
    mass_kg = number if kind == "mass" else number * density
    _check_size(mass_kg / density, event.amount)
    return mixture.with_mass(event.material, mass_kg, weighed=kind == "mass"), ""


def _check_size(volume_m3: float, amount: str) -> None:
    """Refuse an amount that no bench holds, before it turns every figure into nonsense."""
    if volume_m3 > LARGEST_AMOUNT_M3:
        fix = "Is the unit right?"
        raise BadNumber([Problem("amount", quoted(amount), "at most 20 litres", fix)])


def _whole_of(mixture: Mixture, amount: str) -> tuple[float, float]:
    """A written amount of the mixture, and all of it on the same measure."""
    kind, number = amount_of(amount)
    return number, mixture.mass_kg if kind == "mass" else mixture.volume_m3


def _spilled(mixture: Mixture, event: Spilled) -> tuple[Mixture, str]:
    if event.means not in (LOST, LEFT):
        raise BadNumber([Problem("spilled", quoted(event.means), f"{LOST} or {LEFT}")])
    number, whole = _whole_of(mixture, event.amount)
    if number > whole * (1 + 1e-9):
        got = f"{quoted(event.amount)} {event.means} of {_in_words(mixture)}"
        raise BadNumber([Problem("spilled", got, "no more than is in the bottle")])
    share = number / whole
    left = min(max(share if event.means == LEFT else 1 - share, 0.0), 1.0)
    return mixture.times(left), f"{_in_words(mixture.times(left))} left, made as before."


def _in_words(mixture: Mixture) -> str:
    return f"{show(mixture.mass_kg * G_PER_KG)} g ({show(mixture.volume_m3 * ML_PER_M3)} mL)"


def _scale_says(mixture: Mixture, event: ScaleSays) -> tuple[Mixture, str]:
    """Fix a mass: all that was only reckoned so far takes up the difference alike."""
    kind, reading_kg = amount_of(event.amount, "the scale")
    if kind != "mass":
        needed = 'a mass with its unit, such as "3.42 g"'
        raise BadNumber([Problem("the scale", quoted(event.amount), needed)])
    names = [event.material] if event.material else list(mixture.amounts)
    amounts = {name: mixture.amounts.get(name, Amount()) for name in names}
    reckoned_kg = sum(one.reckoned_kg for one in amounts.values())
    # one material weighed in alone leaves out what earlier readings fixed; the whole does not
    fixed_kg = 0.0 if event.material else sum(one.weighed_kg for one in amounts.values())
    if reckoned_kg == 0:
        return _nothing_reckoned(mixture, event, reading_kg, fixed_kg)
    factor = (reading_kg - fixed_kg) / reckoned_kg
    if factor <= 0:
        got = f"{quoted(event.amount)}, and {show(fixed_kg * G_PER_KG)} g went in by weight"
        fix = "Was the scale set to zero with the empty bottle on it?"
        raise BadNumber([Problem("the scale", got, "more than what was weighed in", fix)])
    fixed = {
        name: Amount(one.weighed_kg + one.reckoned_kg * factor, 0.0, one.drops)
        for name, one in amounts.items()
    }
    said = _disagreement(mixture, event, fixed_kg + reckoned_kg, factor)
    return replace(mixture, amounts={**mixture.amounts, **fixed}), said


def _nothing_reckoned(
    mixture: Mixture, event: ScaleSays, reading_kg: float, fixed_kg: float
) -> tuple[Mixture, str]:
    """A reading where every mass is known by weight already: said, and changes nothing."""
    if event.material or fixed_kg == 0:
        needed = "something counted or measured that was not weighed yet"
        fix = "For what goes in by weight, write its grams beside its name."
        raise BadNumber([Problem("the scale", quoted(event.amount), needed, fix)])
    apart = reading_kg - fixed_kg
    if abs(apart) <= AGREES_WITHIN * fixed_kg:
        return mixture, "Agrees with what was weighed in."
    way = "more" if apart > 0 else "less"
    return mixture, (
        f"The scale shows {show(abs(apart) * G_PER_KG)} g {way} than was weighed in. All of it "
        "went in by weight, so nothing was changed; if some was spilled, say so."
    )


def _disagreement(mixture: Mixture, event: ScaleSays, expected_kg: float, factor: float) -> str:
    """What scale and count say, and what it would mean for the drop size."""
    reckoned = [n for n, one in mixture.amounts.items() if one.reckoned_kg]
    names = [event.material] if event.material else reckoned
    said = f"By count and measure it would be {show(expected_kg * G_PER_KG)} g"
    if abs(factor - 1) <= AGREES_WITHIN:
        return f"{said}: they agree. The weight counts from here."
    if not 1 / DOUBTFUL_FACTOR <= factor <= DOUBTFUL_FACTOR:
        doubt = "That is more than twice apart: look at the reading, the zero and the count."
        return f"{said}. {doubt} The weight counts from here; take it back if it is wrong."
    if len(names) == 1 and is_oil(names[0]):
        size = mixture.plan.fields.drops_per_ml_of(names[0])
        name = material(names[0]).name
        by_weight = show(mixture.amounts[names[0]].drops * factor)
        return (
            f"{said}. The weight counts: {by_weight} drops of {name} of the size on record, "
            f"and {show(mixture.drops_now(names[0]))} counted. So these drops run "
            f"{show(size / factor)} to the millilitre and not {show(size)}, or the count is "
            "off."
        )
    return (
        f"{said}. The weight counts: {', '.join(material(n).name for n in names)} "
        f"{'is' if len(names) == 1 else 'are each'} taken as {show(factor)} times as much."
    )


def _mixed_in(mixture: Mixture, event: MixedIn) -> tuple[Mixture, str]:
    shares = event.mass_fractions
    if not shares or any(not 0 <= s <= 1 for s in shares.values()):
        needed = "what that bottle holds, as shares of its mass"
        raise BadNumber([Problem("mixed in", quoted(str(dict(shares))), needed)])
    if not math.isclose(sum(shares.values()), 1, abs_tol=1e-6):
        got = f"shares that sum to {show(sum(shares.values()))}"
        raise BadNumber([Problem("mixed in", got, "shares that sum to 1")])
    kind, number = amount_of(event.amount)
    volume_of_1_kg = sum(s / material(n).density_kg_per_m3 for n, s in shares.items())
    mass_kg = number if kind == "mass" else number / volume_of_1_kg
    _check_size(mass_kg * volume_of_1_kg, event.amount)
    for name, share in shares.items():
        mixture = mixture.with_mass(name, mass_kg * share, weighed=kind == "mass")
    return mixture, ""


def _remark(mixture: Mixture, event: Remark) -> tuple[Mixture, str]:
    if not event.text.strip() or len(event.text) > LONGEST_REMARK:
        needed = f"some words, at most {LONGEST_REMARK} letters"
        raise BadNumber([Problem("remark", counted(len(event.text), "letter"), needed)])
    return mixture, ""


def _saved(mixture: Mixture, event: SavedAs) -> tuple[Mixture, str]:
    return mixture, ""


_STEPS: Mapping[type, Callable[..., tuple[Mixture, str]]] = {
    Drops: _drops,
    Fell: _drops,
    Measured: _measured,
    Spilled: _spilled,
    ScaleSays: _scale_says,
    MixedIn: _mixed_in,
    Remark: _remark,
    SavedAs: _saved,
}
