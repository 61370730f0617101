"""Content of the bottle on the bench, by mass, from drops, volumes and grams.

Drops are counts and become masses by drop size and density; grams are grams. Masses decide,
because only they add up, and because half a drop after a spill is still oil. Volumes are taken
to add up on mixing, as in `blendkit.blend.filling`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, NamedTuple

from blendkit.blend.blend import Blend
from blendkit.blend.fields import CarrierPart, Fields
from blendkit.blend.filling import MIXING_ORDER, Filling, Portion
from blendkit.foundation.errors import BadBlend, Problem
from blendkit.foundation.units import ML_PER_M3
from blendkit.materials import catalogue
from blendkit.materials.amounts import material

NEAR_WHOLE = 0.005  # of a drop: closer than this, a count is called whole


@dataclass(frozen=True)
class Plan:
    """Plan of a bottle, with its drop sizes.

    Attributes
    ----------
    fields : Fields
        Bottle, target strength, drop sizes, carriers; `oils` may be empty.
    target_drops : mapping of str to int
        By oil; empty for an empty bottle.
    target_kg : mapping of str to float
        By oil, for a blend by mass; else empty. [kg]
    """

    fields: Fields
    target_drops: Mapping[str, int]
    target_kg: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def read(cls, document: Mapping[str, Any]) -> Plan:
        """Read a plan from a blend document, or from one without any oil.

        Raises
        ------
        BadBlend
            Lists every problem.
        """
        if document.get("oils") or document.get("note_parts"):
            blend = Blend(document)
            bottle = blend.bottle
            if bottle.fields.step_kg is None:
                return cls(bottle.fields, blend.oil_drops)
            # a tap is a drop here too
            drops = {p.material: round(bottle.drops_like(p)) for p in bottle.oils}
            return cls(bottle.fields, drops, {p.material: p.mass_kg for p in bottle.oils})
        # an empty bottle is checked like any other, with drops that are removed again
        oil, carriers = catalogue.oil(catalogue.oil_ids()[0]), document.get("carriers")
        stand_in = {
            "note_parts": {oil.note: 1},
            "oils": [{"id": oil.id, "drops": 1}],
            "carriers": carriers or [{"id": catalogue.carrier_ids()[0]}],
        }
        fields = Blend({**document, **stand_in}).bottle.fields
        if not carriers and fields.strength_fraction < 1:
            needed = "at least one carrier when the strength is below 100 %"
            raise BadBlend([Problem("carriers", "nothing", needed)])
        planned = fields.carriers if carriers else ()
        return cls(replace(fields, note_parts={}, oils=(), carriers=planned), {})

    @cached_property
    def target_carriers_m3(self) -> dict[str, float]:
        """Planned volume by carrier, next to the planned drops; empty without drops. [m3]"""
        if not self.target_drops:
            return {}
        oils_ml = sum(
            count / self.fields.dropper_of(oil) for oil, count in self.target_drops.items()
        )
        return carrier_shares_m3(self, self.fields.liquid_m3 - oils_ml / ML_PER_M3)

    def note_of(self, name: str) -> str:
        """Look up the note an oil plays here, as planned or its usual one; or "carrier"."""
        planned = {part.oil.id: part.note for part in self.fields.oils}
        return planned.get(name) or (catalogue.oil(name).note if is_oil(name) else "carrier")


class Content(NamedTuple):
    """Content of one material in the bottle.

    Attributes
    ----------
    weighed_kg : float
        Fixed by a scale. [kg]
    calculated_kg : float
        Calculated from drops or volume, and not weighed since. [kg]
    drops : float
        Drops counted, and measured amounts converted to drops. A scale reading changes the
        mass of counted drops and not their count.
    """

    weighed_kg: float = 0.0
    calculated_kg: float = 0.0
    drops: float = 0.0

    @property
    def mass_kg(self) -> float:
        """Total. [kg]"""
        return self.weighed_kg + self.calculated_kg


def is_oil(name: str) -> bool:
    """True for an essential oil, which is every material that is not a carrier."""
    return not catalogue.is_carrier(material(name))


@dataclass(frozen=True)
class Mixture:
    """Plan and present content of a bottle.

    Attributes
    ----------
    plan : Plan
    amounts : mapping of str to Content
        By material, in the order of first addition.
    """

    plan: Plan
    amounts: Mapping[str, Content]

    @cached_property
    def masses_kg(self) -> dict[str, float]:
        """Mass by material. [kg]"""
        return {name: amount.mass_kg for name, amount in self.amounts.items()}

    @cached_property
    def volumes_m3(self) -> dict[str, float]:
        """Volume by material. [m3]"""
        return {
            name: mass / material(name).density_kg_per_m3
            for name, mass in self.masses_kg.items()
        }

    @cached_property
    def mass_kg(self) -> float:
        """Total mass of the liquid. [kg]"""
        return sum(self.masses_kg.values())

    @cached_property
    def volume_m3(self) -> float:
        """Total volume of the liquid. [m3]"""
        return sum(self.volumes_m3.values())

    @cached_property
    def oils(self) -> tuple[str, ...]:
        """Ids of the essential oils in it."""
        return tuple(name for name in self.amounts if is_oil(name))

    @property
    def oils_kg(self) -> float:
        """Total mass of essential oils. [kg]"""
        return sum(self.masses_kg[name] for name in self.oils)

    @property
    def oils_m3(self) -> float:
        """Total volume of essential oils. [m3]"""
        return sum(self.volumes_m3[name] for name in self.oils)

    @property
    def carrier_m3(self) -> float:
        """Total volume of carriers. [m3]"""
        return self.volume_m3 - self.oils_m3

    @property
    def room_m3(self) -> float:
        """Room left up to the mark; below 0 where it was passed. [m3]"""
        return self.plan.fields.liquid_m3 - self.volume_m3

    def drop_kg(self, name: str) -> float:
        """Mass of one drop of a material, with this plan's droppers. [kg]"""
        drop_m3 = 1 / (self.plan.fields.dropper_of(name) * ML_PER_M3)
        return drop_m3 * material(name).density_kg_per_m3

    def drops_now(self, name: str) -> float:
        """Drops of an oil in the bottle; seldom whole after a spill or by grams. [-]"""
        drops = self.amounts.get(name, Content()).drops
        return round(drops) if abs(drops - round(drops)) < NEAR_WHOLE else drops

    @property
    def oil_drops(self) -> float:
        """Total drops of essential oils. [-]"""
        return sum(self.drops_now(name) for name in self.oils)

    @property
    def strength_by_drops(self) -> float:
        """Drops of oil over the drops in that volume; 0 for an empty bottle. [-]

        Counted at the plan's default drop size, as the trade's rule does.
        """
        capacity = self.volume_m3 * ML_PER_M3 * self.plan.fields.drops_per_ml["default"]
        return self.oil_drops / capacity if capacity else 0.0

    @property
    def strength_by_volume(self) -> float:
        """Volume of oils over volume of liquid; 0 for an empty bottle. [-]"""
        return self.oils_m3 / self.volume_m3 if self.volume_m3 else 0.0

    @property
    def strength_by_mass(self) -> float:
        """Mass of oils over mass of liquid; 0 for an empty bottle. [-]"""
        return self.oils_kg / self.mass_kg if self.mass_kg else 0.0

    @property
    def strength(self) -> float:
        """Strength on the plan's basis. [-]"""
        return float(getattr(self, f"strength_by_{self.plan.fields.strength_basis}"))

    def mass_fractions(self) -> dict[str, float]:
        """Share of each material in the liquid by mass; empty for an empty bottle. [-]"""
        return {name: mass / self.mass_kg for name, mass in self.masses_kg.items() if mass}

    def with_drops(self, name: str, count: int) -> Mixture:
        """Add counted drops of one oil."""
        return self._with(name, 0.0, count * self.drop_kg(name), count)

    def with_mass(self, name: str, mass_kg: float, *, weighed: bool) -> Mixture:
        """Add a mass of one material, weighed or not. [kg]"""
        drops = mass_kg / self.drop_kg(name)
        return self._with(name, *((mass_kg, 0.0) if weighed else (0.0, mass_kg)), drops)

    def _with(self, name: str, *added: float) -> Mixture:
        was = self.amounts.get(name, Content())
        amount = Content(*(old + new for old, new in zip(was, added, strict=True)))
        return replace(self, amounts={**self.amounts, name: amount})

    def times(self, factor: float) -> Mixture:
        """Multiply the mixture; its composition remains."""
        amounts = {
            name: Content(*(factor * part for part in one))
            for name, one in self.amounts.items()
        }
        return replace(self, amounts=amounts)

    def with_carrier(self, carrier_m3: float) -> Mixture:
        """Add a volume of the plan's carriers, in their parts. [m3]"""
        mixture = self
        for name, volume_m3 in carrier_shares_m3(self.plan, carrier_m3).items():
            density = material(name).density_kg_per_m3
            mixture = mixture.with_mass(name, volume_m3 * density, weighed=False)
        return mixture

    def fill_up(self) -> Mixture:
        """Add the plan's carriers up to the mark; the same mixture where it is full."""
        return self.with_carrier(self.room_m3) if self.room_m3 > 0 else self

    def filling(self) -> Filling:
        """Convert to a filling, for all functions that show or judge one."""
        portions = []
        for name, mass_kg in self.masses_kg.items():
            drops, note = self.drops_now(name), self.plan.note_of(name)
            whole = drops if isinstance(drops, int) and is_oil(name) else None
            volume_m3, shown = self.volumes_m3[name], material(name).name
            if mass_kg:
                portions.append(Portion(name, shown, note, whole, None, volume_m3, mass_kg))
        portions.sort(key=lambda portion: MIXING_ORDER.index(portion.note))
        return Filling(self.plan.fields, tuple(portions))


def carrier_shares_m3(plan: Plan, carrier_m3: float) -> dict[str, float]:
    """Divide a volume of carrier as planned, by carrier. [m3]"""
    parts: tuple[CarrierPart, ...] = plan.fields.carriers
    whole = sum(part.parts for part in parts)
    return {part.carrier.id: carrier_m3 * part.parts / whole for part in parts}
