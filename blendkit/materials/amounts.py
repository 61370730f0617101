"""Amounts of a material as a person writes them: by volume or mass, never by drops.

One place turns grams into millilitres and back, by the density on record at 20 degrees Celsius.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from blendkit.foundation.errors import BadNumber, Problem, UnknownMaterial, near_miss, quoted
from blendkit.foundation.units import is_positive_number, show, to_si
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Carrier, Oil

if TYPE_CHECKING:
    from pint import Quantity


_OUNCE = re.compile(r"(?i)[\d\s.,]+(oz\.?|ounces?)")


def add_up(amounts: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Sum amounts by name, in the order of the names.

    Examples
    --------
    >>> add_up([("jojoba", 2.0), ("lavender", 1.0), ("jojoba", 0.5)])
    {'jojoba': 2.5, 'lavender': 1.0}
    """
    totals: dict[str, float] = {}
    for name, amount in amounts:
        totals[name] = totals.get(name, 0.0) + amount
    return totals


def material(material_id: str) -> Oil | Carrier:
    """An oil or a carrier by its id.

    Raises
    ------
    UnknownMaterial
        With the nearest known id.
    """
    if own := catalogue.find_own(material_id):
        return own
    with contextlib.suppress(UnknownMaterial):
        return catalogue.shipped_material(material_id)
    is_oil = near_miss(material_id, catalogue.oil_ids())
    is_carrier = not is_oil and near_miss(material_id, catalogue.carrier_ids())
    return catalogue.carrier(material_id) if is_carrier else catalogue.oil(material_id)


def shelf_id(material_id: str) -> str:
    """Id of a material on the shelf: lots count with their oil, versions with each other."""
    return material(material_id).id.partition(catalogue.OWN_MARK)[0]


def read_amount(value: str | Quantity[Any], material_id: str, *, name: str) -> float:
    """Read an amount of a material as its volume.

    Parameters
    ----------
    value : str
        Such as "5 mL", "30 g" or "1 fl oz" (the US fluid ounce); more than nothing.
    material_id : str
        Whose density turns a mass into a volume.
    name : str
        What the amount is, for the message.

    Returns
    -------
    float
        [m3]

    Raises
    ------
    BadNumber
        No unit, neither a volume nor a mass, nothing or less; or a bare "oz", which sellers of
        liquids write for two different things.

    References
    ----------
    NIST Special Publication 811, Appendix B, for the ounces.

    Examples
    --------
    >>> read_amount("1 fl oz", "jojoba", name="pack")
    2.95735295625e-05
    """
    volume_m3 = as_volume(value, material(material_id).density_kg_per_m3, name=name)
    if volume_m3 <= 0:
        raise BadNumber([Problem(name, quoted(value), "more than nothing")])
    return volume_m3


def as_volume(value: str | Quantity[Any], density_kg_per_m3: float, *, name: str) -> float:
    """Read a volume, or a mass with its density, as a volume; 0 and below are allowed. [m3]

    Raises
    ------
    BadNumber
        No unit, neither a volume nor a mass, or a bare "oz".
    """
    needed = 'a volume or a mass with its unit, such as "10 mL" or "30 g"'
    if isinstance(value, str) and _OUNCE.fullmatch(value.strip()):
        fix = 'Write "1 fl oz" for a fluid ounce (29.57 mL), or grams (1 oz is 28.35 g).'
        got = f"{quoted(value)}, which may be a weight or a fluid ounce"
        raise BadNumber([Problem(name, got, needed, fix)])
    with contextlib.suppress(BadNumber):
        return to_si(value, "m**3", name=name)
    try:
        return to_si(value, "kg", name=name) / density_kg_per_m3
    except BadNumber as error:
        raise BadNumber([Problem(name, error.problems[0].got, needed)]) from None


def check_percents(percents: Mapping[str, Any]) -> None:
    """Refuse percents by mass of one product that are none, or more than all of it.

    Raises
    ------
    BadNumber
        A percent below 0 or not a number, or more than 100 in all.
    """
    problems = [
        Problem(name, quoted(percent), "a percent by mass from 0 to 100")
        for name, percent in percents.items()
        if isinstance(percent, bool)
        or not (percent == 0 or is_positive_number(percent))
        or percent > 100
    ]
    if not problems and sum(percents.values()) > 100 * (1 + 1e-9):
        got = f"{show(sum(percents.values()))} % in all"
        problems.append(Problem("composition", got, "at most 100 %, carrier included"))
    if problems:
        raise BadNumber(problems)
