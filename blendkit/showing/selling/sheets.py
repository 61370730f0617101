"""Printed pages of selling: the batch record and the product file."""

from collections.abc import Sequence
from datetime import date

from blendkit.selling.batch_record import TOLERANCE, BatchRecord
from blendkit.selling.papers import DECISIONS, LOOK_DAYS_SOURCE
from blendkit.selling.product_file import FUNCTION_BASIS, NOTICE, ProductFile, points_of
from blendkit.showing.kit.rendering import render
from blendkit.showing.label import pages as label_pages
from blendkit.showing.label.layout import Layout

_MOST_DEVIATIONS, _MUCH = 6, 2000  # on the page; characters beyond which letters are smaller


def record_page(record: BatchRecord) -> str:
    """Page of a batch record, blank where something is to be written by hand."""
    points = points_of("all", "batch record")
    return render(
        "batch_record",
        record=record,
        grades=points.groupby("grade", sort=False)["part"].agg(", ".join).to_dict(),
        decisions=DECISIONS,
        most=_MOST_DEVIATIONS,
        dense=len(record.materials) > 11 or len(f"{record.typed}{record.deviations}") > _MUCH,
        tolerance=record.typed.get("tolerance") or TOLERANCE,
    )


def file_page(file: ProductFile, layout: Layout, certificates: Sequence[str]) -> str:
    """Pages of a product file, with the proof of its label."""
    formula = file.tables["formula"]
    return render(
        "product_file",
        file=file,
        notice=NOTICE,
        today=date.today(),
        style=label_pages.proof_style(),
        function_basis=FUNCTION_BASIS,
        unsure=[*formula["material"][formula["inci_grade"] != "read"]],
        label=layout.label,
        proof=label_pages.proof(layout),
        legend=label_pages.legend(layout),
        look_source=LOOK_DAYS_SOURCE,
        certificates=certificates,
    )
