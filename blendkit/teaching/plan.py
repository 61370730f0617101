"""Plan of a class: oils that each seat leaves out, and the palette that works for all.

Exclusions come from the cautions on record (`blendkit.skin.cautions`), from oils that sunlight
turns against the skin where a seat will be in the sun, and from what somebody does not like.
An oil or carrier that no seat leaves out has no exclusion on record, and no more; where a
caution is on record for a seat, its sentence comes along.
"""

from collections import Counter
from collections.abc import Collection, Container, Iterable, Mapping
from functools import lru_cache
from typing import NamedTuple

from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import ML_PER_M3, counted, show
from blendkit.materials import catalogue
from blendkit.materials.amounts import material
from blendkit.skin.cautions import EVERYONE, cautions_for, excluded_for
from blendkit.teaching.class_document import ClassPlan, Seat

SUN, DISLIKE = "sun afterwards", "does not like it"
HERE, ASK = "left out for this seat", "a caution is on record; ask your teacher"  # no reason


class SeatCaution(NamedTuple):
    """A caution on record for a seat that is no exclusion.

    Attributes
    ----------
    material : str
        Id of the oil or carrier; "" where the caution is for whatever is in the bottle.
    because, text : str
    """

    material: str
    because: str
    text: str


class SeatPlan(NamedTuple):
    """Oils, carrier and set blends of one seat.

    Attributes
    ----------
    seat : Seat
    may_use : tuple of str
        Palette oils without an exclusion on record for this seat, by id.
    leaves_out : mapping of str to str
        Palette oils it leaves out, by id, each with the reason: a key of `WEARERS`, `SUN`,
        `DISLIKE` or `HERE`.
    carrier : str or None
        Id of the first of the class's carriers without an exclusion; None where there is none.
    needs_other_carrier : bool
        True where that is not the usual one, or none.
    blends : tuple of int
        Places of the set blends that hold nothing this seat leaves out.
    can_mix : bool
    most_drops : int
        Of oil in its bottle.
    cautions : tuple of SeatCaution
        Of what it may use.
    """

    seat: Seat
    may_use: tuple[str, ...]
    leaves_out: Mapping[str, str]
    carrier: str | None
    needs_other_carrier: bool
    blends: tuple[int, ...]
    can_mix: bool
    most_drops: int
    cautions: tuple[SeatCaution, ...]


def exclusions_of(wearer: str) -> frozenset[str]:
    """Ids of the oils and carriers that one kind of wearer goes without."""
    return _exclusions(wearer, frozenset(catalogue.known_ids()))


@lru_cache(maxsize=4096)
def _warnings(wearer: str, material: str) -> tuple[str, ...]:
    """Texts of the cautions that one kind of wearer calls for; "" for any material at all."""
    found = cautions_for([material] if material else [], [wearer])
    return tuple(
        each.text
        for each in found
        if each.who != EVERYONE
        and each.action != "exclude"
        and bool(each.because_of) == bool(material)
    )


def cautions_of(seat: Seat, materials: Iterable[str]) -> tuple[SeatCaution, ...]:
    """Cautions on record for a seat, and for what is in its bottle."""
    return tuple(
        SeatCaution(material, because, text)
        for material in ("", *materials)
        for because, texts in (
            *((wearer, _warnings(wearer, material)) for wearer in seat.wearers),
            ("" if material else "this seat", (ASK,) * (material in seat.marked)),
        )
        for text in texts
    )


@lru_cache(maxsize=512)
def _exclusions(wearer: str, _known: frozenset[str]) -> frozenset[str]:
    return frozenset(excluded_for([wearer]))  # again where a material was kept since


@lru_cache(maxsize=512)
def _reacts_with_sunlight(material_id: str) -> bool:
    found = cautions_for([material_id])
    return any(caution.topic == "sun" and caution.because_of for caution in found)


def seat_plans(plan: ClassPlan) -> tuple[SeatPlan, ...]:
    """Plans of all seats of a class, in their order."""
    return tuple(_seat_plan(plan, seat) for seat in plan.seats)


def _seat_plan(plan: ClassPlan, seat: Seat) -> SeatPlan:
    reasons = {each.oil.id: why_without(seat, each.oil) for each in plan.oils}
    out = {oil_id: because for oil_id, because in reasons.items() if because}
    may_use = tuple(each.oil.id for each in plan.oils if each.oil.id not in out)
    fit = [each.id for each in plan.carriers if not why_without(seat, each)]
    carrier = fit[0] if fit else None
    usual, most = plan.carriers[0].id, plan.most_drops(seat)
    cautions = cautions_of(seat, [*may_use, *fit[:1]])
    blends = tuple(
        place
        for place, each in enumerate(plan.blends)
        if out.keys().isdisjoint(each.blend.oil_drops) and each.blend.total_drops <= most
    )
    can_mix = carrier is not None and most > 0 and bool(may_use if plan.is_free else blends)
    other = carrier != usual
    return SeatPlan(seat, may_use, out, carrier, other, blends, can_mix, most, cautions)


def _emptied_notes(plan: ClassPlan, out: Container[str]) -> tuple[str, ...]:
    """Notes of the palette of which nothing is left without some oils."""
    left = {each.note for each in plan.oils if each.oil.id not in out}
    return tuple(n for n in NOTES if plan.of_note(n) and n not in left)


def why_without(seat: Seat, material: catalogue.Oil | catalogue.Carrier) -> str:
    """The reason for which a seat leaves out an oil or a carrier; "" where there is none."""
    if _names(material) & set(seat.leaves_out):
        return HERE
    for wearer in seat.wearers:
        if material.id in exclusions_of(wearer):
            return wearer
    if seat.sun_afterwards and _reacts_with_sunlight(catalogue.pinned(material.id)):
        return SUN
    return DISLIKE if _names(material) & set(seat.dislikes) else ""


def _names(material: catalogue.Oil | catalogue.Carrier) -> set[str]:
    """Ids of a material, of what it is an own lot of, and of what is mixed in it."""
    held = [material, *(part for part, _ in catalogue.parts_of(material))]
    return {name for each in held for name in (each.id, getattr(each, "based_on", ""))}


def _seat_in_words(plan: ClassPlan, found: SeatPlan) -> str:
    """What one seat has to mind, in a sentence; "" where there is nothing."""
    changes = []
    if not found.can_mix and (found.carrier is None or not found.may_use):
        what = "no carrier" if found.carrier is None else "no oil"
        return f"{found.seat.label}: {what} of this class is left for this seat."
    if found.leaves_out:
        reasons: dict[str, list[str]] = {}
        for oil_id, because in found.leaves_out.items():
            reasons.setdefault(because, []).append(catalogue.oil(oil_id).name)
        parts = [f"{', '.join(names)} ({because})" for because, names in reasons.items()]
        changes.append("without " + "; ".join(parts))
    if found.needs_other_carrier and found.carrier:
        changes.append(f"with {catalogue.carrier(found.carrier).name} as the carrier")
    if found.most_drops < plan.total_drops:
        cap = show((found.seat.strength_cap or 0) * 100)
        changes.append(f"at most {counted(found.most_drops, 'drop')} ({cap} %, as typed)")
    if plan.is_free and (emptied := _emptied_notes(plan, found.leaves_out)):
        changes.append("with nothing left for its " + " and ".join(emptied))
    if not plan.is_free and not found.blends:
        changes.append("with none of the set blends left")
    return f"{found.seat.label}: {', '.join(changes)}." if changes else ""


def cautions_in_words(cautions: Iterable[SeatCaution]) -> list[str]:
    """Cautions in sentences, one for each text, with the materials that call for it."""
    names: dict[tuple[str, str], list[str]] = {}
    for each in cautions:
        name = [material(each.material).name] if each.material else []
        names.setdefault((each.because, each.text), []).extend(name)
    return [
        f"{', '.join(filter(None, [because, *of]))}: {text}"
        for (because, text), of in names.items()
    ]


def works_for_all(plan: ClassPlan) -> tuple[str, ...]:
    """Ids of the palette's oils that no seat leaves out, in the palette's order."""
    out = {oil_id for found in seat_plans(plan) for oil_id in found.leaves_out}
    return tuple(each.oil.id for each in plan.oils if each.oil.id not in out)


def plan_in_words(plan: ClassPlan) -> list[str]:
    """The class in sentences: who and what, the palette for all, and each seat to mind."""
    found = seat_plans(plan)
    size = show(plan.fields.liquid_m3 * ML_PER_M3)
    sentences = [
        f"{counted(len(plan.seats), 'seat')} at {counted(plan.tables, 'table')}, "
        f"{plan.minutes} minutes, {size} mL each, up to {counted(plan.total_drops, 'drop')} "
        "of oil."
    ]
    if not any(each.can_mix for each in found):
        sentences.append(
            "Nobody in this class can mix from it: change the oils or the carriers."
        )
    sentences.append(_palette_in_words(plan, works_for_all(plan)))
    for each in found:
        lines = (f"{each.seat.label} ◐ {line}" for line in cautions_in_words(each.cautions))
        sentences += [*filter(None, [_seat_in_words(plan, each)]), *lines]
    usual = Counter(each.carrier for each in found if each.can_mix and each.carrier)
    if usual:
        parts = [f"{catalogue.carrier(n).name} for {k}" for n, k in usual.most_common()]
        sentences.append(f"Carriers: {', '.join(parts)}.")
    if any(each.seat.wearers or each.seat.sun_afterwards for each in found):
        sentences.append(
            "These are the exclusions on record. What is not named is not cleared: read the "
            "cautions with each seat, and let them ask their doctor."
        )
    return sentences


def _palette_in_words(plan: ClassPlan, for_all: Collection[str]) -> str:
    names = [catalogue.oil(name).name for name in for_all]
    if not names:
        return "No oil of the palette works for every seat."
    if len(names) == len(plan.oils):
        return f"Nobody has to leave out any of the {counted(len(names), 'oil')}."
    gap = " and ".join(_emptied_notes(plan, {each.oil.id for each in plan.oils} - {*for_all}))
    lacking = f" It has no {gap} note." if gap else ""
    return f"One palette works for all: {', '.join(names)}.{lacking}"
