"""The blend document: read exactly, refused in words, and shared out to its strength."""

from __future__ import annotations

import copy
import json
import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.blend.fields import CarrierPart, OilPart

# The document that the package's own contract shows
DOCUMENT: dict[str, Any] = {
    "name": "Quay at Dusk",
    "bottle": "10 mL",
    "strength": "20 %",
    "strength_basis": "drops",
    "drops_per_ml": 20,
    "note_parts": {"top": 2, "middle": 1, "base": 2},
    "oils": [
        {"id": "grapefruit", "note": "top", "parts": 1},
        {"id": "geranium", "note": "middle", "parts": 1},
        {"id": "patchouli", "note": "base", "parts": 1},
    ],
    "carriers": [{"id": "jojoba", "parts": 3}, {"id": "mct-fractionated-coconut", "parts": 1}],
}
TOP, MIDDLE, BASE = ("lemon", "grapefruit"), ("geranium", "lavender"), ("patchouli", "myrrh")
OIL_IDS = sorted(bk.oils().index)
CARRIER_IDS = sorted(bk.carriers().index)
NOTHING = object()


def changed(*changes: tuple[tuple, object]) -> dict[str, Any]:
    """The contract's document with fields replaced, or taken out where NOTHING is given."""
    document = copy.deepcopy(DOCUMENT)
    for path, value in changes:
        inner: Any = document
        for step in path[:-1]:
            inner = inner[step]
        if value is NOTHING:
            del inner[path[-1]]
        elif isinstance(inner, list) and path[-1] == len(inner):
            inner.append(value)
        else:
            inner[path[-1]] = value
    return document


# --- read exactly -------------------------------------------------------------------------


def test_the_contract_document_round_trips():
    document = copy.deepcopy(DOCUMENT)
    assert bk.Blend.from_dict(document).to_dict() == DOCUMENT
    # Reading must not have touched what it was given
    assert document == DOCUMENT


def test_the_document_survives_a_json_file():
    text = json.dumps(bk.Blend.from_dict(DOCUMENT).to_dict())
    assert bk.Blend.from_dict(json.loads(text)) == bk.Blend.from_dict(DOCUMENT)


@pytest.mark.parametrize(
    "document",
    [
        bk.example_document(),
        changed((("drops_per_ml",), {"default": 20, "patchouli": 24})),
        changed((("strength_basis",), "volume"), (("headspace",), "0,5 mL")),
        changed((("strength_basis",), "mass"), (("botanicals",), "0.3 mL")),
        changed((("oils", 0, "drops"), 7)),
        changed((("name",), NOTHING), (("strength_basis",), NOTHING)),
        changed((("drops_per_ml",), NOTHING), (("oils", 0, "note"), NOTHING)),
        changed((("name",), "Ölgarten 💧 \u202eright to left")),
    ],
)
def test_every_kind_of_document_round_trips(document):
    before = copy.deepcopy(document)
    assert bk.Blend.from_dict(document).to_dict() == before


def test_the_returned_document_is_the_callers_to_change():
    blend = bk.Blend.from_dict(DOCUMENT)
    returned = blend.to_dict()
    returned["oils"][0]["parts"] = 99
    returned["carriers"].clear()
    returned["note_parts"]["top"] = 99
    returned["name"] = "Another"
    assert blend.to_dict() == DOCUMENT
    assert blend == bk.Blend.from_dict(DOCUMENT)


def test_the_document_given_is_the_callers_to_change():
    document = copy.deepcopy(DOCUMENT)
    document["drops_per_ml"] = {"default": 20, "patchouli": 24}
    blend = bk.Blend.from_dict(document)
    drops_before, parts_before = dict(blend.oil_drops), dict(blend.note_parts)
    document["oils"].clear()
    document["note_parts"]["top"] = 99
    document["drops_per_ml"]["patchouli"] = 1
    assert blend.to_dict()["oils"] == DOCUMENT["oils"]
    assert dict(blend.oil_drops) == drops_before
    assert dict(blend.note_parts) == parts_before
    assert blend.drops_per_ml_of("patchouli") == 24


def test_what_is_left_out_takes_its_usual_value():
    document = changed(
        (("name",), NOTHING),
        (("strength_basis",), NOTHING),
        (("drops_per_ml",), NOTHING),
        *(((("oils", place, key), NOTHING)) for place in range(3) for key in ("note", "parts")),
        (("carriers", 1), {"id": "argan"}),
    )
    blend = bk.Blend.from_dict(document)
    assert blend.oil_drops == {"grapefruit": 16, "geranium": 8, "patchouli": 16}
    assert [part.note for part in blend.oils] == ["top", "middle", "base"]
    assert [part.parts for part in blend.carriers] == [3, 1]
    assert (blend.name, blend.strength_basis) == ("", "drops")
    assert blend.headspace_m3 == blend.botanicals_m3 == 0


def test_an_oil_may_stand_in_another_note_than_its_usual_one():
    document = changed(
        (("oils", 0, "note"), "base"), (("note_parts",), {"middle": 1, "base": 4})
    )
    # 40 drops, 1 : 4 to the notes, and the 32 of the base note shared by two oils
    assert bk.Blend.from_dict(document).oil_drops == {
        "grapefruit": 16,
        "geranium": 8,
        "patchouli": 16,
    }


def test_a_drop_count_fixed_by_hand_is_kept():
    document = changed((("oils", 3), {"id": "lemon", "drops": 7}))
    # 40 drops 2 : 1 : 2 are 16, 8, 16; lemon's 7 leave grapefruit 9 of the top note's 16
    assert bk.Blend.from_dict(document).oil_drops == {
        "grapefruit": 9,
        "geranium": 8,
        "patchouli": 16,
        "lemon": 7,
    }


# --- refused in words ---------------------------------------------------------------------

PARTS_THAT_ARE_NO_NUMBER_ABOVE_0 = [
    0,
    -1,
    -0.5,
    math.nan,
    math.inf,
    -math.inf,
    True,
    False,
    None,
    "1",
    "",
    [1],
    {"parts": 1},
]
BAD: list[tuple[str, tuple[tuple[tuple, object], ...], str]] = [
    # label, changes to the contract's document, words that the message must hold
    ("bottle missing", ((("bottle",), NOTHING),), r"bottle: got nothing"),
    ("bottle a bare number", ((("bottle",), 10),), r"bottle: got 10, which has no unit"),
    ("bottle a bare text", ((("bottle",), "10"),), r'bottle: got "10", which has no unit'),
    ("bottle a mass", ((("bottle",), "10 g"),), r'bottle: got "10 g", which is a mass'),
    ("bottle none", ((("bottle",), None),), r"bottle: got None"),
    ("bottle a list", ((("bottle",), ["10 mL"]),), r"bottle: got "),
    ("bottle empty", ((("bottle",), ""),), r"bottle: got "),
    ("bottle of nothing", ((("bottle",), "0 mL"),), r'bottle: got "0 mL"'),
    ("bottle negative", ((("bottle",), "-10 mL"),), r'bottle: got "-10 mL"'),
    ("bottle a barrel", ((("bottle",), "200 L"),), r'bottle: got "200 L".*10000 mL'),
    ("bottle endless", ((("bottle",), "1e999 mL"),), r"bottle: got "),
    ("headspace a share", ((("headspace",), "5 %"),), r"headspace: got .*a plain share"),
    ("headspace negative", ((("headspace",), "-3 mL"),), r'headspace: got "-3 mL"'),
    ("headspace none", ((("headspace",), None),), r"headspace: got None"),
    (
        "headspace fills it",
        ((("headspace",), "10 mL"),),
        r"headspace and botanicals: got 10 mL",
    ),
    ("botanicals a mass", ((("botanicals",), "1 g"),), r"botanicals: got .*a mass"),
    ("botanicals too many", ((("botanicals",), "11 mL"),), r"headspace and botanicals: got 11"),
    ("strength missing", ((("strength",), NOTHING),), r"strength: got nothing"),
    ("strength a bare share", ((("strength",), 0.2),), r"strength: got 0.2, which has no unit"),
    (
        "strength a bare text",
        ((("strength",), "20"),),
        r'strength: got "20", which has no unit',
    ),
    ("strength 110 %", ((("strength",), "110 %"),), r'strength: got "110 %".*at most 100 %'),
    ("strength 0 %", ((("strength",), "0 %"),), r'strength: got "0 %"; needs above 0 %'),
    ("strength negative", ((("strength",), "-20 %"),), r'strength: got "-20 %"'),
    ("strength a volume", ((("strength",), "2 mL"),), r"strength: got .*a volume"),
    ("strength none", ((("strength",), None),), r"strength: got None"),
    ("basis misspelt", ((("strength_basis",), "volumes"),), r'Did you mean "volume"'),
    ("basis none", ((("strength_basis",), None),), r"strength_basis: got None"),
    ("basis a list", ((("strength_basis",), ["drops"]),), r"strength_basis: got "),
    ("drop size 0", ((("drops_per_ml",), 0),), r"drops_per_ml, default: got 0"),
    ("drop size text", ((("drops_per_ml",), "20"),), r'drops_per_ml, default: got "20"'),
    ("drop size not a number", ((("drops_per_ml",), math.nan),), r"drops_per_ml, default: got"),
    ("drop size true", ((("drops_per_ml",), True),), r"drops_per_ml, default: got True"),
    ("drop size none", ((("drops_per_ml",), None),), r"drops_per_ml, default: got None"),
    ("drop size 5000", ((("drops_per_ml",), 5000),), r"drops_per_ml, default: got 5000.*200"),
    ("drop size a list", ((("drops_per_ml",), [20]),), r"drops_per_ml, default: got"),
    (
        "drop size of an unknown oil",
        ((("drops_per_ml",), {"patchuli": 24}),),
        r'drops_per_ml, patchuli: got .*Did you mean "patchouli"',
    ),
    (
        "drop size of an oil negative",
        ((("drops_per_ml",), {"default": 20, "patchouli": -1}),),
        r"drops_per_ml, patchouli: got -1",
    ),
    ("name a number", ((("name",), 5),), r"name: got 5; needs text"),
    ("name none", ((("name",), None),), r"name: got None; needs text"),
    ("name endless", ((("name",), "x" * 100_000),), r"name: got .*at most 200 characters"),
    ("note parts missing", ((("note_parts",), NOTHING),), r"note_parts: got nothing"),
    ("note parts none", ((("note_parts",), None),), r"note_parts: got None"),
    ("note parts a list", ((("note_parts",), [2, 1, 2]),), r"note_parts: got "),
    ("note parts text", ((("note_parts",), "2:1:2"),), r'note_parts: got "2:1:2"'),
    ("note parts empty", ((("note_parts",), {}),), r"note_parts, top: got nothing"),
    (
        "note misspelt",
        ((("note_parts", "topp"), 1),),
        r'note_parts, topp: got .*Did you mean "top"',
    ),
    (
        "note without parts",
        ((("note_parts", "base"), NOTHING),),
        r"note_parts, base: got nothing; needs parts for the base note",
    ),
    ("note without oils", ((("oils", 2), NOTHING),), r"note_parts, base: got 2; needs an oil"),
    ("oils missing", ((("oils",), NOTHING),), r"oils: got nothing"),
    ("oils none", ((("oils",), None),), r"oils: got None; needs a list"),
    ("oils a number", ((("oils",), 5),), r"oils: got 5; needs a list"),
    ("oils text", ((("oils",), "lavender"),), r'oils: got "lavender"; needs a list'),
    ("oils a dictionary", ((("oils",), {"id": "lavender"}),), r"oils: got .*needs a list"),
    (
        "oils empty",
        ((("oils",), []), (("note_parts",), {})),
        r"oils: got nothing; needs at least",
    ),
    ("an oil none", ((("oils", 1), None),), r"oils 2: got None; needs an entry"),
    ("an oil a text", ((("oils", 1), "geranium"),), r'oils 2: got "geranium"; needs an entry'),
    ("an oil without id", ((("oils", 1, "id"), NOTHING),), r"oils 2, id: got nothing"),
    ("an oil misspelt", ((("oils", 1, "id"), "geranum"),), r'Did you mean "geranium"'),
    (
        "an oil unknown",
        ((("oils", 1, "id"), "xyzzy"),),
        r'oils 2, id: got "xyzzy".*bk\.oils\(\)',
    ),
    ("an oil id none", ((("oils", 1, "id"), None),), r"oils 2, id: got None"),
    ("an oil id a list", ((("oils", 1, "id"), ["geranium"]),), r"oils 2, id: got "),
    (
        "an oil twice",
        ((("oils", 3), {"id": "geranium", "parts": 2}),),
        r'oils 4: got "geranium" a second time.*Add their parts together',
    ),
    ("a carrier among oils", ((("oils", 1, "id"), "jojoba"),), r"oils 2, id: got "),
    ("an oil's note unknown", ((("oils", 1, "note"), "heart"),), r"oils 2, note: got .heart"),
    ("an oil's note none", ((("oils", 1, "note"), None),), r"oils 2, note: got None"),
    (
        "an oil's key unknown",
        ((("oils", 1, "part"), 1),),
        r'oils 2, part: .*Did you mean "parts"',
    ),
    ("fixed drops a float", ((("oils", 1, "drops"), 7.0),), r"oils 2, drops: got 7\.0"),
    ("fixed drops negative", ((("oils", 1, "drops"), -1),), r"oils 2, drops: got -1"),
    ("fixed drops true", ((("oils", 1, "drops"), True),), r"oils 2, drops: got True"),
    ("fixed drops text", ((("oils", 1, "drops"), "7"),), r'oils 2, drops: got "7"'),
    ("fixed drops none", ((("oils", 1, "drops"), None),), r"oils 2, drops: got None"),
    ("fixed drops absurd", ((("oils", 1, "drops"), 10**400),), r"oils 2, drops: got "),
    (
        "fixed drops too many for the strength",
        ((("oils", 1, "drops"), 41),),
        r"fixed drops: got 41 in all; needs at most 40",
    ),
    ("carriers missing", ((("carriers",), NOTHING),), r"carriers: got nothing"),
    ("carriers none", ((("carriers",), None),), r"carriers: got None; needs a list"),
    ("carriers a number", ((("carriers",), 5),), r"carriers: got 5; needs a list"),
    ("carriers empty", ((("carriers",), []),), r"carriers: got nothing; needs at least one"),
    ("a carrier misspelt", ((("carriers", 0, "id"), "jojobo"),), r'Did you mean "jojoba"'),
    (
        "a carrier twice",
        ((("carriers", 1, "id"), "jojoba"),),
        r'carriers 2: got "jojoba" a second',
    ),
    (
        "a carrier's key unknown",
        ((("carriers", 0, "note"), "top"),),
        r"carriers 1, note: got an unknown key",
    ),
    ("a key unknown", ((("colour",), "blue"),), r"colour: got an unknown key"),
    (
        "a key misspelt",
        ((("botle",), "10 mL"),),
        r'botle: got an unknown key.*Did you mean "bottle"',
    ),
    ("a key that is no text", (((5,), "blue"),), r"5: got an unknown key"),
    (
        "too small for one drop of each",
        ((("bottle",), "0.5 mL"),),
        r"bottle: got 2 drops of oil in all at 20 %; needs one drop of each of 3 oils",
    ),
    (
        "overfull",
        (
            (("drops_per_ml",), {"default": 20, "patchouli": 5}),
            (("strength",), "60 %"),
        ),
        # 48 + 24 drops at 20 and 48 drops at 5 to the millilitre are 13.2 mL
        r"bottle: got 13\.2 mL of oils; needs at most 10 mL",
    ),
    (
        "no drops at all",
        tuple(((("oils", place, "drops"), 0)) for place in range(3)),
        r"oils: got 0 drops in all",
    ),
    *(
        (f"an oil's parts {value!r}", ((("oils", 1, "parts"), value),), r"oils 2, parts: got ")
        for value in PARTS_THAT_ARE_NO_NUMBER_ABOVE_0
    ),
    *(
        (
            f"a carrier's parts {value!r}",
            ((("carriers", 1, "parts"), value),),
            r"carriers 2, parts: got ",
        )
        for value in PARTS_THAT_ARE_NO_NUMBER_ABOVE_0
    ),
    *(
        (
            f"a note's parts {value!r}",
            ((("note_parts", "top"), value),),
            r"note_parts, top: got ",
        )
        for value in PARTS_THAT_ARE_NO_NUMBER_ABOVE_0
    ),
]


@pytest.mark.parametrize(
    ("changes", "words"), [pytest.param(*row[1:], id=row[0]) for row in BAD]
)
def test_a_bad_document_is_refused_by_field(changes, words):
    with pytest.raises(bk.BadBlend, match=words) as caught:
        bk.Blend.from_dict(changed(*changes))
    # A message has to stay readable, however long the text was that caused it
    assert len(str(caught.value)) < 2000


@pytest.mark.parametrize("document", [None, 5, "blend", [], [DOCUMENT], True, 1.5])
def test_something_that_is_no_document_is_refused(document):
    with pytest.raises(bk.BadBlend, match=r"blend: got .*needs a document"):
        bk.Blend.from_dict(document)


def nested(depth: int) -> object:
    value: object = "x"
    for _ in range(depth):
        value = [value]
    return value


@pytest.mark.parametrize("value", [10**5000, nested(5000)], ids=["digits", "lists in lists"])
@pytest.mark.parametrize("key", ["name", "bottle", "strength_basis", "oils", "note_parts"])
def test_what_cannot_even_be_written_out_is_refused(key, value):
    with pytest.raises(bk.BadBlend, match=key):
        bk.Blend.from_dict({**DOCUMENT, key: value})


def test_an_empty_document_names_every_missing_field():
    with pytest.raises(bk.BadBlend) as caught:
        bk.Blend.from_dict({})
    missing = {problem.where for problem in caught.value.problems if problem.got == "nothing"}
    assert missing >= {"bottle", "strength", "note_parts", "oils", "carriers"}


def test_several_problems_are_listed_at_once():
    document = changed(
        (("bottle",), "10 g"),
        (("strength",), 0.2),
        (("oils", 0, "id"), "grapefrut"),
        (("oils", 1, "parts"), 0),
        (("oils", 2, "drops"), -1),
        (("carriers", 0, "id"), "jojobo"),
        (("colour",), "blue"),
        (("note_parts", "middle"), "one"),
    )
    with pytest.raises(bk.BadBlend) as caught:
        bk.Blend.from_dict(document)
    assert {problem.where for problem in caught.value.problems} == {
        "bottle",
        "strength",
        "oils 1, id",
        "oils 2, parts",
        "oils 3, drops",
        "carriers 1, id",
        "colour",
        "note_parts, middle",
    }
    message = str(caught.value)
    assert "(8 problems)" in message
    for problem in caught.value.problems:
        assert str(problem) in message


def test_the_refusal_is_a_value_error():
    # So that a caller who knows nothing of this package can still catch it
    assert issubclass(bk.BadBlend, ValueError)


@pytest.mark.parametrize(
    "path",
    [("oils", 0, "parts"), ("carriers", 0, "parts"), ("note_parts", "top"), ("drops_per_ml",)],
)
def test_a_whole_number_too_large_for_a_float_gets_an_answer(path):
    # A JSON file can hold such a number. Mixing it and refusing it are both fine.
    gives_a_blend_or_bad_blend(changed((path, 10**400)))


# --- any document at all ------------------------------------------------------------------

plain_values = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=20)
    | st.sampled_from(["10 mL", "20 %", "0 mL", "drops", "mass", "top", "jojoba", "lemon"])
    | st.just(10**400)
)
json_values = st.recursive(
    plain_values,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from([*DOCUMENT, "id", "note", "parts", "drops", "top", "default"])
            | st.text(max_size=8),
            inner,
            max_size=6,
        )
    ),
    max_leaves=25,
)


def every_path(value: object, path: tuple = ()) -> list[tuple]:
    paths = [path] if path else []
    if isinstance(value, dict):
        return paths + [deep for key in value for deep in every_path(value[key], (*path, key))]
    if isinstance(value, list):
        places = range(len(value))
        return paths + [
            deep for place in places for deep in every_path(value[place], (*path, place))
        ]
    return paths


def gives_a_blend_or_bad_blend(document: object) -> None:
    try:
        blend = bk.Blend.from_dict(document)
    except bk.BadBlend:
        return
    assert sum(blend.oil_drops.values()) > 0
    assert blend.to_dict() == document


@settings(max_examples=500, deadline=None)
@given(json_values)
def test_any_json_gives_a_blend_or_a_refusal(document):
    gives_a_blend_or_bad_blend(document)


@settings(max_examples=1000, deadline=None)
@given(st.data())
def test_a_good_document_spoilt_in_places_gives_a_blend_or_a_refusal(data):
    # Random documents seldom get past the first check; these do
    paths = data.draw(
        st.lists(st.sampled_from(every_path(DOCUMENT)), min_size=1, max_size=3, unique=True)
    )
    document = copy.deepcopy(DOCUMENT)
    # Deepest first, so that a path is still there when its turn comes
    for path in sorted(paths, key=len, reverse=True):
        inner: Any = document
        for step in path[:-1]:
            inner = inner[step]
        inner[path[-1]] = data.draw(json_values)
    gives_a_blend_or_bad_blend(document)


# --- shared out to the strength -----------------------------------------------------------


def mixed(oils, strength_percent, basis, bottle_ml, drops_per_ml, note_parts):
    document = {
        "bottle": f"{bottle_ml} mL",
        "strength": f"{strength_percent} %",
        "strength_basis": basis,
        "drops_per_ml": drops_per_ml,
        "note_parts": note_parts,
        "oils": oils,
        "carriers": [{"id": "jojoba", "parts": 3}, {"id": "squalane", "parts": 1}],
    }
    try:
        return bk.Blend.from_dict(document)
    except bk.BadBlend as error:
        # For want of room: a bottle too small for a drop of each, or brim-full of oils. Any
        # other refusal is a fault and must not pass for a case left out.
        if {problem.where for problem in error.problems} != {"bottle"}:
            raise
        return None


three_oils = st.tuples(*(st.sampled_from(ids) for ids in (TOP, MIDDLE, BASE))).map(
    lambda ids: [
        {"id": oil_id, "note": note}
        for oil_id, note in zip(ids, ("top", "middle", "base"), strict=True)
    ]
)
ratios = st.fixed_dictionaries({note: st.integers(1, 9) for note in ("top", "middle", "base")})


@settings(deadline=None)
@given(
    three_oils,
    st.integers(1, 95),
    st.sampled_from(["drops", "volume", "mass"]),
    st.integers(1, 100),
    st.fixed_dictionaries(
        {name: st.floats(15, 45) for name in ("default", *TOP, *MIDDLE, *BASE)}
    ),
    ratios,
)
def test_strength_is_within_one_drop_of_the_wish(
    oils, strength_percent, basis, bottle_ml, drops_per_ml, note_parts
):
    blend = mixed(oils, strength_percent, basis, bottle_ml, drops_per_ml, note_parts)
    assume(blend is not None)
    filling = blend.bottle
    wish = strength_percent / 100
    # The bottle's largest drop is the yardstick, since any of the three may be the one too many
    largest_drop_ml = max(1 / drops_per_ml[oil["id"]] for oil in oils)
    heaviest = max(
        portion.mass_kg / portion.volume_m3 for portion in filling.portions if portion.volume_m3
    )
    one_drop = {
        "drops": 1 / (bottle_ml * drops_per_ml["default"]),
        "volume": largest_drop_ml / bottle_ml,
        "mass": largest_drop_ml * 1e-6 * heaviest / filling.mass_kg,
    }
    assert filling.actual_strength == pytest.approx(wish, abs=one_drop[basis] * (1 + 1e-9))


@settings(deadline=None)
@given(
    st.lists(st.sampled_from(OIL_IDS), min_size=4, max_size=9, unique=True),
    st.integers(1, 90),
    st.sampled_from(["volume", "mass"]),
    st.integers(5, 100),
    st.floats(15, 45),
    st.data(),
)
def test_strength_of_many_oils_misses_by_no_more_than_rounding_explains(
    oil_ids, strength_percent, basis, bottle_ml, drops_per_ml, data
):
    oils = [{"id": oil_id, "parts": data.draw(st.integers(1, 20))} for oil_id in oil_ids]
    usual = bk.oils()["note"]
    note_parts = {usual[oil_id]: data.draw(st.integers(1, 9)) for oil_id in oil_ids}
    blend = mixed(oils, strength_percent, basis, bottle_ml, drops_per_ml, note_parts)
    assume(blend is not None)
    filling = blend.bottle
    drop_ml = 1 / drops_per_ml
    if basis == "volume":
        # Every drop is equally large, so sharing them out changes nothing: half a drop is left
        one_drop = drop_ml / bottle_ml
    else:
        # Half a drop of the total, and what trading drops of lighter oil for heavier adds
        densities = [part.oil.density_kg_per_m3 for part in blend.oils]
        spread = (max(densities) - min(densities)) / min(densities)
        traded = sum(abs(portion.drops - portion.target_drops) for portion in filling.oils) / 2
        heaviest = max(p.mass_kg / p.volume_m3 for p in filling.portions if p.volume_m3)
        one_drop = (0.5 + traded * spread) * drop_ml * 1e-6 * heaviest / filling.mass_kg
    assert filling.actual_strength == pytest.approx(
        strength_percent / 100, abs=one_drop * (1 + 1e-9)
    )


@pytest.mark.parametrize("basis", ["drops", "volume", "mass"])
def test_a_fixed_count_does_not_spoil_the_strength(basis):
    # Lemon's drops are half as large as grapefruit's; the others have to make up for it
    document = changed(
        (("strength_basis",), basis),
        (("drops_per_ml",), {"default": 20, "lemon": 40}),
        (("bottle",), "50 mL"),
        (("oils", 3), {"id": "lemon", "drops": 30}),
    )
    filling = bk.Blend.from_dict(document).bottle
    # One drop of 1/20 mL in 50 mL; a mass fraction differs from that by the densities' ratio
    assert filling.actual_strength == pytest.approx(0.2, abs=1.3 * 0.05 / 50)


def test_headspace_and_botanicals_leave_less_to_fill():
    # 10 mL less 0.5 and 1.5 leave 8 mL: 160 drops, of which 20 % are 32
    document = changed((("headspace",), "0.5 mL"), (("botanicals",), "1.5 mL"))
    assert bk.Blend.from_dict(document).total_drops == 32


def test_a_bottle_of_nothing_but_oils():
    document = changed((("strength",), "100 %"), (("carriers",), []))
    blend = bk.Blend.from_dict(document)
    assert blend.total_drops == 200
    assert blend.bottle.actual_strength == pytest.approx(1)


# --- rules of the trade -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bottle", "drops_in_bottle", "drops_of_oil", "shared_out"),
    [
        # Common practice, no published source: 20 drops to the millilitre, so 10 mL hold 200
        # and 30 mL hold 600; a fifth of them is oil, shared 2 : 1 : 2
        ("10 mL", 200, 40, {"top": 16, "middle": 8, "base": 16}),
        ("30 mL", 600, 120, {"top": 48, "middle": 24, "base": 48}),
    ],
)
def test_common_practice_of_twenty_percent(bottle, drops_in_bottle, drops_of_oil, shared_out):
    full = bk.Blend.from_dict(changed((("bottle",), bottle), (("strength",), "100 %")))
    assert full.total_drops == drops_in_bottle
    document = changed((("bottle",), bottle), (("drops_per_ml",), NOTHING))
    blend = bk.Blend.from_dict(document)
    assert blend.total_drops == drops_of_oil
    by_note = {part.note: blend.oil_drops[part.oil.id] for part in blend.oils}
    assert by_note == shared_out


# --- the fields are what they say ---------------------------------------------------------


def test_fields_are_plain_numbers_in_si():
    blend = bk.Blend.from_dict(changed((("headspace",), "0.5 mL")))
    assert blend.bottle_m3 == pytest.approx(10e-6)
    assert blend.headspace_m3 == pytest.approx(0.5e-6)
    assert blend.liquid_m3 == pytest.approx(9.5e-6)
    assert blend.strength_fraction == pytest.approx(0.2)
    assert all(isinstance(part, OilPart) for part in blend.oils)
    assert all(isinstance(part, CarrierPart) for part in blend.carriers)


@pytest.mark.parametrize("oil_id", OIL_IDS)
def test_every_oil_on_record_can_be_mixed(oil_id):
    note = bk.oils().loc[oil_id, "note"]
    document = changed((("oils",), [{"id": oil_id}]), (("note_parts",), {note: 1}))
    assert bk.Blend.from_dict(document).oil_drops == {oil_id: 40}


@pytest.mark.parametrize("carrier_id", CARRIER_IDS)
def test_every_carrier_on_record_can_be_poured(carrier_id):
    document = changed((("carriers",), [{"id": carrier_id}]))
    assert [part.carrier.id for part in bk.Blend.from_dict(document).carriers] == [carrier_id]
