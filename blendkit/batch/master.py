"""Oil concentrate (master): the oils without carrier, to dilute later at several strengths.

The oils keep the proportions of the one bottle that was mixed. Each dilution has its own skin
check, as it is weighed, because a concentrate within the limits at one strength may be over at
another.
"""

from collections.abc import Sequence
from typing import NamedTuple

from blendkit.batch import weighing
from blendkit.batch.bottles import Bottles, read_bottles
from blendkit.batch.scaling import check_total, fill_level
from blendkit.blend.blend import BlendLike, as_blend
from blendkit.blend.counts import carrier_density_kg_per_m3
from blendkit.blend.document import STRENGTH_BASES
from blendkit.blend.filling import Filling, Portion
from blendkit.foundation.errors import (
    BadNumber,
    Problem,
    attempt,
    check_known,
    quoted,
    refuse_any,
)
from blendkit.foundation.units import ML_PER_M3, show, show_g, show_ml, to_si
from blendkit.skin.check import rules_in
from blendkit.skin.limits import Finding

MASTER, MASTER_NAME = "master", "Oil concentrate"


class Dilution(NamedTuple):
    """Bottles of one size and strength, made of the master and carrier.

    Attributes
    ----------
    bottles : Bottles
    strength_fraction : float
        Target, on `basis`. [-]
    basis : str
        "drops", "volume" or "mass".
    weighings : tuple of Weighing
        For each single bottle: the master, its material named "master", then each carrier.
    worst : tuple of Finding
        Each rule in its own worst case of scale error, of master and bottle.
    """

    bottles: Bottles
    strength_fraction: float
    basis: str
    weighings: tuple[weighing.Weighing, ...]
    worst: tuple[Finding, ...]

    @property
    def master(self) -> weighing.Weighing:
        """Amount of the master for one bottle."""
        return self.weighings[0]

    @property
    def carriers(self) -> tuple[weighing.Weighing, ...]:
        """Amount of each carrier for one bottle."""
        return self.weighings[1:]

    @property
    def strength_by_mass(self) -> float:
        """Share of oils in the bottle as weighed. [-]"""
        return weighing.mass_fractions(self.weighings).get(MASTER, 0.0)


class Master(NamedTuple):
    """A master blend and its dilutions.

    Attributes
    ----------
    volume_m3 : float
        Total of oils to make, the loss included. [m3]
    loss_fraction, step_kg : float
        As in `blendkit.batch.scaling.Batch`.
    weighings : tuple of Weighing
        The oils, smallest first.
    dilutions : tuple of Dilution
        In the order asked for.
    """

    volume_m3: float
    loss_fraction: float
    step_kg: float
    weighings: tuple[weighing.Weighing, ...]
    dilutions: tuple[Dilution, ...]

    @property
    def bottles(self) -> tuple[Bottles, ...]:
        """Bottles of all dilutions."""
        return tuple(row.bottles for row in self.dilutions)

    @property
    def mass_kg(self) -> float:
        """Total of oils as measured out. [kg]"""
        return sum(each.mass_kg for each in self.weighings)

    @property
    def sentences(self) -> tuple[str, ...]:
        """Notes to read before weighing."""
        made = f"{show_g(self.mass_kg)} ({show_ml(self.volume_m3)})"
        sentences = [f"Concentrate: {made} of oils without carrier, not for skin as it is."]
        sentences += [
            f"{each.name} rounds to nothing: mix more, or use a finer scale."
            for each in self.weighings
            if not each.mass_kg
        ]
        for row in self.dilutions:
            if row.master.half_step_percent > weighing.NOTABLE_PERCENT:
                sentences.append(
                    f"{row.bottles}: the scale's last digit is ± "
                    f"{show(row.master.half_step_percent, 2)} % of the oils in one bottle. "
                    "Dilute for all the bottles together, or use a finer scale."
                )
        return tuple(sentences)


def master(
    blend: BlendLike,
    dilutions: Sequence[tuple[str, str]],
    *,
    basis: str | None = None,
    scale_step: str = weighing.SCALE_STEP,
    loss: str = "0 %",
) -> Master:
    """Scale the oils of a blend to a master for bottles at several strengths.

    Parameters
    ----------
    blend : Blend, document, or path
        Its oils in the proportion of its whole drops, its carriers in their parts.
    dilutions : sequence of (str, str)
        Bottles and their strength: ``[("8 × 10 mL", "20 %"), ("4 × 30 mL", "5 %")]``.
    basis : str, optional
        "drops", "volume" or "mass"; the blend's own where left out.
    scale_step, loss : str, optional
        As `blendkit.batch.scaling.scale`; the loss is one of master.

    Raises
    ------
    BadNumber
        Lists everything that cannot be read, and strengths that cannot be reached.

    Notes
    -----
    The amount of master for a strength follows from the amount of oils staying the same while
    carrier is added: strength x amount before = strength x amount after. Bottles are filled to
    the same level as the blend's own; volumes are taken to add up.
    """
    blend = as_blend(blend)
    problems: list[Problem] = []
    filling, basis = blend.bottle, basis or blend.strength_basis
    asked = _read(filling, dilutions, basis, problems)
    step_kg, lost = weighing.read_step_and_loss(problems, scale_step, loss)
    refuse_any(problems)
    level = fill_level(blend)
    shares = {strength: _master_share(filling, strength, basis) for _, strength in asked}
    used_m3 = sum(
        some.count * some.bottle_m3 * level * shares[strength] for some, strength in asked
    )
    volume_m3 = used_m3 / (1 - lost)
    check_total(volume_m3, "oil concentrate")
    times = volume_m3 / sum(portion.volume_m3 for portion in filling.oils)
    weighed = [weighing.weigh(each, times, step_kg) for each in filling.oils if each.drops]
    oils = tuple(sorted(weighed, key=lambda each: each.exact_mass_kg))
    rules = rules_in(blend)

    diluted = []
    for some, strength in asked:
        rows = _one_bottle(filling, some.bottle_m3 * level, shares[strength], step_kg)
        poured = weighing.mass_fractions(rows)
        poured.pop(MASTER, None)
        most = weighing.largest_share({MASTER: 1.0}, rows)
        worst = weighing.worst_findings(rules, oils, most, poured)
        diluted.append(Dilution(some, strength, basis, rows, worst))
    return Master(volume_m3, lost, step_kg, oils, tuple(diluted))


def _read(
    filling: Filling,
    dilutions: Sequence[tuple[str, str]],
    basis: str,
    problems: list[Problem],
) -> list[tuple[Bottles, float]]:
    check_known("strength_basis", basis, STRENGTH_BASES)
    if not dilutions:
        problems.append(Problem("dilutions", "nothing", "bottles and their strength"))
    asked = []
    for bottles, text in dilutions:
        rows = attempt(problems, read_bottles, bottles) or ()
        strength = attempt(problems, _read_strength, filling, text, basis)
        asked += [(some, strength) for some in rows if strength is not None]
    return asked


def _read_strength(filling: Filling, text: str, basis: str) -> float:
    """Read a strength that the master can reach. [-]"""
    strength = to_si(text, "dimensionless", name="strength")
    needed = "above 0 % and at most 100 %"
    if not 0 < strength <= 1:
        raise BadNumber([Problem("strength", quoted(text), needed)])
    share = _master_share(filling, strength, basis)
    if share > 1 + 1e-9:
        most = show(strength / share * 100)
        needed = f"at most {most} %, where the bottle holds nothing but oils"
        raise BadNumber([Problem("strength", f"{quoted(text)} by {basis}", needed)])
    if share < 1 - 1e-9 and not filling.carriers:
        raise BadNumber([Problem("carriers", "nothing", "a carrier to dilute the oils with")])
    return strength


def _master_share(filling: Filling, strength: float, basis: str) -> float:
    """Volume of master over volume of the bottle's liquid. [-]"""
    oils_m3 = sum(portion.volume_m3 for portion in filling.oils)
    if basis == "drops":
        per_m3 = filling.fields.drops_per_ml["default"] * ML_PER_M3
        return strength * per_m3 * oils_m3 / filling.oil_drops
    if basis == "volume" or strength == 1:
        return strength
    density = sum(portion.mass_kg for portion in filling.oils) / oils_m3
    carriers = filling.fields.carriers
    rest = carrier_density_kg_per_m3(carriers) if carriers else density
    return strength * rest / (density * (1 - strength) + strength * rest)


def _one_bottle(
    filling: Filling, liquid_m3: float, share: float, step_kg: float
) -> tuple[weighing.Weighing, ...]:
    oils = filling.oils
    oils_m3 = sum(portion.volume_m3 for portion in oils)
    master_m3 = liquid_m3 * min(share, 1.0)
    mass_kg = sum(portion.mass_kg for portion in oils) * master_m3 / oils_m3
    portions = [Portion(MASTER, MASTER_NAME, "oils", None, None, master_m3, mass_kg)]
    parts = filling.fields.carriers
    whole = sum(part.parts for part in parts)
    for part in parts:
        volume_m3 = (liquid_m3 - master_m3) * part.parts / whole
        kg = volume_m3 * part.carrier.density_kg_per_m3
        row = Portion(part.carrier.id, part.carrier.name, "carrier", None, None, volume_m3, kg)
        portions += [row] if kg > 0 else []
    return tuple(weighing.weigh(portion, 1.0, step_kg) for portion in portions)
