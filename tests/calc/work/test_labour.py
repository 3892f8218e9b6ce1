import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decor.calc.pieces.needs import Task
from decor.calc.work.labour import STAGES, TASK_KINDS, Z_80, task_minutes, together
from decor.calc.work.rates import Rates

RATES = Rates()
MINUTES = st.lists(st.tuples(st.floats(0.1, 1000), st.sampled_from([1.0, 1.25, 1.4, 1.9])), min_size=1, max_size=12)
CORRELATION = st.floats(0, 1)


@pytest.mark.parametrize(
    ("task", "minutes"),
    [
        (Task("inflate pairs", 250, "workshop"), 60.0),
        (Task("inflate strings", 300, "workshop"), 60.0),
        (Task("load paired", 700, "workshop"), 60.0),
        (Task("load two-sided", 400, "workshop"), 60.0),
        (Task("load sandwich", 350, "workshop"), 60.0),
        (Task("load strung", 1200, "workshop"), 60.0),
        (Task("open", 10, "workshop"), 60.0),
        (Task("join", 12, "workshop"), 1.0),
        (Task("strip", 7, "workshop"), 7.0),
        (Task("make clusters", 200, "workshop"), 60.0),
        (Task("place clusters", 50, "workshop"), 60.0),
        (Task("rig", 1, "venue", people=2), 80.0),
        (Task("strike", 90, "venue"), 30.0),
        (Task("inflate pairs", 250, "workshop", extra_min=4.0), 64.0),
    ],
)
def test_the_trades_default_rates(task, minutes):
    assert task_minutes(task, RATES) == pytest.approx(minutes)


def test_an_unknown_task_is_refused():
    with pytest.raises(ValueError, match="kind"):
        task_minutes(Task("juggle", 1, "venue"), RATES)


def test_every_kind_has_a_stage_and_says_its_rate():
    for kind in TASK_KINDS.values():
        assert kind.stage in STAGES
        assert kind.rate_says(RATES)
    assert TASK_KINDS["inflate pairs"].rate_says(RATES) == "250 balloons an hour each"
    assert TASK_KINDS["join"].rate_says(RATES) == "5 s a tab"


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.5, 0.9])
def test_the_joint_spread_against_drawn_samples(correlation):
    """Half a million drawn jobs: middle and 80 % figure within 1 %."""
    tasks = [(17.0, 1.25), (119.4, 1.25), (33.6, 1.25), (85.0, 1.4), (240.0, 1.4), (51.6, 1.4), (27.0, 1.9)]
    rng = np.random.default_rng(20260613)
    sigma = np.log([ratio for _, ratio in tasks]) / Z_80
    shared = rng.standard_normal((500_000, 1))
    own = rng.standard_normal((500_000, len(tasks)))
    normal = math.sqrt(correlation) * shared + math.sqrt(1 - correlation) * own
    totals = (np.array([middle for middle, _ in tasks]) * np.exp(sigma * normal)).sum(axis=1)
    got = together(tasks, correlation)
    assert got.middle == pytest.approx(float(np.median(totals)), rel=0.01)
    assert got.p80 == pytest.approx(float(np.quantile(totals, 0.8)), rel=0.01)


USUAL = st.lists(st.tuples(st.floats(0.1, 1000), st.sampled_from([1.25, 1.4])), min_size=1, max_size=12)


@given(USUAL, CORRELATION)
def test_the_job_stays_under_the_tasks_own_figures_added(tasks, correlation):
    """At the studio's own spreads, to half a per cent: the matched log-normal is not exactly the sum's law."""
    got = together(tasks, correlation)
    assert got.middle <= got.p80
    assert got.p80 <= sum(middle * ratio for middle, ratio in tasks) * 1.005
    assert got.middle >= sum(middle for middle, _ in tasks) * (1 - 1e-9)


@given(st.floats(0.1, 1000), st.floats(1.0, 1.9), CORRELATION)
def test_one_task_keeps_its_own_figures(middle, ratio, correlation):
    got = together([(middle, ratio)], correlation)
    assert got.middle == pytest.approx(middle)
    assert got.p80 == pytest.approx(middle * ratio)


@given(MINUTES)
def test_wholly_together_the_alike_add(tasks):
    alike = [(middle, 1.4) for middle, _ in tasks]
    assert together(alike, 1.0).p80 == pytest.approx(1.4 * sum(middle for middle, _ in alike))


@given(MINUTES, CORRELATION, st.integers(0, 11), st.floats(0, 500))
def test_more_work_never_takes_less(tasks, correlation, at, more):
    longer = list(tasks)
    middle, ratio = longer[at % len(tasks)]
    longer[at % len(tasks)] = (middle + more, ratio)
    before, after = together(tasks, correlation), together(longer, correlation)
    assert after.middle >= before.middle * (1 - 1e-9)
    assert after.p80 >= before.p80 * (1 - 1e-9)


def test_nothing_to_do_takes_no_time():
    assert together([], 0.5).p80 == 0.0
    assert together([(0.0, 1.4)], 0.5).middle == 0.0


@pytest.mark.parametrize(
    ("tasks", "correlation", "named"),
    [([(1.0, 1.2)], 1.1, "correlation"), ([(-1.0, 1.2)], 0.5, "tasks"), ([(1.0, 0.9)], 0.5, "tasks")],
)
def test_bad_spreads_are_refused(tasks, correlation, named):
    with pytest.raises(ValueError, match=named):
        together(tasks, correlation)
