"""Bench log: events in order, each with the mixture after it.

The log only grows. An undo is an event too: the event it names remains in the log and no longer
counts, and all later ones are calculated again without it. An event that then makes no sense
(a millilitre spilled from a bottle that is now empty) remains as well, with the reason why it
does not count.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from blendkit.foundation.errors import BadNumber, BlendkitError, Problem, quoted
from blendkit.foundation.units import counted, is_whole_number, show, show_g, show_ml
from blendkit.making import bench_events as events
from blendkit.making.mixture import Content, Mixture, Plan, is_oil
from blendkit.materials.amounts import material

LARGEST_AMOUNT_M3 = 0.02
AGREES_WITHIN = 0.02  # scale and count agree within this (judgement)
DOUBTFUL_FACTOR = 2.0  # beyond it the reading or the count is more likely wrong (judgement)
UNDONE = "Taken back."


@dataclass(frozen=True)
class Line:
    """One event in the log.

    Attributes
    ----------
    number : int
        Position in the log, from 1.
    event : Event
    mixture : Mixture
        Content of the bottle after it.
    message : str
        Disagreement of scale and count, or the reason why it does not count.
    counts : bool
        False for an event that was undone or no longer makes sense.
    """

    number: int
    event: events.Event
    mixture: Mixture
    message: str = ""
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
        """Start with an empty bottle on the bench.

        Raises
        ------
        BadBlend
            The plan is broken.
        """
        return cls.of([events.Start(document)])

    @classmethod
    def of(cls, logged: Iterable[events.Event]) -> Bench:
        """Build the session from its events.

        Raises
        ------
        BadNumber
            The first event is no `Start`.
        BadBlend
            Its plan is broken.
        """
        logged = list(logged)
        if not logged or not isinstance(logged[0], events.Start):
            needed = "a log whose first event puts a bottle on the bench"
            raise BadNumber([Problem("bench log", quoted(str(logged[:1])), needed)])
        plan = Plan.read(logged[0].document)
        lines = [Line(1, logged[0], Mixture(plan, {}))]
        for event in logged[1:]:
            _append(lines, event)
        return cls(tuple(lines))

    @property
    def mixture(self) -> Mixture:
        """Present content of the bottle."""
        return self.lines[-1].mixture

    @property
    def plan(self) -> Plan:
        """Plan of the bottle."""
        return self.mixture.plan

    @cached_property
    def last(self) -> Line | None:
        """Newest event that counts and can be undone."""
        return next((line for line in reversed(self.lines) if _can_be_undone(line)), None)

    def after(self, event: events.Event) -> Bench:
        """Add one event.

        Raises
        ------
        BlendkitError
            The event is impossible: unknown material, no amount, nothing to spill.
        """
        if not isinstance(event, events.Undo):
            apply(self.mixture, event)  # refused here, and not only noted in the log
        elif not 1 <= event.number <= len(self.lines) or not _can_be_undone(
            self.lines[event.number - 1]
        ):
            needed = "an event that counts and is not the first"
            raise BadNumber([Problem("take back", f"event {event.number}", needed)])
        lines = list(self.lines)
        _append(lines, event)
        return Bench(tuple(lines))


def _can_be_undone(line: Line) -> bool:
    return line.counts and not isinstance(
        line.event, events.Start | events.Undo | events.SavedAs
    )


def _append(lines: list[Line], event: events.Event) -> None:
    """Append one event; calculate again the lines after one that it undoes."""
    if isinstance(event, events.Undo):
        place = event.number - 1
        possible = 0 < place < len(lines) and _can_be_undone(lines[place])
        if possible:
            before = lines[place - 1].mixture
            lines[place] = replace(lines[place], mixture=before, message=UNDONE, counts=False)
            for later in range(place + 1, len(lines)):
                lines[later] = _line_after(lines[later - 1].mixture, lines[later])
        message = "" if possible else "There is no such event to take back."
        lines.append(Line(len(lines) + 1, event, lines[-1].mixture, message, possible))
    else:
        mixture = lines[-1].mixture
        lines.append(_line_after(mixture, Line(len(lines) + 1, event, mixture)))


def _line_after(mixture: Mixture, line: Line) -> Line:
    """Calculate a line again on the mixture before it."""
    if isinstance(line.event, events.Undo) or line.message == UNDONE:
        return replace(line, mixture=mixture)
    try:
        after, message = apply(mixture, line.event)
    except BlendkitError as error:
        return replace(line, mixture=mixture, message=f"Does not count: {error}", counts=False)
    return replace(line, mixture=after, message=message, counts=True)


def apply(mixture: Mixture, event: events.Event) -> tuple[Mixture, str]:
    """Apply one event to a mixture, with a message where there is one.

    Raises
    ------
    BlendkitError
        The event is impossible.
    """
    change = _CHANGES.get(type(event))
    if change is None:
        raise BadNumber([Problem("bench event", quoted(str(event)), "an event of this bench")])
    return change(mixture, event)


def _drops(mixture: Mixture, event: events.Drops) -> tuple[Mixture, str]:
    if not is_whole_number(event.count, 1, events.MOST_DROPS_AT_ONCE):
        needed = f"a whole number of drops from 1 to {events.MOST_DROPS_AT_ONCE}"
        raise BadNumber([Problem("drops", quoted(event.count), needed)])
    if not is_oil(event.material):
        needed = "an essential oil; carriers are added by mass or volume"
        raise BadNumber([Problem("drops", quoted(event.material), needed)])
    return mixture.with_drops(event.material, event.count), ""


def _measured(mixture: Mixture, event: events.Measured) -> tuple[Mixture, str]:
    kind, number = events.parse_amount(event.amount)
    density = material(event.material).density_kg_per_m3
    mass_kg = number if kind == "mass" else number * density
    _check_size(mass_kg / density, event.amount)
    return mixture.with_mass(event.material, mass_kg, weighed=kind == "mass"), ""


def _check_size(volume_m3: float, amount: str) -> None:
    """Refuse an amount too large for any bench, most likely a wrong unit."""
    if volume_m3 > LARGEST_AMOUNT_M3:
        fix = "Is the unit right?"
        raise BadNumber([Problem("amount", quoted(amount), "at most 20 litres", fix)])


def _spilled(mixture: Mixture, event: events.Spilled) -> tuple[Mixture, str]:
    if event.means not in (events.LOST, events.LEFT):
        needed = f"{events.LOST} or {events.LEFT}"
        raise BadNumber([Problem("spilled", quoted(event.means), needed)])
    kind, number = events.parse_amount(event.amount)
    whole = mixture.mass_kg if kind == "mass" else mixture.volume_m3
    if number > whole * (1 + 1e-9):
        got = f"{quoted(event.amount)} {event.means} of {_in_words(mixture)}"
        raise BadNumber([Problem("spilled", got, "no more than is in the bottle")])
    share = number / whole
    left = min(max(share if event.means == events.LEFT else 1 - share, 0.0), 1.0)
    return mixture.times(left), f"{_in_words(mixture.times(left))} left, same composition."


def _in_words(mixture: Mixture) -> str:
    return f"{show_g(mixture.mass_kg)} ({show_ml(mixture.volume_m3)})"


def _scale_reading(mixture: Mixture, event: events.ScaleReading) -> tuple[Mixture, str]:
    """Fix a mass: everything not weighed yet takes up the difference in proportion."""
    kind, reading_kg = events.parse_amount(event.amount, "scale reading")
    if kind != "mass":
        needed = 'a mass with its unit, such as "3.42 g"'
        raise BadNumber([Problem("scale reading", quoted(event.amount), needed)])
    names = [event.material] if event.material else list(mixture.amounts)
    amounts = {name: mixture.amounts.get(name, Content()) for name in names}
    calculated_kg = sum(one.calculated_kg for one in amounts.values())
    # one material weighed in alone leaves out what earlier readings fixed; the whole does not
    fixed_kg = 0.0 if event.material else sum(one.weighed_kg for one in amounts.values())
    if calculated_kg == 0:
        return _check_reading(mixture, event, reading_kg, fixed_kg)
    factor = (reading_kg - fixed_kg) / calculated_kg
    if factor <= 0:
        got = f"{quoted(event.amount)}, and {show_g(fixed_kg)} went in by weight"
        fix = "Was the scale set to zero with the empty bottle on it?"
        raise BadNumber([Problem("scale reading", got, "more than what was weighed in", fix)])
    fixed = {
        name: Content(one.weighed_kg + one.calculated_kg * factor, 0.0, one.drops)
        for name, one in amounts.items()
    }
    message = _compare(mixture, event, fixed_kg + calculated_kg, factor)
    return replace(mixture, amounts={**mixture.amounts, **fixed}), message


def _check_reading(
    mixture: Mixture, event: events.ScaleReading, reading_kg: float, fixed_kg: float
) -> tuple[Mixture, str]:
    """Compare a reading with masses that are all weighed already; nothing changes."""
    if event.material or fixed_kg == 0:
        needed = "an amount counted or measured and not weighed yet"
        fix = "To add by weight, type the grams next to the material."
        raise BadNumber([Problem("scale reading", quoted(event.amount), needed, fix)])
    difference = reading_kg - fixed_kg
    if abs(difference) <= AGREES_WITHIN * fixed_kg:
        return mixture, "Agrees with what was weighed in."
    way = "more" if difference > 0 else "less"
    return mixture, (
        f"The scale reads {show_g(abs(difference))} {way} than was weighed in. All "
        "of it was added by weight, so nothing was changed; record a spill if there was one."
    )


def _compare(
    mixture: Mixture, event: events.ScaleReading, expected_kg: float, factor: float
) -> str:
    """Compare scale and count, with the drop size that would explain a difference."""
    calculated = [n for n, one in mixture.amounts.items() if one.calculated_kg]
    names = [event.material] if event.material else calculated
    expected = f"By count and measure it would be {show_g(expected_kg)}"
    if abs(factor - 1) <= AGREES_WITHIN:
        return f"{expected}: they agree. The weight counts from here."
    if not 1 / DOUBTFUL_FACTOR <= factor <= DOUBTFUL_FACTOR:
        doubt = "That differs by more than a factor of two: check reading, zero and count."
        return f"{expected}. {doubt} The weight counts from here; take it back if it is wrong."
    if len(names) == 1 and is_oil(names[0]):
        size = mixture.plan.fields.drops_per_ml_of(names[0])
        name = material(names[0]).name
        by_weight = show(mixture.amounts[names[0]].drops * factor)
        return (
            f"{expected}. The weight counts: {by_weight} drops of {name} of the size on "
            f"record, and {show(mixture.drops_now(names[0]))} counted. So there are "
            f"{show(size / factor)} drops to the millilitre and not {show(size)}, or the count "
            "is wrong."
        )
    return (
        f"{expected}. The weight counts: {', '.join(material(n).name for n in names)} "
        f"{'is' if len(names) == 1 else 'are each'} taken as {show(factor)} times as much."
    )


def _mixed_in(mixture: Mixture, event: events.MixedIn) -> tuple[Mixture, str]:
    shares = event.mass_fractions
    if not shares or any(not 0 <= s <= 1 for s in shares.values()):
        needed = "the composition of that bottle, as shares of its mass"
        raise BadNumber([Problem("mixed in", quoted(str(dict(shares))), needed)])
    if not math.isclose(sum(shares.values()), 1, abs_tol=1e-6):
        got = f"shares that sum to {show(sum(shares.values()))}"
        raise BadNumber([Problem("mixed in", got, "shares that sum to 1")])
    kind, number = events.parse_amount(event.amount)
    volume_of_1_kg = sum(s / material(n).density_kg_per_m3 for n, s in shares.items())
    mass_kg = number if kind == "mass" else number / volume_of_1_kg
    _check_size(mass_kg * volume_of_1_kg, event.amount)
    for name, share in shares.items():
        mixture = mixture.with_mass(name, mass_kg * share, weighed=kind == "mass")
    return mixture, ""


def _remark(mixture: Mixture, event: events.Remark) -> tuple[Mixture, str]:
    if not event.text.strip() or len(event.text) > events.LONGEST_REMARK:
        needed = f"some words, at most {events.LONGEST_REMARK} characters"
        raise BadNumber([Problem("remark", counted(len(event.text), "character"), needed)])
    return mixture, ""


_CHANGES: Mapping[type, Callable[..., tuple[Mixture, str]]] = {
    events.Drops: _drops,
    events.AccidentalDrops: _drops,
    events.Measured: _measured,
    events.Spilled: _spilled,
    events.ScaleReading: _scale_reading,
    events.MixedIn: _mixed_in,
    events.Remark: _remark,
    events.SavedAs: lambda mixture, _event: (mixture, ""),
}
