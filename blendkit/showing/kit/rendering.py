"""HTML from the templates in each room's `pages/`; only this module knows the engine.

Every value is escaped on the way in, so that nothing a person typed can become markup.
"""

from collections.abc import Iterable, Sequence
from functools import cache

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined, select_autoescape

from blendkit.foundation.units import ML_PER_M3, counted, show, signed
from blendkit.showing.kit import look

_ROOMS = (
    "kit", "bottle", "shelf", "skin", "bench", "label", "teach", "batch", "choosing", "selling",
)  # fmt: skip


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=ChoiceLoader(
            [PackageLoader("blendkit.showing", f"{room}/pages") for room in _ROOMS]
        ),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {"look": look, "ML_PER_M3": ML_PER_M3}
    environment.filters |= {"show": show, "counted": counted, "signed": signed}
    return environment


def render(page: str, **values: object) -> str:
    """A filled template."""
    return _templates().get_template(f"{page}.html").render(**values)


def table(
    caption: str, headings: Sequence[str], rows: Iterable[Sequence[object]], nothing: str = ""
) -> str:
    """A small table for a panel, or the words for a table without rows."""
    values = {"headings": headings, "rows": list(rows), "nothing": nothing}
    return render("table", caption=caption, **values)
