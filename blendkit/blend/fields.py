"""Fields of a blend document as numbers and materials."""

from collections.abc import Mapping
from dataclasses import dataclass

from blendkit.blend.market import Market
from blendkit.foundation.units import ML_PER_M3, counted, show_g
from blendkit.materials import catalogue
from blendkit.materials.amounts import material


@dataclass(frozen=True)
class OilPart:
    """One oil of a blend: its note here, its parts within the note, or its fixed count.

    The count is of drops or, in a blend by mass, of steps of the scale.
    """

    oil: catalogue.Oil
    note: str
    parts: float
    fixed_drops: int | None


@dataclass(frozen=True)
class CarrierPart:
    """One carrier of a blend and its parts by volume among the carriers.

    An additive with a share of them all has the parts that make that share.
    """

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
    step_kg : float or None
        For a blend by mass: a step of the scale, which is what is counted in place of drops;
        None for a blend by drops. [kg]
    make_kg : float or None
        Liquid to make, where that is given by mass. [kg]
    made_m3 : float or None
        Volume of `make_kg`, once the oils are counted. [m3]
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
    step_kg: float | None = None
    make_kg: float | None = None
    made_m3: float | None = None

    def accepted_key(self) -> dict[str, list[dict[str, str]]]:
        """The accepted limits with their key, for a document; empty where there is none."""
        rows = [{"limit": limit, "reason": why} for limit, why in self.accepted.items()]
        return {"accepted": rows} if rows else {}

    @property
    def liquid_m3(self) -> float:
        """Liquid: what is to be made, or else what fills the bottle. [m3]"""
        return self.room_m3 if self.made_m3 is None else self.made_m3

    @property
    def room_m3(self) -> float:
        """Room for liquid: the bottle less headspace and botanicals. [m3]"""
        return self.bottle_m3 - self.headspace_m3 - self.botanicals_m3

    @property
    def drops_that_fill(self) -> float:
        """Drops of the default size that the liquid of a bottle comes to."""
        return self.liquid_m3 * ML_PER_M3 * self.drops_per_ml["default"]

    @property
    def typed(self) -> tuple[catalogue.Oil | catalogue.Carrier, ...]:
        """Oils, carriers and mixtures as they were typed."""
        return (*(part.oil for part in self.oils), *(part.carrier for part in self.carriers))

    @property
    def base(self) -> tuple[catalogue.Oil | catalogue.Carrier, ...]:
        """Oils and carriers in the bottle, each once; mixtures are unfolded."""
        parts = (part for item in self.typed for part, _ in catalogue.parts_of(item))
        return tuple({part.id: part for part in parts}.values())

    @property
    def base_oils(self) -> tuple[catalogue.Oil, ...]:
        """Oils in the bottle, those in mixtures among them."""
        return tuple(item for item in self.base if isinstance(item, catalogue.Oil))

    @property
    def base_carriers(self) -> tuple[catalogue.Carrier, ...]:
        """Carriers in the bottle, the solvents of mixtures among them."""
        return tuple(item for item in self.base if not isinstance(item, catalogue.Oil))

    @property
    def mixtures(self) -> tuple[catalogue.MixedMaterial, ...]:
        """Materials of the blend that are mixtures."""
        return tuple(i for i in self.typed if isinstance(i, catalogue.MixedMaterial))

    def count_in_words(self, count: int) -> str:
        """A count with its unit: "7 drops", or "0.07 g" in a blend by mass."""
        return counted(count, "drop") if self.step_kg is None else self.plain_count(count)

    def plain_count(self, count: int) -> str:
        """A count where its unit is clear: "7", or "0.07 g" in a blend by mass."""
        return f"{count}" if self.step_kg is None else show_g(count * self.step_kg, 6)

    def drops_per_ml_of(self, material_id: str) -> float:
        """Counts in one millilitre of a material: drops, or steps of the scale. [1/mL]"""
        if self.step_kg is not None:
            return material(material_id).density_kg_per_m3 / (self.step_kg * ML_PER_M3)
        return self.dropper_of(material_id)

    def dropper_of(self, material_id: str) -> float:
        """Drops in one millilitre of a material, with this blend's droppers. [1/mL]"""
        return self.drops_per_ml.get(material_id, self.drops_per_ml["default"])
