"""Rules of the tables in `data/`, by file name.

A table is added here first and read by `data`; a row that breaks its rule is refused. Headings
of one kind are written with spaces between them; a heading of text ends in "?" where its cells
may be empty.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from blendkit.foundation.schema import CONFIRMED, GRADES, LIMIT_KINDS, NOTES, Column, Table

Columns = dict[str, Column]


def _texts(headings: str) -> Columns:
    return {h.removesuffix("?"): Column(required=h[-1] != "?") for h in headings.split()}


def _numbers(headings: str, low: float, high: float, *, required: bool = True) -> Columns:
    return dict.fromkeys(headings.split(), Column(low, high, required=required))


def _words(heading: str, *choices: str) -> Columns:
    return {heading: Column(choices=choices)}


def _sourced(basis: str, columns: Columns) -> Columns:
    """Columns with a source and a grade of their own, followed by these two."""
    own = {heading: replace(column, basis=basis) for heading, column in columns.items()}
    return own | _texts(f"{basis}source") | _words(f"{basis}grade", *GRADES)


def _table(key: str, *columns: str | Columns) -> Table:
    """A table by its key headings and its columns in order; those in a text hold text."""
    rules: Columns = {}
    for some in columns:
        rules |= _texts(some) if isinstance(some, str) else some
    return Table(tuple(key.split()), rules)


_BASIS = _sourced("", {})
_REMARKED = _BASIS | _texts("remark?")
_CONFIRMED = _REMARKED | _words("confirmed", *CONFIRMED)
_INCI = _sourced("inci_", _texts("inci"))
_DENSITIES = _sourced(
    "density_", _numbers("density_low_g_per_ml density_high_g_per_ml", 0.78, 1.3)
)
_MEMBER = _words("member_kind", "constituent", "material") | _texts("member")
_LIMIT = _numbers("limit_percent", 0, 100, required=False)
_RADIUS = "radius_over_cube_root_of_volume"

TABLES: Mapping[str, Table] = MappingProxyType(
    {
        "oils": _table(
            "id",
            "id name latin_name",
            _INCI,
            "plant_part process cas?",
            _DENSITIES,
            _numbers("refractive_index_low refractive_index_high", 1.3, 1.7, required=False),
            _words("note", *NOTES),
            "family odour_words",
            _words("composition_known", "yes", "no"),
            _BASIS,
        ),
        "oil_kinds": _table("kind", "kind oil", _BASIS),
        "compositions": _table(
            "oil constituent",
            "oil constituent constituent_name",
            _numbers("low_percent typical_percent high_percent", 0, 100),
            _REMARKED,
        ),
        "constituents": _table(
            "id",
            "id name cas? formula? smiles?",
            _numbers("molar_mass_g_per_mol", 16, 1200),
            "chemical_class",
            _words("volatility", "volatile", "non-volatile"),
            _REMARKED,
        ),
        "constituent_figures": _table(
            "constituent quantity source",
            "constituent quantity",
            _numbers("value", -1000, 1e9),
            "unit? basis?",
            _numbers("uncertainty_factor", 1, 1000, required=False),
            _BASIS,
            _words("used", "yes", "no"),
        ),
        "constituent_names": _table(
            "constituent name", "constituent name", _words("kind", "name", "cas"), _BASIS
        ),
        "sum_names": _table(
            "name constituent", "name cas? constituent", _numbers("share", 0, 1), _BASIS
        ),
        "carriers": _table(
            "id",
            "id name",
            _INCI,
            "cas?",
            _DENSITIES,
            _sourced(
                "fatty_acids_",
                _texts("fatty_acids")
                | _numbers("mean_molar_mass_g_per_mol", 200, 1200)
                | _texts("molar_mass_method"),
            ),
            _sourced("iodine_value_", _numbers("iodine_value_low iodine_value_high", 0, 250)),
            "oxidative_stability",
            _numbers("shelf_life_months_low shelf_life_months_high", 1, 120),
            "allergen_group skin_feel",
            _REMARKED,
        ),
        "dropper_kinds": _table(
            "kind",
            "kind",
            _numbers("drops_per_ml_low drops_per_ml_typical drops_per_ml_high", 1, 200),
            _BASIS,
        ),
        "surface_tensions": _table(
            "liquid",
            "liquid",
            _numbers("surface_tension_mn_per_m", 15, 80),
            _numbers("density_g_per_ml", 0.78, 1.3),
            _BASIS,
        ),
        "drop_factors": _table(
            _RADIUS, _numbers(_RADIUS, 0.05, 1.7), _numbers("factor", 0.4, 1.0), _BASIS
        ),
        "regions": _table("region", "region name rule_sets note", _BASIS),
        "uses": _table(
            "use", "use name ifra_category eu_scope worn_on not_for label_words", _BASIS
        ),
        "refused_uses": _table("place", "place reason", _BASIS),
        "limits": _table(
            "rule_set scope subject kind limit_percent applies_to",
            "rule_set scope",
            _words("subject_kind", "constituent", "material", "shared"),
            "subject subject_name",
            _words("kind", *LIMIT_KINDS),
            _LIMIT,
            _words("applies_to", "all sources", "added only", "measured only"),
            "stands_for?",
            _words("used", "yes", "no"),
            _CONFIRMED,
        ),
        "shared_ceilings": _table(
            "ceiling rule_set member", "ceiling rule_set", _MEMBER, _REMARKED
        ),
        "phototoxic": _table(
            "material", "material", _LIMIT, "rule_set? acts_by marker_constituents?", _CONFIRMED
        ),
        "label_allergens": _table(
            "label_name",
            "label_name numbers entry",
            _words("part_of_list", "original", "longer"),
            _words("natural_extract", "yes", "no"),
            _numbers("threshold_percent", 0, 100),
            "dates",
            _REMARKED,
        ),
        "allergen_lists": _table(
            "region part_of_list",
            "region",
            _words("part_of_list", "original", "longer"),
            _words("basis", "law", "guide"),
            "new_from? all_from? list_used",
            _REMARKED,
        ),
        "label_members": _table("label_name member", "label_name", _MEMBER, _REMARKED),
        "cautions": _table(
            "topic who trigger text",
            "topic who",
            _words("trigger_kind", "any", "oil", "carrier", "constituent"),
            "trigger",
            _words("action", "warn", "exclude", "time limit"),
            _numbers("months", 1, 120, required=False),
            "text",
            _BASIS,
        ),
        "bottle_behaviour": _table(
            "material text",
            "material",
            _words("behaviour", "insoluble", "sets", "settles", "thick", "colour"),
            "text",
            _BASIS,
        ),
        "storing": _table(
            "kind condition",
            _words("kind", "place", "light", "air"),
            "condition",
            _numbers("speed_low speed_typical speed_high", 1, 100),
            _BASIS,
        ),
        "carrier_viscosities": _table(
            "carrier",
            "carrier",
            _numbers("viscosity_low_mpa_s viscosity_high_mpa_s", 1, 5000),
            _BASIS,
        ),
        "carrier_kinds": _table("carrier", "carrier carrier_kind", _REMARKED),
        "label_rules": _table(
            "region part",
            "region part",
            _words("needed", "yes", "guide"),
            _words("may_move", "no", "card", "page", "box"),
            "rule",
            _REMARKED,
        ),
        "label_cautions": _table(
            "topic who action",
            "topic who",
            _words("action", "warn", "exclude"),
            "caution_group",
            _numbers("rank", 1, 9),
            "words? de fr",
            _BASIS,
        ),
        "label_words": _table("key", "key en de fr", _BASIS),
        "type_sizes": _table(
            "rule",
            "rule",
            _words("letter", "x", "o", "em"),
            _numbers("height_mm", 0.5, 20),
            "words",
            _REMARKED,
        ),
        "sticker_sizes": _table(
            "name",
            "name",
            _words("shape", "rectangle", "round"),
            _numbers("width_mm height_mm", 10, 200),
            _BASIS,
        ),
        "seller_duties": _table(
            "region step",
            "region step text",
            _BASIS,
            _numbers("days", 1, 365, required=False),
            "day_kind?",
        ),
        "seller_papers": _table(
            "paper region part",
            _words("paper", "batch record", "product file"),
            "region part asks given?",
            _words("adds", "maker", "assessor"),
            _BASIS,
        ),
        "handout_words": _table("key", "key en de", _BASIS),
        "handout_names": _table("material", "material en de", _BASIS),
        "dose_response": _table(
            "constituent listed_as",
            "constituent constituent_name listed_as",
            _numbers("greatest_strength", 1.5, 200),
            _numbers("half_log10_ug_per_l", -6, 6),
            _numbers("decades", 0, 3),
            _words("used", "yes", "no"),
            _REMARKED,
        ),
        "odourless": _table("constituent", "constituent constituent_name reason", _BASIS),
        "activity_coefficients": _table(
            "carrier_kind chemical_class",
            "carrier_kind chemical_class",
            _numbers("low typical high", 0.01, 10_000),
            _numbers("molecules", 0, 1000),
            _REMARKED,
        ),
    }
)
