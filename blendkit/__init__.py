"""A formulation workbook for oil-based roll-on perfume.

    >>> import blendkit as bk
    >>> blend = bk.Blend.from_dict({
    ...     "bottle": "10 mL", "strength": "20 %",
    ...     "note_parts": {"top": 2, "middle": 1, "base": 2},
    ...     "oils": [{"id": "petitgrain"}, {"id": "neroli"}, {"id": "cedarwood-atlas"}],
    ...     "carriers": [{"id": "jojoba"}],
    ... })
    >>> blend.oil_drops
    {'petitgrain': 16, 'neroli': 8, 'cedarwood-atlas': 16}

Charts and panels are not imported here, so that this stays light; see
`blendkit.showing.kit.charts` and `blendkit.panels`.
"""

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import Blend
from blendkit.blend.droppers import (
    drops_per_ml_counted,
    drops_per_ml_weighed,
    predicted_drop,
    strength_with_a_wrong_rule,
)
from blendkit.evaporation.evaporate import evaporate_to
from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.forecast import fade
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import (
    BadBlend,
    BadNumber,
    BadTable,
    BlendkitError,
    UnknownMaterial,
)
from blendkit.materials.analyses import BadAnalysis, read_analysis
from blendkit.materials.catalogue import carriers, keep_lot, oils
from blendkit.materials.constituents import constituents
from blendkit.materials.provenance import provenance
from blendkit.showing.kit.tables import (
    bench_sheet,
    drop_table,
    note_table,
    sniff_sheet,
    strength_table,
)
from blendkit.skin.allergens import label_allergens
from blendkit.skin.check import skin_findings, skin_findings_of
from blendkit.skin.reformulation import Infeasible, nearest_within_limits

__all__ = [
    "BadAnalysis",
    "BadBlend",
    "BadNumber",
    "BadTable",
    "Blend",
    "BlendkitError",
    "Infeasible",
    "UnknownMaterial",
    "bench_sheet",
    "carriers",
    "constituents",
    "drop_table",
    "drops_per_ml_counted",
    "drops_per_ml_weighed",
    "evaporate_to",
    "example_document",
    "fade",
    "film_amounts",
    "keep_lot",
    "label_allergens",
    "nearest_within_limits",
    "note_table",
    "oils",
    "predicted_drop",
    "provenance",
    "read_analysis",
    "skin_findings",
    "skin_findings_of",
    "sniff_sheet",
    "strength_table",
    "strength_with_a_wrong_rule",
    "whole_drops",
]
