"""Product file: a maker's facts on one version for one market, in one zip for an assessor.

It is no assessment and says so first. What the law asks for beyond these facts is listed, from
`data/seller_papers.csv`, with who has to add it. Certificates are copied in as they are, under
harmless names, and are never opened.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import pandas as pd

from blendkit.batch.label_words import SELLER_NOTICE
from blendkit.blend.blend import Blend
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber, Problem, quoted
from blendkit.foundation.keep import file_stem
from blendkit.journal.exchange import defused
from blendkit.making.mixing_order import mixing_steps
from blendkit.materials import catalogue
from blendkit.materials.provenance import provenance
from blendkit.selling.batch_record import BatchRecord
from blendkit.skin.allergens import label_allergens, label_gaps
from blendkit.skin.check import skin_findings
from blendkit.skin.verdict import Verdict, verdict

NOTICE = f"This is no safety assessment. It gathers a maker's facts for one. {SELLER_NOTICE}"
FUNCTIONS = {"oil": "perfuming", "carrier": "emollient, solvent"}
FUNCTION_BASIS = (
    "Function is the role in this product, in words of the EU inventory (memory); it was not "
    "looked up for each material."
)
CERTIFICATES = "certificates"
MOST_FILES, MOST_BYTES = 40, 20_000_000  # of one file; all together three times as much
LIMIT_COLUMNS = (
    "rule_set", "subject", "kind", "amount_percent", "limit_percent", "share_of_limit",
    "verdict", "figure_basis", "confirmed", "source",
)  # fmt: skip
_GUIDE = "EU"  # where no law of the region is on record


class FormulaLine(NamedTuple):
    """One material of the formula.

    Attributes
    ----------
    name, inci, inci_grade, cas, function : str
        "" where it is not on record.
    percent : float
        By mass of the product.
    """

    name: str
    inci: str
    inci_grade: str
    cas: str
    function: str
    percent: float


@dataclass(frozen=True)
class ProductFile:
    """Facts of one version for one market.

    Attributes
    ----------
    product : str
        Blend and version.
    blend : Blend
        With its market.
    formula : tuple of FormulaLine
        Largest first; mixtures unfolded.
    limits : DataFrame
        As `skin_findings` gives them, with `LIMIT_COLUMNS`.
    allergens : DataFrame
    judged : Verdict
    gaps : tuple of str
        Sentences on what no figure covers.
    method : tuple of str
        Steps of making.
    records : tuple of BatchRecord
    points : tuple of dict
        Rows of `data/seller_papers.csv` for the region.
    is_guide : bool
        Whether these are the EU's, for want of a law on record.
    """

    product: str
    blend: Blend
    formula: tuple[FormulaLine, ...]
    limits: pd.DataFrame
    allergens: pd.DataFrame
    judged: Verdict
    gaps: tuple[str, ...]
    method: tuple[str, ...]
    records: tuple[BatchRecord, ...]
    points: tuple[dict[str, Any], ...]
    is_guide: bool


def product_file(blend: Blend, product: str, records: Iterable[BatchRecord]) -> ProductFile:
    """Gather the facts of a version, for the market of the blend."""
    lines = tuple(formula(blend))
    region = blend.market.region
    points = points_of("product file", region)
    nameless = [line.name for line in lines if not (line.inci and line.cas)]
    gap = f"No INCI name or no CAS number on record: {', '.join(nameless)}."
    judged = verdict(blend)
    return ProductFile(
        product=product,
        blend=blend,
        formula=lines,
        limits=skin_findings(blend)[list(LIMIT_COLUMNS)],
        allergens=label_allergens(blend),
        judged=judged,
        gaps=(*judged.not_checked, *label_gaps(blend), *([gap] if nameless else [])),
        method=tuple(_steps(blend)),
        records=tuple(records),
        points=points or points_of("product file", _GUIDE),
        is_guide=not points,
    )


def points_of(paper: str, region: str) -> tuple[dict[str, Any], ...]:
    """Points that a paper has to cover in a region, in order; none where no law is on record."""
    rows = data.table("seller_papers").to_dict("records")
    return tuple(
        {str(key): value for key, value in row.items()}
        for row in rows
        if row["paper"] == paper and {region, "all"} & set(row["region"].split("; "))
    )


def formula(blend: Blend) -> Iterator[FormulaLine]:
    """Materials by mass, largest first."""
    cas = pd.concat([catalogue.oils()["cas"], catalogue.carriers()["cas"]]).to_dict()
    for held in sorted(blend.bottle.held, key=lambda one: -one.mass_kg):
        item, percent = held.material, held.mass_kg / blend.bottle.mass_kg * 100
        role = "oil" if isinstance(item, catalogue.Oil) else "carrier"
        number = str(cas.get(item.id) or "")
        names = (item.name, item.inci, item.inci_grade, number, FUNCTIONS[role])
        if percent:
            yield FormulaLine(*names, percent)


def _steps(blend: Blend) -> Iterator[str]:
    whole_kg = blend.bottle.mass_kg
    for step in mixing_steps(blend.bottle):
        part = step.portion
        amount = f": {part.name}, {part.mass_kg / whole_kg * 100:.3f} % by mass" if part else ""
        yield f"{step.action}{amount}."


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
    return f"{CERTIFICATES}/{number:02} {file_stem(stem or name)}{f'.{ending}' if stem else ''}"


def check_sizes(sizes: Mapping[str, int]) -> None:
    """Refuse certificates that are too many or too large. [bytes]

    Raises
    ------
    BadNumber
        Lists them.
    """
    megabytes = MOST_BYTES / 1e6
    problems = [
        Problem(quoted(name), f"{size / 1e6:.1f} MB", f"at most {megabytes:g} MB for one file")
        for name, size in sizes.items()
        if size > MOST_BYTES
    ]
    if len(sizes) > MOST_FILES or sum(sizes.values()) > 3 * MOST_BYTES:
        got = f"{len(sizes)} files, {sum(sizes.values()) / 1e6:.1f} MB"
        needed = f"at most {MOST_FILES} files and {3 * megabytes:g} MB in all"
        problems.append(Problem("certificates", got, needed))
    if problems:
        raise BadNumber(problems)


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
    check_sizes({f"{place} {name}": len(content)
                 for place, (name, content) in enumerate(certificates, 1)})  # fmt: skip
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("README.txt", f"{NOTICE}\n\n{file.product}, {file.blend.market}.\n")
        for name, page in pages.items():
            out.writestr(name, page.encode("utf-8", "replace"))
        for name, (headings, rows) in _tables(file).items():
            out.writestr(f"{name}.csv", _csv(headings, rows))
        for place, (name, content) in enumerate(certificates, 1):
            out.writestr(certificate_name(place, name), content, zipfile.ZIP_STORED)
    return written.getvalue()


def _tables(file: ProductFile) -> dict[str, tuple[Sequence[str], Iterable[Sequence[Any]]]]:
    ids = [held.material.id for held in file.blend.bottle.held]
    sources = pd.concat([provenance(name).assign(material=name) for name in ids])
    frames = {"limits": file.limits, "allergens": file.allergens, "sources": sources}
    looks = [(each.batch.lot, *look) for each in file.records for look in each.looks]
    batches = [
        (each.batch.lot, each.batch.made_on, each.bottles, each.release, len(each.deviations))
        for each in file.records
    ]
    points = [tuple(row.values()) for row in file.points]
    return {
        "formula": (FormulaLine._fields, file.formula),
        **{name: (list(f.columns), f.itertuples(index=False)) for name, f in frames.items()},
        "stability": (("lot", "day", "colour", "clouding", "smell", "words"), looks),
        "batches": (("lot", "made_on", "bottles", "release", "deviations"), batches),
        "to_add": (tuple(file.points[0]), points),
    }


def _csv(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_ALL)
    writer.writerow(headings)
    writer.writerows([defused(c) if isinstance(c, str) else c for c in row] for row in rows)
    return text.getvalue().encode("utf-8-sig", "replace")
