"""Many films at the nodes of their clocks, against one film at a time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings

from blendkit.evaporation.film import film_amounts
from blendkit.evaporation.film_clock import Films
from blendkit.evaporation.film_nodes import NOTHING, Nodes, at_moments, last_above, nodes_of
from tests.evaporation.test_film import CARRIER, HOUR, MOLES, RATES, films

untimed = settings(deadline=None, max_examples=40)
DAY = 86_400.0


def drawn_rates(count):
    return RATES * np.exp(np.random.default_rng(5).normal(0, 0.8, (count, 6)))


@pytest.mark.parametrize("carrier", [CARRIER, CARRIER / 50, 0.0])
def test_times_moles_and_sums_at_nodes_are_those_of_one_film(carrier):
    rates = drawn_rates(12)
    weights = np.random.default_rng(6).uniform(0.1, 3, (12, 6))
    members = np.array([[1, 0, 1, 0, 0.5, 0], [0, 1, 0, 1, 0.5, 1]])
    nodes = nodes_of(Films(MOLES, np.float64(carrier), rates), 60, DAY, weights, members)
    whole = carrier + MOLES.sum()
    for draw in range(12):
        wet = nodes.is_there[draw] & (nodes.log_moles[draw] > np.log(1e-3))
        left = film_amounts(MOLES, carrier, rates[draw], nodes.elapsed[draw].astype(float))
        moles = (left.sum(axis=1) + carrier) / whole
        np.testing.assert_allclose(np.exp(nodes.log_moles[draw])[wet], moles[wet], rtol=0.01)
        sums = (left * weights[draw]) @ members.T
        start = sums[0]
        off = np.abs(nodes.sums[:, draw].T - sums)[wet] / start
        assert off.max() < 0.005
    assert (nodes.elapsed[:, 0] == 0).all()


@pytest.mark.parametrize("latest", [120, 600, HOUR, 3 * HOUR, 8 * HOUR, DAY, 3 * DAY])
def test_nodes_begin_before_the_first_moment_and_end_behind_the_last(latest):
    nodes = nodes_of(Films(MOLES, np.float64(CARRIER), drawn_rates(12)), 60, latest)
    assert (nodes.elapsed[:, 1] <= 60).all()
    assert (nodes.elapsed[:, -1] >= latest).all()


@untimed
@given(films(decades=4))
def test_time_only_goes_on(case):
    moles, carrier, rates, _ = case
    nodes = nodes_of(Films(moles, np.float64(carrier), rates[None]), 10, DAY)
    assert (np.diff(nodes.elapsed[0]) >= 0).all()
    assert (np.diff(nodes.log_moles[0]) <= 1e-6).all()


def by_hand(elapsed, logs):
    """Nodes of one draw at the times given, and one row of logarithms."""
    elapsed = np.array([elapsed], dtype=np.float32)
    there = np.ones_like(elapsed, dtype=bool)
    nodes = Nodes(elapsed, 0 * elapsed, elapsed, there, np.zeros((0, 1, 1), np.float32))
    return nodes, np.array([[logs]], dtype=np.float32)


def test_between_nodes_logarithms_are_straight_in_time_and_held_behind_the_last():
    nodes, logs = by_hand([0, 1, 3, 7], [0, -1, -5, -6])
    found = np.empty((1, 6, 1), dtype=np.float32)
    at_moments(nodes, logs, np.array([0, 0.5, 1, 2, 7, 9.0]), found)
    np.testing.assert_allclose(found[0, :, 0], [0, -0.5, -1, -3, -6, -6], atol=1e-6)


@pytest.mark.parametrize(
    ("logs", "when"),
    [
        ([0, -1, -5, -6], 1.5),  # -2 is a quarter of the way from -1 to -5, which takes 2
        ([0, -4, -1, -6], 3 + 4 / 5),  # what comes back has not gone
        ([0, -1, -1.5, -1.9], np.inf),
        ([-3, -4, -5, -6], 0),
        ([0, -1, NOTHING, NOTHING], 1 + 2 / 59),  # dry
    ],
)
def test_the_last_time_above_a_level(logs, when):
    nodes, rows = by_hand([0, 1, 3, 7], logs)
    assert last_above(nodes, rows, -2.0)[0, 0] == pytest.approx(when, rel=1e-5)
