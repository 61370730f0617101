"""A formulation workbook for oil-based roll-on perfume.

    >>> import blendkit as bk
    >>> blend = bk.as_blend({
    ...     "bottle": "10 mL", "strength": "20 %",
    ...     "note_parts": {"top": 2, "middle": 1, "base": 2},
    ...     "oils": [{"id": "petitgrain"}, {"id": "neroli"}, {"id": "cedarwood-atlas"}],
    ...     "carriers": [{"id": "jojoba"}],
    ... })
    >>> dict(blend.oil_drops)
    {'petitgrain': 16, 'neroli': 8, 'cedarwood-atlas': 16}

Whatever takes a blend takes a `Blend`, its document, or the path of a kept one. Whatever has a
dimension takes text with its unit ("10 mL") or a pint quantity; a time takes a timedelta too.

Panels, and Altair for the charts, are not imported here, so that this stays light; see
`blendkit.panels`.
"""

from blendkit.batch.cost import labour, packaging
from blendkit.batch.label import LabelDetails, label
from blendkit.batch.scaling import scale
from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import Blend, as_blend
from blendkit.blend.droppers import (
    drops_per_ml_counted,
    drops_per_ml_weighed,
    predicted_drop,
    strength_with_a_wrong_rule,
)
from blendkit.blend.market import Market
from blendkit.evaporation.design import compare_fades
from blendkit.evaporation.evaporate import evaporate_to
from blendkit.evaporation.fading import fade
from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.lasting import lasting
from blendkit.evaporation.smell import mixture_strength
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import (
    BadBlend,
    BadNumber,
    BadTable,
    BlendkitError,
    UnknownMaterial,
)
from blendkit.keeping.batch_cost import cost
from blendkit.keeping.exchange import export_store, import_store
from blendkit.keeping.own_materials import keep_lot, keep_material, keep_mixture
from blendkit.keeping.replacement import replace_oil
from blendkit.making.versions import compare
from blendkit.materials.analyses import BadAnalysis, read_analysis
from blendkit.materials.catalogue import carriers, oils
from blendkit.materials.constituents import constituents
from blendkit.materials.provenance import provenance
from blendkit.showing.bottle.tables import (
    bench_sheet,
    drop_table,
    note_table,
    sniff_sheet,
    strength_table,
)
from blendkit.showing.charts import chart_drops, chart_fade, chart_limits, chart_volatility
from blendkit.skin.allergens import label_allergens
from blendkit.skin.check import skin_findings, skin_findings_of
from blendkit.skin.reformulation import Infeasible, nearest_within_limits
from blendkit.skin.verdict import Verdict, verdict

__version__ = "0.1.0"

__all__ = [
    "BadAnalysis",
    "BadBlend",
    "BadNumber",
    "BadTable",
    "Blend",
    "BlendkitError",
    "Infeasible",
    "LabelDetails",
    "Market",
    "UnknownMaterial",
    "Verdict",
    "as_blend",
    "bench_sheet",
    "carriers",
    "chart_drops",
    "chart_fade",
    "chart_limits",
    "chart_volatility",
    "compare",
    "compare_fades",
    "constituents",
    "cost",
    "drop_table",
    "drops_per_ml_counted",
    "drops_per_ml_weighed",
    "evaporate_to",
    "example_document",
    "export_store",
    "fade",
    "film_amounts",
    "import_store",
    "keep_lot",
    "keep_material",
    "keep_mixture",
    "label",
    "label_allergens",
    "labour",
    "lasting",
    "mixture_strength",
    "nearest_within_limits",
    "note_table",
    "oils",
    "packaging",
    "predicted_drop",
    "provenance",
    "read_analysis",
    "replace_oil",
    "scale",
    "skin_findings",
    "skin_findings_of",
    "sniff_sheet",
    "strength_table",
    "strength_with_a_wrong_rule",
    "verdict",
    "whole_drops",
]


def __dir__() -> list[str]:
    """The public names alone, without the rooms they come from."""
    return [*__all__, "__version__"]
