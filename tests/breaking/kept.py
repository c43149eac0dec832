"""What the diary keeps of a plan as a reader: damaged it is none, whole it is shown."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import replace
from functools import cache

from fruitcast.app.changed_model import Before, kept_model, model_change, model_of
from fruitcast.app.publication import (
    fresh_plan,
    last_plan,
    next_calendar,
    plan_files,
    plan_to_go_by,
    read_last_plan,
)
from fruitcast.app.serving import Clock, Situation, situation
from fruitcast.diary.kept_plan import PLAN, Background, kept_background
from fruitcast.diary.plan import plan_changes
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.errors import InputError
from fruitcast.numbers import default_numbers
from fruitcast.outputs.ical import calendar_bytes
from fruitcast.outputs.plan_words import model_change_lines
from fruitcast.soaks.reasons import published_soaks
from tests.breaking.page import page
from tests.breaking.places import folder
from tests.breaking.watching import unwatched
from tests.outputs.sample_plan import TODAY, document, plan
from tests.web.sites import Now, write_site

_SOAKED = "2027-05-04"


@cache
def _now() -> Situation:
    with unwatched():
        return situation(write_site(folder() / "kept"), Clock(Now()))


@cache
def _connection() -> sqlite3.Connection:
    return sqlite3.connect(_now().yard.diary_file, isolation_level=None)


def _keep(kind: str, text: str) -> None:
    """Put a text in the place of a document, as if the diary had been damaged there."""
    with unwatched():
        _connection().execute("DELETE FROM documents WHERE kind = ?", (kind,))
        row = (kind, TODAY.isoformat(), text)
        _connection().execute("INSERT INTO documents (kind, made_on, text) VALUES (?, ?, ?)", row)


def read_plan(data: bytes) -> None:
    """Keep a text as the published plan, and show, compare and publish again what is read of it."""
    _keep(PLAN, data.decode("utf-8", errors="replace"))
    yard = _now().yard
    found = last_plan(yard, TODAY)
    if found is None:
        assert fresh_plan(yard, TODAY) is None
        read_last_plan(yard, TODAY)
        raise AssertionError("a plan that is none was read")
    state, fresh = read_yard_state(yard, TODAY), fresh_plan(yard, TODAY)
    now = replace(_now(), plan=found, fresh=fresh is not None, state=state)
    for path in ("/", "/supply", "/about"):
        assert page().send("GET", path, b"", "", now) == 200
    published_soaks(plan_to_go_by(yard, TODAY), TODAY)
    plan_changes(found, plan(), TODAY)
    calendar = calendar_bytes(next_calendar(found, yard, state, TODAY))
    assert calendar.startswith(b"BEGIN:VCALENDAR")
    assert all(plan_files(folder(), found, calendar).values())


def read_background(data: bytes) -> None:
    """Keep a text as what the page shows beside the plan, and show it."""
    found = kept_background(data.decode("utf-8", errors="replace"))
    if found == Background():
        raise InputError("it is none")
    for path in ("/", "/stacks", "/about"):
        assert page().send("GET", path, b"", "", replace(_now(), background=found)) == 200


def read_model(data: bytes) -> None:
    """Take a text for the model that the plan before was made by, and tell what has changed."""
    found = kept_model(data.decode("utf-8", errors="replace"))
    if found is None:
        raise InputError("it is none")
    changed = model_change(
        Before(plan(), found, False), plan(), model_of(default_numbers().entries())
    )
    lines = model_change_lines(plan().model_copy(update={"model_change": changed}), "us")
    assert bool(lines) == (changed is not None)


def model_samples() -> tuple[bytes, ...]:
    """Return a model with two numbers of the yard's own, one of which is no more."""
    whole = model_of(default_numbers().entries()).plain()
    few = dict([*whole["numbers"].items()][:12])
    few |= {"schedule.rest_days": 49.0, "forced.gone": 1.0}
    kept = {"version": "0.0.9", "numbers": few, "own": ["schedule.rest_days", "forced.gone"]}
    return (json.dumps(kept).encode(),)


def plan_samples() -> tuple[bytes, ...]:
    """Return a plan with all that one may hold."""
    whole = document(
        goes_by={"soaks": [{"stack": "A", "soak_on": _SOAKED}], "stacks": ["A"]},
        jobs=[
            {
                "job": "weigh",
                "stack": "A",
                "on": "2027-05-03",
                "until": "2027-05-06",
                "reason": "long ago",
            }
        ],
        learned=[
            {
                "strain_class": "wide-range",
                "tree": "red oak",
                "flushes": 6,
                "asked": 0,
                "yield_factor": 0.8,
                "kg_per_log_before": 0.25,
                "kg_per_log_after": 0.2,
                "lead_flushes": 6,
                "lead_factor": 1.0,
                "lead_degree_days_before": 100.0,
                "lead_degree_days_after": 100.0,
            }
        ],
        model_change={
            "since": "2027-05-02",
            "version_before": "1.0",
            "version_after": "1.1",
            "numbers": [{"key": "schedule.rest_days", "before": 63.0, "after": None, "own": True}],
            "until": "2027-11-01",
            "expected_kg_before": 10.0,
            "expected_kg_after": 8.0,
            "next_soaks": [{"stack": "A", "before": "2027-05-04", "after": None}],
        },
        short=[{"outlet": "Saturday market", "on": "2027-05-08", "reason": "too early"}],
        care=[
            {
                "stack": "H",
                "ordinal": 2,
                "from": "2027-05-08",
                "to": "2027-05-09",
                "what": "turn",
                "reason": "dry",
            }
        ],
    )
    del whole["soaks"][2:]
    whole["soaks"][0]["cover"] = {"from": "2027-05-10", "to": "2027-05-14", "reason": "rain"}
    return (json.dumps(whole).encode(),)


def background_samples() -> tuple[bytes, ...]:
    """Return what the page shows beside a plan."""
    stacks = [
        {"stack": "A", "state": "resting", "moisture_wet": 0.38, "next_soak_on": _SOAKED},
        {"stack": "B", "state": "bearing", "natural_chance": 0.4, "natural_pick_on": "2027-05-12"},
        {"stack": "C", "state": "resting", "soakable_from": "2027-05-20", "next_soak_on": None},
        {"stack": "H", "state": "spawn run 60%", "ready": {"middle": "2027-06-20"}},
    ]
    weather = {
        "origin": "a station",
        "observed_to": "2027-05-01",
        "forecast_to": "2027-05-09",
        "attribution": "",
    }
    whole = {
        "inputs": "ab",
        "plan_made_at": "2027-05-03T15:00:00+00:00",
        "stacks": stacks,
        "years": [1990, 1991],
        "weather": weather,
    }
    return (json.dumps(whole).encode(),)
