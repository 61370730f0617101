"""The belief after answers, against integration of the same model, and its laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from blendkit.choosing.answers import CANNOT_TELL, FIRST, SECOND, Belief, settle

NOTICED, ERROR = 0.2, 0.35


def alone(said, spread=1.0):
    start = Belief(np.zeros(1), np.array([[spread**2]]))
    slopes = np.ones((len(said), 1))
    return settle(start, lambda x: (slopes @ x, slopes), said, noticed=NOTICED, error=ERROR)


def density(x, said):
    high, low = norm.cdf((x - NOTICED) / ERROR), norm.cdf((-x - NOTICED) / ERROR)
    chance = {FIRST: high, SECOND: low, CANNOT_TELL: 1 - high - low}
    return norm.pdf(x) * np.prod([chance[each] for each in said])


@pytest.mark.parametrize(
    "said",
    [[FIRST], [SECOND] * 2, [FIRST, CANNOT_TELL, FIRST], [CANNOT_TELL] * 4, [1, -1, 1, 0]],
)
def test_the_belief_is_near_the_integral_of_the_model(said):
    whole = quad(density, -8, 8, args=(said,))[0]
    mean = quad(lambda x: x * density(x, said), -8, 8)[0] / whole
    square = quad(lambda x: x * x * density(x, said), -8, 8)[0] / whole
    found = alone(said)
    # the mode in place of the mean of a skew belief: half of its spread off, at most
    assert found.mean[0] == pytest.approx(mean, abs=0.5 * np.sqrt(square - mean**2))
    assert found.covariance[0, 0] == pytest.approx(square - mean**2, rel=0.45)


@pytest.mark.parametrize("said", [[FIRST], [FIRST, SECOND, FIRST, CANNOT_TELL]])
def test_it_is_where_the_model_is_highest(said):
    highest = max(np.linspace(-4, 4, 8001), key=lambda x: density(x, said))
    assert alone(said).mean[0] == pytest.approx(highest, abs=2e-3)


answers = st.lists(st.sampled_from([FIRST, SECOND, CANNOT_TELL]), min_size=1, max_size=12)


@given(answers)
def test_swapping_the_two_turns_the_belief_round(said):
    here, turned = alone(said), alone([-each for each in said])
    assert here.mean == pytest.approx(-turned.mean, abs=1e-6)
    assert here.covariance == pytest.approx(turned.covariance, abs=1e-6)


@given(answers, st.sampled_from([FIRST, SECOND, CANNOT_TELL]))
def test_an_answer_never_widens_the_belief_by_much_and_pulls_its_way(said, more):
    before, after = alone(said), alone([*said, more])
    assert after.covariance[0, 0] < 1
    if more == FIRST:
        assert after.mean[0] >= before.mean[0] - 1e-6
    if more == SECOND:
        assert after.mean[0] <= before.mean[0] + 1e-6


@given(st.floats(0.5, 300), st.integers(1, 40))
def test_it_settles_however_wide_it_was_before(spread, count):
    found = alone([FIRST] * count, spread)
    assert np.isfinite(found.mean).all()
    assert found.mean[0] > 0
    assert 0 < found.covariance[0, 0] <= spread**2


def test_without_answers_nothing_is_learnt():
    start = Belief(np.zeros(1), np.eye(1))
    assert settle(start, lambda x: (x, np.eye(1)), [], noticed=0.2, error=0.3) is start
