"""The filled bottle: whole drops, and the millilitres and grams that follow from them.

Drops are counts; millilitres and grams follow from each oil's drop size and density. Skin
limits and the fade both start from here, because they must judge the bottle that is mixed
and not the ratio that was asked for. `portions` are materials as they were typed, a drop of a
dilution among them; `held` and `mass_fractions` unfold every mixture into oils and carriers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import pandas as pd

from blendkit.blend.apportionment import targets_by_note
from blendkit.blend.counts import claims_of
from blendkit.blend.fields import Fields
from blendkit.foundation.schema import NOTES
from blendkit.foundation.units import G_PER_KG, ML_PER_M3
from blendkit.materials.amounts import material
from blendkit.materials.catalogue import Carrier, Oil, parts_of

MIXING_ORDER = ("base", "middle", "top", "carrier")


@dataclass(frozen=True)
class Portion:
    """One material in the bottle.

    Attributes
    ----------
    material, name, note : str
        Id, name for people, and "base", "middle", "top" or "carrier".
    drops : int or None
        Whole drops of an oil, or steps of the scale; None for a carrier, which is poured.
    target_drops : float or None
        Drops before rounding; None for carriers and for counts fixed by hand. [-]
    volume_m3, mass_kg : float
    is_weighed : bool
        True where `drops` are steps of the scale.
    """

    material: str
    name: str
    note: str
    drops: int | None
    target_drops: float | None
    volume_m3: float
    mass_kg: float
    is_weighed: bool = False

    @property
    def whole_drops(self) -> int | None:
        """Drops to count; None for what is poured or weighed."""
        return None if self.is_weighed else self.drops


class Held(NamedTuple):
    """One oil or carrier in the bottle, whichever mixtures it came in.

    Attributes
    ----------
    material : Oil or Carrier
        No mixture.
    note : str
        That in which most of an oil was put in; "carrier" for a carrier.
    mass_kg : float
    """

    material: Oil | Carrier
    note: str
    mass_kg: float


@dataclass(frozen=True)
class Filling:
    """Everything in one filled bottle, in mixing order (base, middle, top, carriers).

    Attributes
    ----------
    fields : Fields
        Bottle, drop sizes and carriers that it was filled by.
    portions : tuple of Portion
    """

    fields: Fields
    portions: tuple[Portion, ...]

    @classmethod
    def of(cls, fields: Fields, oil_drops: Mapping[str, int], total_drops: int) -> Filling:
        """Fill a bottle: whole drops of oil, then carriers up to the mark.

        Parameters
        ----------
        fields : Fields
        oil_drops : mapping of str to int
            Whole drops of each oil, by id.
        total_drops : int
            Drops of oil that strength and bottle ask for.

        Notes
        -----
        Volumes are taken to add up on mixing; oils in oils shrink or swell by far less than
        one drop in a hundred (assumption, no published source for these mixtures). Densities
        hold at 20 degrees Celsius.
        """
        targets = targets_by_note(total_drops, fields.note_parts, claims_of(fields))
        portions = []
        is_weighed = fields.step_kg is not None
        for part in sorted(fields.oils, key=lambda part: -NOTES.index(part.note)):
            oil, note, drops = part.oil, part.note, oil_drops[part.oil.id]
            volume_m3 = drops / (fields.drops_per_ml_of(oil.id) * ML_PER_M3)
            mass_kg = volume_m3 * oil.density_kg_per_m3
            target = float(targets[oil.id]) if part.fixed_drops is None else None
            row = Portion(oil.id, oil.name, note, drops, target, volume_m3, mass_kg, is_weighed)
            portions.append(row)
        oils_m3 = sum(portion.volume_m3 for portion in portions)
        whole = sum(part.parts for part in fields.carriers)
        for poured in fields.carriers:
            carrier = poured.carrier
            # never below zero: a brim-full 100 % bottle may exceed the mark by rounding error
            volume_m3 = max(fields.liquid_m3 - oils_m3, 0.0) * poured.parts / whole
            mass_kg = volume_m3 * carrier.density_kg_per_m3
            row = Portion(carrier.id, carrier.name, "carrier", None, None, volume_m3, mass_kg)
            portions.append(row)
        return cls(fields, tuple(portions))

    @cached_property
    def oils(self) -> tuple[Portion, ...]:
        """The essential oils, in mixing order."""
        return tuple(portion for portion in self.portions if portion.note != "carrier")

    @cached_property
    def carriers(self) -> tuple[Portion, ...]:
        """The carriers."""
        return tuple(portion for portion in self.portions if portion.note == "carrier")

    @cached_property
    def held(self) -> tuple[Held, ...]:
        """Oils and carriers in the order of the portions they first come in."""
        shares: dict[str, list[Held]] = {}
        for portion in self.portions:
            for part, share in parts_of(material(portion.material)):
                note = portion.note if isinstance(part, Oil) else "carrier"
                if isinstance(part, Oil) and note == "carrier":
                    note = part.note  # an infusion that is poured holds it
                row = Held(part, note, portion.mass_kg * share)
                shares.setdefault(part.id, []).append(row)
        return tuple(
            max(rows, key=lambda row: row.mass_kg)._replace(
                mass_kg=sum(row.mass_kg for row in rows)
            )
            for rows in shares.values()
        )

    @property
    def pure_oil_by_mass(self) -> float:
        """Share of essential oils in the liquid, without the solvents of dilutions. [-]"""
        oils = (row.mass_kg for row in self.held if isinstance(row.material, Oil))
        return sum(oils) / self.mass_kg

    @cached_property
    def volume_m3(self) -> float:
        """Liquid in all. [m3]"""
        return sum(portion.volume_m3 for portion in self.portions)

    @cached_property
    def mass_kg(self) -> float:
        """Liquid in all. [kg]"""
        return sum(portion.mass_kg for portion in self.portions)

    @cached_property
    def oil_drops(self) -> int:
        """Drops of oil in all."""
        return sum(portion.drops or 0 for portion in self.oils)

    @property
    def strength_by_drops(self) -> float:
        """Drops of oil over the drops that would fill the bottle. [-]

        Counted at the blend's default drop size, as the trade's rule does.
        """
        capacity = self.volume_m3 * ML_PER_M3 * self.fields.drops_per_ml["default"]
        if self.fields.step_kg is None:
            return self.oil_drops / capacity
        return sum(self.drops_like(portion) for portion in self.oils) / capacity

    def drops_like(self, portion: Portion) -> float:
        """Drops that an oil comes to with its own dropper, in a blend by mass too. [-]"""
        return portion.volume_m3 * ML_PER_M3 * self.fields.dropper_of(portion.material)

    @property
    def strength_by_volume(self) -> float:
        """Volume of oils over volume of liquid. [-]"""
        return sum(portion.volume_m3 for portion in self.oils) / self.volume_m3

    @property
    def strength_by_mass(self) -> float:
        """Mass of oils over mass of liquid. [-]"""
        return sum(portion.mass_kg for portion in self.oils) / self.mass_kg

    @property
    def actual_strength(self) -> float:
        """Strength on the basis the blend was asked for. [-]"""
        by_basis = {
            "drops": self.strength_by_drops,
            "volume": self.strength_by_volume,
            "mass": self.strength_by_mass,
        }
        return by_basis[self.fields.strength_basis]

    def mass_fraction_of_note(self, note: str) -> float:
        """Share of a note, or of "carrier", in the liquid by mass. [-]"""
        return sum(p.mass_kg for p in self.portions if p.note == note) / self.mass_kg

    def mass_fractions(self) -> dict[str, float]:
        """Share of each oil and carrier in the liquid by mass, mixtures unfolded. [-]"""
        return {row.material.id: row.mass_kg / self.mass_kg for row in self.held}

    def rows(self) -> list[dict[str, Any]]:
        """The materials in mixing order; keys as `blendkit.drop_table` names its columns."""
        return [
            {
                "material": portion.material,
                "name": portion.name,
                "note": portion.note,
                "drops": portion.whole_drops,
                "volume_ml": portion.volume_m3 * ML_PER_M3,
                "mass_g": portion.mass_kg * G_PER_KG,
                "percent_by_mass": portion.mass_kg / self.mass_kg * 100,
                "percent_by_volume": portion.volume_m3 / self.volume_m3 * 100,
            }
            for portion in self.portions
        ]

    def table(self) -> pd.DataFrame:
        """The materials in mixing order; columns as `blendkit.drop_table` names them."""
        return pd.DataFrame(self.rows()).astype({"drops": "Int64"})
