"""The nearest blend without an oil: every other one tried, published lists, laws, words."""

import csv
import itertools
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.blend.blend import Blend
from blendkit.choosing.same_smell import NEAR, relatives, replace_oil
from blendkit.choosing.scents import scents_of
from blendkit.evaporation.design import with_more_oils
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import BadNumber
from blendkit.materials import catalogue
from blendkit.skin import check
from blendkit.skin.counted_bottle import CountedBottle
from blendkit.skin.reformulation import Infeasible
from tests.tools.skin import blend_of

LISTS = Path(__file__).parents[1] / "published" / "substitutions.csv"
LISTED = list(csv.DictReader(LISTS.read_text(encoding="utf-8").splitlines()))
NEAREST = 5  # of all oils on record
# some without a limit in reach, some that a limit holds down to a drop or to none
POOL = (
    "lavender", "petitgrain", "geranium", "patchouli", "lemon", "bergamot", "cinnamon-bark",
    "clove-bud", "lemongrass", "litsea-cubeba", "lavandin-grosso", "oakmoss-absolute",
)  # fmt: skip
PLENTY, A_DROP = 1e-5, 6e-8


def example():
    return Blend(example_document())


@st.composite
def shelves(draw):
    names = draw(st.lists(st.sampled_from(POOL), min_size=4, max_size=4, unique=True))
    own, more = names[: draw(st.integers(2, 3))], names[3:]
    counts = {name: draw(st.integers(1, 4)) for name in own}
    blend = blend_of(own).with_(drops=counts)
    left = {name: draw(st.sampled_from([PLENTY, A_DROP])) for name in [*own, *more]}
    return blend, own[0], left, draw(st.integers(1, 3))


def every_replacement(blend, missing, left, most_changed):
    """Overlap of the best whole drops, by trying them all."""
    start = with_more_oils(blend, [name for name in left if name not in check.not_for_skin()])
    bottle = CountedBottle(start, check.rules_in(start), {})
    scents, place = scents_of(bottle), bottle.ids.index(missing)
    weights, target = scents.weights(bottle.drops[place]), scents.amounts
    tops = [
        0 if name == missing
        else max(min(bottle.drops.sum(), int(left[name] / drop_m3 + 1e-9)), now)
        for name, drop_m3, now in zip(bottle.ids, bottle.drop_m3, bottle.drops, strict=True)
    ]  # fmt: skip
    found = []
    for drops in itertools.product(*(range(top + 1) for top in tops)):
        changed = sum(a != b for a, b in zip(drops, bottle.drops, strict=True)) - 1
        if sum(drops) > 0 and changed <= most_changed:
            away = np.abs(np.array(drops) @ scents.per_drop - target) @ weights
            found.append((away, drops))
    for away, drops in sorted(found):
        counts = np.array(drops)
        if not bottle.over(counts) and bottle.has_room(counts):
            return max(1 - away, 0.0)
    return None


@settings(max_examples=40)
@given(shelves())
def test_no_other_whole_drops_keep_more_of_the_smell(asked):
    blend, missing, left, most_changed = asked
    best = every_replacement(blend, missing, left, most_changed)
    if best is None:
        with pytest.raises(Infeasible):
            replace_oil(blend, missing, left, most_changed=most_changed)
        return
    found = replace_oil(blend, missing, left, most_changed=most_changed, longest_s=60.0)
    assert found.overlap == pytest.approx(best, abs=1e-4)
    assert found.overlap <= best + 1e-9
    assert found.bound - found.overlap < 1e-4 or found.overlap == 0


@settings(max_examples=15)
@given(st.data())
def test_what_is_found_keeps_every_condition(data):
    blend = example()
    missing = data.draw(st.sampled_from(list(blend.oil_drops)))
    oils = data.draw(st.lists(st.sampled_from(catalogue.oil_ids()), max_size=12, unique=True))
    barred, most = data.draw(st.sets(st.sampled_from(POOL))), data.draw(st.integers(0, 3))
    found = replace_oil(
        blend, missing, dict.fromkeys(oils, 2 * A_DROP), excluded=barred, most_changed=most
    )
    made = {name: count for name, count in found.blend.oil_drops.items() if count}
    assert missing not in made
    come_in = set(made) - set(blend.oil_drops)
    assert come_in <= set(oils) - barred - set(check.not_for_skin())
    changed = [
        n for n in {*blend.oil_drops, *made} if made.get(n, 0) != blend.oil_drops.get(n, 0)
    ]
    assert len(changed) - 1 <= most
    fractions = found.blend.bottle.mass_fractions()
    assert not any(rule.is_broken_by(fractions) for rule in check.rules_in(found.blend))
    for name in come_in:
        portion = next(p for p in found.blend.bottle.oils if p.material == name)
        assert portion.volume_m3 <= 2 * A_DROP
    assert 0 <= found.overlap <= found.bound + 1e-6


@cache
def ranked(oil):
    return relatives(oil, catalogue.oil_ids(), example())


@pytest.mark.parametrize("row", LISTED, ids=lambda row: f"{row['oil']}-{row['substitute']}")
def test_relatives_beside_the_lists_of_the_trade(row, beside_published):
    rank = list(ranked(row["oil"])).index(row["substitute"]) + 1
    rank = min(rank, 4 * NEAREST)  # far down the overlaps are all nothing, in any order
    beside_published(
        f"rank of {row['substitute']} among the relatives of {row['oil']}, 20 at most",
        rank, 1, 1, NEAREST, missed=row["missed"], source=f"{row['source']} ({row['grade']})",
    )  # fmt: skip


def test_an_oil_is_its_own_nearest_relative_by_another_name():
    lot = {name: overlap for name, overlap in ranked("lavender").items() if overlap > 0.999}
    assert not lot  # no two oils on record are one
    assert all(0 <= overlap <= 1 for overlap in ranked("lavender").values())
    assert list(ranked("lavender").values()) == sorted(
        ranked("lavender").values(), reverse=True
    )


def test_a_shelf_without_a_relative_is_said_to_have_none():
    found = replace_oil(example(), "patchouli", {"lemon": PLENTY, "clove-bud": PLENTY})
    assert not found.is_near
    assert found.relative_overlap < NEAR
    assert found.sentences[0] == "No near relative of Patchouli is on your shelf."


def test_no_more_is_taken_than_the_shelf_holds():
    plenty = replace_oil(example(), "lavender", {"lavandin-grosso": PLENTY})
    scarce = replace_oil(example(), "lavender", {"lavandin-grosso": A_DROP})
    assert plenty.blend.oil_drops["lavandin-grosso"] > 1
    assert scarce.blend.oil_drops.get("lavandin-grosso", 0) <= 1
    assert scarce.overlap < plenty.overlap


def test_without_stock_on_record_the_catalogue_counts_and_it_says_so():
    found = replace_oil(example(), "lavender", None)
    assert found.is_near
    assert found.sentences[-1] == "No stock is on record: the whole catalogue counts."


def test_what_is_lost_and_gained_adds_up():
    found = replace_oil(example(), "petitgrain", dict.fromkeys(POOL, PLENTY))
    away = sum(abs(change.after - change.before) for change in found.changes)
    assert 1 - away == pytest.approx(found.overlap, abs=0.01)
    sizes = [abs(change.after - change.before) for change in found.changes]
    assert sizes == sorted(sizes, reverse=True)
    assert any(words.startswith("Lost: ") for words in found.sentences)


def test_each_hour_keeps_and_loses_all_there_was():
    found = replace_oil(example(), "petitgrain", dict.fromkeys(POOL, PLENTY))
    kept, lost, gained = found.hourly
    assert kept + lost == pytest.approx(np.ones(len(kept)))
    assert (gained >= 0).all()
    assert gained.any()


def test_the_solver_prints_nothing(capfd):
    replace_oil(example(), "lavender", None)  # of which it would print eight lines
    assert capfd.readouterr().out == ""


def test_a_search_that_is_cut_short_says_how_far_it_may_be_off(monkeypatch):
    from scipy import optimize

    solve = optimize.milp

    def cut_short(*given, **named):
        found = solve(*given, **named)
        found.mip_dual_bound -= 0.05  # as HiGHS leaves it where time is up
        return found

    monkeypatch.setattr(optimize, "milp", cut_short)
    found = replace_oil(example(), "lavender", dict.fromkeys(POOL, PLENTY))
    assert found.bound - found.overlap > 1e-4
    gap = "The best found in 2 s; a nearer one could keep at most"
    assert any(words.startswith(gap) for words in found.sentences)


def test_an_oil_that_is_not_in_the_blend_is_refused():
    with pytest.raises(BadNumber, match="an oil of this blend"):
        replace_oil(example(), "lavander", None)
