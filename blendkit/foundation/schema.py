"""What may stand in each table of `data/`: its columns, their kinds and ranges.

A table is added here first and read by `data`; a row that breaks its rule is refused.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

GRADES = ("read", "part-read", "memory", "estimated", "common practice")
# How a limit is known: its text was read; a law names it; it is calculated from a published
# threshold, which bounds it from above; or none of these.
CONFIRMED = ("read", "law", "upper bound", "not confirmed")
NOTES = ("top", "middle", "base")
LIMIT_KINDS = ("restriction", "prohibited", "phototoxicity", "specification", "no figure")


@dataclass(frozen=True)
class Column:
    """What may stand in one column.

    Parameters
    ----------
    low, high : float, optional
        A number in this range is wanted where they are given.
    choices : tuple of str, optional
        One of these words is wanted.
    required : bool, optional
        Whether an empty cell is refused.
    basis : str, optional
        What stands before "source" and "grade" in the headings of the two columns that say
        where the figure comes from, such as "density_"; empty where the row's own say it.
    """

    low: float = math.nan
    high: float = math.nan
    choices: tuple[str, ...] = ()
    required: bool = True
    basis: str = ""

    @property
    def is_number(self) -> bool:
        """Whether the column holds numbers."""
        return not math.isnan(self.low)


@dataclass(frozen=True)
class Table:
    """The rule of one file: its key columns and what stands in each column."""

    key: tuple[str, ...]
    columns: Mapping[str, Column]


_TEXT = Column()
_OPTIONAL = Column(required=False)
_PERCENT = Column(0, 100)
_SHARE = Column(0, 1)
_DENSITY = Column(0.78, 1.3)
_GRADE = Column(choices=GRADES)
_BASIS = {"source": _TEXT, "grade": _GRADE}
_REMARKED = {**_BASIS, "remark": _OPTIONAL}
_RADIUS = "radius_over_cube_root_of_volume"
_YES_NO = Column(choices=("yes", "no"))
_MEMBER = Column(choices=("constituent", "material"))


def _sourced(basis: str, columns: Mapping[str, Column]) -> dict[str, Column]:
    """Columns that have a source and a grade of their own, and these two after them."""
    own = {heading: replace(column, basis=basis) for heading, column in columns.items()}
    return {**own, f"{basis}source": _TEXT, f"{basis}grade": _GRADE}


_INCI = _sourced("inci_", {"inci": _TEXT})
_DENSITIES = _sourced(
    "density_", {"density_low_g_per_ml": _DENSITY, "density_high_g_per_ml": _DENSITY}
)


def _texts(*headings: str) -> dict[str, Column]:
    return dict.fromkeys(headings, _TEXT)


TABLES: Mapping[str, Table] = MappingProxyType(
    {
        "oils": Table(
            ("id",),
            {
                **_texts("id", "name", "latin_name"),
                **_INCI,
                **_texts("plant_part", "process"),
                "cas": _OPTIONAL,
                **_DENSITIES,
                "refractive_index_low": Column(1.3, 1.7, required=False),
                "refractive_index_high": Column(1.3, 1.7, required=False),
                "note": Column(choices=NOTES),
                **_texts("family", "odour_words"),
                "composition_known": _YES_NO,
                **_BASIS,
            },
        ),
        "oil_kinds": Table(("kind",), {"kind": _TEXT, "oil": _TEXT, **_BASIS}),
        "compositions": Table(
            ("oil", "constituent"),
            {
                **_texts("oil", "constituent", "constituent_name"),
                "low_percent": _PERCENT,
                "typical_percent": _PERCENT,
                "high_percent": _PERCENT,
                **_REMARKED,
            },
        ),
        "constituents": Table(
            ("id",),
            {
                **_texts("id", "name"),
                "cas": _OPTIONAL,
                "formula": _OPTIONAL,
                "smiles": _OPTIONAL,
                "molar_mass_g_per_mol": Column(16, 1200),
                "chemical_class": _TEXT,
                "volatility": Column(choices=("volatile", "non-volatile")),
                **_REMARKED,
            },
        ),
        "constituent_figures": Table(
            ("constituent", "quantity", "source"),
            {
                **_texts("constituent", "quantity"),
                "value": Column(-1000, 1e9),
                "unit": _OPTIONAL,
                "basis": _OPTIONAL,
                "uncertainty_factor": Column(1, 1000, required=False),
                **_BASIS,
                "used": _YES_NO,
            },
        ),
        "constituent_names": Table(
            ("constituent", "name"),
            {
                **_texts("constituent", "name"),
                "kind": Column(choices=("name", "cas")),
                **_BASIS,
            },
        ),
        "sum_names": Table(
            ("name", "constituent"),
            {"name": _TEXT, "cas": _OPTIONAL, "constituent": _TEXT, "share": _SHARE, **_BASIS},
        ),
        "carriers": Table(
            ("id",),
            {
                **_texts("id", "name"),
                **_INCI,
                "cas": _OPTIONAL,
                **_DENSITIES,
                **_sourced(
                    "fatty_acids_",
                    {
                        "fatty_acids": _TEXT,
                        "mean_molar_mass_g_per_mol": Column(200, 1200),
                        "molar_mass_method": _TEXT,
                    },
                ),
                **_sourced(
                    "iodine_value_",
                    {"iodine_value_low": Column(0, 250), "iodine_value_high": Column(0, 250)},
                ),
                "oxidative_stability": _TEXT,
                "shelf_life_months_low": Column(1, 120),
                "shelf_life_months_high": Column(1, 120),
                **_texts("allergen_group", "skin_feel"),
                **_REMARKED,
            },
        ),
        "dropper_kinds": Table(
            ("kind",),
            {
                "kind": _TEXT,
                "drops_per_ml_low": Column(1, 200),
                "drops_per_ml_typical": Column(1, 200),
                "drops_per_ml_high": Column(1, 200),
                **_BASIS,
            },
        ),
        "surface_tensions": Table(
            ("liquid",),
            {
                "liquid": _TEXT,
                "surface_tension_mn_per_m": Column(15, 80),
                "density_g_per_ml": _DENSITY,
                **_BASIS,
            },
        ),
        "drop_factors": Table(
            (_RADIUS,), {_RADIUS: Column(0.05, 1.7), "factor": Column(0.4, 1.0), **_BASIS}
        ),
        "regions": Table(
            ("region",),
            {"region": _TEXT, "name": _TEXT, "rule_sets": _TEXT, "note": _TEXT, **_BASIS},
        ),
        "uses": Table(
            ("use",),
            {
                **_texts("use", "name", "ifra_category", "eu_scope", "worn_on", "not_for"),
                **_BASIS,
            },
        ),
        "limits": Table(
            ("rule_set", "scope", "subject", "kind", "limit_percent", "applies_to"),
            {
                **_texts("rule_set", "scope"),
                "subject_kind": Column(choices=("constituent", "material", "shared")),
                **_texts("subject", "subject_name"),
                "kind": Column(choices=LIMIT_KINDS),
                "limit_percent": Column(0, 100, required=False),
                "applies_to": Column(choices=("all sources", "added only", "measured only")),
                "stands_for": _OPTIONAL,
                "used": _YES_NO,
                **_REMARKED,
                "confirmed": Column(choices=CONFIRMED),
            },
        ),
        "shared_ceilings": Table(
            ("ceiling", "rule_set", "member"),
            {
                **_texts("ceiling", "rule_set"),
                "member_kind": _MEMBER,
                "member": _TEXT,
                **_REMARKED,
            },
        ),
        "phototoxic": Table(
            ("material",),
            {
                "material": _TEXT,
                "limit_percent": Column(0, 100, required=False),
                "rule_set": _OPTIONAL,
                "acts_by": _TEXT,
                "marker_constituents": _OPTIONAL,
                **_REMARKED,
                "confirmed": Column(choices=CONFIRMED),
            },
        ),
        "label_allergens": Table(
            ("label_name",),
            {
                **_texts("label_name", "numbers", "entry"),
                "part_of_list": Column(choices=("original", "longer")),
                "natural_extract": _YES_NO,
                "threshold_percent": _PERCENT,
                "dates": _TEXT,
                **_REMARKED,
            },
        ),
        "label_members": Table(
            ("label_name", "member"),
            {
                "label_name": _TEXT,
                "member_kind": _MEMBER,
                "member": _TEXT,
                **_REMARKED,
            },
        ),
        "cautions": Table(
            ("topic", "who", "trigger", "text"),
            {
                **_texts("topic", "who"),
                "trigger_kind": Column(choices=("any", "oil", "carrier", "constituent")),
                "trigger": _TEXT,
                "action": Column(choices=("warn", "exclude", "time limit")),
                "months": Column(1, 120, required=False),
                "text": _TEXT,
                **_BASIS,
            },
        ),
        "carrier_kinds": Table(
            ("carrier",),
            {"carrier": _TEXT, "carrier_kind": _TEXT, **_REMARKED},
        ),
        "label_rules": Table(
            ("region", "part"),
            {
                **_texts("region", "part"),
                "needed": Column(choices=("yes", "guide")),
                "may_move": Column(choices=("no", "card", "box")),
                "rule": _TEXT,
                **_REMARKED,
            },
        ),
        "label_cautions": Table(
            ("topic", "who", "action"),
            {
                **_texts("topic", "who"),
                "action": Column(choices=("warn", "exclude")),
                "caution_group": _TEXT,
                "rank": Column(1, 9),
                "words": _OPTIONAL,
                **_BASIS,
            },
        ),
        "type_sizes": Table(
            ("rule",),
            {
                "rule": _TEXT,
                "letter": Column(choices=("x", "o", "em")),
                "height_mm": Column(0.5, 20),
                "words": _TEXT,
                **_REMARKED,
            },
        ),
        "sticker_sizes": Table(
            ("name",),
            {
                "name": _TEXT,
                "shape": Column(choices=("rectangle", "round")),
                "width_mm": Column(10, 200),
                "height_mm": Column(10, 200),
                **_BASIS,
            },
        ),
        "seller_duties": Table(
            ("region", "step"), {"region": _TEXT, "step": _TEXT, "text": _TEXT, **_BASIS}
        ),
        "handout_words": Table(("key",), {"key": _TEXT, "en": _TEXT, "de": _TEXT, **_BASIS}),
        "handout_names": Table(
            ("material",), {"material": _TEXT, "en": _TEXT, "de": _TEXT, **_BASIS}
        ),
        "dose_response": Table(
            ("constituent", "listed_as"),
            {
                "constituent": _TEXT,
                "constituent_name": _TEXT,
                "listed_as": _TEXT,
                "greatest_strength": Column(1.5, 200),
                "half_log10_ug_per_l": Column(-6, 6),
                "decades": Column(0, 3),
                "used": _YES_NO,
                **_REMARKED,
            },
        ),
        "odourless": Table(
            ("constituent",),
            {"constituent": _TEXT, "constituent_name": _TEXT, "reason": _TEXT, **_BASIS},
        ),
        "activity_coefficients": Table(
            ("carrier_kind", "chemical_class"),
            {
                **_texts("carrier_kind", "chemical_class"),
                "low": Column(0.01, 10_000),
                "typical": Column(0.01, 10_000),
                "high": Column(0.01, 10_000),
                "molecules": Column(0, 1000),
                **_REMARKED,
            },
        ),
    }
)
