"""A class on its learners' laptops: what a seat's workbook knows of it, and opens with.

A document for laptops holds nobody's name and nobody's health: seat numbers with the oils and
carriers that each leaves out, marks where a caution is on record, and a strength cap. Of these
a seat is given its own only.
"""

import os
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import BlendkitError, attempt
from blendkit.foundation.keep import parse_document
from blendkit.foundation.units import show
from blendkit.teaching.class_document import ClassPlan, Seat
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.free_choice import ChoiceCard, card_of
from blendkit.teaching.hand_in import CLASS_VARIABLE, SEAT_VARIABLE
from blendkit.teaching.judging import Judgement, judge
from blendkit.teaching.plan import cautions_of, seat_plans, why_without
from blendkit.teaching.results import blend_document

_KEYS = (
    "name", "tables", "minutes", "bottle", "headspace", "strength", "drops_per_ml",
    "note_parts", "oils", "carriers", "blends", "region", "use", "margin",
)  # fmt: skip


class AtSeat(NamedTuple):
    """The class as one seat's workbook knows it."""

    plan: ClassPlan
    card: ChoiceCard | None
    seat: Seat

    def judge(self, blend: Blend) -> Judgement:
        """What the class says of a bottle; no reason is in it."""
        return judge(self.plan, self.card, self.seat, blend)


def for_laptops(plan: ClassPlan, only: Seat | None = None) -> dict[str, Any]:
    """The document of a class without anybody's name or health.

    Parameters
    ----------
    plan : ClassPlan
    only : Seat, optional
        The seat it is for; the others are bare numbers in it.
    """
    whole = plan.to_dict()
    seats = [{} if only not in (None, seat) else _seat(plan, seat) for seat in plan.seats]
    return {**{key: whole[key] for key in _KEYS if key in whole}, "seats": seats}


def _seat(plan: ClassPlan, seat: Seat) -> dict[str, Any]:
    out = [name for name, each in plan.materials.items() if why_without(seat, each)]
    found = cautions_of(seat, plan.materials)
    marked = list(dict.fromkeys(each.material for each in found if each.material not in out))
    cap = seat.strength_cap
    entry: dict[str, Any] = {"leaves_out": out, "marked": marked}
    entry |= {"strength_cap": f"{show(cap * 100, 9)} %"} if cap else {}
    return {key: value for key, value in entry.items() if value}


def seat_file(plan: ClassPlan, card: ChoiceCard | None, seat: Seat) -> dict[str, Any]:
    """The file of a seat: its class, and the blend that its workbook opens with."""
    return {"class": for_laptops(plan, seat), "first": first_blend(plan, card, seat)}


def first_blend(plan: ClassPlan, card: ChoiceCard | None, seat: Seat) -> dict[str, Any] | None:
    """A blend of all that a seat may use, in the class's bottle and within its card.

    None where nothing of the class is left for the seat.
    """
    found = next(each for each in seat_plans(plan) if each.seat == seat)
    if not found.can_mix or found.carrier is None:
        return None
    if not plan.is_free:
        return plan.blends[found.blends[0]].blend.to_dict()
    drops = _even_mix(plan, card, found.may_use, found.most_drops)
    if not drops:
        return None
    document = blend_document(plan, "", found.carrier, drops) | {"name": plan.name}
    for oil in document["oils"]:
        oil["parts"] = oil.pop("drops")
    ratio, is_full = plan.fields.note_parts, sum(drops.values()) == plan.total_drops
    if is_full and ratio.keys() == document["note_parts"].keys():
        document["strength"] = plan.to_dict().get("strength", document["strength"])
        document["note_parts"] = dict(ratio)
    return document


def _even_mix(
    plan: ClassPlan, card: ChoiceCard | None, may_use: tuple[str, ...], total: int
) -> dict[str, int]:
    """Drops by oil: each note as the class's ratio has it, oils as even as the card lets."""
    drops = dict.fromkeys(may_use, 0)
    for note, wanted in plan.drops_by_note(total).items():
        oils = [each.oil.id for each in plan.of_note(note) if each.oil.id in drops]
        for _ in range(wanted):
            for name in sorted(oils, key=drops.__getitem__):
                more = drops | {name: drops[name] + 1}
                if card is None or not card.check_mix(more):
                    drops = more
                    break
    return {name: count for name, count in drops.items() if count}


def at_seat() -> AtSeat | None:
    """The class of this laptop; None where there is none, or its file cannot be read."""
    return _at_seat(os.environ.get(CLASS_VARIABLE, ""), os.environ.get(SEAT_VARIABLE, ""))


@lru_cache(maxsize=1)
def _at_seat(file: str, account: str) -> AtSeat | None:
    try:
        plan = read_class(_read(file).get("class"))
    except BlendkitError:
        return None
    seat = plan.seat_named(account)
    return AtSeat(plan, attempt([], card_of, plan), seat) if seat else None


def seat_blend() -> dict[str, Any] | None:
    """The blend that a seat's workbook opens with; None outside a class."""
    first = _read(os.environ.get(CLASS_VARIABLE, "")).get("first")
    return first if isinstance(first, dict) else None


def _read(file: str) -> dict[str, Any]:
    try:
        return dict(parse_document(Path(file).read_text(encoding="utf-8")))
    except (OSError, ValueError):
        return {}


def read_file(file: Path) -> ClassPlan:
    """The class of a file that notebook 08 saved.

    Raises
    ------
    BadClass
    """
    return read_class(for_laptops(read_class(_read(str(file)) or f"no class in {file.name}")))
