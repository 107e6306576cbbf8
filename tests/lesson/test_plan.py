"""The plan of practice: whatever happens, it asks for what was learnt so far and no more, within its tempos."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from livecheck.lesson.plan import FAULTY_TO_SLOW, SLOWEST_SHARE, Plan

PLANS = st.builds(
    Plan.begin, st.integers(1, 6), st.floats(40.0, 200.0), st.floats(1.0, 400.0), clean_to_pass=st.integers(1, 5)
)
ATTEMPTS = st.lists(st.booleans(), max_size=80)


def through(plan: Plan, attempts: list[bool]) -> list[Plan]:
    plans = [plan]
    for clean in attempts:
        plans.append(plans[-1].after(clean))
    return plans


@given(PLANS, ATTEMPTS)
def test_tempo_stays_within_its_limits_and_moves_the_right_way(plan: Plan, attempts: list[bool]) -> None:
    plans = through(plan, attempts)
    for before, after, clean in zip(plans, plans[1:], attempts, strict=False):
        assert SLOWEST_SHARE * after.goal_tempo <= after.tempo <= after.goal_tempo
        if before.next == after.next:
            assert after.tempo >= before.tempo if clean else after.tempo <= before.tempo


@given(PLANS, ATTEMPTS)
def test_only_figures_that_were_begun_in_order_and_the_newest_is_always_among_them(
    plan: Plan, attempts: list[bool]
) -> None:
    plans = through(plan, attempts)
    assert plans[0].next == (0,)
    for before, after in pairwise(plans):
        assert after.next in ((after.learning,), tuple(range(after.learning + 1)))
        assert after.learning - before.learning in (0, 1)
        assert after.learning < after.figures
        if after.learning > before.learning:
            assert before.next == tuple(range(before.learning + 1)), "all so far have been played in a row"


@given(PLANS, ATTEMPTS)
def test_faults_pass_nothing(plan: Plan, attempts: list[bool]) -> None:
    plans = through(plan, attempts)
    for before, after, clean in zip(plans, plans[1:], attempts, strict=False):
        if not clean:
            assert (after.learning, after.in_review, after.done) == (before.learning, before.in_review, before.done)
            assert after.clean == 0 or after.done


@given(PLANS, ATTEMPTS)
def test_from_wherever_it_is_clean_playing_comes_to_the_end(plan: Plan, attempts: list[bool]) -> None:
    now = through(plan, attempts)[-1]
    count = 0
    while not now.done:
        now = now.after(True)
        count += 1
        assert count < 500
    assert now.learning == now.figures - 1


@given(PLANS)
def test_at_the_lessons_tempo_it_takes_just_so_many_clean_attempts(plan: Plan) -> None:
    at_tempo = Plan.begin(plan.figures, plan.goal_tempo, plan.goal_tempo, plan.clean_to_pass)
    plans = through(at_tempo, [True] * (plan.figures * plan.clean_to_pass + plan.figures - 1))
    assert plans[-1].done
    assert not plans[-2].done


def test_an_evening() -> None:
    plan = Plan.begin(2, 100.0, 80.0, clean_to_pass=2)
    tempos = []
    while plan.tempo < plan.goal_tempo:
        tempos.append(round(plan.tempo))
        plan = plan.after(True)
    assert tempos == [80, 85, 90, 95]
    plan = plan.after(True).after(False)
    assert (plan.clean, plan.clean_to_go, plan.tempo) == (0, 2, 100.0)
    for _ in range(FAULTY_TO_SLOW - 1):
        plan = plan.after(False)
    assert plan.tempo == 90.0
    plan = through(plan, [True] * 4)[-1]
    assert (plan.next, plan.tempo) == ((1,), 80.0)
    plan = through(plan, [True] * 6)[-1]
    assert (plan.next, plan.in_review, plan.tempo, plan.clean_to_go) == ((0, 1), True, 100.0, 1)
    assert plan.after(True).done
