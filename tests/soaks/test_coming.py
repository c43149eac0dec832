"""What is on its way whatever the plan, on the sample yard with things done to it."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from fruitcast.app.choosing import build
from fruitcast.app.known import KnownYard, read_known
from fruitcast.diary.state import Pick, Soak, StackState
from fruitcast.forecast.outlook import YardOutlook, days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.outputs.reminders import reminders
from fruitcast.soaks.coming import coming, flushes_under_way
from tests.outputs.sample_plan import plan

TODAY = date(2026, 7, 9)
SAMPLE = Path(__file__).parents[2] / "sample_data"
WEEKS = 8


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> KnownYard:
    folder = tmp_path_factory.mktemp("yard") / "sample"
    shutil.copytree(SAMPLE, folder)
    numbers = default_numbers()
    # The sample diary as it stood; each test then does its own things to a stack.
    return read_known(folder, TODAY, days_ahead(WEEKS, tail_days=numbers.schedule.tail_days))


def bearing(known: KnownYard) -> str:
    """A stack through its spawn run that soaks well in summer."""
    return next(
        stack.name
        for stack in known.yard.stacks
        if stack.strain_class == "wide-range" and stack.name in known.state.stacks
    )


def with_stack(known: KnownYard, state: StackState) -> KnownYard:
    stacks = {**known.state.stacks, state.name: state}
    return replace(known, state=replace(known.state, stacks=stacks))


def coming_lists(outlook: YardOutlook) -> dict[str, list[dict]]:
    lists = zip(("under_way", "rest_ends", "ready"), coming(outlook), strict=True)
    return {name: [entry.plain() for entry in entries] for name, entries in lists}


def of(known: KnownYard, kind: str, stack: str) -> list[dict]:
    found = coming_lists(build(known, weeks=WEEKS).outlook)
    return [entry for entry in found[kind] if entry["stack"] == stack]


def soaked(known: KnownYard, days_ago: int, pulled: bool = True) -> tuple[KnownYard, Soak]:
    name = bearing(known)
    on = TODAY - timedelta(days=days_ago)
    soak = Soak(on, 20, 24.0, on + timedelta(days=1) if pulled else None)
    return with_stack(known, StackState(name, 24, soaks=(soak,))), soak


def test_a_soak_of_last_week_has_its_pick_still_to_come(known):
    yard, soak = soaked(known, 4)
    (entry,) = of(yard, "under_way", bearing(known))
    assert entry["soak_on"] == soak.on.isoformat()
    assert entry["pull_on"] == soak.pulled_on.isoformat()
    assert entry["logs"] == 20
    assert entry["pick"]["p10"] <= entry["pick"]["p50"] <= entry["pick"]["p90"]
    assert entry["pick"]["p10"] >= TODAY.isoformat()
    assert entry["expected_kg"] > 0


def test_the_calendar_shows_that_pick_under_the_soak_that_was_made(known):
    yard, soak = soaked(known, 4)
    lists = coming_lists(build(yard, weeks=WEEKS).outlook)
    found = {r.key: r for r in reminders(plan(soaks=[], **lists), yard.yard, yard.state)}
    name = bearing(known)
    assert found[f"soak|1|{name}"].done
    assert found[f"pick|1|{name}"].first_day >= TODAY
    assert found[f"rest|1|{name}"].first_day > soak.on


def test_logs_in_the_tank_are_to_be_pulled(known):
    yard, soak = soaked(known, 0, pulled=False)
    (entry,) = of(yard, "under_way", bearing(known))
    assert entry["pull_on"] == (soak.on + timedelta(days=1)).isoformat()


def test_a_soak_long_past_is_not_under_way(known):
    yard, _ = soaked(known, 100)
    assert of(yard, "under_way", bearing(known)) == []


def test_rest_runs_from_the_soak(known):
    yard, soak = soaked(known, 10)
    rest = timedelta(days=known.numbers.schedule.rest_days)
    (entry,) = of(yard, "rest_ends", bearing(known))
    assert entry["on"] == (soak.on + rest).isoformat()
    assert entry["reason"] == "last soaked on Mon 29 Jun"
    yard, _ = soaked(known, rest.days + 1)
    assert of(yard, "rest_ends", bearing(known)) == []


def test_rest_runs_from_the_first_pick_of_a_natural_flush(known):
    name = bearing(known)
    first = TODAY - timedelta(days=9)
    picks = tuple(Pick(first + timedelta(days=k), 0.5, "natural") for k in (0, 3))
    yard = with_stack(known, StackState(name, 24, picks=picks, natural_seen_on=first))
    (entry,) = of(yard, "rest_ends", name)
    rest = timedelta(days=known.numbers.natural.soak_rest_days)
    assert entry["on"] == (first + rest).isoformat()
    assert entry["reason"] == "flushed by itself"


def flushes(known: KnownYard, state: StackState):
    outlook = build(with_stack(known, state), weeks=WEEKS).outlook
    return [entry for entry in flushes_under_way(outlook) if entry.stack == state.name]


def test_a_natural_flush_is_under_way_until_it_is_picked_out(known):
    name = bearing(known)
    first = TODAY - timedelta(days=2)
    picks = (Pick(first, 0.5, "natural"),)
    (entry,) = flushes(known, StackState(name, 24, picks=picks, natural_seen_on=first))
    assert (entry.kind, entry.begun) == ("natural", first)
    assert entry.last >= TODAY and entry.expected_kg > 0.1
    assert entry.reasons[0].startswith("so far 1.1 lb, in all ")
    (pins,) = flushes(known, StackState(name, 24, pins_on=TODAY))
    assert pins.begun == TODAY and TODAY <= pins.pick.p50 <= pins.last and not pins.reasons
    long_ago = (Pick(TODAY - timedelta(days=60), 0.5, "natural"),)
    assert flushes(known, StackState(name, 24, picks=long_ago)) == []


def test_a_soak_s_flush_is_under_way_once_it_is_picked(known):
    yard, soak = soaked(known, 12)
    state = yard.state.stacks[bearing(known)]
    assert flushes(known, state) == []
    picked = replace(state, picks=(Pick(TODAY - timedelta(days=1), 0.4, "forced", soak.on),))
    (entry,) = flushes(known, picked)
    assert (entry.kind, entry.begun) == ("forced", soak.on)


def test_a_stack_without_logs_has_no_rest_to_wait_for(known):
    name = bearing(known)
    soak = Soak(TODAY - timedelta(days=10), 20, 24.0, TODAY - timedelta(days=9))
    yard = with_stack(known, StackState(name, 0, soaks=(soak,)))
    assert of(yard, "rest_ends", name) == []


def test_a_young_stack_is_named_with_the_day_it_should_be_ready(known):
    name = bearing(known)
    young = tuple(
        replace(stack, inoculated=TODAY - timedelta(days=350)) if stack.name == name else stack
        for stack in known.yard.stacks
    )
    yard = with_stack(replace(known, yard=replace(known.yard, stacks=young)), StackState(name, 24))
    outlook = build(yard, weeks=26).outlook
    (entry,) = [e for e in coming_lists(outlook)["ready"] if e["stack"] == name]
    hold = next(
        hold
        for stack in outlook.stacks
        if stack.name == name
        for hold in stack.holds
        if hold.cause == "spawn run"
    )
    assert entry["on"] == hold.until.isoformat()
    assert date.fromisoformat(entry["on"]) > TODAY
    assert "inoculation" in entry["reason"]


def test_a_part_of_a_stack_in_the_tank_takes_its_own_places(known: KnownYard) -> None:
    name = bearing(known)
    for logs, kept in ((10, 10), (24, None)):
        state = StackState(name, 24, soaks=(Soak(TODAY, logs, 24.0, None),))
        problem = build(with_stack(known, state), weeks=WEEKS).problem
        (stack,) = (each for each in problem.stacks if each.name == name)
        assert (stack.fixed_nights, stack.fixed_logs, stack.begun_logs) == (1, kept, logs)
