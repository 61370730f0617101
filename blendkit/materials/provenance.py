"""Where a figure came from: every figure on record for a material, its source and grade."""

from __future__ import annotations

import pandas as pd

from blendkit.foundation import data, schema
from blendkit.foundation.errors import UnknownMaterial, near_miss, quoted
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent, figures, match

COLUMNS = ["figure", "value", "unit", "used", "grade", "source"]
_UNITS = {"_g_per_ml": "g/mL", "_g_per_mol": "g/mol"}  # as headings end


def provenance(name: str) -> pd.DataFrame:
    """Every figure on record for an oil, a carrier or a constituent.

    Parameters
    ----------
    name : str
        The id of an oil or carrier, or the id or any usual name of a constituent.

    Returns
    -------
    DataFrame
        Columns ``figure, value, unit, used, grade, source``; one row a figure. Where two
        sources disagree both stand here, and `used` says which one counts.

    Raises
    ------
    UnknownMaterial
        With the nearest known name.
    """
    if name in catalogue.oil_ids():
        return _of_oil(catalogue.oil(name))
    if name in catalogue.carrier_ids():
        return _of_row("carriers", name)
    known = match(name, name)
    if known is None:
        hint = near_miss(name, [*catalogue.oil_ids(), *catalogue.carrier_ids()])
        got = (
            f"material: got {quoted(name)}; needs an oil, a carrier or a constituent on record."
        )
        raise UnknownMaterial(f"{got} {hint}")
    return _of_constituent(known.id)


def _of_oil(oil: catalogue.Oil) -> pd.DataFrame:
    described = [
        {
            "figure": f"share of {constituent(share.constituent).name}",
            "value": _range(share.low * 100, share.typical * 100, share.high * 100),
            "unit": "% by mass",
            "used": "yes",
            "grade": share.grade,
            "source": share.source,
        }
        for share in oil.composition
    ]
    rest = {
        "figure": "unidentified rest",
        "value": f"{oil.unidentified_fraction * 100:.1f}",
        "unit": "% by mass",
        "used": "yes",
        "grade": "estimated",
        "source": "100 % less the typical shares above",
    }
    shipped = _of_row("oils", oil.based_on)
    return pd.concat(
        [shipped, pd.DataFrame([*described, rest], columns=COLUMNS)], ignore_index=True
    )


def _without_unit(heading: str) -> str:
    for end in _UNITS:
        heading = heading.removesuffix(end)
    return heading.replace("_", " ")


def _of_row(table: str, name: str) -> pd.DataFrame:
    row = data.table(table).set_index("id").loc[name]
    numbers = [
        heading for heading, rule in schema.TABLES[table].columns.items() if rule.is_number
    ]
    rows = [
        {
            "figure": _without_unit(heading),
            "value": f"{row[heading]:g}",
            "unit": next((_UNITS[end] for end in _UNITS if heading.endswith(end)), ""),
            "used": "yes",
            "grade": row["grade"],
            "source": row["source"],
        }
        for heading in numbers
        if pd.notna(row[heading])
    ]
    name_on_a_label = {
        "figure": "INCI name",
        "value": row["inci"],
        "unit": "",
        "used": "yes",
        "grade": row["inci_grade"],
        "source": row["inci_source"],
    }
    return pd.DataFrame([name_on_a_label, *rows], columns=COLUMNS)


def _of_constituent(constituent_id: str) -> pd.DataFrame:
    identity = data.table("constituents").set_index("id").loc[constituent_id]
    rows = [
        {
            "figure": "name, structure and molar mass",
            "value": f"{identity['molar_mass_g_per_mol']:g}",
            "unit": "g/mol",
            "used": "yes",
            "grade": identity["grade"],
            "source": identity["source"],
        }
    ]
    for row in figures(constituent_id).to_dict("records"):
        basis = f" ({row['basis']})" if row["basis"] else ""
        rows.append(
            {
                "figure": row["quantity"].replace("_", " ") + basis,
                "value": f"{row['value']:g}",
                "unit": row["unit"],
                "used": row["used"],
                "grade": row["grade"],
                "source": row["source"],
            }
        )
    return pd.DataFrame(rows, columns=COLUMNS)


def _range(low: float, typical: float, high: float) -> str:
    return f"{low:g} – {typical:g} – {high:g}"
