"""The verdict under the name, at the press of keep and print, and on paper."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from blendkit import Blend, example_document, keep_lot, read_analysis, verdict
from blendkit.foundation.errors import BlendkitError
from blendkit.journal.records import LotRow, Version
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy
from blendkit.materials import catalogue
from blendkit.panels import (
    fade,
    first_bottle,
    lesson,
    make_and_keep,
    make_more,
    shelf,
    skin_check,
    teach,
)
from blendkit.panels.batch.sections import WeighSection
from blendkit.panels.kit.entry_grid import EntryGrid
from blendkit.showing.bottle.sheets import bench_page, drop_list, sniff_page
from blendkit.skin.check import marked_name, not_for_skin
from blendkit.skin.counted_bottle import in_its_own_ratio
from blendkit.skin.limits import findings_of
from blendkit.skin.reformulation import GENTLER_KINDS, Infeasible, reformulate

pytestmark = pytest.mark.usefixtures("own_folder")


def too_sunny() -> dict:
    document = example_document()
    document["oils"][0]["id"] = "lime-expressed"
    return document


def not_settled() -> dict:
    """Peppermint, of which one old table alone says that it may hold trans-2-hexenal."""
    return {
        "bottle": "10 mL",
        "strength": "5 %",
        "note_parts": {"top": 1},
        "oils": [{"id": "peppermint"}],
        "carriers": [{"id": "jojoba"}],
    }


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def parts_of(view):
    """A view and everything in it."""
    return [view, *(p for child in getattr(view, "children", ()) for p in parts_of(child))]


@pytest.mark.parametrize("panel", [first_bottle, skin_check, fade, make_more])
def test_every_panel_with_a_blend_says_the_verdict_in_the_same_place(panel):
    shown = panel(too_sunny())
    assert "bk-name" in shown.view.children[1].children[0]._dom_classes  # the head
    *_, body, _watch, _names = shown.view.children
    assert shown.verdict_row in parts_of(body)
    assert " Over: " in words(shown.verdict.value)
    assert "bk-over" in shown.verdict.value
    assert shown.fix_button.layout.visibility == "visible"
    shown.show(example_document())
    assert "Within the 8 limits" in words(shown.verdict.value)
    assert shown.fix_button.layout.visibility == "hidden"


def test_what_is_not_checked_is_never_opened_with_within():
    petals = {**example_document(), "botanicals": "0.5 mL"}
    shown = words(first_bottle(petals).verdict.value)
    assert "Not fully checked. Within the 8 limits" in shown
    assert "Not checked: what the dried botanicals in the bottle give off." in shown
    assert "On skin, not fully checked: Within" in words(bench_page(Blend(petals)))


def test_one_press_cures_says_what_moved_and_undo_takes_it_back():
    panel = first_bottle()
    panel.show(too_sunny())
    before = panel.blend.to_dict()
    panel.fix()
    assert panel.judged.passes
    said = panel.message.view.value
    assert "Change 10 drops of Lime, expressed for Lime, distilled." in said
    assert "Undo takes it back." in said
    panel.editor.share_out_again()
    assert panel.judged.passes
    panel.hand.undo()  # the sharing out, where it changed anything
    while panel.judged.passes:
        panel.hand.undo()
    assert panel.blend.to_dict() == before


def test_a_blend_of_the_cells_own_is_cured_without_the_promise_of_undo():
    panel = first_bottle(too_sunny())
    panel.fix()
    assert panel.judged.passes
    assert "Undo" not in panel.message.view.value


def test_a_press_that_comes_after_a_change_is_answered():
    panel = skin_check(too_sunny())
    panel.nearest.find()
    panel.editor.strength.value = "14 %"
    panel.nearest.take()
    assert "search again" in panel.message.view.value


def test_over_is_said_at_keep_and_before_printing():
    panel = first_bottle(too_sunny())
    panel.saved.keep()
    assert "Over skin limits: do not mix." in panel.message.view.value
    assert panel.bench.warning == panel.sniff.warning == "Over skin limits: do not mix."
    panel.show(example_document())
    assert panel.bench.warning == ""
    panel.saved.keep()
    assert "skin" not in panel.message.view.value


def test_the_label_is_not_printed_without_a_word():
    panel = make_more(too_sunny())
    sections = panel.sections()
    labels = [each.label for one in sections.values() for each in one.print_buttons]
    assert labels == [
        "Print the weighing list",
        "Print the shopping list",
        "Print the label sheets",
        "Print fold-out cards",
    ]
    for section in sections.values():
        for each in section.print_buttons:
            assert each.warning == "Over skin limits: do not mix."
    panel.show(example_document())
    assert not any(b.warning for one in sections.values() for b in one.print_buttons)


@pytest.mark.parametrize("list_name", ["Weigh", "Buy"])
def test_the_lists_of_a_batch_are_printed_under_their_verdict(list_name):
    panel = make_more(too_sunny())
    [sheet] = panel.sections()[list_name].print_buttons
    page = words(sheet.make_page().partition("<main>")[2])
    assert page.startswith("Over skin limits: do not mix. Over: ")
    panel.show(example_document())
    page = words(sheet.make_page().partition("<main>")[2])
    assert page.startswith("On skin: Within the 8 limits on record")
    assert "12 × 10 mL" in page
    for each in panel.making.batch.weighings:
        assert (each.reading if list_name == "Weigh" else each.name) in page
    panel.amount.bottles.value = "nonsense"
    assert "12 × 10 mL" in sheet.make_page()  # the last good one, as on the panel


def test_a_batch_that_only_the_scales_error_makes_over_is_printed_as_over():
    panel = make_more(example_document())
    worst = panel.making.skin[0]
    rule = replace(worst.rule, ceiling=worst.amount / 1.5, typical_weights=None)
    broken = findings_of([rule], panel.making.batch.mass_fractions())
    panel.making = replace(panel.making, skin=broken)
    panel._rest(None)
    assert panel.weigh.print_buttons[0].warning == "Over skin limits: do not mix."


def test_a_list_without_a_batch_is_refused_on_its_page():
    section = WeighSection()
    assert "needs a batch that can be made" in section.print_buttons[0].make_page()
    assert "needs a batch that can be made" in section.message.view.value


def test_the_bench_says_it_of_what_is_in_the_bottle():
    panel = make_and_keep(too_sunny())
    assert "No oil yet" in panel.verdict.value
    for _ in range(2):  # the second tap answers the question
        panel.tray.rows["lime-expressed"].add_rest()
    assert "<strong>Over:</strong>" in panel.verdict.value
    assert "Take out" not in panel.verdict.value  # nobody can
    panel.keep()
    assert "Over skin limits: do not mix." in panel.message.view.value


@pytest.mark.parametrize("page_of", [bench_page, sniff_page])
def test_the_first_line_of_a_sheet_is_the_verdict(page_of):
    page = words(page_of(Blend(too_sunny())).partition("<main>")[2])
    assert page.startswith("Over skin limits: do not mix. Over: ")
    page = words(page_of(Blend(not_settled())).partition("<main>")[2])
    assert page.startswith("Skin limits not settled: do not mix yet. Not settled: ")
    page = words(page_of(Blend(example_document())).partition("<main>")[2])
    assert page.startswith("On skin: Within the 8 limits on record")


# --- the cure stays ------------------------------------------------------------------------

SHIPPED = [name for name in catalogue.oil_ids() if catalogue.oil(name).composition_known]


@st.composite
def blends(draw):
    names = draw(st.lists(st.sampled_from(SHIPPED), min_size=1, max_size=5, unique=True))
    note, part = st.sampled_from(["top", "middle", "base"]), st.sampled_from([0.5, 1, 2, 3])
    oils = [{"id": name, "note": draw(note), "parts": draw(part)} for name in names]
    if draw(st.booleans()):
        oils[0]["drops"] = draw(st.integers(1, 9))
    document = {
        "bottle": draw(st.sampled_from(["7.5 mL", "10 mL", "30 mL"])),
        "strength": f"{draw(st.integers(4, 35))} %",
        "strength_basis": draw(st.sampled_from(["drops", "volume", "mass"])),
        "drops_per_ml": {"default": draw(st.sampled_from([20, 21.3, 33])), names[0]: 27.7},
        "note_parts": {each["note"]: draw(part) for each in oils},
        "oils": oils,
        "carriers": [{"id": "jojoba"}],
    }
    try:
        return Blend(document)
    except BlendkitError:
        return assume(False)


@settings(max_examples=60, deadline=None)
@given(blends(), st.sampled_from([None, GENTLER_KINDS]))
def test_sharing_out_again_never_brings_the_old_ratio_back(blend, swaps):
    assume(verdict(blend).warning)
    try:
        found = reformulate(blend, swaps=swaps, heed_advice=False).blend
    except Infeasible:
        return
    taken = in_its_own_ratio(found)
    assert taken.oil_drops == {name: n for name, n in found.oil_drops.items() if n}
    document = taken.to_dict()
    for entry in document["oils"]:
        entry.pop("drops", None)
    again = Blend(document)
    assert again.oil_drops == taken.oil_drops
    assert not verdict(again).warning


def test_what_fixed_counts_make_idle_is_greyed():
    document = example_document()
    for entry in document["oils"]:
        entry["drops"] = 4
    editor = first_bottle(document).editor
    numbers = [editor.strength, *(note.parts for note in editor.notes.values())]
    assert all(each.slider.disabled and each.box.disabled for each in numbers)
    rows = [row for note in editor.notes.values() for row in note.oils.rows]
    assert all(row.parts.disabled for row in rows)
    editor.share_out_again()
    assert not any(each.slider.disabled for each in numbers)
    assert not any(row.parts.disabled for row in rows)


# --- not settled, and accepted -------------------------------------------------------------


def test_a_limit_that_is_not_settled_is_accepted_with_a_reason_kept_and_withdrawn():
    panel = skin_check(not_settled())
    assert panel.judged.state == "not settled"
    assert "Ask for a certificate for" in panel.acceptance.words.view.value
    panel.message.guard(panel.acceptance.accept)()
    assert "a few words that you can stand by" in panel.message.view.value
    for _ in range(len(panel.judged.not_settled) + 1):
        if panel.judged.not_settled:
            panel.acceptance.limit.value = next(
                value
                for _, value in panel.acceptance.limit.options
                if value not in panel.editor.accepted
            )
            panel.acceptance.reason.value = "newer analyses do not list it"
            panel.acceptance.accept()
    assert not panel.judged.warning
    assert "newer analyses do not list it" in panel.judged.line
    panel.saved.keep()
    (kept,) = the_journal().all(Version)
    assert kept.document["accepted"][0]["reason"] == "newer analyses do not list it"
    assert "newer analyses do not list it" in bench_page(panel.blend)
    for limit in list(panel.editor.accepted):
        panel.acceptance.limit.value = limit
        panel.acceptance.withdraw()
    assert panel.judged.state == "not settled"
    assert "accepted" not in panel.editor.document


def test_places_that_are_not_offered_are_refused_with_a_reason():
    shown = skin_check().places.view.value
    for place in ("lips", "armpits", "children under 3"):
        assert re.search(rf"Not offered for {place}: \w+", shown)
    assert "On a label this use goes by: perfume" in shown


@pytest.mark.parametrize("panel", [skin_check, make_more, make_and_keep])
def test_a_use_that_is_not_offered_can_be_asked_for_and_is_refused(panel):
    shown = panel(example_document())
    choice = shown.market if panel is make_and_keep else shown.editor.market
    choice.use.value = "lips"
    assert shown.message.is_refusal
    assert "Not offered for lips: lip products are IFRA category 1" in shown.message.view.value
    choice.use.value = "perfume oil"
    assert not shown.message.is_refusal


def test_advice_is_in_a_fold_of_its_own():
    panel = skin_check(too_sunny())
    assert panel.judged.advice
    assert "Advice, not law" in panel.advice.view.value
    assert "Advice" not in panel.verdict.value


# --- oils that no use allows, and a lot's reporting limit ----------------------------------


def test_oils_that_no_use_allows_are_marked_in_every_list():
    for name in ("wormseed", "sassafras", "mustard-horseradish", "costus-root"):
        assert name in not_for_skin()
        assert marked_name(name).endswith("not for skin")
    assert not {"lavender", "bergamot", "clove-bud", "cassia"} & not_for_skin()
    chooser = first_bottle().editor.notes["top"].oils.chooser
    marked = [label for label, _ in chooser.options if "not for skin" in label]
    assert len(marked) == len(not_for_skin())
    on_shelf = shelf()
    on_shelf.search.value = "wormseed"
    assert "not for skin" in on_shelf.oils.value


def lists_of(panel):
    """Every list of a panel to choose from: its options, by what it is called."""
    waiting = [panel.view]
    while waiting:
        widget = waiting.pop()
        waiting += getattr(widget, "children", ())
        if isinstance(widget, EntryGrid):
            for column in widget.columns:
                yield column["label"], [tuple(pair) for pair in column.get("choices") or ()]
        elif getattr(widget, "options", ()):
            pairs = [pair for pair in widget.options if isinstance(pair, tuple)]
            yield widget.description, pairs


@pytest.mark.parametrize(
    ("panel", "at_least"),
    [
        (first_bottle, 4), (skin_check, 5), (fade, 5), (make_more, 6), (make_and_keep, 2),
        (lambda _: shelf(), 3), (lambda _: teach(), 1), (lambda _: lesson(1), 1),
    ],
)  # fmt: skip
def test_every_list_of_every_panel_marks_them(panel, at_least):
    document = example_document()
    document["oils"][0]["id"] = "wormseed"
    keep_lot("wormseed", "W1", read_analysis("limonene 30 %"))
    buy(the_journal(), "wormseed", "10 mL", bottles=1)
    found = 0
    for name, options in lists_of(panel(document)):
        barred = [
            label for label, value in options if str(value).split("@")[0] in not_for_skin()
        ]
        assert all("⚠ not for skin" in label for label in barred), name
        found += bool(barred)
    assert found >= at_least


def test_notebook_07_and_the_list_of_drops_mark_them():
    document = example_document()
    document["oils"][0]["id"] = "wormseed"
    panel = make_more(document)
    for html in (panel.weigh.weighings, panel.cost.sum, panel.buy.list):
        assert "Wormseed ⚠ not for skin" in html.value
    assert "Wormseed ⚠ not for skin" in drop_list(panel.blend.bottle)
    assert "Wormseed ⚠ not for skin" in bench_page(panel.blend)


def test_no_gentler_kind_is_one_of_them():
    assert not set(GENTLER_KINDS.values()) & not_for_skin()


def test_a_reporting_limit_is_kept_with_the_lot():
    panel = shelf()
    panel.own.oil.value, panel.own.lot.value = "lavender", "7"
    panel.own.analysis.text.value, panel.own.analysis.limit.value = (
        "Linalool 35,2 %\nLinalyl acetate 40 %",
        "0,05",
    )
    panel.own.keep()
    assert "Kept as" in panel.message.view.value
    (row,) = the_journal().all(LotRow)
    expected = read_analysis(panel.own.analysis.text.value, reporting_limit="0.05 %")
    assert expected.reporting_limit == 0.05
    assert catalogue.oil("lavender@7").reporting_limit == pytest.approx(0.0005)
    assert row.lot == "7"


def test_a_certificate_of_some_constituents_is_kept_and_the_screen_says_what_stays():
    panel = shelf()
    panel.own.oil.value, panel.own.lot.value = "clove-bud", "C3"
    panel.own.analysis.text.value = "Eugenol 0.4 %\nMethyl eugenol < 0.01 %"
    panel.own.read_button.click()
    assert (
        "If the certificate names only some constituents, say so." in panel.message.view.value
    )
    panel.own.partial.value = True
    panel.own.keep_button.click()
    assert "the rest of the oil stays as recorded" in panel.message.view.value
    (row,) = the_journal().all(LotRow)
    assert row.analysis["whole"] is False
    lot = catalogue.oil("clove-bud@C3")
    assert lot.analysed == {"97-53-0", "93-15-2"}
    assert lot.recorded
