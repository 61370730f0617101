"""Labels on stickers: nothing leaves the sticker, nothing is cut, letters are tall enough."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace
from datetime import date
from html import unescape
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import zxingcpp
from hypothesis import event, given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.batch.label import LabelDetails
from blendkit.batch.label import label as label_of
from blendkit.batch.label_words import shelf_life
from blendkit.blend.market import regions
from blendkit.foundation import data
from blendkit.foundation.errors import BadNumber
from blendkit.showing.label.font import ascent_in_em, line_in_em, missing_characters
from blendkit.showing.label.layout import lay_out, smallest_that_fits
from blendkit.showing.label.lines import EDGE_MM
from blendkit.showing.label.pages import (
    card_page,
    fit_in_words,
    ingredient_page,
    legend,
    proof,
    seller_list,
    sheet_page,
)
from blendkit.showing.label.sheets import PAPERS_MM, read_grid
from blendkit.showing.label.sizes import Sticker, read_sticker, stickers, type_size, type_sizes

EXAMPLE = bk.example_document()
TYPED = LabelDetails(
    maker="Example Still Room (invented), 1 Sample Lane, Testford",
    lot="T1",
    mixed_on=date(2026, 11, 25),
)
SEE_CARD = "see the card"
COMMON = type_size("common measure")
SIZES = [sticker for _, sticker in stickers()]


def label_with(typed: LabelDetails = TYPED, region: str = "EU", **fields):
    return label_of(bk.Blend.from_dict(EXAMPLE | fields), typed, region=region)


OVER = {"oils": [{"id": "lime-expressed", "note": "top"}], "note_parts": {"top": 1}}


def corners_of(piece):
    top = piece.baseline_mm - ascent_in_em() * piece.size_mm
    bottom = top + line_in_em() * piece.size_mm
    for x in (piece.left_mm, piece.left_mm + piece.width_mm):
        for y in (top, bottom):
            yield x, y


def is_within(piece, sticker: Sticker) -> bool:
    tolerance = 1e-6
    if sticker.shape == "round":
        middle, radius = sticker.width_mm / 2, sticker.width_mm / 2 - EDGE_MM
        return all(
            math.hypot(x - middle, y - middle) <= radius + tolerance
            for x, y in corners_of(piece)
        )
    return all(
        EDGE_MM - tolerance <= x <= sticker.width_mm - EDGE_MM + tolerance
        and EDGE_MM - tolerance <= y <= sticker.height_mm - EDGE_MM + tolerance
        for x, y in corners_of(piece)
    )


def text_of(layout, *keys: str) -> str:
    """The words set for some parts, without the spaces that lines and slashes part."""
    found = (piece.text for piece in layout.pieces if piece.key in keys)
    return "".join("".join(found).split()).replace("·", "")


# --- what is said to fit does fit, and all of it is there -----------------------------------


@pytest.mark.parametrize("sticker", SIZES, ids=lambda sticker: sticker.words)
@pytest.mark.parametrize("size", type_sizes(), ids=lambda size: size.rule)
@pytest.mark.parametrize("region", regions())
def test_what_fits_stands_within_and_is_complete(sticker, size, region):
    label = label_with(region=region)
    layout = lay_out(label, sticker, size)
    for part in label.parts:
        wanted = "" if part.key in layout.on_card else "".join(part.text.split())
        assert text_of(layout, part.key) == wanted.replace("·", "")
    assert all(piece.size_mm >= size.size_mm - 1e-9 for piece in layout.pieces)
    if layout.fits:
        assert all(is_within(piece, sticker) for piece in layout.pieces)
    else:
        assert not all(is_within(piece, sticker) for piece in layout.pieces)
    assert (SEE_CARD.replace(" ", "") in text_of(layout, "card")) is bool(layout.on_card)


@settings(max_examples=60)
@given(
    st.text(min_size=1, max_size=90),
    st.text(max_size=160),
    st.sampled_from(SIZES),
)
def test_whatever_is_typed_is_set_whole_or_said_not_to_fit(name, maker, sticker):
    label = label_with(LabelDetails(maker=maker, lot="T1"), name=name)
    layout = lay_out(label, sticker, COMMON)
    assert text_of(layout, "name") == "".join(name.split()).replace("·", "")
    assert layout.fits == all(is_within(piece, sticker) for piece in layout.pieces)
    assert layout.fits != bool(layout.problems)


def test_lines_do_not_overlap():
    layout = lay_out(label_with(), Sticker("rectangle", 70, 50), COMMON)
    by_line = {}
    for piece in layout.pieces:
        top = piece.baseline_mm - ascent_in_em() * piece.size_mm
        by_line[round(piece.baseline_mm, 6)] = (top, top + line_in_em() * piece.size_mm)
    tops = [by_line[baseline] for baseline in sorted(by_line)]
    for (_, bottom), (top, _) in itertools.pairwise(tops):
        assert top >= bottom - 1e-9


def test_a_larger_sticker_never_takes_less():
    label = label_with()
    on_sticker = []
    for side in range(20, 110, 5):
        layout = lay_out(label, Sticker("rectangle", side, side), COMMON)
        on_sticker.append(layout.fits * (len(label.parts) - len(layout.on_card)))
    assert on_sticker == sorted(on_sticker)
    assert on_sticker[0] == 0
    assert on_sticker[-1] == len(label.parts)


def test_contents_date_and_maker_never_move_to_a_card():
    for sticker in SIZES:
        layout = lay_out(label_with(), sticker, COMMON)
        assert set(layout.on_card) <= {"ingredients", "cautions"}


@pytest.mark.parametrize("sticker", SIZES, ids=lambda sticker: sticker.words)
@pytest.mark.parametrize("region", ["EU", "US"])
def test_dates_lots_and_contents_stay_in_one_piece(sticker, region):
    typed = LabelDetails(maker="M", lot="2026/11-25-1", mixed_on=date(2026, 11, 25))
    label = label_with(typed, region)
    lines = [p.text.replace("\u00a0", " ") for p in lay_out(label, sticker, COMMON).pieces]
    month = label.part("durability").text.split()[-1]
    for whole in ("2026/11-25-1", month, label.part("contents").text):
        assert any(whole in line for line in lines)


# --- the QR code ----------------------------------------------------------------------------

PAGE = "https://example.org/quay-at-dusk"
LAW = pd.read_csv(Path(__file__).parents[1] / "published" / "label_law.csv").set_index("check")
DOTS_PER_MM = 300 / 25.4  # a plain printer


def with_page(page: str = PAGE, **more) -> LabelDetails:
    return replace(TYPED, page=page, **more)


def bars_on(page: str) -> list[tuple[float, ...]]:
    """The dark bars as the page draws them: left, top, width, height in mm."""
    [path] = re.findall(r'<path class="code"[^>]* d="([^"]+)"', page)
    bar = r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-[\d.]+z"
    assert re.fullmatch(f"(?:{bar})+", path)
    return [tuple(map(float, found)) for found in re.findall(bar, path)]


def read_again(bars, sticker: Sticker) -> list[str]:
    """What an independent reader finds on the sticker, drawn as a printer puts its dots."""
    dots = np.full(
        [round(side * DOTS_PER_MM) for side in (sticker.height_mm, sticker.width_mm)],
        255, np.uint8,
    )  # fmt: skip
    for left, top, wide, tall in bars:
        rows = slice(round(top * DOTS_PER_MM), round((top + tall) * DOTS_PER_MM))
        dots[rows, round(left * DOTS_PER_MM) : round((left + wide) * DOTS_PER_MM)] = 0
    return [found.text for found in zxingcpp.read_barcodes(dots)]


@pytest.mark.parametrize("sticker", SIZES, ids=lambda sticker: sticker.words)
@pytest.mark.parametrize("region", regions())
def test_an_independent_reader_reads_the_code_of_the_printed_label(sticker, region):
    layout = lay_out(label_with(with_page(), region), sticker, COMMON)
    if not layout.fits:
        assert "QR code" in " ".join(layout.problems)
        return
    assert read_again(bars_on(one_on_a_sheet(layout)), sticker) == [PAGE]
    code = layout.code
    left, top = code.left_mm, code.top_mm
    right, bottom = left + code.side_mm, top + code.side_mm
    for piece in layout.pieces:  # nothing in the code or its empty border
        assert is_within(piece, sticker)
        corners = list(corners_of(piece))
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        is_clear = (
            max(xs) <= left + 1e-6 or min(xs) >= right - 1e-6
            or max(ys) <= top + 1e-6 or min(ys) >= bottom - 1e-6
        )  # fmt: skip
        assert is_clear, piece.text
    if sticker.shape == "round":
        middle, radius = sticker.width_mm / 2, sticker.width_mm / 2 - EDGE_MM
        far = max(
            math.hypot(x - middle, y - middle) for x in (left, right) for y in (top, bottom)
        )
        assert far <= radius + 1e-6
    else:
        assert right <= sticker.width_mm - EDGE_MM + 1e-6
        assert bottom <= sticker.height_mm - EDGE_MM + 1e-6


@given(
    st.from_regex(r"https://[a-z]{1,12}\.example(/[a-zA-Z0-9_.~%?&=#-]{0,90})?", fullmatch=True)
)
def test_every_address_is_read_again_as_it_was_typed(page):
    layout = lay_out(label_with(with_page(page)), Sticker("rectangle", 120, 90), COMMON)
    assert read_again(layout.code.bars, layout.sticker) == [page]


def test_the_code_is_as_large_as_the_standard_asks(beside_published):
    code = lay_out(label_with(with_page()), Sticker("rectangle", 100, 70), COMMON).code
    heights = {bar[3] for bar in code.bars}
    assert len(heights) == 1
    module = heights.pop()
    left = min(bar[0] for bar in code.bars) - code.left_mm
    right = code.left_mm + code.side_mm - max(bar[0] + bar[2] for bar in code.bars)
    assert left == pytest.approx(right)
    for check, ours, off in (
        ("QR module at least", module, (0, 0.99 - 0.396)),  # up to 0.990 mm
        ("QR empty border", left / module, (1e-9, 1e-9)),
        ("QR of 29 modules at least", code.side_mm, (0, (29 + 8) * (0.99 - 0.396))),
    ):
        row = LAW.loc[check]
        beside_published(
            f"on a label: {check}", ours, row["value"], row["value"] - off[0],
            row["value"] + off[1], unit=row["unit"], source=f"{row['source']} ({row['grade']})",
        )  # fmt: skip
    assert round(code.side_mm / module) == 29 + 8


@pytest.mark.parametrize("sticker", [Sticker("rectangle", 60, 15), Sticker("round", 20, 20)])
def test_a_sticker_too_small_for_the_code_is_refused_in_words(sticker):
    layout = lay_out(label_with(with_page()), sticker, COMMON)
    told = " ".join(layout.problems)
    assert "The QR code has no room" in told
    assert "14.8 mm" in told
    assert "were not printed" in sheet_page([(layout, 1)], read_grid(sticker, "A4"))


def test_in_canada_the_list_may_move_to_the_page_in_both_languages_and_not_in_the_eu():
    sticker = Sticker("rectangle", 90, 55)
    canada = lay_out(label_with(with_page(), "Canada"), sticker, COMMON)
    assert canada.fits
    assert canada.is_on_page
    told = text_of(canada, "card")
    assert PAGE in told
    assert "Ingredientslisted" in told
    assert "Listedesingrédients" in told
    assert PAGE in " ".join(fit_in_words(canada))
    small = Sticker("rectangle", 60, 45)
    europe = lay_out(label_with(with_page()), small, COMMON)
    assert europe.on_card
    assert not europe.is_on_page
    assert SEE_CARD.replace(" ", "") in text_of(europe, "card")
    without = lay_out(label_with(region="Canada"), sticker, COMMON)
    assert not without.is_on_page
    assert "seethecardattached" in text_of(without, "card")


@pytest.mark.parametrize("size", type_sizes(), ids=lambda size: size.rule)
def test_in_canada_identity_contents_and_maker_are_as_tall_as_its_packaging_law_asks(size):
    layout = lay_out(label_with(region="Canada"), Sticker("rectangle", 120, 90), size)
    least = type_size("Canadian packages").size_mm
    for piece in layout.pieces:
        if piece.key in ("identity", "contents", "maker"):
            assert piece.size_mm >= least - 1e-9
        assert piece.key != "contents" or piece.face == "bold"


def test_every_word_of_a_label_is_in_its_font():
    for table in ("label_words", "label_cautions"):
        for row in data.table(table).to_dict("records"):
            texts = [row.get("en", row.get("words")), row["de"], row["fr"]]
            assert missing_characters("".join(texts)) == "", row


# --- the ingredient page ----------------------------------------------------------------------


def test_the_ingredient_page_holds_all_and_needs_nothing_else():
    typed = with_page(languages=("fr",), placed_on="2026-12-01")
    label = label_with(typed, "Canada")
    page = unescape(ingredient_page(label))
    for part in ("name", "identity", "contents", "lot", "maker"):
        assert label.part(part).text in page
    order = [page.index(entry.name) for entry in label.ingredients.listed]
    assert order == sorted(order)
    for name in label.ingredients.allergens:
        assert f"<li>{name}</li>" in page
    assert "placed on the market on December 1, 2026." in page  # as Canadians write a day
    assert "mis sur le marché le 1 décembre 2026." in page
    assert not re.search(r"<script|<link|<img|@import|url\(|src=|href=", page)
    assert not re.search(r"\bsafe\b", page.lower())


def test_on_the_ingredient_page_a_limit_passed_comes_first_and_typed_text_stays_text():
    text = "<script>alert(1)</script>"
    page = ingredient_page(label_with(LabelDetails(maker=text, lot=text, identity=text)))
    assert text not in page
    over = ingredient_page(label_with(**OVER))
    assert over.index("OVER A LIMIT") < over.index("<h2>")
    gone = {"oils": [{"id": "oud", "note": "top"}], "note_parts": {"top": 1}}
    assert "No figure on the allergens of: Oud" in unescape(ingredient_page(label_with(**gone)))


def test_the_card_speaks_every_language_of_the_label():
    page = card_page([(label_with(with_page(), "Canada"), 1)], COMMON)
    assert '<ul lang="en">' in page
    assert '<ul lang="fr">' in page
    assert "Mind / Précautions" in page
    # in French too the card has what the sticker leaves out
    assert "Asthme ou migraine" in page
    german = card_page([(label_with(with_page(languages=("de",))), 1)], COMMON)
    assert "Bitte beachten" in german
    assert "Patch test" not in german


# --- what does not fit is said --------------------------------------------------------------


def test_a_name_too_long_is_said_with_its_word_and_not_cut():
    name = "Donaudampfschifffahrtsgesellschaftsgarten (invented)"
    layout = lay_out(label_with(name=name), Sticker("rectangle", 40, 30), COMMON)
    assert not layout.fits
    assert any("Donaudampf" in sentence and "wider" in sentence for sentence in layout.problems)
    assert text_of(layout, "name") == name.replace(" ", "")
    page = sheet_page([(layout, 12)], read_grid(layout.sticker, "A4"))
    assert "were not printed" in page
    assert "<svg" not in page


def test_a_long_name_of_short_words_takes_more_lines_or_is_said():
    name = "a garden gate by the old quay in the late evening rain " * 3
    small = lay_out(label_with(name=name), Sticker("rectangle", 40, 20), COMMON)
    assert any("too little height" in sentence for sentence in small.problems)
    assert lay_out(label_with(name=name), Sticker("rectangle", 100, 70), COMMON).fits


def test_the_words_say_rule_card_and_which_plain_size_would_do():
    label = label_with()
    layout = lay_out(label, Sticker("rectangle", 40, 20), COMMON)
    told = " ".join(fit_in_words(layout))
    assert "1.2 mm" in told
    assert "Nothing was cut" in told
    for with_card in (False, True):
        one = smallest_that_fits(label, COMMON, "rectangle", with_card=with_card)
        assert one.words in told
        smaller = [s for s in SIZES if s.shape == "rectangle" and s[1] * s[2] < one[1] * one[2]]
        for sticker in smaller:
            tried = lay_out(label, sticker, COMMON)
            assert not tried.fits or (tried.on_card and not with_card)


def test_letters_the_font_lacks_are_said():
    layout = lay_out(label_with(name="Garten 💧 (invented)"), SIZES[5], COMMON)
    assert any("💧" in note for note in layout.notes)
    assert not any("no " in note for note in lay_out(label_with(), SIZES[5], COMMON).notes)


# --- over a limit, open jar -----------------------------------------------------------------


def test_a_blend_over_a_limit_carries_a_black_band_on_every_sticker_and_card():
    label = label_with(**OVER)
    layout = lay_out(label, Sticker("rectangle", 90, 55), COMMON)
    page = sheet_page([(layout, 3)], read_grid(layout.sticker, "A4"))
    assert page.count("OVER A LIMIT") == 3
    assert page.count('class="over"') >= 3
    assert 'class="over"' in card_page([(label, 1)], COMMON)
    assert 'class="over"' not in card_page([(label_with(), 1)], COMMON)


def one_on_a_sheet(layout):
    return sheet_page([(layout, 1)], read_grid(layout.sticker, "A4"))


def test_the_open_jar_stands_around_its_months_alone():
    typed = LabelDetails(maker="M", lot="L", keeps_months=36, after_opening_months=12)
    layout = lay_out(label_with(typed), Sticker("rectangle", 90, 55), COMMON)
    page = one_on_a_sheet(layout)
    assert page.count('class="jar"') == 1
    jar = next(piece for piece in layout.pieces if piece.key == "durability")
    assert jar.text.strip() == "12M"
    dated = lay_out(label_with(), Sticker("rectangle", 90, 55), COMMON)
    assert 'class="jar"' not in one_on_a_sheet(dated)
    typed = bk.LabelDetails(
        mixed_on=date(2026, 11, 25), keeps_months=36, after_opening_months=12
    )
    assert shelf_life(bk.Blend.from_dict(EXAMPLE), typed, "EU", ("en",))[0] == "12M"


# --- text stays text ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>']
)
def test_what_is_typed_stays_mere_text_everywhere(text):
    label = label_with(LabelDetails(maker=text, lot=text, identity=text), name=text)
    layout = lay_out(label, Sticker("rectangle", 200, 120), COMMON)
    pages = [
        proof(layout),
        legend(layout),
        one_on_a_sheet(layout),
        card_page([(label, 1)], COMMON),
    ]
    for page in pages:
        assert text not in page
        assert "<script>alert" not in page
        assert "<img" not in page


def test_the_proof_numbers_every_part_and_names_its_source():
    label = label_with()
    layout = lay_out(label, Sticker("rectangle", 70, 50), COMMON)
    page = unescape(proof(layout) + legend(layout))
    for number, part in enumerate(label.parts, 1):
        assert f">{number}</text>" in page
        assert part.source in page
        assert f"({part.grade})" in page


def test_what_is_missing_shows_on_the_proof():
    label = label_of(bk.Blend.from_dict(EXAMPLE), LabelDetails())
    page = unescape(legend(lay_out(label, Sticker("rectangle", 70, 50), COMMON)))
    for sentence in label.missing:
        assert sentence in page


def test_the_seller_is_pointed_to_law_with_grades():
    page = seller_list("EU")
    assert "no assessment" in page
    assert "1223/2009" in page
    assert "(read)" in page


# --- sizes and sheets -----------------------------------------------------------------------


def test_a_size_is_read_as_people_write_it():
    assert read_sticker("60 × 45 mm") == Sticker("rectangle", 60, 45)
    assert read_sticker("6 cm x 45mm") == Sticker("rectangle", 60, 45)
    assert read_sticker("Round 40 mm") == Sticker("round", 40, 40)
    assert read_sticker("2 in x 1 in") == Sticker("rectangle", 50.8, 25.4)


@pytest.mark.parametrize(
    "text",
    ["", "60", "60 x 45", "60 x 45 g", "0 x 45 mm", "-60 x 45 mm", "round", "9 x 9 m", "<b>"],
)
def test_a_size_that_is_none_is_refused_as_typed(text):
    with pytest.raises(BadNumber, match="sticker"):
        read_sticker(text)


def test_an_unknown_rule_is_refused_with_the_nearest():
    with pytest.raises(BadNumber, match="common measure"):
        type_size("common mesure")


@given(
    st.sampled_from(SIZES),
    st.sampled_from(list(PAPERS_MM)),
    st.fixed_dictionaries(
        {},
        optional={
            "columns": st.integers(1, 8).map(str),
            "rows": st.integers(1, 20).map(str),
            "left margin": st.integers(0, 40).map("{} mm".format),
            "top margin": st.integers(0, 40).map("{} mm".format),
            "gap across": st.integers(0, 10).map("{} mm".format),
            "gap down": st.integers(0, 10).map("{} mm".format),
        },
    ),
)
def test_a_sheet_stays_on_its_paper_or_is_refused(sticker, paper, typed):
    wide, tall = PAPERS_MM[paper]
    try:
        grid = read_grid(sticker, paper, typed)
    except BadNumber as error:
        refused = [problem.needed for problem in error.problems]
        event("refused")
    else:
        refused = []
    if refused:
        assert all("mm of" in needed for needed in refused)
        return
    assert len(grid.places) == grid.columns * grid.rows
    for left, top in grid.places:
        assert -1e-6 <= left <= wide - sticker.width_mm + 1e-6
        assert -1e-6 <= top <= tall - sticker.height_mm + 1e-6
    for key, text in typed.items():
        attribute = {"columns": "columns", "rows": "rows"}.get(key)
        if attribute:
            assert getattr(grid, attribute) == int(text)


def test_an_empty_sheet_takes_as_many_as_there_is_room_for():
    # by hand: A4 less 8 mm each side is 194 by 281 mm; 60 + 3 mm goes into 194 + 3 three times,
    # 45 + 3 into 281 + 3 five times
    grid = read_grid(Sticker("rectangle", 60, 45), "A4")
    assert (grid.columns, grid.rows) == (3, 5)
    assert grid.left_mm == pytest.approx(grid.right_mm)
    assert grid.top_mm == pytest.approx(grid.bottom_mm)


def test_every_problem_of_a_sheet_is_said_at_once():
    typed = {"columns": "two", "rows": "0", "gap down": "3", "left margin": "-1 mm"}
    with pytest.raises(BadNumber) as caught:
        read_grid(SIZES[0], "A4", typed)
    assert len(caught.value.problems) == 4
    with pytest.raises(BadNumber, match="Letter"):
        read_grid(SIZES[0], "letter paper")


@pytest.mark.parametrize(
    ("count", "first", "sheets"), [(15, 1, 1), (16, 1, 2), (14, 3, 2), (1, 15, 1)]
)
def test_a_begun_sheet_goes_on_where_it_ended(count, first, sheets):
    grid = read_grid(Sticker("rectangle", 60, 45), "A4")
    layout = lay_out(label_with(), grid.sticker, COMMON)
    page = sheet_page([(layout, count)], grid, first=first)
    assert page.count('<svg class="sheet"') == sheets
    assert page.count('<g class="sticker"') == count
    for wrong in (0, 16, "1"):
        with pytest.raises(BadNumber, match="first sticker"):
            sheet_page([(layout, count)], grid, first=wrong)
