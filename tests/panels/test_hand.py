"""The blend in hand on panels: shown by all, followed, undone, and never overwritten."""

from __future__ import annotations

import pytest

from blendkit import example_document
from blendkit.journal.hand_table import read_hand
from blendkit.keeping import hand
from blendkit.keeping.open_store import the_journal
from blendkit.keeping.stock_entries import buy
from blendkit.keeping.versions import KeptVersion
from blendkit.making.bench_events import Drops
from blendkit.panels import (
    fade,
    first_bottle,
    make_and_keep,
    make_more,
    shelf,
    skin_check,
    teach,
)

pytestmark = pytest.mark.usefixtures("own_folder")
BLEND_PANELS = (first_bottle, skin_check, fade, make_more)


def look(*panels):
    for panel in panels:
        panel.hand.watch.look()


def state(panel):
    return panel.saved.state.value


def test_every_panel_shows_what_one_of_them_changed_open_or_opened_later():
    panels = [make() for make in BLEND_PANELS]
    for number, panel in enumerate(panels):
        panel.editor.strength.value = f"{11 + number} %"
        look(*panels)
        shown = {each.blend.strength_fraction for each in panels}
        assert shown == {(11 + number) / 100}
    assert first_bottle().blend == panels[0].blend
    assert make_and_keep().record.bench.plan.fields.strength_fraction == 0.14


def test_what_a_class_kept_is_listed_and_taken_from_stock_on_panels_open_elsewhere():
    buy(the_journal(), "lavender", "10 mL", price=5.0, currency="EUR")
    panels, lesson = [make() for make in BLEND_PANELS], teach()
    held = panels[-1].making.on_shelf["lavender"].left_m3
    grid = lesson.results.grid
    grid.rows = [grid.rows[0] | {"seat": "Ada", "lavender": "20"}, *grid.rows[1:]]
    lesson.results.keep()
    look(*panels)
    for panel in panels:
        assert any("Ada" in label for label, _ in panel.saved.opener.options), panel
    assert panels[-1].making.on_shelf["lavender"].left_m3 == pytest.approx(held - 1e-6)


def test_the_state_is_said_once_a_change(monkeypatch):
    panel = first_bottle()
    said = []
    monkeypatch.setattr(panel.hand, "changed", lambda: said.append(panel.blend.total_drops))
    panel.editor.strength.value = "15 %"
    look(panel)
    assert said == [30]
    panel.editor.strength.value = "110 %"  # refused, and said elsewhere
    other = skin_check()
    other.editor.name.value = "Other (invented)"
    look(panel)
    assert len(said) == 3


def test_the_day_and_the_wearers_are_in_hand_and_undone_too():
    day, skin, first = fade(), skin_check(), first_bottle()
    day.load.value = "30 g/m²"
    day.smelt.value = "room"
    skin.wearers.value = ("child under 3",)
    first.editor.strength.value = "25 %"
    again = fade()
    assert (again.load.value, again.smelt.value) == ("30 g/m²", "room")
    assert skin_check().wearers.value == ("child under 3",)
    for _ in range(4):
        first.hand.undo()
    look(day, skin, again)
    assert (day.load.value, day.smelt.value, again.load.value) == (
        "20 g/m²",
        "wrist",
        "20 g/m²",
    )
    assert skin.wearers.value == ()
    assert skin.blend.to_dict() == example_document()
    assert "Undid: film 30 g/m² → as at first" in first.message.view.value


def test_a_refused_input_stays_in_its_box_and_is_nobody_elses_business():
    mine, yours, day = first_bottle(), skin_check(), fade()
    mine.editor.strength.value = "110 %"
    day.load.value = "much"
    yours.editor.name.value = "Other (invented)"
    yours.editor.notes["top"].parts.value = "3"
    look(mine, day)
    assert mine.editor.name.value == day.editor.name.value == "Other (invented)"
    assert (mine.editor.strength.value, day.load.value) == ("110 %", "much")
    mine.editor.bottle.value = "30 mL"
    look(yours, day)
    assert yours.editor.bottle.value == day.editor.bottle.value == "30 mL"
    assert yours.editor.strength.value == "20 %"
    assert mine.message.is_refusal
    mine.editor.strength.value = "15 %"
    look(yours)
    assert yours.blend.strength_fraction == 0.15
    assert not mine.message.is_refusal


def test_two_panels_that_have_not_looked_change_their_own_keys():
    mine, yours = first_bottle(), skin_check()
    mine.editor.notes["base"].oils.chooser.value = "vetiver"
    yours.editor.notes["middle"].oils.chooser.value = "neroli"
    look(mine)
    assert {"vetiver", "neroli"} <= mine.blend.oil_drops.keys() & yours.blend.oil_drops.keys()


def test_what_is_typed_is_not_rewritten_by_following():
    mine, yours = first_bottle(), skin_check()
    row = mine.editor.notes["top"].oils.rows[0]
    row.parts.value = "2,50"
    mine.editor.notes["top"].parts.value = "2,0"
    yours.editor.name.value = "Other (invented)"
    look(mine, yours)
    assert row is mine.editor.notes["top"].oils.rows[0]
    assert (row.parts.value, mine.editor.notes["top"].parts.value) == ("2,50", "2,0")


def test_a_panel_of_a_cell_says_so_and_can_be_taken_in_hand():
    hand_panel = first_bottle()
    own = skin_check(example_document() | {"name": "Own (invented)"})
    assert "the blend of this cell, not the one in hand" in state(own)
    own.editor.strength.value = "30 %"
    look(hand_panel, own)
    assert hand_panel.blend.strength_fraction == 0.2
    own.hand.undo()
    assert own.blend.strength_fraction == 0.3
    own.hand.take()
    look(hand_panel)
    assert hand_panel.blend == own.blend
    assert own.hand.take_button.layout.display == "none"
    hand_panel.hand.undo()
    look(own)
    assert own.blend.to_dict() == example_document()


def test_the_header_says_as_what_it_is_kept():
    panel = first_bottle()
    assert "not kept yet" in state(panel)
    panel.saved.keep()
    assert "version 1<" in state(panel)
    panel.editor.strength.value = "25 %"
    assert "version 1, changed since" in state(panel)
    panel.hand.undo()
    assert "version 1<" in state(panel)
    panel.hand.redo()
    panel.saved.why.value = "stronger"
    panel.saved.keep()
    other = skin_check()
    assert "version 2<" in state(other)
    assert other.saved.opener.options[1][0].endswith(" · stronger")
    other.saved.opener.value = other.saved.opener.options[2][1]
    look(panel)
    assert "version 1<" in state(panel)
    assert panel.blend.strength_fraction == 0.2


def test_lists_are_fresh_whenever_they_are_shown():
    panel, more, store = skin_check(), make_more(), shelf()
    keeper = first_bottle()
    keeper.saved.keep()
    look(panel, more)
    assert len(panel.saved.opener.options) == 2
    buy(the_journal(), "lavender", "10 mL", price=9.0, currency="EUR")
    look(more)
    store.watch.look()
    assert more.making.on_shelf["lavender"].left_m3 == pytest.approx(1e-5)
    assert "Lavender" in store.stock_list.value
    store.own.oil.value = "lavender"
    store.own.lot.value = "A 12"
    store.own.analysis.text.value = "Linalool 36,1 %"
    store.own.keep()
    look(keeper)
    offered = dict(keeper.editor.notes["middle"].oils.chooser.options).values()
    assert "lavender@A 12" in offered


def test_an_untouched_bench_follows_and_a_begun_one_stays():
    bench, panel = make_and_keep(), first_bottle()
    panel.editor.strength.value = "10 %"
    bench.watch.look()
    assert bench.record.bench.plan.fields.strength_fraction == 0.1
    bench.add(Drops("lavender", 1))
    panel.editor.strength.value = "12 %"
    bench.watch.look()
    assert bench.record.bench.plan.fields.strength_fraction == 0.1
    events = len(bench.record.timed)
    panel.hand.undo()
    bench.watch.look()
    assert len(bench.record.timed) == events


def test_presses_of_the_page_make_the_steps():
    panel = first_bottle()
    watch = panel.hand.watch
    watch._heard(watch, {"kind": "press", "press": "a-1"}, [])
    for percent in (21, 22, 23):
        panel.editor.strength.value = f"{percent} %"
    watch._heard(watch, {"kind": "release"}, [])
    panel.editor.strength.value = "24 %"  # sent late; still of that press
    watch._heard(watch, {"kind": "press", "press": "a-2"}, [])
    panel.editor.bottle.value = "30 mL"
    watch._heard(watch, {"kind": "undo"}, [])
    assert "Undid: bottle 30 mL → 10 mL" in panel.message.view.value
    watch._heard(watch, {"kind": "undo"}, [])
    assert "Undid: strength 24 % → 20 %" in panel.message.view.value
    watch._heard(watch, {"kind": "redo"}, [])
    assert panel.blend.strength_fraction == 0.24


def test_a_hand_that_cannot_be_used_blocks_nothing():
    panel = first_bottle()
    panel.saved.keep()
    panel.editor.strength.value = "25 %"
    with the_journal().transaction() as store:
        store.execute("""UPDATE hand SET document = replace(document, '"lavender"', '"x"')""")
    opened = skin_check()
    assert "The blend in hand cannot be used" in opened.message.view.value
    assert opened.blend.to_dict() == example_document()
    opened.editor.strength.value = "12 %"
    with the_journal().snapshot() as store:
        assert read_hand(store).document["blend"]["strength"] == "12 %"
    assert hand.in_hand().said == ""


def test_the_labels_of_a_tree_name_the_parent():
    kept = KeptVersion("Quay", the_journal().new_blend("Quay", {}, "why"), 4, parent=2)
    assert kept.listed.endswith(" from version 2 · why")
