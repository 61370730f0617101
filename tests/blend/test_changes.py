"""Changes between two documents: laws that keep two notebooks from overwriting each other."""

from __future__ import annotations

import json

from hypothesis import given
from hypothesis import strategies as st

from blendkit import example_document
from blendkit.blend.changes import apply, as_rows, changes, from_rows, in_words, inverse

OILS = ["lavender", "lemon", "lavender@A 12.5"]
PARTS = st.one_of(st.integers(1, 9), st.sampled_from([0.5, "2,5", "x"]))
TEXT = st.sampled_from(["10 mL", "30 mL", "20 %", "", "zwölf 💧"])


def entries(names):
    fields = {"parts": PARTS, "note": st.sampled_from(["top", "base"]), "drops": PARTS}
    entry = st.fixed_dictionaries({"id": st.sampled_from(names)}, optional=fields)
    return st.lists(entry, unique_by=lambda each: each["id"], max_size=3)


ACCEPTED = st.lists(
    st.fixed_dictionaries({"limit": st.sampled_from(["a: b", "c.d"]), "reason": TEXT}),
    unique_by=lambda each: each["limit"],
    min_size=1,
    max_size=2,
)
SIZES = st.one_of(
    PARTS,
    st.dictionaries(st.sampled_from(OILS), PARTS, min_size=1).map(
        lambda d: {"default": 20, **d}
    ),
)
BLENDS = st.fixed_dictionaries(
    {"oils": entries(OILS), "carriers": entries(["jojoba", "squalane"])},
    optional={
        "name": TEXT,
        "strength": TEXT,
        "drops_per_ml": SIZES,
        "note_parts": st.dictionaries(st.sampled_from(["top", "base"]), PARTS),
        "market": st.dictionaries(st.sampled_from(["region", "use"]), TEXT),
        "accepted": ACCEPTED,
    },
)
DAY = st.dictionaries(st.sampled_from(["film", "nose"]), TEXT, min_size=1)
HANDS = st.fixed_dictionaries(
    {"blend": BLENDS},
    optional={"wearers": st.lists(TEXT, max_size=2), "day": DAY, "version": TEXT},
)


@given(HANDS, HANDS)
def test_changes_lead_from_one_to_the_other_and_back(a, b):
    there = changes(a, b)
    assert apply(there, a) == b
    assert apply(inverse(there), b) == a
    assert (there == {}) == (a == b)
    assert changes(a, a) == {}


@given(HANDS, HANDS, HANDS)
def test_changes_of_other_keys_stay_whichever_comes_first(base, mine, yours):
    my, your = changes(base, mine), changes(base, yours)
    # what comes or goes is one thing with all it holds, and so is a list that both put in order
    whole = [key for key, each in {**my, **your}.items() if ({},) in each]
    whole += [key[:-1] for key in my if key[-1] == "" and key in your]
    whole.sort(key=len)

    def thing(key):
        return next((each for each in whole if key[: len(each)] == each), key)

    touched = {thing(key) for key in my}
    your = {key: each for key, each in your.items() if thing(key) not in touched}
    assert apply(my, apply(your, base)) == apply(your, apply(my, base))


@given(HANDS, HANDS)
def test_changes_survive_the_store(a, b):
    there = changes(a, b)
    assert from_rows(json.loads(json.dumps(as_rows(there)))) == there


@given(HANDS, HANDS)
def test_words_are_found_for_whatever_changed(a, b):
    words = in_words(changes(a, b))
    assert isinstance(words, str)
    assert len(words) < 700


def changed(**keys):
    return changes({"blend": example_document()}, {"blend": example_document() | keys})


def test_words_name_what_changed():
    assert in_words(changed(strength="25 %")) == "strength 20 % → 25 %"
    oils = example_document()["oils"]
    assert in_words(changed(oils=[*oils, {"id": "vetiver", "parts": 1, "note": "base"}])) == (
        "Vetiver (Haiti) added"
    )
    assert in_words(changed(oils=oils[1:])) == "Bergamot FCF (furocoumarin-free) taken out"
    assert in_words(changed(note_parts={"top": 3, "middle": 1, "base": 2})) == "top parts 2 → 3"
    more = changed(strength="25 %", bottle="30 mL", name="x", headspace="1 mL")
    assert in_words(more).endswith("and 2 more")


def test_two_oils_added_on_two_screens_are_both_there_in_their_places():
    base = {"oils": [{"id": "lemon"}, {"id": "lavender"}]}
    mine = {"oils": [{"id": "lemon"}, {"id": "patchouli"}, {"id": "lavender"}]}
    yours = {"oils": [*base["oils"], {"id": "vetiver"}]}
    my, your = changes(base, mine), changes(base, yours)
    for both in (apply(my, yours), apply(your, mine)):
        ids = [each["id"] for each in both["oils"]]
        assert ids == ["lemon", "patchouli", "lavender", "vetiver"]


def test_an_oil_taken_out_stays_out_when_its_parts_are_changed_elsewhere():
    base = {"oils": [{"id": "lemon", "parts": 1}, {"id": "lavender", "parts": 1}]}
    out = changes(base, {"oils": [{"id": "lavender", "parts": 1}]})
    more = changes(
        base, {"oils": [{"id": "lemon", "parts": 1}, {"id": "lavender", "parts": 3}]}
    )
    assert apply(out, apply(more, base)) == {"oils": [{"id": "lavender", "parts": 3}]}
    assert apply(more, apply(out, base)) == {"oils": [{"id": "lavender", "parts": 3}]}
