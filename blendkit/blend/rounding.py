"""Effects of rounding to whole drops, and ways round them.

Totals that need no rounding, oils that get no drop and how to carry them, and small copies
for sniffing.
"""

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from blendkit.blend.apportionment import exact_totals, whole_drops
from blendkit.blend.blend import Blend
from blendkit.blend.counts import share_out, target_shares, total_drops
from blendkit.blend.document import LARGEST_BOTTLE_M3
from blendkit.blend.fields import Fields
from blendkit.blend.filling import Filling
from blendkit.foundation.units import ML_PER_M3, show

PREDILUTION = Fraction(1, 10)
PREDILUTIONS = (PREDILUTION, Fraction(1, 100), Fraction(1, 1000))
_MOST_BOTTLES_TRIED = 400


def largest_rounding_error(filling: Filling) -> float:
    """Largest distance of an oil from its target count, in drops. [-]"""
    errors = [
        abs((p.drops or 0) - p.target_drops) for p in filling.oils if p.target_drops is not None
    ]
    return max(errors, default=0.0)


def exact_totals_near(blend: Blend) -> list[int]:
    """Totals within a tenth of the blend's own at which its ratio needs no rounding.

    Returns
    -------
    list of int
        Nearest first; empty where there is none, or where a count is fixed by hand.
    """
    if any(part.fixed_drops is not None for part in blend.oils):
        return []
    return exact_totals(list(target_shares(blend).values()), near=blend.total_drops)


@dataclass(frozen=True)
class LeftOut:
    """An oil whose share is too small for one drop, and two ways to carry it.

    Attributes
    ----------
    material, name : str
    fields : Fields
        Of its blend.
    target_drops : float
        Its share before rounding. [-]
    bottle_m3 : float
        A bottle, at the same strength, that gives it a whole drop; infinite where that would
        be larger than any bottle this package takes. [m3]
    predilution : Fraction
        Strength of a pre-dilution in carrier that carries its share. [-]
    predilution_drops : int
        Drops of it.
    """

    material: str
    name: str
    fields: Fields
    target_drops: float
    bottle_m3: float
    predilution: Fraction
    predilution_drops: int

    def __str__(self) -> str:
        weighed = self.fields.step_kg is not None
        one = self.fields.plain_count(1) if weighed else "one drop"
        part, of = ("1 g", "a step of the scale") if weighed else ("1 drop", "a drop")
        bottle = (
            f"A bottle of {show(self.bottle_m3 * ML_PER_M3, 4)} mL would carry {one}"
            if math.isfinite(self.bottle_m3)
            else f"No bottle here is large enough for {one}"
        )
        carrier = int(1 / self.predilution) - 1
        return (
            f"{self.name} is asked for {show(self.target_drops, 2)} of {of} and rounds to "
            f"none. {bottle}; or make a {show(float(self.predilution) * 100)} % pre-dilution "
            f"({part} in {carrier} of carrier) and use "
            f"{self.fields.count_in_words(self.predilution_drops)} of it."
        )


def list_left_out(filling: Filling) -> list[LeftOut]:
    """Oils that are in the ratio but get no drop."""
    return [
        LeftOut(
            portion.material,
            portion.name,
            filling.fields,
            portion.target_drops,
            _bottle_with_m3(filling.fields, portion.material, portion.target_drops),
            *_predilution(portion.target_drops),
        )
        for portion in filling.oils
        if portion.drops == 0 and portion.target_drops
    ]


def _predilution(target_drops: float) -> tuple[Fraction, int]:
    """The strongest pre-dilution whose whole drops carry a share within a third of it."""
    for strength in PREDILUTIONS:
        drops = round(target_drops / strength)
        if abs(drops * float(strength) - target_drops) <= target_drops / 3:
            break
    return strength, max(drops, 1)


def _bottle_with_m3(fields: Fields, oil_id: str, target_drops: float) -> float:
    """The smallest bottle, in steps fit for its size, in which an oil gets a drop. [m3]"""
    bottle_ml = fields.bottle_m3 * ML_PER_M3
    # where the oil's share comes to a drop it surely has one; nearby, rounding may give it one
    sure_ml = bottle_ml * 2 / target_drops
    for step_ml in (0.1, 1.0, 10.0, 100.0):
        first = math.floor(bottle_ml / step_ml) + 1
        last = min(first + _MOST_BOTTLES_TRIED, math.ceil(sure_ml / step_ml) + 1)
        for step in range(first, last):
            volume_m3 = step * step_ml / ML_PER_M3
            if volume_m3 > LARGEST_BOTTLE_M3:
                return math.inf
            larger = replace(fields, bottle_m3=volume_m3)
            if share_out(larger, total_drops(larger))[oil_id]:
                return volume_m3
    return math.inf


@dataclass(frozen=True)
class Miniature:
    """A whole-drop copy of a blend, for sniffing before anything is mixed.

    Attributes
    ----------
    drops : dict of str to int
        By oil id; at least one of each.
    largest_error : float
        Largest difference of an oil's share from the blend's. [-]
    """

    drops: dict[str, int]
    largest_error: float

    @property
    def total(self) -> int:
        """Drops in all."""
        return sum(self.drops.values())


def miniatures(filling: Filling, most_drops: int = 60) -> list[Miniature]:
    """The smallest whole-drop copies of the blend, each nearer than the one before.

    Parameters
    ----------
    filling : Filling
    most_drops : int, optional
        Where to stop looking.

    Returns
    -------
    list of Miniature
        From the smallest total that gives every oil a drop, up to an exact copy or to
        `most_drops`. Empty where even `most_drops` leaves an oil out.
    """
    counts: dict[str, int | float] = {
        portion.material: filling.drops_like(portion) if portion.is_weighed else portion.drops
        for portion in filling.oils
        if portion.drops
    }
    in_all = sum(counts.values())
    shares = {name: count / in_all for name, count in counts.items()}
    copies: list[Miniature] = []
    for total in range(len(counts), most_drops + 1):
        drops = whole_drops(counts, total)
        if min(drops.values()) == 0:
            continue
        error = max(abs(drops[name] / total - share) for name, share in shares.items())
        if not copies or error < copies[-1].largest_error - 1e-12:
            copies.append(Miniature(drops, error))
        if error < 1e-12:
            break
    return copies
