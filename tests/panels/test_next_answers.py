"""Loudness, duels and blind tests on their panels: taps, undo, resuming, and their offers."""

from __future__ import annotations

import re

import ipywidgets as widgets
import pytest

from blendkit import panels
from blendkit.blend.blend import Blend
from blendkit.choosing.blind import REST_MINUTES, right_one
from blendkit.foundation.data import example_document
from blendkit.journal.records import AnswerRow
from blendkit.keeping import hand
from blendkit.keeping.answers import BLIND, DUEL, LOUDNESS, kept_answers
from blendkit.keeping.open_store import let_go, the_journal
from blendkit.keeping.stock_entries import count
from blendkit.panels.choosing.sniffing import Taps
from blendkit.skin.check import findings_in
from blendkit.skin.verdict import judge
from tests.panels.test_doors import REFUSED, inside, shown
from tests.tools.skin import blend_of


@pytest.fixture(autouse=True)
def no_pause(own_folder, monkeypatch):
    monkeypatch.setattr(Taps, "PAUSE_SECONDS", 0.0)


def labels(panel):
    return [each.description for each in panel.taps.buttons if each.layout.display != "none"]


def tap(panel, place):
    panel.taps.buttons[place].click()
    assert REFUSED not in shown(panel)


def press(panel, words):
    (found,) = [
        one for one in inside(panel.view)
        if isinstance(one, widgets.Button) and one.description == words
    ]  # fmt: skip
    found.click()


def bands(picture):
    """Ends of each strong band. [% of the line]"""
    return re.findall(r"<i style=\"left: ([\d.]+)%; right: ([\d.]+)%", picture.value)


# --- what all three share ---------------------------------------------------------------------


def test_a_second_tap_of_one_press_answers_nothing(monkeypatch):
    panel = panels.loudness_match()
    monkeypatch.setattr(Taps, "PAUSE_SECONDS", 60.0)
    tap(panel, 0)
    tap(panel, 0)
    assert the_journal().count(AnswerRow) == 1


def test_rest_is_shown_and_blocks_nothing():
    panel = panels.loudness_match()
    assert "Rest" not in panel.taps.rest.value
    tap(panel, 0)
    short = float(re.search(r"animation-delay: (\d+)s", panel.taps.rest.value)[1])
    tap(panel, 0)
    tap(panel, 0)
    long = float(re.search(r"animation-delay: (\d+)s", panel.taps.rest.value)[1])
    assert short == pytest.approx(60 * REST_MINUTES["between strips"], abs=30)
    assert long == pytest.approx(60 * REST_MINUTES["after three strips"], abs=30)
    panel.taps.nose.value = "Ben"  # who has smelt nothing yet
    assert "Rest" not in panel.taps.rest.value
    assert "Common practice" not in panel.taps.rest.value


@pytest.mark.parametrize("make", [panels.loudness_match, panels.sniff_duels])
def test_undo_takes_the_last_tap_of_this_nose_back(make):
    panel = make()
    before, asked = shown(panel), labels(panel)
    tap(panel, 0)
    panel.taps.nose.value = "Ben"
    tap(panel, 1)
    panel.taps.nose.value = "mine"
    press(panel, "↶ Undo the last tap")
    assert labels(panel) == asked
    assert [row.nose for row in the_journal().all(AnswerRow)] == ["Ben"]
    assert panel.taps.undo.disabled
    assert (REFUSED in shown(panel)) == (REFUSED in before)


def test_an_oil_of_which_more_was_used_than_was_entered_is_taken_as_there():
    panels.make_more(Blend(example_document())).write_down()
    panel = panels.sniff_duels()
    assert REFUSED not in shown(panel)
    assert "No stock on record of these oils: taken as there." in shown(panel)


@pytest.mark.parametrize("make", [panels.loudness_match, panels.sniff_duels])
def test_a_panel_goes_on_where_another_one_left_off(make):
    panel = make()
    for place in (0, 1, 2, 0):
        tap(panel, place)
    seen, asked = bands(getattr(panel, "picture", None) or panel.chances), labels(panel)
    let_go()
    again = make()
    assert bands(getattr(again, "picture", None) or again.chances) == seen
    assert labels(again) == asked


# --- loudness ---------------------------------------------------------------------------------


def test_answers_narrow_the_band_of_their_oil_and_then_the_next_one_is_asked():
    panel = panels.loudness_match()
    oil, reference = panel.oil.value, panel.reference
    wide = panel.found.drops_as_loud(oil, reference)
    for _ in range(8):
        assert panel.oil.value == oil
        tap(panel, 2)  # cannot tell
    assert panel.oil.value not in (oil, reference)
    assert panels.loudness_match().oil.value not in (oil, reference)
    _, low, high = panel.found.drops_as_loud(oil, reference)
    assert high / low < wide[2] / wide[1]
    kept = [one.row.document for one in kept_answers(the_journal(), LOUDNESS)]
    assert [each["first"] for each in kept].count(oil) == 4  # named first as often as second


def test_a_ratio_in_which_all_are_heard_is_judged_offered_and_taken():
    panel = panels.loudness_match()
    for place in (0, 0, 1):
        tap(panel, place)
    press(panel, "Find a ratio in which every oil is heard")
    found = panel.offer.found
    assert min(found.oil_drops.values()) >= 1
    assert not judge(found, findings_in(found.bottle)).over
    assert "for the EU" in panel.offer.verdict.value
    for drops in found.oil_drops.values():
        assert f"<td>{drops}" in panel.offer.drops.value
    press(panel, "Take it in hand")
    assert Blend(hand.in_hand().document["blend"]).oil_drops == found.oil_drops
    assert panel.offer.view.layout.display == "none"
    press(panel, "↶ Undo")
    assert hand.in_hand().document["blend"] == example_document()


def test_one_oil_alone_is_refused_in_words():
    panel = panels.loudness_match()
    panel.show(blend_of(["lavender"]))
    assert "oils: got one alone" in shown(panel)
    panel.show(blend_of(["lavender", "lemon"]))
    assert REFUSED not in shown(panel)
    assert len(labels(panel)) == 3


# --- duels ------------------------------------------------------------------------------------


def test_a_bottle_keeps_its_code_and_its_drops():
    panel = panels.sniff_duels()
    first = labels(panel)
    tap(panel, 1)
    second = labels(panel)
    assert second[0] == first[1]  # it won
    codes = [one.read.first.code for one in kept_answers(the_journal(), DUEL)]
    assert first[0] == f"Bottle {codes[0]}"
    press(panel, "Surprise me")
    assert labels(panel)[0] == second[0]
    assert labels(panel)[1] != second[1]
    page = panel._sheet
    for label in labels(panel)[:2]:
        assert page.count(label.removeprefix("Bottle ")) == 2  # to tick, and to mix by


def test_the_favourite_is_offered_as_a_whole_bottle_within_the_limits():
    panel = panels.sniff_duels()
    tap(panel, 1)
    found = panel.offer.found
    assert sum(found.oil_drops.values()) == panel.blend.total_drops
    assert not judge(found, findings_in(found.bottle)).over
    press(panel, "Take it in hand")
    taken = Blend(hand.in_hand().document["blend"])
    assert taken.oil_drops == {name: n for name, n in found.oil_drops.items() if n}


def test_no_miniature_takes_more_than_the_shelf_has():
    count(the_journal(), "lavender", "0.12 mL")  # two drops
    panel = panels.sniff_duels()
    assert REFUSED not in shown(panel)
    assert "No stock on record of" in panel.words.view.value
    for _ in range(6):
        tap(panel, 1)
    kept = kept_answers(the_journal(), DUEL)
    assert max(one.read.second.drops["lavender"] for one in kept) <= 2
    count(the_journal(), "lavender", "0 mL")
    other = panels.sniff_duels(blend_of(["lavender", "patchouli"]))
    assert "less Lavender than the blend takes" in shown(other)


def test_a_blend_by_mass_counts_in_steps_of_the_scale():
    grams = {"by": "mass", "step": "0.05 g", "strength_basis": "mass"}
    panel = panels.sniff_duels(Blend({**example_document(), **grams}))
    assert "× 0.05 g</th>" in panel.recipes.value
    assert "× 0.05 g</th>" in panel._sheet
    assert "Drops" not in panel.recipes.value


def test_a_blend_over_a_limit_is_no_start_and_says_so():
    panel = panels.sniff_duels(blend_of(["cinnamon-bark", "lavender"]))
    assert "a start within the limits" in shown(panel)


def test_two_noses_stay_apart_and_meet():
    panel = panels.sniff_duels()
    tap(panel, 0)
    asked = labels(panel)
    panel.taps.nose.value = "Ben"
    assert panel.taps.undo.disabled
    tap(panel, 1)
    assert "For you and mine: bottle" in panel.words.view.value
    panel.taps.nose.value = "mine"
    assert labels(panel) == asked
    assert "For you and Ben: bottle" in panel.words.view.value


# --- blind tests ------------------------------------------------------------------------------


def blind(kind="paired", tests="6"):
    panel = panels.blind_test()
    panel.kind.value, panel.tests.value = kind, tests
    for box, name in zip(panel.bottles, ("fresh (invented)", "rested (invented)"), strict=True):
        box.value = name
    return panel


def answer(panel, *, right):
    """Tap the right code, or a wrong one."""
    sitting = panel._left[0]
    picked = next(code for code in sitting.codes if (code == right_one(sitting)) == right)
    tap(panel, labels(panel).index(f"{picked}"))


def test_the_verdict_waits_for_the_last_sitting():
    panel = blind()
    for _ in range(6):
        assert "guess" not in panel.words.view.value
        answer(panel, right=True)
    # by the binomial, six of six pairs is the fewest that tell, two-sided: 2 / 2**6 = 1 in 32
    assert "6 of 6: they differ for this nose; guessing does as well 1 in 32 times." in (
        panel.words.view.value
    )
    assert "Liked better: rested (invented)." in panel.words.view.value
    assert "6 would tell" in panel.picture.value
    assert labels(panel) == []


def test_more_sittings_count_together_with_the_first_ones():
    panel = blind("triangle", "3")
    for right in (True, True, False):
        answer(panel, right=right)
    assert "2 of 3: cannot tell yet." in panel.words.view.value
    assert re.search(r"\d+ more tests? would tell", panel.words.view.value)
    first = {one.read.sitting for one in kept_answers(the_journal(), BLIND)}
    press(panel, "Test on")
    for _ in range(3):
        answer(panel, right=True)
    # 5 of 6 triangles by guessing: (6 * 2 + 1) / 3**6 = 0.018, 1 in 56
    assert "5 of 6: they differ for this nose; guessing does as well 1 in 56" in (
        panel.words.view.value
    )
    codes = [one.read.sitting for one in kept_answers(the_journal(), BLIND)]
    assert len(set(codes)) == 6 > len(first)


def test_a_test_goes_on_with_the_codes_that_were_printed():
    panel = blind()
    page = panel.page()
    answer(panel, right=False)
    asked = labels(panel)
    let_go()
    again = blind()
    assert labels(again) == asked
    for code in asked:
        assert len(re.findall(rf"\b{code}\b", page)) == 2  # to tick, and in the key
    press(again, "↶ Undo the last tap")
    assert again.page() == page
    again.bottles[0].value = "aged (invented)"
    assert labels(again) != asked


def test_the_key_of_the_tray_agrees_with_the_sittings():
    panel = blind("triangle", "6")
    found = re.findall(r"<td>([^<]+ \(invented\))</td><td>([\d ]+)</td>", panel.page())
    rows = {code: name for name, codes in found for code in codes.split()}
    for sitting in panel._left:
        odd = rows.pop(f"{right_one(sitting)}")
        others = {rows.pop(f"{code}") for code in sitting.codes if code != right_one(sitting)}
        assert len(others) == 1
        assert odd not in others
    assert not rows


def test_bottles_of_the_journal_are_offered():
    panel = panels.first_bottle()
    panel.saved.keep_button.click()
    (offered,) = panels.blind_test().bottles[0].options
    assert "version 1" in offered


def test_one_bottle_against_itself_is_refused():
    panel = blind()
    panel.bottles[0].value = panel.bottles[1].value
    assert "two different names" in shown(panel)


# --- the day ----------------------------------------------------------------------------------


def test_the_day_says_by_whose_loudness_a_note_leads():
    day, screen = panels.fade(), panels.first_bottle()
    assert "matched" not in day.front.value + screen.matched.value
    before = day.forecast.levels.copy()
    match = panels.loudness_match()
    for _ in range(4):
        tap(match, 0)
    day.update()
    screen.update()
    words = "as your nose matched 2 of 6 oils"
    assert f"Leading note, {words}: chances in ten" in day.front.value
    assert f"Forecast {words}." in screen.matched.value
    assert (day.forecast.levels != before).any()
    day.nose.use.value = False
    assert "matched" not in day.front.value
    assert (day.forecast.levels == before).all()
