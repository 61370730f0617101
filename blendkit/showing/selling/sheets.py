"""Printed pages of selling: the batch record and the product file; and their facts on a panel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from blendkit.foundation.units import show
from blendkit.selling.batch_record import SCALE_STEP, TOLERANCE, BatchRecord
from blendkit.selling.papers import DECISIONS, LOOK_DAYS_SOURCE
from blendkit.selling.product_file import FUNCTION_BASIS, NOTICE, ProductFile, points_of
from blendkit.showing.kit.rendering import render
from blendkit.showing.label import pages as label_pages
from blendkit.showing.label.layout import Layout

_MOST_DEVIATIONS = 7  # on the page; the journal has all


def record_page(record: BatchRecord) -> str:
    """Page of a batch record, blank where something is to be written by hand."""
    grades: dict[str, list[str]] = {}
    for row in points_of("batch record", "all"):
        grades.setdefault(row["grade"], []).append(row["part"])
    return render(
        "batch_record",
        record=record,
        grades=grades,
        decisions=DECISIONS,
        most=_MOST_DEVIATIONS,
        tolerance=record.typed.get("tolerance") or TOLERANCE,
        step=record.typed.get("scale_step") or SCALE_STEP,
    )


def record_facts(record: BatchRecord) -> str:
    """Facts of a batch record, for a panel."""
    return render("record_facts", record=record)


def file_page(file: ProductFile, layout: Layout, certificates: Sequence[str], day: date) -> str:
    """Pages of a product file, with the proof of its label."""
    limits = [
        (
            row["rule_set"], row["subject"], f"{row['amount_percent']:.4f}",
            _number(row["limit_percent"]), _number(row["share_of_limit"]), row["verdict"],
            row["figure_basis"], row["source"],
        )
        for row in file.limits.to_dict("records")
    ]  # fmt: skip
    allergens = [
        (
            row["label_name"], f"{row['percent']:.4f}", "yes" if row["must_be_named"] else "no",
            row["from_oils"], row["list_used"], row["figure_basis"],
        )
        for row in file.allergens.to_dict("records")
    ]  # fmt: skip
    keys = ("part", "asks", "given", "adds", "source", "grade")
    records = file.records
    return render(
        "product_file",
        file=file,
        notice=NOTICE,
        today=day,
        style=label_pages.proof_style(),
        points=[tuple(row[key] or "nothing" for key in keys) for row in file.points],
        formula=[(f.name, f.inci, f.cas, f.function, f"{f.percent:.3f}") for f in file.formula],
        function_basis=FUNCTION_BASIS,
        unsure=[f.name for f in file.formula if f.inci_grade != "read"],
        limits=limits,
        allergens=allergens,
        proof=label_pages.proof(layout),
        legend=label_pages.legend(layout),
        batches=[
            (r.batch.lot, r.batch.made_on, r.bottles, r.release or "none", len(r.deviations))
            for r in records
        ],
        looks=[(r.batch.lot, *seen) for r in records for seen in r.looks],
        look_source=LOOK_DAYS_SOURCE,
        certificates=certificates,
    )


def _number(value: float) -> str:
    if math.isinf(value):
        return "prohibited"
    return "–" if math.isnan(value) else show(value)
