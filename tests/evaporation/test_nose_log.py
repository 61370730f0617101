"""Learning a clock from smells: it comes back, it narrows, and odd smells do not rule."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, t

from blendkit import example_document
from blendkit.blend.blend import Blend
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.forecast import forecast, lasting_of
from blendkit.evaporation.nose_entries import NoseLog, Smell, read_log
from blendkit.evaporation.nose_log import (
    PRIOR_SPREAD,
    _class_of,
    _level_log,
    _log_strength_at,
    learn,
    sentences,
)
from blendkit.evaporation.uncertainty import Clock, Uncertainty, volatility_class
from blendkit.evaporation.wear import film_of
from blendkit.foundation.errors import BadBlend, BadNumber
from blendkit.journal.records import Impression, Version
from blendkit.journal.store import now, open_journal
from blendkit.keeping.nose_logs import (
    keep_log,
    kept_logs,
)

few = settings(deadline=None, max_examples=6)
INVENTED = Blend.from_dict(example_document())
FILM = film_of(INVENTED.bottle, Conditions())
PLAIN = forecast(FILM, np.geomspace(0.01, 72, 400), 2)


def smells_of(factor, hours, groups=("top", "middle")):
    """What a nose would write down if all times were `factor` times longer."""
    made = []
    for group in groups:
        for hour in hours:
            strength = PLAIN.strength[PLAIN.place(group)]
            rating = float(np.interp(hour, PLAIN.hours, strength)) * 10
            made.append(Smell(group, hour * factor * 60, min(rating, 10.0)))
    return NoseLog(INVENTED, Conditions(), tuple(made))


@few
@given(st.floats(0.4, 2.5))
def test_the_clock_behind_the_smells_comes_back(factor):
    clock = learn([smells_of(factor, (0.3, 1, 2.5))])
    # within what the nose cannot settle: vapour pressures stay uncertain
    assert abs(math.log(clock.factor / factor)) < 1.2 * math.log(clock.spread)
    assert clock.factor == pytest.approx(factor, rel=0.45)
    assert clock.spread < PRIOR_SPREAD


def test_nothing_logged_teaches_nothing():
    assert learn([]) is None
    assert learn([NoseLog(INVENTED, Conditions(), ())]) is None
    assert "plain" in sentences(None)[0]


def test_more_smells_narrow_the_clock():
    spreads = [learn([smells_of(1.5, hours)]).spread for hours in ((1,), (0.3, 1, 2.5))]
    assert PRIOR_SPREAD > spreads[0] > spreads[1] > 1.2


def test_earlier_gone_means_a_faster_clock():
    factors = [
        learn([NoseLog(INVENTED, Conditions(), (Smell("top", minutes, "gone"),))]).factor
        for minutes in (20, 60, 180, 540)
    ]
    assert factors == sorted(factors)
    assert factors[0] < 1 < factors[-1]


def test_a_weak_smell_is_earlier_in_the_fade_than_a_gone_one():
    weak, gone = (
        learn([NoseLog(INVENTED, Conditions(), (Smell("middle", 90, what),))]).factor
        for what in ("weak", "gone")
    )
    assert weak > gone


def test_a_base_that_leads_early_means_a_faster_clock():
    early, late = (
        learn([NoseLog(INVENTED, Conditions(), (Smell("base", m, "strongest"),))]).factor
        for m in (10, 600)
    )
    assert early < late


def test_one_odd_smell_does_not_rule():
    log = smells_of(1.0, (0.3, 1, 2.5))
    odd = NoseLog(INVENTED, Conditions(), (*log.smells, Smell("top", 2, "gone")))
    assert learn([odd]).factor == pytest.approx(learn([log]).factor, rel=0.25)


def test_enough_smells_teach_a_factor_for_a_class():
    # light notes gone early, heavy ones late: one clock cannot say both
    light = [Smell("bergamot-fcf", m, r) for m, r in ((5, 4), (10, 3), (15, 2), (30, "gone"))]
    heavy = [Smell("patchouli", m, 10) for m in (300, 480, 600, 720)]
    clock = learn([NoseLog(INVENTED, Conditions(), tuple(light + heavy))])
    assert clock.events == 8
    assert "light" in clock.of_class
    assert clock.of_class["light"][0] < 1
    assert any("Light molecules go" in line for line in sentences(clock))


def test_the_forecast_moves_and_narrows():
    clock = learn([smells_of(0.5, (0.3, 1, 2.5))])
    plain, learnt = (lasting_of(FILM, 256, clock=known) for known in (None, clock))
    top = plain.groups.index("bergamot-fcf")
    assert learnt.hours[top] < plain.hours[top]
    widths = [np.std(np.log(each.draws[top])) for each in (plain, learnt)]
    assert widths[1] < widths[0]


def test_what_was_learnt_reads_as_a_sentence():
    text = " ".join(sentences(learn([smells_of(0.5, (0.3, 1, 2.5))])))
    assert "shorter than the plain forecast" in text
    assert "from 6 smells" in text


# --- against the same belief worked out from scratch ----------------------------------------

FACTORS = np.exp(np.linspace(-math.log(30), math.log(30), 69))
ONLY_MOLECULES = Uncertainty(air=1, load=1, uptake=1, temperature_k=0, dilution=1)
# How a smell reads as strength and how far noses differ: the judgements of the model
WEAK, LEVEL_ERROR, WORST_RATING, TOLD_APART, ONE_DAY = 0.35, 1.6, 1.5, 1.25, 1.25


def likelihood_of(smell, found, at):
    """How likely one smell is in each draw, at one of the hours of a forecast."""
    notes = found.rows("note")
    levels = np.exp(found.log_draws.astype(float))
    mine = levels[found.place(smell.group)]
    if smell.what == "strongest":
        others = np.delete(levels[notes, at], found.place(smell.group), axis=0).max(axis=0)
        return norm.cdf(np.log(mine[at] / others) / math.log(TOLD_APART))
    if smell.what == "gone":
        return t.pdf(np.log(mine[at] / found.gone) / math.log(LEVEL_ERROR), 4)
    strength = mine[at] / mine[0]
    if smell.what == "weak":
        return t.pdf(np.log(strength / WEAK) / math.log(LEVEL_ERROR), 4)
    return t.pdf((10 * np.minimum(strength, math.exp(0.3)) - smell.what) / WORST_RATING, 4)


def belief_of(smells, centre, width):
    """Mean and spread of the logarithm of the clock: a bell before, each smell weighed in."""
    hours = np.array([0, *sorted({smell.minutes / 60 for smell in smells})])
    chances = []
    for factor in FACTORS:
        found = forecast(FILM, hours / factor, 128, uncertainty=ONLY_MOLECULES)
        of_draws = 1.0
        for smell in smells:
            at = int(np.flatnonzero(hours == smell.minutes / 60)[0])
            of_draws = of_draws * likelihood_of(smell, found, at)
        chances.append(np.mean(of_draws))
    weights = np.array(chances) * norm.pdf(np.log(FACTORS), centre, width)
    weights /= weights.sum()
    mean = weights @ np.log(FACTORS)
    return mean, math.sqrt(weights @ (np.log(FACTORS) - mean) ** 2)


def own_smells(smells):
    """The same smells when the plain forecast has them, from a fine grid; else left out."""
    hours = np.geomspace(0.001, 2000, 6000)
    plain = forecast(FILM, hours, 2)
    own = []
    for smell in smells:
        levels = plain.levels[plain.place(smell.group)]
        level = {"gone": plain.gone, "weak": WEAK * levels[0], "strongest": np.inf}.get(
            smell.what
        )
        level = max(smell.what / 10, 0.01) * levels[0] if level is None else level
        above = np.flatnonzero(levels >= level)
        if above.size and above[-1] + 1 < levels.size and above[-1] > 0:
            own.append(Smell(smell.group, 60 * float(plain.hours[above[-1]]), smell.what))
    return own


def relative_belief(smells):
    """What smells teach beyond what the forecast's own would."""
    mean, spread = belief_of(smells, 0.0, PRIOR)
    own = own_smells(smells)
    own_mean, own_spread = belief_of(own, 0.0, PRIOR) if own else (0.0, PRIOR)
    return (mean, spread), (own_mean, own_spread)


# air a factor of 2.2, load one of 1.8, and 2 K of warmth, which is 0.14 in the logarithm
PRIOR = math.hypot(math.log(2.2), math.log(1.8), 0.14)


@pytest.mark.parametrize(
    "smells",
    [
        (Smell("top", 25, "gone"),),
        (Smell("whole", 600, "weak"),),
        (Smell("lavender", 40, 4), Smell("base", 240, 9.5)),
        (Smell("base", 200, "strongest"), Smell("middle", 90, 0)),
        (Smell("middle", 10, "strongest"), Smell("top", 5, "strongest")),
    ],
)
def test_the_clock_is_what_the_smells_and_the_expectation_make_of_it(smells):
    clock = learn([NoseLog(INVENTED, Conditions(), smells)])
    (mean, spread), (own, _) = relative_belief(smells)
    assert math.log(clock.factor) == pytest.approx(mean - own, abs=0.05)
    # no two wearings are alike
    next_time = math.hypot(spread, math.log(ONE_DAY))
    assert math.log(clock.spread) == pytest.approx(next_time, rel=0.03)
    assert (clock.events, clock.of_class) == (len(smells), {})


def test_between_the_hours_of_a_forecast_strength_follows_the_logarithm_of_time():
    # a strength of one over the hours is a straight line in logarithms, held at both ends
    hours = np.array([0, 0.1, 0.2, 0.5, 1, 3])
    strength = np.array([40, *(1 / hours[1:])])
    found = SimpleNamespace(hours=hours, log_draws=np.log(strength)[None, :, None])
    asked = np.array([0.01, 0.1, 0.15, 0.3, 0.7, 2, 3, 50])
    got = _log_strength_at(found, 0, np.log(asked))[:, 0]
    np.testing.assert_allclose(got, -np.log(np.clip(asked, 0.1, 3)), atol=1e-12)


@pytest.mark.parametrize(
    ("strength", "what", "away"),
    [
        # gone is at the forecast's own level, the others beside a start of 10
        (1.4, "gone", 0), (1.4 * 1.6, "gone", 1), (3.5 / 1.6, "weak", -1),
        # a rating of 4 is 0.4 of the start; one and a half of ten away is one error
        (4, 4, 0), (5.5, 4, 1),
        # what has risen above its start is told as stronger, but not without end
        (11.5, 10, 1), (50, 10, (10 * math.exp(0.3) - 10) / 1.5),
    ],
)  # fmt: skip
def test_a_smell_is_as_likely_as_it_is_near(strength, what, away):
    # Student's t with 4 degrees of freedom is (1 + t^2 / 4)^(-5/2) of its height at 0
    found = SimpleNamespace(
        gone=1.4, log_draws=np.full((1, 1, 1), math.log(10)), place=lambda _: 0
    )
    got = float(_level_log(found, Smell("top", 5, what), np.array([math.log(strength)]))[0])
    assert got == pytest.approx(-2.5 * math.log(1 + away**2 / 4), abs=1e-12)


def test_a_group_belongs_to_the_class_that_most_of_its_vapour_is_of():
    light, heavy = (SimpleNamespace(vapour_pressure_pa=pa) for pa in (200.0, 0.1))
    # one oil: nine parts of a heavy molecule and one of a light one, 9 x 2 beside 1 x 5 of
    # vapour; the other oil holds the light one alone
    film = SimpleNamespace(
        oils=("one", "two"), notes=("top", "base"), molecules=(heavy, light),
        share_of_oil=np.array([[1, 0.5], [0, 0.5]]), moles=np.array([9.0, 2.0]),
        activity=np.array([2.0, 1.0]), vapour_pressures_pa=np.array([1.0, 5.0]),
    )  # fmt: skip
    found = SimpleNamespace(film=film)
    classes = {group: _class_of(found, group) for group in ("one", "two", "top", "base")}
    kinds = {"heavy": volatility_class(0.1), "light": volatility_class(200.0)}
    assert classes == {
        "one": kinds["heavy"], "top": kinds["heavy"],
        "two": kinds["light"], "base": kinds["light"],
    }  # fmt: skip
    assert len(set(kinds.values())) == 2


def test_a_class_has_a_factor_on_top_of_the_common_clock():
    light = tuple(
        Smell("bergamot-fcf", m, r) for m, r in ((5, 4), (10, 3), (15, 2), (30, "gone"))
    )
    heavy = tuple(Smell("patchouli", m, 10) for m in (300, 480, 600))
    clock = learn([NoseLog(INVENTED, Conditions(), (*light, *heavy, Smell("whole", 60, 5)))])
    (mean, spread), (own_mean, own_spread) = relative_belief(
        (*light, *heavy, Smell("whole", 60, 5))
    )
    of_light, left = belief_of(light, mean, math.hypot(math.log(1.5), spread))
    agreeing = own_smells(light)
    at, _ = belief_of(agreeing, own_mean, math.hypot(math.log(1.5), own_spread))
    # four smells are enough and three are not; those of the whole belong to no class
    assert list(clock.of_class) == ["light"]
    factor, beyond = clock.of_class["light"]
    assert math.log(factor) == pytest.approx(of_light - mean - (at - own_mean), abs=0.06)
    assert math.log(beyond) ** 2 == pytest.approx(max(left**2 - spread**2, 0), abs=0.02)


def test_smells_of_one_class_alone_teach_no_factor_of_a_class():
    light = tuple(Smell("bergamot-fcf", m, "gone") for m in (20, 30, 40, 50, 60))
    assert learn([NoseLog(INVENTED, Conditions(), light)]).of_class == {}


@pytest.mark.parametrize(
    ("clock", "lines"),
    [
        (
            Clock(1.5, 1.25, {"light": (0.8, 1.1), "heavy": (1.5, 1.1)}, 1),
            [
                "On you, blends last about 1.5 times longer than the plain forecast says; with "
                "two chances in three between 1.2 and 1.9 times as long, from 1 smell.",
                # 1 / 0.8
                "Light molecules go 1.2 times faster on top.",
                "Heavy molecules go 1.5 times slower on top.",
            ],
        ),
        (
            Clock(0.5, 2.0, {}, 3),
            [
                "On you, blends last about 2 times shorter than the plain forecast says; with "
                "two chances in three between 0.25 and 1 times as long, from 3 smells.",
            ],
        ),
    ],
)
def test_a_clock_reads_as_its_figures(clock, lines):
    assert sentences(clock) == lines


# --- documents ----------------------------------------------------------------------------

DOCUMENT = {
    "blend": example_document(),
    "conditions": {"film": "10 g/m**2"},
    "smells": [{"group": "top", "minutes": 25, "what": "gone"}],
}


def test_a_document_is_read():
    log = read_log(DOCUMENT)
    assert log.smells == (Smell("top", 25.0, "gone"),)
    assert log.conditions.film_kg_per_m2 == pytest.approx(0.01)


def test_every_problem_is_listed_at_once():
    bad = [
        {"group": "topp", "minutes": 25, "what": "gone"},
        {"group": "top", "minutes": -5, "what": "gonne"},
        {"group": "lavender", "minutes": 5, "what": "strongest"},
        {"group": "top", "minutes": "soon", "what": 11},
        "top gone",
    ]
    with pytest.raises(BadNumber) as caught:
        read_log(DOCUMENT | {"smells": bad, "conditions": {"wind": 1}})
    assert len(caught.value.problems) == 8
    assert 'Did you mean "top"?' in str(caught.value)
    assert 'Did you mean "gone"?' in str(caught.value)


@pytest.mark.parametrize(
    ("minutes", "what"), [(2880, "gone"), (0.1, 0), (1, 10), (1, 0.5), (1, "strongest")]
)
def test_minutes_and_ratings_reach_to_their_ends(minutes, what):
    entry = {"group": "top", "minutes": minutes, "what": what}
    assert read_log(DOCUMENT | {"smells": [entry]}).smells == (Smell("top", minutes, what),)


@pytest.mark.parametrize(
    "entry",
    [
        {"minutes": 2881}, {"minutes": 0}, {"minutes": True}, {"minutes": None},
        {"what": 10.1}, {"what": -0.1}, {"what": True}, {"what": None},
        {"group": "whole", "what": "strongest"}, {"group": None}, {"group": "lemon"},
    ],
)  # fmt: skip
def test_one_bad_field_is_one_problem(entry):
    smells = [DOCUMENT["smells"][0], DOCUMENT["smells"][0] | entry]
    with pytest.raises(BadNumber) as caught:
        read_log(DOCUMENT | {"smells": smells})
    [problem] = caught.value.problems
    assert problem.where.startswith("smell 2, ")


def test_an_oil_that_gets_no_drop_cannot_be_smelt():
    document = example_document()
    document["oils"].append({"id": "lemon", "drops": 0})
    entry = {"group": "lemon", "minutes": 5, "what": "gone"}
    with pytest.raises(BadNumber, match="an oil of this blend"):
        read_log({"blend": document, "smells": [entry]})


@pytest.mark.parametrize("document", [{}, [], "log", {"blend": example_document()}])
def test_what_is_no_log_is_refused(document):
    with pytest.raises(BadNumber, match="blend and smells"):
        read_log(document)


@pytest.mark.parametrize("key", ["smells", "conditions"])
@pytest.mark.parametrize("value", [None, 3, "gone", True])
def test_smells_and_conditions_that_are_none_are_refused(key, value):
    with pytest.raises(BadNumber, match="a list of smells"):
        read_log(DOCUMENT | {key: value})


def test_a_broken_blend_is_refused():
    with pytest.raises(BadBlend):
        read_log(DOCUMENT | {"blend": {}})


@pytest.fixture
def journal(tmp_path, monkeypatch):
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path))
    with open_journal() as journal:
        yield journal


def test_logs_are_kept_as_impressions_of_the_version_that_was_worn(journal):
    assert kept_logs(journal) == []
    log = keep_log(journal, DOCUMENT)
    (version,) = journal.all(Version)
    assert version.document == DOCUMENT["blend"]
    (impression,) = journal.all(Impression)
    assert (impression.version_id, impression.smell) == (version.id, "gone")
    assert kept_logs(journal) == [log]
    assert learn(kept_logs(journal)).events == 1


def test_a_second_wearing_of_the_same_blend_is_another_log_of_the_same_version(journal):
    strong = DOCUMENT | {"smells": [{"group": "base", "minutes": 5, "what": 7.5}]}
    both = [keep_log(journal, DOCUMENT), keep_log(journal, strong)]
    assert kept_logs(journal) == both[::-1]
    assert journal.count(Version) == 1


def test_a_broken_log_writes_nothing(journal):
    with pytest.raises(BadNumber):
        keep_log(journal, DOCUMENT | {"smells": [{}]})
    assert journal.count(Version) == journal.count(Impression) == 0


def test_what_nothing_can_be_learnt_from_is_passed_by(journal):
    keep_log(journal, DOCUMENT)
    (version,) = journal.all(Version)
    odd = {"kind": "wear", "happened_at": now(), "version_id": version.id}
    journal.add(
        Impression(words="no minutes", smell="gone", **odd),
        Impression(words="no smell", minutes=5, **odd),
        Impression(group="an oil that is not in it", minutes=5, smell="gone", **odd),
        Impression(group="top", minutes=5, smell="gone", details={"conditions": 3}, **odd),
        Impression(
            kind="sniff", happened_at=now(), minutes=5, smell="gone", version_id=version.id
        ),
    )
    assert [log.smells for log in kept_logs(journal)] == [(Smell("top", 25.0, "gone"),)]


def test_what_was_taken_back_is_not_learnt_from(journal):
    keep_log(journal, DOCUMENT)
    journal.withdraw(*journal.all(Impression))
    assert kept_logs(journal) == []
