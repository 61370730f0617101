"""Oils, carriers and mixtures of them as values; `catalogue` looks them up."""

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

TRADE_DROPS_PER_ML = 20.0  # common practice, no published source
# of an own carrier, with the shipped carrier whose cautions it shares
ALLERGY_GROUPS = MappingProxyType({
    "none": "", "nut": "sweet-almond", "coconut": "mct-fractionated-coconut",
    "seed": "sunflower-high-oleic", "sesame": "sesame",
})  # fmt: skip


@dataclass(frozen=True)
class Share:
    """One constituent's share of an oil by mass.

    Attributes
    ----------
    constituent : str
        Its id.
    low, typical, high : float
        Mass fractions. [-]
    source, grade : str
    is_old_bound : bool
        Whether an old or coarse table gives the high end, which newer ones do not confirm.
    """

    constituent: str
    low: float
    typical: float
    high: float
    source: str
    grade: str
    is_old_bound: bool = False

    @property
    def settled(self) -> float:
        """Mass fraction beyond doubt; below an old bound nothing typical is known. [-]"""
        guessed = self.is_old_bound and self.grade == "estimated"
        return self.low if guessed else self.typical


@dataclass(frozen=True, kw_only=True)
class _Material:
    """What an oil and a carrier have alike.

    Attributes
    ----------
    id, name, inci : str
    inci_grade : str
        Grade of the INCI name; a label depends on it.
    density_kg_per_m3 : float
        At 20 degrees Celsius; middle of the recorded range. [kg/m3]
    source, grade : str
        Of an oil's density; of a carrier's shelf life and allergen group.
    caution : str
        For an own material: the supplier's caution; "" where none was given.
    """

    id: str
    name: str
    inci: str
    inci_grade: str
    density_kg_per_m3: float
    source: str
    grade: str
    caution: str = ""


@dataclass(frozen=True, kw_only=True)
class Oil(_Material):
    """One essential oil, absolute, extract or resin.

    Attributes
    ----------
    latin_name, process, family, odour_words : str
    note : str
        Its usual note: "top", "middle" or "base".
    composition_known : bool
        False where no usable analysis is on record.
    composition : tuple of Share
        Largest first. What it does not describe is `unidentified_fraction`.
    based_on : str
        The shipped oil's id; its own id for a shipped oil.
    kind_unknown : bool
        Whether it represents several kinds, with the highest limit of them.
    reporting_limit : float or None
        For an own lot: below it, by mass, the analysis names nothing. None: not stated. [-]
    unmatched : tuple of str
        For an own lot: names in its analysis that nothing on record matches.
    recorded : frozenset of str
        For an own lot with a certificate of some constituents only: ids of the others, which
        stay as on record.
    """

    latin_name: str
    process: str
    family: str
    odour_words: str
    note: str
    composition_known: bool
    composition: tuple[Share, ...]
    based_on: str
    kind_unknown: bool = False
    reporting_limit: float | None = None
    unmatched: tuple[str, ...] = ()
    recorded: frozenset[str] = frozenset()

    @property
    def unidentified_fraction(self) -> float:
        """Mass that no constituent on record describes; never taken for nothing. [-]"""
        return max(0.0, 1.0 - sum(share.typical for share in self.composition))

    @property
    def analysed(self) -> frozenset[str]:
        """Ids of the constituents that an own lot's analysis found, or sets a bound to."""
        if self.id == self.based_on:
            return frozenset()
        named = (share.constituent for share in self.composition if share.high > 0)
        return frozenset(named) - self.recorded


@dataclass(frozen=True, kw_only=True)
class Carrier(_Material):
    """One carrier oil.

    Attributes
    ----------
    molar_mass_kg_per_mol : float
        Mean over its triglycerides or esters. [kg/mol]
    allergen_group : str
        A caution for people with allergies, in words.
    shelf_life_months : float
        The shorter of the recorded figures. [months]
    like : str
        The shipped carrier whose kind it has in a film; "" where that is not known.
    """

    molar_mass_kg_per_mol: float
    allergen_group: str
    shelf_life_months: float
    like: str = ""


@dataclass(frozen=True, kw_only=True)
class MixedMaterial(Oil, Carrier):
    """A mixture of materials, used like one: a dilution, an accord, an infusion, a master.

    What it holds is in `parts`; its own fields describe it as a whole.

    Attributes
    ----------
    made_of : tuple of (Oil or Carrier, float)
        Materials as the maker mixed them, mixtures among them, with mass fractions. [-]
    drops_per_ml : float or None
        With its own dropper; None where it was not measured. [1/mL]
    botanicals : str
        Plants steeped in it; what they give off is in no figure. "" where there are none.
    keeps_months : float or None
        The maker's own figure; None: as long as the weakest part. [months]
    """

    made_of: tuple[tuple[Oil | Carrier, float], ...] = ()
    drops_per_ml: float | None = None
    botanicals: str = ""
    keeps_months: float | None = None

    @cached_property
    def parts(self) -> tuple[tuple[Oil | Carrier, float], ...]:
        """Oils and carriers in it, each once, with mass fractions; no mixture is left. [-]"""
        found: dict[str, tuple[Oil | Carrier, float]] = {}
        for whole, share in self.made_of:
            for part, inner in parts_of(whole):
                before = found[part.id][1] if part.id in found else 0.0
                found[part.id] = part, before + share * inner
        return tuple(found.values())

    @property
    def unidentified_fraction(self) -> float:
        """Mass of its oils that no constituent on record describes. [-]"""
        return sum(
            share * part.unidentified_fraction for part, share in self.parts
            if isinstance(part, Oil)
        )  # fmt: skip


def steeped_in(item: Oil | Carrier) -> tuple[str, ...]:
    """Plants steeped in a mixture or in one of its parts, in the maker's words."""
    if not isinstance(item, MixedMaterial):
        return ()
    inner = (plants for part, _ in item.made_of for plants in steeped_in(part))
    return tuple(dict.fromkeys(filter(None, (item.botanicals, *inner))))


def parts_of(item: Oil | Carrier) -> tuple[tuple[Oil | Carrier, float], ...]:
    """Oils and carriers in a material with mass fractions; itself where it is no mixture."""
    return item.parts if isinstance(item, MixedMaterial) else ((item, 1.0),)
