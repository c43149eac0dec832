"""What a new plan changes in the published one, on the problem worked out by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from fruitcast.diary.plan import GoesBy
from fruitcast.soaks.problem import OutletDay, Plan, Problem
from fruitcast.soaks.reasons import Explainer, as_plan, changes, published_soaks
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.units import format_weight
from tests.soaks.hand import hand_problem
from tests.soaks.judge import judge

TODAY = date(2027, 5, 3)


def on(day: int) -> date:
    return TODAY + timedelta(days=day)


def explainer(problem: Problem, plan: Plan) -> Explainer:
    """What `changes` needs of an explained plan."""
    stacks = [SimpleNamespace(holds=()) for _ in problem.stacks]
    yard = SimpleNamespace(units="metric")
    built = SimpleNamespace(problem=problem, outlook=SimpleNamespace(yard=yard, stacks=stacks))
    return Explainer(built, plan, SearchTables.of(problem))  # type: ignore[arg-type]


def test_published_soaks_count_from_today_on_in_order() -> None:
    soaks = [("A", "2027-05-20"), ("B", "2027-05-02"), ("A", "2027-05-03"), ("C", "2027-05-04")]
    dates = {"soaks": [{"stack": s, "soak_on": day} for s, day in soaks], "stacks": ["A"]}
    assert published_soaks(GoesBy.model_validate_json(json.dumps(dates)), TODAY) == {
        "A": (date(2027, 5, 3), date(2027, 5, 20)),
        "C": (date(2027, 5, 4),),
    }
    assert published_soaks(None, TODAY) == {}


@pytest.mark.parametrize(
    ("days", "path"),
    [
        ((1, 64), (0, 2)),
        ((1, 71), (0, 3)),
        ((8, 71), (1, 3)),
        ((8, 64), (1,)),  # no arc joins these two
        ((2, 64), ()),  # no soak day
        ((1, 65, 71), (0,)),
        ((), ()),
    ],
)
def test_published_soaks_are_kept_up_to_the_first_that_is_not_possible(days, path) -> None:
    built = SimpleNamespace(problem=hand_problem())
    assert as_plan(built, {"A": tuple(map(on, days))}) == (path, ())


def test_a_first_soak_must_be_open_to_the_stack_itself() -> None:
    # B is rested on day 8 only, so that it cannot go in on day 1.
    built = SimpleNamespace(problem=hand_problem())
    assert as_plan(built, {"B": (on(1), on(64))}) == ((), ())


def test_each_way_a_next_soak_can_change_and_what_it_is_worth() -> None:
    problem = hand_problem()
    stacks = (problem.stacks[0], replace(problem.stacks[1], was_published=True, published=8))
    problem = replace(problem, stacks=stacks, tank_logs=60)
    published = {"A": (on(1),), "B": (on(8),)}
    for plan, expected in (
        (((0,), (1,)), []),
        (((1,), (1,)), [("A", "moved", on(1), on(8))]),
        (((), (1,)), [("A", "dropped", on(1), None)]),
    ):
        told = changes(explainer(problem, plan), published)
        assert [(c.stack, c.kind, c.before, c.after) for c in told] == expected
        for change in told:
            kept = judge(problem, ((0,), plan[1])).objective_kg
            gain = kept - judge(problem, plan).objective_kg
            assert change.gain_kg == pytest.approx(gain, abs=1e-4)
            assert "more over the season" in change.reason
    added = changes(explainer(problem, ((0,), (1,))), {"A": (on(1),)})
    assert [(c.stack, c.kind, c.before, c.after) for c in added] == [("B", "added", None, on(8))]


def test_a_stack_that_was_not_published_has_not_changed() -> None:
    problem = hand_problem()
    stacks = (problem.stacks[0], replace(problem.stacks[1], was_published=False))
    problem = replace(problem, stacks=stacks, tank_logs=60)
    assert changes(explainer(problem, ((0,), (1,))), {"A": (on(1),)}) == []
    # Nor has one that kept its day; those behind them are told all the same.
    stacks = (replace(stacks[0], was_published=False), replace(stacks[1], was_published=True))
    stacks = (*stacks, replace(problem.stacks[0], name="C"), replace(problem.stacks[0], name="D"))
    problem = replace(problem, stacks=stacks, tank_logs=100)
    published = {"B": (on(8),), "C": (on(1),), "D": (on(1),)}
    told = changes(explainer(problem, ((0,), (1,), (0,), (1,))), published)
    assert [(change.stack, change.kind) for change in told] == [("D", "moved")]


def test_a_day_that_is_no_longer_possible_says_so() -> None:
    problem = hand_problem()
    moved = explainer(problem, ((1,), ()))
    (change,) = changes(moved, {"A": (on(2),)})
    assert (change.gain_kg, change.reason) == (None, "the published day is no longer a soak day")
    stacks = (problem.stacks[0], replace(problem.stacks[1], was_published=True, published=1))
    (change,) = changes(
        explainer(replace(problem, stacks=stacks), ((0,), (1,))), {"A": (on(1),), "B": (on(1),)}
    )
    assert change.stack == "B" and change.gain_kg is None
    assert change.reason.startswith("a soak on the published day would bring nothing")


def test_a_full_tank_on_the_published_day_is_named_where_the_day_itself_was_as_good() -> None:
    # Both published for day 8, the tank holds one of them, and A's crop would be the lesser.
    problem = hand_problem()
    stacks = (
        replace(problem.stacks[0], published=8),
        replace(problem.stacks[1], was_published=True, published=8),
    )
    problem = replace(problem, stacks=stacks, tank_logs=30)
    (change,) = changes(explainer(problem, ((), (1,))), {"A": (on(8),), "B": (on(8),)})
    assert (change.stack, change.kind) == ("A", "dropped")
    kept, now = (judge(problem, (path, (1,))).objective_kg for path in ((1,), ()))
    assert change.gain_kg == pytest.approx(kept - now, abs=1e-4)
    assert ("tank" in change.reason) == (kept <= now)


def shared(published: tuple[int, int], tank: int, **changes: object) -> Problem:
    """Both stacks published, on the days given."""
    hand = hand_problem()
    stacks = tuple(
        replace(stack, was_published=True, published=day)
        for stack, day in zip(hand.stacks, published, strict=True)
    )
    return replace(hand, stacks=stacks, tank_logs=tank, **changes)


def test_the_tank_is_named_when_one_of_several_published_soaks_finds_no_room() -> None:
    # A was to go in on days 8 and 71; B, now in on day 71, leaves it no place there. Never soaked
    # it is worth less than it was, so that only the tank can be the cause.
    problem = shared((8, 8), 40, outlets=())
    # Without outlets a soak only costs, so that no soak is the better: the reason is the gain.
    (change,) = changes(explainer(problem, ((), (3,))), {"A": (on(8), on(71)), "B": (on(71),)})
    assert change.gain_kg > 0 and "more over the season" in change.reason
    sold = (OutletDay("Stall", 20, 2.0, 1.0), OutletDay("Stall", 80, 2.0, 1.0))
    problem = shared((8, 8), 40, outlets=sold)
    for path in ((2,), ()):
        kept, now = (judge(problem, (p, (3,))).objective_kg for p in ((1, 3), path))
        assert kept < now
        (change,) = changes(
            explainer(problem, (path, (3,))), {"A": (on(8), on(71)), "B": (on(71),)}
        )
        assert change.reason.startswith("the tank or the day's work is needed")
        assert change.gain_kg == pytest.approx(kept - now, abs=1e-4)


def test_a_change_that_is_worth_nothing_does_not_say_less_than_nothing() -> None:
    # There was room for A on day 8 and it would have been better: a gain below nought.
    problem = shared((8, 8), 60, outlets=(OutletDay("Stall", 20, 6.0, 1.0),))
    (change,) = changes(explainer(problem, ((), (1,))), {"A": (on(8),), "B": (on(8),)})
    kept, now = (judge(problem, (path, (1,))).objective_kg for path in ((1,), ()))
    assert kept < now
    assert change.gain_kg == pytest.approx(kept - now, abs=1e-4)
    assert "worth 0 g more" in change.reason


def test_what_a_change_is_worth_is_said_in_the_grower_s_units() -> None:
    problem = shared((1, 8), 60, outlets=(OutletDay("Stall", 20, 2.0, 1.0),))
    plan = ((1,), ())
    made = explainer(problem, plan)
    told = changes(made, {"A": (on(1),), "B": ()})
    (change,) = told
    assert (change.stack, change.kind) == ("A", "moved")
    kept, now = (judge(problem, (path, ())).objective_kg for path in ((0,), (1,)))
    assert change.gain_kg == pytest.approx(kept - now, abs=1e-4) and change.gain_kg > 0
    # The price of moving the day is beside it: what it brings is told.
    brings = format_weight(change.gain_kg + problem.prices.change, "metric")
    assert f"worth {brings} more" in change.reason


def test_a_hold_beyond_the_published_day_is_the_reason() -> None:
    problem = shared((1, 8), 40)
    first = replace(
        problem.stacks[0].first,
        soak=problem.stacks[0].first.soak[1:],
        crops=problem.stacks[1].first.crops,
    )
    problem = replace(problem, stacks=(replace(problem.stacks[0], first=first), problem.stacks[1]))
    for until, held in ((on(1), False), (on(2), True), (None, True)):
        made = explainer(problem, ((1,), ()))
        hold = SimpleNamespace(cause="rest", until=until)
        made.built.outlook.stacks[0] = SimpleNamespace(holds=(hold,), name="A")
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(
                "fruitcast.soaks.reasons.hold_words", lambda hold, outlook: f"held: {hold.cause}"
            )
            (change,) = changes(made, {"A": (on(1),)})
        assert change.gain_kg is None
        assert (change.reason == "held: rest") is held
