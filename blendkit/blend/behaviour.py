"""Behaviour of a bottle's content: what may not dissolve, set, settle or stain; its thickness.

Every remark has its source. A figure that is not on record is named as such; nothing here says
that a bottle will stay clear.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import NamedTuple

from blendkit.blend.filling import Filling
from blendkit.foundation import data
from blendkit.foundation.units import GAS_CONSTANT_J_PER_MOL_K, show
from blendkit.materials.catalogue import OWN, Carrier, Oil, steeped_in
from blendkit.materials.constituents import constituent

COOL_K, ROOM_K = 288.15, 293.15
ENTROPY_OF_FUSION_J_PER_MOL_K = 56.5
REFUTAS = 14.534, 10.975, 0.8
_ANY_NAME = "*"
_WALDEN = (
    "ideal solubility with 56.5 J/mol/K for every crystal (Walden 1908; Yalkowsky, "
    "Ind. Eng. Chem. Fundam. 18 (1979) 108; both recalled)"
)
_HYGIENE = (
    "What is fresh or half dried brings water, and mould with it. Dry it through, strain it "
    "out, label the day, and throw away what turns cloudy or smells off. It keeps shorter than "
    "its carrier; by how much is on no record."
)


class Remark(NamedTuple):
    """One thing to know before the bottle is made.

    Attributes
    ----------
    behaviour : str
        "insoluble", "sets", "settles", "thick", "colour", "viscosity", "hygiene" or
        "not on record".
    text, source, grade : str
    """

    behaviour: str
    text: str
    source: str
    grade: str


def bottle_behaviour(filling: Filling) -> tuple[Remark, ...]:
    """Remarks on how the content of a bottle may behave, in sentences with their sources."""
    held = [row.material for row in filling.held if row.mass_kg > 0]
    unknown = [item.name for item in held if item.id.startswith(OWN)]
    typed = {portion.material for portion in filling.portions}
    remarks = [
        remark
        for item in held
        for remark in _recorded(item)
        if remark.behaviour != "sets" or item.id in typed  # what is in a dilution stays in it
    ]
    remarks += _may_settle(filling)
    remarks += _thickness(filling)
    if unknown:
        text = f"Whether all of it dissolves in oil: {', '.join(unknown)}."
        remarks.append(Remark("not on record", text, "", ""))
    steeped = {plants for item in filling.fields.mixtures for plants in steeped_in(item)}
    if steeped or filling.fields.botanicals_m3 > 0:
        names = ", ".join(sorted(steeped)) or "Dried botanicals"
        source = "common practice, no published source"
        remarks.append(Remark("hygiene", f"{names}: {_HYGIENE}", source, "common practice"))
    return tuple(remarks)


def _recorded(item: Oil | Carrier) -> Iterator[Remark]:
    ids = (item.id, item.based_on if isinstance(item, Oil) else item.like)
    for row in data.rows("bottle_behaviour"):
        word = row["material"].removeprefix(_ANY_NAME)
        is_named = word != row["material"] and word in item.name.lower()
        if row["material"] in ids or is_named:
            text = f"{item.name} {row['text']}."
            yield Remark(row["behaviour"], text, row["source"], row["grade"])


def solubility(melting_point_k: float, temperature_k: float = COOL_K) -> float:
    """Mole fraction of a crystal that an ideal liquid dissolves; 1 where it is melted. [-]

    Notes
    -----
    ``ln x = -(entropy of fusion / R) (melting point / temperature - 1)`` with Walden's entropy
    for all crystals. Crystals of round molecules, such as camphor, dissolve better.
    """
    excess = max(melting_point_k / temperature_k - 1, 0.0)
    return math.exp(-ENTROPY_OF_FUSION_J_PER_MOL_K / GAS_CONSTANT_J_PER_MOL_K * excess)


def _may_settle(filling: Filling) -> Iterator[Remark]:
    moles: dict[str, float] = {}
    whole = 0.0
    for item, _, mass_kg in filling.held:
        if not isinstance(item, Oil):
            whole += mass_kg / item.molar_mass_kg_per_mol
            continue
        for share in item.composition:
            molar_mass = constituent(share.constituent).molar_mass_kg_per_mol
            amount = mass_kg * share.typical / molar_mass
            moles[share.constituent] = moles.get(share.constituent, 0.0) + amount
            whole += amount
    for name, amount in moles.items():
        melting_k = _melting_points().get(name, 0.0)
        part = amount / whole
        if melting_k > ROOM_K and part > solubility(melting_k):
            text = (
                f"{constituent(name).name} may settle as crystals in a cool room: it is "
                f"{show(part * 100, 2)} % of the molecules and melts at "
                f"{show(melting_k - 273.15, 3)} °C."
            )
            yield Remark("settles", text, _WALDEN, "estimated")


@cache
def _melting_points() -> Mapping[str, float]:
    rows = data.rows("constituent_figures")
    used = (row for row in rows if row["quantity"] == "melting_point" and row["used"] == "yes")
    return {row["constituent"]: row["value"] for row in used}


def log_rule(parts: Iterable[tuple[float, float]]) -> float:
    """Viscosity of a mixture by the logarithmic (Arrhenius) rule, in the unit given.

    Parameters
    ----------
    parts : iterable of (float, float)
        Share and viscosity of each liquid; shares sum to 1.
    """
    return math.exp(sum(share * math.log(viscosity) for share, viscosity in parts))


def refutas(parts: Iterable[tuple[float, float]]) -> float:
    """Kinematic viscosity of a mixture by the Refutas index. [mm2/s]

    Parameters
    ----------
    parts : iterable of (float, float)
        Share by mass and kinematic viscosity [mm2/s] of each liquid, above 0.2.

    References
    ----------
    R. E. Maples, Petroleum Refinery Process Economics, 2nd ed. 2000 (quoted).
    """
    factor, offset, shift = REFUTAS
    index = sum(s * (factor * math.log(math.log(v + shift)) + offset) for s, v in parts)
    return math.exp(math.exp((index - offset) / factor)) - shift


def _thickness(filling: Filling) -> Iterator[Remark]:
    """Viscosity of the carriers together at 20 °C, between both rules and both ends."""
    poured = [(each.material, each.mass_kg) for each in filling.held
              if isinstance(each.material, Carrier) and each.mass_kg > 0]  # fmt: skip
    ends = [_viscosities().get(item.like or item.id) for item, _ in poured]
    missing = [item.name for (item, _), end in zip(poured, ends, strict=True) if not end]
    if missing:
        yield Remark("not on record", f"Viscosity: {', '.join(missing)}.", "", "")
    elif poured:
        whole_kg = sum(kg for _, kg in poured)
        whole_m3 = sum(kg / item.density_kg_per_m3 for item, kg in poured)
        shares = [(kg / whole_kg, item.density_kg_per_m3 / 1e3) for item, kg in poured]
        mean = whole_kg / whole_m3 / 1e3
        found = []
        for each in zip(*filter(None, ends), strict=True):
            pairs = list(zip(shares, each, strict=True))
            found.append(log_rule((part * mean / density, v) for (part, density), v in pairs))
            found.append(mean * refutas((part, v / density) for (part, density), v in pairs))
        text = (
            f"The carriers together have about {show(min(found), 2)} to {show(max(found), 2)} "
            "mPa·s at 20 °C; oils make it thinner, by how much is not on record."
        )
        yield Remark("viscosity", text, "logarithmic rule and Refutas index", "estimated")


@cache
def _viscosities() -> Mapping[str, tuple[float, float]]:
    """Lowest and highest viscosity of each carrier at 20 °C. [mPa s]"""
    rows = data.table("carrier_viscosities").itertuples(index=False)
    return {row[0]: (row[1], row[2]) for row in rows}
