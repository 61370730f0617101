"""Laws: a blend with mixtures equals the blend with what is in them; grams agree with drops."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import blendkit as bk
from blendkit.batch.ingredients import ingredients
from blendkit.batch.stock import Use, needed_m3
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.wear import film_of
from blendkit.materials import catalogue
from blendkit.materials.own_materials import read_all, version_id
from blendkit.skin.allergens import named_in
from blendkit.skin.check import findings_in

OILS = ("rose-otto", "bergamot", "clove-bud", "patchouli", "lavender", "oakmoss-absolute")
CARRIERS = ("jojoba", "castor", "squalane")
BASES = st.sampled_from(["mass", "volume", "drops"])
AMOUNTS = st.floats(0.05, 20)


def mixtures(inner):
    parts = st.lists(st.tuples(inner, AMOUNTS), min_size=1, max_size=3)
    return st.tuples(BASES, parts)


TREES = mixtures(st.recursive(st.sampled_from((*OILS, *CARRIERS)), mixtures, max_leaves=6))


def kept(tree, rows):
    """The id of a tree's material; its mixtures become rows as the store has them."""
    if isinstance(tree, str):
        return tree
    by, parts = tree
    amounts: dict[str, float] = {}
    for inner, amount in parts:
        key = kept(inner, rows)
        amounts[key] = amounts.get(key, 0.0) + amount
    name, document = f"mix {len(rows)}", {"kind": "mixture", "by": by, "parts": amounts}
    rows.append((name, document))
    return version_id(name, document)


def density(name):
    is_oil = name in OILS
    return (catalogue.oil(name) if is_oil else catalogue.carrier(name)).density_kg_per_m3


def worked_out(tree, kg):
    """Masses of oils and carriers in a mass of a tree, and its volume; by hand."""
    if isinstance(tree, str):
        return {tree: kg}, kg / density(tree)
    by, parts = tree
    per_m3 = [1.0 / worked_out(inner, 1.0)[1] for inner, _ in parts]
    weigh = {
        "mass": lambda a, _: a,
        "volume": lambda a, d: a * d,
        "drops": lambda a, d: a * d / 20,
    }
    masses = [weigh[by](amount, d) for (_, amount), d in zip(parts, per_m3, strict=True)]
    found, volume = {}, 0.0
    for (inner, _), mass in zip(parts, masses, strict=True):
        held, m3 = worked_out(inner, kg * mass / sum(masses))
        volume += m3
        for name, part in held.items():
            found[name] = found.get(name, 0.0) + part
    return found, volume


@pytest.fixture(scope="module", autouse=True)
def own_rows():
    """Own materials straight from rows: no store is opened for a hundred random ones."""
    before = catalogue._own[0]
    yield
    catalogue.use_own_materials(before)


def blends(tree, drops):
    """A blend with a mixture, and one by mass with its oils and carriers worked out by hand."""
    rows: list = []
    own, known = kept(tree, rows), read_all([], rows)
    catalogue.use_own_materials(lambda: known)
    with_mixture = bk.Blend(
        {"bottle": "10 mL", "strength": "20 %", "note_parts": {"middle": 1, "top": 1},
         "oils": [{"id": own, "note": "middle", "drops": drops},
                  {"id": "lavender", "note": "top", "drops": 30}],
         "carriers": [{"id": "jojoba"}]}
    )  # fmt: skip
    _, m3_of_a_kg = worked_out(tree, 1.0)
    held, _ = worked_out(tree, drops / 20e6 / m3_of_a_kg)
    plain = 30 / 20e6 * density("lavender")
    rest = (10e-6 - (drops + 30) / 20e6) * density("jojoba")
    note = {row.material.id: row.note for row in with_mixture.bottle.held}
    held["lavender"] = held.get("lavender", 0.0) + plain
    held["jojoba"] = held.get("jojoba", 0.0) + rest
    oils = [name for name in held if name in OILS]
    steps = {name: round(held[name] / 1e-9) for name in oils}
    step = f"{max(1, -(-max(steps.values()) // 900_000))} ug"
    size = float(step.split(maxsplit=1)[0]) * 1e-9
    # traces below it are left out: rounding by hand would show
    assume(min(held[name] for name in oils) > 400 * size)
    by_hand = bk.Blend(
        {"bottle": "11 mL", "strength": "20 %", "by": "mass", "step": step,
         "make": f"{sum(held.values()) * 1e3:.12g} g",
         "note_parts": dict.fromkeys({note[name] for name in oils}, 1),
         "oils": [{"id": n, "note": note[n], "drops": round(held[n] / size)} for n in oils],
         "carriers": [{"id": n, "parts": m} for n, m in held.items() if n not in OILS]}
    )  # fmt: skip
    return with_mixture, by_hand


CASES = settings(max_examples=12)


@CASES
@given(TREES, st.integers(1, 80))
def test_a_blend_with_mixtures_is_the_blend_with_what_is_in_them(tree, drops):
    mixed, by_hand = blends(tree, drops)
    mine, theirs = mixed.bottle.mass_fractions(), by_hand.bottle.mass_fractions()
    assert mixed.bottle.mass_kg == pytest.approx(by_hand.bottle.mass_kg, rel=1e-5)
    assert mine == pytest.approx(theirs, rel=1e-4, abs=2e-7)
    assert mixed.bottle.pure_oil_by_mass == pytest.approx(
        by_hand.bottle.strength_by_mass, rel=1e-4
    )
    shares, plain = (
        {f.rule.name: (f.share, f.share_typical) for f in findings_in(b.bottle)
         if not f.is_unknown and np.isfinite(f.share)}
        for b in (mixed, by_hand)
    )  # fmt: skip
    assert shares.keys() == plain.keys()
    for name, share in shares.items():
        assert share == pytest.approx(plain[name], rel=1e-3, abs=1e-4)


@CASES
@given(TREES, st.integers(1, 80))
def test_its_fade_label_and_stock_are_the_same(tree, drops):
    mixed, by_hand = blends(tree, drops)
    films = [film_of(b.bottle, Conditions()) for b in (mixed, by_hand)]
    amounts, rates = (
        [dict(zip((m.id for m in film.molecules), getattr(film, name), strict=True))
         for film in films] for name in ("moles", "loss_rates")
    )  # fmt: skip
    assert amounts[0] == pytest.approx(amounts[1], rel=5e-3, abs=1e-9)
    assert rates[0] == pytest.approx(rates[1], rel=5e-3)
    assert dict(zip(films[0].oils, films[0].notes, strict=True)) == dict(
        zip(films[1].oils, films[1].notes, strict=True)
    )
    labels, allergens = [], []
    for blend in (mixed, by_hand):
        fractions = blend.bottle.mass_fractions()
        labels.append({e.name: e.fraction for e in ingredients(blend, fractions, "EU").listed})
        named = named_in(blend.base_oils, fractions)
        allergens.append({each.label_name: each.amount for each in named})
    assert labels[0] == pytest.approx(labels[1], rel=5e-3, abs=1e-6)
    assert allergens[0] == pytest.approx(allergens[1], rel=5e-3, abs=1e-7)
    today = date(2026, 11, 30)
    taken = [
        needed_m3(Use(p.material, p.volume_m3, today) for p in blend.bottle.portions)
        for blend in (mixed, by_hand)
    ]
    assert taken[0] == pytest.approx(taken[1], rel=5e-3, abs=1e-12)


@settings(max_examples=40)
@given(
    st.lists(st.integers(1, 30), min_size=3, max_size=3),
    st.sampled_from(["10 mL", "30 mL"]),
    st.sampled_from(["0.01 g", "0.1 g", "0.001 g"]),
)
def test_a_blend_by_mass_is_whole_steps_of_the_scale_and_its_own_ratio(parts, bottle, step):
    document = {
        "bottle": bottle, "strength": "20 %", "by": "mass", "step": step,
        "note_parts": {"top": 1},
        "oils": [{"id": name, "note": "top", "parts": part}
                 for name, part in zip(OILS, parts, strict=False)],
        "carriers": [{"id": "jojoba", "parts": 3}, {"id": "castor", "parts": 1}],
    }  # fmt: skip
    blend = bk.Blend(document)
    grams = float(step.split()[0])
    masses = [p.mass_kg * 1e3 for p in blend.bottle.oils]
    assert [m / grams for m in masses] == pytest.approx([round(m / grams) for m in masses])
    for mass, part in zip(masses, parts, strict=True):
        assert mass == pytest.approx(sum(masses) * part / sum(parts), abs=grams * (1 + 1e-9))
    jojoba, castor = (p.mass_kg for p in blend.bottle.carriers)
    assert jojoba == pytest.approx(3 * castor)
    assert abs(sum(masses) - 0.2 * blend.bottle.mass_kg * 1e3) <= grams
    assert bk.Blend.from_dict(blend.to_dict()) == blend
    # the same bottle by drops: as many drops as its volumes come to, each of its own size
    counts = {p.material: blend.bottle.drops_like(p) for p in blend.bottle.oils}
    for portion in blend.bottle.oils:
        drop_g = density(portion.material) / 20e6 * 1e3
        assert counts[portion.material] * drop_g == pytest.approx(portion.mass_kg * 1e3)


@settings(max_examples=40)
@given(st.integers(1, 95), st.floats(1, 9), st.sampled_from(["0.01 g", "0.001 g"]))
def test_a_mass_to_make_is_made(percent, grams, step):
    blend = bk.Blend(
        {"bottle": "30 mL", "strength": f"{percent} %", "by": "mass", "step": step,
         "make": f"{grams} g", "note_parts": {"base": 1},
         "oils": [{"id": "patchouli", "note": "base"}],
         "carriers": [{"id": "jojoba"}]}
    )  # fmt: skip
    assert blend.bottle.mass_kg * 1e3 == pytest.approx(grams)
    half = float(step.split()[0]) / 2
    assert blend.bottle.strength_by_mass * grams == pytest.approx(
        percent / 100 * grams, abs=half * (1 + 1e-6)
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"make": "80 g"}, "the room in the bottle"),
        ({"by": "drops", "make": "8 g"}, '"by": "mass", with strength by mass'),
        ({"make": "nothing"}, "make: got"),
        ({"step": "1 kg"}, "up to 10 g"),
        ({"by": "spoons"}, "by: got"),
        ({"strength_basis": "drops"}, "one of volume, mass"),
        ({"oils": [{"id": "patchouli", "note": "base", "mass": "0.405 g"}]}, "whole steps"),
        ({"oils": [{"id": "patchouli", "note": "base", "mass": "x"}]}, "mass: got"),
        ({"by": "drops", "oils": [{"id": "patchouli", "mass": "1 g"}]}, '"by": "mass" in the'),
    ],
)
def test_what_cannot_be_weighed_is_refused_in_words(change, words):
    document = {
        "bottle": "10 mL", "strength": "20 %", "by": "mass", "note_parts": {"base": 1},
        "oils": [{"id": "patchouli"}], "carriers": [{"id": "jojoba"}],
    }  # fmt: skip
    with pytest.raises(bk.BadBlend, match=words):
        bk.Blend({**document, **change})


def test_grams_work_downstream():
    """The nearest blend, a batch, a label and the bench take a blend by mass."""
    blend = bk.Blend(
        {"bottle": "10 mL", "strength": "60 %", "by": "mass", "make": "8 g",
         "note_parts": {"base": 1, "top": 1},
         "oils": [{"id": "clove-bud", "note": "base"}, {"id": "bergamot", "note": "top"}],
         "carriers": [{"id": "jojoba"}]}
    )  # fmt: skip
    assert bk.verdict(blend).over
    near = bk.nearest_within_limits(blend)
    assert not bk.verdict(near).over
    assert near.bottle.mass_kg == pytest.approx(8e-3)
    assert all(w.way == "grams" for w in bk.scale(near, "8 × 10 mL").weighings)
    assert set(bk.drop_table(near)["drops"].isna()) == {True}
    assert bk.label(near).ingredients.listed
