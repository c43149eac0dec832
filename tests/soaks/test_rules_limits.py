"""The judge of a published plan at its limits: what is just allowed passes, one step more fails."""

from __future__ import annotations

import copy
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.yard.model import Away, Order, Outlet
from tests.soaks.rules import (
    PlannedSoak,
    _days,
    _hours,
    _in_season,
    _in_tank,
    _nights,
    _summer,
    _tank,
    _targets,
    judge_published,
)
from tests.soaks.test_rules import PLAN, STATE, TODAY, YARD, broken, move, stack, with_state

NOBODY = YardState(stacks={}, lot_of={})
MAY = [date(2027, 5, day) for day in range(1, 32)]


def may(day: int) -> date:
    return MAY[day - 1]


def soaking(**changes: Any) -> Any:
    return replace(YARD, soaking=replace(YARD.soaking, **changes))


@pytest.mark.parametrize(
    ("hours", "nights"),
    [(0.0, 1), (8.0, 1), (24.0, 1), (24.1, 2), (25.0, 2), (48.0, 2), (49.0, 3), (72.0, 3)],
)
def test_logs_come_out_on_the_first_morning_after_their_hours(hours: float, nights: int) -> None:
    assert _nights(hours) == nights


def test_the_days_of_a_soak_run_from_its_first_to_the_day_of_the_pull() -> None:
    soaks = [PlannedSoak("A", 1, may(4), may(6)), PlannedSoak("B", 1, may(5), may(7))]
    assert _days(soaks) == [may(4), may(5), may(6), may(7)]
    assert _days([PlannedSoak("A", 1, may(4), may(5))]) == [may(4), may(5)]


@pytest.mark.parametrize(
    ("first", "last", "inside"),
    [
        ((5, 4), (5, 4), [4]),
        ((5, 30), (5, 2), [1, 2, 30, 31]),
        ((5, 3), (5, 2), list(range(1, 32))),
        (date(2027, 5, 30), None, [30, 31]),
        (None, date(2027, 5, 2), [1, 2]),
        (date(2027, 5, 30), (6, 10), [30, 31]),
        (date(2027, 6, 1), date(2027, 6, 1), []),
    ],
)
def test_both_ends_of_a_season_belong_to_it(first: Any, last: Any, inside: list[int]) -> None:
    assert [day.day for day in MAY if _in_season(day, first, last)] == inside


@pytest.mark.parametrize(
    ("latitude", "months"), [(42.0, {6, 7, 8}), (0.0, {6, 7, 8}), (-42.0, {12, 1, 2})]
)
def test_cold_weather_logs_are_left_alone_in_the_summer_of_their_half_of_the_world(
    latitude: float, months: set[int]
) -> None:
    cold = replace(YARD.stacks[0], name="C", strain_class="cold-weather")
    mild = replace(YARD.stacks[0], name="W", strain_class="wide-range")
    site = replace(YARD.site, latitude=latitude)
    yard = replace(YARD, stacks=(cold, mild), site=site)
    state = YardState(stacks={}, lot_of={"C/1": "C", "W/1": "W"})
    soaks = [
        PlannedSoak(name, 10, date(2027, month, 15), date(2027, month, 16))
        for month in range(1, 13)
        for name in ("C", "C/1", "W/1")
    ]
    found = [(violation.stack, violation.day.month) for violation in _summer(yard, state, soaks)]
    assert sorted(found) == sorted((name, m) for m in months for name in ("C", "C/1"))


def hours(allowed: float, *soaks: PlannedSoak, state: YardState = NOBODY) -> list[str]:
    yard = soaking(hours_a_day=allowed)
    return [str(violation) for violation in _hours(yard, state, soaks, TODAY)]


def test_soaking_and_pulling_on_one_day_add_up() -> None:
    # On 5 May 35 logs go in and 30 come out: 35 x 0.05 + 30 x 0.04 = 1.75 + 1.2 hours.
    soaks = (PlannedSoak("A", 30, may(4), may(5)), PlannedSoak("B", 35, may(5), may(6)))
    assert hours(2.95, *soaks) == []
    assert hours(2.94, *soaks) == [
        "2027-05-05: 2.95 hours of soaking and pulling, 2.94 allowed",
    ]


def test_a_day_of_pulling_alone_is_held_to_the_hours_too() -> None:
    # Three lots go in on three days, 1.5 h each, and all come out on 7 May: 90 x 0.04 = 3.6 h.
    soaks = [
        PlannedSoak(name, 30, may(day), may(7)) for name, day in zip("ABC", (4, 5, 6), strict=True)
    ]
    assert hours(3.6, *soaks) == []
    assert hours(3.5, *soaks) == ["2027-05-07: 3.60 hours of soaking and pulling, 3.5 allowed"]


def test_pulling_what_is_in_the_tank_already_takes_hours_but_breaks_no_rule_by_itself() -> None:
    # Soaked before, 50 logs come out on 5 May in any case: 2 h.
    state = YardState({"Z": StackState("Z", 50, soaks=(Soak(may(3), 50, 48.0, None),))}, {"Z": "Z"})
    # Another soak lies over that day, but neither begins nor ends on it.
    assert hours(1.6, PlannedSoak("A", 30, may(4), may(6)), state=state) == []
    # One that begins on it adds 30 x 0.05.
    late = PlannedSoak("A", 30, may(5), may(6))
    assert hours(3.5, late, state=state) == []
    assert hours(3.4, late, state=state) == [
        "2027-05-05: 3.50 hours of soaking and pulling, 3.4 allowed"
    ]
    # Soaking them is done already.
    today = PlannedSoak("A", 30, may(3), may(4))
    assert hours(1.5, today, state=state) == []


def test_a_recorded_soak_holds_the_tank_until_its_hours_are_full_or_it_was_pulled() -> None:
    def held(*soaks: Soak) -> list[PlannedSoak]:
        state = YardState({"Z": StackState("Z", 50, soaks=soaks)}, {"Z": "Z"})
        return list(_in_tank(state, TODAY))

    assert held(Soak(may(2), 50, 48.0, None)) == [
        PlannedSoak("Z", 50, may(2), may(4), planned=False)
    ]
    assert held(Soak(may(3), 40, None, None)) == [
        PlannedSoak("Z", 40, may(3), may(4), planned=False)
    ]
    assert held(Soak(may(2), 50, None, None)) == []  # a day when nobody wrote the hours: out today
    assert held(Soak(may(1), 50, 48.0, None)) == []
    assert held(Soak(may(3), 50, 48.0, may(3))) == []


def test_a_tank_is_full_with_its_number_of_logs_and_overfull_only_by_a_planned_soak() -> None:
    def tank(*soaks: PlannedSoak, state: YardState = NOBODY) -> list[str]:
        return [str(v) for v in _tank(YARD, state, soaks, TODAY)]

    first, beside = PlannedSoak("A", 30, may(4), may(6)), PlannedSoak("B", 20, may(5), may(7))
    assert tank(first, beside) == []
    assert tank(first, replace(beside, logs=21)) == ["2027-05-05: 51 logs in a tank for 50 (A, B)"]
    # What stands in it already is nobody's fault before anything is planned beside it.
    over = {"Z": StackState("Z", 60, soaks=(Soak(may(2), 60, 72.0, None),))}
    assert tank(first, state=YardState(over, {"Z": "Z"})) == [
        "2027-05-04: 90 logs in a tank for 50 (A, Z)"
    ]
    late = [replace(first, on=may(5), pull_on=may(6))]
    assert tank(*late, state=YardState(over, {"Z": "Z"})) == []


def one_soak(on: date, name: str = "A", logs: int = 30) -> dict[str, Any]:
    """The plan with one soak of one night and every other stack left alone."""
    plan = copy.deepcopy(PLAN)
    only = next(entry for entry in plan["soaks"] if entry["stack"] == "A")
    pick = {key: (on + timedelta(days=10)).isoformat() for key in ("p10", "p50", "p90")}
    only.update(stack=name, logs=logs, soak_on=on.isoformat(), pick=pick)
    only["pull_on"] = (on + timedelta(days=1)).isoformat()
    plan["soaks"] = [only]
    plan["not_soaked"] = [
        {"stack": other, "reason": "why"} for other in STATE.stacks if other != name
    ]
    return plan


def rules(plan: dict[str, Any], yard: Any = YARD, state: YardState = STATE) -> list[str]:
    return [violation.rule for violation in judge_published(yard, state, plan, TODAY)]


def test_the_horizon_holds_today_and_its_last_day_and_no_day_around_them() -> None:
    every_day = soaking(days=tuple(range(7)))
    last = TODAY + timedelta(weeks=10) - timedelta(days=1)
    for on, expected in (
        (TODAY, []),
        (TODAY - timedelta(days=1), ["horizon"]),
        (last, []),
        (last + timedelta(days=1), ["horizon"]),
    ):
        rested = with_state("A", soaks=())
        assert rules(one_soak(on), every_day, rested) == expected


def test_nobody_soaks_or_pulls_on_the_first_or_last_day_away() -> None:
    away = replace(YARD, away=(Away(date(2027, 5, 8), date(2027, 5, 11)),))
    assert rules(one_soak(date(2027, 5, 7)), away) == ["away"]  # pulled on the 8th
    assert rules(one_soak(date(2027, 5, 11)), away) == ["away"]
    assert rules(one_soak(date(2027, 5, 14)), away) == []


def test_a_stack_is_a_year_old_on_its_three_hundred_and_sixty_fifth_day() -> None:
    for inoculated, expected in ((date(2026, 5, 4), []), (date(2026, 5, 5), ["first year"])):
        yard = replace(YARD, stacks=(stack("A", 30, inoculated), *YARD.stacks[1:]))
        assert rules(one_soak(date(2027, 5, 4)), yard) == expected


def test_rest_is_counted_from_every_soak_but_soaks_of_the_past_are_not_judged() -> None:
    def recorded(*days: date) -> YardState:
        soaks = tuple(Soak(day, 30, 24.0, day + timedelta(days=1)) for day in days)
        return with_state("A", soaks=soaks)

    on = date(2027, 5, 4)
    assert rules(one_soak(on), state=recorded(on - timedelta(days=63))) == []
    assert rules(one_soak(on), state=recorded(on - timedelta(days=62))) == ["rest"]
    close = recorded(on - timedelta(days=80), on - timedelta(days=70))
    assert rules(one_soak(on), state=close) == []


def test_a_natural_flush_goes_back_as_long_as_its_picks_follow_one_another() -> None:
    # Picks up to fourteen days apart are one flush, here begun 49 days before the soak; of two
    # flushes the later counts, begun 35 or 34 days before.
    on = date(2027, 5, 4)
    for gap, expected in ((14, []), (15, ["flush"])):
        first = on - timedelta(days=49)
        days = (first, first + timedelta(days=gap))
        picks = tuple(Pick(day, 1.0, "natural") for day in days)
        assert rules(one_soak(on), state=with_state("A", picks=picks)) == expected
    one_day_late = (Pick(on - timedelta(days=48), 1.0, "natural"),)
    assert rules(one_soak(on), state=with_state("A", picks=one_day_late)) == ["flush"]
    forced = (Pick(on - timedelta(days=20), 1.0, "forced"),)
    assert rules(one_soak(on), state=with_state("A", picks=forced)) == []


def test_pins_on_the_day_of_a_soak_are_its_own_and_those_before_it_are_not() -> None:
    soaked = Soak(date(2027, 2, 26), 30, 24.0, None)
    on = date(2027, 5, 7)
    for seen, expected in (
        (date(2027, 2, 26), []),
        (date(2027, 4, 2), []),  # 35 days, with no pull written down
        (date(2027, 4, 3), ["flush"]),
    ):
        state = with_state("A", soaks=(soaked,), fruiting_on=seen)
        assert rules(one_soak(on), state=state) == expected
    early = with_state(
        "A", soaks=(replace(soaked, on=date(2027, 3, 1)),), pins_on=date(2027, 3, 20)
    )
    assert rules(one_soak(on), state=early) == []
    before = with_state("A", soaks=(replace(soaked, on=date(2027, 3, 30)),))
    before.stacks["A"] = replace(before.stacks["A"], pins_on=date(2027, 3, 29))
    assert rules(one_soak(date(2027, 6, 8)), state=before) == []  # 71 days rested
    assert rules(one_soak(date(2027, 5, 14)), state=before) == ["rest", "flush"]


def test_a_dead_stack_need_not_be_listed_and_may_not_be_soaked() -> None:
    dead = with_state("D", logs=0)
    plan = copy.deepcopy(PLAN)
    plan["not_soaked"] = []
    assert rules(plan, state=dead) == []
    one_left = with_state("D", logs=1)
    assert rules(plan, state=one_left) == ["stack"]
    soaked = with_state("A", logs=0)
    assert rules(one_soak(date(2027, 5, 4), logs=0), state=soaked) == ["logs"]
    twice = copy.deepcopy(PLAN)
    twice["not_soaked"] *= 2
    assert rules(twice) == ["stack"]
    stranger = copy.deepcopy(PLAN)
    stranger["not_soaked"].append({"stack": "Z", "reason": "why"})
    assert rules(stranger) == ["stack"]


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"p10": "2027-05-05"}, []),  # on the morning of the pull
        ({"p10": "2027-05-04"}, ["pick"]),
        ({"p90": "2027-05-13"}, ["pick"]),
        ({"p50": "2027-05-15"}, ["pick"]),
    ],
)
def test_pick_days_are_in_order_and_not_before_the_pull(change: Any, rule: list[str]) -> None:
    plan = one_soak(date(2027, 5, 4))
    plan["soaks"][0]["pick"].update(change)
    assert rules(plan) == rule


@pytest.mark.parametrize("kg", [0.0, 1.5])
def test_a_soak_may_be_expected_to_bring_nothing(kg: float) -> None:
    plan = one_soak(date(2027, 5, 4))
    plan["soaks"][0]["expected_kg"] = kg
    assert rules(plan) == []


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"chance": 0.0}, []),
        ({"chance": 1.0}, []),
        ({"chance": -0.01}, ["natural"]),
        ({"chance": 1.01}, ["natural"]),
        ({"expected_kg": 0.0}, []),
        ({"expected_kg": -0.01}, ["natural"]),
        ({"week": "2027-05-16"}, ["natural"]),
        ({"week": "2027-05-17"}, []),
    ],
)
def test_natural_flushes_are_told_by_weeks_with_sound_figures(change: Any, rule: list) -> None:
    assert broken(lambda plan: plan["natural"][0].update(change)) == rule


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"delivered_kg": 0.0}, []),
        ({"delivered_kg": 3.0}, []),
        ({"delivered_kg": -0.01}, ["outlet"]),
        ({"promise_kg": 3.0}, []),
        ({"promise_kg": -0.01}, ["outlet"]),
        ({"chance": 0.0}, []),
        ({"chance": 1.0}, []),
        ({"chance": -0.01}, ["outlet"]),
        ({"available_p10_kg": 0.0}, []),
        ({"available_p10_kg": -0.01}, ["outlet"]),
        ({"available_p90_kg": 0.2}, []),
        ({"target_kg": 3.01}, ["target"]),
        ({"target_kg": 2.99}, ["target"]),
    ],
)
def test_the_figures_of_a_sale_hang_together(change: Any, rule: list[str]) -> None:
    assert broken(lambda plan: plan["outlets"][0].update(change)) == rule


def test_sales_past_the_horizon_may_be_told_but_are_not_asked_for() -> None:
    def told(day: str) -> list[str]:
        late = {**PLAN["outlets"][0], "outlet": "Fair", "on": day}
        return broken(lambda plan: plan["outlets"].append(late))

    assert told("2027-07-12") == []  # ten weeks from 3 May
    assert told("2027-07-11") == ["target"]


def test_what_outlets_and_orders_want_on_one_day_adds_up_under_one_name() -> None:
    yard = replace(
        YARD,
        outlets=(
            Outlet("Stall", 5, 3.0, (5, 15), None, None, 1.0, frozenset({date(2027, 5, 22)})),
            Outlet("Stall", 5, 1.0, date(2027, 5, 29), None, None, 1.0, frozenset()),
        ),
        orders=(
            Order("Stall", date(2027, 5, 15), 2.0, None, 1.0),
            Order("Wedding", date(2027, 5, 30), 5.0, None, 1.0),
            Order("Feast", date(2027, 5, 31), 5.0, None, 1.0),
        ),
    )
    assert _targets(yard, TODAY, date(2027, 5, 31)) == {
        ("Stall", date(2027, 5, 15)): 5.0,
        ("Stall", date(2027, 5, 29)): 4.0,
        ("Wedding", date(2027, 5, 30)): 5.0,
    }


@pytest.mark.parametrize(
    ("parts", "total", "bound", "rule"),
    [
        ({"shortfall": 1.0, "end_value": -3.0}, -2.0, -2.0, []),
        ({"shortfall": 1.0, "end_value": -3.0}, -2.0, -1.9, ["objective"]),
        ({"shortfall": 1.0, "end_value": -3.0}, -2.0, None, []),
        ({"shortfall": 0.0, "end_value": 0.0}, 0.0, None, []),
        ({"shortfall": -1.0, "end_value": 0.0}, -1.0, None, ["objective"]),
        ({"shortfall": 0.0, "end_value": 1.0}, 1.0, None, ["objective"]),
        ({"shortfall": 2.0, "end_value": -1.0}, 1.1, None, ["objective"]),
        ({"shortfall": 2.0, "end_value": -1.0}, 0.9, None, ["objective"]),
        ({"shortfall": float("nan"), "end_value": 0.0}, 0.0, None, ["objective"]),
    ],
)
def test_the_parts_of_the_objective(parts: Any, total: float, bound: Any, rule: list) -> None:
    change = {"objective": parts, "objective_kg": total, "bound_kg": bound}
    assert broken(lambda plan: plan.update(change)) == rule


def test_lots_hold_as_many_logs_as_may_be_soaked_at_once() -> None:
    # C: 70 logs, of which 35 at once make two lots, 34 three.
    assert broken(lambda plan: None, soaking(tank_logs=35)) == []
    assert "lot" in broken(lambda plan: None, soaking(tank_logs=34))
    # One log has died: the lots stay as they are.
    dead = with_state("C/1", logs=34)
    plan = copy.deepcopy(PLAN)
    plan["soaks"][1]["logs"] = 34
    assert rules(plan, soaking(tank_logs=35), dead) == []


def test_a_demand_off_by_more_than_rounding_is_named() -> None:
    for demand, rule in ((26.0, []), (26.01, ["target"]), (25.99, ["target"])):
        assert broken(lambda plan, kg=demand: plan.update(demand_kg=kg)) == rule
    assert broken(move(0, "2027-05-04", "2027-05-05")) == []


@pytest.mark.parametrize(("sizes", "fault"), [((36, 36), False), ((37, 35), True)])
def test_lots_two_logs_apart_are_uneven(sizes: tuple[int, int], fault: bool) -> None:
    rows = tuple(replace(row, logs=72) if row.name == "C" else row for row in YARD.stacks)
    states = dict(STATE.stacks)
    plan = copy.deepcopy(PLAN)
    for name, logs in zip(("C/1", "C/2"), sizes, strict=True):
        states[name] = StackState(name, logs)
        next(entry for entry in plan["soaks"] if entry["stack"] == name)["logs"] = logs
    found = rules(plan, replace(YARD, stacks=rows), replace(STATE, stacks=states))
    assert found == (["lot"] if fault else [])
