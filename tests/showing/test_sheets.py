"""Bench sheet and sniff test: what they list, in which order, and that names stay mere text."""

from __future__ import annotations

import ast
import copy
import itertools
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.making.mixing_order import sniff_test
from blendkit.showing.bottle.sheets import bench_page, drop_list, sniff_page

REPOSITORY = Path(__file__).parents[2]
DOCUMENT: dict[str, Any] = {
    "name": "Quay at Dusk",
    "bottle": "10 mL",
    "strength": "20 %",
    "note_parts": {"top": 2, "middle": 1, "base": 2},
    "oils": [{"id": "grapefruit"}, {"id": "geranium"}, {"id": "patchouli"}],
    "carriers": [{"id": "jojoba", "parts": 3}, {"id": "mct-fractionated-coconut", "parts": 1}],
}
HOSTILE_NAMES = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</title></style><script>alert(1)</script>",
    'Tom & Jerry\'s "best" <b>blend</b>',
    "&lt;already escaped&gt; &amp;",
    "{{ 7 * 7 }} {% raw %}",
    "Ölgarten 💧🌿",
    "\u202eright to left\u202c and back",
    "שמן ורדים",
    "javascript:alert(1)",
]


def blend_with(**fields: object):
    return bk.Blend.from_dict({**copy.deepcopy(DOCUMENT), **fields})


class Page(HTMLParser):
    """A page taken apart as a browser would: its tags, headings, and rows of cells."""

    # Tags that have no end
    VOID = frozenset({"meta", "br", "img", "link", "input", "hr"})

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.open: list[str] = []
        self.rows: list[list[str]] = []
        self.boxes_by_row: list[int] = []
        self.texts: dict[str, str] = {}
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += attributes
        if tag not in self.VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
            self.boxes_by_row.append(0)
        if tag in ("td", "th"):
            self.rows[-1].append("")
        if tag == "span" and ("class", "box") in attributes:
            self.boxes_by_row[-1] += 1

    def handle_endtag(self, tag):
        assert self.open.pop() == tag, f"</{tag}> closes something else"

    def handle_data(self, text):
        for tag in {"h1", "title", "li", "style"} & set(self.open):
            self.texts[tag] = self.texts.get(tag, "") + text
        if {"td", "th"} & set(self.open):
            self.rows[-1][-1] += text

    @property
    def body_rows(self) -> list[list[str]]:
        """Rows that stand for a step or an oil: those with a tick box."""
        return [row for row, boxes in zip(self.rows, self.boxes_by_row, strict=True) if boxes]


# --- names are mere text ------------------------------------------------------------------


@pytest.mark.parametrize("page_of", [bench_page, sniff_page])
@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_a_name_is_shown_as_written_and_never_obeyed(page_of, name):
    plain, hostile = Page(page_of(blend_with())), Page(page_of(blend_with(name=name)))
    # The very same tags and attributes as for a tame name: nothing of it became markup
    assert hostile.tags == plain.tags
    assert hostile.attributes == plain.attributes
    assert hostile.open == []
    assert hostile.texts["h1"] == name
    assert hostile.texts["title"].endswith(name)


@settings(deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=60))
def test_any_name_is_shown_as_written(name):
    for page_of in (bench_page, sniff_page):
        page = Page(page_of(blend_with(name=name)))
        assert page.texts["h1"] == name
        assert "script" not in page.tags


@pytest.mark.parametrize("page_of", [bench_page, sniff_page])
def test_half_a_character_in_a_name_can_be_written_to_a_file(page_of):
    # A JSON file can hold one half of a pair of surrogates; refusing it would do as well
    half = json.loads('"half \\ud800 a character"')
    try:
        blend = blend_with(name=half)
    except bk.BadBlend:
        return
    assert page_of(blend).encode("utf-8")


def test_a_lot_name_is_shown_as_written_and_never_obeyed(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    lot = "<script>alert(1)</script>"
    oil = bk.keep_lot("lavender", lot, bk.read_analysis("Linalool 35 %\nLinalyl acetate 32 %"))
    blend = blend_with(oils=[{"id": oil.id}], note_parts={"middle": 1})
    for html in (bench_page(blend), sniff_page(blend), drop_list(blend.bottle)):
        page = Page(html)
        assert "script" not in page.tags
        assert any(lot in cell for row in page.rows for cell in row)


@pytest.mark.parametrize("page_of", [bench_page, sniff_page])
def test_a_blend_without_a_name_says_so(page_of):
    assert Page(page_of(blend_with(name=""))).texts["h1"] == "Untitled blend"


@pytest.mark.parametrize("page_of", [bench_page, sniff_page])
def test_a_page_needs_nothing_from_elsewhere(page_of):
    html = page_of(blend_with())
    assert html.startswith("<!doctype html>")
    page = Page(html)
    assert not {"script", "link", "img", "iframe"} & set(page.tags)
    assert not {"src", "href"} & {key for key, _ in page.attributes}
    assert "url(" not in page.texts["style"]
    assert "@import" not in page.texts["style"]


# --- what the bench sheet lists -----------------------------------------------------------


def test_every_material_stands_on_the_bench_sheet_with_its_drops():
    blend = blend_with()
    by_name = {row[2]: row for row in Page(bench_page(blend)).body_rows if len(row) > 2}
    assert set(by_name) == {portion.name for portion in blend.bottle.portions}
    for portion in blend.bottle.portions:
        _, _, _, drops, volume_ml, mass_g, lot = by_name[portion.name]
        assert drops == ("" if portion.drops is None else str(portion.drops))
        assert float(volume_ml) == pytest.approx(portion.volume_m3 * 1e6, rel=0.005)
        assert float(mass_g) == pytest.approx(portion.mass_kg * 1e3, abs=0.006)
        assert lot == ""


def test_every_step_has_one_box_to_tick():
    page = Page(bench_page(blend_with()))
    headings, *steps = page.boxes_by_row
    assert headings == 0
    assert steps == [1] * len(steps)
    # Three oils, two carriers, two swirls, and the shake
    assert len(steps) == 8


def test_the_bench_sheet_says_which_strength_was_got():
    blend = blend_with(strength="13 %")
    # 26 drops in 10 mL, at 20 to the millilitre
    assert blend.bottle.oil_drops == 26
    html = bench_page(blend)
    assert "target 13 % oils by drops, actual 13 % · 26 drops of oil" in html
    for words in ("by volume", "by mass"):
        assert words in html


def test_an_oil_that_got_no_drop_is_no_step_but_a_remark():
    oils = [{"id": "grapefruit", "parts": 100}, {"id": "lemon"}, *DOCUMENT["oils"][1:]]
    html = bench_page(blend_with(oils=oils))
    assert not [row for row in Page(html).body_rows if "Lemon" in row]
    assert "Lemon is asked for 0.16 of a drop and rounds to none." in html


def test_rounding_is_owned_up_to_and_mended():
    thirds = {"top": 1, "middle": 1, "base": 1}
    html = bench_page(blend_with(note_parts=thirds))
    # 40 by three is 13 and a third; the nearest multiples of three in reach are 39, 42 and 36
    assert "Whole drops miss the ratio by up to 0.67 of a drop." in html
    assert "With 39 or 42 or 36 drops in all it would be exact." in html
    assert "miss the ratio" not in bench_page(blend_with())


def test_own_drop_sizes_are_told():
    html = bench_page(blend_with(drops_per_ml={"default": 20, "patchouli": 24}))
    assert "Counted at 20 drops to the millilitre (Patchouli 24)." in html


def test_the_table_for_notebooks_tells_the_same():
    blend = bk.Blend.from_dict(DOCUMENT)
    table = bk.bench_sheet(blend)
    rows = Page(bench_page(blend)).body_rows
    assert list(table["action"]) == [row[1] for row in rows]
    assert list(table["name"]) == [row[2] if len(row) > 2 else "" for row in rows]
    assert list(table["step"]) == list(range(1, len(rows) + 1))
    assert (table[["done", "lot"]] == "").all(axis=None)


# --- in which order -----------------------------------------------------------------------

KINDS = {
    "base": r"^Add the base",
    "middle": r"^Add the middle",
    "top": r"^Add the top",
    "swirl": r"^Swirl gently",
    "sniff": r"sniff",
    "botanicals": r"botanicals",
    "carrier": r"^Pour the carrier",
    "shake": r"shake",
}


def order_of(blend) -> list[str]:
    actions = [row[1] for row in Page(bench_page(blend)).body_rows]
    kinds = [
        next(kind for kind, pattern in KINDS.items() if re.search(pattern, action))
        for action in actions
    ]
    return [kind for kind, _ in itertools.groupby(kinds)]


def test_steps_stand_in_the_order_of_the_trade():
    # Common practice, no published source
    assert order_of(blend_with()) == [
        "base",
        "middle",
        "swirl",
        "top",
        "sniff",
        "carrier",
        "shake",
    ]


def test_order_does_not_depend_on_how_the_document_lists_the_oils():
    for oils in itertools.permutations(DOCUMENT["oils"]):
        assert order_of(blend_with(oils=list(oils))) == order_of(blend_with())


def test_botanicals_go_in_before_the_carrier():
    assert order_of(blend_with(botanicals="0.5 mL"))[-3:] == [
        "botanicals",
        "carrier",
        "shake",
    ]


def test_a_blend_of_top_notes_alone_has_nothing_to_swirl_first():
    blend = blend_with(oils=[{"id": "grapefruit"}], note_parts={"top": 1})
    assert order_of(blend) == ["top", "sniff", "carrier", "shake"]


def test_headspace_is_told_at_the_last_step():
    last = Page(bench_page(blend_with(headspace="0.5 mL"))).body_rows[-1]
    assert "stop 0.5 mL below the mark" in last[1]


# --- the sniff test -----------------------------------------------------------------------


def test_the_sniff_page_lists_every_oil_with_drops_and_a_box():
    blend = blend_with()
    page = Page(sniff_page(blend))
    counts = sniff_test(blend.bottle).drops
    names = {portion.material: portion.name for portion in blend.bottle.oils}
    listed = {row[1]: (row[2], row[3]) for row in page.body_rows}
    assert listed == {
        names[portion.material]: (portion.note, str(counts[portion.material]))
        for portion in blend.bottle.oils
    }
    assert f"{sum(counts.values())} drops in all" in sniff_page(blend)


def test_the_sniff_page_has_room_for_every_time():
    rows = Page(sniff_page(blend_with())).rows
    times = [row[0] for row in rows if len(row) == 2 and row[1] == ""]
    assert times == ["now", "10 min", "1 h", "next day"]


def test_the_sniff_test_is_as_near_as_it_says():
    blend = blend_with(note_parts={"top": 7, "middle": 4, "base": 9}, bottle="30 mL")
    miniature = sniff_test(blend.bottle)
    for portion in blend.bottle.oils:
        share = miniature.drops[portion.material] / miniature.total
        target = portion.drops / blend.bottle.oil_drops
        assert share == pytest.approx(target, abs=miniature.largest_error + 1e-12)
    assert miniature.largest_error <= 0.02


def test_shares_too_far_apart_for_a_sniff_test_are_owned_up_to():
    oils = [{"id": "grapefruit", "parts": 199}, {"id": "lemon", "parts": 1}]
    blend = blend_with(oils=oils, note_parts={"top": 1}, bottle="50 mL")
    assert sniff_test(blend.bottle) is None
    assert "too far apart" in sniff_page(blend)


# --- what to mind -------------------------------------------------------------------------

# Oils with an IFRA Standard that limits them for phototoxicity when expressed (IFRA Standards
# on bergamot, lemon, lime, bitter orange and grapefruit, 51st amendment; recalled, not opened)
PHOTOTOXIC = ("bergamot", "lemon", "lime-expressed", "bitter-orange", "grapefruit")
# Distilled, or won from leaf and flower
NOT_PHOTOTOXIC = ("lime-distilled", "petitgrain", "neroli")


def sun_is_minded(oil_id: str) -> bool:
    note = bk.oils().loc[oil_id, "note"]
    blend = blend_with(oils=[{"id": oil_id}], note_parts={note: 1})
    return "tanning lamp" in Page(bench_page(blend)).texts["li"]


@pytest.mark.parametrize("oil_id", PHOTOTOXIC)
def test_expressed_citrus_is_to_be_kept_out_of_the_sun(oil_id):
    assert sun_is_minded(oil_id)


@pytest.mark.parametrize("oil_id", NOT_PHOTOTOXIC)
def test_other_citrus_is_not(oil_id):
    assert not sun_is_minded(oil_id)


def test_what_is_left_of_furocoumarins_is_named():
    # an oil freed of furocoumarins may hold a trace of bergapten on record: no figure of a
    # supplier, so the caution stands and says why
    blend = blend_with(oils=[{"id": "bergamot-fcf"}], note_parts={"top": 1})
    assert "bergapten in Bergamot FCF" in Page(bench_page(blend)).texts["li"]


@pytest.mark.parametrize("carrier_id", ["sweet-almond", "macadamia", "hazelnut"])
def test_a_carrier_from_a_nut_is_named_to_people_with_an_allergy(carrier_id):
    name = bk.carriers().loc[carrier_id, "name"]
    minded = Page(bench_page(blend_with(carriers=[{"id": carrier_id}]))).texts["li"]
    assert re.search(rf"nut.*allergy.*{re.escape(name)}", minded)


@pytest.mark.parametrize("carrier_id", ["jojoba", "squalane"])
def test_a_carrier_without_a_known_allergen_is_not(carrier_id):
    minded = Page(bench_page(blend_with(carriers=[{"id": carrier_id}]))).texts["li"]
    assert "people with nut allergy" not in minded
    assert "people with seed allergy" not in minded


def test_every_sheet_asks_for_a_patch_test_and_says_what_it_is_not():
    minded = Page(bench_page(blend_with())).texts["li"]
    assert "Patch test first" in minded
    assert "no skin assessment" in minded


# --- a promise that is never made ---------------------------------------------------------

PROMISE = re.compile(r"\b(?:un)?safe(?:r|st|ly)?\b", re.IGNORECASE)


def shown_texts():
    """Every text that a person may come to read, with the place it stands in."""
    for path in sorted((REPOSITORY / "blendkit").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield f"{path.name} line {node.lineno}", node.value
    for path in sorted((REPOSITORY / "blendkit" / "pages").glob("*.html")):
        # What stands in double braces is the template's own language and not shown
        yield path.name, re.sub(r"{{.*?}}", "", path.read_text(encoding="utf-8"))
    for path in sorted((REPOSITORY / "notebooks").glob("*.ipynb")):
        for number, cell in enumerate(json.loads(path.read_text(encoding="utf-8"))["cells"]):
            yield f"{path.name} cell {number}", "".join(cell["source"])


def test_nobody_is_told_that_a_blend_is_safe():
    # Whether a blend is, nobody can tell from figures; the sheets speak of limits only
    texts = list(shown_texts())
    assert len(texts) > 500
    assert [place for place, text in texts if PROMISE.search(text)] == []


def test_the_search_for_promises_finds_one():
    assert PROMISE.search("This blend is Safe to wear")
    assert PROMISE.search("used safely")
    assert not PROMISE.search("Essential Oil Safety")
