"""A published plan held against yard and diary: a sound one passes, each breach is named."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import replace
from datetime import date, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.yard.model import (
    Away,
    Order,
    Outlet,
    Site,
    Soaking,
    Stack,
    WeatherSource,
    Yard,
)
from tests.soaks.rules import _in_season, judge_published

TODAY = date(2027, 5, 3)  # a Monday


def stack(name: str, logs: int, inoculated: date = date(2025, 4, 1)) -> Stack:
    return Stack(name, "wide-range", "", "red oak", logs, 0.12, 1.0, inoculated, "plug")


YARD = Yard(
    folder=Path("/yard"),
    name="Thornback Farm",
    units="metric",
    site=Site(42.0, -76.0, 300.0, ZoneInfo("America/New_York"), 0.8),
    weather=WeatherSource(Path("/yard/weather.csv"), None, 30),
    soaking=Soaking((1, 4), 50, time(8), (4, 15), (10, 20), None),
    keep_above=0.35,
    cold_store_days=10,
    saleable=0.85,
    promise=0.8,
    outlets=(
        Outlet("Stall", 5, 3.0, (5, 10), (10, 30), None, 1.0, frozenset({date(2027, 5, 22)})),
    ),
    orders=(Order("Wedding", date(2027, 5, 20), 2.0, None, 1.0),),
    away=(Away(date(2027, 6, 1), date(2027, 6, 5)),),
    stacks=(stack("A", 30), stack("B", 20), stack("C", 70), stack("D", 25, date(2026, 10, 1))),
)

STATE = YardState(
    stacks={
        "A": StackState("A", 30, soaks=(Soak(date(2027, 2, 26), 30, 24.0, date(2027, 2, 27)),)),
        "B": StackState("B", 18, picks=(Pick(date(2027, 4, 20), 1.0, "natural"),)),
        "C/1": StackState("C/1", 35),
        "C/2": StackState("C/2", 35),
        "D": StackState("D", 25),
    },
    lot_of={"A": "A", "B": "B", "C/1": "C", "C/2": "C", "D": "D"},
)


def soak(name: str, logs: int, on: str, pull: str, hours: float = 24.0) -> dict[str, Any]:
    pick = {"p10": "2027-07-20", "p50": "2027-07-22", "p90": "2027-07-25"}
    if pull < "2027-06-30":
        pick = {key: day.replace("-07-", "-06-") for key, day in pick.items()}
    return {
        "stack": name,
        "logs": logs,
        "soak_on": on,
        "hours": hours,
        "pull_on": pull,
        "pick": pick,
        "expected_kg": 2.9,
        "reasons": ["ready"],
    }


def sale(outlet: str, on: str, target: float) -> dict[str, Any]:
    return {
        "outlet": outlet,
        "on": on,
        "target_kg": target,
        "delivered_kg": 0.5 * target,
        "available_p10_kg": 0.2,
        "available_p90_kg": 5.0,
        "chance": 0.5,
        "promise_kg": 0.4,
    }


PLAN: dict[str, Any] = {
    "today": "2027-05-03",
    "weeks": 10,
    "soaks": [
        soak("A", 30, "2027-05-04", "2027-05-05"),
        soak("C/1", 35, "2027-05-07", "2027-05-09", 48.0),
        soak("C/2", 35, "2027-05-11", "2027-05-12"),
        soak("A", 30, "2027-07-06", "2027-07-07"),
        soak("B", 18, "2027-06-08", "2027-06-09", 12.0),
    ],
    "outlets": [
        sale("Stall", "2027-05-15", 3.0),
        sale("Wedding", "2027-05-20", 2.0),
        *[sale("Stall", f"2027-{day}", 3.0) for day in ("05-29", "06-05", "06-12", "06-19")],
        *[sale("Stall", f"2027-{day}", 3.0) for day in ("06-26", "07-03", "07-10")],
    ],
    "natural": [{"stack": "D", "week": "2027-05-10", "chance": 0.4, "expected_kg": 1.2}],
    "water": [],
    "not_soaked": [{"stack": "D", "reason": "a year is not over before 1 October"}],
    "objective": {
        "shortfall": 13.0,
        "expired": 0.3,
        "soaks": 1.48,
        "change": 0.0,
        "end_value": -2.0,
    },
    "objective_kg": 12.78,
    "bound_kg": 12.7,
    "demand_kg": 26.0,
    "members": 30,
    "seed": 1,
    "warnings": [],
}


def broken(
    change: Callable[[dict[str, Any]], Any], yard: Yard = YARD, state: YardState = STATE
) -> list[str]:
    """Return the rules broken after `change` has altered the document."""
    plan = copy.deepcopy(PLAN)
    change(plan)
    return [violation.rule for violation in judge_published(yard, state, plan, TODAY)]


def test_a_sound_plan_passes() -> None:
    # A: 63 days to the hour of the calendar between both soaks, 67 since the recorded one.
    # B: 49 days from its natural first pick of 20 April. The tank: 30, 35, 35, 35, 18 of 50.
    assert judge_published(YARD, STATE, PLAN, TODAY) == []


def move(index: int, on: str, pull: str) -> Callable[[dict[str, Any]], None]:
    return lambda plan: plan["soaks"][index].update(soak_on=on, pull_on=pull)


@pytest.mark.parametrize(
    ("change", "rules"),
    [
        (move(2, "2027-05-12", "2027-05-13"), ["soak day"]),  # a Wednesday
        (move(4, "2027-06-04", "2027-06-05"), ["away", "away", "flush"]),
        (move(2, "2027-05-28", "2027-05-30"), ["pull"]),  # 24 hours, two nights
        (move(2, "2027-05-14", "2027-05-14"), ["pull"]),  # out again the same morning
        (move(1, "2027-05-07", "2027-05-08"), ["pull"]),  # 48 hours, one night
        (move(2, "2027-07-13", "2027-07-14"), ["horizon", "pick"]),
        (move(3, "2027-07-02", "2027-07-03"), ["rest"]),  # 59 days
        (move(4, "2027-05-28", "2027-05-29"), ["flush"]),  # 38 days from the natural pick
        (move(2, "2027-05-07", "2027-05-08"), ["tank"]),  # beside C/1
        (move(0, "2027-05-07", "2027-05-08"), ["rest", "tank"]),
        (lambda p: p["soaks"][4].update(logs=20), ["logs"]),
        (lambda p: p["soaks"][0].update(stack="Z"), ["stack"]),
        (lambda p: p["soaks"][0].update(reasons=[]), ["reason"]),
        (lambda p: p["soaks"][0].update(expected_kg=-1.0), ["pick"]),
        (lambda p: p["soaks"][0]["pick"].update(p10="2027-06-23"), ["pick"]),
        (lambda p: p["soaks"][0]["pick"].update(p10="2027-05-04"), ["pick"]),
        (lambda p: p["soaks"][0]["pick"].update(p50=None), ["format"]),
        (lambda p: p["not_soaked"].clear(), ["stack"]),
        (lambda p: p["not_soaked"].append({"stack": "A", "reason": "why"}), ["stack"]),
        (lambda p: p["not_soaked"][0].update(reason=""), ["reason"]),
        (lambda p: p["outlets"].pop(2), ["target"]),
        (lambda p: p["outlets"][2].update(on="2027-05-22"), ["target", "target"]),  # closed
        (lambda p: p["outlets"][2].update(target_kg=4.0), ["target"]),
        (lambda p: p["outlets"][2].update(delivered_kg=3.1), ["outlet"]),
        (lambda p: p["outlets"][2].update(promise_kg=3.1), ["outlet"]),
        (lambda p: p["outlets"][2].update(chance=1.1), ["outlet"]),
        (lambda p: p["outlets"][2].update(available_p10_kg=6.0), ["outlet"]),
        (lambda p: p.update(demand_kg=23.0), ["target"]),
        (lambda p: p.update(objective_kg=12.0, bound_kg=None), ["objective"]),
        (lambda p: p.update(bound_kg=13.0), ["objective"]),
        (lambda p: p["objective"].update(shortfall=17.0, end_value=2.0), ["objective"] * 2),
        (lambda p: p["natural"][0].update(week="2027-05-11"), ["natural"]),
        (lambda p: p.update(today="2027-05-02"), ["today"]),
        (lambda p: p.pop("soaks"), ["format"]),
    ],
)
def test_each_breach_is_named(change: Callable[[dict[str, Any]], Any], rules: list[str]) -> None:
    assert broken(change) == rules


def test_messages_say_stack_day_and_figure() -> None:
    plan = copy.deepcopy(PLAN)
    move(3, "2027-07-02", "2027-07-03")(plan)
    move(2, "2027-05-07", "2027-05-08")(plan)
    said = [str(violation) for violation in judge_published(YARD, STATE, plan, TODAY)]
    assert said == [
        "A, 2027-07-02: soaked 59 days after the soak of 2027-05-04, 63 needed",
        "2027-05-07: 70 logs in a tank for 50 (C/1, C/2)",
    ]


def test_out_of_season() -> None:
    late = replace(YARD, soaking=replace(YARD.soaking, first=(5, 5)))
    assert broken(lambda p: None, yard=late) == ["season"]
    winter = replace(YARD, soaking=replace(YARD.soaking, first=(10, 1), last=(5, 8)))
    assert broken(lambda p: None, yard=winter) == ["season"] * 3


def test_hours_of_a_day() -> None:
    # 30 logs in on 4 May are 30 x 0.05 = 1.5 h, 35 logs 1.75 h, pulling them 35 x 0.04.
    tight = replace(YARD, soaking=replace(YARD.soaking, hours_a_day=1.6))
    assert broken(lambda p: None, yard=tight) == ["hours", "hours"]
    roomy = replace(YARD, soaking=replace(YARD.soaking, hours_a_day=1.75))
    assert broken(lambda p: None, yard=roomy) == []


def test_the_first_year() -> None:
    young = replace(YARD, stacks=(stack("A", 30, date(2026, 5, 5)), *YARD.stacks[1:]))
    assert broken(lambda p: None, yard=young) == ["first year"]  # 364 days on 4 May


def with_state(name: str, **changes: Any) -> YardState:
    stacks = dict(STATE.stacks)
    stacks[name] = replace(stacks[name], **changes)
    return replace(STATE, stacks=stacks)


def test_recorded_soaks_rest_and_hold_the_tank() -> None:
    rested = Soak(date(2027, 3, 3), 30, 24.0, date(2027, 3, 4))  # 62 days before 4 May
    assert broken(lambda p: None, state=with_state("A", soaks=(rested,))) == ["rest"]
    inside = Soak(date(2027, 5, 3), 25, 48.0, None)  # in the tank on 3 and 4 May, beside A
    assert broken(lambda p: None, state=with_state("D", soaks=(inside,))) == ["tank"]
    out = replace(inside, hours=24.0)
    assert broken(lambda p: None, state=with_state("D", soaks=(out,))) == []


def test_pins_and_flushes_seen_keep_a_stack_dry() -> None:
    pins = with_state("A", pins_on=date(2027, 5, 1))
    assert broken(lambda p: None, state=pins) == ["flush"]
    fruiting = with_state("A", fruiting_on=date(2027, 4, 10))
    assert broken(lambda p: None, state=fruiting) == ["flush"]
    # Pins within five weeks of a soak are that soak's own flush.
    own = with_state("A", pins_on=date(2027, 3, 12))
    assert broken(lambda p: None, state=own) == []
    # Five weeks from the pull, as the diary counts them, however long the soak was.
    long = Soak(date(2027, 3, 2), 30, 48.0, date(2027, 3, 4))
    last = with_state("A", soaks=(long,), pins_on=date(2027, 4, 8))
    assert broken(lambda p: None, state=last) == []
    late = with_state("A", soaks=(long,), pins_on=date(2027, 4, 9))
    assert broken(lambda p: None, state=late) == ["flush"]
    # The grower's own number of days counts.
    slow = replace(YARD, numbers={"diary.forced_pick_days": 36.0})
    assert broken(lambda p: None, state=late, yard=slow) == []
    # The flush began with the pick of 9 April, not with that of 20 April.
    picks = tuple(Pick(date(2027, 4, day), 1.0, "natural") for day in (9, 15, 20))
    early = with_state("B", picks=picks)
    assert broken(move(4, "2027-05-28", "2027-05-29"), state=early) == []


def test_the_growers_own_rest_counts() -> None:
    patient = replace(YARD, numbers={"natural.soak_rest_days": 56.0})
    assert broken(lambda p: None, yard=patient) == ["flush"]  # B: 49 days


def test_lots_fit_the_tank_and_are_even() -> None:
    small = replace(YARD, soaking=replace(YARD.soaking, tank_logs=35))
    assert broken(lambda p: None, yard=small) == []
    stacks = dict(STATE.stacks)
    stacks["C/1"], stacks["C/2"] = StackState("C/1", 33), StackState("C/2", 37)
    uneven = replace(STATE, stacks=stacks)
    assert broken(lambda p: None, state=uneven) == ["logs", "logs", "lot"]
    one = {name: state for name, state in STATE.stacks.items() if name != "C/2"}
    one["C/1"] = StackState("C/1", 70)

    def single(plan: dict[str, Any]) -> None:
        plan["soaks"][1]["logs"] = 70
        del plan["soaks"][2]

    assert broken(single, state=replace(STATE, stacks=one)) == ["lot", "lot", "tank", "tank"]


def test_lots_may_differ_by_a_log_where_the_logs_cannot_be_halved() -> None:
    stacks = tuple(replace(row, logs=71) if row.name == "C" else row for row in YARD.stacks)
    odd = replace(YARD, stacks=stacks)
    for sizes, fault in (((36, 35), False), ((35, 36), False), ((37, 34), True)):
        states = dict(STATE.stacks)
        for name, logs in zip(("C/1", "C/2"), sizes, strict=True):
            states[name] = StackState(name, logs)
        rules = broken(lambda p: None, yard=odd, state=replace(STATE, stacks=states))
        assert ("lot" in rules) is fault


@pytest.mark.parametrize(
    ("first", "last", "inside", "outside"),
    [
        ((4, 15), None, ["2027-04-15", "2027-12-31", "2027-12-10"], ["2027-04-14", "2027-01-01"]),
        (None, (10, 20), ["2027-01-01", "2027-10-20"], ["2027-10-21", "2027-12-31"]),
        (
            (11, 1),
            (2, 10),
            ["2027-11-01", "2027-12-31", "2027-02-10"],
            ["2027-02-11", "2027-10-31"],
        ),
        (None, None, ["2027-01-01", "2027-12-31"], []),
    ],
)
def test_a_season_open_at_one_end_lasts_to_the_year_s(first, last, inside, outside) -> None:
    assert all(_in_season(date.fromisoformat(day), first, last) for day in inside)
    assert not any(_in_season(date.fromisoformat(day), first, last) for day in outside)
