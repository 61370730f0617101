"""One bottle written in drops, in parts by mass, or in grams of each oil."""

from collections.abc import Mapping
from typing import Any

from blendkit.blend.blend import Blend
from blendkit.foundation.errors import attempt
from blendkit.foundation.units import G_PER_KG, show, to_si

_FIXED = ("drops", "mass")
_OF_MASS = ("by", "step", "make")


def rewrite(document: Mapping[str, Any], way: str, step: str) -> dict[str, Any]:
    """A blend document of the same bottle, written another way.

    Parameters
    ----------
    document : mapping
    way : str
        "drops", "mass" for parts by mass and a strength, or "grams" for a mass of each oil.
    step : str
        Smallest step of the scale.

    Returns
    -------
    dict
        For "grams", every oil has the mass it has in the bottle, in whole steps; otherwise the
        numbers of the ratio stay, and counts fixed by hand keep what they come to.
    """
    made, step_kg = attempt([], Blend, document), attempt([], to_si, step, "kg", name="step")
    new = {key: value for key, value in document.items() if key not in _OF_MASS}
    is_weighed = way != "drops"
    if is_weighed:
        new |= {"by": "mass", "step": step}
        new |= {"make": document["make"]} if "make" in document else {}
    if is_weighed != (document.get("by") == "mass"):
        new["strength_basis"] = "mass" if is_weighed else "drops"
    portions = {each.material: each for each in made.bottle.oils} if made else {}
    entries = []
    for entry in document["oils"]:
        free = {key: value for key, value in entry.items() if key not in _FIXED}
        portion, was_fixed = portions.get(str(entry["id"])), len(free) < len(entry)
        if made and portion and (way == "grams" or (was_fixed and way == "drops")):
            if way == "drops":
                free["drops"] = round(made.bottle.drops_like(portion))
            elif step_kg:
                steps = round(portion.mass_kg / step_kg)
                free["mass"] = f"{show(steps * step_kg * G_PER_KG, 9)} g"
        entries.append(free)
    return new | {"oils": entries}


def with_masses(document: Mapping[str, Any]) -> Mapping[str, Any]:
    """A document whose counts in steps of the scale are written as masses.

    A count that cannot be read stays as it is, for the check to refuse.
    """
    if document.get("by") != "mass" or not any("drops" in e for e in document["oils"]):
        return document
    step = document.get("step", "0.01 g")
    step_kg = attempt([], to_si, step, "kg", name="step")
    entries = []
    for entry in document["oils"]:
        count = entry.get("drops")
        if not step_kg or not isinstance(count, int):
            entries.append(entry)
            continue
        free = {key: value for key, value in entry.items() if key != "drops"}
        entries.append({**free, "mass": f"{show(count * step_kg * G_PER_KG, 9)} g"})
    return {**document, "oils": entries}
