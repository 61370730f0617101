"""Whole drops of each oil: from strength, bottle and ratio to counts.

The functions take the fields of a document, which a `Blend` has as well.
"""

from collections.abc import Mapping
from fractions import Fraction

from blendkit.blend.apportionment import Claim, drops_by_note, targets_by_note
from blendkit.blend.document import MOST_DROPS_PER_ML
from blendkit.blend.fields import CarrierPart, Fields
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import ML_PER_M3, show


def target_shares(fields: Fields) -> dict[str, Fraction]:
    """Each oil's share of the drops as the ratio says, where no count is fixed."""
    return targets_by_note(1, fields.note_parts, claims_of(fields))


def total_drops(fields: Fields) -> int:
    """Drops of oil in all that make the strength, on its basis.

    Notes
    -----
    With D drops in proportion to the shares s_i, the oils take the volume D v and the mass
    D m (v = sum of s_i / drops per m3, m = sum of s_i density_i / drops per m3):

    - by drops, D = strength x the drops that fill the bottle at the default drop size;
    - by volume, D v = strength x V, with V the liquid volume;
    - by mass, D m / (D m + (V - D v) x carrier density) = strength, solved for D;
    - of a mass to make, D m = strength x that mass.

    In a blend by mass a drop is a step of the scale: all of this holds for steps as well.

    Volumes are taken to add up on mixing.
    """
    strength, liquid_m3 = fields.strength_fraction, fields.liquid_m3
    if fields.make_kg and fields.step_kg:
        return round(strength * fields.make_kg / fields.step_kg)
    if fields.strength_basis == "drops":
        return round(strength * liquid_m3 * ML_PER_M3 * fields.drops_per_ml["default"])
    if any(part.fixed_drops is not None for part in fields.oils):
        return _total_with_fixed_counts(fields)
    shares = target_shares(fields)
    volume_m3 = mass_kg = 0.0
    for part in fields.oils:
        share = float(shares[part.oil.id])
        drop_m3 = 1 / (fields.drops_per_ml_of(part.oil.id) * ML_PER_M3)
        volume_m3 += share * drop_m3
        mass_kg += share * drop_m3 * part.oil.density_kg_per_m3
    if fields.strength_basis == "volume":
        return round(strength * liquid_m3 / volume_m3)
    if strength == 1:
        return round(liquid_m3 / volume_m3)
    carrier_density = carrier_density_kg_per_m3(fields.carriers)
    weight = mass_kg * (1 - strength) + strength * volume_m3 * carrier_density
    return round(strength * liquid_m3 * carrier_density / weight)


def _total_with_fixed_counts(fields: Fields) -> int:
    """The total whose oils, fixed counts among them, come nearest to the target strength.

    The share of oils grows with the total, so halving the interval finds it.
    """
    low = sum(part.fixed_drops or 0 for part in fields.oils)
    if all(part.fixed_drops is not None for part in fields.oils):
        return low
    high = low + round(fields.liquid_m3 * ML_PER_M3 * MOST_DROPS_PER_ML) + 1
    while high - low > 1:
        middle = (low + high) // 2
        if _share_of_oils(fields, middle) < fields.strength_fraction:
            low = middle
        else:
            high = middle
    target = fields.strength_fraction
    return min((low, high), key=lambda total: abs(_share_of_oils(fields, total) - target))


def _share_of_oils(fields: Fields, total: int) -> float:
    """Share of oils by the blend's basis, volume or mass, with `total` drops. [-]"""
    drops = drops_by_note(total, fields.note_parts, claims_of(fields))
    volume_m3, mass_kg = _amount_of_oils(fields, drops)
    if fields.strength_basis == "volume" or not fields.carriers:
        return volume_m3 / fields.liquid_m3
    carrier_density = carrier_density_kg_per_m3(fields.carriers)
    return mass_kg / (mass_kg + max(fields.liquid_m3 - volume_m3, 0.0) * carrier_density)


def _amount_of_oils(fields: Fields, drops: Mapping[str, int]) -> tuple[float, float]:
    """Volume and mass of the oils with these counts. [m3, kg]"""
    volume_m3 = mass_kg = 0.0
    for part in fields.oils:
        oil_m3 = drops[part.oil.id] / (fields.drops_per_ml_of(part.oil.id) * ML_PER_M3)
        volume_m3 += oil_m3
        mass_kg += oil_m3 * part.oil.density_kg_per_m3
    return volume_m3, mass_kg


def carrier_density_kg_per_m3(carriers: tuple[CarrierPart, ...]) -> float:
    """Density of the carriers mixed by volume; needs at least one. [kg/m3]"""
    whole = sum(part.parts for part in carriers)
    return sum(part.parts * part.carrier.density_kg_per_m3 for part in carriers) / whole


def volume_to_make(fields: Fields, drops: Mapping[str, int]) -> float | None:
    """Volume of the mass to make, with these counts; None where a bottle is filled. [m3]"""
    if fields.make_kg is None:
        return None
    oils_m3, oils_kg = _amount_of_oils(fields, drops)
    rest_kg = max(fields.make_kg - oils_kg, 0.0) if fields.carriers else 0.0
    if not rest_kg:
        return oils_m3
    return oils_m3 + rest_kg / carrier_density_kg_per_m3(fields.carriers)


def claims_of(fields: Fields) -> list[Claim]:
    """The oils' claims on the drops, for `blendkit.blend.apportionment`."""
    return [Claim(p.oil.id, p.note, p.parts, p.fixed_drops) for p in fields.oils]


def share_out(fields: Fields, total: int) -> dict[str, int]:
    """Whole drops of each oil when there are `total` drops of oil in all.

    Raises
    ------
    BadNumber
        Fewer drops than oils, or fixed counts beyond the total.
    """
    free = sum(part.fixed_drops is None for part in fields.oils)
    if total < free:
        got = f"{total} drops of oil in all at {show(fields.strength_fraction * 100)} %"
        needed = f"one drop of each of {free} oils"
        fix = "Take a larger bottle, a higher strength or fewer oils."
        raise BadNumber([Problem("bottle", got, needed, fix)])
    return drops_by_note(total, fields.note_parts, claims_of(fields))
