"""A chart that stays on the page while its rows change.

The Vega-Lite document is sent once; afterwards only rows travel, so nothing blinks and a
slider feels immediate. Documents and Vega are built beforehand by
``python -m tests.tools.renew_charts`` and shipped, so no network is needed and nothing is built
on a maker's computer. Vega is sent once a kernel and read once a page, however many charts
there are.
"""

import json
from functools import cache
from typing import Any

import anywidget
import traitlets

from blendkit.foundation.shipping import package_text

VEGA_LITE = "6.4"


@cache
def _documents(room: str) -> dict[str, Any]:
    documents: dict[str, Any] = json.loads(package_text(f"showing/{room}/charts.json"))
    return documents


class _VegaHolder(anywidget.AnyWidget):
    """Vega, for all charts of a page; never shown."""

    _esm = "export default {};"
    script = traitlets.Unicode().tag(sync=True)


@cache
def _holder() -> _VegaHolder:
    return _VegaHolder(script=package_text(f"panels/kit/vega-lite-{VEGA_LITE}.js"))


class ChartView(anywidget.AnyWidget):
    """A live view of a chart.

    Parameters
    ----------
    room : str
        Folder in `blendkit.showing` whose `charts.py` has the function that writes it.
    chart : str
        Name of that function.
    label : str
        What the chart shows, for people who cannot see it.

    Attributes
    ----------
    signals : dict
        Values of the chart's own parameters; quicker to send than rows.
    picked : int or None
        The `pick` of the row whose mark was tapped or dragged to last, in a chart with
        ``usermeta={"picks": True}``.
    """

    _esm = package_text("panels/kit/chart_view.js")
    vega_id = traitlets.Unicode().tag(sync=True)
    vega_lite = traitlets.Unicode(VEGA_LITE).tag(sync=True)
    spec = traitlets.Dict().tag(sync=True)
    label = traitlets.Unicode().tag(sync=True)
    rows = traitlets.List(traitlets.Dict()).tag(sync=True)
    signals = traitlets.Dict().tag(sync=True)
    picked = traitlets.Int(None, allow_none=True).tag(sync=True)

    def __init__(self, room: str, chart: str, label: str) -> None:
        spec = _documents(room)[chart]
        super().__init__(vega_id=_holder().model_id, spec=spec, label=label)
