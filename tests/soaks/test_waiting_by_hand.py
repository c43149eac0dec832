"""What forbids a soak and what it would cost, on the problem worked by hand.

B, rested on day 8 only, may not be soaked on day 1, a Tuesday: what is told of it is set by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, time, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.forecast.stacks import CAUSES, Hold
from fruitcast.numbers import default_numbers
from fruitcast.soaks.problem import OutletDay, Problem
from fruitcast.soaks.reasons import Explainer
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.waiting import (
    SAYS_NOTHING_OF_THE_LOGS,
    OneSoak,
    _cost_words,
    _forbids,
    _no_day_words,
    _ways_on,
    wait_of,
)
from fruitcast.tables.values import MonthDay
from fruitcast.yard.model import Away, Soaking
from tests.soaks.hand import hand_problem

AT = "fruitcast.soaks.waiting"
A, B = 0, 1
TODAY = date(2027, 5, 3)
TUESDAY = TODAY + timedelta(days=1)
NUMBERS = default_numbers().with_overrides(
    {"schedule.bears_in": 0.5, "schedule.weak_soak": 0.06, "forced.season_days": 10}
)

Forbidden = Callable[..., list[tuple[str, str]]]


def look(*holds: Hold, effective_logs: float = 15.0, logs: int = 30) -> SimpleNamespace:
    return SimpleNamespace(
        stack=SimpleNamespace(strain_class="wide-range"),
        spawn=SimpleNamespace(progress=0.4),
        state=SimpleNamespace(logs=logs, last_soak=None, pins_on=None),
        holds=holds,
        effective_logs=effective_logs,
    )


@pytest.fixture
def forbidden(monkeypatch: pytest.MonkeyPatch) -> Forbidden:
    def found(
        *holds: Hold,
        kg: tuple[float, ...] = (0.4, 0.4, 0.0, 0.0),
        left: tuple[float, ...] = (1.0,) * 4,
        allowed: bool = True,
        away: tuple[Away, ...] = (),
        must: int | None = None,
        soak: int = 0,
        stack: SimpleNamespace | None = None,
    ) -> list[tuple[str, str]]:
        forced = SimpleNamespace(
            kg=np.tile(kg, (4, 1)), allowed=np.full(4, allowed), pull_row=np.array([12, 20, 76, 82])
        )
        # The stack stands second among those of its type; the weather after the pull is 8 degrees.
        work = SimpleNamespace(
            fruiting=SimpleNamespace(forced=forced),
            first_factor=np.stack([np.full((4, 4), 0.3), np.tile(left, (4, 1))]),
        )
        monkeypatch.setattr(f"{AT}.place_of", lambda *_: (work, 1))
        tmean = np.full((100, 5), 30.0)
        tmean[12:22] = [5.0, 6.0, 8.0, 20.0, 21.0]
        problem = hand_problem()
        stacks = (problem.stacks[A], replace(problem.stacks[B], must=must))
        outlook = SimpleNamespace(
            stacks=(look(), stack or look(*holds)),
            numbers=NUMBERS,
            yard=SimpleNamespace(units="metric", away=away),
            futures=SimpleNamespace(date=lambda row: TODAY + timedelta(days=row - 10), tmean=tmean),
        )
        built = SimpleNamespace(problem=replace(problem, stacks=stacks), outlook=outlook)
        return _forbids(built, B, soak)

    return found


def causes(found: list[tuple[str, str]]) -> list[str]:
    return [cause for cause, _ in found]


def test_a_day_that_is_open_is_forbidden_by_nothing(forbidden: Forbidden) -> None:
    assert forbidden(Hold("rest", None), allowed=False, soak=1) == []


@pytest.mark.parametrize("cause", CAUSES)
def test_a_hold_counts_until_its_day(forbidden: Forbidden, cause: str) -> None:
    for until, held in ((TUESDAY, False), (TUESDAY + timedelta(days=1), True), (None, True)):
        found = causes(forbidden(Hold(cause, until)))
        # What is over by then explains nothing: then the soak is too weak for its work.
        assert found == ([cause] if held else ["weak"])


@pytest.mark.parametrize("cause", CAUSES)
def test_beside_a_hold_the_logs_are_told_only_where_it_says_nothing_of_them(
    forbidden: Forbidden, cause: str
) -> None:
    # A soak brings 0.02 kg a log: 0.04 kg by half as many effective logs.
    weak = causes(forbidden(Hold(cause, None), kg=(0.08, 0.08, 0.0, 0.0)))
    assert weak == ([cause, "weak"] if cause in SAYS_NOTHING_OF_THE_LOGS else [cause])
    # One that is worth its work is no cause beside another, but is the only one left.
    assert causes(forbidden(Hold(cause, None))) == [cause]


def test_a_weak_soak_is_told_by_the_log(forbidden: Forbidden) -> None:
    # 0.2 kg in the mean, half of it left, and half as many effective logs as logs: 50 g.
    left = (0.5,) * 4
    assert forbidden(left=left) == [
        ("weak", "a soak would bring about 50 g a log, too little for its work")
    ]
    kept = Hold("kept back", None)
    assert causes(forbidden(kept, left=left)) == ["kept back", "weak"]
    # 60 g are what a soak must bring.
    assert causes(forbidden(kept, left=(0.61,) * 4)) == ["kept back"]
    assert causes(forbidden(kept, left=(0.59,) * 4)) == ["kept back", "weak"]
    # A stack of a single log has all of it.
    alone = look(kept, effective_logs=1.0, logs=1)
    assert causes(forbidden(stack=alone)) == ["kept back"]
    assert forbidden(stack=alone, left=(0.25,) * 4)[1][1].startswith(
        "a soak would bring about 50 g a log"
    )
    # All logs dead: nothing is divided by none.
    dead = look(kept, effective_logs=0.0, logs=0)
    assert forbidden(stack=dead)[1][1].startswith("a soak would bring about 0 g a log")


def test_half_of_the_years_must_bear_and_leave_it_to_the_soak(forbidden: Forbidden) -> None:
    assert causes(forbidden(kg=(0.4, 0.0, 0.0, 0.0))) == ["bears"]
    assert (
        forbidden(kg=(0.4, 0.0, 0.0, 0.0))[0][1] == "at about 8 °C most likely nothing would come"
    )
    by_itself = [("natural flush", "soaked now, most likely it would fruit by itself first")]
    for left, expected in (
        ((1.0, 0.0, 1.0, 1.0), by_itself),
        ((0.0, 0.0, 1.0, 1.0), by_itself),
        ((0.1, 0.1, 0.0, 0.0), None),  # half of them: it would be weak
        ((1.0, 1.0, 0.0, 0.0), None),
    ):
        found = forbidden(left=left)
        assert found == expected if expected else causes(found) == ["weak"]


def test_the_class_the_fixed_day_and_days_away_are_told_whatever_the_holds(
    forbidden: Forbidden,
) -> None:
    pull = TODAY + timedelta(days=2)
    away, later = Away(pull, pull), Away(pull + timedelta(days=1), pull + timedelta(days=9))
    kept = Hold("rest", None)
    found = forbidden(kept, must=2, away=(away,), allowed=False, kg=(0.0,) * 4)
    assert causes(found) == ["rest", "fixed", "away", "class"]
    assert [words for _, words in found[1:]] == [
        "you fixed its next soak for Tue 6 Jul",
        "you are away on Wed 5 May, when it would come out",
        "wide-range logs answer a soak poorly in the warmth expected then",
    ]
    assert causes(forbidden(must=2)) == ["fixed"]
    assert causes(forbidden(away=(away,))) == ["away"]
    assert causes(forbidden(away=(later,))) == ["weak"]


SOAKING = Soaking((1, 4), 40, time(8), None, None, None)


def waiting(problem: Problem, plan: Any, monkeypatch: pytest.MonkeyPatch, *holds: Hold) -> Any:
    outlook = SimpleNamespace(
        stacks=(look(*holds), look(*holds)),
        yard=SimpleNamespace(units="metric", sells=True, away=(), soaking=SOAKING),
        numbers=NUMBERS,
    )
    built = SimpleNamespace(problem=problem, outlook=outlook)
    outcome = SimpleNamespace(kg=np.array([2.0, 1.0]))
    monkeypatch.setattr(f"{AT}.soak_outcome", lambda *_: outcome)
    return Explainer(built, plan, SearchTables.of(problem))


def selling(*sales: tuple[int, float], **changes: Any) -> Problem:
    outlets = tuple(OutletDay("Stall", day, kg, 1.0) for day, kg in sales)
    return replace(hand_problem(), outlets=outlets, stock=(), **changes)


def test_a_stack_that_goes_in_within_the_week_does_not_wait(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = waiting(selling((20, 4.0)), ((0,), (1,)), monkeypatch)
    assert wait_of(made, A) is None
    # Day 8 is no day of this week.
    monkeypatch.setattr(f"{AT}._forbids", lambda *_: [("weak", "too weak"), ("class", "poor")])
    found = wait_of(made, B)
    assert (found.causes, found.words, found.tried) == (("weak", "class"), "too weak; poor", None)


def test_of_several_days_the_one_with_the_fewest_causes_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = selling((20, 4.0))
    early = replace(problem, soak_days=np.array([1, 6, 64, 71]))
    against = {0: [("rest", "it rests"), ("class", "poor")], 1: [("bears", "nothing comes")]}
    made = waiting(early, ((), ()), monkeypatch)
    monkeypatch.setattr(f"{AT}._forbids", lambda _, stack, soak: against[soak])
    assert wait_of(made, A).causes == ("bears",)


def test_without_a_soak_day_this_week_that_is_told_with_what_holds_beyond_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = replace(selling((20, 4.0)), soak_days=np.array([7, 8, 64, 71]))
    sunday = TODAY + timedelta(days=6)
    for until, held in ((sunday, False), (sunday + timedelta(days=1), True), (None, True)):
        made = waiting(problem, ((), ()), monkeypatch, Hold("rest", until))
        found = wait_of(made, A)
        assert found.causes == (("soak day", "rest") if held else ("soak day",))
        assert found.words.startswith("you are away on every soak day of this week")


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (None, None, "you are away on every soak day of this week"),
        ((5, 3), (5, 9), "you are away on every soak day of this week"),
        (None, (4, 30), 'the week\'s soak days lie outside your soaking season (last = "04-30" in '
         "yard.toml)"),
        ((6, 1), (10, 5), 'the week\'s soak days lie outside your soaking season (first = "06-01" '
         'and last = "10-05" in yard.toml)'),
        # Tuesday the 4th is in the season, Friday is out.
        (None, (5, 6), 'some of the week\'s soak days lie outside your soaking season (last = '
         '"05-06" in yard.toml), and you are away on the others'),
    ],
)  # fmt: skip
def test_a_week_without_soak_days_names_the_setting_or_the_days_away(
    first: MonthDay | None, last: MonthDay | None, words: str
) -> None:
    yard: Any = SimpleNamespace(soaking=replace(SOAKING, first=first, last=last))
    assert _no_day_words(yard, TODAY) == words


def test_a_full_tank_is_named_with_its_day_and_else_what_the_soak_would_cost(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # B may go in on day 1 too, and fills the tank for 40 there: beside it A's 20 have no room.
    problem = selling((12, 1.0))
    first = replace(problem.stacks[B].first, soak=np.array([0, 2, 3]))
    problem = replace(problem, stacks=(problem.stacks[A], replace(problem.stacks[B], first=first)))
    found = wait_of(waiting(problem, ((), (0,)), monkeypatch), A)
    assert found.causes == ("tank full",)
    assert found.words == "better soaks leave too little room in the tank on Tue 4 May"
    assert found.tried.path[0] == 0
    # With room for both it is tried on that day, and sold by it is what the others leave.
    roomy = waiting(replace(problem, tank_logs=60), ((), ()), monkeypatch)
    found = wait_of(roomy, A)
    assert found.causes == ("costs",)
    # 2.0 on day 9 and 1.0 on day 11, of which the stall takes one each; unsoaked there is nothing.
    assert found.tried.more == pytest.approx([1.0])
    cost = roomy.tables.cost
    assert found.tried.gain_kg == pytest.approx(cost(((), ())) - cost((found.tried.path, ())))


def test_of_several_open_days_the_one_that_costs_least_is_tried(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    problem = replace(selling((12, 1.0)), soak_days=np.array([1, 4, 6, 71]))
    made = waiting(problem, ((), ()), monkeypatch)
    gains = {0: -0.3, 1: -0.1, 2: -0.2}
    monkeypatch.setattr(f"{AT}._forbids", lambda *_: [])
    monkeypatch.setattr(
        f"{AT}.one_soak", lambda _, beside, soak: OneSoak((soak,), np.array([0.0]), gains[soak])
    )
    found = wait_of(made, A)
    assert (found.tried.path, found.tried.gain_kg) == ((1,), -0.1)


def costs(more: tuple[float, ...], later: float | None = None, *, sells: bool = True) -> str:
    """What is told of A soaked on day 1, which brings 1.5 kg, and later ones as given."""

    def outcome(_: Any, stack: int, path: tuple[int, ...], step: int) -> SimpleNamespace:
        return SimpleNamespace(kg=np.array([1.0, 2.0]) if path[0] == 0 else np.array([later]))

    outlook = SimpleNamespace(yard=SimpleNamespace(units="metric", sells=sells))
    built = SimpleNamespace(problem=hand_problem(), outlook=outlook)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(f"{AT}.soak_outcome", outcome)
        planned = () if later is None else (2,)
        said = _cost_words(built, A, OneSoak((0,), np.array(more), -1.0), planned)
    brings = "soaked on Tue 4 May it would bring about 1.5 kg, "
    assert said.startswith(brings)
    return said.removeprefix(brings)


def test_what_a_soak_would_take_bring_or_leave_as_it_is_is_told() -> None:
    # Stall on days 5, 12, 19, restaurant on 26, stall on 26.
    less = (0.5, 0.0, 0.0, -0.4, -0.2)
    assert costs(less) == (
        "and 100 g less would be sold over the season, most of it Restaurant on Sat 29 May"
    )
    assert costs(less, sells=False) == "and 100 g less would come to the table over the season"
    more = "over the season: less than the work, and what the logs bear better for resting on"
    assert costs((0.1, 0.0, 0.0, 0.0, 0.0)) == f"but only 100 g more sold {more}"
    assert costs((0.3, -0.1, 0.0, 0.0, 0.0), sells=False) == f"but only 200 g more wanted {more}"
    for little in (-0.099, 0.0, 0.099):
        nothing = "and nothing more would be"
        so_little = (little, 0.0, 0.0, 0.0, 0.0)
        assert costs(so_little) == f"{nothing} sold: rested longer it bears better"
        assert costs(so_little, sells=False).startswith(f"{nothing} wanted")


def test_that_a_stack_bears_more_later_is_told_where_a_stall_would_notice() -> None:
    none = (0.0,) * 5
    nothing = "and nothing more would be sold"
    assert costs(none, 1.59) == nothing
    assert costs(none, 1.61) == f"{nothing}: rested until Tue 6 Jul it bears about 1.6 kg"
    assert costs(none, 1.0) == nothing


@pytest.mark.parametrize(
    ("soak", "planned", "ways"),
    [
        # In place of the next soak, before it, and with the next one put off to the first that the
        # arcs allow; what they don't allow, or what is no later, falls out.
        (0, (2, 3), [(0,), (0, 2, 3), (0, 1)]),
        (0, (1, 2), [(0, 2), (0, 1, 2)]),
        (0, (0, 1), [(0, 1), (0, 1), (0, 1)]),
        (0, (), [(0,), (0, 1)]),
        (1, (0, 2), [(1, 2), (1, 2), (1, 2)]),
        (1, (2, 3), [(1,), (1, 2, 3)]),
        (2, (1, 2, 3), [(2, 3), (2, 3), (2, 3)]),
        (2, (), [(2,), (2, 3)]),
        (3, (1, 2), [(3,), (3,)]),
        (3, (), [(3,)]),
    ],
)
def test_a_stack_goes_on_from_a_soak_in_place_of_its_next_one_before_it_or_all_put_off(
    soak: int, planned: tuple[int, ...], ways: list[tuple[int, ...]]
) -> None:
    made = hand_problem()
    arcs = replace(made.types[0], start=np.array([0, 0, 1, 2]), stop=np.array([1, 2, 2, 3]))
    tables = SearchTables.of(replace(made, types=(arcs,)))
    assert list(_ways_on(tables, A, soak, planned)) == ways
