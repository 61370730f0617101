"""Reading the tables in `data/`: the only module that opens a table of figures.

Every table is plain CSV that opens in a spreadsheet. `blendkit.schema` says what may stand in
each column; a row that breaks its rule is refused with the file, the row and the column.
Figures keep the units their headings name; `blendkit.materials` turns them into SI.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from importlib.resources.abc import Traversable
from typing import Any

import pandas as pd

from blendkit.errors import BadTable, Problem, near_miss, quoted
from blendkit.schema import TABLES, Column, Table
from blendkit.shipping import shipped_folder


@cache
def table(name: str) -> pd.DataFrame:
    """One of the shipped tables, checked.

    Parameters
    ----------
    name : str
        A key of `TABLES`.

    Returns
    -------
    DataFrame
        Numbers as floats, everything else as text, empty cells as "" or NaN. Shared: do not
        change it.
    """
    return read_table(shipped_folder("data") / f"{name}.csv", TABLES[name])


def read_table(path: Traversable, rule: Table) -> pd.DataFrame:
    """Read one CSV file and check every cell.

    Parameters
    ----------
    path : Path or other readable
        The file; UTF-8.
    rule : Table
        What may stand in it.

    Raises
    ------
    BadTable
        Lists every broken cell with file, row (as a spreadsheet counts) and column.
    """
    try:
        with path.open(encoding="utf-8-sig") as lines:
            frame = pd.read_csv(lines, dtype=str, keep_default_na=False, skipinitialspace=True)
    except (OSError, ValueError) as error:
        needed = "a readable CSV file in UTF-8"
        raise BadTable([Problem(f"data/{path.name}", str(error).strip(), needed)]) from error
    problems = list(_heading_problems(path.name, frame, rule))
    if problems:
        raise BadTable(problems)
    frame = pd.DataFrame({heading: frame[heading].str.strip() for heading in rule.columns})
    for heading, column in rule.columns.items():
        problems += _cell_problems(path.name, frame[heading], column)
    problems += _key_problems(path.name, frame, rule)
    if problems:
        raise BadTable(problems)
    for heading, column in rule.columns.items():
        if column.is_number:
            frame[heading] = pd.to_numeric(frame[heading].replace("", None))
    return frame


def _place(file: str, row: object, heading: str) -> str:
    # + 2: a spreadsheet counts from 1 and the heading is its first row
    return f"data/{file} row {int(str(row)) + 2}, column {heading}"


def _heading_problems(file: str, frame: pd.DataFrame, rule: Table) -> Iterator[Problem]:
    for heading in rule.columns:
        if heading not in frame.columns:
            hint = near_miss(heading, frame.columns)
            yield Problem(f"data/{file}", "no such column", f'a column "{heading}"', hint)


def _cell_problems(file: str, cells: pd.Series[str], column: Column) -> Iterator[Problem]:
    heading = str(cells.name)
    if column.required:
        for row in cells.index[cells == ""]:
            yield Problem(_place(file, row, heading), "nothing", "a value in this cell")
    filled = cells[cells != ""]
    if column.choices:
        for row, text in filled[~filled.isin(column.choices)].items():
            needed = "one of " + ", ".join(column.choices)
            hint = near_miss(text, column.choices)
            yield Problem(_place(file, row, heading), quoted(text), needed, hint)
    if column.is_number:
        yield from _number_problems(file, filled, column)


def _number_problems(file: str, filled: pd.Series[str], column: Column) -> Iterator[Problem]:
    low, high = column.low, column.high
    numbers = pd.to_numeric(filled, errors="coerce")
    between = (numbers >= (low if low is not None else -float("inf"))) & (
        numbers <= (high if high is not None else float("inf"))
    )
    for row, text in filled[~between].items():
        needed = f"a number from {low:g} to {high:g}"
        fix = "Write the decimal sign as a point." if "," in text else ""
        yield Problem(_place(file, row, str(filled.name)), quoted(text), needed, fix)


def _key_problems(file: str, frame: pd.DataFrame, rule: Table) -> Iterator[Problem]:
    repeated = frame.duplicated(list(rule.key))
    for row in frame.index[repeated]:
        got = quoted(" / ".join(frame.loc[row, list(rule.key)]))
        needed = "a row of its own: this one stands above already"
        yield Problem(_place(file, row, ", ".join(rule.key)), got, needed)


def example_document() -> dict[str, Any]:
    """The invented blend that every panel opens with."""
    text = (shipped_folder("data") / "example_blend.json").read_text(encoding="utf-8")
    document: dict[str, Any] = json.loads(text)
    return document
