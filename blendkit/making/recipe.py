"""Carrier to the target strength, and the bottle as a recipe.

A recipe is a blend document whose drops are fixed. Its drops are whole, so weighed or spilled
amounts are rounded, and `recipe_of` reports the rounding; the grams remain in the log.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import Blend
from blendkit.blend.counts import carrier_density_kg_per_m3
from blendkit.blend.document import MOST_DROPS_PER_ML, MOST_OVERFILL
from blendkit.foundation.errors import BadNumber, Problem
from blendkit.foundation.units import ML_PER_M3, counted, show, show_ml
from blendkit.making.bench_log import Bench
from blendkit.making.limit_preview import NEGLIGIBLE_M3
from blendkit.making.mixture import Mixture, is_oil
from blendkit.materials.amounts import add_up, material

_SHOWN_DIGITS = 4  # of parts in a document: far beyond any dropper


def carrier_to_strength_m3(mixture: Mixture, strength_fraction: float) -> float:
    """Volume of carrier that brings a mixture to a strength on its plan's basis. [m3]

    Parameters
    ----------
    mixture : Mixture
        With at least one oil.
    strength_fraction : float
        Target, above 0 and at most 1. [-]

    Returns
    -------
    float
        Of the planned carriers in their parts; below 0 where it is weaker already. [m3]

    Notes
    -----
    The amount of oil stays: C1 V1 = C2 V2, by volume or by drops; and likewise by mass.
    """
    basis = mixture.plan.fields.strength_basis
    if basis == "mass":
        added_kg = mixture.oils_kg / strength_fraction - mixture.mass_kg
        return added_kg / carrier_density_kg_per_m3(mixture.plan.fields.carriers)
    if basis == "volume":
        return mixture.oils_m3 / strength_fraction - mixture.volume_m3
    drops_per_m3 = mixture.plan.fields.drops_per_ml["default"] * ML_PER_M3
    return mixture.oil_drops / drops_per_m3 / strength_fraction - mixture.volume_m3


class Rebalance(NamedTuple):
    """Carrier to the target strength and to the mark.

    Attributes
    ----------
    to_strength_m3, to_fill_m3 : float
        0 or below where there is none to add. [m3]
    sentences : tuple of str
        Both, in sentences.
    """

    to_strength_m3: float
    to_fill_m3: float
    sentences: tuple[str, ...]


def rebalance(mixture: Mixture) -> Rebalance:
    """Calculate the carrier to the target strength, and that to the mark.

    Raises
    ------
    BadNumber
        No oil in it, or no carrier planned.
    """
    fields = mixture.plan.fields
    if not mixture.oils_kg or not fields.carriers:
        got, needed = ("no oil", "an oil") if fields.carriers else ("no carrier", "a carrier")
        raise BadNumber([Problem("carrier to add", f"{got} in this bottle", needed)])
    target = fields.strength_fraction
    to_strength, to_fill = carrier_to_strength_m3(mixture, target), mixture.room_m3
    full = mixture.fill_up().strength
    aim = f"{show(target * 100)} % by {fields.strength_basis}"
    if abs(to_strength) < NEGLIGIBLE_M3:
        sentences = [f"It is at the target of {aim}."]
    elif to_strength < 0:
        sentences = [f"It is below the target of {aim}: {show(mixture.strength * 100)} %."]
    else:
        sentences = [f"{show_ml(to_strength)} of carrier bring it to the target of {aim}."]
    if to_strength > max(to_fill, 0.0) + NEGLIGIBLE_M3:
        left = f"{show_ml(to_fill)} are left" if to_fill > NEGLIGIBLE_M3 else "no room is left"
        sentences.append(
            f"That does not fit: {left} to the mark. Use a larger "
            "bottle, or remove some of the mixture and record it as spilled."
        )
    if to_fill > NEGLIGIBLE_M3:
        sentences.append(
            f"{show_ml(to_fill)} of carrier fill it to the mark: {show(full * 100)} %."
        )
    elif to_fill < -NEGLIGIBLE_M3:
        over = show_ml(-to_fill)
        sentences.append(f"It is {over} above the mark: pour off {over}, or keep it so.")
    else:
        sentences.append("It is full to the mark.")
    return Rebalance(to_strength, to_fill, tuple(sentences))


class Recipe(NamedTuple):
    """A bottle as a blend document, with notes on the rounding.

    Attributes
    ----------
    document : dict
        Reads with `Blend.from_dict`; the drops of every oil are fixed.
    sentences : tuple of str
        Amounts rounded or assumed; empty where the document is the bottle exactly.
    """

    document: dict[str, Any]
    sentences: tuple[str, ...]


def recipe_of(bench: Bench, name: str) -> Recipe:
    """Write the bottle on the bench as a recipe to make again.

    Parameters
    ----------
    bench : Bench
    name : str

    Raises
    ------
    BadNumber
        No oil in the bottle.
    BadBlend
        The name is too long or broken.
    """
    mixture, assumed = bench.mixture, []
    if not mixture.oils_kg:
        raise BadNumber([Problem("bottle", "no oil in it", "at least a drop of oil")])
    if mixture.carrier_m3 == 0 and mixture.room_m3 > 0 and mixture.plan.fields.carriers:
        assumed.append("No carrier yet: counted as filled up to the mark with it.")
        mixture = mixture.fill_up()
    sizes = {oil: _drop_size(mixture, oil) for oil in mixture.oils}
    volumes_ml = {oil: mixture.volumes_m3[oil] * ML_PER_M3 for oil in sizes}
    drops = {oil: volumes_ml[oil] * size for oil, size in sizes.items() if volumes_ml[oil]}
    whole = whole_drops(drops, max(round(sum(drops.values())), 1))
    default = mixture.plan.fields.drops_per_ml["default"]
    own = {oil: sizes[oil] for oil in drops if sizes[oil] != default}
    of_notes = add_up((mixture.plan.note_of(oil), count) for oil, count in drops.items())
    document: dict[str, Any] = {
        "name": name,
        **_vessel(mixture, sum(count / sizes[oil] for oil, count in whole.items())),
        # by drops that run large, oils with next to no carrier come to more than 100 %
        "strength": f"{show(min(mixture.strength, 1.0) * 100)} %",
        "strength_basis": mixture.plan.fields.strength_basis,
        "drops_per_ml": {"default": default, **own} if own else default,
        "note_parts": {note: _plain(count) for note, count in of_notes.items()},
        "oils": [
            {
                "id": oil,
                "note": mixture.plan.note_of(oil),
                "parts": _plain(drops[oil]),
                "drops": whole[oil],
            }
            for oil in drops
        ],
        "carriers": [
            {"id": carrier, "parts": _plain(volume_m3 * ML_PER_M3)}
            for carrier, volume_m3 in mixture.volumes_m3.items()
            if not is_oil(carrier) and volume_m3 > 0
        ],
        **mixture.plan.fields.market.key(),
        **mixture.plan.fields.accepted_key(),
    }
    return Recipe(document, (*assumed, *_describe_rounding(mixture, drops, whole, document)))


def _drop_size(mixture: Mixture, name: str) -> float:
    """Drops per millilitre as a scale reading corrected them, or else as planned. [1/mL]"""
    planned = mixture.plan.fields.dropper_of(name)
    volume_ml = mixture.volumes_m3[name] * ML_PER_M3
    actual = mixture.amounts[name].drops / volume_ml if volume_ml else planned
    is_valid = 1 <= actual <= MOST_DROPS_PER_ML  # what a document can hold
    return float(f"{actual:.9g}") if is_valid and abs(actual / planned - 1) >= 1e-6 else planned


def _vessel(mixture: Mixture, oils_ml: float) -> dict[str, str]:
    """Write bottle, headspace and botanicals for the actual volume of liquid."""
    fields, oils_m3 = mixture.plan.fields, oils_ml / ML_PER_M3
    # the carrier is kept and the drops are rounded, but rounding never passes the mark
    most_m3 = max(fields.liquid_m3, mixture.volume_m3)
    liquid_m3 = max(oils_m3, min(oils_m3 + mixture.carrier_m3, most_m3))
    # an overfilled bottle stays the bottle it is
    least_m3 = (liquid_m3 + fields.botanicals_m3) / (1 + MOST_OVERFILL)
    bottle_m3 = max(fields.bottle_m3, least_m3)
    headspace_m3 = bottle_m3 - fields.botanicals_m3 - liquid_m3
    vessel = {"bottle": _rounded_ml(bottle_m3)}
    if abs(headspace_m3) > NEGLIGIBLE_M3:
        vessel["headspace"] = _rounded_ml(headspace_m3)
    if fields.botanicals_m3:
        vessel["botanicals"] = _rounded_ml(fields.botanicals_m3)
    return vessel


def _rounded_ml(volume_m3: float) -> str:
    return f"{round(volume_m3 * ML_PER_M3, 3):g} mL"


def _plain(number: float) -> float:
    """Round a number to few digits, and to an integer where it is one."""
    short = float(f"{number:.{_SHOWN_DIGITS}g}")
    return int(short) if short.is_integer() else short


def _describe_rounding(
    mixture: Mixture,
    drops: Mapping[str, float],
    whole: Mapping[str, int],
    document: Mapping[str, Any],
) -> list[str]:
    off = [
        f"{material(name).name} {show(drops[name])} → {counted(whole[name], 'drop')}"
        for name in drops
        if abs(drops[name] - whole[name]) > 0.005
    ]
    if not off:
        return []
    recipe = Blend.from_dict(document).bottle
    return [
        f"A recipe has whole drops, so rounded: {', '.join(off)}. The grams stay in the log.",
        f"By mass the oils are {show(mixture.strength_by_mass * 100)} % of the bottle, and "
        f"{show(recipe.strength_by_mass * 100)} % of the recipe.",
    ]
