"""The batch panel without a browser: from the shelf to the label, and everything mistyped."""

from __future__ import annotations

from datetime import date
from html import unescape

import pytest

from blendkit import Blend, example_document
from blendkit.batch.scaling import scale
from blendkit.foundation.errors import Refused
from blendkit.journal.records import BatchMaterial, BatchRow
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy, count, purchases
from blendkit.panels import make_more
from blendkit.panels.batch.controls import ALLOWS, TOTAL, BatchControls
from blendkit.panels.batch.label import OTHER

OVER = example_document() | {
    "oils": [{"id": "lime-expressed", "note": "top"}],
    "note_parts": {"top": 1},
}

HARD_SPACE = "\u00a0"  # keeps a number with its unit


pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def panel():
    return make_more()


def stock_up(currency: str = "EUR") -> None:
    """Every material of the example bought at an invented price."""
    blend = Blend.from_dict(example_document())
    for number, oil_id in enumerate(blend.oil_drops, 1):
        buy(the_journal(), oil_id, "30 mL", price=4.0 + number, currency=currency)
    for part in blend.carriers:
        buy(the_journal(), part.carrier.id, "250 mL", price=12.0, currency=currency)


def is_stale(section) -> bool:
    return "bk-stale" in section.found._dom_classes


def said(section) -> str:
    return unescape(section.message.view.value)


# --- how much -------------------------------------------------------------------------------


def test_opens_with_twelve_gifts_of_the_invented_example(panel):
    assert panel.blend.to_dict() == example_document()
    assert sum(some.count for some in panel.making.batch.bottles) == 12
    for title, section in panel.sections().items():
        assert not is_stale(section), title


def test_the_weighing_list_is_that_of_the_calculation_smallest_first(panel):
    panel.amount.bottles.value = "8 × 10 mL + 4 × 30 mL"
    batch = scale(panel.blend, "8 × 10 mL + 4 × 30 mL", scale_step="0.01 g", loss="2 %")
    assert [row["words"] for row in panel.weigh.chart.rows] == [
        each.reading for each in batch.weighings
    ]
    grams = [row["grams"] for row in panel.weigh.chart.rows]
    assert grams == sorted(grams)
    for each in batch.weighings:
        assert each.reading in panel.weigh.weighings.value


def test_as_much_as_one_material_allows(panel):
    panel.amount.way.value = ALLOWS
    panel.amount.material.value = "geranium"
    panel.amount.amount.value = "5 mL"
    assert panel.making.batch.limited_by == "geranium"
    used = next(w for w in panel.making.batch.weighings if w.material == "geranium")
    assert 4.9e-6 < used.volume_m3 <= 5e-6


def test_a_panel_is_worked_out_once_as_it_opens(monkeypatch):
    times = []
    scaled = BatchControls.batch
    monkeypatch.setattr(
        BatchControls, "batch", lambda self, blend: times.append(1) or scaled(self, blend)
    )
    make_more()
    assert times == [1]


def test_a_total_too_small_for_a_bottle_still_shows_a_label(panel):
    panel.amount.way.value = TOTAL
    panel.amount.total.value = "6 mL"
    assert panel.making.batch.bottles == ()
    assert "<svg" in panel.label.proof.value


@pytest.mark.parametrize("text", ["", "twelve", "0 × 10 mL", "-3 × 10 mL", "12 × 10 m", "<b>"])
def test_bottles_that_are_none_are_said_grey_everything_and_stay_as_typed(panel, text):
    before = panel.making
    panel.amount.bottles.value = text
    assert "bk-refusal" in panel.message.view.value
    assert "bk-stale" in panel.results._dom_classes
    assert panel.amount.bottles.value == text
    assert panel.making is before
    panel.amount.bottles.value = "3 × 10 mL"
    assert "bk-stale" not in panel.results._dom_classes


@pytest.mark.parametrize("typed", ["20 × 30", "20 x 30 ml", "20*30"])
def test_a_box_of_bottles_knows_its_unit_and_a_call_does_not(panel, typed):
    panel.amount.bottles.value = typed
    assert [str(each) for each in panel.making.batch.bottles] == ["20 × 30 mL"]
    assert panel.amount.bottles.value == typed
    with pytest.raises(Refused):
        scale(panel.blend, "20 × 30")


# --- master ---------------------------------------------------------------------------------


def test_the_master_is_diluted_at_each_strength_and_checked_for_each(panel):
    assert "not for skin as it is" in panel.master.words.view.value
    assert "4 × 30 mL" in panel.master.skin.view.value
    panel.master.dilutions[1][1].value = "120 %"
    assert "120 %" in said(panel.master)
    assert is_stale(panel.master)
    assert not is_stale(panel.weigh)


# --- shelf and journal ----------------------------------------------------------------------


def test_buying_counting_and_making_move_the_shelf(panel):
    panel.shelf.form.material.value = "lavender"
    panel.shelf.form.size.value = "30"
    panel.shelf.form.price.value = "14,50"
    panel.shelf.form.buy()
    assert panel.making.on_shelf["lavender"].left_m3 == pytest.approx(30e-6)
    panel.write_down()
    used = next(w for w in panel.making.batch.weighings if w.material == "lavender")
    assert panel.making.on_shelf["lavender"].left_m3 == pytest.approx(30e-6 - used.volume_m3)
    (made,) = the_journal().all(BatchRow)
    assert made.lot == panel.label.typing["lot"].value
    materials = {row.material for row in the_journal().all(BatchMaterial)}
    assert materials == {each.material for each in panel.making.batch.weighings}
    panel.shelf.form.left.value = "6.5"
    panel.shelf.form.count()
    assert panel.making.on_shelf["lavender"].left_m3 == pytest.approx(6.5e-6)


def test_a_batch_can_be_undone_and_its_stock_comes_back(panel):
    buy(the_journal(), "lavender", "30 mL")
    panel.write_down()
    assert "Left: Lavender" in panel.message.view.value
    panel.hand.watch.look()  # as the page asks soon after: the stock is another now
    assert "Left: Lavender" in panel.message.view.value
    panel.amount.bottles.value = "none"
    assert "Left: Lavender" not in panel.message.view.value
    panel.amount.bottles.value = "6"
    panel.undo()
    assert the_journal().all(BatchRow) == []
    assert panel.making.on_shelf["lavender"].left_m3 == pytest.approx(30e-6)


def test_a_lot_is_never_given_twice(panel):
    panel.write_down()
    panel.message.guard(panel.write_down)()
    assert "taken" in unescape(panel.message.view.value)
    assert len(the_journal().all(BatchRow)) == 1


def test_the_lot_that_is_offered_is_one_that_was_never_given(panel):
    given = panel.label.typing["lot"].value
    assert make_more().label.typing["lot"].value == given  # nothing was made yet
    panel.write_down()
    offered = make_more().label.typing["lot"].value
    assert given == f"{date.today():%Y%m%d}-1"
    assert offered == f"{date.today():%Y%m%d}-2"


@pytest.mark.parametrize(
    ("box", "text", "word"),
    [
        ("price", "0 EUR", "price"),
        ("currency", "€", "EUR"),
        ("price", "-3 EUR", "price"),
        ("price", "12.50 €", "EUR"),
        ("size", "0 mL", "bottle"),
        ("size", "10 s", "bottle"),
        ("bottles", "0", "bottles"),
        ("bottles", "two", "bottles"),
        ("opened", "yesterday", "opened_on"),
    ],
)
def test_what_cannot_be_bought_is_said_and_nothing_is_written(panel, box, text, word):
    panel.shelf.form.price.value = "12.50"
    getattr(panel.shelf.form, box).value = text
    panel.shelf.message.guard(panel.shelf.form.buy)()
    assert "bk-refusal" in panel.shelf.message.view.value
    assert word in said(panel.shelf)
    assert purchases(the_journal()) == []


def test_a_negative_stock_is_refused_when_counted_and_said_when_used_up(panel):
    panel.shelf.form.left.value = "-2 mL"
    panel.shelf.message.guard(panel.shelf.form.count)()
    assert "0 mL or more" in said(panel.shelf)
    buy(the_journal(), "lavender", "1 mL")
    panel.write_down()
    assert panel.making.on_shelf["lavender"].left_m3 < 0
    assert "recount" in panel.shelf.everything.value
    row = next(row for row in panel.shelf.chart.rows if row["name"] == "Lavender")
    assert row["share"] == 0
    assert "recount" in row["words"]


# --- cost -----------------------------------------------------------------------------------


def test_the_cost_is_the_sum_of_its_bars():
    stock_up()
    panel = make_more()
    total = sum(row["cost"] for row in panel.cost.chart.rows)
    assert f"{total:.2f} EUR for the batch" in panel.cost.words.view.value
    costs = [row["cost"] for row in panel.cost.chart.rows]
    assert costs == sorted(costs, reverse=True)


def test_a_missing_price_makes_the_cost_at_least_so_much(panel):
    assert "no price on record" in [row["words"] for row in panel.cost.chart.rows]
    assert "no cost to show" in panel.cost.words.view.value
    buy(the_journal(), "jojoba", "100 mL", price=8.0, currency="EUR")
    panel.update()
    panel._afterwards.finish()
    assert "At least" in panel.cost.words.view.value


def test_two_currencies_are_refused_and_never_added():
    stock_up()
    buy(the_journal(), "lavender", "500 mL", price=20.0, currency="USD")
    count(the_journal(), "lavender", "400 mL")
    panel = make_more()
    assert is_stale(panel.cost)
    assert "USD" in said(panel.cost)
    assert not is_stale(panel.label)


def test_a_cheaper_blend_is_found_on_request_and_taken_over():
    stock_up()
    panel = make_more()
    panel.cost.ceiling.value = "95 %"
    before = panel.blend
    panel.cost.find()
    found = panel.cost.cheaper
    assert found.cost_after <= 0.95 * found.cost_before
    assert len(panel.cost.pictures.children) == 2
    panel.cost.take()
    assert panel.blend.oil_drops == found.blend.oil_drops != before.oil_drops
    assert panel.cost.cheaper is None


# --- shopping -------------------------------------------------------------------------------


def rows_of(*packs: tuple[str, str, str]) -> list[dict[str, str]]:
    return [
        {"material": name, "size": size, "price": price, "supplier": ""}
        for name, size, price in packs
    ]


def test_the_shopping_list_is_the_cheapest_of_all_combinations(panel):
    packs = [("jojoba", "30 mL", "6"), ("jojoba", "50 mL", "9"), ("jojoba", "100 mL", "17.5")]
    panel.buy.grid.rows = rows_of(*packs)
    need_ml = next(
        each.volume_m3 * 1e6
        for each in panel.making.batch.weighings
        if each.material == "jojoba"
    )
    cheapest = min(
        a * 6 + b * 9 + c * 17.5
        for a in range(5)
        for b in range(4)
        for c in range(3)
        if a * 30 + b * 50 + c * 100 >= need_ml
    )
    assert f"{cheapest:.2f} EUR" in panel.buy.list.value
    assert "no pack typed" in panel.buy.list.value


@pytest.mark.parametrize(
    ("pack", "word"),
    [
        (("jojoba", "0 mL", "6"), "size"),
        (("jojoba", "30 s", "6"), "size"),
        (("jojoba", "30 mL", "0"), "price"),
        (("jojoba", "30 mL", ""), "price"),
        (("", "30 mL", "6"), "material"),
    ],
)
def test_packs_that_are_none_are_said_by_row(panel, pack, word):
    panel.buy.grid.rows = rows_of(pack)
    row = f"pack of Jojoba (liquid wax) {pack[1]}" if pack[0] else "pack 1"
    assert f"{row}, {word}" in said(panel.buy)
    assert is_stale(panel.buy)
    assert not is_stale(panel.weigh)


def test_packs_come_back_on_another_day(panel):
    panel.buy.grid.rows = rows_of(("jojoba", "50 mL", "9"))
    panel.buy.keep()
    kept, *others = make_more().buy.grid.rows
    assert [kept] == rows_of(("jojoba", "50 mL", "9"))
    assert {row["size"] + row["price"] for row in others} == {""}  # to type the rest into


def test_packs_are_listed_for_the_blend_in_hand_and_follow_what_is_kept_elsewhere(panel):
    panel = make_more()
    panel.buy.grid.rows = rows_of(("lavender", "30 mL", "12"))
    blend = example_document()
    panel.show(blend | {"oils": [*blend["oils"], {"id": "vetiver", "note": "base"}]})
    assert "vetiver" in {row["material"] for row in panel.buy.grid.rows}
    panel.show(blend)
    assert "vetiver" not in {row["material"] for row in panel.buy.grid.rows}
    other = make_more()
    other.buy.grid.rows = rows_of(("jojoba", "50 mL", "9"))
    other.buy.keep()
    panel.hand.watch.look()
    listed = [row for row in panel.buy.grid.rows if row["size"]]
    assert listed == rows_of(("jojoba", "50 mL", "9"), ("lavender", "30 mL", "12"))
    other.buy.grid.rows = rows_of(("jojoba", "50 mL", "8"))  # it became cheaper
    other.buy.keep()
    panel.hand.watch.look()
    listed = [row for row in panel.buy.grid.rows if row["size"]]
    assert listed == rows_of(("jojoba", "50 mL", "8"), ("lavender", "30 mL", "12"))


def test_the_pack_bought_last_is_filled_in_once_and_a_bare_size_has_a_unit(panel):
    buy(the_journal(), "jojoba", "100 mL", price=17.5, currency="EUR")
    panel.refresh()
    rows = {row["material"]: row for row in panel.buy.grid.rows}
    assert (rows["jojoba"]["size"], rows["jojoba"]["price"]) == ("100 mL", "17.50")
    panel.buy.grid.rows = rows_of(("jojoba", "", ""), ("lavender", "30", "6,50 EUR"))
    panel.refresh()
    assert panel.buy.grid.rows[0]["price"] == ""  # emptied by hand
    assert "6.50 EUR" in panel.buy.list.value


# --- label ----------------------------------------------------------------------------------


def test_the_label_is_proofed_and_printed_for_every_size(panel):
    panel.amount.bottles.value = "2 × 10 mL + 3 × 30 mL"
    panel.label.typing["maker"].value = "Example Still Room (invented), Testford"
    page = panel.label.sheets.make_page().replace(HARD_SPACE, " ")
    assert page.count("10 mL</text>") == 2
    assert page.count("30 mL</text>") == 3
    assert panel.label.cards.make_page().count("<article>") == 5
    panel.label.bottle.value = 1
    assert "30 mL" in panel.label.proof.value.replace(HARD_SPACE, " ")


def test_a_blend_over_a_limit_is_labelled_with_its_finding():
    panel = make_more(OVER)
    assert "OVER A LIMIT" in panel.label.proof.value
    assert "Limit not kept: Lime" in panel.label.marks.view.value
    panel.label.paper.size_of.value = None
    panel.label.paper.own.value = "90 × 55 mm"
    assert panel.label.sheets.make_page().count("OVER A LIMIT") == 12


def test_the_region_brings_its_rule_for_letters_contents_and_duties(panel):
    panel.editor.market.region.value = "US"
    assert panel.label.paper.rule.value.rule == "US cosmetics"
    assert "fl oz" in panel.label.proof.value.replace(HARD_SPACE, " ")
    assert "MoCRA" in panel.seller.list.value
    panel.editor.market.region.value = "EU"
    assert panel.label.paper.rule.value.rule == "common measure"


def test_a_name_too_long_is_said_and_the_print_says_so_too(panel):
    panel.editor.name.value = "Donaudampfschifffahrtsgesellschaftsgarten (invented) " * 2
    panel.label.paper.size_of.value = None
    panel.label.paper.own.value = "30 × 30 mm"
    assert "wider than a sticker" in panel.label.fit.view.value
    assert "were not printed" in panel.label.sheets.make_page()


@pytest.mark.parametrize(
    ("box", "text", "word"),
    [
        ("own", "60", "sticker"),
        ("first", "0", "first sticker"),
        ("first", "999", "first sticker"),
        ("columns", "9", "columns"),
        ("gap across", "3", "gap across"),
        ("left margin", "-1 mm", "left margin"),
    ],
)
def test_stickers_and_sheets_that_are_none_are_said_and_so_does_the_print(
    panel, box, text, word
):
    paper = panel.label.paper
    if box == "own":
        paper.size_of.value = dict(paper.size_of.options)[OTHER]
    control = paper.boxes.get(box) or getattr(paper, box)
    control.value = text
    assert word in said(panel.label)
    assert is_stale(panel.label)
    assert control.value == text
    assert word in unescape(panel.label.sheets.make_page())


@pytest.mark.parametrize(
    ("box", "text", "word"),
    [
        ("mixed_on", "last week", "mixed on"),
        ("keeps_months", "long", "months"),
        ("keeps_months", "0", "months"),
        ("placed_on", "31.07.2026", "placed on the market"),
        ("page", "http://example.org", "https address"),
    ],
)
def test_dates_and_months_that_are_none_are_said(panel, box, text, word):
    panel.label.typing[box].value = text
    assert word in said(panel.label)
    assert is_stale(panel.label)


def test_market_and_day_decide_names_and_languages(panel):
    typing, asked = panel.label.typing, panel.label.asked.view
    before = panel.label.labels[0][0].ingredients.allergens
    typing["placed_on"].value = "2026-07-31"
    assert len(panel.label.labels[0][0].ingredients.allergens) < len(before)
    assert "57 newer names not due yet" in asked.value
    typing["placed_on"].value = ""
    assert panel.label.labels[0][0].ingredients.allergens == before
    panel.editor.market.region.value = "Canada"
    assert typing["languages"].layout.display == "none"
    assert panel.label.labels[0][0].languages == ("en", "fr")
    assert "English and French both" in asked.value
    assert panel.label.paper.rule.value.rule == "common measure"
    assert "Hotlist" in panel.seller.list.value
    panel.editor.market.region.value = "EU"
    typing["languages"].value = "Deutsch"
    assert panel.label.labels[0][0].languages == ("de",)


def test_the_ingredient_page_is_saved_and_never_overwritten(panel, own_folder):
    panel.label.save_page()
    panel.label.save_page()
    files = sorted((own_folder / "pages").glob("*.html"))
    assert len(files) == 2
    assert all("Simmondsia Chinensis Seed Oil" in file.read_text("utf-8") for file in files)
    assert str(files[-1]) in said(panel.label) or str(files[0]) in said(panel.label)


def test_the_web_page_is_in_hand_with_the_blend(panel):
    panel.label.typing["page"].value = "https://example.org/garden-gate"
    panel.hand.write()
    assert 'class="code"' in panel.label.proof.value
    assert make_more().label.typing["page"].value == "https://example.org/garden-gate"
    panel.hand.undo()
    assert panel.label.typing["page"].value == ""
    assert make_more().label.typing["page"].value == ""


def test_an_opened_bottle_on_the_shelf_makes_the_date_earlier(panel):
    fresh = panel.label.labels[0][0].part("durability").text
    buy(the_journal(), "lavender", "10 mL", opened_on=date(2025, 6, 1))
    panel.refresh()
    assert panel.label.labels[0][0].part("durability").text != fresh


def test_what_is_typed_stays_mere_text(panel):
    panel.label.typing["maker"].value = panel.editor.name.value = "<script>alert(1)</script>"
    for html in (
        panel.label.proof.value,
        panel.label.legend.value,
        panel.label.sheets.make_page(),
        panel.label.cards.make_page(),
    ):
        assert "<script>alert" not in html


def test_the_maker_is_kept_for_another_day(panel):
    panel.label.typing["maker"].value = "Example Still Room (invented), Testford"
    panel.label.keep()
    assert make_more().label.typing["maker"].value == "Example Still Room (invented), Testford"
