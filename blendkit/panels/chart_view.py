"""A chart that stays on the page while its rows change.

The Vega-Lite document is sent once; afterwards only rows travel, so nothing blinks and a
slider feels immediate. The script that draws it is bundled from the installed library and
kept in the user's cache, so no network is needed.
"""

from __future__ import annotations

from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import anywidget
import platformdirs
import traitlets
import vl_convert

from blendkit.charts import DATA, live_spec

_VEGA_LITE = "6.4"
_SOURCE = Path(__file__).with_name("chart_view.js")


@cache
def _script() -> str:
    """The drawing script with its library inside; bundling takes a second, so it is kept."""
    source = _SOURCE.read_text(encoding="utf-8")
    stamp = f"{version('vl-convert-python')}-{_VEGA_LITE}-{hash_of(source)}"
    kept = platformdirs.user_cache_path("blendkit") / f"chart-view-{stamp}.js"
    if kept.is_file():
        return kept.read_text(encoding="utf-8")
    bundle: str = vl_convert.javascript_bundle(source, vl_version=_VEGA_LITE)
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        temporary = kept.with_suffix(".part")
        temporary.write_text(bundle, encoding="utf-8")
        temporary.replace(kept)
    except OSError:  # a read-only cache only costs the second next time
        pass
    return bundle


def hash_of(text: str) -> str:
    """A short fingerprint of a text."""
    from hashlib import sha256

    return sha256(text.encode()).hexdigest()[:12]


class ChartView(anywidget.AnyWidget):
    """A live view of a chart from `blendkit.charts`.

    Parameters
    ----------
    chart : altair.Chart
        Built on named data.
    label : str
        What the chart shows, for people who cannot see it.
    """

    _esm = traitlets.Unicode().tag(sync=True)
    spec = traitlets.Dict().tag(sync=True)
    label = traitlets.Unicode().tag(sync=True)
    rows = traitlets.List(traitlets.Dict()).tag(sync=True)
    data_name = traitlets.Unicode(DATA).tag(sync=True)

    def __init__(self, chart: Any, label: str) -> None:
        super().__init__(_esm=_script(), spec=live_spec(chart), label=label)
