"""A grid to type in, such as drops by seat: one widget, however many cells there are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files
from typing import Any, NamedTuple

import anywidget
import traitlets

from blendkit.showing.kit.look import ALERT, FAINT_INK, INK, PAPER, RULE

_CSS = f"""
.bk-grid-box {{ overflow: auto; max-height: 560px; }}
.bk-grid {{ border-collapse: collapse; font-size: 14px; color: {INK}; }}
.bk-grid caption {{ position: absolute; width: 1px; height: 1px; overflow: hidden;
  clip-path: inset(50%); }}
.bk-grid th {{ font-weight: 600; text-align: left; padding: 2px 6px; vertical-align: bottom;
  line-height: 1.2; font-size: 13px; }}
.bk-grid thead .bk-narrow {{ max-width: 66px; overflow: hidden; text-overflow: ellipsis; }}
.bk-grid thead .bk-turned span {{ writing-mode: vertical-rl; transform: rotate(180deg);
  max-height: 150px; white-space: nowrap; overflow: hidden; text-overflow: ellipsis; }}
.bk-grid thead th {{ position: sticky; top: 0; background: {PAPER}; z-index: 1; }}
.bk-grid tbody th {{ vertical-align: middle; font-weight: 400; color: {FAINT_INK};
  text-align: right; }}
.bk-grid td {{ padding: 1px 3px; }}
.bk-grid input, .bk-grid select {{ font: inherit; color: inherit; background: #fff;
  border: 1px solid {RULE}; border-radius: 4px; padding: 4px 6px; min-height: 30px;
  box-sizing: border-box; text-overflow: ellipsis; }}
.bk-grid [aria-invalid=true] {{ border: 2px solid {ALERT}; }}
"""


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
    """

    key: str
    label: str
    width: str
    choices: Sequence[tuple[str, str]] | None = None
    number: bool = False
    turned: bool = False


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

    _esm = files("blendkit.panels.kit").joinpath("entry_grid.js").read_text(encoding="utf-8")
    _css = _CSS
    label = traitlets.Unicode().tag(sync=True)
    columns = traitlets.List(traitlets.Dict()).tag(sync=True)
    rows = traitlets.List(traitlets.Dict()).tag(sync=True)
    marks = traitlets.List(traitlets.Unicode()).tag(sync=True)

    def __init__(self, label: str, columns: Iterable[GridColumn]) -> None:
        super().__init__(label=label, columns=_as_dicts(columns))

    def use_columns(self, columns: Iterable[GridColumn]) -> None:
        """Change the columns; what was typed for the same key stays."""
        if (new := _as_dicts(columns)) != self.columns:
            self.columns = new


def cell_text(row: Mapping[str, object], key: str) -> str:
    """Text of one box of a row; empty where nothing was typed."""
    return str(row.get(key, "")).strip()


def _as_dicts(columns: Iterable[GridColumn]) -> list[dict[str, Any]]:
    """Columns as they travel to the page."""
    return [
        {**each._asdict(), "choices": each.choices and [list(pair) for pair in each.choices]}
        for each in columns
    ]
