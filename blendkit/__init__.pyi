"""Public names of blendkit, each imported when it is first used."""

from .batch.cost import labour as labour, packaging as packaging
from .batch.label import LabelDetails as LabelDetails, label as label
from .batch.scaling import scale as scale
from .blend.apportionment import whole_drops as whole_drops
from .blend.blend import Blend as Blend, as_blend as as_blend
from .blend.droppers import (
    drops_per_ml_counted as drops_per_ml_counted,
    drops_per_ml_weighed as drops_per_ml_weighed,
    predicted_drop as predicted_drop,
    strength_with_a_wrong_rule as strength_with_a_wrong_rule,
)
from .blend.market import Market as Market
from .evaporation.design import compare_fades as compare_fades
from .evaporation.evaporate import evaporate_to as evaporate_to
from .evaporation.fading import fade as fade, lasting as lasting
from .evaporation.film import film_amounts as film_amounts
from .evaporation.smell import mixture_strength as mixture_strength
from .foundation.data import example_document as example_document
from .foundation.errors import (
    BadBlend as BadBlend,
    BadNumber as BadNumber,
    BadTable as BadTable,
    BlendkitError as BlendkitError,
    UnknownMaterial as UnknownMaterial,
)
from .keeping.batch_cost import cost as cost
from .keeping.exchange import export_store as export_store, import_store as import_store
from .keeping.own_materials import (
    keep_lot as keep_lot,
    keep_material as keep_material,
    keep_mixture as keep_mixture,
)
from .keeping.replacement import replace_oil as replace_oil
from .making.versions import compare as compare
from .materials.analyses import BadAnalysis as BadAnalysis, read_analysis as read_analysis
from .materials.catalogue import carriers as carriers, oils as oils
from .materials.constituents import constituents as constituents
from .materials.provenance import provenance as provenance
from .showing.bottle.tables import (
    bench_sheet as bench_sheet,
    drop_table as drop_table,
    note_table as note_table,
    sniff_sheet as sniff_sheet,
    strength_table as strength_table,
)
from .showing.charts import (
    chart_drops as chart_drops,
    chart_fade as chart_fade,
    chart_limits as chart_limits,
    chart_volatility as chart_volatility,
)
from .skin.allergens import label_allergens as label_allergens
from .skin.check import skin_findings as skin_findings, skin_findings_of as skin_findings_of
from .skin.reformulation import (
    Infeasible as Infeasible,
    nearest_within_limits as nearest_within_limits,
)
from .skin.verdict import Verdict as Verdict, verdict as verdict

__version__: str
