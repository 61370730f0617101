"""Amounts to count and weigh, and the error of the scale's last digit.

A mass that the scale reads to a hundredth is weighed, and so are hundreds of drops, because
counting them goes wrong. The rest is counted, because a scale cannot see a few drops. A drop
counted is a whole drop; a weight shown is a whole step of the scale.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from blendkit.blend.fields import Fields
from blendkit.blend.filling import Portion
from blendkit.foundation.errors import Problem, attempt, quoted
from blendkit.foundation.units import G_PER_KG, counted, to_si
from blendkit.materials.amounts import add_up
from blendkit.materials.catalogue import fold, unfold
from blendkit.skin.check import rules_in
from blendkit.skin.limits import Finding, Rule, findings_of

if TYPE_CHECKING:
    from pint import Quantity


WEIGHED_FROM_KG = 0.5e-3  # where half a step is no more than MOST_HALF_STEP of it; else
DROPS_UP_TO = 100  # are counted; both common practice, no published source
MOST_HALF_STEP = 0.01
SCALE_STEP = "0.01 g"
LARGEST_STEP_KG = 0.01
MOST_LOSS = 0.5
NOTABLE_PERCENT = 2.0  # where a last digit is worth a word; own choice, no published source
_ROUNDS = 50  # to the worst case; two or three are enough for the limits on record


class Weighing(NamedTuple):
    """One material of a batch: target amount and amount measured out.

    Attributes
    ----------
    material, name, note : str
        As in `blendkit.blend.filling.Portion`.
    way : str
        "drops" where they are counted, "grams" where the scale decides.
    exact_drops : float or None
        Target, before rounding; None for a carrier. [-]
    drops : int or None
        To count; None where it is weighed.
    exact_mass_kg, mass_kg : float
        Target, and measured out as whole drops or as whole steps of the scale. [kg]
    volume_m3 : float
        Of what is measured out. [m3]
    step_kg : float
        The scale's smallest step. [kg]
    """

    material: str
    name: str
    note: str
    way: str
    exact_drops: float | None
    drops: int | None
    exact_mass_kg: float
    mass_kg: float
    volume_m3: float
    step_kg: float

    @property
    def error_percent(self) -> float:
        """Rounding error of this material; below 0 where it takes some off. [%]"""
        return (self.mass_kg / self.exact_mass_kg - 1) * 100 if self.exact_mass_kg else 0.0

    @property
    def half_step_percent(self) -> float:
        """Largest error of one reading in % of this material; infinite where it reads 0. [%]

        0 for counted drops.
        """
        if self.way == "drops":
            return 0.0
        return self.step_kg / 2 / self.mass_kg * 100 if self.mass_kg else math.inf

    @property
    def standard_uncertainty_kg(self) -> float:
        """Standard uncertainty of one reading: step / sqrt(12). [kg]

        References
        ----------
        JCGM 100:2008 (GUM), F.2.2.1: every value within half a step is equally likely.
        """
        return self.step_kg / math.sqrt(12) if self.way == "grams" else 0.0

    @property
    def worst_error_kg(self) -> float:
        """Worst case: zero and reading are both half a step off, to the same side. [kg]"""
        return self.step_kg if self.way == "grams" else 0.0

    @property
    def reading(self) -> str:
        """Drops to count or scale reading to reach, such as "84 drops" or "12.30 g"."""
        if self.drops is not None:
            return counted(self.drops, "drop")
        return f"{self.mass_kg * G_PER_KG:.{decimals_of(self.step_kg)}f} g"


def weigh(portion: Portion, times: float, step_kg: float) -> Weighing:
    """Scale one material of a bottle to a batch.

    Parameters
    ----------
    portion : Portion
        Of one bottle.
    times : float
        Multiple of the one bottle. [-]
    step_kg : float
        The scale's smallest step. [kg]

    Returns
    -------
    Weighing
        In whole drops, halves rounded to even, where `is_counted`; else in steps.
    """
    exact_kg = portion.mass_kg * times
    exact_drops = None if portion.whole_drops is None else portion.whole_drops * times
    if is_counted(portion, times, step_kg):
        drops = round(exact_drops or 0)
        mass_kg = portion.mass_kg * drops / portion.drops if portion.drops else 0.0
        way = "drops"
    else:
        drops, way = None, "grams"
        mass_kg = round(exact_kg / step_kg) * step_kg
    volume_m3 = portion.volume_m3 * mass_kg / portion.mass_kg if portion.mass_kg else 0.0
    return Weighing(
        portion.material, portion.name, portion.note, way, exact_drops, drops,
        exact_kg, mass_kg, volume_m3, step_kg,
    )  # fmt: skip


def is_counted(portion: Portion, times: float, step_kg: float) -> bool:
    """True where a material is counted in drops, since the scale reads it too coarsely."""
    mass_kg = portion.mass_kg * times
    is_readable = mass_kg >= max(WEIGHED_FROM_KG, step_kg / 2 / MOST_HALF_STEP)
    drops = portion.whole_drops
    few = drops is not None and drops * times <= DROPS_UP_TO
    return few and not is_readable


def read_step_and_loss(
    problems: list[Problem], scale_step: str | Quantity[Any], loss: str
) -> tuple[float, float]:
    """Read the scale's smallest step [kg] and the share that stays on the tools [-].

    A step is above 0 and at most 10 g, a share from 0 % to 50 %; what is wrong with either is
    added to `problems`.
    """
    step_kg = attempt(problems, to_si, scale_step, "kg", name="scale step")
    if step_kg is not None and not 0 < step_kg <= LARGEST_STEP_KG:
        needed = 'a step above 0 and up to 10 g, such as "0.1 g" or "0.01 g"'
        problems.append(Problem("scale step", quoted(scale_step), needed))
    lost = attempt(problems, to_si, loss, "dimensionless", name="loss")
    if lost is not None and not 0 <= lost <= MOST_LOSS:
        problems.append(Problem("loss", quoted(loss), "a share from 0 % to 50 %"))
    return step_kg or 0.0, lost or 0.0


def decimals_of(step_kg: float) -> int:
    """Number of decimals in grams that a scale with this step shows."""
    step_g = step_kg * G_PER_KG
    return next((n for n in range(9) if abs(round(step_g, n) - step_g) < 1e-12), 9)


def mass_fractions(weighings: Iterable[Weighing]) -> dict[str, float]:
    """Share of each oil and carrier by mass, as measured out, mixtures unfolded. [-]"""
    masses = {each.material: each.mass_kg for each in weighings}
    whole = sum(masses.values())
    return {name: mass / whole for name, mass in unfold(masses).items()} if whole else {}


def largest_share(weights: Mapping[str, float], weighings: Sequence[Weighing]) -> float:
    """Largest weighted sum of mass fractions under worst-case scale error. [-]

    Parameters
    ----------
    weights : mapping of str to float
        By material; 0 for those not named. [-]
    weighings : sequence of Weighing

    Notes
    -----
    The sum is a quotient of two linear forms of the masses, so its maximum lies in a corner of
    the box they may lie in: each material as heavy as can be where its weight is above the
    maximum, as light as can be where below. Dinkelbach's iteration finds that corner.

    References
    ----------
    W. Dinkelbach, Management Science 13 (1967) 492 (recalled).
    """
    return _worst_corner(weights, weighings)[0]


def _worst_corner(
    weights: Mapping[str, float], weighings: Sequence[Weighing]
) -> tuple[float, dict[str, float]]:
    """Largest weighted sum of mass fractions [-], and the masses that give it. [kg]"""
    corner = {each.material: each.mass_kg for each in weighings}
    best, worst = -math.inf, corner
    for _ in range(_ROUNDS):
        whole = sum(corner.values())
        value = sum(fold(weights, n) * mass for n, mass in corner.items()) / (whole or 1.0)
        if value <= best:
            break
        best, worst = value, corner
        corner = {
            each.material: each.mass_kg + each.worst_error_kg
            if fold(weights, each.material) > value
            else max(each.mass_kg - each.worst_error_kg, 0.0)
            for each in weighings
        }
    return best, worst


def worst_findings(
    rules: Iterable[Rule],
    weighings: Sequence[Weighing],
    dilution: float = 1.0,
    poured: Mapping[str, float] = MappingProxyType({}),
) -> tuple[Finding, ...]:
    """Findings of a batch, each rule in its own worst case of scale error, worst first.

    Parameters
    ----------
    rules : iterable of Rule
    weighings : sequence of Weighing
    dilution : float, optional
        Share of the finished product that the weighed mixture makes, by mass. [-]
    poured : mapping of str to float, optional
        What else it holds, by mass: an infused carrier may bring oils of its own. [-]
    """
    found: list[Finding] = []
    for rule in rules:
        _, worst_kg = _worst_corner(rule.binding, weighings)
        whole = sum(worst_kg.values()) or 1.0
        fractions = {name: mass / whole * dilution for name, mass in worst_kg.items()}
        held = add_up((*unfold(fractions).items(), *poured.items()))
        found += findings_of([rule], held)
    known = [finding for finding in found if not finding.is_unknown]
    silent = [finding for finding in found if finding.is_unknown]
    return (*sorted(known, key=lambda finding: -finding.share), *silent)


def check_skin(weighings: Sequence[Weighing], blend: Fields) -> tuple[Finding, ...]:
    """Check a weighed batch against every limit on record, each in its own worst case."""
    return worst_findings(rules_in(blend), weighings)
