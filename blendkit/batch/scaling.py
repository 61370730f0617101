"""One good bottle made many: what to count and weigh for a batch.

The bottle that is scaled is the one that was mixed, with its whole drops, and not the ratio
that was wished: what was sniffed and liked is what is made more of. Every material grows by
the same factor; only counting and weighing add an error, and that is shown and judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from blendkit.batch.bottles import Bottles, bottles_in_words, read_bottles
from blendkit.batch.sizing import (
    NOTABLE_PERCENT,
    SCALE_STEP,
    check_total,
    fill_level,
    read_step_and_loss,
    times_within,
    whole_bottles,
)
from blendkit.batch.weighing import (
    Weighing,
    largest_share,
    mass_fractions,
    weigh,
)
from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.filling import Filling
from blendkit.foundation.errors import BadNumber, Problem, attempt, near_miss, quoted
from blendkit.foundation.units import G_PER_KG, ML_PER_M3, show
from blendkit.materials.amounts import as_volume, read_amount

if TYPE_CHECKING:
    from pint import Quantity


@dataclass(frozen=True)
class Batch:
    """A batch of one blend.

    Attributes
    ----------
    blend : Blend
        Whose one bottle is made more of.
    volume_m3 : float
        To be made, what is lost on the way included. [m3]
    loss_fraction : float
        Of what is made, what stays in beaker and funnel. [-]
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

    @property
    def filling(self) -> Filling:
        """The one bottle."""
        return self.blend.bottle

    @cached_property
    def times(self) -> float:
        """How many times the one bottle's content is made. [-]"""
        return self.volume_m3 / self.filling.volume_m3

    @cached_property
    def weighings(self) -> tuple[Weighing, ...]:
        """What to count and weigh, smallest first: a slip early on costs little."""
        portions = [portion for portion in self.filling.portions if portion.mass_kg > 0]
        rows = [weigh(portion, self.times, self.step_kg) for portion in portions]
        return tuple(sorted(rows, key=lambda each: each.exact_mass_kg))

    @cached_property
    def mass_kg(self) -> float:
        """All that is measured out. [kg]"""
        return sum(each.mass_kg for each in self.weighings)

    @cached_property
    def exact_mass_kg(self) -> float:
        """All that is wanted. [kg]"""
        return sum(each.exact_mass_kg for each in self.weighings)

    @property
    def filled_m3(self) -> float:
        """What is left for the bottles once the loss is off. [m3]"""
        return self.volume_m3 * (1 - self.loss_fraction)

    @property
    def rest_m3(self) -> float:
        """What is left once the bottles are full. [m3]"""
        rest = self.filled_m3 - sum(pour.volume_m3 * pour.count for pour in pours(self))
        return max(rest, 0.0)

    def exact_mass_fractions(self) -> dict[str, float]:
        """Share of each material as wanted, which is that of the one bottle. [-]"""
        return {
            each.material: each.exact_mass_kg / self.exact_mass_kg for each in self.weighings
        }

    def mass_fractions(self) -> dict[str, float]:
        """Share of each material as measured out. [-]"""
        return mass_fractions(self.weighings)

    @property
    def strength_by_mass(self) -> float:
        """Share of oils as measured out. [-]"""
        oils = sum(each.mass_kg for each in self.weighings if each.note != "carrier")
        return oils / self.mass_kg if self.mass_kg else 0.0

    @cached_property
    def strength_by_mass_range(self) -> tuple[float, float]:
        """Between which shares of oils the batch lies, were every reading astray. [-]"""
        oils = {each.material: 1.0 for each in self.weighings if each.note != "carrier"}
        rest = {each.material: 1.0 for each in self.weighings if each.note == "carrier"}
        return 1 - largest_share(rest, self.weighings), largest_share(oils, self.weighings)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What to know before weighing, for people."""
        return (*_how_much(self), *_what_the_scale_does(self))


@dataclass(frozen=True)
class Pour:
    """How much goes into each bottle of one size."""

    bottle_m3: float
    count: int
    volume_m3: float
    mass_kg: float


def scale(
    blend: BlendLike,
    bottles: str | None = None,
    *,
    total: str | Quantity[Any] | None = None,
    at_most: Mapping[str, str | Quantity[Any]] | None = None,
    scale_step: str | Quantity[Any] = SCALE_STEP,
    loss: str = "0 %",
) -> Batch:
    """A batch of a blend: one good bottle made many.

    Exactly one of `bottles`, `total` and `at_most` says how much.

    Parameters
    ----------
    blend : Blend, document, or path
    bottles : str, optional
        To fill, each to the same level as the blend's own: "8 × 10 mL + 4 × 30 mL".
    total : str or pint Quantity, optional
        What is made, the loss included, such as "500 mL" or "450 g"; as many of the blend's
        own bottles are filled as fit.
    at_most : mapping of str to str or pint Quantity, optional
        What there is of some materials, such as ``{"rose-absolute": "5 mL"}``: the largest
        batch that asks for no more of any, in whole drops or steps of the scale.
    scale_step : str or pint Quantity, optional
        The scale's smallest step, such as "0.1 g".
    loss : str, optional
        Share of what is made that stays in beaker and funnel, from "0 %" to "50 %".

    Raises
    ------
    BadNumber
        Lists everything that cannot be read; more than one batch can be; materials that the
        blend holds none of; or too little of one for a drop or a step of the scale.
    """
    blend, problems = as_blend(blend), list[Problem]()
    step_kg, lost = read_step_and_loss(problems, scale_step, loss)
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
        volume_m3 = _total_m3(blend.bottle, total, problems)
    else:
        volume_m3, limited_by = _within(blend.bottle, at_most or {}, step_kg, problems)
    if problems or volume_m3 is None:
        raise BadNumber(problems)
    check_total(volume_m3, "batch")
    filled = filled or whole_bottles(blend, volume_m3 * (1 - lost))
    return Batch(blend, volume_m3, lost, filled, limited_by, step_kg)


def _total_m3(filling: Filling, total: Any, problems: list[Problem]) -> float | None:
    density = filling.mass_kg / filling.volume_m3
    volume_m3 = attempt(problems, as_volume, total, density, name="total")
    if volume_m3 is not None and volume_m3 <= 0:
        problems.append(Problem("total", quoted(total), "more than nothing"))
    return volume_m3


def _within(
    filling: Filling, at_most: Mapping[str, Any], step_kg: float, problems: list[Problem]
) -> tuple[float | None, str]:
    """The largest volume [m3] that some materials allow, and the one that runs out first."""
    held = {portion.material: portion for portion in filling.portions if portion.mass_kg}
    if not at_most:
        needed = 'at least one material and how much there is, such as "5 mL"'
        problems.append(Problem("what there is", "nothing", needed))
    for name in at_most:
        if name not in held:
            needed = "a material of this blend"
            problem = Problem("what there is", quoted(name), needed, near_miss(name, held))
            problems.append(problem)
    there = {
        name: attempt(problems, read_amount, amount, name, name=held[name].name) or 0.0
        for name, amount in at_most.items()
        if name in held
    }
    if problems:
        return None, ""
    times = {name: times_within(held[name], there[name], step_kg) for name in there}
    first = min(times, key=lambda name: times[name])
    if not times[first]:
        needed = "enough for one drop or one step of the scale"
        problems.append(Problem(held[first].name, quoted(at_most[first]), needed))
    return times[first] * filling.volume_m3, first


def pours(batch: Batch) -> tuple[Pour, ...]:
    """How much goes into each bottle, to the same level as in the blend's own."""
    density, level = batch.filling.mass_kg / batch.filling.volume_m3, fill_level(batch.blend)
    return tuple(
        Pour(
            some.bottle_m3, some.count, some.bottle_m3 * level, some.bottle_m3 * level * density
        )
        for some in batch.bottles
    )


def _how_much(batch: Batch) -> list[str]:
    volume, mass = batch.volume_m3 * ML_PER_M3, batch.exact_mass_kg * G_PER_KG
    made = f"{show(volume, 4)} mL ({show(mass, 4)} g)"
    told = [f"Makes {made}, {show(batch.times, 4)} times the one bottle."]
    if batch.limited_by:
        name = next(w.name for w in batch.weighings if w.material == batch.limited_by)
        told.append(f"{name} runs out first.")
    rest = f"{show(batch.rest_m3 * ML_PER_M3)} mL"
    if batch.bottles:
        left = f", {rest} left over" if batch.rest_m3 * ML_PER_M3 > 0.005 else ""
        told.append(f"Fills {bottles_in_words(batch.bottles)}{left}.")
    else:
        bottle = f"{show(batch.blend.bottle_m3 * ML_PER_M3)} mL"
        told.append(f"{rest} to fill: not one whole bottle of {bottle}.")
    if batch.loss_fraction:
        lost = show((batch.volume_m3 - batch.filled_m3) * ML_PER_M3)
        told.append(f"{lost} mL of it is allowed for what stays in beaker and funnel.")
    return told


def _what_the_scale_does(batch: Batch) -> list[str]:
    told = [
        f"{each.name} rounds to nothing ({show(each.exact_mass_kg * G_PER_KG, 2)} g wanted): "
        "make a larger batch, count drops, or take a finer scale."
        for each in batch.weighings
        if not each.mass_kg
    ]
    weighed = [each for each in batch.weighings if each.mass_kg]
    if not weighed:
        return told
    most = max(weighed, key=lambda each: abs(each.error_percent))
    told.append(
        f"Rounding changes {most.name} most, by {show(most.error_percent, 2)} % of it."
        if abs(most.error_percent) >= 0.005
        else "Rounding changes nothing that counts."
    )
    coarse = [each for each in weighed if each.half_step_percent > NOTABLE_PERCENT]
    if coarse:
        names = ", ".join(f"{w.name} ± {show(w.half_step_percent, 2)} %" for w in coarse)
        told.append(f"The scale's last digit weighs much in {names}: a finer scale helps.")
    low, high = batch.strength_by_mass_range
    told.append(
        f"Strength as measured out {show(batch.strength_by_mass * 100)} % by mass; if every "
        f"reading were off, between {show(low * 100)} and {show(high * 100)} %."
    )
    return told
