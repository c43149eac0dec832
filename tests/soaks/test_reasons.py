"""Why a stack is soaked or left alone, on the problem worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.forecast.stacks import CAUSES, Hold
from fruitcast.soaks.problem import OutletDay, Plan, Problem
from fruitcast.soaks.reasons import Explainer, covered, hold_words
from fruitcast.soaks.search_tables import SearchTables
from tests.soaks.hand import hand_problem, table

A, B = 0, 1
SELLS = {"yard": SimpleNamespace(units="metric", sells=True)}

AT = "fruitcast.soaks.reasons"
ONLY_B: Plan = ((), (1,))
BOTH: Plan = ((1,), (1,))


def wanting(*sales: tuple[int, float], **changed: Any) -> Problem:
    """Sales on days after the picks of both stacks, which can be soaked on day 8."""
    outlets = tuple(OutletDay("Stall", day, target, 1.0) for day, target in sales)
    return replace(hand_problem(), outlets=outlets, stock=(), **changed)


def outlook(**changed: Any) -> SimpleNamespace:
    usual = {
        "state": SimpleNamespace(last_soak=None, pins_on=None),
        "last_first_pick": None,
        "spawn": SimpleNamespace(ready_on=None, seen=False, progress=0.4),
        "stack": SimpleNamespace(strain_class="wide-range", bearing_since=None),
        "holds": (),
        "effective_logs": 1.0,
    }
    return SimpleNamespace(**(usual | changed))


def explainer(
    problem: Problem, plan: Plan, *outlooks: SimpleNamespace, **of_yard: Any
) -> Explainer:
    stacks = outlooks or (outlook(), outlook())
    built = SimpleNamespace(
        problem=problem, outlook=SimpleNamespace(stacks=stacks, **(SELLS | of_yard))
    )
    return Explainer(built, plan, SearchTables.of(problem))


# Soaked on day 8, B picks 3.0 on day 17 in member 0 and 2.0 on day 19 in member 1; A 2.2 and 1.2.


def covers(made: Explainer, stack: int, step: int = 0) -> list[tuple[int, float]]:
    """What a soak brings to the stall: days from today, weight."""
    found = made.covers(stack, step)
    assert {cover.outlet for cover in found} == {"Stall"}
    return [((cover.on - made.built.problem.today).days, cover.kg) for cover in found]


def test_a_soak_covers_what_would_be_missing_without_it() -> None:
    both = explainer(wanting((20, 4.0), tank_logs=60), BOTH)
    # Together 5.2 and 3.2 kg: 4.0 and 3.2 are sold. Without A 3.0 and 2.0, without B 2.2 and 1.2.
    assert covers(both, A) == [(20, pytest.approx((1.0 + 1.2) / 2))]
    assert covers(both, B) == [(20, pytest.approx((1.8 + 2.0) / 2))]


def test_the_sale_that_would_lack_most_is_named_first() -> None:
    # On day 18 only member 0 has anything: 1.0 of its 3.0 goes there, 2.0 and 2.0 two days later.
    alone = explainer(wanting((18, 1.0), (20, 4.0)), ONLY_B)
    assert covers(alone, B) == [
        (20, pytest.approx(2.0)),
        (18, pytest.approx(0.5)),
    ]


@pytest.mark.parametrize(("target", "named"), [(49.9, 1), (50.1, 0)])
def test_a_sale_is_named_from_a_twentieth_of_its_target_on(target: float, named: int) -> None:
    assert len(explainer(wanting((20, target)), ONLY_B).covers(B, 0)) == named


def test_without_a_soak_the_next_one_is_kept_and_better_rested() -> None:
    # A on days 1 and 64 brings 2.0 and 1.0 from the first, 2.0 and 1.2 from the second; on day
    # 64 alone 2.4 in member 0 and nothing in member 1.
    twice = explainer(wanting((12, 9.0), (75, 5.0)), ((0, 2), ()))
    assert covers(twice, A) == [
        (12, pytest.approx(1.5)),
        (75, pytest.approx((2.0 - 2.4 + 1.2) / 2)),
    ]
    assert covers(twice, A, 1) == [(75, pytest.approx(1.6))]


def test_rest_is_counted_from_the_soak_before_or_what_else_is_known() -> None:
    made = explainer(wanting((20, 4.0)), ((0, 2), ()))
    day = date(2027, 7, 6)  # day 64, from Monday 3 May
    said = {
        "soak of the plan": made._readiness(outlook(), (0, 2), 1, day),
        "recorded soak": made._readiness(
            outlook(state=SimpleNamespace(last_soak=SimpleNamespace(on=date(2027, 3, 2)))),
            (2,),
            0,
            day,
        ),
        "flush": made._readiness(outlook(last_first_pick=date(2026, 9, 30)), (2,), 0, day),
        "seen": made._readiness(
            outlook(spawn=SimpleNamespace(ready_on=date(2027, 4, 5), seen=True)), (2,), 0, day
        ),
        "reckoned": made._readiness(
            outlook(spawn=SimpleNamespace(ready_on=date(2027, 4, 5), seen=False)), (2,), 0, day
        ),
        "unknown": made._readiness(outlook(), (2,), 0, day),
        **{
            f"listed {since}": made._readiness(
                outlook(
                    spawn=SimpleNamespace(ready_on=since, seen=True),
                    stack=SimpleNamespace(strain_class="wide-range", bearing_since=since),
                ),
                (2,),
                0,
                day,
            )
            for since in (date(2024, 1, 1), date(2024, 6, 10))
        },
    }
    assert said == {
        "soak of the plan": "rested 63 days since its soak on Tue 4 May",
        "recorded soak": "rested 126 days since its soak on Tue 2 Mar",
        "flush": "rested 279 days since its flush of 30 Sep 2026",
        "seen": "spawn run done since Mon 5 Apr (seen), no soak in the diary",
        "reckoned": "spawn run done since Mon 5 Apr (reckoned), no soak in the diary",
        "unknown": "spawn run done by then, no soak in the diary",
        "listed 2024-01-01": "bearing since 2024 by stacks.csv, no soak in the diary",
        "listed 2024-06-10": "bearing since 10 Jun 2024 by stacks.csv, no soak in the diary",
    }


def test_the_weather_named_is_that_after_the_pull(monkeypatch: pytest.MonkeyPatch) -> None:
    # Ten rows from the pull on row 40, each member at one temperature: 14, 16 and 21, middle 16.
    tmean = np.full((60, 3), 5.0)
    tmean[40:50] = [14.0, 16.0, 21.0]
    made = explainer(
        wanting((20, 4.0)),
        ((0, 2), ()),
        futures=SimpleNamespace(tmean=tmean),
        yard=SimpleNamespace(units="metric", sells=True),
    )
    fruiting = SimpleNamespace(
        forced=SimpleNamespace(pull_row=np.array([7, 8, 40, 41])),
        weather=SimpleNamespace(numbers=SimpleNamespace(forced=SimpleNamespace(season_days=10.0))),
    )

    monkeypatch.setattr(f"{AT}.place_of", lambda *_: (SimpleNamespace(fruiting=fruiting), None))
    assert made._weather(A, 1, outlook(), 51) == (
        "about 16 °C expected, good for wide-range logs: first pick about 11 days after the pull"
    )


def test_the_purpose_names_the_first_sale_and_counts_the_others() -> None:
    made = explainer(wanting((20, 4.0)), ONLY_B)
    problem = wanting((20, 4.0), (22, 1.0), (29, 1.0))
    sales = [covered(problem, n, 1.0) for n in range(3)]
    # What lucky years bring before the likely first pick is not what it is for.
    assert made._purpose(sales, problem.on(21)) == "feeds Stall on Tue 25 May and 2 later sales"
    assert made._purpose(sales, problem.on(40)) == "feeds Stall on Sun 23 May and 2 later sales"
    assert [made._purpose(sales[:count], problem.on(20)) for count in range(4)] == [
        "better soaked now than rested longer",
        "feeds Stall on Sun 23 May",
        "feeds Stall on Sun 23 May and 1 later sale",
        "feeds Stall on Sun 23 May and 2 later sales",
    ]


def cause(problem: Problem, plan: Plan = ONLY_B, **of_stack: Any) -> tuple[str, str]:
    found = explainer(problem, plan, outlook(**of_stack), outlook()).left_alone(A)
    return found.cause, found.reason


LAST = date(2027, 7, 13)  # day 71, the last soak day


def test_a_hold_that_outlasts_the_last_soak_day_is_the_cause_and_the_longest_one() -> None:
    day_after = date(2027, 7, 14)
    problem = wanting((20, 4.0))
    ends = {"holds": (Hold("rest", day_after), Hold("first year", date(2027, 8, 1)))}
    assert cause(problem, **ends)[0] == "first year"
    assert cause(problem, holds=(Hold("rest", day_after),)) == (
        "rest",
        "soaked on an earlier day, rests until Wed 14 Jul 2027",
    )
    # One that ends on the last soak day lets it be soaked; one without an end comes first.
    assert cause(problem, holds=(Hold("rest", LAST),))[0] not in CAUSES
    both = (Hold("rest", date(2028, 1, 1)), Hold("dead", None))
    assert cause(problem, holds=both)[0] == "dead"


def test_without_soak_days_the_season_is_the_cause() -> None:
    problem = wanting((20, 4.0), soak_days=np.zeros(0, dtype=np.int64))
    made = explainer(wanting((20, 4.0)), ONLY_B)
    made.built.problem = problem
    assert made.left_alone(A).cause == "season"


@pytest.mark.parametrize(
    ("allowed", "effective_logs", "expected"),
    [
        ([False] * 4, 1.0, "class"),
        ([False] * 4, 0.0, "class"),
        ([True] * 4, 0.0, "bears"),
    ],
)
def test_a_stack_that_may_not_be_soaked_at_all(
    allowed: list, effective_logs: float, expected: str
) -> None:
    problem = wanting((20, 4.0))
    kind = replace(problem.types[0], allowed=np.array(allowed))
    none = replace(problem.stacks[A].first, soak=np.zeros(0, dtype=np.int64), crops=table())
    stacks = (replace(problem.stacks[A], first=none), problem.stacks[B])
    made = explainer(
        replace(problem, stacks=stacks), ONLY_B, outlook(effective_logs=effective_logs), outlook()
    )
    made.built.problem = replace(problem, types=(kind,), stacks=stacks)
    found = made.left_alone(A)
    assert found.cause == expected
    if expected == "bears":
        assert found.reason == "its logs are not expected to bear in these weeks"


@pytest.mark.parametrize(
    ("kg", "left", "said"),
    [
        ([0.1, 0.0, 0.0], [1, 1, 1], "between 4 °C and 8 °C after the soak most likely nothing"),
        ([0.1, 0.1, 0.0], [1, 0, 1], "not yet grown through, or flushes by itself"),
        ([0.03, 0.03, 0.0], [1, 1, 1], "too little a log to be worth its work"),
    ],
)
def test_no_soak_worth_its_work_names_what_is_to_blame(
    kg: list[float], left: list[float], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = wanting((20, 4.0))
    none = replace(problem.stacks[A].first, soak=np.zeros(0, dtype=np.int64), crops=table())
    problem = replace(problem, stacks=(replace(problem.stacks[A], first=none), problem.stacks[B]))
    tmean = np.full((60, 3), 8.0)
    tmean[30:] = 4.0
    numbers = SimpleNamespace(
        schedule=SimpleNamespace(bears_in=0.5), forced=SimpleNamespace(season_days=10.0)
    )
    made = explainer(
        problem,
        ONLY_B,
        futures=SimpleNamespace(tmean=tmean),
        yard=SimpleNamespace(units="metric", sells=True),
        numbers=numbers,
    )
    allowed = np.array([True, False, True, False])
    forced = SimpleNamespace(
        kg=np.tile(kg, (4, 1)), allowed=allowed, pull_row=np.array([7, 8, 40, 41])
    )
    work = SimpleNamespace(
        fruiting=SimpleNamespace(forced=forced), first_factor=np.tile(left, (1, 4, 1))
    )
    monkeypatch.setattr(f"{AT}.place_of", lambda *_: (work, 0))
    found = made.left_alone(A)
    assert found.cause == "bears" and said in found.reason


def test_the_warmth_after_a_soak_is_the_middle_of_the_years_each_over_its_own_days(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Four days after the pull on row 7: years of 2 and of 6 degrees, and one of 3, 3, 3 and 11: 5.
    tmean = np.full((60, 3), 20.0)
    tmean[7:11] = np.array([[2.0, 6.0, 3.0], [2.0, 6.0, 3.0], [2.0, 6.0, 3.0], [2.0, 6.0, 11.0]])
    numbers = SimpleNamespace(
        schedule=SimpleNamespace(bears_in=0.5), forced=SimpleNamespace(season_days=4.0)
    )
    futures = SimpleNamespace(tmean=tmean)
    made = explainer(wanting((20, 4.0)), ONLY_B, numbers=numbers, futures=futures)
    forced = SimpleNamespace(
        kg=np.zeros((2, 3)), allowed=np.array([True, False]), pull_row=np.array([7, 30])
    )
    work = SimpleNamespace(fruiting=SimpleNamespace(forced=forced))
    monkeypatch.setattr(f"{AT}.place_of", lambda *_: (work, 0))
    assert made._brings_too_little(A) == ("at about 5 °C after the soak most likely nothing comes")


def lone(problem: Problem, none_kg: float = 0.6) -> Problem:
    """A was never published, and gives so much by itself in one of two members."""
    first = replace(problem.stacks[A].first, none_crops=table((0, 1, 30, none_kg)))
    free = replace(problem.stacks[A], published=None, was_published=False, first=first)
    return replace(problem, stacks=(free, problem.stacks[B]))


def test_a_stack_kept_out_by_better_ones_is_told_the_first_day_it_would_have_gone() -> None:
    # B fills the tank for 30 on day 8; A beside it would spare 1.1 kg.
    assert cause(lone(wanting((20, 4.0), tank_logs=30))) == (
        "tank full",
        "the tank or the day's work is full with better soaks, first on Tue 11 May",
    )
    # So it is where only one of two better soaks finds no room.
    assert cause(lone(wanting((20, 4.0), (82, 4.0), tank_logs=30)))[0] == "tank full"
    # With room for both it could have been soaked, and the search alone is to blame.
    assert cause(lone(wanting((20, 4.0), tank_logs=50)))[0] == "not worth it"
    # Where nothing is short a full tank is no cause.
    assert cause(lone(wanting((20, 1.0), tank_logs=30)))[0] == "not worth it"


@pytest.mark.parametrize(("none_kg", "expected"), [(1.71, "natural flush"), (1.69, "not worth it")])
def test_a_stack_that_gives_half_by_itself_is_left_to_itself(none_kg: float, expected: str) -> None:
    # The best soak, on day 8, brings 2.2 and 1.2: 3.4 in two members, of which half is 1.7.
    assert cause(lone(wanting((20, 1.0)), none_kg))[0] == expected


def test_every_hold_has_its_words() -> None:
    spawn = SimpleNamespace(progress=0.42)
    state = SimpleNamespace(
        last_soak=SimpleNamespace(on=date(2027, 4, 20)), pins_on=date(2027, 5, 1)
    )
    row = outlook(spawn=spawn, state=state)
    until = date(2027, 7, 2)
    by = "until Fri 2 Jul 2027"
    assert {name: hold_words(Hold(name, until), row) for name in CAUSES} == {
        "kept back": f"you keep it back {by}",
        "no logs": "no living logs are left",
        "dead": "so dry that the spawn is presumed dead: inspect the logs before any soak",
        "tank": f"in the tank since Tue 20 Apr; then it rests {by}",
        "pins": f"pins were seen on Sat 1 May: it is about to fruit, then rests {by}",
        "spawn run": "spawn run 42%, most likely done by Fri 2 Jul 2027",
        "first year": f"no soak in the first year from inoculation, {by}",
        "rest": f"soaked on Tue 20 Apr, rests {by}",
        "natural rest": f"flushed by itself, rests {by}",
    }
    assert hold_words(Hold("pins", None), outlook()) == (
        "pins were seen on an earlier day: it is about to fruit, then rests beyond the plan's weeks"
    )
    pins = Hold("pins", until)
    told = [
        hold_words(
            pins, outlook(state=state, holds=(pins, Hold("rest", until.replace(day=2 + days))))
        )
        for days in (0, 1)
    ]
    about = "pins were seen on Sat 1 May: it is about to fruit"
    assert told == [f"{about}, then rests {by}", about]  # whose rest ends first says nothing of it
    assert hold_words(Hold("spawn run", None), row) == (
        "spawn run 42%, most likely not done within the plan's weeks"
    )
    with pytest.raises(ValueError, match="unknown cause 'frost'"):
        hold_words(Hold("frost", None), row)


def test_only_the_next_soak_of_a_stack_is_one_that_the_grower_has_fixed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = wanting((20, 4.0))
    fixed = replace(problem.stacks[A], must=0)
    outcome = SimpleNamespace(first_pick=lambda chance: 20)
    monkeypatch.setattr(f"{AT}.soak_outcome", lambda *_: outcome)
    for stacks, told in (((fixed, problem.stacks[B]), True), (problem.stacks, False)):
        made = explainer(
            replace(problem, stacks=stacks), ((0, 2), ()), futures=SimpleNamespace(lookback=10)
        )
        monkeypatch.setattr(made, "_weather", lambda *_: "warm")
        monkeypatch.setattr(made, "_readiness", lambda *_: "rested")
        sales = [covered(wanting((9, 1.0), (20, 1.0)), n, 1.0) for n in (0, 1)]
        first = made.soak_reasons(A, 0, sales)
        # The likely first pick is on row 20, day 10.
        assert first == [
            *(["you fixed this day"] if told else []),
            "rested",
            "warm",
            "feeds Stall on Sun 23 May and 1 later sale",
        ]
        assert made.soak_reasons(A, 1, [])[0] == "rested"


@pytest.mark.parametrize(
    ("by_day", "left", "said"),
    [
        # One of two days on which a soak bears in half of the years is enough.
        ([[0.1, 0.1, 0.0, 0.0], [0.0] * 4], [[1.0] * 4] * 2, "too little a log"),
        ([[0.0] * 4, [0.1, 0.1, 0.0, 0.0]], [[1.0] * 4] * 2, "too little a log"),
        ([[0.1, 0.0, 0.0, 0.0]] * 2, [[1.0] * 4] * 2, "most likely nothing comes"),
        # So it is with what is left of it: of the second day half, of the first nothing.
        ([[0.1] * 4] * 2, [[0.0] * 4, [1.0, 1.0, 0.0, 0.0]], "too little a log"),
        ([[0.1] * 4] * 2, [[1.0, 0.0, 0.0, 0.0]] * 2, "not yet grown through"),
    ],
)
def test_one_day_that_bears_in_half_of_the_years_is_enough(
    by_day: list, left: list, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    numbers = SimpleNamespace(
        schedule=SimpleNamespace(bears_in=0.5), forced=SimpleNamespace(season_days=10.0)
    )
    made = explainer(
        wanting((20, 4.0)),
        ONLY_B,
        numbers=numbers,
        futures=SimpleNamespace(tmean=np.full((60, 4), 8.0)),
    )
    # A day between, on which the class may not be soaked, says nothing.
    forced = SimpleNamespace(
        kg=np.array([by_day[0], [9.0] * 4, by_day[1]]),
        allowed=np.array([True, False, True]),
        pull_row=np.array([7, 8, 40]),
    )
    factor = np.array([[left[0], [9.0] * 4, left[1]]])
    work = SimpleNamespace(fruiting=SimpleNamespace(forced=forced), first_factor=factor)
    monkeypatch.setattr(f"{AT}.place_of", lambda *_: (work, 0))
    found = made._brings_too_little(A)
    assert said in found
    # One temperature is told as one.
    assert ("at about 8 °C" in found) is (said == "most likely nothing comes")


def test_a_flush_by_itself_is_likely_when_half_of_the_years_have_one() -> None:
    # The same kilograms in both years or in one of three; a gram is a flush as well as a kilogram.
    problem = lone(wanting((20, 1.0)))
    for flushes, expected in (
        (((0, 0, 30, 0.9), (0, 1, 30, 0.9)), "natural flush"),
        (((0, 1, 30, 1.8),), "natural flush"),
        ((), "not worth it"),
    ):
        first = replace(problem.stacks[A].first, none_crops=table(*flushes))
        stacks = (replace(problem.stacks[A], first=first), problem.stacks[B])
        assert cause(replace(problem, stacks=stacks))[0] == expected
