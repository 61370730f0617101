"""What changed between versions, and when a bottle asks to be sniffed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import Blend, example_document
from blendkit.making.ageing import SNIFF_DAYS, days_in_words, list_reminders, remind
from blendkit.making.versions import compare

MADE = date(2026, 3, 1)


def version(**changes) -> Blend:
    document = example_document() | changes
    fixed = dict(Blend.from_dict(document).oil_drops)
    oils = [oil | {"drops": oil.get("drops", fixed[oil["id"]])} for oil in document["oils"]]
    return Blend.from_dict(document | {"oils": oils})


def with_drops(oil_id: str, drops: int) -> Blend:
    oils = [
        oil | ({"drops": drops} if oil["id"] == oil_id else {})
        for oil in example_document()["oils"]
    ]
    return version(oils=oils)


class TestWhatChanged:
    def test_nothing(self):
        assert compare(version(), version()) == [
            "Nothing differs: the same drops in the same bottle."
        ]

    def test_drops_of_one_oil(self):
        before, after = version(), with_drops("lavender", 7)
        assert "Lavender: 5 → 7 drops (2 drops more)." in compare(before, after)
        assert "Lavender: 7 → 5 drops (2 drops fewer)." in compare(after, before)

    def test_an_oil_in_and_an_oil_out(self):
        oils = [oil for oil in example_document()["oils"] if oil["id"] != "geranium"]
        after = version(oils=[*oils, {"id": "neroli", "note": "middle", "parts": 1}])
        said = " ".join(compare(version(), after))
        assert ": out, was 3 drops." in said
        assert "Neroli: new," in said

    def test_name_bottle_carrier_note_and_strength(self):
        oils = [
            oil | ({"note": "base"} if oil["id"] == "lavender" else {"note": oil["note"]})
            for oil in example_document()["oils"]
        ]
        after = version(
            name="Other (invented)",
            bottle="30 mL",
            botanicals="1 mL",
            carriers=[{"id": "jojoba"}],
            oils=oils,
        )
        said = " ".join(compare(version(), after))
        for part in (
            "Called “Other (invented)”",
            "Bottle: 10 → 30 mL.",
            "Dried botanicals: 0 → 1 mL.",
            "Lavender: middle → base note.",
            "→ 0 mL.",
        ):
            assert part in said

    def test_drops_of_another_size(self):
        after = version(drops_per_ml={"default": 20, "lavender": 30})
        said = compare(version(), after)
        assert any("Lavender: as many drops of another size" in line for line in said)


class TestReminders:
    def test_the_days_are_those_of_the_trade(self):
        assert SNIFF_DAYS == (1, 3, 7, 14, 28)

    def test_due_on_the_day_itself_and_until_the_next(self):
        day_after = MADE + timedelta(days=1)
        assert remind("Quay", MADE, [], MADE) == ""
        assert remind("Quay", MADE, [], day_after) == "Quay: sniff of day 1 is due."
        assert remind("Quay", MADE, [day_after], day_after) == ""
        assert (
            remind("Quay", MADE, [], MADE + timedelta(days=9))
            == "Quay: sniff of day 7 is due, 2 days ago."
        )
        assert remind("Quay", MADE, [], MADE + timedelta(days=99)).startswith(
            "Quay: sniff of day 28"
        )

    def test_in_words(self):
        assert days_in_words(MADE, [], MADE).startswith("day 1 (02 Mar) to come · day 3")

    def test_a_sniff_before_the_first_day_counts_for_none(self):
        states = {r.state for r in list_reminders(MADE, [MADE], MADE + timedelta(days=1))}
        assert "done" not in states

    @settings(deadline=None)
    @given(st.integers(-5, 60), st.lists(st.integers(-5, 60), max_size=8))
    def test_at_most_one_is_due_and_time_runs_one_way(self, today, sniffed):
        days = [MADE + timedelta(days=day) for day in sniffed]
        found = list_reminders(MADE, days, MADE + timedelta(days=today))
        states = [one.state for one in found]
        assert states.count("due") <= 1
        past = [one for one in found if one.day <= today]
        assert all(one.state in {"done", "missed", "due"} for one in past)
        assert all(one.state != "missed" for one in found if one.day > today)


@pytest.mark.parametrize("today", [date.min, date.max])
def test_a_clock_far_off_breaks_nothing(today):
    assert len(list_reminders(MADE, [], today)) == len(SNIFF_DAYS)
