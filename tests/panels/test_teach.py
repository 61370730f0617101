"""The class's panel without a browser: set a control, look at the result."""

from __future__ import annotations

import html
import json

import pytest

from blendkit import Blend, example_document
from blendkit.foundation import keep
from blendkit.foundation.data import example_class
from blendkit.journal.records import BatchBottles, BatchMaterial, BatchRow, Version
from blendkit.keeping.open_store import the_journal
from blendkit.panels import first_bottle, teach
from blendkit.panels.teaching.gathered import steps_page
from blendkit.teaching.class_document import BadClass
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.hand_in import gather, hand_in
from blendkit.teaching.laptop import read_file
from blendkit.teaching.results import seat_bottles

MARKUP = "<img src=x onerror=alert(1)>"


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "maker"))
    monkeypatch.delenv("BLENDKIT_HAND_IN", raising=False)


@pytest.fixture
def panel():
    return teach()


def is_stale(box) -> bool:
    return "bk-stale" in box._dom_classes


def said(panel) -> str:
    return panel.message.view.value


def type_in(grid, row, **cells) -> None:
    rows = [dict(one) for one in grid.rows]
    rows[row] |= cells
    grid.rows = rows


class TestPlan:
    def test_opens_with_the_invented_class_and_gives_it_back(self, panel):
        assert "invented" in panel.plan.name
        document = panel.editor.document
        again = read_class(document)
        expected = read_class(example_class())
        for field in ("seats", "oils", "fields", "minutes", "tables", "budget"):
            assert getattr(again, field) == getattr(expected, field)

    def test_every_section_shows_something(self, panel):
        for section in panel._sections():
            assert not is_stale(section.found)
            assert "bk-refusal" not in section.message.view.value
        assert [row["oil"] for row in panel.buy.chart.rows]
        caps = {row["oil"]: row["cap"] for row in panel.choices.chart.rows}
        assert min(caps.values()) >= 0
        assert max(caps.values()) > 0
        assert all(f"table {n}" in panel.run.lines.value for n in (1, 2))

    def test_many_conditions_of_a_seat_show_with_their_marks_and_sentences(self, panel):
        type_in(panel.editor.people, 0, name="Bo", answers="b g h", cap="5")
        seat = panel.plan.seats[0]
        assert len(seat.wearers) == 3
        assert seat.strength_cap == pytest.approx(0.05)
        assert panel.editor.people.rows[0]["answers"] == "b g h"
        assert "strong scent" in panel.seats.picture.value
        assert "Bo: at most 10 drops (5 %, as typed)" in panel.seats.words.view.value
        for count in range(3):
            oil = list(panel.card.caps)[count]
            type_in(panel.editor.people, 0, **{f"dislike{count or ''}": oil})
        assert len(panel.plan.seats[0].dislikes) == 3
        assert panel.editor.people.columns[-1]["key"] == "dislike3"

    def test_an_exclusion_of_a_seat_leaves_its_oil_out(self, panel):
        type_in(panel.editor.people, 0, name="Ada", dislike="lavender")
        assert "Ada, Lavender: does not like it" in panel.seats.picture.value
        assert "Ada: without Lavender" in panel.seats.words.view.value

    @pytest.mark.parametrize("seats", ["0", "500", "-3", "many", "2.5", ""])
    def test_a_number_of_seats_out_of_reach_is_said_and_left_as_typed(self, panel, seats):
        panel.editor.seats.value = seats
        assert "seats: got" in said(panel)
        assert panel.editor.seats.value == seats
        assert all(is_stale(section.found) for section in panel._sections())
        panel.editor.seats.value = "12"
        assert said(panel).count("<div") == 1
        assert not is_stale(panel.seats.found)

    def test_fewer_seats_keep_what_was_typed_for_the_others(self, panel):
        panel.editor.seats.value = "3"
        assert len(panel.plan.seats) == 3
        assert "9 rows are not counted" in panel.editor.people_note.value
        panel.editor.seats.value = "12"
        assert panel.plan.seats[9].wearers == ("asthma or migraine",)

    def test_a_class_too_long_for_its_minutes_still_has_a_list_to_buy(self, panel):
        panel.editor.minutes.value = "30"
        assert "minutes: got 30 minutes" in panel.run.message.view.value
        assert is_stale(panel.run.found)
        assert not is_stale(panel.buy.found)

    def test_a_palette_with_one_oil_works(self, panel):
        panel.editor.palette.rows = [{"id": "lavender"}]
        assert [each.oil.id for each in panel.plan.oils] == ["lavender"]
        assert list(panel.card.caps) == ["lavender"]
        assert panel.editor.palette.rows[-1] == {}  # a row to add the next one

    def test_no_oil_at_all_is_said(self, panel):
        panel.editor.palette.rows = [{}]
        assert "oils: got nothing" in said(panel)

    def test_nobody_can_wear_anything(self, panel):
        panel.editor.palette.rows = [{"id": "lavender"}]
        panel.editor.people.rows = [{"dislike": "lavender"} for _ in range(12)]
        assert "Nobody in this class can mix" in panel.seats.words.view.value
        assert "bk-refusal" in panel.buy.message.view.value
        assert is_stale(panel.buy.found)
        assert said(panel).count("<div") == 1

    def test_names_are_text_wherever_they_show(self, panel):
        panel.editor.name.value = MARKUP
        type_in(panel.editor.people, 0, name=MARKUP, dislike="lavender")
        shown = [panel.seats.picture.value, panel.seats.words.view.value]
        shown += [panel.run.lines.value]
        assert all(MARKUP not in html for html in shown)
        assert all("&lt;img" in html for html in shown)

    def test_a_kept_class_comes_back(self, panel):
        type_in(panel.editor.people, 1, name="Bo")
        panel.keep()
        panel.editor.seats.value = "4"
        panel.opener.value = panel.opener.options[1][1]
        assert len(panel.plan.seats) == 12
        assert panel.plan.seats[1].name == "Bo"

    def test_a_class_can_mix_along_a_kept_blend(self, panel):
        the_journal().new_blend("Quay (invented)", example_document())
        panel.list_blends()
        (choice,) = panel.along.options
        panel.along.value = (choice[1],)
        assert not panel.plan.is_free
        assert panel.plan.blends[0].blend.oil_drops["lavender"] == 5
        panel.along.value = ()
        assert panel.plan.is_free


class TestBuying:
    def test_what_is_on_hand_and_what_is_sold_become_a_list(self, panel):
        grid = panel.buy.shopping.grid
        rows = {row["material"]: place for place, row in enumerate(grid.rows)}
        assert len(rows) == 9 + 2
        type_in(grid, rows["lavender"], size="10 mL", price="6,50")
        type_in(grid, rows["lemon"], on_hand="2 x 15")
        words = panel.buy.shopping.words.view.value
        assert "Lavender: 2 × 10 mL" in words  # a bottle for each table
        assert "13.00 EUR" in words
        assert "Lemon" not in words

    def test_prices_and_the_kit_are_kept_with_the_class_and_open_after_a_restart(self, panel):
        type_in(panel.buy.shopping.grid, 0, size="10 mL", price="6,50")
        type_in(panel.buy.shopping.kit, 0, price="1,20", on_hand="3")
        assert "13.20 EUR" in panel.buy.shopping.words.view.value  # 14 bottles less 3
        panel.editor.name.value = "Autumn (invented)"
        panel.keep()
        again = teach()
        assert again.plan.name == "Autumn (invented)"
        assert again.buy.shopping.grid.rows[0]["price"] == "6,50"
        assert again.buy.shopping.kit.rows[0]["on_hand"] == "3"
        assert again.document == panel.document

    def test_cells_that_cannot_be_used_are_said_and_the_demand_stays(self, panel):
        grid = panel.buy.shopping.grid
        type_in(grid, 0, size="10", price="dear", on_hand="some")
        assert panel.buy.shopping.message.view.value.count("<li>") >= 2
        assert grid.rows[0]["price"] == "dear"
        assert is_stale(panel.buy.shopping.found)
        assert not is_stale(panel.buy.found)

    def test_what_was_typed_stays_with_its_oil(self, panel):
        grid = panel.buy.shopping.grid
        place = next(n for n, row in enumerate(grid.rows) if row["material"] == "geranium")
        type_in(grid, place, on_hand="7 mL")
        panel.editor.palette.rows = [{"id": "neroli"}, {"id": "geranium"}]
        typed = {row["material"]: row.get("on_hand", "") for row in grid.rows}
        assert typed["geranium"] == "7 mL"
        assert "neroli" in typed
        assert "lemon" not in typed


class TestHandOuts:
    def test_making_twice_overwrites_nothing(self, panel):
        panel.hand_outs.make()
        first = {file["path"] for file in panel.hand_outs.links.files}
        panel.hand_outs.make()
        second = {file["path"] for file in panel.hand_outs.links.files}
        assert first
        assert not first & second
        for path in first | second:
            text = (keep.home() / path).read_text(encoding="utf-8")
            assert text.lstrip().lower().startswith("<!doctype html>")

    def test_each_making_has_a_folder_of_the_class_and_drops_fill_the_take_home(self, panel):
        panel.hand_outs.make()
        folders = {file["path"].split("/")[1] for file in panel.hand_outs.links.files}
        assert folders == {"Spring evening invented"}
        type_in(panel.results.grid, 0, lavender="12", lemon="2")
        panel.hand_outs.paper.value = "Letter"
        panel.hand_outs.make()
        paths = {file["path"] for file in panel.hand_outs.links.files}
        assert {path.split("/")[1] for path in paths} == {"Spring evening invented 2"}
        (home,) = [path for path in paths if path.endswith("take-home-en.html")]
        text = (keep.home() / home).read_text(encoding="utf-8")
        assert "12" in text
        assert "size: Letter" in text
        assert any("follow-up" in path for path in paths)

    def test_labels_of_all_bottles_print_in_one_go(self, panel):
        assert "no drops" in panel.results.label_page()
        for row in range(3):
            type_in(panel.results.grid, row, lavender=f"{row + 5}")
        page = panel.results.label_page()
        assert all(f"Seat {n}" in page for n in (1, 2, 3))

    def test_names_are_text_in_every_one(self, panel):
        type_in(panel.editor.people, 0, name=MARKUP)
        panel.hand_outs.make()
        for file in panel.hand_outs.links.files:
            assert MARKUP not in (keep.home() / file["path"]).read_text(encoding="utf-8")

    @pytest.mark.parametrize("typed", ["", "one", "1.5", "-"])
    def test_a_number_of_exercises_that_is_none_is_said(self, panel, typed):
        panel.hand_outs.seed.value = typed
        panel.hand_outs.message.guard(panel.hand_outs.make)()
        assert "Exercises no." in panel.hand_outs.message.view.value


class TestResults:
    def test_every_bottle_goes_into_the_journal_once(self, panel):
        grid = panel.results.grid
        type_in(grid, 0, seat="Ada", lavender="12", lemon="4", **{"cedarwood-atlas": "14"})
        type_in(grid, 2, seat="Cy", geranium="9", patchouli="11")
        panel.results.keep()
        journal = the_journal()
        versions = journal.all(Version)
        assert len(versions) == len(journal.all(BatchRow)) == 2
        blend = Blend.from_dict(versions[0].document)
        assert blend.oil_drops == {"lavender": 12, "lemon": 4, "cedarwood-atlas": 14}
        assert [(b.count, b.size_ml) for b in journal.all(BatchBottles)] == [(1, 10.0)] * 2
        # a bottle holds its 10 mL, and seat 3, who cannot wear nuts, was poured jojoba
        parts = journal.all(BatchMaterial, batch_id=journal.all(BatchRow)[1].id)
        assert sum(part.volume_ml for part in parts) == pytest.approx(10)
        assert {part.material for part in parts} == {"geranium", "patchouli", "jojoba"}
        assert len({batch.lot for batch in journal.all(BatchRow)}) == 2
        panel.results.keep()
        assert len(journal.all(BatchRow)) == 2
        assert "had been kept before" in panel.results.message.view.value

    def test_all_that_is_wrong_is_said_at_once_and_nothing_is_kept(self, panel):
        grid = panel.results.grid
        type_in(grid, 0, seat="Ada", lavender="x")
        type_in(grid, 1, seat="", lemon="3")
        type_in(grid, 2, seat="Cy", lemon="2.5", lavender="-1")
        type_in(grid, 3, seat="Dee", lemon="2")
        type_in(grid, 4, seat="Dee", lemon="2")
        type_in(grid, 5, seat="Eve", lavender="999")
        panel.results.message.guard(panel.results.keep)()
        words = panel.results.message.view.value
        assert words.count("<li>") == 6
        for told in ("Ada, Lavender", "row 2", "Cy, Lemon", "Cy, Lavender", "Dee", "Eve"):
            assert told in words
        assert the_journal().all(BatchRow) == []
        assert grid.rows[0]["lavender"] == "x"

    def test_what_passes_the_card_or_a_limit_is_said(self, panel):
        type_in(panel.results.grid, 0, seat="Ada", lemon="30")
        panel.results.check()
        words = panel.results.findings.view.value
        assert "30 drops of Lemon; the card allows" in words
        assert "over a limit" in words

    def test_what_a_seat_leaves_out_is_said_and_kept_without_its_reason(self, panel):
        type_in(panel.editor.people, 0, name="Ada", answers="A J")
        type_in(panel.results.grid, 0, lemon="1", carrier="sweet-almond")
        type_in(panel.results.grid, 1, lavender="2")
        panel.results.check()
        words = panel.results.findings.view.value
        assert "Ada, has Lemon: leave it out (sun afterwards)" in words
        assert "Ada, has Sweet almond: leave it out (nut allergy)" in words
        assert "1 bottle to look at first" in panel.results.message.view.value
        panel.results.keep()
        assert {version.why for version in the_journal().all(Version)} == {
            "made in class: Spring evening (invented)",
            "made in class: Spring evening (invented); has Lemon, Sweet almond, "
            "left out by this seat",
        }

    @pytest.mark.parametrize("day", ["", "yesterday", "2026-02-30"])
    def test_a_day_that_is_none_is_said(self, panel, day):
        type_in(panel.results.grid, 0, lemon="3")
        panel.results.made_on.value = day
        panel.results.message.guard(panel.results.keep)()
        assert "Made on: got" in panel.results.message.view.value
        assert the_journal().all(BatchRow) == []

    def test_a_change_of_the_plan_leaves_typed_drops_alone(self, panel):
        type_in(panel.results.grid, 1, seat="Bo", lemon="3")
        panel.editor.minutes.value = "100"
        assert panel.results.grid.rows[1]["lemon"] == "3"
        assert panel.results.grid.rows[1]["seat"] == "Bo"

    def test_an_empty_grid_is_said(self, panel):
        panel.results.message.guard(panel.results.check)()
        assert "no drops" in panel.results.message.view.value

    def test_a_name_far_too_long_is_said(self):
        plan = read_class(example_class())
        rows = [{"seat": "x" * 500, "carrier": "jojoba", "drops": {"lemon": "1"}}]
        with pytest.raises(BadClass, match="500 characters"):
            seat_bottles(plan, rows)


class TestHandedIn:
    @pytest.fixture
    def box(self, tmp_path):
        folder = tmp_path / "box"
        folder.mkdir()
        return folder

    def test_each_seat_shows_with_what_is_over(self, box):
        good = Blend.from_dict(example_document())
        hand_in(good, box)
        hot = example_document()
        hot["oils"].append({"id": "bergamot", "note": "top", "parts": 9})
        (box / "b.json").write_text(json.dumps({"seat": MARKUP, "blend": hot}))
        (box / "c.json").write_text(json.dumps({"seat": "Cy", "blend": {"name": MARKUP}}))
        panel = teach()
        panel.gathered.folder.value = str(box)
        shown = panel.gathered.seats.value
        assert "over a limit: Bergamot" in shown
        assert MARKUP not in shown
        assert "Not to be mixed as handed in" in shown
        assert "belongs to no seat of this class" in shown

    def test_a_folder_that_is_none_is_said(self, panel, tmp_path):
        for text in (str(tmp_path / "gone"), "\0"):
            panel.gathered.folder.value = text
            panel.gathered.message.guard(panel.gathered.look)()
            assert "needs" in panel.gathered.message.view.value
            assert is_stale(panel.gathered.found)
        panel.gathered.folder.value = ""
        assert not is_stale(panel.gathered.found)
        panel.gathered.message.guard(panel.gathered.keep)()
        assert "got nothing" in panel.gathered.message.view.value

    def test_the_view_follows_by_itself_and_keeps_each_bottle_once(self, panel, box):
        panel.gathered.folder.value = str(box)
        named = Blend.from_dict(example_document() | {"name": "Invented Irma's own"})
        for seat in ("seat-03", "seat-05", "Invented Irma"):
            (box / f"{seat}.json").write_text(
                json.dumps({"seat": seat, "blend": named.to_dict()})
            )
            panel.watch._heard(None, {"kind": "look"}, None)
            assert seat in panel.gathered.seats.value
        panel.gathered.keep()
        panel.gathered.keep()
        assert "0 bottles kept, 2 kept before; 1 with no seat" in said(panel.gathered)
        versions = the_journal().all(Version)
        assert len(the_journal().all(BatchRow)) == len(versions) == 2
        assert [version.why.partition(";")[0] for version in versions] == [
            f"made in class: Spring evening (invented), Seat {number}" for number in (3, 5)
        ]
        kept = json.dumps([version.document for version in versions], ensure_ascii=False)
        assert "Irma" not in kept

    def test_the_class_is_saved_for_laptops_and_the_steps_print(self, panel):
        type_in(panel.editor.people, 0, name="Invented Ada", answers="B")
        panel.gathered.save()
        (file,) = (keep.home() / "laptops").iterdir()
        assert "Ada" not in file.read_text(encoding="utf-8")
        assert f"--of '{file}'" in html.unescape(said(panel.gathered))
        assert len(read_file(file).seats) == 12
        with pytest.raises(BadClass, match="no class in gone"):
            read_file(file.with_name("gone.json"))
        assert "<em>Username</em>" in steps_page()

    def test_a_learner_hands_in_what_is_on_the_panel(self, box, monkeypatch):
        assert not [b for b in first_bottle().saved.view.children if is_hand_in(b)]
        monkeypatch.setenv("BLENDKIT_HAND_IN", str(box))
        panel = first_bottle()
        panel.editor.name.value = MARKUP
        (press,) = [b for b in panel.saved.view.children if is_hand_in(b)]
        press.click()
        assert "Handed in" in panel.message.view.value
        assert MARKUP not in panel.message.view.value
        (found,) = gather(box).seats
        assert found.blend.to_dict() == panel.blend.to_dict()

    def test_what_cannot_be_mixed_is_not_handed_in(self, box, monkeypatch):
        monkeypatch.setenv("BLENDKIT_HAND_IN", str(box))
        panel = first_bottle()
        panel.editor.strength.value = "110 %"
        (press,) = [b for b in panel.saved.view.children if is_hand_in(b)]
        press.click()
        assert "110 %" in panel.message.view.value
        assert gather(box).seats == ()


def is_hand_in(widget) -> bool:
    return getattr(widget, "description", "") == "Hand in"
