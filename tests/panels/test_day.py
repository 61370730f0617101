"""The fade panel without a browser: forecast, wishes, nose log.

`Button.click()` swallows what its callback raises, so named methods are called, through the
same guard as the buttons' where a refusal is wanted.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from blendkit import Blend, example_document, skin_findings
from blendkit.evaporation.fade_words import in_front
from blendkit.evaporation.nose_log import PRIOR_SPREAD
from blendkit.foundation import keep
from blendkit.journal.backups import journal_path
from blendkit.journal.records import Impression
from blendkit.keeping import clock as learnt
from blendkit.keeping.clock import kept_weighings
from blendkit.keeping.nose_logs import kept_logs
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.materials import catalogue
from blendkit.panels import fade
from blendkit.panels.bottle.kept_blends import NO_JOURNAL
from blendkit.panels.day import targets as fade_wishes_panel
from blendkit.panels.day.parts import offer
from blendkit.panels.kit.parts import number_of
from blendkit.showing.day.rows import STRIP

NOWRAP = 'style="white-space: nowrap"'
SCRIPT = "<script>alert(1)</script>"
FIVE_SMELLS = [
    ("top", "gone", "15"),
    ("middle", "weak", "40"),
    ("middle", "gone", "1e2"),
    ("base", "strongest", "25"),
    ("lavender", "5", "12,5"),
]


pytestmark = pytest.mark.usefixtures("own_folder")


@pytest.fixture
def panel():
    return fade()


def is_stale(box) -> bool:
    return "bk-stale" in box._dom_classes


def said(panel) -> str:
    return panel.message.view.value


def guarded(panel, action) -> str:
    """Call as a button does; what the message line then says."""
    panel.message.guard(action)()
    assert "Something broke" not in said(panel)
    return said(panel)


def hours_to_half(found) -> float:
    """When the top has half the strength of its start."""
    strength = found.strength[found.place("top")]
    return float(np.interp(-0.5, -strength, found.hours))


def fill_in(panel, smells) -> None:
    for number, (group, event, minutes) in enumerate(smells):
        if number:
            panel.nose.add()
        row = panel.nose.rows[-1]
        row.group.value, row.event.value, row.minutes.value = group, event, minutes


def shown_html(panel) -> str:
    wishes, nose = panel.wishes, panel.nose
    pictures = [part.value for box in wishes.pictures.children for part in box.children]
    findings = (panel.sentences, wishes.words, nose.taught, nose.beside)
    return "".join([said(panel), *pictures, *(each.view.value for each in findings)])


class TestForecast:
    def test_opens_with_the_invented_example(self, panel):
        assert panel.blend.to_dict() == example_document()
        assert said(panel).count("<li>") == 0
        assert {row["note"] for row in panel.chart.rows} == {"top", "middle", "base"}
        assert "The top is gone" in panel.sentences.view.value
        # nothing was taught: the box is out of sight
        assert panel.nose.use.layout.display == "none"

    @pytest.mark.parametrize(
        ("slider", "text"), [("load", "10 g/m**2"), ("warmth", "35 degC"), ("air", "outdoors")]
    )
    def test_less_warmer_or_breezier_goes_sooner(self, panel, slider, text):
        before = hours_to_half(panel.forecast)
        getattr(panel, slider).value = text
        assert hours_to_half(panel.forecast) < before

    @pytest.mark.parametrize(
        ("slider", "text"),
        [
            ("put_on", "noon"),
            ("put_on", "24"),
            ("load", "900 g/m**2"),
            ("warmth", "32 kg"),
            ("warmth", "<b>"),
        ],
    )
    def test_what_cannot_be_used_is_said_as_typed(self, panel, slider, text):
        rows = panel.chart.rows
        getattr(panel, slider).value = text
        assert getattr(panel, slider).box.value == text
        assert text.replace("<", "&lt;").replace(">", "&gt;") in said(panel)
        assert is_stale(panel.results)
        assert is_stale(panel.wishes.result)
        assert panel.chart.rows == rows

    def test_good_again_after_bad(self, panel):
        panel.load.value = "much"
        panel.load.value = "25 g/m**2"
        for box in (panel.results, panel.wishes.result, panel.nose.result):
            assert not is_stale(box)

    def test_the_strip_is_split_by_the_chances_to_be_in_front(self, panel):
        notes = panel.forecast.groups[panel.forecast.rows("note")]
        foot, head = STRIP
        chances = dict(zip(notes, in_front(panel.forecast)[:, 0], strict=True))
        at_first = {row["note"]: row for row in panel.chart.rows if row["hours"] == 0}
        below = foot
        for note in ("base", "middle", "top"):  # from the foot up
            row = at_first[note]
            assert row["front_foot"] == pytest.approx(below, abs=1e-4)
            below = row["front_head"]
            height = (below - row["front_foot"]) / (head - foot)
            assert height == pytest.approx(chances[note], abs=1e-3)
        assert below == pytest.approx(head, abs=1e-4)

    def test_the_hours_asked_for_stand_below_by_the_clock(self, panel):
        panel.put_on.value = "20.5"
        table = panel.front.value
        assert all(f"<td {NOWRAP}>{clock}</td>" in table for clock in ("20:30", "0:30", "4:30"))
        assert "<caption>" in table

    def test_hold_compare_and_let_go(self, panel):
        assert panel.drop.layout.display == "none"
        panel.hold()
        assert panel.drop.layout.display is None
        held = panel.blend
        panel.editor.strength.value = "10 %"
        assert {row["series"] for row in panel.chart.rows} == {"now", "held for comparison"}
        assert panel.held_blend == held
        panel.remove_comparison()
        assert {row["series"] for row in panel.chart.rows} == {"now"}
        assert panel.held_blend is None

    @pytest.mark.defect
    def test_a_defect_is_said_and_not_hidden(self, panel, monkeypatch):
        monkeypatch.setattr("blendkit.panels.day.panel.forecast", lambda *_, **__: 1 / 0)
        panel.load.value = "25 g/m**2"
        assert "ZeroDivisionError" in said(panel)


class TestDesignBackwards:
    def citrus_share(self, found) -> float:
        film = found.film
        each = film.moles * film.activity * film.vapour_pressures_pa * film.has_smell
        vapour = film.share_of_oil @ each
        citrus = [catalogue.oil(oil).family == "citrus" for oil in film.oils]
        return vapour[citrus].sum() / vapour.sum()

    def test_two_wishes_together_are_met_and_taken_over(self, panel):
        wishes = panel.wishes
        wishes.wants_share.value = True
        wishes.share_of.value, wishes.share.value = "citrus", "60 %"
        assert self.citrus_share(panel.forecast) > 0.7  # far from what is wished
        guarded(panel, wishes.find)
        assert "At hour 6 the base leads" in wishes.words.view.value
        assert "of the vapour in the opening, target 60 %" in wishes.words.view.value
        titles = [box.children[0].value for box in wishes.pictures.children]
        assert ["Yours" in titles[0], "Found" in titles[1]] == [True, True]
        assert all("<svg" in box.children[1].value for box in wishes.pictures.children)
        assert panel.blend.to_dict() == example_document()  # nothing moves before it is taken
        guarded(panel, wishes.take)
        assert self.citrus_share(panel.forecast) == pytest.approx(0.6, abs=0.03)
        notes = panel.forecast.rows("note")
        at_six = panel.forecast.levels[notes, list(panel.forecast.hours).index(6)]
        assert panel.forecast.groups[notes][at_six.argmax()] == "base"
        assert wishes.take_button.disabled

    def test_what_is_found_keeps_the_skin_limits(self, panel):
        document = example_document()
        document["oils"][0]["id"] = "bergamot"  # with furocoumarins: over as it is
        panel.show(Blend.from_dict(document))
        assert "over" in set(skin_findings(panel.blend)["verdict"])
        panel.wishes.wants_share.value = True
        panel.wishes.share_of.value, panel.wishes.share.value = "citrus", "90 %"
        guarded(panel, panel.wishes.find)
        assert "began from the nearest blend within" in panel.wishes.words.view.value
        assert "over" not in set(skin_findings(panel.wishes.found)["verdict"])

    def test_same_fade_as_the_held_curve_without_one_oil(self, panel):
        wishes = panel.wishes
        panel.hold()
        wishes.wants_lead.value, wishes.wants_same.value = False, True
        wishes.left_out.value = "geranium"
        guarded(panel, wishes.find)
        assert "within a factor of" in wishes.words.view.value
        assert "geranium" not in wishes.found.oil_drops
        total = sum(panel.blend.oil_drops.values())
        assert sum(wishes.found.oil_drops.values()) == total
        guarded(panel, wishes.take)
        # still fades like the held one: strengths of all notes beside their starts
        mine, held = (each.levels[:3] for each in (panel.forecast, panel.held))
        both = np.minimum(mine, held) >= panel.held.gone  # below it, strengths say nothing
        # as a mean: near the threshold a curve is steep, and there the middle is twice as
        # strong with geranium as without
        for away, here in zip(np.log(mine / held), both, strict=True):
            assert np.sqrt(np.mean(away[here] ** 2)) < math.log(1.5)

    def test_the_same_fade_needs_a_held_curve(self, panel):
        panel.wishes.wants_same.value = True
        assert "Hold this curve" in guarded(panel, panel.wishes.find)

    @pytest.mark.parametrize("text", ["soon", "", "-1", "1e999", "nan", "<b>"])
    def test_an_hour_that_cannot_be_is_said_as_typed(self, panel, text):
        panel.wishes.hour.value = text
        words = guarded(panel, panel.wishes.find)
        assert "hour" in words
        assert "<b>&" not in words
        assert panel.wishes.hour.value == text
        assert is_stale(panel.wishes.result)
        assert panel.wishes.found is None

    def test_all_that_is_wrong_is_said_at_once(self, panel):
        panel.wishes.hour.value = "soon"
        panel.wishes.wants_share.value = panel.wishes.wants_same.value = True
        panel.wishes.share.value = "sixty"
        words = guarded(panel, panel.wishes.find)
        assert words.count("<li>") == 3
        assert all(typed in words for typed in ("soon", "sixty", "no held curve"))

    def test_no_wish_is_said(self, panel):
        panel.wishes.wants_lead.value = False
        assert "at least one wish" in guarded(panel, panel.wishes.find)

    def test_a_blend_that_is_broken_on_the_panel_is_not_searched(self, panel):
        panel.editor.strength.value = "110 %"
        assert "110 %" in guarded(panel, panel.wishes.find)
        assert panel.wishes.found is None

    def test_what_was_found_is_forgotten_when_the_blend_changes(self, panel):
        guarded(panel, panel.wishes.find)
        assert panel.wishes.found is not None
        panel.editor.strength.value = "15 %"
        assert panel.wishes.found is None
        guarded(panel, panel.wishes.take)
        assert panel.blend.strength_fraction == 0.15

    def test_a_long_search_says_that_it_is_at_work(self, panel, monkeypatch):
        clock = itertools.count(0, 0.2)
        monkeypatch.setattr(fade_wishes_panel.time, "monotonic", lambda: next(clock))
        lines = []
        panel.message.view.observe(lambda change: lines.append(change["new"]), "value")
        guarded(panel, panel.wishes.find)
        assert any("Searching … " in line for line in lines[:-1])
        assert "Searched" in lines[-1]

    def test_a_choice_stays_when_its_oil_goes(self, panel):
        panel.wishes.wants_share.value = True
        panel.wishes.share_of.value = "lavender"
        panel.editor.notes["middle"].oils.rows[0].remove.click()
        assert panel.wishes.share_of.value == "lavender"
        assert "lavender" in guarded(panel, panel.wishes.find)


class TestNoseLog:
    def test_it_learns_narrows_and_says_how_uncertain(self, panel):
        before = panel.lasting_with(*panel.read(), None)
        fill_in(panel, FIVE_SMELLS)
        words = guarded(panel, panel.nose.learn)
        assert "times shorter" in words
        assert "two chances in three between" in words
        assert "from 5 smells" in words
        assert panel.nose.use.value
        assert panel.nose.use.layout.display is None
        after = panel.lasting_with(*panel.read(), panel.clock_on("skin"))
        top = after.groups.index("bergamot-fcf")
        assert after.hours[top] < before.hours[top]
        widths = [np.std(np.log(each.draws[top])) for each in (before, after)]
        assert widths[1] < widths[0]
        beside = panel.nose.beside.view.value
        assert "Top gone: before this log after" in beside
        assert "off either way" in beside

    def test_what_was_learnt_is_found_again_by_a_new_panel(self, panel):
        plain = panel.forecast.levels
        fill_in(panel, FIVE_SMELLS)
        guarded(panel, panel.nose.learn)
        again = fade()
        assert again.nose.use.value
        np.testing.assert_allclose(again.forecast.log_draws, panel.forecast.log_draws)
        assert "from 5 smells" in again.nose.taught.view.value
        again.nose.use.value = False
        np.testing.assert_allclose(again.forecast.levels, plain)

    def test_the_log_holds_what_was_typed_and_how_it_was_worn(self, panel):
        panel.warmth.value = "33 degC"
        fill_in(panel, FIVE_SMELLS)
        guarded(panel, panel.nose.learn)
        (log,) = kept_logs(the_journal())
        assert log.conditions.temperature_k == pytest.approx(273.15 + 33)
        assert log.blend == panel.blend
        assert [smell.minutes for smell in log.smells] == [15, 40, 100, 25, 12.5]
        assert [smell.what for smell in log.smells][-2:] == ["strongest", 5]

    def test_a_second_log_counts_on_top_and_none_twice(self, panel):
        fill_in(panel, FIVE_SMELLS)
        guarded(panel, panel.nose.learn)
        assert "nose log" in guarded(panel, panel.nose.learn)  # the rows are empty again
        fill_in(panel, [("top", "gone", "20")])
        assert "from 6 smells" in guarded(panel, panel.nose.learn)
        assert len(kept_logs(the_journal())) == 2

    @pytest.mark.parametrize(
        ("smell", "typed"),
        [
            (("top", "gone", "soon"), "soon"),
            (("top", "gone", "-5"), "-5"),
            (("top", "gone", ""), "minutes"),
            (("top", "gonne", "5"), "Did you mean"),
            (("top", "11", "5"), "11"),
            (("top", "nan", "5"), "nan"),
            (("top", "<b>x", "5"), "&lt;b&gt;x"),
            (("whole", "strongest", "5"), "needs a note"),
        ],
    )
    def test_what_cannot_be_learnt_from_is_said_as_typed(self, panel, smell, typed):
        fill_in(panel, [FIVE_SMELLS[0], smell])
        words = guarded(panel, panel.nose.learn)
        assert typed in words
        assert "smell 2" in words
        row = panel.nose.rows[-1]
        assert (row.group.value, row.event.value, row.minutes.value) == smell
        assert not kept_logs(the_journal())
        assert is_stale(panel.nose.result)

    def test_forget_takes_the_last_row_only(self, panel):
        fill_in(panel, FIVE_SMELLS)
        panel.nose.forget()
        assert [row.minutes.value for row in panel.nose.rows] == ["15", "40", "1e2", "25"]
        for _ in range(9):
            panel.nose.forget()
        (row,) = panel.nose.rows
        assert row.is_blank

    def test_empty_rows_are_passed_by(self, panel):
        fill_in(panel, [FIVE_SMELLS[0], ("middle", " ", "")])
        assert "from 1 smell." in guarded(panel, panel.nose.learn)

    def test_a_folder_that_cannot_be_written_loses_nothing(self, panel, tmp_path, monkeypatch):
        (tmp_path / "file").write_text("in the way", encoding="utf-8")
        monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "file"))
        fill_in(panel, FIVE_SMELLS)
        assert "The journal cannot be used" in guarded(panel, panel.nose.learn)
        assert len(panel.nose.rows) == len(FIVE_SMELLS)

    def test_logs_of_earlier_days_that_are_damaged_do_not_keep_the_panel_from_opening(self):
        smells = [{"group": "top", "minutes": 25, "what": "gone"}]
        document = {"blend": example_document(), "conditions": {}, "smells": smells}
        file = keep.save("nose logs", "earlier", document)
        file.with_name("torn.json").write_text("{", encoding="utf-8")
        file.with_name("odd.json").write_text('{"smells": 1, "blend": 2}', encoding="utf-8")
        assert "from 1 smell." in fade().nose.taught.view.value

    def test_a_damaged_journal_does_not_keep_the_panel_from_forecasting(self, tmp_path):
        journal_path().parent.mkdir(parents=True, exist_ok=True)
        journal_path().write_bytes(b"this is no journal" * 200)
        panel = fade()
        assert "cannot be read" in panel.nose.taught.view.value
        assert panel.saved.opener.options == ((NO_JOURNAL, ""),)
        assert "damaged" in panel.saved.opener.tooltip
        assert panel.chart.rows

    def test_skin_and_paper_strip_are_learnt_apart(self, panel):
        fill_in(panel, FIVE_SMELLS)
        guarded(panel, panel.nose.learn)
        panel.surface.value = "blotter"
        assert "Nothing was logged or weighed yet" in panel.nose.taught.view.value
        assert panel.clock_on("blotter") is None
        panel.surface.value = "skin"
        assert panel.clock_on("skin") is not None

    def test_only_what_is_learnt_from_makes_it_learn_anew(self, panel, monkeypatch):
        times = []
        fit = learnt.learn

        def counted(logs, weighings):
            times.append(1)
            return fit(logs, weighings)

        fill_in(panel, FIVE_SMELLS)
        guarded(panel, panel.nose.learn)
        clock = panel.clock_on("skin")
        monkeypatch.setattr(learnt, "learn", counted)
        journal = the_journal()
        session = journal.start_session("at the bench")
        journal.log(session, "drops", {"material": "lavender", "count": 1})
        assert panel.clock_on("skin") is clock
        assert times == []
        journal.withdraw(journal.all(Impression)[0])
        assert panel.clock_on("skin") != clock
        assert times == [1]

    def test_a_journal_in_its_place_with_as_many_rows_is_learnt_from_anew(
        self, panel, tmp_path
    ):
        fill_in(panel, FIVE_SMELLS)
        guarded(panel, panel.nose.learn)
        early = panel.clock_on("skin").factor
        let_go()
        journal_path().rename(tmp_path / "earlier.sqlite3")
        again = fade()
        later = [(group, what, f"{number_of(when) * 8}") for group, what, when in FIVE_SMELLS]
        fill_in(again, later)
        guarded(again, again.nose.learn)
        assert again.clock_on("skin").factor != early

    def test_wishes_go_by_the_learnt_clock_unless_unticked(self, panel, monkeypatch):
        worn = []
        search = fade_wishes_panel.design

        def spied(*args, **options):
            worn.append(options["conditions"].clock_factor)
            assert options["heard"] == panel.by_my_nose
            return search(*args, **options)

        monkeypatch.setattr(fade_wishes_panel, "design", spied)
        fill_in(panel, FIVE_SMELLS)
        guarded(panel, panel.nose.learn)
        guarded(panel, panel.wishes.find)
        panel.nose.use.value = False
        guarded(panel, panel.wishes.find)
        assert worn == [panel.nose.clock_on("skin").factor, 1]


def test_own_texts_are_escaped_wherever_they_show(panel):
    panel.editor.name.value = SCRIPT
    panel.hold()
    panel.wishes.wants_same.value = True
    guarded(panel, panel.wishes.find)
    fill_in(panel, FIVE_SMELLS)
    html = shown_html(panel)
    assert "&lt;script&gt;" in html
    guarded(panel, panel.nose.learn)
    assert "<script" not in html + shown_html(panel)


def test_no_text_promises_anything(panel):
    fill_in(panel, FIVE_SMELLS)
    guarded(panel, panel.nose.learn)
    guarded(panel, panel.wishes.find)
    assert "safe" not in shown_html(panel).lower()


def test_an_empty_list_takes_the_first_choice_offered():
    from ipywidgets import Dropdown

    chooser = Dropdown(options=[])
    offer(chooser, [("one", 1), ("two", 2)])
    assert chooser.value == 1
    offer(chooser, [("two", 2)])
    assert (chooser.value, chooser.label) == (1, "one")


class TestWeighings:
    def test_strokes_narrow_the_band_and_are_withdrawn(self, panel):
        form = panel.weighings
        wide = panel.forecast.band()
        form.before.value, form.after.value = "24,31", "24.15 g"
        form.worn.value = "1"
        guarded(panel, form.keep)
        assert panel.nose.use.value
        assert "16 mg" in form.words.view.value
        narrow = panel.forecast.band()
        # over the hours: at one hour an end of the band may fall on a kink
        assert np.mean(narrow[2] - narrow[1]) < np.mean(wide[2] - wide[1])
        assert panel.clock_on("skin").spread < PRIOR_SPREAD
        assert form.before.value == ""
        guarded(panel, form.undo)
        np.testing.assert_array_equal(panel.forecast.band(), wide)
        assert "one to undo" in guarded(panel, form.undo)

    def test_a_drop_is_weighed_with_its_own_form(self, panel):
        form = panel.weighings
        form.kind.value = "drop"
        assert form.forms["strokes"].layout.display == "none"
        form.scale_step.value, form.length.value, form.width.value = "0.001", "25 mm", ""
        form.oil.value = "bergamot-fcf"
        for box, mass in zip(form.masses, ("0.041", "0.034", "", "0.018", ""), strict=True):
            box.value = mass
        guarded(panel, form.keep)
        assert "times as fast as is usual" in form.words.view.value

    def test_what_cannot_be_used_is_refused_and_nothing_is_kept(self, panel):
        form = panel.weighings
        form.before.value, form.after.value = "24 g", "25 g"
        assert "more strokes" in guarded(panel, form.keep)
        assert form.before.value == "24 g"
        assert kept_weighings(the_journal()) == []


class TestLaterInTheDay:
    def test_putting_on_again_lasts_longer_and_a_wash_ends_it(self, panel):
        later = panel.later
        later.again.value = ""
        guarded(panel, later.show)
        once = later.words.view.value
        later.again.value = "11"
        guarded(panel, later.show)
        assert later.words.view.value != once
        later.wash.value = "12"
        guarded(panel, later.show)
        assert later.words.view.value.count("until 11:45") == 3
        later.left.value = "150"
        assert "from 0 to 1" in guarded(panel, later.show)

    def test_a_schedule_is_found_and_hours_are_checked(self, panel):
        later = panel.later
        later.until.value = "14"
        guarded(panel, later.plan)
        assert "with fewer" in later.words.view.value
        later.until.value = "late"
        assert "an hour of the day" in guarded(panel, later.plan)

    def test_a_held_blend_is_layered_under(self, panel):
        panel.later.layer.value = True
        assert "no held blend" in guarded(panel, panel.later.show)
        panel.hold()
        guarded(panel, panel.later.show)
        assert "perceived until" in panel.later.words.view.value

    @pytest.mark.parametrize(
        ("what", "row"), [("carrier", "Jojoba"), ("season and air", "cold hands")]
    )
    def test_times_are_compared_side_by_side(self, panel, what, row):
        panel.comparing.value = what
        panel.update()
        assert row in panel.strengths.value
