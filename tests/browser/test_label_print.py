"""Labels in a real browser: widths, clear edges, letter heights in the PDF, margins, grey."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date
from importlib.resources import files

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

import blendkit as bk
from blendkit.batch.label import LabelDetails
from blendkit.batch.label import label as label_of
from blendkit.showing.label.font import FAMILY, style_sheet
from blendkit.showing.label.layout import lay_out
from blendkit.showing.label.lines import EDGE_MM
from blendkit.showing.label.pages import card_page, sheet_page
from blendkit.showing.label.sheets import PAPERS_MM, read_grid
from blendkit.showing.label.sizes import Sticker, type_size, type_sizes

EXAMPLE = bk.example_document()
TYPED = LabelDetails(
    maker="Example Still Room (invented), 1 Sample Lane, Testford",
    lot="T1",
    mixed_on=date(2026, 11, 25),
)
OVER = {"oils": [{"id": "lime-expressed", "note": "top"}], "note_parts": {"top": 1}}
MM_PER_POINT = 25.4 / 72
PX_PER_MM = 96 / 25.4  # CSS: 96 px are an inch


def label_with(**fields):
    return label_of(bk.Blend.from_dict(EXAMPLE | fields), TYPED)


def opened_page(page, html: str):
    page.set_content(html)
    page.emulate_media(media="print")
    page.evaluate("() => document.fonts.ready")
    return page


def measured_height_in_em(page, letter: str) -> float:
    """Height of a letter's ink as the browser paints it: independent of the shipped table."""
    return page.evaluate(
        """([family, letter]) => {
          const pen = document.createElement('canvas').getContext('2d');
          pen.font = `1000px "${family}"`;
          const ink = pen.measureText(letter);
          return (ink.actualBoundingBoxAscent + ink.actualBoundingBoxDescent) / 1000;
        }""",
        [FAMILY, letter],
    )


def test_the_browser_finds_every_letter_as_wide_as_the_table_says(page):
    opened_page(
        page, f"<style>{style_sheet()}</style><p style='font-family: \"{FAMILY}\"'>a<b>a"
    )
    known = json.loads(
        files("blendkit")
        .joinpath("showing/label/fonts/label_font.json")
        .read_text(encoding="utf-8")
    )
    for face, weight in (("regular", 400), ("bold", 700)):
        letters = known[face]["advances"]
        found = page.evaluate(
            """([family, weight, letters]) => {
              const pen = document.createElement('canvas').getContext('2d');
              pen.font = `${weight} 2048px "${family}"`; pen.fontKerning = 'none';
              return letters.map(letter => pen.measureText(letter).width);
            }""",
            [FAMILY, weight, list(letters)],
        )
        wrong = {
            letter: (width, letters[letter])
            for letter, width in zip(letters, found, strict=True)
            # the canvas makes a plain blank of every kind of blank
            if abs(width - letters[letter]) > 2 and not letter.isspace()
        }
        assert wrong == {}
        assert len(letters) > 400


@pytest.mark.parametrize("paper", PAPERS_MM)
@pytest.mark.parametrize(
    "sticker",
    [Sticker("rectangle", 60, 45), Sticker("rectangle", 90, 55), Sticker("round", 60, 60)],
    ids=lambda sticker: sticker.words,
)
@pytest.mark.parametrize("kind", ["usual", "over"])
def test_nothing_is_clipped_and_every_line_is_as_wide_as_planned(page, paper, sticker, kind):
    label = label_with(**(OVER if kind == "over" else {}))
    layout = lay_out(label, sticker, type_size("common measure"))
    assert layout.fits
    grid = read_grid(sticker, paper)
    opened_page(page, sheet_page([(layout, len(grid.places))], grid))
    found = page.evaluate(
        """() => [...document.querySelectorAll('g.sticker')].map(sticker => {
          const own = sticker.querySelector('.outline').getBoundingClientRect();
          return {
            own: [own.left, own.top, own.right, own.bottom],
            lines: [...sticker.querySelectorAll('text')].map(line => {
              const box = line.getBoundingClientRect();
              return {box: [box.left, box.top, box.right, box.bottom],
                      planned: +line.dataset.width, wide: line.getComputedTextLength()};
            }),
          };
        })"""
    )
    assert len(found) == len(grid.places)
    edge = (EDGE_MM - 0.25) * PX_PER_MM  # a quarter of a millimetre for the browser's rounding
    for one, (left, top) in zip(found, grid.places, strict=True):
        assert one["own"][0] / PX_PER_MM == pytest.approx(left, abs=0.15)
        assert one["own"][1] / PX_PER_MM == pytest.approx(top, abs=0.15)
        for line in one["lines"]:
            assert line["wide"] == pytest.approx(
                line["planned"], rel=0.002, abs=2
            )  # hundredths of a millimetre
            if sticker.shape == "rectangle":
                assert line["box"][0] >= one["own"][0] + edge
                assert line["box"][2] <= one["own"][2] - edge
                assert line["box"][1] >= one["own"][1] + edge
                assert line["box"][3] <= one["own"][3] - edge
            else:
                middle_x = (one["own"][0] + one["own"][2]) / 2
                middle_y = (one["own"][1] + one["own"][3]) / 2
                radius = (one["own"][2] - one["own"][0]) / 2 - edge
                for x in (line["box"][0], line["box"][2]):
                    for y in (line["box"][1], line["box"][3]):
                        assert (x - middle_x) ** 2 + (y - middle_y) ** 2 <= radius**2


def runs_of(document: PdfReader):
    """Every run of text in a PDF: text, type size on paper in mm, place in mm from the top."""
    found = []
    for sheet in document.pages:
        tall = float(sheet.mediabox.height)

        def visit(text, matrix, text_matrix, font, size, tall=tall):
            if text.strip():
                # rows of the two matrices multiplied: scale and place on paper
                a, b, c, d, e, f = matrix
                scale = abs(d * text_matrix[3] + b * text_matrix[2])
                x = a * text_matrix[4] + c * text_matrix[5] + e
                y = b * text_matrix[4] + d * text_matrix[5] + f
                place = (x * MM_PER_POINT, (tall - y) * MM_PER_POINT)
                found.append((text, size * scale * MM_PER_POINT, place))

        sheet.extract_text(visitor_text=visit)
    return found


@pytest.mark.parametrize("size", type_sizes(), ids=lambda size: size.rule)
def test_letters_in_the_pdf_are_as_tall_as_the_rule_asks(page, size):
    layout = lay_out(label_with(), Sticker("rectangle", 100, 70), size)
    grid = read_grid(layout.sticker, "A4")
    count = len(grid.places)
    opened_page(page, sheet_page([(layout, count)], grid))
    letter = 1.0 if size.letter == "em" else measured_height_in_em(page, size.letter)
    document = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert len(document.pages) == 1
    told = [run for run in runs_of(document) if "50 mm" not in run[0]]
    assert len(told) > 5 * count
    # a thousandth of a millimetre for the rounding in the PDF
    assert min(tall for _, tall, _ in told) * letter >= size.height_mm - 0.001
    wide, tall = PAPERS_MM["A4"]
    for _, _, (x, y) in told:
        assert grid.left_mm <= x <= wide - grid.right_mm
        assert grid.top_mm <= y <= tall - grid.bottom_mm


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_sheets_take_as_many_pages_as_they_are_and_the_bar_is_50_mm(page, paper):
    sticker = Sticker("rectangle", 60, 45)
    grid = read_grid(sticker, paper)
    layout = lay_out(label_with(), sticker, type_size("common measure"))
    count = len(grid.places) + 1
    opened_page(page, sheet_page([(layout, count)], grid))
    bar_px = page.locator(".bar path").first.evaluate(
        "bar => bar.getBBox().width * bar.getScreenCTM().a"
    )
    assert bar_px / PX_PER_MM == pytest.approx(50, abs=0.1)
    document = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert len(document.pages) == 2
    wide, tall = PAPERS_MM[paper]
    for sheet in document.pages:
        assert float(sheet.mediabox.width) * MM_PER_POINT == pytest.approx(wide, abs=0.4)
        assert float(sheet.mediabox.height) * MM_PER_POINT == pytest.approx(tall, abs=0.4)
    text = " ".join(sheet.extract_text() for sheet in document.pages)
    assert text.count("Lot T1") == count


@pytest.mark.parametrize("kind", ["usual", "over"])
def test_a_label_needs_no_colour(page, kind):
    label = label_with(**(OVER if kind == "over" else {}))
    layout = lay_out(label, Sticker("rectangle", 90, 55), type_size("common measure"))
    opened_page(page, sheet_page([(layout, 4)], read_grid(layout.sticker, "A4")))
    document = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    inks = set()
    for sheet in document.pages:
        for operands, operator in sheet.get_contents().operations:
            if operator in (b"rg", b"RG"):
                inks.add(tuple(round(float(ink), 3) for ink in operands))
            assert operator not in (b"k", b"K")
    assert inks
    assert all(red == green == blue for red, green, blue in inks)


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_cards_are_not_clipped_and_their_letters_are_tall_enough(page, paper):
    size = type_size("common measure")
    opened_page(page, card_page([(label_with(), 3), (label_with(**OVER), 1)], size, paper))
    letter = measured_height_in_em(page, "x")
    overflow = page.evaluate(
        """() => Math.max(...[...document.querySelectorAll('article')].map(card => {
          const own = card.getBoundingClientRect().right;
          return Math.max(...[...card.querySelectorAll('*')]
            .map(e => e.getBoundingClientRect().right)) - own;
        }))"""
    )
    assert overflow <= 0
    document = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    told = runs_of(document)
    assert min(tall for _, tall, _ in told) * letter >= size.height_mm - 0.001
    text = " ".join(sheet.extract_text() for sheet in document.pages)
    assert text.count("Patch test first.") == 4
    wide, tall = PAPERS_MM[paper]
    for _, _, (x, y) in told:
        assert 4 <= x <= wide - 4
        assert 4 <= y <= tall - 4


def test_a_phone_reads_the_code_of_every_sticker_on_the_screen(page):
    address = "https://example.org/quay-at-dusk"
    label = label_of(bk.Blend.from_dict(EXAMPLE), replace(TYPED, page=address))
    for sticker in (Sticker("rectangle", 70, 50), Sticker("round", 60, 60)):
        layout = lay_out(label, sticker, type_size("common measure"))
        grid = read_grid(sticker, "A4")
        page.set_viewport_size({"width": 1000, "height": 1200})
        opened_page(page, sheet_page([(layout, len(grid.places))], grid))
        picture = page.locator("svg.sheet").screenshot()
        found = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)).resize((2400, 3394)))
        assert [one.text for one in found] == [address] * len(grid.places)
