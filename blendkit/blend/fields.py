"""Fields of a blend document as numbers and materials."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from blendkit.blend.market import Market
from blendkit.foundation.units import ML_PER_M3
from blendkit.materials import catalogue


@dataclass(frozen=True)
class OilPart:
    """One oil of a blend: its note here, its parts within the note, or its fixed count."""

    oil: catalogue.Oil
    note: str
    parts: float
    fixed_drops: int | None


@dataclass(frozen=True)
class CarrierPart:
    """One carrier of a blend and its parts by volume among the carriers."""

    carrier: catalogue.Carrier
    parts: float


@dataclass(frozen=True)
class Fields:
    """The fields of a blend document as numbers and materials.

    Attributes
    ----------
    name : str
    bottle_m3 : float
        What the bottle holds when filled to its usual mark. [m3]
    headspace_m3 : float
        Room left empty below that mark, for the roller ball. [m3]
    botanicals_m3 : float
        Liquid displaced by dried botanicals put in. [m3]
    strength_fraction : float
        Target share of essential oils, on `strength_basis`. [-]
    strength_basis : str
        "drops", "volume" or "mass".
    drops_per_ml : read-only mapping of str to float
        By material id, "default" among them. [1/mL]
    note_parts : read-only mapping of str to float
    oils : tuple of OilPart
    carriers : tuple of CarrierPart
    market : Market
        Where it is sold or worn, and as what.
    accepted : read-only mapping of str to str
        Skin limits that the maker accepts where they are not settled, such as "EU Cosmetics
        Regulation: methyl eugenol", with the reason.
    """

    name: str
    bottle_m3: float
    headspace_m3: float
    botanicals_m3: float
    strength_fraction: float
    strength_basis: str
    drops_per_ml: Mapping[str, float]
    note_parts: Mapping[str, float]
    oils: tuple[OilPart, ...]
    carriers: tuple[CarrierPart, ...]
    market: Market
    accepted: Mapping[str, str]

    def accepted_key(self) -> dict[str, list[dict[str, str]]]:
        """The accepted limits with their key, for a document; empty where there is none."""
        rows = [{"limit": limit, "reason": why} for limit, why in self.accepted.items()]
        return {"accepted": rows} if rows else {}

    @property
    def liquid_m3(self) -> float:
        """Room for liquid: the bottle less headspace and botanicals. [m3]"""
        return self.bottle_m3 - self.headspace_m3 - self.botanicals_m3

    @property
    def drops_that_fill(self) -> float:
        """Drops of the default size that the liquid of a bottle comes to."""
        return self.liquid_m3 * ML_PER_M3 * self.drops_per_ml["default"]

    def drops_per_ml_of(self, material_id: str) -> float:
        """Drops in one millilitre of a material, with this blend's droppers. [1/mL]"""
        return self.drops_per_ml.get(material_id, self.drops_per_ml["default"])
