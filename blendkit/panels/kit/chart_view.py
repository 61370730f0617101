"""A chart that stays on the page while its rows change.

The Vega-Lite document is sent once; afterwards only rows travel, so nothing blinks and a
slider feels immediate. The script that draws it is bundled from the installed library, so no
network is needed, and is sent once a kernel and read once a page, however many charts there
are. Script and documents take seconds to make and never change, so they are kept in the user's
cache under a fingerprint of all that went into them.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Callable
from functools import cache
from hashlib import sha256
from importlib import import_module
from importlib.metadata import version
from importlib.resources import files

import anywidget
import platformdirs
import traitlets

_VEGA_LITE = "6.4"
_CHARTS = "blendkit.showing.kit.charts"
_OF_CHARTS = ("charts.py", "rows.py", "look.py")


@cache
def _script() -> str:
    source = _text("panels/kit/chart_view.js")

    def bundle() -> str:
        import vl_convert

        bundled: str = vl_convert.javascript_bundle(source, vl_version=_VEGA_LITE)
        return bundled

    return _kept("chart-view.js", [source, version("vl-convert-python"), _VEGA_LITE], bundle)


@cache
def _document(chart: str, module: str) -> str:
    def build() -> str:
        charts = import_module(_CHARTS)
        return json.dumps(charts.live_spec(getattr(import_module(module), chart)()))

    name = f"{module.rpartition('.')[2]}-{chart}.json"
    return _kept(name, [*_drawn_from(), version("altair")], build)


@cache
def _drawn_from() -> tuple[str, ...]:
    """The texts that charts are made of: every module of charts or of rows, and the look."""
    folder = files("blendkit").joinpath("showing")
    found = (file for room in folder.iterdir() if room.is_dir() for file in room.iterdir())
    return tuple(
        file.read_text(encoding="utf-8")
        for file in sorted(found, key=str)
        if file.name.endswith(_OF_CHARTS)
    )


def _text(name: str) -> str:
    return files("blendkit").joinpath(name).read_text(encoding="utf-8")


def _kept(name: str, made_from: list[str], make: Callable[[], str]) -> str:
    """A text from the cache, made and put there where it is missing."""
    mark = sha256("\0".join(made_from).encode()).hexdigest()[:16]
    kept = platformdirs.user_cache_path("blendkit") / f"{mark}-{name}"
    if kept.is_file():
        return kept.read_text(encoding="utf-8")
    text = make()
    with contextlib.suppress(OSError):  # without a cache it only takes longer next time
        kept.parent.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(f".{os.getpid()}.part")  # two kernels may start at once
        part.write_text(text, encoding="utf-8")
        part.replace(kept)
    return text


class _ScriptHolder(anywidget.AnyWidget):
    """Holds the script for all charts of a page; never shown."""

    _esm = "export default {};"
    script = traitlets.Unicode().tag(sync=True)


@cache
def _holder() -> _ScriptHolder:
    return _ScriptHolder(script=_script())


@cache
def _script_mark() -> str:
    return sha256(_script().encode()).hexdigest()[:16]


class ChartView(anywidget.AnyWidget):
    """A live view of a chart.

    Parameters
    ----------
    chart : str
        Name of the function that builds it.
    label : str
        What the chart shows, for people who cannot see it.
    module : str, optional
        Where that function stands.
    """

    _esm = _text("panels/kit/chart_loader.js")
    script_id = traitlets.Unicode().tag(sync=True)
    script_mark = traitlets.Unicode().tag(sync=True)
    spec = traitlets.Dict().tag(sync=True)
    label = traitlets.Unicode().tag(sync=True)
    rows = traitlets.List(traitlets.Dict()).tag(sync=True)
    data_name = traitlets.Unicode("rows").tag(sync=True)

    def __init__(self, chart: str, label: str, module: str = _CHARTS) -> None:
        spec = json.loads(_document(chart, module))
        holder, mark = _holder().model_id, _script_mark()
        super().__init__(script_id=holder, script_mark=mark, spec=spec, label=label)
