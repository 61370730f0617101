"""Filling the HTML templates in `pages/`; the only module that knows the template engine.

Every value is escaped on the way in, so that nothing a person typed can become markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from blendkit.showing import look


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=PackageLoader("blendkit.showing", "pages"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["look"] = look
    return environment


def render(page: str, **values: object) -> str:
    """A template from `pages/`, filled."""
    return _templates().get_template(f"{page}.html").render(**values)


def table(
    caption: str, headings: Sequence[str], rows: Iterable[Sequence[object]], nothing: str = ""
) -> str:
    """A small table for a panel; what to say where it has no rows."""
    values = {"headings": headings, "rows": list(rows), "nothing": nothing}
    return render("table", caption=caption, **values)
