"""A class: what is refused in words, who can wear what, and who mixes when."""

from __future__ import annotations

import itertools
import math
import time
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.droppers import strength_with_a_wrong_rule
from blendkit.foundation import data
from blendkit.foundation.data import example_class, example_document
from blendkit.materials import catalogue
from blendkit.skin.cautions import WEARERS, cautions_for, excluded_for
from blendkit.teaching import run_sheet as run
from blendkit.teaching.choice_chances import choice_groups
from blendkit.teaching.class_document import BadClass, ClassPlan, Seat
from blendkit.teaching.class_reader import read_class
from blendkit.teaching.exercises import exercises
from blendkit.teaching.free_choice import card_of
from blendkit.teaching.intake import CONDITIONS, letters_of, read_answers
from blendkit.teaching.judging import judge
from blendkit.teaching.plan import (
    DISLIKE,
    SUN,
    cautions_of,
    plan_in_words,
    seat_plans,
    works_for_all,
)
from blendkit.teaching.results import seat_bottles
from blendkit.teaching.run_sheet import assign_blocks, run_sheet


def a_class(**fields: object) -> ClassPlan:
    return read_class({**example_class(), **fields})


def refusal(**fields: object) -> str:
    with pytest.raises(BadClass) as caught:
        a_class(**fields)
    return str(caught.value)


MANY = [f"lavendar{number}" for number in range(100_000)]


@pytest.mark.parametrize(
    "fields",
    [
        {"seats": [{"dislikes": MANY}]},
        {"seats": [{"dislikes": ["lavender"] * 100_000}]},
        {"oils": [{"id": name} for name in MANY]},
        {"blends": [{"blend": {}}] * 100_000},
        dict.fromkeys(MANY, 1),
    ],
    ids=["dislikes", "one dislike", "oils", "blends", "keys"],
)
def test_a_long_document_is_refused_briefly_and_at_once(fields):
    start = time.perf_counter()
    assert len(refusal(**fields)) < 20_000
    assert time.perf_counter() - start < 2


# --- the document -------------------------------------------------------------------------


def test_the_document_comes_back_unchanged():
    assert a_class().to_dict() == example_class()


def test_the_example_is_a_class_of_twelve_with_nine_oils_and_says_that_it_is_invented():
    plan = a_class()
    assert (len(plan.seats), len(plan.oils), plan.total_drops) == (12, 9, 40)
    assert plan.drops_by_note(40) == {"top": 16, "middle": 8, "base": 16}
    assert "(invented)" in plan.name


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"seats": 0}, "seats: got 0; needs from 1 to 200 seats"),
        ({"seats": 500}, "seats: got 500; needs from 1 to 200 seats. Plan several sittings."),
        ({"seats": -3}, "from 1 to 200"),
        ({"seats": True}, "seats: got True; needs from 1 to 200 seats"),
        ({"seats": []}, "seats: got 0; needs from 1 to 200 seats"),
        ({"seats": [{"name": "A"}, {"name": "A"}]}, '"A" a second time'),
        ({"seats": [{"wearers": ["nut alergy"]}]}, 'Did you mean "nut allergy"?'),
        ({"seats": [{"dislikes": ["patchuli"]}]}, 'Did you mean "patchouli"?'),
        ({"seats": [{"sun_afterwards": "yes"}]}, "true or false"),
        ({"seats": [{"nmae": "A"}]}, 'Did you mean "name"?'),
        ({"seats": ["A"]}, "an entry such as"),
        ({"name": "x" * 81}, "at most 80 characters"),
        ({"name": "\ud800"}, "an invalid character"),
        ({"bottle": "10"}, "bottle"),
        ({"strength": "0.001 %"}, "not one drop of oil"),
        ({"oils": []}, "at least one oil"),
        ({"oils": [{"id": "lavendar"}]}, 'Did you mean "lavender"?'),
        ({"oils": [{"id": "lavender", "popularity": 0}]}, "a number above 0"),
        ({"oils": [{"id": "lavender", "bottles": 0}]}, "a whole number from 1 to 100"),
        ({"carriers": []}, "at least one carrier"),
        ({"carriers": ["jojobba"]}, 'Did you mean "jojoba"?'),
        ({"tables": 0}, "tables: got 0"),
        ({"minutes": 5}, "minutes: got 5"),
        ({"budget": -1}, "budget: got -1"),
        ({"region": "Mars"}, "region"),
        ({"spillage": "200 %"}, "from 0 % to 100 %"),
        ({"colour": "red"}, "an unknown key"),
        ({"blends": []}, "at least one blend"),
        ({"blends": [{"blend": {}}]}, "blends 1, "),
        ({"blends": [3]}, "blends 1: got 3"),
        ({"oils": [{"id": "lavender"}, "lemon"]}, 'oils 2: got "lemon"'),
        ({"blends": [{"blend": example_document()}], "carriers": [3]}, "carriers 3: got 3"),
        ({"blends": [{"blend": example_document()}], "carriers": 3}, "carriers 3: got 3"),
    ],
)
def test_bad_input_is_refused_in_words(fields, words):
    assert words in refusal(**fields)


def test_every_problem_is_told_at_once():
    text = refusal(seats=0, tables=0, minutes="long", carriers=["jojobba"])
    assert text.count("\n  - ") == 4


@pytest.mark.parametrize("document", [None, 5, "a class", [1]])
def test_what_is_no_document_is_refused(document):
    with pytest.raises(BadClass, match="a document with seats"):
        read_class(document)


def test_names_with_markup_stay_text():
    name = "<script>alert(1)</script>"
    plan = a_class(name=name, seats=[{"name": name, "dislikes": ["lemon"]}])
    assert plan.name == name
    assert any(line.startswith(name) for line in plan_in_words(plan))


def test_a_set_blend_takes_the_bottle_of_the_class():
    plan = a_class(
        blends=[{"blend": {**example_document(), "bottle": "30 mL"}}], bottle="10 mL", oils=[]
    )
    assert plan.blends[0].blend.bottle_m3 == pytest.approx(1e-5)
    assert not plan.is_free
    assert {each.oil.id for each in plan.oils} == set(plan.blends[0].blend.oil_drops)


# --- who can wear what --------------------------------------------------------------------


def seat_with(**fields: object):
    return seat_plans(a_class(seats=[fields]))[0]


def test_what_a_seat_leaves_out_is_what_the_cautions_exclude():
    # every oil on record, so that no exclusion can slip through
    for first in range(0, len(catalogue.oils()), 12):
        some = list(catalogue.oils().index[first : first + 12])
        oils = [{"id": name} for name in some]
        notes = {catalogue.oil(name).note for name in some}
        plan = a_class(
            oils=oils, note_parts=dict.fromkeys(notes, 1),
            seats=[{"wearers": ["pregnant or breastfeeding"]}],
        )  # fmt: skip
        out = set(seat_plans(plan)[0].leaves_out)
        assert out == set(excluded_for(["pregnant or breastfeeding"])) & set(some)


def test_a_nut_allergy_takes_another_carrier():
    found = seat_with(wearers=["nut allergy"])
    assert (found.carrier, found.needs_other_carrier) == ("jojoba", True)
    told = plan_in_words(a_class(seats=[{"wearers": ["nut allergy"]}]))
    assert "Seat 1: with Jojoba (liquid wax) as the carrier." in told


def test_sun_afterwards_leaves_out_what_has_a_caution_about_sunlight():
    found = seat_with(sun_afterwards=True)
    assert found.leaves_out == {"lemon": SUN, "grapefruit": SUN}


def test_a_dislike_is_kept_and_called_by_its_name():
    found = seat_with(dislikes=["rose-absolute"])
    assert found.leaves_out == {"rose-absolute": DISLIKE}


def test_nobody_is_left_with_an_oil_that_works_for_all_but_is_left_out():
    plan = a_class()
    out = {oil_id for found in seat_plans(plan) for oil_id in found.leaves_out}
    assert out == {"patchouli", "lemon", "grapefruit"}
    assert set(works_for_all(plan)) == {each.oil.id for each in plan.oils} - out


def test_where_nobody_can_wear_anything_it_says_so():
    plan = a_class(seats=[{"dislikes": [each["id"] for each in example_class()["oils"]]}] * 2)
    assert not any(found.can_mix for found in seat_plans(plan))
    text = " ".join(plan_in_words(plan))
    assert "Nobody in this class can mix from it" in text
    assert "No oil of the palette works for every seat." in text


def test_a_child_under_three_is_refused():
    assert "three years or older" in refusal(seats=[{"wearers": ["child under 3"]}])


def test_whom_the_table_of_cautions_names_can_be_chosen_by_a_letter():
    named = {who for whom in WEARERS.values() for who in whom}
    assert set(data.table("cautions")["who"]) - {"everyone"} <= named
    assert set(CONDITIONS.values()) == {SUN, *WEARERS}
    for letter, name in CONDITIONS.items():
        seat = read_answers(letter.lower())
        assert seat == ({"sun_afterwards": True} if name == SUN else {"wearers": [name]})
        assert letters_of(seat) == letter
    everything = " ".join(CONDITIONS)
    assert letters_of(read_answers(everything)) == everything


def test_letters_that_are_none_are_refused_and_never_guessed():
    for typed in ("Z", "nut", "BF", "egg", "pregnant"):
        assert "needs one of" in refusal(seats=[read_answers(typed)])


# what a seat with one condition is warned of, by the record: oil, and a word of its sentence
WARNED = [
    ("blood thinners or aspirin allergy", "clove-bud", "eugenol"),
    ("pregnant or breastfeeding", "clary-sage", "Trade lists warn"),
    ("fragrance allergy", "", "allergy passport"),
    ("asthma or migraine", "", "strong scent"),
    ("cats or dogs at home", "", "Do not put on animals"),
    ("child under 12", "", "Ask a doctor or pharmacist before"),
    ("daisy allergy", "roman-chamomile", "daisy family"),
    ("seed allergy", "sunflower-high-oleic", "Pressed from seeds"),
]


@pytest.mark.parametrize(("wearer", "material", "word"), WARNED)
def test_a_caution_that_is_no_exclusion_reaches_the_seat(wearer, material, word):
    carriers = catalogue.carrier_ids()
    oils = [{"id": material}] if material and material not in carriers else [{"id": "lavender"}]
    plan = a_class(
        oils=oils, note_parts={catalogue.oil(oils[0]["id"]).note: 1},
        carriers=[material] if material in carriers else ["jojoba"],
        seats=[{"wearers": ["latex allergy", wearer, "coconut allergy"]}],
    )  # fmt: skip
    (found,) = seat_plans(plan)
    assert material not in found.leaves_out
    texts = {e.text for e in found.cautions if (e.material, e.because) == (material, wearer)}
    assert any(word in text for text in texts)
    assert any("◐" in line and word in line for line in plan_in_words(plan))


def test_every_warning_of_the_table_reaches_a_seat_of_its_kind():
    for wearer in WEARERS:
        for material in (*catalogue.oil_ids(), *catalogue.carrier_ids()):
            warned = {
                each.text for each in cautions_for([material], [wearer])
                if each.action == "warn" and each.who != "everyone"
            }  # fmt: skip
            seat = Seat(1, wearers=(wearer,))
            assert {each.text for each in cautions_of(seat, [material])} == warned


def test_a_cap_of_a_seat_counts_in_its_drops_and_in_the_demand():
    plan = a_class(seats=[{"strength_cap": "5 %"}, {}])
    capped, free = seat_plans(plan)
    assert (capped.most_drops, free.most_drops) == (10, 40)  # 10 mL, 20 drops to the mL
    assert "Seat 1: at most 10 drops (5 %, as typed)." in plan_in_words(plan)
    for group in choice_groups(plan):
        assert max(sum(d) for d, _ in group.seats[0]) < max(sum(d) for d, _ in group.seats[1])
    assert 'got "0 %"' in refusal(seats=[{"strength_cap": "0 %"}])
    assert "strength_cap" in refusal(seats=[{"strength_cap": 5}])


# --- judging a bottle ---------------------------------------------------------------------


def judged(seat: dict[str, object], drops: dict[str, int], carrier="jojoba", **fields):
    oils = [{"id": name} for name in ("rosemary-cineole", "bergamot-fcf", "lavender", "lemon")]
    plan = a_class(
        oils=oils, seats=[seat], bottle="30 mL", note_parts={"top": 1, "middle": 1}, **fields
    )
    rows = [{"seat": plan.seats[0].label, "carrier": carrier, "drops": drops}]
    (bottle,) = seat_bottles(plan, rows)
    return judge(plan, card_of(plan), plan.seats[0], bottle.blend)


@pytest.mark.parametrize(
    ("seat", "drops", "carrier", "name"),
    [
        ({"wearers": ["epilepsy or seizures"]}, {"rosemary-cineole": 2}, "jojoba", "Rosemary"),
        ({"sun_afterwards": True}, {"lemon": 1}, "jojoba", "Lemon"),
        ({"wearers": ["nut allergy"]}, {"lavender": 2}, "sweet-almond", "Sweet almond"),
        ({"dislikes": ["lavender"]}, {"lavender": 2}, "jojoba", "Lavender"),
    ],
)
def test_what_a_seat_leaves_out_is_heard_when_its_bottle_is_judged(seat, drops, carrier, name):
    found = judged(seat, drops, carrier)
    assert [left.startswith(name) for left, _ in found.left_out] == [True]
    assert judged({}, drops, carrier).left_out == ()


def test_a_cap_and_a_caution_are_heard_when_a_bottle_is_judged():
    seat = {"strength_cap": "1 %", "wearers": ["asthma or migraine"]}
    found = judged(seat, {"lavender": 7})
    assert found.broken == ("7 drops; this seat has at most 6.",)
    assert any("strong scent" in one for one in found.cautions)
    assert judged(seat, {"lavender": 6}).broken == ()


def test_an_account_of_a_seat_finds_its_seat():
    plan = a_class(seats=[{"name": "Ada (invented)"}, {}, {"name": "seat-1"}])
    assert plan.seat_named("Ada (invented)").number == 1
    assert [plan.seat_named(name).number for name in ("seat-02", "Seat 2")] == [2, 2]
    assert plan.seat_named("seat-9") is None
    assert plan.seat_named("seat-01").number == 1


def test_an_emptied_note_is_named():
    lemon = [{"id": "lemon"}, {"id": "lavender"}]
    plan = a_class(
        oils=lemon, note_parts={"top": 1, "middle": 1}, seats=[{"sun_afterwards": True}]
    )
    assert any("nothing left for its top" in line for line in plan_in_words(plan))


def test_it_never_promises_anything():
    text = " ".join(plan_in_words(a_class()))
    assert "What is not named is not cleared" in text
    assert "safe" not in text.lower()


# --- the run sheet ------------------------------------------------------------------------


def assert_sound(plan: ClassPlan) -> None:
    sheet = run_sheet(plan)
    bottles = {each.oil.id: each.bottles for each in plan.oils}
    for minute in range(plan.minutes):
        at_once = [
            e for e in sheet.entries if e.seats and e.start <= minute < e.start + e.minutes
        ]
        # one hand at a time at each table, so whatever they choose there is no collision
        assert len({each.table for each in at_once}) == len(at_once)
        # and no oil is at more tables than there are bottles of it
        at_tables = Counter(name for each in at_once for name in each.oils)
        assert at_tables <= Counter(bottles)
    notes = [note for note in ("base", "middle", "top") if plan.of_note(note)]
    for seat in plan.seats:
        mine = [each for each in sheet.entries if seat.label in each.seats]
        assert [each.what for each in mine] == [f"{note} note" for note in notes]
        assert all(each.minutes >= 1 for each in mine)
        assert {name for each in mine for name in each.oils} == set(bottles)
    assert max(each.start + each.minutes for each in sheet.entries) == plan.minutes


def test_no_bottle_is_in_two_places_at_once():
    assert_sound(a_class())


@settings(max_examples=60, deadline=None)
@given(
    st.integers(1, 25),
    st.integers(1, 8),
    st.lists(st.integers(1, 4), min_size=9, max_size=9),
)
def test_no_bottle_is_ever_in_two_places_at_once(seats, tables, bottles):
    oils = [
        {**oil, "bottles": count}
        for oil, count in zip(example_class()["oils"], bottles, strict=True)
    ]
    assert_sound(a_class(seats=seats, tables=tables, oils=oils, minutes=600))


@pytest.mark.parametrize("tables", [1, 2, 3])
@pytest.mark.parametrize("copies", list(itertools.product((1, 2), repeat=3)))
def test_no_plan_in_blocks_is_shorter(tables, copies):
    def fits(blocks: int) -> bool:
        rows = list(itertools.combinations(range(blocks), len(copies)))
        for plan in itertools.product(rows, repeat=tables):
            if all(
                [row[tray] for row in plan].count(block) <= most
                for tray, most in enumerate(copies)
                for block in range(blocks)
            ):
                return True
        return False

    found = 1 + max(max(row) for row in assign_blocks(tables, copies))
    assert fits(found)
    assert not fits(found - 1)


def test_too_little_time_is_refused_with_what_it_needs_and_what_would_help():
    with pytest.raises(BadClass) as caught:
        run_sheet(a_class(seats=200))
    assert "438 minutes" in str(caught.value)
    # a hundred seats a table take one minute each, in four blocks, or in three with a bottle
    more = "One bottle more of Rose absolute would bring the counting from 400 to 300 minutes."
    assert more in str(caught.value)


def test_the_minutes_go_where_they_are_needed_and_a_second_bottle_is_worth_what_is_said():
    sheet = run_sheet(a_class(minutes=120))
    everybody = {e.what: e.minutes for e in sheet.entries if e.table is None}
    most = {what: longest for what, _, longest in (*run.BEFORE, *run.AFTER)}
    assert all(everybody[what] <= longest for what, longest in most.items())
    assert everybody["sniff and choose"] <= 25
    assert sum(everybody.values()) + counting(sheet) == 120
    (told,) = [line for line in sheet.words if "One bottle more" in line]
    assert "this class has the time without it" in told
    oils = [{**oil, "bottles": 2} for oil in example_class()["oils"]]
    turn = next(e.minutes for e in sheet.entries if e.seats)
    with_it = run_sheet(a_class(minutes=120, oils=oils))
    assert next(e.minutes for e in with_it.entries if e.seats) == turn
    assert f"from {counting(sheet)} to {counting(with_it)} minutes" in told


def counting(sheet) -> int:
    """Minutes between the first turn and the end of the last."""
    turns = [each for each in sheet.entries if each.seats]
    return max(e.start + e.minutes for e in turns) - min(e.start for e in turns)


def test_a_capped_oil_and_the_one_after_it_have_a_longer_turn():
    plan = a_class(minutes=300)
    card = card_of(plan)
    most = max(
        sum(count > 0 for count in drops)
        for group in choice_groups(plan, card)
        for seat in group.seats
        for drops, _ in seat
    )
    assert most > 1
    alone, capped = run_sheet(plan), run_sheet(plan, card)
    turns = [next(e.minutes for e in each.entries if e.seats) for each in (alone, capped)]
    assert turns == [3, 3 + math.ceil(3 * (most - 1) / 2)]
    assert f"up to {most} oils" in capped.words[0]


def test_the_clock_counts_from_the_beginning_over_midnight():
    plan = a_class(starts_at="23:50")
    assert [run.clock_time(plan, minute) for minute in (0, 9, 70)] == ["23:50", "23:59", "1:00"]
    assert run.clock_time(a_class(), 65) == "1:05"
    assert run.clock_time(a_class(starts_at="19"), 0) == "19:00"
    for typed in ("25:00", "7pm", "7:5", 7):
        assert "a time of day" in refusal(starts_at=typed)


def test_one_seat_one_table_one_oil():
    plan = a_class(seats=1, tables=1, oils=[{"id": "lavender"}], note_parts={"middle": 1})
    assert_sound(plan)


# --- worked ratios ------------------------------------------------------------------------


def seats(count: int) -> list[str]:
    return [f"Seat {number}" for number in range(1, count + 1)]


def test_each_seat_gets_numbers_of_its_own_and_the_same_again_by_seed():
    first, again, other = (exercises(seats(12), seed) for seed in (3, 3, 4))
    assert first == again != other
    assert len({str(questions) for questions in first.values()}) == 12


def test_one_seat_more_leaves_the_others_alone():
    assert list(exercises(seats(13)).items())[:12] == list(exercises(seats(12)).items())


def answers_of(kind: str):
    for seed in range(5):
        for questions in exercises(seats(40), seed).values():
            found = next(each for each in questions if each.kind == kind)
            yield found.numbers, found.answer


def test_answers_to_sharing_out_are_the_package_s_own_and_sum_up():
    for given_, answer in answers_of("share"):
        parts = {note: given_[note] for note in ("top", "middle", "base")}
        assert answer == whole_drops(parts, given_["total"])
        assert sum(answer.values()) == given_["total"]


def test_answers_to_how_many_and_how_strong_undo_each_other():
    for given_, answer in answers_of("drops"):
        back = 100 * answer["drops"] / (given_["bottle_ml"] * given_["per_ml"])
        assert back == given_["percent"]
    for given_, answer in answers_of("strong"):
        drops = float(answer["percent"]) / 100 * given_["bottle_ml"] * given_["per_ml"]
        # printed with two decimals of a percent
        tolerance = 0.005 / 100 * given_["bottle_ml"] * given_["per_ml"] * 1.01
        assert drops == pytest.approx(given_["drops"], abs=tolerance)


def test_answers_to_diluting_keep_what_is_dissolved():
    # C1 V1 = C2 V2: OpenStax, Chemistry: Atoms First, chapter 6, "Dilution of Solutions"
    for given_, answer in answers_of("dilute"):
        oil = given_["strong"] * float(answer["ml"])
        assert oil == pytest.approx(given_["weak"] * given_["bottle_ml"], abs=0.005 * 50)


def test_answers_to_the_wrong_dropper_agree_with_the_calibrator():
    for given_, answer in answers_of("dropper"):
        _, true = strength_with_a_wrong_rule(
            given_["drops"],
            given_["per_ml"],
            given_["true_per_ml"],
            f"{given_['bottle_ml']} mL",
        )
        assert float(answer["percent"]) == pytest.approx(true * 100, abs=0.006)
