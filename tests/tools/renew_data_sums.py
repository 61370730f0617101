"""Sums that pin every row of every table in `data/`, so that nothing in them changes unseen.

`python -m tests.tools.renew_data_sums` shows which rows differ from `data_sums.json` and writes
it again; commit it with the data. The order of the rows does not count.

A table has a hash of its sorted rows, which is what the test compares, the number of its rows
by grade, and nine characters for each row: five of the hash of its key, four of the hash of
all its cells. With them a changed row is named. A row that is gone is only counted.
"""

import base64
import csv
import hashlib
import json
from collections import Counter
from pathlib import Path

from blendkit.foundation.data import TABLES
from blendkit.foundation.shipping import shipped_folder

SUMS = Path(__file__).parent / "data_sums.json"
KEY, ROW = 5, 4  # characters; a changed row is taken for its old self once in 16 million
MOST_SHOWN = 20


def rows_of(name):
    """The rows of a shipped table as they are written: text by heading."""
    with (shipped_folder("data") / f"{name}.csv").open(encoding="utf-8-sig") as lines:
        return list(csv.DictReader(lines))


def sums_of(name, rows):
    """What pins the rows of a table."""
    marks = sorted(_mark(name, row) for row in rows)
    cells = sorted(json.dumps(list(row.items()), ensure_ascii=False) for row in rows)
    found = {"sha256": hashlib.sha256("\n".join(cells).encode()).hexdigest()}
    if "grade" in TABLES[name].columns:
        found["grades"] = dict(sorted(Counter(row["grade"] for row in rows).items()))
    return found | {"rows": marks}


def differences(name, rows, pinned):
    """The rows that differ from the pinned ones, in words; none where all are as pinned."""
    if sums_of(name, rows) == pinned:
        return []
    marks = {_mark(name, row): row for row in rows}
    old, keys = set(pinned["rows"]), {mark[:KEY] for mark in pinned["rows"]}
    changed = [
        f"{'changed' if mark[:KEY] in keys else 'new'}: {_in_words(row)}"
        for mark, row in marks.items()
        if mark not in old
    ]
    gone = Counter(mark[:KEY] for mark in old) - Counter(mark[:KEY] for mark in marks)
    lines = [f"data/{name}.csv: {len(changed)} changed or new, {gone.total()} gone"]
    lines += changed[:MOST_SHOWN]
    if len(changed) > MOST_SHOWN:
        lines.append(f"and {len(changed) - MOST_SHOWN} more")
    return lines


def _mark(name, row):
    key = [row[heading] for heading in TABLES[name].key]
    return _short(key)[:KEY] + _short(list(row.items()))[:ROW]


def _short(cells):
    text = json.dumps(cells, ensure_ascii=False)
    return base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _in_words(row):
    return ", ".join(f"{heading} {cell}" for heading, cell in row.items() if cell)


def main():
    known = json.loads(SUMS.read_text(encoding="utf-8")) if SUMS.exists() else {}
    tables = {name: rows_of(name) for name in TABLES}
    for name, rows in tables.items():
        for line in differences(name, rows, known.get(name, {"rows": []})):
            print(line)  # noqa: T201 - the terminal is this tool's page
    text = json.dumps({name: sums_of(name, rows) for name, rows in tables.items()}, indent=0)
    SUMS.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
