"""The bench panel without a browser: tap, take back, keep, age, compare, and lose nothing.

`Button.click()` swallows what its callback raises, so named methods are called, through the
same guard as the buttons' where a refusal is wanted.
"""

from __future__ import annotations

import base64
import html
import os
import re
from datetime import date, timedelta
from pathlib import Path

import ipywidgets as widgets
import pytest

from blendkit import Blend, example_document
from blendkit.journal.backups import journal_path
from blendkit.journal.records import (
    BatchMaterial,
    BatchRow,
    EventRow,
    Impression,
    Like,
    Photo,
    Session,
    Version,
)
from blendkit.journal.store import now, open_journal
from blendkit.keeping.bench_sessions import BenchRecord
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.keeping.versions import kept_versions
from blendkit.making.bench_events import Drops, Measured, Remark
from blendkit.panels import fade, first_bottle, make_and_keep
from blendkit.panels.bench.ageing_page import WEAR
from blendkit.showing.bench.photos import MOST_BYTES, MOST_PICTURES

SCRIPT = "<script>alert(1)</script>"
NAUGHTY = [
    SCRIPT,
    "\"quotes\" and 'more' & <b>",
    "🌸 عطر الورد",
    '=HYPERLINK("http://x")',
    "@SUM(A1)",
    "",
    "x" * 200,
]


pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def panel():
    return make_and_keep()


def guarded(panel, action) -> str:
    panel.message.guard(action)()
    return panel.message.view.value


def tap(panel, **counts):
    for name, count in counts.items():
        for _ in range(count):
            panel.tray.rows[name.replace("_", "-")].add_drop()


def shown_html(widget) -> str:
    found = [widget.value] if isinstance(widget, widgets.HTML) else []
    found += [shown_html(child) for child in getattr(widget, "children", ())]
    return "".join(found)


def events() -> list[EventRow]:
    return the_journal().all(EventRow)


class TestTapping:
    def test_opens_with_the_example_and_writes_nothing_before_the_first_tap(self, panel):
        assert panel.record.bench.plan.fields.name == example_document()["name"]
        assert the_journal().count(Session) == 0
        assert panel.undo.disabled

    def test_a_tap_is_in_the_journal_and_in_the_bottle(self, panel):
        empty = panel.picture.value
        tap(panel, lavender=2)
        assert [event.kind for event in events()] == ["start", "drops", "drops"]
        assert panel.record.bench.mixture.drops_now("lavender") == 2
        assert panel.picture.value != empty
        assert "2 of 5 drops" in panel.tray.rows["lavender"].words.value
        assert "Lavender" in panel.log.value
        assert str(journal_path()) in panel.kept_in.value

    def test_a_row_says_done_and_too_many_and_how_much_carrier_is_planned(self, panel):
        tap(panel, lavender=5)
        row = panel.tray.rows["lavender"]
        assert "✓ <b>5 of 5 drops" in row.words.value
        tap(panel, lavender=1)
        assert "1 too many" in row.words.value
        assert "✓" not in row.words.value
        # 40 drops at 20 to 1 mL are 2 of 10 mL; 3 of 4 parts of the other 8 are jojoba
        assert "0 of 6 mL" in panel.tray.rows["jojoba"].words.value

    def test_an_overfilled_bottle_stays_the_bottle_it_is(self, panel):
        tap(panel, lavender=4)
        row = panel.tray.rows["jojoba"]
        row.amount.value = "10"
        row.add_amount()
        row.add_amount() if row.amount.value else None  # asked first
        panel._afterwards.finish()
        # 4 drops at 20 to 1 mL are 0.2 mL next to 10 mL
        assert panel.pouring.off.description == "Pour off 0.2 mL"
        assert "above the mark · 0.2 mL" in panel.picture.value
        panel.keep()
        kept = kept_versions(the_journal())[0].version.document
        assert (kept["bottle"], kept["headspace"]) == ("10 mL", "-0.2 mL")
        panel.pouring.pour_off()
        assert panel.record.bench.mixture.room_m3 == pytest.approx(0, abs=1e-12)

    def test_strength_ratio_skin_and_fade_follow(self, panel):
        tap(panel, lavender=2, patchouli=1)
        # 3 drops at 20 to the millilitre in 10 mL: 3 of 200
        assert "1.5 % by drops" in panel.contents.view.value
        assert "middle 2 : base 1" in panel.list.value
        assert "limits on record" in panel.verdict.value
        assert {row["note"] for row in panel.chart.rows} == {"middle", "base"}

    def test_grams_are_kept_as_typed(self, panel):
        row = panel.tray.rows["lavender"]
        row.amount.value = "0,350"
        row.add_amount()
        assert events()[-1].details == {"material": "lavender", "amount": "0,350 g"}
        assert panel.record.bench.mixture.masses_kg["lavender"] == pytest.approx(0.350e-3)
        assert row.amount.value == ""

    def test_grams_that_are_asked_about_first_stay_in_their_box(self, panel):
        panel.tray.chooser.value = "bergamot"
        row = panel.tray.rows["bergamot"]
        row.amount.value = "0.5"  # of about 9 g: far over 0.4 %
        row.add_amount()
        assert "Not recorded yet" in panel.message.view.value
        assert row.amount.value == "0.5"
        row.add_amount()
        assert row.amount.value == ""
        assert events()[-1].details == {"material": "bergamot", "amount": "0.5 g"}

    def test_one_drop_is_one_drop_and_two_are_drops(self, panel):
        panel.tray.chooser.value = "neroli"
        tap(panel, neroli=1)
        assert "<b>1 drop</b>" in panel.tray.rows["neroli"].words.value
        tap(panel, neroli=1)
        assert "<b>2 drops</b>" in panel.tray.rows["neroli"].words.value

    @pytest.mark.parametrize("text", ["", "much", "-1", "0", "nan", "1e99", "5 m", SCRIPT])
    def test_a_bad_amount_is_said_as_typed_and_nothing_is_written(self, panel, text):
        row = panel.tray.rows["lavender"]
        row.amount.value = text
        words = guarded(panel, row.add_amount)
        assert "bk-refusal" in words
        assert "<script" not in words
        assert row.amount.value == text
        assert the_journal().count(EventRow) == 0

    def test_all_drops_still_planned_go_in_at_one_tap(self, panel):
        row = panel.tray.rows["lavender"]
        tap(panel, lavender=1)
        assert row.rest.description == "add 4"
        row.add_rest()
        assert events()[-1].details["count"] == 4
        assert "5 of 5 drops" in row.words.value
        assert row.rest.layout.display == "none"
        panel.take_back()
        assert row.rest.layout.display is None
        assert row.rest.description == "add 4"

    def test_the_whole_plan_goes_in_at_one_press_and_each_oil_is_a_line_of_its_own(self, panel):
        tray = panel.tray
        tap(panel, lavender=1)
        left = sum(row.left for row in tray.rows.values())
        assert tray.rest.description == f"Add the remaining {left} planned drops"
        tray.add_rest()
        planned = panel.record.bench.plan.target_drops
        mixture = panel.record.bench.mixture
        assert {name: mixture.drops_now(name) for name in planned} == planned
        assert len(events()) == 2 + len(planned)  # the start, one drop, and a line each
        assert tray.rest.disabled
        panel.take_back()
        assert not tray.rest.disabled

    def test_a_limit_in_the_way_of_the_whole_plan_is_asked_about_and_pressed_again(self):
        lime = {"oils": [{"id": "lime-expressed", "note": "top"}], "note_parts": {"top": 1}}
        panel = make_and_keep(example_document() | lime)
        panel.tray.add_rest()
        assert "Not recorded yet" in panel.message.view.value
        assert panel.record.bench.mixture.drops_now("lime-expressed") == 0
        panel.tray.add_rest()
        planned = panel.record.bench.plan.target_drops["lime-expressed"]
        assert panel.record.bench.mixture.drops_now("lime-expressed") == planned

    def test_for_one_drop_or_none_planned_there_is_one_button(self, panel):
        row = panel.tray.rows["lavender"]
        tap(panel, lavender=4)
        assert row.rest.layout.display == "none"
        panel.tray.chooser.value = "neroli"
        assert panel.tray.rows["neroli"].rest.layout.display == "none"

    def test_another_oil_can_be_fetched(self, panel):
        panel.tray.chooser.value = "neroli"
        assert panel.tray.chooser.value == ""
        tap(panel, neroli=1)
        assert panel.record.bench.mixture.drops_now("neroli") == 1

    def test_taking_back_walks_to_the_empty_bottle(self, panel):
        tap(panel, lavender=2, patchouli=1)
        assert "Patchouli" in panel.undo.description
        for _ in range(5):
            panel.take_back()
        assert panel.record.bench.mixture.volume_m3 == 0
        assert panel.undo.disabled
        assert [event.kind for event in events()] == ["start"] + ["drops"] * 3 + ["undo"] * 3
        assert "bk-gone" in panel.log.value

    def test_what_would_break_a_limit_is_asked_for_twice(self, panel):
        panel.tray.chooser.value = "bergamot"
        row = panel.tray.rows["bergamot"]  # IFRA: 0.4 % of it; a drop in 10 mL is 0.5 %
        assert "⚠" in row.tap.description  # shown as soon as it is added
        tap(panel, lavender=1)
        assert "⚠" in row.tap.description
        assert "Bergamot (IFRA standards)" in row.tap.tooltip
        row.add_drop()
        assert "Not recorded yet" in panel.message.view.value
        assert the_journal().count(EventRow) == 2
        row.add_drop()
        assert panel.record.bench.mixture.drops_now("bergamot") == 1
        assert "⚠" not in row.tap.description  # broken already: not asked about again
        assert "times its limit" in panel.verdict.value

    def test_another_tap_between_asks_anew(self, panel):
        panel.tray.chooser.value = "bergamot"
        for name in ("bergamot", "lavender", "bergamot"):
            tap(panel, **{name: 1})
        assert panel.record.bench.mixture.drops_now("bergamot") == 0

    def test_stricter_rules_can_be_chosen(self, panel):
        tap(panel, geranium=12)
        assert "times its limit" not in panel.verdict.value
        panel.market.use.value = "body oil"
        assert "times its limit" in panel.verdict.value


class TestHappenings:
    def test_drops_that_fell(self, panel):
        tap(panel, patchouli=1)
        panel.other_events.accidental_oil.value = "patchouli"
        panel.other_events.add_accidental()
        assert panel.record.bench.mixture.drops_now("patchouli") == 3
        assert "2 drops of Patchouli by accident" in panel.log.value

    def test_a_spill(self, panel):
        tap(panel, patchouli=10)
        panel.other_events.spill.value = "0.25 mL"  # of 10 / 20 = 0.5 mL
        panel.other_events.add_spill("lost")
        assert panel.record.bench.mixture.drops_now("patchouli") == 5

    def test_the_scale(self, panel):
        tap(panel, patchouli=10)
        panel.other_events.reading.value = "0,40"
        panel.other_events.add_reading()
        assert panel.record.bench.mixture.mass_kg == pytest.approx(0.40e-3)
        assert "By count and measure" in panel.message.view.value

    def test_another_bottle(self, panel):
        tap(panel, patchouli=10)
        panel.finish.name.value = "First (invented)"
        panel.keep()
        again = make_and_keep()
        other = again.other_events.other
        other.value = other.options[-1][1]
        again.other_events.other_amount.value = "1 mL"
        again.other_events.add_bottle()
        # 0.5 mL of patchouli in 10 mL: a tenth of it is a drop
        assert again.record.bench.mixture.drops_now("patchouli") == pytest.approx(1)

    def test_another_bottle_that_is_asked_about_first_stays_in_its_box(self, panel):
        tap(panel, patchouli=10)
        panel.keep()
        other_events = make_and_keep().other_events
        other_events.other.value = other_events.other.options[-1][1]
        other_events.other_amount.value = "11 mL"  # into 10 mL
        other_events.add_bottle()
        assert other_events.other_amount.value == "11 mL"
        other_events.add_bottle()
        assert other_events.other_amount.value == ""

    def test_a_remark(self, panel):
        panel.other_events.remark.value = f"{SCRIPT} too sharp"
        panel.other_events.add_remark()
        assert events()[-1].details == {"text": f"{SCRIPT} too sharp"}
        assert "<script" not in shown_html(panel.view)

    @pytest.mark.parametrize(
        "action", ["add_accidental", "add_reading", "add_remark", lambda h: h.add_spill("lost")]
    )
    def test_nothing_typed_is_refused_in_words(self, panel, action):
        panel.other_events.accidental_count.value = "two"
        doing = action if callable(action) else lambda h: getattr(h, action)()
        assert "bk-refusal" in guarded(panel, lambda: doing(panel.other_events))
        assert the_journal().count(EventRow) == 0


class TestKeeping:
    def test_rebalance_pours_to_strength_and_to_the_mark(self, panel):
        tap(panel, lavender=4)
        assert "bring it to the target of 20 %" in panel.pouring.words.view.value
        panel.pouring.pour_to_strength()
        assert panel.record.bench.mixture.strength_by_drops == pytest.approx(0.2)
        panel.pouring.pour_to_fill()
        assert panel.record.bench.mixture.volume_m3 == pytest.approx(10e-6)
        assert panel.pouring.to_fill.disabled

    def test_what_fills_up_is_kept_exactly_and_shown_in_three_digits(self, panel):
        tap(panel, lavender=4)
        panel.add(Measured("jojoba", "5.6875 mL"))
        panel.pouring.pour_to_fill()  # 10 mL less 4 drops at 20 to the mL, less 5.6875 mL
        # 4.1125 mL, of which the plan wants three parts of jojoba and one of the other
        kept = [row.details["amount"].removesuffix(" mL") for row in events()[-2:]]
        assert [float(one) for one in kept] == pytest.approx([3.084375, 1.028125], rel=1e-5)
        assert "+ 3.08 mL of" in panel.log.value
        assert "+ 1.03 mL of" in panel.undo.description
        assert not any(one in panel.log.value for one in kept)

    def test_a_tap_just_before_filling_up_counts(self, panel, monkeypatch):
        tap(panel, lavender=4)
        monkeypatch.setattr(panel._afterwards, "ask", lambda work: None)  # not followed up yet
        tap(panel, lavender=1)
        panel.pouring.pour_to_fill()
        assert panel.record.bench.mixture.volume_m3 == pytest.approx(10e-6)
        assert "room for some" in guarded(panel, panel.pouring.pour_to_fill)

    def test_a_version_a_batch_and_its_materials(self, panel):
        tap(panel, lavender=4, patchouli=2)
        panel.pouring.pour_to_fill()
        panel.finish.name.value = "Kept (invented)"
        panel.finish.why.value = "softer"
        panel.keep()
        journal = the_journal()
        (version,) = journal.all(Version)
        assert version.why == "softer"
        assert Blend.from_dict(version.document).oil_drops == {"lavender": 4, "patchouli": 2}
        (batch,) = journal.all(BatchRow)
        assert (batch.version_id, batch.made_on) == (version.id, date.today())
        assert batch.lot in panel.message.view.value
        grams = {one.material: one.mass_g for one in journal.all(BatchMaterial)}
        assert grams["lavender"] == pytest.approx(4 / 20 * 0.8875)  # density on record
        (session,) = journal.all(Session)
        assert (session.version_id, session.batch_id) == (version.id, batch.id)

    def test_going_on_after_keeping_makes_the_next_version_in_the_same_bottle(self, panel):
        tap(panel, lavender=4)
        panel.keep()
        tap(panel, lavender=1)
        panel.keep()
        journal = the_journal()
        versions = journal.all(Version)
        assert [version.number for version in versions] == [1, 2]
        assert versions[1].parent_id == versions[0].id
        (batch,) = journal.all(BatchRow)
        assert batch.version_id == versions[1].id
        assert [one.material for one in journal.all(BatchMaterial)] == ["lavender"]

    def test_an_empty_bottle_is_not_kept(self, panel):
        assert "no oil" in guarded(panel, panel.keep)
        assert the_journal().count(Version) == 0

    def test_a_kept_version_can_be_made_again_and_opened_on_other_panels(self, panel):
        tap(panel, lavender=4)
        panel.finish.name.value = "Again (invented)"
        panel.keep()
        again = make_and_keep()
        again.start.kept.value = again.start.kept.options[1][1]
        assert again.record.bench.plan.target_drops == {"lavender": 4}
        other = first_bottle()
        other.saved.opener.value = other.saved.opener.options[1][1]
        assert other.blend.oil_drops == {"lavender": 4}

    @pytest.mark.parametrize("name", NAUGHTY)
    def test_any_name_is_kept_exactly_and_shown_escaped(self, panel, name):
        tap(panel, lavender=4)
        panel.finish.name.value = name
        panel.finish.why.value = name
        panel.keep()
        (version,) = the_journal().all(Version)
        assert (version.document["name"], version.why) == (name, name.strip())
        panel.journal.export(people=True)
        html = shown_html(panel.view) + shown_html(make_and_keep().view)
        assert "<script" not in html
        assert "<b>&" not in html

    def test_too_long_a_name_is_refused(self, panel):
        tap(panel, lavender=4)
        panel.finish.name.value = "x" * 300
        assert "200 characters" in guarded(panel, panel.keep)


class TestStarting:
    def test_an_empty_bottle(self, panel):
        panel.start.bottle.value = "30 mL"
        panel.start.strength.value = "12 %"
        panel.start.begin_empty()
        assert panel.record.bench.plan.fields.bottle_m3 == pytest.approx(30e-6)
        assert list(panel.tray.rows) == ["jojoba"]
        panel.tray.chooser.value = "lavender"
        tap(panel, lavender=1)
        assert "0.167 % by drops" in panel.contents.view.value  # 1 of 600

    @pytest.mark.parametrize(
        ("box", "text"), [("bottle", "10 s"), ("strength", "200"), ("drops_per_ml", "many")]
    )
    def test_a_bad_plan_is_said_and_the_bench_stays(self, panel, box, text):
        tap(panel, lavender=1)
        getattr(panel.start, box).value = text
        assert text in guarded(panel, panel.start.begin_empty)
        assert panel.record.bench.mixture.drops_now("lavender") == 1

    def test_the_session_that_was_left_is_gone_on_with(self, panel):
        tap(panel, lavender=3)
        panel.take_back()
        again = make_and_keep()
        assert "Resumed" in again.message.view.value
        assert again.record.bench.mixture == panel.record.bench.mixture
        tap(again, lavender=1)
        assert len(events()) == 6
        assert the_journal().count(Session) == 1

    def test_a_session_that_was_kept_is_done(self, panel):
        tap(panel, lavender=3)
        panel.keep()
        assert len(make_and_keep().record.timed) == 1

    def test_an_older_session_can_be_chosen(self, panel):
        tap(panel, lavender=3)
        panel.start.begin_empty()
        panel.tray.chooser.value = "lavender"
        tap(panel, lavender=1)
        panel.refresh_pages()
        assert len(panel.start.sessions.options) == 3
        panel.start.sessions.value = panel.start.sessions.options[-1][1]
        assert panel.record.bench.mixture.drops_now("lavender") == 3

    def test_two_notebooks_on_one_session_see_each_others_taps(self, panel):
        tap(panel, lavender=1)
        other = make_and_keep()
        tap(other, lavender=1)
        tap(panel, lavender=1)
        assert panel.record.bench.mixture.drops_now("lavender") == 3
        tap(other, patchouli=1)
        assert other.record.bench.mixture.drops_now("lavender") == 3
        assert [event.kind for event in events()] == ["start"] + ["drops"] * 4

    def test_ten_thousand_events_open_and_can_be_gone_on_with(self):
        record = BenchRecord(example_document())
        record.add(Remark("the first"))
        journal, session = the_journal(), record.session
        row = {"kind": "drops", "details": {"material": "lavender", "count": 1}}
        journal.add(
            *(EventRow(session_id=session.id, happened_at=now(), **row) for _ in range(10_000))
        )
        panel = make_and_keep()
        tap(panel, lavender=1)
        if panel.record.bench.mixture.drops_now("lavender") == 10_000:
            tap(panel, lavender=1)  # far above the mark: asked for twice
        assert panel.record.bench.mixture.drops_now("lavender") == 10_001
        assert panel.log.value.count("<li") == 30
        assert "And 9973 lines earlier" in panel.log.value

    def test_a_row_that_is_not_understood_keeps_its_place(self, panel):
        tap(panel, lavender=1)
        the_journal().log(panel.record.session, "levitated", {"by": 3})
        again = make_and_keep()
        assert "not understood here: levitated" in again.log.value
        assert again.record.bench.mixture.drops_now("lavender") == 1


class TestVersionsPage:
    @pytest.fixture
    def panel(self, panel):
        tap(panel, lavender=4)
        panel.finish.why.value = "a start"
        panel.keep()
        tap(panel, lavender=1, patchouli=2)
        panel.finish.why.value = "deeper"
        panel.keep()
        return panel

    def test_the_newest_two_are_compared_in_words_and_pictures(self, panel):
        said = panel.versions.changes.view.value
        assert "Lavender: 4 → 5 drops" in said
        assert "Patchouli: new, 2 drops" in said
        assert len(panel.versions.pictures.children) == 2
        assert "“a start”" in panel.versions.reasons.view.value
        assert "“deeper”" in panel.versions.reasons.view.value

    def test_who_liked_it(self, panel):
        for person, liked in (("Ann (invented)", True), ("Bo (invented)", False)):
            panel.versions.person.value = person
            panel.versions.note(liked=liked)
        said = panel.versions.reasons.view.value
        assert "1 of 2: liked by Ann (invented); not liked by Bo (invented)." in said
        panel.versions.person.value = "Bo (invented)"
        panel.versions.note(liked=True)
        assert "2 of 2" in panel.versions.reasons.view.value
        assert the_journal().count(Like) == 3

    def test_nobody_is_refused(self, panel):
        said = guarded(panel, lambda: panel.versions.note(liked=True))
        assert "nobody" in said


class TestAgeingPage:
    @pytest.fixture
    def panel(self, panel):
        tap(panel, lavender=4)
        panel.keep()
        return panel

    def aged(self, days: int):
        (batch,) = the_journal().all(BatchRow)
        the_journal().correct(batch, made_on=date.today() - timedelta(days=days))
        return make_and_keep()

    def test_nothing_is_due_on_the_day_itself(self, panel):
        assert "Nothing is due today" in panel.ageing.due.view.value
        assert "day 28" in panel.ageing.days.value

    def test_a_sniff_is_due_and_done(self, panel):
        panel = self.aged(8)
        assert "sniff of day 7 is due, 1 day ago" in panel.ageing.due.view.value
        panel.ageing.smell.value = "7"
        panel.ageing.words.value = f"rounder {SCRIPT}"
        panel.ageing.write_down()
        assert "Nothing is due today" in panel.ageing.due.view.value
        assert "7 of 10" in panel.ageing.list.value
        assert "<script" not in panel.ageing.list.value
        assert "day 7" in panel.ageing.days.value

    @pytest.mark.parametrize(
        ("smell", "minutes", "words", "said"),
        [
            ("", "", "", "a strength"),
            ("11", "", "", "0 to 10"),
            ("gonne", "", "", "0 to 10"),
            ("gone", "soon", "", "minutes"),
            ("gone", "-3", "", "minutes"),
        ],
    )
    def test_what_cannot_be_written_is_said(self, panel, smell, minutes, words, said):
        page = panel.ageing
        page.smell.value, page.minutes.value, page.words.value = smell, minutes, words
        assert said in guarded(panel, page.write_down)
        assert the_journal().count(Impression) == 0

    def test_a_wearing_teaches_the_forecast(self, panel):
        page = panel.ageing
        page.kind.value = WEAR
        page.smell.value, page.minutes.value = "gone", "25"
        page.write_down()
        assert "from 1 smell." in fade().nose.taught.view.value

    def test_an_impression_and_a_bottle_can_be_undone(self, panel):
        page = panel.ageing
        page.words.value = "soft"
        page.write_down()
        assert "1 impression." in panel.journal.state.view.value  # fresh at once
        page.entry.value = page.entry.options[1][1]
        page.undo()
        assert the_journal().all(Impression) == []
        page.entry.value = page.entry.options[-1][1]
        page.undo()
        assert the_journal().all(BatchRow) == []
        assert "No bottle was kept yet" in page.days.value

    def test_no_bottle_yet(self, tmp_path, monkeypatch):
        monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "other"))
        panel = make_and_keep()
        assert "No bottle was kept yet" in panel.ageing.days.value
        assert "none" in guarded(panel, panel.ageing.write_down)


class TestPhotos:
    # One dark pixel: signature, then the IHDR, IDAT and IEND chunks of ISO/IEC 15948
    PNG = base64.b64decode(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg=="
    )
    JPEG = b"\xff\xd8\xff\xe0" + b"invented, only the first bytes count here"

    @pytest.fixture
    def page(self, panel):
        tap(panel, lavender=4)
        panel.keep()
        return panel.ageing

    def keep(self, page, file, caption=""):
        page.path.value, page.caption.value = str(file), caption
        page.keep_photo()

    def test_a_picture_is_listed_and_shown_under_its_bottle(self, page, tmp_path):
        assert "No photo" in page.photos.value
        file = tmp_path / "quay.png"
        file.write_bytes(self.PNG)
        self.keep(page, file, f'dusk "at" the quay {SCRIPT}')
        (photo,) = the_journal().all(Photo)
        (batch,) = the_journal().all(BatchRow)
        assert (photo.batch_id, photo.version_id) == (batch.id, batch.version_id)
        assert photo.path == str(file)
        assert photo.taken_at.timestamp() == pytest.approx(file.stat().st_mtime, abs=1)
        source = re.search(
            r'src="data:image/png;base64,([^"]+)" alt="([^"]+)"', page.photos.value
        )
        assert base64.b64decode(source[1]) == self.PNG
        assert html.unescape(source[2]) == f'dusk "at" the quay {SCRIPT}'
        assert "<script" not in page.photos.value
        assert (page.path.value, page.caption.value) == ("", "")
        assert file.read_bytes() == self.PNG  # it stays where it is, as it is
        # and once more after everything was opened anew
        assert "data:image/png" in make_and_keep().ageing.photos.value

    def test_a_path_in_quotation_marks_and_no_caption(self, page, tmp_path):
        file = tmp_path / "quay dusk.png"
        file.write_bytes(self.PNG)
        self.keep(page, f' "{file}" ')
        assert 'alt="quay dusk.png"' in page.photos.value

    @pytest.mark.parametrize(
        ("name", "content", "said"),
        [
            ("a.jpg", JPEG, "data:image/jpeg;base64,"),
            ("named.png", JPEG, "data:image/jpeg;base64,"),  # its bytes tell, not its name
            ("a.png", b"<svg onload='alert(1)'>", "neither a PNG nor a JPEG"),
            ("a.svg", b"<svg/>", "neither a PNG nor a JPEG"),
            ("empty.jpg", b"", "neither a PNG nor a JPEG"),
            ("big.jpg", JPEG + bytes(MOST_BYTES), "larger than 4 MB"),
        ],
    )
    def test_only_small_pictures_are_shown(self, page, tmp_path, name, content, said):
        file = tmp_path / name
        file.write_bytes(content)
        self.keep(page, file, "a caption")
        assert said in page.photos.value
        assert ("<img" in page.photos.value) == said.startswith("data:")
        assert str(file) in html.unescape(page.photos.value)

    def test_a_file_that_is_gone_later_is_said(self, panel, page, tmp_path):
        file = tmp_path / "quay.png"
        file.write_bytes(self.PNG)
        self.keep(page, file)
        file.unlink()
        panel.refresh_pages()
        assert "not there any more" in page.photos.value

    def test_a_place_on_another_computer_is_not_looked_at(self, panel, page):
        (batch,) = the_journal().all(BatchRow)
        place = "\\\\elsewhere\\share\\a.png"
        the_journal().add(Photo(path=place, taken_at=now(), batch_id=batch.id))
        panel.refresh_pages()
        assert "on another computer" in page.photos.value

    def test_only_the_newest_few_are_shown(self, page, tmp_path):
        for number in range(MOST_PICTURES + 1):
            file = tmp_path / f"{number}.png"
            file.write_bytes(self.PNG)
            self.keep(page, file)
        assert page.photos.value.count("<img") == MOST_PICTURES
        assert 'alt="0.png"' not in page.photos.value
        assert "0.png" in page.photos.value

    @pytest.mark.parametrize(
        ("typed", "said"),
        [
            ("", "nothing"),
            ("  ", "nothing"),
            ("/nowhere/at/all.png", "where no file is"),
            (".", "a folder"),
            (SCRIPT, "where no file is"),
            ("~nobody-of-this-name/a.png", "cannot be looked at"),
            ("x" * 5000, "photo file"),
            ("a\0b.png", "photo file"),
            ("half \ud83d.png", "photo file"),
        ],
    )
    def test_what_is_no_file_is_refused_in_words(self, panel, page, typed, said):
        page.path.value, page.caption.value = typed, "a caption"
        words = guarded(panel, page.keep_photo)
        assert said in words
        assert "needs the path of a file" in words
        assert "<script" not in words
        assert (page.path.value, page.caption.value) == (typed, "a caption")
        assert the_journal().count(Photo) == 0

    def test_the_nearest_name_in_the_folder_is_offered(self, panel, page, tmp_path):
        (tmp_path / "quay-dusk.png").write_bytes(self.PNG)
        page.path.value = str(tmp_path / "quay-dsk.png")
        assert "Did you mean &quot;quay-dusk.png&quot;?" in guarded(panel, page.keep_photo)

    def test_no_bottle_yet(self, panel, tmp_path):
        file = tmp_path / "quay.png"
        file.write_bytes(self.PNG)
        panel.ageing.path.value = str(file)
        assert "bottle: got none" in guarded(panel, panel.ageing.keep_photo)
        assert panel.ageing.photos.value == ""


class TestJournalPage:
    def test_path_state_and_counts(self, panel):
        tap(panel, lavender=1)
        panel.refresh_pages()
        said = panel.journal.state.view.value
        assert str(journal_path()) in said
        assert "2 bench events" in said

    def test_export_and_import_into_another_folder(self, panel, tmp_path, monkeypatch):
        tap(panel, lavender=2)
        panel.keep()
        panel.journal.export(people=True)
        (file,) = Path(os.environ["BLENDKIT_HOME"]).rglob("*.zip")
        monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "other"))
        other = make_and_keep()
        other.journal.path.value = str(file)
        other.journal.take_path()
        assert "added from" in other.message.view.value
        assert the_journal().count(Version) == 1
        other.journal.take_path()
        assert "here already" in other.message.view.value
        upload = {
            "name": file.name,
            "type": "application/zip",
            "size": 1,
            "last_modified": now(),
        }
        other.journal.upload.value = ({**upload, "content": memoryview(file.read_bytes())},)
        assert "here already" in other.message.view.value
        assert other.journal.upload.value == ()

    @pytest.mark.parametrize("path", ["", "/nowhere/at/all.zip", "~", SCRIPT])
    def test_a_bad_path_is_said(self, panel, path):
        panel.journal.path.value = path
        words = guarded(panel, panel.journal.take_path)
        assert "bk-refusal" in words
        assert "<script" not in words

    def test_a_file_that_is_no_export_is_said(self, panel, tmp_path):
        file = tmp_path / "no.zip"
        file.write_bytes(b"no zip")
        panel.journal.path.value = str(file)
        assert "bk-refusal" in guarded(panel, panel.journal.take_path)


class TestFaults:
    def damage(self):
        let_go()
        journal_path().write_bytes(b"this is no journal" * 300)

    def test_taps_are_held_while_the_journal_is_damaged_and_go_in_afterwards(self, panel):
        tap(panel, lavender=1)
        self.damage()
        tap(panel, lavender=2)
        assert panel.record.bench.mixture.drops_now("lavender") == 3
        assert "2 events not in the journal yet" in panel.kept_in.value
        panel.refresh_pages()
        assert panel.journal.recover.layout.display is None
        panel.journal.recover_it()
        panel.write_again()
        assert panel.record.trouble == ""
        assert [event.kind for event in events()] == ["start"] + ["drops"] * 3
        tap(panel, lavender=1)
        assert len(events()) == 5

    def test_a_bench_opens_and_works_beside_a_damaged_journal(self):
        with open_journal():
            pass
        self.damage()
        panel = make_and_keep()
        assert "damaged" in panel.message.view.value
        tap(panel, lavender=1)
        assert panel.record.bench.mixture.drops_now("lavender") == 1
        assert "kept on this page" in panel.kept_in.value
        assert "bk-refusal" in guarded(panel, panel.keep)
        assert panel.record.bench.mixture.drops_now("lavender") == 1

    def test_a_folder_that_cannot_be_made(self, tmp_path, monkeypatch):
        (tmp_path / "file").write_text("in the way", encoding="utf-8")
        monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "file"))
        panel = make_and_keep()
        tap(panel, lavender=1)
        assert "2 events not in the journal yet" in panel.kept_in.value  # start and drop
        monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "good"))
        panel.write_again()
        assert [event.kind for event in events()] == ["start", "drops"]

    @pytest.mark.defect
    def test_an_unexpected_defect_is_said(self, panel, monkeypatch):
        monkeypatch.setattr("blendkit.panels.bench.panel.bottle_picture", lambda filling: 1 / 0)
        row = panel.tray.rows["lavender"]
        assert "ZeroDivisionError" in guarded(panel, row.add_drop)
        assert events()[-1].kind == "drops"  # the tap is in the journal all the same


def test_no_text_promises_anything(panel):
    tap(panel, lavender=2)
    panel.keep()
    assert "safe" not in shown_html(panel.view).lower()


def test_drops_of_a_material_that_is_gone_do_not_keep_a_session_from_opening(panel):
    tap(panel, lavender=1)
    details = {"material": "lavender@A lot that is gone", "count": 2}
    the_journal().log(panel.record.session, "drops", details)
    again = make_and_keep()
    assert "Does not count" in again.log.value
    again.add(Drops("lavender", 1))
    assert again.record.bench.mixture.drops_now("lavender") == 2
