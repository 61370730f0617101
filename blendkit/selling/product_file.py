"""Product file: a maker's facts on one version for one market, in one zip for an assessor.

It is no assessment and says so first. What the law asks for beyond these facts is listed, from
`data/seller_papers.csv`, with who has to add it. Certificates are copied in as they are, under
harmless names, and are never opened.
"""

import csv
import io
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import pandas as pd

from blendkit.batch.label_words import SELLER_NOTICE
from blendkit.blend.blend import Blend
from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.keep import file_stem
from blendkit.journal.exchange import defused
from blendkit.making.mixing_order import mixing_steps
from blendkit.materials import catalogue
from blendkit.materials.provenance import provenance
from blendkit.selling.batch_record import BatchRecord
from blendkit.selling.papers import Look
from blendkit.skin.allergens import label_allergens, label_gaps
from blendkit.skin.check import skin_findings
from blendkit.skin.verdict import Verdict, verdict

NOTICE = f"This is no safety assessment. It gathers a maker's facts for one. {SELLER_NOTICE}"
FUNCTION_BASIS = (
    "The function is the role in this product, in words of the EU inventory (memory); it was "
    "not looked up for each material."
)
MOST_FILES, MOST_BYTES = 20, 5_000_000  # of one certificate
LIMITS = [
    "rule_set", "subject", "amount_percent", "limit_percent", "share_of_limit", "verdict",
    "figure_basis", "confirmed", "from_oils", "remark", "source",
]  # fmt: skip
_GUIDE = Market().region  # where no law of the region is on record


class ProductFile(NamedTuple):
    """Facts of one version for one market.

    Attributes
    ----------
    product : str
        Blend and version.
    blend : Blend
        With its market.
    judged : Verdict
    gaps : tuple of str
        Sentences on what no figure covers.
    method : tuple of str
        Steps of making.
    records : tuple of BatchRecord
    tables : mapping of str to DataFrame
        By the name of their CSV: to_add, formula, limits, allergens, batches, stability,
        sources.
    is_guide : bool
        Whether the points to add are the EU's, for want of a law on record.
    """

    product: str
    blend: Blend
    judged: Verdict
    gaps: tuple[str, ...]
    method: tuple[str, ...]
    records: tuple[BatchRecord, ...]
    tables: Mapping[str, pd.DataFrame]
    is_guide: bool


def product_file(blend: Blend, product: str, records: Sequence[BatchRecord]) -> ProductFile:
    """Gather the facts of a version, for the market of the blend."""
    points, formula, judged = points_of(blend.market.region), formula_of(blend), verdict(blend)
    nameless = formula["material"][(formula["inci"] == "") | (formula["cas"] == "")]
    gap = f"No INCI name or no CAS number on record: {', '.join(nameless)}."
    batches = [
        (r.batch.lot, r.batch.made_on, r.bottles, r.release or "none", len(r.deviations))
        for r in records
    ]
    seen = [(r.batch.lot, *look) for r in records for look in r.looks]
    ids = [held.material.id for held in blend.bottle.held]
    tables = {
        "to_add": points_of(_GUIDE) if points.empty else points,
        "formula": formula,
        "limits": skin_findings(blend)[LIMITS],
        "allergens": label_allergens(blend),
        "batches": _frame(batches, "lot", "made_on", "bottles", "decision", "deviations"),
        "stability": _frame(seen, "lot", *Look._fields),
        "sources": pd.concat([provenance(name).assign(material=name) for name in ids]),
    }
    gaps = (*judged.not_checked, *label_gaps(blend), *([gap] if len(nameless) else []))
    method, kept = tuple(_steps(blend)), tuple(records)
    return ProductFile(product, blend, judged, gaps, method, kept, tables, points.empty)


def _frame(rows: Sequence[Any], *columns: str) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=list(columns))


def points_of(region: str, paper: str = "product file") -> pd.DataFrame:
    """Points that a paper has to cover in a region; none where no law of it is on record."""
    rows = data.table("seller_papers")
    of_region = rows["region"].map(lambda regions: region in regions.split("; "))
    return rows[(rows["paper"] == paper) & of_region].drop(columns=["paper", "region"])


def formula_of(blend: Blend) -> pd.DataFrame:
    """Materials by mass, largest first; mixtures unfolded, "" where a name is not on record."""
    cas = pd.concat([catalogue.oils()["cas"], catalogue.carriers()["cas"]]).to_dict()
    rows = []
    for held in sorted(blend.bottle.held, key=lambda one: -one.mass_kg):
        item, percent = held.material, held.mass_kg / blend.bottle.mass_kg * 100
        role = "perfuming" if isinstance(item, catalogue.Oil) else "emollient, solvent"
        number = str(cas.get(item.id, ""))
        rows.append((item.name, item.inci, item.inci_grade, number, role, percent))
    columns = ("material", "inci", "inci_grade", "cas", "function", "percent_by_mass")
    return _frame(rows, *columns)


def _steps(blend: Blend) -> Iterator[str]:
    for action, part in ((one.action, one.portion) for one in mixing_steps(blend.bottle)):
        share = part.mass_kg / blend.bottle.mass_kg * 100 if part else 0.0
        yield f"{action}: {part.name}, {share:.3f} % by mass." if part else f"{action}."


# --- the zip ---------------------------------------------------------------------------------


def certificate_name(number: int, name: str) -> str:
    """Harmless name of a certificate in the zip.

    Examples
    --------
    >>> certificate_name(1, "../lavender A12.PDF"), certificate_name(2, "=cmd")
    ('certificates/01 lavender A12.PDF', 'certificates/02 cmd')
    """
    stem, _, ending = name.rpartition(".")
    ending = "".join(letter for letter in ending if letter.isascii() and letter.isalnum())[:8]
    return f"certificates/{number:02} {file_stem(stem or name)}{f'.{ending}' if stem else ''}"


def check_sizes(certificates: Sequence[tuple[str, bytes]]) -> None:
    """Refuse certificates that are too many or too large: `BadNumber` names them."""
    large = [quoted(name) for name, content in certificates if len(content) > MOST_BYTES]
    if large or len(certificates) > MOST_FILES:
        needed = f"at most {MOST_FILES} files of {MOST_BYTES / 1e6:g} MB each"
        got = f"{len(certificates)} files; too large: {', '.join(large) or 'none'}"
        raise BadNumber([Problem("certificates", got, needed)])


def pack(
    file: ProductFile, pages: Mapping[str, str], certificates: Sequence[tuple[str, bytes]]
) -> bytes:
    """Write the zip.

    Parameters
    ----------
    file : ProductFile
    pages : mapping of str to str
        HTML, by its name in the zip.
    certificates : sequence of (str, bytes)
        Names as the maker's files have them, and their content.

    Raises
    ------
    BadNumber
        The certificates are too many or too large.
    """
    check_sizes(certificates)
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("README.txt", f"{NOTICE}\n\n{file.product}, {file.blend.market}.\n")
        for name, page in pages.items():
            out.writestr(name, page.encode("utf-8", "replace"))
        for name, table in file.tables.items():
            cells = table.map(lambda cell: defused(cell) if isinstance(cell, str) else cell)
            text = cells.to_csv(index=False, quoting=csv.QUOTE_ALL)
            out.writestr(f"{name}.csv", text.encode("utf-8-sig", "replace"))
        for number, (name, content) in enumerate(certificates, 1):
            out.writestr(certificate_name(number, name), content, zipfile.ZIP_STORED)
    return written.getvalue()
