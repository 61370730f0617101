"""Sources: every figure on record for a material, with its source and grade."""

from collections.abc import Iterable, Iterator

import pandas as pd

from blendkit.foundation import data
from blendkit.foundation.errors import UnknownMaterial, near_miss, quoted
from blendkit.materials import catalogue
from blendkit.materials.constituents import constituent, figures, match

_UNITS = {"_g_per_ml": "g/mL", "_g_per_mol": "g/mol"}  # as headings end


COLUMNS = ["figure", "value", "unit", "used", "grade", "source", "confirmed"]


def _table(rows: Iterable[tuple[str, ...]]) -> pd.DataFrame:
    """Rows as they are shown; `confirmed` is of limits alone."""
    return pd.DataFrame([(*row, "")[: len(COLUMNS)] for row in rows], columns=COLUMNS)


def provenance(name: str) -> pd.DataFrame:
    """Every figure on record for an oil, a carrier or a constituent.

    Parameters
    ----------
    name : str
        The id of an oil or carrier, or the id or any usual name of a constituent.

    Returns
    -------
    DataFrame
        Columns ``figure, value, unit, used, grade, source, confirmed``; one row a figure, skin
        limits among them. Where two sources disagree, both are listed; `used` says which one
        counts; `confirmed` says how a limit is known.

    Raises
    ------
    UnknownMaterial
        With the nearest known name.
    """
    own = catalogue.find_own(name)  # a version of one too
    if isinstance(own, catalogue.Oil) or name in catalogue.oil_ids():
        return _of_oil(catalogue.oil(name))
    if own or name in catalogue.carrier_ids():
        return _of_own(own) if own else _of_row("carriers", name)
    known = match(name, name)
    if known is None:
        hint = near_miss(name, [*catalogue.oil_ids(), *catalogue.carrier_ids()])
        needed = "needs an oil, a carrier or a constituent on record."
        raise UnknownMaterial(f"material: got {quoted(name)}; {needed} {hint}")
    return _of_constituent(known.id)


def _of_oil(oil: catalogue.Oil) -> pd.DataFrame:
    described = [
        (
            f"share of {constituent(share.constituent).name}",
            f"{share.low * 100:g} – {share.typical * 100:g} – {share.high * 100:g}",
            *("% by mass", "yes", share.grade, share.source),
        )
        for share in oil.composition
    ]
    rest = (
        "unidentified rest",
        f"{oil.unidentified_fraction * 100:.1f}",
        *("% by mass", "yes", "estimated", "100 % less the typical shares above"),
    )
    is_own = oil.id.startswith(catalogue.OWN)
    shipped = _of_own(oil) if is_own else _of_row("oils", oil.based_on)
    shares = _table([*described, rest, *_limits_on(oil.based_on)])
    return pd.concat([shipped, shares], ignore_index=True)


def _of_own(item: catalogue.Oil | catalogue.Carrier) -> pd.DataFrame:
    density = f"{item.density_kg_per_m3 / 1000:.4g}"
    rows = [("density", density, "g/mL", "yes", item.grade, item.source)]
    if isinstance(item, catalogue.MixedMaterial):
        rows += [
            (part.name, f"{share * 100:.4g}", "% by mass", "yes", "read", "its parts")
            for part, share in item.parts
        ]
    return _table(rows)


def _of_row(table: str, name: str) -> pd.DataFrame:
    row = data.table(table).set_index("id").loc[name].to_dict()
    rows = []
    for heading, rule in data.TABLES[table].columns.items():
        if rule.is_number and pd.notna(row[heading]):
            end = next((end for end in _UNITS if heading.endswith(end)), "")
            words, value = heading.removesuffix(end).replace("_", " "), f"{row[heading]:g}"
            own = row[f"{rule.basis}grade"], row[f"{rule.basis}source"]
            rows.append((words, value, _UNITS.get(end, ""), "yes", *own))
    inci = ("INCI name", row["inci"], "", "yes", row["inci_grade"], row["inci_source"])
    return _table([inci, *rows])


def _of_constituent(constituent_id: str) -> pd.DataFrame:
    identity = data.table("constituents").set_index("id").loc[constituent_id].to_dict()
    molar_mass = (
        "name, structure and molar mass",
        f"{identity['molar_mass_g_per_mol']:g}",
        *("g/mol", "yes", identity["grade"], identity["source"]),
    )
    rows = [
        (
            row["quantity"].replace("_", " ") + (f" ({row['basis']})" if row["basis"] else ""),
            f"{row['value']:g}",
            *(row[heading] for heading in ("unit", "used", "grade", "source")),
        )
        for row in figures(constituent_id).to_dict("records")
    ]
    return _table([molar_mass, *rows, *_limits_on(constituent_id)])


def _limits_on(subject: str) -> Iterator[tuple[str, ...]]:
    """Every skin limit on a material or constituent, and on the groups it belongs to."""
    shared = data.table("shared_ceilings").query("member == @subject")
    groups = set(zip(shared["ceiling"], shared["rule_set"], strict=True))
    for row in data.rows("limits"):
        is_own = row["subject"] == subject or (row["subject"], row["rule_set"]) in groups
        if is_own and pd.notna(row["limit_percent"]):
            yield (
                f"limit on {row['subject_name']} ({row['rule_set']}, {row['scope']})",
                f"{row['limit_percent']:g}",
                "% by mass of the product",
                *(row[heading] for heading in ("used", "grade", "source", "confirmed")),
            )
