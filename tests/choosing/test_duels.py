"""Sniff duels: recipes inside the limits, laws of the liking, and noses that are known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.blend.blend import Blend
from blendkit.choosing.answers import CANNOT_TELL, FIRST, SECOND
from blendkit.choosing.duels import (
    NOTICED,
    Duel,
    Recipes,
    favourite,
    for_two,
    liking,
    next_duel,
    recipes_of,
    sentences,
    surprise,
)
from blendkit.foundation.data import example_document
from blendkit.foundation.errors import BadNumber
from blendkit.skin import check
from tests.tools.skin import blend_of

LINE = Recipes(("a", "b"), np.array([(count, 12 - count) for count in range(13)]))
DUELS = st.lists(
    st.tuples(st.integers(0, 12), st.integers(0, 12), st.sampled_from([FIRST, SECOND, 0]))
    .filter(lambda duel: duel[0] != duel[1])
    .map(lambda duel: Duel(*duel)),
    max_size=10,
)


def test_recipes_keep_the_limits_of_the_bottle():
    blend = blend_of(["lavender", "lemongrass", "clove-bud"], strength="4 %").with_(
        drops={"lavender": 8, "lemongrass": 0, "clove-bud": 0}
    )
    found = recipes_of(blend, 16)
    rules = check.rules_in(blend)
    allowed = 0
    for counts in found.drops:
        assert counts.sum() == 16
        halves = dict(zip(found.oils, counts.tolist(), strict=True))
        if all(count % 2 == 0 for count in halves.values()):
            made = blend.with_(drops={name: count // 2 for name, count in halves.items()})
            allowed += 1
            assert not any(rule.is_broken_by(made.bottle.mass_fractions()) for rule in rules)
    assert allowed > 0
    barred = blend.with_(drops={"lavender": 0, "lemongrass": 0, "clove-bud": 8})
    assert any(rule.is_broken_by(barred.bottle.mass_fractions()) for rule in rules)


def test_recipes_occur_once_and_begin_with_the_blend():
    found = recipes_of(Blend(example_document()), 20)
    assert len(found.drops) == len(np.unique(found.drops, axis=0)) == 400
    blend = Blend(example_document())
    shares = [blend.oil_drops[name] / 2 for name in found.oils]
    assert np.abs(found.drops[0] - shares).max() <= 1


@pytest.mark.parametrize("total", [0, 1, 201])
def test_a_total_that_cannot_be_smelt_is_refused(total):
    with pytest.raises(BadNumber):
        recipes_of(Blend(example_document()), total)


def test_a_blend_over_a_limit_is_no_start():
    with pytest.raises(BadNumber, match="a start within the limits"):
        recipes_of(blend_of(["cinnamon-bark", "lavender"]), 10)


@settings(max_examples=50)
@given(DUELS)
def test_turning_every_duel_round_changes_nothing(duels):
    here = liking(LINE, duels)
    turned = liking(LINE, [Duel(duel.second, duel.first, -duel.said) for duel in duels])
    assert here.mean == pytest.approx(turned.mean, abs=1e-6)
    assert (here.covariance.diagonal() <= 1 + 1e-6).all()


@settings(max_examples=50)
@given(DUELS)
def test_the_next_duel_is_between_the_favourite_and_a_bottle_not_yet_made(duels):
    coming = next_duel(LINE, duels)
    tried = {place for duel in duels for place in duel[:2]} or {0}
    assert coming.first in tried
    assert coming.first == favourite(LINE, duels)[0]
    assert coming.second not in tried or len(tried) == len(LINE.drops)
    assert coming.gain >= 0
    assert 0 < favourite(LINE, duels)[1] <= 1
    assert surprise(LINE, duels) not in tried or len(tried) == len(LINE.drops)


def test_what_wins_every_duel_is_the_favourite_and_near_recipes_gain():
    duels = [Duel(6, place, FIRST) for place in (0, 2, 10, 12)]
    belief = liking(LINE, duels)
    assert favourite(LINE, duels)[0] == 6
    assert favourite(LINE, duels)[1] > 0.5
    assert belief.mean[5] > belief.mean[1]


def test_a_nose_that_tells_nothing_apart_is_told_to_stop():
    duels = [Duel(a, b, CANNOT_TELL) for a in range(0, 13, 2) for b in range(0, a, 2)] * 3
    assert next_duel(LINE, duels).is_enough
    assert sentences(LINE, duels, "417")[-1].startswith("Stop here")
    assert not next_duel(LINE, []).is_enough


def test_the_first_surprise_is_the_farthest_from_the_start():
    assert surprise(LINE, []) == 12


def test_it_finds_what_a_steady_nose_likes():
    truth = -np.abs(LINE.drops[:, 0] - 9) / 3
    duels = []
    for _ in range(8):
        coming = next_duel(LINE, duels)
        gap = truth[coming.first] - truth[coming.second]
        said = FIRST if gap > NOTICED else SECOND if gap < -NOTICED else CANNOT_TELL
        duels.append(Duel(coming.first, coming.second, said))
    assert abs(int(LINE.drops[favourite(LINE, duels)[0], 0]) - 9) <= 1


def test_two_noses_meet_in_the_middle_or_agree():
    likes_few = [Duel(1, 11, FIRST), Duel(6, 11, FIRST), Duel(1, 6, FIRST)]
    likes_many = [Duel(1, 11, SECOND), Duel(6, 1, FIRST), Duel(11, 6, FIRST)]
    place, words = for_two(LINE, likes_few, likes_many)
    assert place == 6
    assert words.startswith("A middle way")
    assert for_two(LINE, likes_few, likes_few) == (1, "Both noses like the same bottle best.")
