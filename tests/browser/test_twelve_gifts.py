"""Twelve gifts of the invented blend, from the shelf to the printed sheet, kept to look at."""

from __future__ import annotations

import io
import itertools
from datetime import date

import pytest
from pypdf import PdfReader

from blendkit import Blend, example_document
from blendkit.batch.cost import cost, packaging
from blendkit.batch.label import LabelDetails
from blendkit.batch.label import label as label_of
from blendkit.batch.label import label_of as from_parts
from blendkit.batch.packs import read_packs, shopping_list
from blendkit.batch.scaling import scale
from blendkit.batch.stock import missing, uses_of
from blendkit.batch.weighing import check_skin
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy, current_stock
from blendkit.showing.label.layout import lay_out
from blendkit.showing.label.pages import card_page, legend, proof, proof_style, sheet_page
from blendkit.showing.label.sheets import read_grid
from blendkit.showing.label.sizes import Sticker, type_size
from tests.browser.conftest import ARTEFACTS

# all prices and packs invented
BOUGHT = {
    "bergamot-fcf": ("10 mL", 7.9), "petitgrain": ("10 mL", 6.4), "lavender": ("10 mL", 5.9),
    "geranium": ("5 mL", 8.2), "cedarwood-atlas": ("10 mL", 4.8), "patchouli": ("10 mL", 6.9),
    "jojoba": ("50 mL", 7.9),
}  # fmt: skip
PACKS = {
    "jojoba": [("30 mL", 5.2), ("50 mL", 7.9), ("100 mL", 14.9)],
    "mct-fractionated-coconut": [("10 mL", 2.1), ("25 mL", 4.4), ("100 mL", 9.8)],
}
TYPED = LabelDetails(
    maker="Example Still Room (invented), 1 Sample Lane, Testford",
    lot="20261125-1",
    mixed_on=date(2026, 11, 25),
)


@pytest.fixture
def batch(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "maker"))
    for name, (size, price) in BOUGHT.items():
        buy(the_journal(), name, size, price=price, currency="EUR", opened_on="2026-10-01")
    blend = Blend.from_dict(example_document())
    ARTEFACTS.mkdir(exist_ok=True)
    return scale(blend, "12 × 10 mL", loss="2 %")


def kept_pdf(page, html: str, name: str) -> PdfReader:
    page.set_content(html)
    page.evaluate("() => document.fonts.ready")
    printed = page.pdf(prefer_css_page_size=True)
    (ARTEFACTS / f"{name}.pdf").write_bytes(printed)
    return PdfReader(io.BytesIO(printed))


def kept_picture(page, html: str, name: str, *, grey: bool = False) -> None:
    tone = "<style>html { filter: grayscale(1); }</style>" if grey else ""
    page.set_content(f"{tone}{html}")
    page.evaluate("() => document.fonts.ready")
    page.screenshot(path=ARTEFACTS / f"{name}.png", full_page=True)


def test_from_the_shelf_to_the_sheet(page, batch):
    there = current_stock(the_journal())
    spent = cost(batch, there, currency="EUR", extras=[packaging("Bottle", "0.85 EUR", 12)])
    (ARTEFACTS / "gifts_cost.txt").write_text(
        "\n".join(spent.sentences) + "\n", encoding="utf-8"
    )
    label = from_parts(
        batch.blend,
        TYPED,
        mass_fractions=batch.mass_fractions(),
        findings=check_skin(batch.weighings, batch.blend),
    )
    size = type_size("common measure")
    layout = lay_out(label, Sticker("rectangle", 70, 50), size)
    assert layout.fits
    assert layout.on_card == ()
    for paper in ("A4", "Letter"):
        html = sheet_page([(layout, 12)], read_grid(layout.sticker, paper))
        document = kept_pdf(page, html, f"gifts_labels_{paper}")
        text = " ".join(sheet.extract_text() for sheet in document.pages)
        assert text.count("Lot 20261125-1") == 12
        for entry in label.ingredients.listed:
            assert entry.name.split(" ")[0].split("/")[0].split("-")[0] in text
        kept_picture(page, html, f"gifts_labels_{paper}_grey", grey=True)
    cards = kept_pdf(page, card_page([(label, 12)], size), "gifts_cards")
    assert sum(sheet.extract_text().count("Patch test first.") for sheet in cards.pages) == 12
    kept_picture(page, proof_style() + proof(layout) + legend(layout), "gifts_proof")
    round_one = lay_out(label, Sticker("round", 50, 50), size)
    assert round_one.fits
    assert round_one.on_card
    kept_picture(page, proof_style() + proof(round_one), "gifts_proof_round")


def test_over_a_limit_the_sheet_says_so_in_black(page, batch):
    over = example_document() | {
        "oils": [{"id": "lime-expressed", "note": "top"}],
        "note_parts": {"top": 1},
    }
    label = label_of(Blend.from_dict(over), TYPED)
    layout = lay_out(label, Sticker("rectangle", 90, 55), type_size("common measure"))
    html = sheet_page([(layout, 10)], read_grid(layout.sticker, "A4"))
    document = kept_pdf(page, html, "gifts_over")
    text = " ".join(sheet.extract_text() for sheet in document.pages)
    assert text.count("OVER A LIMIT") == 10
    kept_picture(page, html, "gifts_over_grey", grey=True)


def test_the_shopping_list_beside_every_combination(batch):
    rows = [
        {"material": name, "size": size, "price": price, "currency": "EUR"}
        for name, sold in PACKS.items()
        for size, price in sold
    ]
    lacking = missing(uses_of(batch), current_stock(the_journal()))
    assert set(lacking) == set(PACKS)  # all else is on the shelf
    found = shopping_list(lacking, read_packs(rows))
    told = []
    for line in found.lines:
        sold = [(float(size.split()[0]), price) for size, price in PACKS[line.material]]
        need_ml = lacking[line.material] * 1e6
        every = {
            counts: sum(n * price for n, (_, price) in zip(counts, sold, strict=True))
            for counts in itertools.product(range(12), repeat=len(sold))
            if sum(n * size for n, (size, _) in zip(counts, sold, strict=True)) >= need_ml
        }
        best = min(every.values())
        assert line.cost == pytest.approx(best)
        told.append(
            f"{line}  Of {len(every)} combinations that cover it, the least: {best:.2f}"
        )
    (ARTEFACTS / "gifts_shopping.txt").write_text("\n".join(told) + "\n", encoding="utf-8")
