"""Who got which bottle, on the panel: two clicks from a lot to people and to a printed list."""

from __future__ import annotations

from datetime import date

import pytest

from blendkit import example_document
from blendkit.journal.records import BatchMaterial, BatchRow, HandoverRow
from blendkit.keeping.open_store import the_journal
from blendkit.panels import handed_out, make_and_keep

pytestmark = pytest.mark.usefixtures("own_folder")
NAME, CONTACT = "Ottoline & <b>Pike</b> (invented)", "op@example.invalid"


@pytest.fixture
def panel():
    journal = the_journal()
    version = journal.new_blend("Quay at Dusk (invented)", example_document())
    materials = [
        BatchMaterial(batch_id="", material="lavender", mass_g=1.0, supplier_lot="A12"),
        BatchMaterial(batch_id="", material="jojoba", mass_g=9.0),
    ]
    row = BatchRow(version_id=version.id, lot="L-7", made_on=date(2026, 12, 1))
    journal.make_batch(row, [(12, 10.0)], materials)
    return handed_out()


def hand_out(panel, bottles="2", name=NAME):
    panel.bottles.value, panel.about["name"].value = bottles, name
    panel.about["contact"].value = CONTACT
    panel.message.guard(panel.hand_out)()
    return panel.message.view.value


def choose(panel, words):
    panel.trace.value = dict(panel.trace.options)[words]


def test_a_store_without_batches_says_so_on_every_button():
    panel = handed_out()
    panel.message.guard(panel.hand_out)()
    assert "Record one in notebook 06 or 07" in panel.message.view.value
    assert "Nothing on record yet" in panel.picture.value


def test_from_a_lot_to_people_and_a_list_in_two_clicks(panel):
    assert "10 bottles still here" in hand_out(panel)
    choose(panel, "lot A12 of Lavender")  # one click; the other one prints
    picture = panel.picture.value
    assert "Ottoline &amp; &lt;b&gt;Pike&lt;/b&gt; (invented) · 2 · gift" in picture
    assert 'aria-label="2 with people, 10 still here"' in picture
    with_names, without = panel.recall_page(names=True), panel.recall_page(names=False)
    assert CONTACT in with_names
    assert "L-7" in without
    assert not any(text in without for text in ("Ottoline", CONTACT))


def test_from_a_person_back_to_the_lots(panel):
    hand_out(panel)
    choose(panel, f"bottles of {NAME}")
    assert "Lavender: lot A12" in panel.picture.value
    assert "no lot written down" in panel.picture.value
    assert "Ottoline" not in panel.recall_page(names=False)


def test_somebody_known_gets_another_bottle_and_a_handover_is_undone(panel):
    hand_out(panel)
    panel.person.value = panel.person.options[1][1]
    assert panel.about["name"].layout.display == "none"
    panel.bottles.value = "1"
    panel.message.guard(panel.hand_out)()
    first, second = the_journal().all(HandoverRow)
    assert first.person == second.person
    panel.entry.value = second.id
    panel.message.guard(panel.undo)()
    assert the_journal().all(HandoverRow) == [first]


def test_more_bottles_than_are_left_are_refused_and_what_was_typed_stays(panel):
    assert "12 of 12 are left" in hand_out(panel, "13")
    assert panel.about["name"].value == NAME
    assert the_journal().all(HandoverRow) == []


def test_a_reaction_is_recorded_with_the_duty_of_the_region_and_printed(panel):
    hand_out(panel)
    form = panel.reaction
    form.boxes["heard_on"].value, form.boxes["region"].value = "2026-12-01", "US"
    assert "end on <b>2026-12-22" in form.duties.value
    assert "part-read" in form.duties.value
    form.boxes["region"].value = "UK"
    assert "end on" not in form.duties.value
    assert "memory" in form.duties.value
    form.boxes["region"].value, form.boxes["noticed_on"].value = "EU", "2026-11-30"
    panel.message.guard(form.note)()
    assert "a few words" in panel.message.view.value
    form.boxes["what"].value = "red <i>itchy</i> ring"
    panel.message.guard(form.note)()
    assert "red &lt;i&gt;itchy&lt;/i&gt; ring" in form.duties.value
    page = form.page()  # nothing new typed: the newest on record
    for text in ("red &lt;i&gt;itchy", CONTACT, "L-7", "2026-11-30", "end on <b>2026-12-21",
                 "Lavender: lot A12", "Article 23"):  # fmt: skip
        assert text in page
    form.boxes["heard_on"].value = "soon"
    assert (
        "heard on: got &quot;soon&quot;; needs a date from 1969 on, YYYY-MM-DD"
        in form.due.message.view.value
    )


def test_a_gift_tag_has_name_wear_lasting_and_cautions(panel):
    panel.bottles.value = "5"
    page = panel.tag_page()
    assert page.count("<b>To wear.</b>") == 5
    for text in ("Garden gate", "The scent", "Lot L-7", "Mind.", "common practice"):
        assert text in page
    assert "safe" not in page.lower()
    panel.bottles.value = "61"
    assert "1 to 60" in panel.printer("Print", panel.tag_page).make_page()
    assert "1 to 60" in panel.message.view.value


def test_forgetting_needs_a_tick_and_keeps_the_trail(panel, own_folder):
    hand_out(panel)
    panel.message.guard(panel.forget)()
    assert "the tick" in panel.message.view.value
    panel.is_sure.value = True
    panel.message.guard(panel.forget)()
    assert "Forgotten here and in" in panel.message.view.value
    assert not panel.is_sure.value
    choose(panel, "lot A12 of Lavender")
    assert "somebody, forgotten · 2 · gift" in panel.picture.value
    held = [file for file in own_folder.rglob("*")
            if file.is_file() and b"Ottoline" in file.read_bytes()]  # fmt: skip
    assert held == []


def test_a_person_forgotten_on_another_page_is_gone_from_this_one(panel):
    hand_out(panel)
    other = handed_out()
    other.is_sure.value = True
    other.message.guard(other.forget)()
    assert "Ottoline" in panel.picture.value
    panel.watch.look()
    assert "Ottoline" not in panel.picture.value
    assert panel.forgotten.options == ()


def test_a_second_place_takes_people_only_where_that_is_ticked(panel, tmp_path):
    hand_out(panel)
    stick = tmp_path / "stick"
    stick.mkdir()
    page = make_and_keep().journal
    page.place.value = str(stick)
    for is_ticked in (False, True, False):
        page.people.value = is_ticked
        page.message.guard(page.use_place)()
        page.message.guard(page.back_up)()
        assert page.people.value == is_ticked
        copies = [file.read_bytes() for file in stick.rglob("*.sqlite3")]
        assert copies
        assert any(b"Ottoline" in each for each in copies) == is_ticked
