"""Scaling one bottle to a batch: amounts to count and weigh.

The bottle that is scaled is the one that was mixed, with its whole drops, and not the target
ratio: the bottle that was sniffed and liked is the one made again. Every material grows by the
same factor; only counting and weighing add an error, and that is shown and judged.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from blendkit.batch import weighing
from blendkit.batch.bottles import Bottles, bottles_in_words, read_bottles
from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.filling import Filling, Portion
from blendkit.foundation.errors import BadNumber, Problem, attempt, near_miss, quoted
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, show, show_g, show_ml
from blendkit.materials.amounts import as_volume, read_amount

if TYPE_CHECKING:
    from pint import Quantity

LARGEST_BATCH_M3 = 1.0


@dataclass(frozen=True)
class Batch:
    """A batch of one blend.

    Attributes
    ----------
    blend : Blend
        The one bottle.
    volume_m3 : float
        Total to make, the loss included. [m3]
    loss_fraction : float
        Share of the total that stays in beaker and funnel. [-]
    bottles : tuple of Bottles
        To be filled.
    limited_by : str
        Id of the material that runs out first; empty where none decides.
    step_kg : float
        The scale's smallest step. [kg]
    """

    blend: Blend
    volume_m3: float
    loss_fraction: float
    bottles: tuple[Bottles, ...]
    limited_by: str
    step_kg: float

    @cached_property
    def times(self) -> float:
        """Batch volume over the volume of the one bottle. [-]"""
        return self.volume_m3 / self.blend.bottle.volume_m3

    @cached_property
    def weighings(self) -> tuple[weighing.Weighing, ...]:
        """Amounts to count and weigh, smallest first: an early error costs little."""
        portions = [portion for portion in self.blend.bottle.portions if portion.mass_kg > 0]
        rows = [weighing.weigh(portion, self.times, self.step_kg) for portion in portions]
        return tuple(sorted(rows, key=lambda each: each.exact_mass_kg))

    @cached_property
    def mass_kg(self) -> float:
        """Total measured out. [kg]"""
        return sum(each.mass_kg for each in self.weighings)

    @cached_property
    def exact_mass_kg(self) -> float:
        """Total before rounding. [kg]"""
        return sum(each.exact_mass_kg for each in self.weighings)

    @property
    def filled_m3(self) -> float:
        """Volume for the bottles, after the loss. [m3]"""
        return self.volume_m3 * (1 - self.loss_fraction)

    @property
    def rest_m3(self) -> float:
        """Volume left over after filling the bottles. [m3]"""
        level = fill_level(self.blend)
        poured = sum(some.bottle_m3 * level * some.count for some in self.bottles)
        return max(self.filled_m3 - poured, 0.0)

    def mass_fractions(self) -> dict[str, float]:
        """Share of each material as measured out. [-]"""
        return weighing.mass_fractions(self.weighings)

    @property
    def strength_by_mass(self) -> float:
        """Share of oils as measured out. [-]"""
        oils = sum(each.mass_kg for each in self.weighings if each.note != "carrier")
        return oils / self.mass_kg if self.mass_kg else 0.0

    @cached_property
    def strength_by_mass_range(self) -> tuple[float, float]:
        """Range of the oil mass fraction under worst-case scale error. [-]"""
        # as typed: the solvent of a dilution is no carrier here
        is_oil = {each.material: float(each.note != "carrier") for each in self.weighings}
        rest = {name: 1.0 - one for name, one in is_oil.items()}
        least = 1 - weighing.largest_share(rest, self.weighings)
        return least, weighing.largest_share(is_oil, self.weighings)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Notes to read before weighing."""
        return (*_describe_amount(self), *_describe_errors(self))


def scale(
    blend: BlendLike,
    bottles: str | None = None,
    *,
    total: str | Quantity[Any] | None = None,
    at_most: Mapping[str, str | Quantity[Any]] | None = None,
    scale_step: str | Quantity[Any] = weighing.SCALE_STEP,
    loss: str = "0 %",
) -> Batch:
    """Scale one bottle of a blend to a batch.

    Exactly one of `bottles`, `total` and `at_most` sets the amount.

    Parameters
    ----------
    blend : Blend, document, or path
    bottles : str, optional
        To fill, each to the same level as the blend's own: "8 × 10 mL + 4 × 30 mL".
    total : str or pint Quantity, optional
        Total to make, the loss included, such as "500 mL" or "450 g"; as many of the blend's
        own bottles are filled as fit.
    at_most : mapping of str to str or pint Quantity, optional
        Amounts available of some materials, such as ``{"rose-absolute": "5 mL"}``: the largest
        batch that asks for no more of any, in whole drops or steps of the scale.
    scale_step : str or pint Quantity, optional
        The scale's smallest step, such as "0.1 g".
    loss : str, optional
        Share of the total that stays in beaker and funnel, from "0 %" to "50 %".

    Raises
    ------
    BadNumber
        Lists everything that cannot be read; more than one batch can be; materials that the
        blend holds none of; or too little of one for a drop or a step of the scale.
    """
    blend, problems = as_blend(blend), list[Problem]()
    step_kg, lost = weighing.read_step_and_loss(problems, scale_step, loss)
    ways = {"bottles": bottles, "total": total, "at_most": at_most}
    given = [name for name, value in ways.items() if value is not None]
    limited_by, filled = "", tuple[Bottles, ...]()
    if len(given) != 1:
        got = " and ".join(given) or "nothing"
        problems.append(Problem("how much", got, "one of " + ", ".join(ways)))
        volume_m3 = None
    elif bottles is not None:
        filled = tuple(attempt(problems, read_bottles, bottles) or ())
        whole_m3 = sum(some.count * some.bottle_m3 for some in filled)
        volume_m3 = whole_m3 * fill_level(blend) / (1 - lost)
    elif total is not None:
        density = blend.bottle.mass_kg / blend.bottle.volume_m3
        volume_m3 = attempt(problems, as_volume, total, density, name="total")
        if volume_m3 is not None and volume_m3 <= 0:
            problems.append(Problem("total", quoted(total), "more than nothing"))
    else:
        volume_m3, limited_by = _within(blend.bottle, at_most or {}, step_kg, problems)
    if problems or volume_m3 is None:
        raise BadNumber(problems)
    check_total(volume_m3, "batch")
    if not filled:  # as many of the blend's own bottles as fit
        count = math.floor(volume_m3 * (1 - lost) / blend.bottle.volume_m3 + 1e-9)
        filled = (Bottles(count, blend.bottle_m3),) if count else ()
    return Batch(blend, volume_m3, lost, filled, limited_by, step_kg)


def _within(
    filling: Filling, at_most: Mapping[str, Any], step_kg: float, problems: list[Problem]
) -> tuple[float | None, str]:
    """Find the largest volume [m3] within some amounts, and the material that limits it."""
    portions = {portion.material: portion for portion in filling.portions if portion.mass_kg}
    if not at_most:
        needed = 'at least one material and the amount available, such as "5 mL"'
        problems.append(Problem("amount available", "nothing", needed))
    times = {}
    for name, amount in at_most.items():
        if portion := portions.get(name):
            left_m3 = attempt(problems, read_amount, amount, name, name=portion.name) or 0.0
            times[name] = _times_within(portion, left_m3, step_kg)
        else:
            needed, hint = "a material of this blend", near_miss(name, portions)
            problems.append(Problem("amount available", quoted(name), needed, hint))
    if problems:
        return None, ""
    first = min(times, key=times.__getitem__)
    if not times[first]:
        needed = "enough for one drop or one step of the scale"
        problems.append(Problem(portions[first].name, quoted(at_most[first]), needed))
    return times[first] * filling.volume_m3, first


def _times_within(portion: Portion, available_m3: float, step_kg: float) -> float:
    """Find the largest multiple of one portion within an available volume. [-]"""
    times = available_m3 / portion.volume_m3 + 1e-9
    drops = portion.whole_drops
    if drops and weighing.is_counted(portion, times, step_kg):
        return math.floor(drops * times) / drops
    steps = math.floor(portion.mass_kg * times / step_kg)
    return steps * step_kg / portion.mass_kg


def check_total(volume_m3: float, name: str) -> None:
    """Refuse a volume that nobody makes in one go.

    Raises
    ------
    BadNumber
        More than `LARGEST_BATCH_M3`.
    """
    if volume_m3 > LARGEST_BATCH_M3:
        needed = f"at most {show_ml(LARGEST_BATCH_M3)}"
        raise BadNumber([Problem(name, show_ml(volume_m3), needed)])


def fill_level(blend: Blend) -> float:
    """Liquid in the blend's own bottle over its size; the same for larger bottles. [-]"""
    return blend.bottle.volume_m3 / blend.bottle_m3


def _describe_amount(batch: Batch) -> list[str]:
    volume, mass = batch.volume_m3 * ML_PER_M3, batch.exact_mass_kg * G_PER_KG
    made = f"{show(volume, 4)} mL ({show(mass, 4)} g)"
    sentences = [f"Makes {made}, {show(batch.times, 4)} times the one bottle."]
    if batch.limited_by:
        name = next(w.name for w in batch.weighings if w.material == batch.limited_by)
        sentences.append(f"{name} runs out first.")
    rest = show_ml(batch.rest_m3)
    if batch.bottles:
        left = f", {rest} left over" if batch.rest_m3 * ML_PER_M3 > 0.005 else ""
        sentences.append(f"Fills {bottles_in_words(batch.bottles)}{left}.")
    else:
        bottle = show_ml(batch.blend.bottle_m3)
        sentences.append(f"{rest} to fill: not one whole bottle of {bottle}.")
    if batch.loss_fraction:
        lost = show((batch.volume_m3 - batch.filled_m3) * ML_PER_M3)
        sentences.append(f"{lost} mL of it is allowed for beaker and funnel.")
    return sentences


def _describe_errors(batch: Batch) -> list[str]:
    sentences = [
        f"{each.name} rounds to nothing ({show_g(each.exact_mass_kg, 2)} needed): "
        "make a larger batch, count drops, or use a finer scale."
        for each in batch.weighings
        if not each.mass_kg
    ]
    weighed = [each for each in batch.weighings if each.mass_kg]
    if not weighed:
        return sentences
    most = max(weighed, key=lambda each: abs(each.error_percent))
    sentences.append(
        f"Rounding changes {most.name} most, by {show(most.error_percent, 2)} % of it."
        if abs(most.error_percent) >= 0.005
        else "Rounding changes nothing that counts."
    )
    coarse = [each for each in weighed if each.half_step_percent > weighing.NOTABLE_PERCENT]
    if coarse:
        names = ", ".join(f"{w.name} ± {show(w.half_step_percent, 2)} %" for w in coarse)
        sentences.append(f"The scale's last digit matters for {names}: use a finer scale.")
    low, high = batch.strength_by_mass_range
    sentences.append(
        f"Strength as measured out {show(batch.strength_by_mass * 100)} % by mass; "
        f"with the worst scale error, between {show(low * 100)} and {show(high * 100)} %."
    )
    return sentences
