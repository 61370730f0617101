"""How much can be made: the scale's step and the loss as typed, and what there is room for."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from blendkit.batch.bottles import Bottles
from blendkit.batch.weighing import DROPS_UP_TO, read_step
from blendkit.blend.blend import Blend
from blendkit.blend.filling import Portion
from blendkit.foundation.errors import BadNumber, Problem, attempt, quoted
from blendkit.foundation.units import ML_PER_M3, show, to_si

if TYPE_CHECKING:
    from pint import Quantity


SCALE_STEP = "0.01 g"
LARGEST_BATCH_M3 = 1.0
MOST_LOSS = 0.5
NOTABLE_PERCENT = 2.0  # where a last digit is worth a word; own choice, no published source


def read_loss(text: str) -> float:
    """Share of what is made that stays on the tools, such as "2 %". [-]

    Raises
    ------
    BadNumber
        No share, or not from 0 % to 50 %.
    """
    lost = to_si(text, "dimensionless", name="loss")
    if not 0 <= lost <= MOST_LOSS:
        raise BadNumber([Problem("loss", quoted(text), "a share from 0 % to 50 %")])
    return lost


def read_step_and_loss(
    problems: list[Problem], scale_step: str | Quantity[Any], loss: str
) -> tuple[float, float]:
    """Both, with what is wrong with either added to `problems`."""
    step_kg = attempt(problems, read_step, scale_step) or 0.0
    return step_kg, attempt(problems, read_loss, loss) or 0.0


def check_total(volume_m3: float, name: str) -> None:
    """Refuse what nobody makes in one go.

    Raises
    ------
    BadNumber
        More than `LARGEST_BATCH_M3`.
    """
    if volume_m3 > LARGEST_BATCH_M3:
        needed = f"at most {show(LARGEST_BATCH_M3 * ML_PER_M3)} mL"
        raise BadNumber([Problem(name, f"{show(volume_m3 * ML_PER_M3)} mL", needed)])


def fill_level(blend: Blend) -> float:
    """How full the blend's own bottle is; larger bottles get as much more headspace. [-]"""
    return blend.bottle.volume_m3 / blend.bottle_m3


def whole_bottles(blend: Blend, filled_m3: float) -> tuple[Bottles, ...]:
    """As many of the blend's own bottles as a volume fills to its own level."""
    count = math.floor(filled_m3 / (blend.bottle_m3 * fill_level(blend)) + 1e-9)
    return (Bottles(count, blend.bottle_m3),) if count else ()


def times_within(portion: Portion, there_m3: float, step_kg: float) -> float:
    """The most that can be made of one material without asking for more than there is. [-]"""
    times = there_m3 / portion.volume_m3 + 1e-9
    if portion.drops is not None and portion.drops * times <= DROPS_UP_TO:
        return math.floor(portion.drops * times) / portion.drops
    steps = math.floor(portion.mass_kg * times / step_kg)
    return steps * step_kg / portion.mass_kg
