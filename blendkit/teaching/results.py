"""Results of a class: the bottle of each seat, from counted drops.

A grid of drops is checked as a whole, so that a teacher mends everything at once.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import Problem, attempt, quoted
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.teaching.class_document import BadClass, ClassPlan

MOST_DROPS = 2000
LONGEST_NAME = 80


class SeatBottle(NamedTuple):
    """The bottle of one seat."""

    seat: str
    blend: Blend


def seat_bottles(plan: ClassPlan, rows: Sequence[Mapping[str, Any]]) -> list[SeatBottle]:
    """The bottles of a grid, each with its counted drops.

    Parameters
    ----------
    plan : ClassPlan
    rows : sequence of mapping
        "seat" is its name, "carrier" an id, "drops" a count or a text for each oil's id; an
        empty text is no drop. A row without drops is passed by.

    Raises
    ------
    BadClass
        Lists every problem of the whole grid.
    """
    problems: list[Problem] = []
    bottles: list[SeatBottle] = []
    seen: set[str] = set()
    for number, row in enumerate(rows, start=1):
        wrong: list[Problem] = []
        name = str(row.get("seat", "")).strip()
        where = name[:LONGEST_NAME] or f"row {number}"
        drops = dict(_drops(where, row.get("drops", {}), wrong))
        if drops or wrong:
            wrong += _name_problems(where, name, seen)
            seen.add(name)
            if not wrong:
                document = blend_document(plan, name, str(row["carrier"]), drops)
                blend = attempt(wrong, Blend.from_dict, document)
                wrong = [replace(each, where=f"{name}, {each.where}") for each in wrong]
                bottles += [SeatBottle(name, blend)] if blend else []
        problems += wrong
    if not bottles and not problems:
        problems.append(Problem("the grid", "no drops", "the drops of at least one seat"))
    if problems:
        raise BadClass(problems)
    return bottles


def _drops(
    where: str, given: Mapping[str, object], problems: list[Problem]
) -> Iterator[tuple[str, int]]:
    for oil_id, value in given.items():
        text = str(value).strip()
        if not text:
            continue
        if not (text.isascii() and text.isdigit() and int(text[:9]) <= MOST_DROPS):
            needed = f"a whole number of drops from 0 to {MOST_DROPS}"
            name = catalogue.oil(oil_id).name
            problems.append(Problem(f"{where}, {name}", quoted(str(value)), needed))
        elif int(text):
            yield oil_id, int(text)


def _name_problems(where: str, name: str, seen: set[str]) -> Iterator[Problem]:
    if not name:
        yield Problem(where, "drops and no name", "the name of the seat")
    elif len(name) > LONGEST_NAME:
        got = f"a name of {len(name)} characters"
        yield Problem(where, got, f"at most {LONGEST_NAME}")
    elif name in seen:
        fix = "Give one of them another name, so that their bottles stay apart."
        yield Problem(where, "the same name twice", "a name of its own for each seat", fix)


def blend_document(
    plan: ClassPlan, seat: str, carrier: str, drops: Mapping[str, int]
) -> dict[str, Any]:
    """A blend whose counts are all fixed; ratio and strength are what they come to."""
    notes = {each.oil.id: each.note for each in plan.oils}
    note_parts: Counter[str] = Counter()
    for oil_id, count in drops.items():
        note_parts[notes[oil_id]] += count
    fields = plan.fields
    strength = min(sum(drops.values()) / fields.drops_that_fill, 1.0)
    of_blend = plan.blends[0].blend.to_dict() if plan.blends else {}
    written = {**of_blend, **plan.to_dict()}
    return {
        "name": f"{plan.name}: {seat}" if plan.name else seat,
        **{key: written[key] for key in ("bottle", "headspace") if key in written},
        "strength": f"{show(strength * 100, 9)} %",
        "drops_per_ml": dict(fields.drops_per_ml),
        "note_parts": dict(note_parts),
        "oils": [
            {"id": oil_id, "note": notes[oil_id], "drops": count}
            for oil_id, count in drops.items()
        ],
        "carriers": [{"id": carrier}],
        **plan.market.key(),
    }
