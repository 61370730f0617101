"""The printed sheets: one page each, on A4 and on Letter, with nothing clipped."""

from __future__ import annotations

import io
from datetime import date

import pytest
from pypdf import PdfReader

from blendkit import Blend, example_document
from blendkit.foundation.units import G_PER_KG
from blendkit.journal.records import BatchRow
from blendkit.materials import catalogue
from blendkit.selling.batch_record import CHECKS, TYPED, BatchRecord, MaterialLine
from blendkit.selling.papers import LONGEST
from blendkit.showing.bottle.sheets import bench_page, sniff_page
from blendkit.showing.selling.sheets import record_page


def full_record_page(blend):
    """Batch record of a blend with every entry at its longest."""
    text = ("word " * LONGEST)[:LONGEST]
    lines = [
        MaterialLine(None, p.name, "A12-2026", p.mass_kg * G_PER_KG, p.mass_kg * G_PER_KG,
                     "part weighed", 0.1, is_off=True)
        for p in blend.bottle.portions
    ]  # fmt: skip
    batch = BatchRow(version_id="", lot="20260302-1", made_on=date(2026, 3, 2))
    typed = dict.fromkeys(TYPED, text) | {"checks": dict.fromkeys(CHECKS, text)}
    few = ("11 of 12 bottles filled: 91.7 %.",)
    deviations = (text * 20,) * 40
    return record_page(
        BatchRecord(blend.name, batch, "12 × 10 mL", tuple(lines), deviations, few, typed,
                    (), (), 3)
    )  # fmt: skip


SHEETS = {"bench": bench_page, "sniff": sniff_page, "record": full_record_page}


def large_blend() -> Blend:
    """Fifteen oils and four carriers: more than anybody mixes at a kitchen table."""
    known = [catalogue.oil(oil_id) for oil_id in catalogue.oil_ids()]
    oils = [
        {"id": oil.id} for note in ("top", "middle", "base")
        for oil in [one for one in known if one.note == note][:5]
    ]  # fmt: skip
    carriers = [{"id": carrier_id} for carrier_id in catalogue.carrier_ids()[:4]]
    document = example_document() | {"oils": oils, "carriers": carriers, "bottle": "30 mL"}
    document["name"] = "A long name for a large blend that nobody would mix (invented)"
    return Blend.from_dict(document)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("size", ["usual", "large"])
def test_prints_on_one_sheet_with_nothing_clipped(page, sheet, paper, size):
    blend = Blend.from_dict(example_document()) if size == "usual" else large_blend()
    page.set_content(SHEETS[sheet](blend))
    page.emulate_media(media="print")
    # the sheet must be narrower than either paper: A4 is 210 mm wide, Letter 216 mm
    overflow = page.evaluate(
        """() => {
          const right = element => element.getBoundingClientRect().right;
          const sheet = right(document.querySelector('main'));
          return Math.max(...[...document.querySelectorAll('main *')].map(right)) - sheet;
        }"""
    )
    assert overflow <= 0.5
    document = PdfReader(io.BytesIO(page.pdf(format=paper)))
    assert len(document.pages) == 1
    text = document.pages[0].extract_text()
    for portion in blend.bottle.oils:
        assert portion.name.split(" ")[0] in text
