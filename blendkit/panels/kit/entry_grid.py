"""A grid to type in, such as drops by seat: one widget, however many cells there are."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import anywidget
import traitlets

from blendkit.foundation.shipping import package_text
from blendkit.panels.kit.style import style_sheet


class GridColumn(NamedTuple):
    """One thing to enter in every row.

    Attributes
    ----------
    key, label : str
    width : str
        Of CSS.
    choices : sequence of (label, value), or None
        None where anything may be typed.
    number : bool
        Whether a phone shows its number keys.
    turned : bool
        Whether the heading runs upwards, for many narrow columns.
    fixed : bool
        Whether it is only shown, such as the name of the row.
    """

    key: str
    label: str
    width: str
    choices: Sequence[tuple[str, str]] | None = None
    number: bool = False
    turned: bool = False
    fixed: bool = False


class EntryGrid(anywidget.AnyWidget):
    """A table of boxes.

    Parameters
    ----------
    label : str
        What is entered here, for people who cannot see it.
    columns : iterable of GridColumn

    Attributes
    ----------
    rows : list of dict of str to str
        Text of the boxes, by key of the column. What is typed is never changed here.
    """

    _esm = package_text("panels/kit/entry_grid.js")
    _css = style_sheet("panels/kit/entry_grid.css")
    label = traitlets.Unicode().tag(sync=True)
    columns = traitlets.List(traitlets.Dict()).tag(sync=True)
    rows = traitlets.List(traitlets.Dict()).tag(sync=True)

    def __init__(self, label: str, columns: Iterable[GridColumn]) -> None:
        super().__init__(label=label, columns=[each._asdict() for each in columns])

    def use_columns(self, columns: Iterable[GridColumn]) -> None:
        """Change the columns; what was typed for the same key stays."""
        new = [each._asdict() for each in columns]
        if new != self.columns:
            self.columns = new


def cell_text(row: Mapping[str, object], key: str) -> str:
    """Text of one box of a row; empty where nothing was typed."""
    return str(row.get(key, "")).strip()


def is_typed(row: Mapping[str, object], keys: Iterable[str]) -> bool:
    """True where something was typed under one of the keys."""
    return any(cell_text(row, key) for key in keys)
