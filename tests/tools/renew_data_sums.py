"""Sums that pin every table of `data/`, so that no figure or grade changes unnoticed.

`python -m tests.tools.renew_data_sums` writes them after an intended change; the diff of
`data_sums.json` then shows which column moved.
"""

import json
from pathlib import Path

from blendkit.foundation import data
from blendkit.foundation.schema import TABLES

SUMS = Path(__file__).parent / "data_sums.json"


def sums_of(name):
    """Rows, rows of each grade, column by column, and the sum of each column of numbers."""
    table = data.table(name)
    found = {"rows": len(table)}
    for heading in table.columns:
        if heading.endswith("grade"):
            found[f"{heading}s"] = dict(sorted(table[heading].value_counts().to_dict().items()))
    for heading, column in TABLES[name].columns.items():
        if column.is_number:
            # nine digits: far below a change of any one figure, far above the noise of adding
            found[heading] = float(f"{table[heading].sum():.9g}")
    return found


def main():
    text = json.dumps({name: sums_of(name) for name in TABLES}, indent=2)
    SUMS.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
