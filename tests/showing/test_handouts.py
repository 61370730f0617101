"""Hand-outs: every word in one place and in each language, nothing typed becomes markup."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from string import Formatter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.blend.apportionment import whole_drops
from blendkit.evaporation.molecules import kind_of_carrier, make_up
from blendkit.foundation import data
from blendkit.foundation.data import example_class, example_document
from blendkit.foundation.errors import BadNumber
from blendkit.materials import catalogue
from blendkit.showing.teach import handouts, ratio_page
from blendkit.showing.teach.handouts import SHEETS, Printing, all_handouts
from blendkit.showing.teach.ratio_page import json_for_a_page
from blendkit.showing.teach.words import LANGUAGES, words_in
from blendkit.skin.cautions import WEARERS
from blendkit.teaching import run_sheet
from blendkit.teaching.class_document import BadClass, ClassPlan
from blendkit.teaching.class_reader import MOST_OILS, read_class
from blendkit.teaching.exercises import exercises
from blendkit.teaching.free_choice import card_of
from blendkit.teaching.intake import CONDITIONS
from blendkit.teaching.results import seat_bottles
from blendkit.teaching.shopping import kit_of

PACKAGE = Path(handouts.__file__).parent
TEXTS = data.table("handout_words").set_index("key")
NAMES = data.table("handout_names").set_index("material")
MOST_BYTES = 200_000
HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</script></style><!--<script>",
    "{{ 7 * 7 }} {n} {0}",
    "=cmd|'/c calc'!A1",
]


def a_class(**fields: object) -> ClassPlan:
    return read_class({**example_class(), **fields})


def handout(plan: ClassPlan, name: str, **choices: object) -> str:
    """One hand-out of a class."""
    printing = Printing(**choices)
    return all_handouts(plan, None, printing)[f"{name}-{printing.language}.html"]


class Page(HTMLParser):
    """Visible text, tags and what is in script elements."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text: list[str] = []
        self.scripts: list[str] = []
        self.inside = ""
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += attributes
        self.inside = tag
        self.text += [value for name, value in attributes if name in ("aria-label", "title")]
        if tag == "script":
            self.scripts.append("")

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, text):
        if self.inside == "script":
            self.scripts[-1] += text
        elif self.inside != "style":
            self.text.append(text)


@pytest.fixture(scope="module")
def plan():
    return a_class()


@pytest.fixture(scope="module")
def card(plan):
    return card_of(plan)


# --- words --------------------------------------------------------------------------------


def test_every_text_is_there_in_every_language_with_the_same_gaps():
    for key, row in TEXTS.iterrows():
        gaps = [{name for _, name, _, _ in Formatter().parse(row[each])} for each in LANGUAGES]
        assert all(each == gaps[0] for each in gaps), key
        assert all(row[each].strip() for each in LANGUAGES), key


def test_every_oil_and_carrier_has_a_name_and_the_english_one_is_the_catalogue_s():
    known = {**catalogue.oils()["name"].to_dict(), **catalogue.carriers()["name"].to_dict()}
    assert NAMES["en"].to_dict() == known
    assert NAMES["de"].is_unique


def test_every_caution_and_every_kind_of_wearer_is_translated():
    wanted = {*data.table("cautions")["text"], *WEARERS}
    assert wanted <= set(TEXTS["en"])


def test_every_key_is_used_and_every_key_that_is_used_is_there():
    files = [*PACKAGE.glob("*.py"), *(PACKAGE / "pages").glob("class_*")]
    source = "\n".join(file.read_text(encoding="utf-8") for file in files)
    said = set(re.findall(r"""\bsay\(\s*"(\w+)\"""", source))
    assert said <= set(TEXTS.index)
    mentioned = set(re.findall(r'"(\w+)"', source))
    made = {f"note_{note}" for note in ("top", "middle", "base")}
    made |= {f"{noun}_{many}" for noun in ("drop", "sun") for many in ("one", "many")}
    made |= {f"exercise_{each.kind}" for each in exercises(["1"])["1"]}
    steps = [what for what, _, _ in (*run_sheet.BEFORE, *run_sheet.AFTER)]
    steps += ["break", "exercises", "base"]
    made |= {f"for_{what.split()[0].strip(',')}" for what in steps}
    by_text = {key for key in TEXTS.index if re.match(r"caution_|wearer_|run_\d|kit_\d", key)}
    assert {*steps[:-3], "break and questions", "exercises"} <= set(TEXTS["en"])
    assert set(kit_of(a_class())) <= set(TEXTS["en"])
    assert set(TEXTS.index) - mentioned - made - by_text == set()


def test_translations_say_that_nobody_reviewed_them():
    assert (TEXTS["source"].str.contains("not reviewed by a native speaker")).all()
    for name, page in all_handouts(a_class(), None, Printing("de")).items():
        assert "Muttersprache" in page or name.startswith(("slides", "sign")), name
    assert "native speaker" not in handout(a_class(), "card")


def test_no_hand_out_promises_anything(plan, card):
    for language in LANGUAGES:
        for page in all_handouts(plan, card, Printing(language)).values():
            text = " ".join(Page(page).text).lower()
            assert not re.search(r"\bsafe|\bsicher", text)


def veiled(text: str) -> str:
    """A text of which no letter can be read; its gaps stay."""
    return "".join(
        part if part.startswith("{") else re.sub(r"[^\W\d_]", "•", part)
        for part in re.split(r"(\{\w+\})", text)
    )


def in_no_language(monkeypatch) -> None:
    """Let every text, name and caution be dots: what can still be read is in no table."""
    words = words_in("en")
    dots = replace(
        words,
        language="en",
        texts={key: veiled(text) for key, text in words.texts.items()},
        names={key: veiled(text) for key, text in words.names.items()},
        by_english={key: veiled(text) for key, text in words.by_english.items()},
    )
    for module in (handouts, ratio_page):
        monkeypatch.setattr(module, "words_in", lambda _: dots)


def readable(text: str) -> set[str]:
    """Words that can still be read, without units, initials and numbers."""
    return set(re.findall(r"[^\W\d_]{2,}", text)) - {"mL", "EU", "min", "EUR"}


def test_no_hand_out_says_a_word_that_is_not_in_the_tables(monkeypatch):
    in_no_language(monkeypatch)
    plan = a_class(name="7")
    latin = {word for each in plan.oils for word in readable(each.oil.latin_name)}
    for name, page in all_handouts(plan).items():
        found = readable(" ".join(Page(page).text)) - (
            latin if name[:5] in ("stati", "print") else set()
        )
        assert found == set(), name


def test_an_unknown_language_is_refused():
    with pytest.raises(BadNumber, match="one of en, de"):
        all_handouts(a_class(), None, Printing("fr"))


# --- nothing typed becomes markup ---------------------------------------------------------


@pytest.mark.parametrize("name", HOSTILE)
def test_names_stay_text_in_every_hand_out(plan, card, name):
    hostile = a_class(
        name=name, seats=[{"name": name, "dislikes": ["lemon"]}, *example_class()["seats"][1:]]
    )
    plain = all_handouts(plan, card)
    for file, html in all_handouts(hostile, card).items():
        page, usual = Page(html), Page(plain[file])
        assert page.tags.count("script") == usual.tags.count("script")
        assert "img" not in page.tags
        assert not any(key.startswith("on") for key, _ in page.attributes)
        # the name shows as it was typed, spaces apart
        assert " ".join(name.split()) in " ".join(" ".join(page.text).split())


@pytest.mark.parametrize("name", HOSTILE)
def test_json_in_a_page_ends_no_element_and_reads_back(name):
    text = str(json_for_a_page({"name": name, name: 1}))
    assert "<" not in text
    assert json.loads(text) == {"name": name, name: 1}


def test_pages_fetch_and_send_nothing(plan, card):
    for page in all_handouts(plan, card).values():
        assert "default-src 'none'" in page
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", page)
        assert not [value for key, value in Page(page).attributes if key in ("src", "href")]


def test_each_file_is_small(plan, card):
    sizes = {name: len(page.encode()) for name, page in all_handouts(plan, card).items()}
    assert max(sizes.values()) <= MOST_BYTES, sizes


def test_the_page_of_the_largest_class_is_small():
    oils = sorted(catalogue.oils().index, key=lambda o: len(make_up(catalogue.oil(o)).volatile))
    largest = a_class(
        oils=[{"id": name} for name in oils[-MOST_OILS:]],
        carriers=list({kind: name for name, kind in kind_of_carrier().items()}.values()),
        seats=1,
    )
    page = ratio_page.ratio_page(largest, card_of(largest), "de")
    assert len(page.encode()) <= MOST_BYTES


# --- what they hold -----------------------------------------------------------------------


def test_the_card_lists_every_oil_with_its_most_drops(plan, card):
    text = " ".join(Page(handout(plan, "card")).text)
    for oil_id, cap in card.caps.items():
        assert re.search(rf"{re.escape(catalogue.oil(oil_id).name)}\s.*?\s{cap}\s", text)
    assert "Seat 3: carrier: Jojoba" in text
    assert "not judged there" in text


def test_an_oil_that_does_not_fit_is_named_and_not_listed_to_mix():
    plan = a_class(oils=[{"id": "bergamot"}, {"id": "lavender"}],
                   note_parts={"top": 1, "middle": 1}, seats=1)  # fmt: skip
    pages = all_handouts(plan)
    assert "Not even one drop fits" in pages["card-en.html"]
    assert "not for this bottle" in pages["stations-en.html"]
    assert "Bergamot" not in " ".join(Page(pages["recipes-en.html"]).text)


def test_answers_stand_on_the_answer_sheet_and_not_on_the_exercises(plan):
    answers = " ".join(Page(handout(plan, "answers", seed=4)).text)
    sheets = " ".join(Page(handout(plan, "exercises", seed=4)).text)
    for questions in exercises([seat.label for seat in plan.seats], seed=4).values():
        shared = next(q for q in questions if q.kind == "share")
        words = "{top} top, {middle} middle, {base} base".format(**shared.answer)
        assert words in answers
        assert words not in sheets
        assert "{top} : {middle} : {base}".format(**shared.numbers) in sheets


def test_set_blends_have_recipes_with_their_whole_drops():
    blend = example_document()
    plan = a_class(blends=[{"blend": blend}], oils=[], bottle=blend["bottle"])
    pages = all_handouts(plan)
    text = " ".join(" ".join(Page(pages["recipes-en.html"]).text).split())
    for oil_id, drops in plan.blends[0].blend.oil_drops.items():
        assert re.search(rf"{re.escape(catalogue.oil(oil_id).name)} {drops}\b", text)
    assert plan.blends[0].blend.name in " ".join(Page(pages["take-home-en.html"]).text)


@pytest.mark.parametrize(
    "fields",
    [
        {"seats": [{"dislikes": [each["id"] for each in example_class()["oils"]]}]},
        {"seats": 1, "oils": [{"id": "lavender"}], "note_parts": {"middle": 1}},
        {"seats": 200},
        {"name": ""},
        {"bottle": "30 mL", "drops_per_ml": 33.3},
        {"region": "US"},
    ],
)
def test_odd_classes_get_their_hand_outs(fields):
    pages = all_handouts(a_class(**fields))
    assert len(pages) == len(SHEETS)  # with the page that computes, and without the follow-up


PEOPLE = [
    {"name": "Ada (invented)", "wearers": ["epilepsy or seizures"]},
    {"name": "Bo (invented)", "wearers": ["blood thinners or aspirin allergy"]},
    {"name": "Cy (invented)", "sun_afterwards": True, "strength_cap": "5 %"},
]
OILS = [{"id": name} for name in ("rosemary-cineole", "lemon", "clove-bud", "lavender")]
ROOM = ("card", "stations", "recipes", "exercises", "answers", "slides", "large-print")


def test_the_room_sees_the_number_of_a_seat_and_no_name_or_reason():
    plan = a_class(seats=PEOPLE, oils=OILS, note_parts={"top": 1, "middle": 1}, bottle="30 mL")
    pages = {n: " ".join(" ".join(Page(handout(plan, n)).text).split()) for n in SHEETS
             if n != "follow-up"}  # fmt: skip
    for name in ROOM:
        assert "(invented)" not in pages[name].replace(plan.name, ""), name
    for name in ("card", "recipes"):
        assert "Seat 1: without Rosemary" in pages[name]
        assert not any(who in pages[name] for who in (*WEARERS, "sun afterwards"))
    assert "Seat 3: without Lemon; at most 30 drops in all" in pages["card"]
    sheet = pages["print-all"]
    assert "Ada (invented) epilepsy or seizures: ○ Rosemary" in sheet
    assert "Clove bud . Rich in eugenol" in sheet
    assert "sun afterwards" in sheet


def test_the_form_has_the_very_conditions_that_the_seats_know():
    text = " ".join(" ".join(Page(handout(a_class(seats=2), "before")).text).split())
    for letter, condition in CONDITIONS.items():
        assert text.count(f"{letter} {condition}") == 2
    assert "child under 3 (no bottle)" in text
    assert "medical advice" in text
    for name, count in kit_of(a_class(seats=2)).items():
        assert f"{name} {count} " in text


def test_once_the_class_is_over_the_take_home_pages_hold_what_was_used():
    plan = a_class(bottle="30 mL")
    drops = {"lavender": 7, "lemon": 2}
    rows = [{"seat": "Seat 2", "carrier": "jojoba", "drops": drops}]
    done = {"bottles": seat_bottles(plan, rows), "made_on": date(2026, 11, 25)}
    for name in ("take-home", "follow-up"):
        text = " ".join(" ".join(Page(handout(plan, name, **done)).text).split())
        assert re.search(r"Lavender:? 7", text)
        assert re.search(r"Lemon:? 2", text)
        assert "Jojoba" in text
        assert "2026-11-25" in text
        assert "Geranium" not in text
        assert "can burn or stain skin" in text
    assert handout(plan, "take-home", **done).count('class="sheet home"') == 1
    assert "follow-up-en.html" not in all_handouts(plan)


def test_where_no_drop_fits_there_is_no_card():
    with pytest.raises(BadClass, match="not one drop"):
        all_handouts(a_class(oils=[{"id": "bergamot"}], note_parts={"top": 1}))


@settings(max_examples=40, deadline=None)
@given(
    parts=st.fixed_dictionaries(
        dict.fromkeys(("top", "middle", "base"), st.sampled_from((0.25, 0.5, 1, 1.5, 2, 3, 6)))
    )
)
def test_the_ratio_page_opens_in_whole_parts_of_the_ratio_within_the_card(card, parts):
    plan = a_class(note_parts=parts)
    start, total = ratio_page.starting_parts(plan, card)
    of_note = {
        note: sum(start.get(each.oil.id, 0) for each in plan.of_note(note)) for note in parts
    }
    assert {note: n / of_note["top"] for note, n in of_note.items()} == pytest.approx(
        {note: n / parts["top"] for note, n in parts.items()}
    )
    drops = {}
    for note, count in whole_drops(of_note, total).items():
        here = [each.oil.id for each in plan.of_note(note) if start.get(each.oil.id)]
        drops |= whole_drops({name: start[name] for name in here}, count)
    assert card.check_mix(drops) == []


def test_the_shipped_class_opens_at_its_own_strength(plan, card):
    assert ratio_page.starting_parts(read_class(example_class()), card)[1] == card.total_drops
