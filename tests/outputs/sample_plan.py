"""An invented yard, its diary and a plan for it, as the planner would hand them over."""

from __future__ import annotations

import copy
import json
from datetime import date, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fruitcast.diary.plan import Plan
from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.yard.model import Outlet, Site, Soaking, Stack, WeatherSource, Yard

TODAY = date(2027, 5, 3)


def yard(
    folder: Path = Path("/nowhere"),
    *,
    units: Any = "us",
    zone: str = "America/New_York",
    start: time = time(8),
    note: str = "north end, by the spring",
) -> Yard:
    return Yard(
        folder=folder,
        name="Larkspur Hollow",
        units=units,
        site=Site(42.4, -76.6, 320.0, ZoneInfo(zone), 0.8),
        weather=WeatherSource(folder / "weather.csv", None, 30),
        soaking=Soaking((1, 4), 60, start, (4, 15), (10, 20), 3.0),
        keep_above=0.35,
        cold_store_days=10,
        saleable=0.85,
        promise=0.8,
        outlets=(
            Outlet("Saturday market", 5, 6.35, None, None, 31.0, 1.0, frozenset()),
            Outlet("Café Fern", 3, 2.0, None, None, None, 1.0, frozenset()),
        ),
        orders=(),
        away=(),
        stacks=(
            stack("A", "wide-range", "red oak", 24, date(2025, 4, 12), note),
            stack("B", "warm-weather", "sugar maple", 20, date(2025, 4, 19)),
            stack("C", "cold-weather", "white oak", 30, date(2025, 3, 22)),
            stack("D", "wide-range", "red maple", 24, date(2024, 4, 6)),
            stack("H", "wide-range", "beech", 36, date(2026, 5, 2)),
        ),
    )


def stack(
    name: str, strain_class: Any, tree: str, logs: int, inoculated: date, note: str = ""
) -> Stack:
    return Stack(name, strain_class, "", tree, logs, 0.127, 1.02, inoculated, "sawdust", note)


def diary() -> YardState:
    """D was soaked twice last year and is in the tank since Friday; B was watered."""
    return YardState(
        stacks={
            "A": StackState("A", 24, soaks=(Soak(date(2026, 8, 4), 24, 24.0, date(2026, 8, 5)),)),
            "B": StackState("B", 20, watered=((date(2027, 5, 1), 12.0),)),
            "C": StackState("C", 30),
            "D": StackState(
                "D",
                24,
                soaks=(
                    Soak(date(2026, 6, 2), 24, 24.0, date(2026, 6, 3)),
                    Soak(date(2026, 8, 7), 24, 24.0, date(2026, 8, 8)),
                    Soak(date(2027, 4, 30), 24, 36.0, None),
                ),
                picks=(
                    Pick(date(2026, 6, 11), 1.6, "forced", date(2026, 6, 2)),
                    Pick(date(2026, 6, 13), 1.1, "forced", date(2026, 6, 2)),
                    Pick(date(2026, 8, 15), 2.2, "forced", date(2026, 8, 7)),
                ),
            ),
            "H": StackState("H", 36),
        },
        lot_of={"A": "A", "B": "B", "C": "C", "D": "D", "H": "H"},
    )


def soak(
    stack: str,
    logs: int,
    soak_on: str,
    pull_on: str,
    pick: tuple[str, str, str],
    expected_kg: float,
    *reasons: str,
    hours: float = 24,
) -> dict[str, Any]:
    return {
        "stack": stack,
        "logs": logs,
        "soak_on": soak_on,
        "hours": hours,
        "pull_on": pull_on,
        "pick": {"p10": pick[0], "p50": pick[1], "p90": pick[2]},
        "expected_kg": expected_kg,
        "reasons": list(reasons),
    }


_PLAN: dict[str, Any] = {
    "today": TODAY.isoformat(),
    "weeks": 26,
    "soaks": [
        soak(
            "A",
            24,
            "2027-05-04",
            "2027-05-05",
            ("2027-05-12", "2027-05-14", "2027-05-18"),
            2.9,
            "ready since 20 Apr",
            "last soaked 39 weeks ago; rest is 9 weeks",
            "covers Saturday market on 15 May",
        ),
        soak(
            "B",
            20,
            "2027-06-15",
            "2027-06-16",
            ("2027-06-21", "2027-06-22", "2027-06-24"),
            2.4123456789,
            "warm enough for its class",
            hours=12,
        ),
        soak(
            "A",
            24,
            "2027-07-09",
            "2027-07-10",
            ("2027-07-15", "2027-07-16", "2027-07-17"),
            2.2,
            "rested since 6 Jul",
        ),
        soak(
            "C",
            30,
            "2027-10-15",
            "2027-10-17",
            ("2027-10-30", "2027-11-04", "2027-11-12"),
            3.3,
            "cool enough for its class",
            hours=48,
        ),
    ],
    "under_way": [
        soak(
            "D",
            24,
            "2027-04-30",
            "2027-05-02",
            ("2027-05-11", "2027-05-13", "2027-05-16"),
            2.1,
            hours=36,
        ),
    ],
    "outlets": [
        {
            "outlet": "Saturday market",
            "on": "2027-05-08",
            "target_kg": 6.35,
            "delivered_kg": 0.0,
            "available_p10_kg": 0.0,
            "available_p90_kg": 0.0,
            "chance": 0.0,
            "promise_kg": 0.0,
        },
        {
            "outlet": "Saturday market",
            "on": "2027-05-15",
            "target_kg": 6.35,
            "delivered_kg": 6.1,
            "available_p10_kg": 4.4,
            "available_p90_kg": 7.0,
            "chance": 0.62,
            "promise_kg": 5.2,
        },
    ],
    "natural": [{"stack": "D", "week": "2027-05-10", "chance": 0.4, "expected_kg": 1.2}],
    "water": [
        {"stack": "H", "on": "2027-05-06", "moisture_wet": 0.31, "reason": "31 % wet, keep 35 %"},
        {"stack": "B", "on": "2027-05-06", "moisture_wet": 0.33, "reason": "33 % wet, keep 35 %"},
    ],
    "not_soaked": [
        {"stack": "D", "reason": "in the tank since 30 Apr; rested again on 2 Jul"},
        {"stack": "H", "reason": "its spawn run is done about 20 Jun; a year is up on 2 May 2027"},
    ],
    "rest_ends": [{"stack": "D", "on": "2027-07-02", "reason": "nine weeks from its last soak"}],
    "ready": [{"stack": "H", "on": "2027-06-20", "reason": "1,480 of 1,900 degree-days so far"}],
    "objective": {
        "shortfall": 9.1,
        "expired": 0.3,
        "soaks": 3.2,
        "change": 0.0,
        "end_value": -0.3,
    },
    "objective_kg": 12.3,
    "bound_kg": 11.9,
    "demand_kg": 166.0,
    "members": 30,
    "seed": 1,
    "advice": ["In lots of at most 18 logs less would be missing."],
    "warnings": ["weather.csv: 2 days of temperature filled from the days around them"],
}


def document(**changes: Any) -> dict[str, Any]:
    """Return a fresh copy of the plan as its JSON says it, with some keys replaced."""
    return {**copy.deepcopy(_PLAN), **changes}


def plan(**changes: Any) -> Plan:
    """Return the plan, with some keys of its JSON replaced."""
    return Plan.model_validate_json(json.dumps(document(**changes)))
