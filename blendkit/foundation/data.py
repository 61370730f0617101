"""Reading the tables in `data/`: the only module that opens a table of figures.

Every table is plain CSV that opens in a spreadsheet. `data/tables.toml` says what each
column holds; a row that breaks its rule is refused with the file, the row and the column.
Figures keep the units their headings name; `blendkit.materials.catalogue` turns them into SI.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.resources.abc import Traversable
from itertools import chain
from types import MappingProxyType
from typing import Any

import pandas as pd

from blendkit.foundation.errors import BadTable, Problem, near_miss, quoted, refuse_any
from blendkit.foundation.schema import Column, Table
from blendkit.foundation.shipping import shipped_folder, shipped_words


def _column(rule: Mapping[str, Any]) -> Column:
    return Column(**{**rule, "choices": tuple(rule.get("choices", ()))})


def _tables() -> Iterator[tuple[str, Table]]:
    rules = shipped_words("tables")
    kinds = rules.pop("kinds")
    for name, table in rules.items():
        given = {
            heading: kinds[rule] if isinstance(rule, str) else rule
            for heading, rule in table["columns"].items()
        }
        columns = {heading: _column(rule) for heading, rule in given.items()}
        yield name, Table(tuple(table["key"]), columns)


# by file name, as `data/tables.toml` writes them
TABLES: Mapping[str, Table] = MappingProxyType(dict(_tables()))


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


@cache
def rows(name: str) -> tuple[dict[str, Any], ...]:
    """The rows of a table as `table` reads it, by heading. Shared: do not change them."""
    records = table(name).to_dict("records")
    return tuple({str(heading): cell for heading, cell in row.items()} for row in records)


def read_table(path: Traversable, rule: Table) -> pd.DataFrame:
    """Read one CSV file and check every cell.

    Parameters
    ----------
    path : Path or other readable
        The file; UTF-8.
    rule : Table
        Rules of its columns.

    Raises
    ------
    BadTable
        Lists every broken cell with file, row (as a spreadsheet counts) and column.
    """
    try:
        with path.open(encoding="utf-8-sig") as lines:
            reader = csv.reader(lines, strict=True)
            headings = [heading.strip() for heading in next(reader, [])]
            # blank rows are left out; the number is that of a spreadsheet
            numbered = ((reader.line_num, row) for row in reader)
            lines_by_number = {n: row for n, row in numbered if any(map(str.strip, row))}
    except (OSError, ValueError, csv.Error) as error:
        needed = "a readable CSV file in UTF-8"
        raise BadTable([Problem(f"data/{path.name}", str(error).strip(), needed)]) from error
    refuse_any(_ragged_problems(path.name, headings, lines_by_number), BadTable)
    missing = [""] * len(headings)
    cells = [[*row, *missing][: len(headings)] for row in lines_by_number.values()]
    # row numbers as a spreadsheet counts them are the index, for the messages
    frame = pd.DataFrame(cells, index=list(lines_by_number), columns=headings, dtype=str)
    refuse_any(_heading_problems(path.name, frame, rule), BadTable)
    frame = pd.DataFrame({heading: frame[heading].str.strip() for heading in rule.columns})
    columns = rule.columns.items()
    cell_problems = (_cell_problems(path.name, frame[name], column) for name, column in columns)
    refuse_any(chain(*cell_problems, _key_problems(path.name, frame, rule)), BadTable)
    for heading, column in rule.columns.items():
        if column.is_number:
            frame[heading] = pd.to_numeric(frame[heading].replace("", None))
    return frame.reset_index(drop=True)


def _place(file: str, row: object, heading: str) -> str:
    return f"data/{file} row {row}, column {heading}"


def _ragged_problems(
    file: str, headings: Sequence[str], rows: Mapping[int, Sequence[str]]
) -> Iterator[Problem]:
    for number, row in rows.items():
        if len(row) > len(headings):
            needed = f"{len(headings)}, as in the heading"
            fix = "Is there one comma too many outside quotation marks?"
            yield Problem(f"data/{file} row {number}", f"{len(row)} cells", needed, fix)


def _heading_problems(file: str, frame: pd.DataFrame, rule: Table) -> Iterator[Problem]:
    for heading in rule.columns:
        there = list(frame.columns).count(heading)
        if there != 1:
            got = "no such column" if not there else f"{there} columns of that name"
            hint = "" if there else near_miss(heading, frame.columns)
            yield Problem(f"data/{file}", got, f'a column "{heading}"', hint)


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
    numbers = pd.to_numeric(filled, errors="coerce")
    for row, text in filled[~numbers.between(column.low, column.high)].items():
        needed = f"a number from {column.low:g} to {column.high:g}"
        fix = "Write the decimal sign as a point." if "," in text else ""
        yield Problem(_place(file, row, str(filled.name)), quoted(text), needed, fix)


def _key_problems(file: str, frame: pd.DataFrame, rule: Table) -> Iterator[Problem]:
    repeated = frame.duplicated(list(rule.key))
    for row in frame.index[repeated]:
        got = quoted(" / ".join(frame.loc[row, list(rule.key)]))
        needed = "a row of its own: this one is in the table already"
        yield Problem(_place(file, row, ", ".join(rule.key)), got, needed)


def example_document() -> dict[str, Any]:
    """The invented blend that every panel opens with."""
    return _example("blend")


def example_class() -> dict[str, Any]:
    """The invented class that the class panel opens with."""
    return _example("class")


def _example(kind: str) -> dict[str, Any]:
    path = shipped_folder("data") / f"example_{kind}.json"
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return document
