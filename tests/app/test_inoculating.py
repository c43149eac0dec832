"""Programmes and batches as use cases: targets in words, accepting, care in the calendar."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from fruitcast.app.inoculation import (
    BatchWish,
    Wish,
    batch_spec,
    look_at_batch,
    make_programme,
    served_outlets,
)
from fruitcast.app.planning import plan_yard
from fruitcast.app.what_if import Circumstances, changed_yard
from fruitcast.diary.book import Diary
from fruitcast.errors import InputError, OutputError
from fruitcast.outputs.calendar_state import CalendarState
from fruitcast.yard.model import Wood
from fruitcast.yard.reading import read_yard
from tests.cli.running import contents
from tests.inoculation.yards import few_scenarios
from tests.yards import small_yard

TODAY = date(2027, 5, 3)
OAK = BatchWish("wide-range", "Red  Oak", 50, "5 in", "40 in", "plug", note="east bank")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small yard with a plan published; for reading only."""
    folder = small_yard(tmp_path_factory.mktemp("inoculating") / "yard")
    plan_yard(folder, TODAY, weeks=4)
    return folder


@pytest.fixture
def yard(planned: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(planned, tmp_path / "yard"))


def plan_of(folder: Path) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((folder / "out" / "plan.json").read_text())
    return document


def events(folder: Path) -> dict[str, dict[str, Any]]:
    """Return the calendar's events that are not cancelled, by UID."""
    with Diary(folder / "diary.db") as diary:
        text = diary.latest_document("calendar")
    assert text is not None
    found = json.loads(CalendarState.from_json(text).to_json())["events"]
    return {event["uid"]: event for event in found if event["cancelled_on"] is None}


# --- targets -------------------------------------------------------------------------------------


def test_a_target_changes_an_outlet_and_leaves_the_others(planned: Path) -> None:
    yard = read_yard(planned)
    market, shop = served_outlets(yard, ["saturday MARKET = 6 kg"])
    assert market == replace(yard.outlets[0], target_kg=6.0)
    assert shop == yard.outlets[1]
    bare, _ = served_outlets(yard, ["Saturday market=10"])
    assert bare.target_kg == pytest.approx(4.536, abs=1e-3)  # pounds, as the yard's units are


def test_nought_leaves_an_outlet_out_and_a_day_stands_for_a_new_one(planned: Path) -> None:
    yard = read_yard(planned)
    shop, sunday = served_outlets(yard, ["Saturday market=0", "Sun=2 kg"])
    assert (shop.name, sunday.name, sunday.weekday) == ("Village shop", "Sunday sale", 6)
    assert (sunday.first, sunday.last) == (yard.outlets[0].first, yard.outlets[0].last)
    (alone,) = served_outlets(replace(yard, outlets=()), ["Sat=2 kg"])
    assert (alone.first, alone.last) == ((4, 15), (10, 20))  # the soaking season


@pytest.mark.parametrize(
    ("targets", "message"),
    [
        (["Sat"], "--for 'Sat': an outlet and a weight are wanted"),
        (["=3 kg"], "an outlet and a weight are wanted"),
        (["Sat=much"], "--for 'Sat=much': 'much' is not a weight"),
        (["Market=3"], "no outlet is called 'Market'. The yard has Saturday market, Village shop"),
        (["Saturday market=0", "Village shop=0"], "No outlet is left with a target"),
    ],
)
def test_targets_that_cannot_be_are_explained(
    planned: Path, targets: list[str], message: str
) -> None:
    with pytest.raises(InputError, match=message):
        served_outlets(read_yard(planned), targets)


def test_a_yard_without_outlets_is_told_where_to_write_one(planned: Path) -> None:
    yard = replace(read_yard(planned), outlets=())
    where = "this yard has no outlet yet. Write one into yard.toml under [[outlet]]"
    with pytest.raises(InputError, match=re.escape(where)):
        served_outlets(yard, ["Market=3"])
    with pytest.raises(InputError, match=re.escape(f"--target: {where}")):
        changed_yard(yard, Circumstances(targets=(("Market", "3"),)))


def test_a_programme_serves_the_targets_asked_for(planned: Path) -> None:
    before = contents(planned)
    wish = Wish(targets=("Village shop=0", "Saturday market=2 kg"), years=1, chance=0.6)
    with few_scenarios():
        made = make_programme(planned, TODAY, wish)
    assert made.document.plain()["outlets"] == [{"outlet": "Saturday market", "target_kg": 2.0}]
    assert made.document.plain()["wished_chance"] == 0.6
    assert set(made.document.warnings) >= {
        *made.known.warnings,
        *made.programme.warnings,
    }
    assert contents(planned) == before


# --- a batch -------------------------------------------------------------------------------------


def test_what_is_not_said_of_a_batch_is_as_usual_in_the_yard(planned: Path) -> None:
    yard = read_yard(planned)
    spec = batch_spec(yard, BatchWish("cold-weather", "white oak", 10), "Q")
    logs = sum(stack.logs for stack in yard.stacks)
    mean = sum(stack.logs * stack.diameter for stack in yard.stacks) / logs
    assert spec.diameter == pytest.approx(mean, abs=5e-4)
    woods = (
        Wood("beech", 0.1, 1.0, spawn="plug"),
        Wood("red oak", 0.15, 1.1, spawn="thimble", strain_class="wide-range"),
    )
    spec = batch_spec(replace(yard, woods=woods), BatchWish("wide-range", "Red Oak", 10), "Q")
    assert (spec.tree, spec.diameter, spec.length, spec.spawn) == ("red oak", 0.15, 1.1, "thimble")
    given = batch_spec(yard, replace(OAK, along="8", between="10 cm", end="1 in"), "Q")
    assert (given.along, given.between, given.end_distance) == pytest.approx((0.2032, 0.1, 0.0254))
    with pytest.raises(InputError, match=r"nothing is usual in this yard yet\. Give all three"):
        batch_spec(replace(yard, stacks=()), BatchWish("wide-range", "oak", 5), "Q")


def test_looking_at_a_batch_writes_nothing(planned: Path) -> None:
    before = contents(planned)
    found = look_at_batch(planned, TODAY, OAK)
    assert found.document.plain()["accepted"] is None and found.messages == ()
    assert found.document.plain()["care"][0]["what"] == "inoculate 50 logs"
    assert contents(planned) == before


def test_a_tree_without_values_of_its_own_is_named(planned: Path) -> None:
    found = look_at_batch(planned, TODAY, replace(OAK, tree="baobab"))
    assert found.document.warnings[0] == (
        "Trees that go by the values of another: baobab by other hardwood."
    )
    with pytest.raises(InputError, match=r"--tree: tree 'red oka' is misspelt.* is 'red oak'"):
        look_at_batch(planned, TODAY, replace(OAK, tree="red oka"))


def test_a_batch_of_conifers_is_refused_and_nothing_is_written(planned: Path) -> None:
    before = contents(planned)
    with pytest.raises(InputError, match=r"--tree: tree 'pine' is a conifer.* on hardwoods"):
        look_at_batch(planned, TODAY, replace(OAK, tree="pine"), accept="P")
    assert contents(planned) == before


def test_an_accepted_batch_is_a_stack_and_its_care_is_in_the_calendar(yard: Path) -> None:
    file = yard / "stacks.csv"
    text = "# our stacks\n" + file.read_text()
    file.write_text(text)
    before = plan_of(yard)
    found = look_at_batch(yard, TODAY, OAK, accept="R")
    added = "R,wide-range,,red oak,50,12.7,101.6,2027-05-03,plug,east bank\n"
    assert file.read_text() == text + added  # comments and order kept
    assert found.document.plain()["accepted"]["row"] == added.strip()
    after = plan_of(yard)
    mine = [entry for entry in after["care"] if entry["stack"] == "R"]
    assert mine and {entry["what"] for entry in mine} >= {
        "inoculate 50 logs",
        "turn and restack the logs",
        "may be soaked for the first time",
        "a first natural flush may come",
    }
    # Nothing else of the plan moved.
    others = [entry for entry in after["care"] if entry["stack"] != "R"]
    assert {**after, "care": others} == before
    shown = [e for e in events(yard).values() if e["kind"] == "care" and e["stack"] == "R"]
    assert [e["start"] for e in sorted(shown, key=lambda e: e["start"])] == [
        entry["from"] for entry in mine
    ]
    assert b"R: turn and restack the logs" in (yard / "out" / "calendar.ics").read_bytes()


def test_the_next_plan_knows_the_stack_and_leaves_its_dates_as_they_were(yard: Path) -> None:
    look_at_batch(yard, TODAY, OAK, accept="R")
    accepted = [entry for entry in plan_of(yard)["care"] if entry["stack"] == "R"]
    shown = {uid: e for uid, e in events(yard).items() if e["kind"] == "care"}
    plan_yard(yard, TODAY, weeks=4)
    again = plan_of(yard)
    assert [entry for entry in again["care"] if entry["stack"] == "R"] == accepted
    assert any(entry["stack"] == "R" for entry in again["not_soaked"])
    assert {uid: e for uid, e in events(yard).items() if e["kind"] == "care"} == shown


def test_planning_twice_gives_the_same_bytes_with_the_care_of_young_stacks(yard: Path) -> None:
    look_at_batch(yard, TODAY, OAK, accept="R")
    plan_yard(yard, TODAY, weeks=4)
    first = contents(yard / "out")
    plan_yard(yard, TODAY, weeks=4)
    assert contents(yard / "out") == first
    assert {entry["stack"] for entry in plan_of(yard)["care"]} == {"N", "R"}


def test_without_a_plan_the_dates_come_with_the_first_one(tmp_path: Path) -> None:
    folder = small_yard(tmp_path / "yard")
    found = look_at_batch(folder, TODAY, OAK, accept="R")
    assert found.document.plain()["accepted"]["calendar"] is None
    assert "'fruitcast plan' brings its dates" in found.messages[1]
    assert sorted(contents(folder)) == ["stacks.csv", "weather.csv", "yard.toml"]


def test_a_batch_that_cannot_be_accepted_leaves_all_as_it_was(yard: Path) -> None:
    drawing = yard / "holes.svg"
    before = contents(yard)
    with pytest.raises(InputError, match="there is a stack a already"):
        look_at_batch(yard, TODAY, OAK, accept="a", drawing=drawing)
    assert contents(yard) == before
    drawing.write_text("of before")
    with pytest.raises(InputError, match="there is a stack a already"):
        look_at_batch(yard, TODAY, OAK, accept="a", drawing=drawing)
    assert drawing.read_text() == "of before"
    with pytest.raises(OutputError, match="cannot be written"):
        look_at_batch(yard, TODAY, OAK, accept="R", drawing=yard / "yard.toml" / "holes.svg")
    drawing.unlink()
    assert contents(yard) == before


def test_a_calendar_that_cannot_be_written_is_told_with_what_was_done(yard: Path) -> None:
    shutil.rmtree(yard / "out")
    (yard / "out").write_text("in the way")
    with pytest.raises(OutputError, match=r"Added to .*'fruitcast plan' brings them"):
        look_at_batch(yard, TODAY, OAK, accept="R")
    assert "R,wide-range" in (yard / "stacks.csv").read_text()
