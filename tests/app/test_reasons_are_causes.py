"""A reason is a cause: take it away and the decision changes."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from fruitcast.app.known import KnownYard, read_known
from fruitcast.app.planning import make_plan
from fruitcast.diary.state import Soak, StackState, YardState
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.soaks.search import SearchParams
from fruitcast.yard.model import Stack, Yard

TODAY = date(2026, 6, 24)
"""A day after which few of the possible futures bring a flush by itself: a soak is worth it."""

WEEKS = 4
QUICK = SearchParams(moves=20_000, moves_a_stack=0)


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> KnownYard:
    folder = tmp_path_factory.mktemp("causes") / "yard"
    shutil.copytree(Path(__file__).parents[2] / "sample_data", folder)
    return read_known(folder, TODAY, days_ahead(26, tail_days=default_numbers().schedule.tail_days))


def hungry(yard: Yard, factor: float = 30.0) -> Yard:
    """Return the yard with outlets that take all there is, so that every soak is worth it."""
    outlets = tuple(
        replace(o, target_kg=factor * o.target_kg, weight=5 * o.weight) for o in yard.outlets
    )
    return replace(yard, outlets=outlets)


def alone(
    sample: KnownYard,
    *,
    state: Callable[[StackState], StackState] = lambda s: s,
    stack: Callable[[Stack], Stack] = lambda s: s,
    yard: Callable[[Yard], Yard] = lambda y: y,
    weeks: int = WEEKS,
    today: date = TODAY,
) -> dict[str, Any]:
    """Return the plan of a yard with one stack, an oak stack of good bearing age."""
    row = stack(
        Stack("S", "wide-range", "", "red oak", 30, 0.127, 1.02, date(2024, 4, 20), "sawdust")
    )
    one = state(StackState("S", 30))
    here = replace(
        sample,
        today=today,
        yard=yard(hungry(replace(sample.yard, stacks=(row,), orders=(), away=()))),
        state=YardState(stacks={"S": one}, lot_of={"S": "S"}),
        published=None,
    )
    return make_plan(here, weeks=weeks, params=QUICK).document.plain()


def cause(document: dict[str, Any]) -> str | None:
    """Return why the stack is left alone, None when it is soaked."""
    return next((entry["cause"] for entry in document["not_soaked"]), None)


def test_nothing_forbids_it_so_it_is_soaked(sample: KnownYard) -> None:
    assert cause(alone(sample)) is None


@pytest.mark.parametrize(
    ("named", "state"),
    [
        (
            "rest",
            lambda s: replace(s, soaks=(Soak(date(2026, 6, 16), 30, 24.0, date(2026, 6, 17)),)),
        ),
        ("tank", lambda s: replace(s, soaks=(Soak(date(2026, 6, 23), 30, 48.0, None),))),
        ("pins", lambda s: replace(s, pins_on=date(2026, 6, 22))),
        ("natural rest", lambda s: replace(s, fruiting_on=date(2026, 6, 22))),
        ("no logs", lambda s: replace(s, logs=0)),
    ],
)
def test_what_the_diary_says_is_named_and_without_it_the_stack_is_soaked(
    sample: KnownYard, named: str, state: Callable[[StackState], StackState]
) -> None:
    document = alone(sample, state=state)
    assert cause(document) == named
    assert [entry["causes"] for entry in document["waits"]] == [[named]]
    assert cause(alone(sample)) is None


def test_two_causes_that_each_forbid_are_both_named(sample: KnownYard) -> None:
    def resting(state: StackState) -> StackState:
        return replace(state, soaks=(Soak(date(2026, 6, 16), 30, 24.0, date(2026, 6, 17)),))

    def held(state: StackState) -> StackState:
        return replace(state, held_since=TODAY, held_until=date(2026, 8, 30))

    def causes(state: Callable[[StackState], StackState]) -> list[list[str]]:
        return [entry["causes"] for entry in alone(sample, state=state)["waits"]]

    assert causes(lambda s: held(resting(s))) == [["rest", "kept back"]]
    assert causes(held) == [["kept back"]]
    assert causes(resting) == [["rest"]]


def test_a_young_stack_waits_for_its_spawn_run_until_it_is_seen_done(sample: KnownYard) -> None:
    def young(stack: Stack) -> Stack:
        return replace(stack, inoculated=date(2025, 6, 10))

    # Past its first year, and the late spring has kept the spawn run from ending.
    slow = lambda s: replace(young(s), strain_class="wide-range", diameter=0.22)  # noqa: E731
    assert cause(alone(sample, stack=slow)) == "spawn run"
    seen = alone(
        sample,
        stack=slow,
        state=lambda s: replace(s, spawn_run_seen_on=date(2026, 6, 20)),
    )
    assert cause(seen) is None


def test_no_soak_in_the_first_year_even_when_mushrooms_were_seen(sample: KnownYard) -> None:
    def seen(state: StackState) -> StackState:
        return replace(state, natural_seen_on=date(2026, 4, 20))

    def made(on: date) -> Callable[[Stack], Stack]:
        return lambda stack: replace(stack, inoculated=on)

    young, old = made(date(2025, 9, 20)), made(date(2025, 4, 20))
    assert cause(alone(sample, stack=young, state=seen)) == "first year"
    assert cause(alone(sample, stack=old, state=seen)) is None


def test_cold_weather_logs_are_left_alone_in_summer_for_their_class(sample: KnownYard) -> None:
    cold = alone(
        sample,
        stack=lambda s: replace(s, strain_class="cold-weather"),
    )
    assert cause(cold) == "class"
    same = alone(
        sample,
        stack=lambda s: replace(s),
    )
    assert cause(same) is None


def test_out_of_season_is_named_and_a_longer_season_ends_it(sample: KnownYard) -> None:
    def season(first: tuple[int, int]) -> Callable[[Yard], Yard]:
        return lambda yard: replace(yard, soaking=replace(yard.soaking, first=first))

    assert cause(alone(sample, yard=season((9, 1)))) == "season"
    assert cause(alone(sample, yard=season((4, 15)))) is None


def two_stacks(sample: KnownYard, tank: int) -> dict[str, Any]:
    rows = tuple(
        Stack(name, "wide-range", "", "red oak", logs, 0.127, 1.02, date(2024, 4, 20), "sawdust")
        for name, logs in (("Large", 40), ("Small", 20))
    )
    yard = hungry(replace(sample.yard, stacks=rows, orders=(), away=()))
    soaking = replace(yard.soaking, days=(4,), first=(6, 26), last=(6, 26), tank_logs=tank)
    here = replace(
        sample,
        yard=replace(yard, soaking=soaking),
        state=YardState(
            stacks={r.name: StackState(r.name, r.logs) for r in rows},
            lot_of={r.name: r.name for r in rows},
        ),
        published=None,
    )
    return make_plan(here, weeks=WEEKS, params=QUICK).document.plain()


def test_a_full_tank_is_named_and_a_larger_one_takes_both(sample: KnownYard) -> None:
    document = two_stacks(sample, tank=45)
    left = document["not_soaked"]
    (wait,) = document["waits"]
    assert (wait["stack"], wait["causes"]) == ("Small", ["tank full"])
    assert wait["soak"]["soak_on"] == "2026-06-26"
    assert "too little room in the tank on" in wait["reason"]  # and nothing that isn't short
    assert [(entry["stack"], entry["cause"]) for entry in left] == [("Small", "tank full")]
    assert left[0]["reason"].endswith("first on Fri 26 Jun")  # the only soak day there is
    roomy = two_stacks(sample, tank=60)
    assert roomy["not_soaked"] == [] == roomy["waits"]


def test_a_soak_whose_sales_are_taken_away_is_not_made(sample: KnownYard) -> None:
    document = alone(sample)
    soak = document["soaks"][0]
    assert soak["covers"]
    assert soak["covers"][0]["outlet"] in soak["reasons"][2]
    covered = {date.fromisoformat(cover["on"]) for cover in soak["covers"]}
    span = min(covered) - timedelta(days=30), max(covered) + timedelta(days=60)

    def closed(yard: Yard) -> Yard:
        days = frozenset(span[0] + timedelta(days=n) for n in range((span[1] - span[0]).days + 1))
        return replace(yard, outlets=tuple(replace(o, closed=days) for o in yard.outlets))

    after = alone(sample, yard=closed)
    assert all(entry["soak_on"] != soak["soak_on"] for entry in after["soaks"])
