"""Changes between two versions of a blend, in words."""

from collections.abc import Iterator

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.filling import Filling, Portion
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, counted, show, show_g

_SAME_WITHIN = 0.005  # relative: less than this of a strength or a pour is no change


def compare(before: BlendLike, after: BlendLike) -> list[str]:
    """List the changes from the first blend to the second.

    Parameters
    ----------
    before, after : Blend, document, or path

    Returns
    -------
    list of str
        Bottle, oils drop by drop, carriers, then strength; one sentence that says so where
        nothing differs.
    """
    before, after = as_blend(before), as_blend(after)
    same = "Nothing differs: the same drops in the same bottle."
    return list(_changes(before, after)) or [same]


def _changes(before: Blend, after: Blend) -> Iterator[str]:
    if before.name != after.name:
        yield f"Called “{after.name}”, before “{before.name}”."
    yield from _amount("Bottle", before.bottle_m3, after.bottle_m3)
    yield from _amount("Liquid in it", before.liquid_m3, after.liquid_m3)
    yield from _amount("Dried botanicals", before.botanicals_m3, after.botanicals_m3)
    was, now = before.bottle, after.bottle
    yield from _oils(was, now)
    old = {portion.name: portion.volume_m3 for portion in was.carriers}
    new = {portion.name: portion.volume_m3 for portion in now.carriers}
    for name in dict.fromkeys([*old, *new]):
        yield from _amount(name, old.get(name, 0.0), new.get(name, 0.0))
    drops = (was.strength_by_drops, now.strength_by_drops)
    yield from _amount("Strength by drops", *drops, 100, "%")
    yield from _amount("Strength by mass", was.strength_by_mass, now.strength_by_mass, 100, "%")


def _amount(
    name: str, was: float, now: float, factor: float = ML_PER_M3, unit: str = "mL"
) -> Iterator[str]:
    if abs(was - now) > _SAME_WITHIN * max(was, now):
        yield f"{name}: {show(was * factor)} → {show(now * factor)} {unit}."


def _oils(was: Filling, now: Filling) -> Iterator[str]:
    old = {portion.material: portion for portion in was.oils}
    new = {portion.material: portion for portion in now.oils}
    for name in dict.fromkeys([*old, *new]):
        if name not in new:
            yield f"{old[name].name}: out, was {counted(old[name].drops or 0, 'drop')}."
        elif name not in old:
            yield f"{new[name].name}: new, {counted(new[name].drops or 0, 'drop')}."
        else:
            yield from _oil(old[name], new[name])


def _oil(old: Portion, new: Portion) -> Iterator[str]:
    if old.drops != new.drops:
        more = (new.drops or 0) - (old.drops or 0)
        way = f"{counted(abs(more), 'drop')} {'more' if more > 0 else 'fewer'}"
        yield f"{old.name}: {old.drops} → {counted(new.drops or 0, 'drop')} ({way})."
    elif abs(old.mass_kg - new.mass_kg) > _SAME_WITHIN * max(old.mass_kg, new.mass_kg):
        grams = f"{show(old.mass_kg * G_PER_KG)} → {show_g(new.mass_kg)}"
        yield f"{old.name}: as many drops of another size, {grams}."
    if old.note != new.note:
        yield f"{old.name}: {old.note} → {new.note} note."
