"""Chart documents beside their makers, and the Vega bundle that draws them.

`python -m tests.tools.renew_charts` builds both after an intended change of a chart; the diff
of the `charts.json` files then shows what changed in which chart.
"""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path
from typing import Any

import altair as alt
import vl_convert

from blendkit.panels.kit import chart_view
from blendkit.showing.kit.chart_parts import DATA

PACKAGE = Path(chart_view.__file__).parents[2]
ROOMS = sorted(
    path.parent.name
    for path in PACKAGE.glob("showing/*/charts.py")
    if path.parent.name != "kit"
)
BUNDLE = PACKAGE / "panels" / "kit" / f"vega-lite-{chart_view.VEGA_LITE}.js"
# every Altair that is allowed writes a version of its own after the 6
SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def document_of(chart: alt.Chart | alt.LayerChart) -> dict[str, Any]:
    """A chart as a plain Vega-Lite document, its data empty and named."""
    return chart.to_dict(validate=True) | {"$schema": SCHEMA, "datasets": {DATA: []}}


def documents_of(room: str) -> dict[str, Any]:
    """The documents of a room's charts, by the name of the function that writes each."""
    makers = vars(import_module(f"blendkit.showing.{room}.charts"))
    names = [name for name in makers if name.endswith("_chart") and name[0] != "_"]
    return {name: document_of(makers[name]()) for name in names}


def built(room: str) -> Path:
    """The file of a room's documents."""
    return PACKAGE / "showing" / room / "charts.json"


def bundle() -> str:
    """Vega as one module that exports `vegaEmbed`; its first line says what made it."""
    made_by = f"vl-convert-python {vl_convert.__version__}"
    script = vl_convert.javascript_bundle(
        "export { vegaEmbed }", vl_version=chart_view.VEGA_LITE
    )
    return f"// Bundled by {made_by}; its licences are in vega-licences.txt.\n{script}"


def main() -> None:
    for room in ROOMS:
        text = json.dumps(documents_of(room), indent=1, ensure_ascii=False)
        built(room).write_text(text + "\n", encoding="utf-8")
    BUNDLE.write_text(bundle(), encoding="utf-8")


if __name__ == "__main__":
    main()
