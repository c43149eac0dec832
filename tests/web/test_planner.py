"""The planning beside the server: soon after a record, once a day, and never in the page's way."""

from __future__ import annotations

import json
import math
import os
import signal
import statistics
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import NamedTuple

import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.planning import plan_yard
from fruitcast.app.publication import fresh_plan, last_plan
from fruitcast.app.serving import Clock, is_complete, situation
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.diary.plan import OtherSoak, Plan, plan_changes
from fruitcast.web import planner as planning
from fruitcast.web.planner import Planner, Progress
from fruitcast.web.planning_process import Message
from fruitcast.yard.reading import read_yard
from tests.outputs.sample_plan import plan, soak
from tests.web.quick_planning import quick_planning
from tests.web.sites import NOON, Now, Visitor, make_app
from tests.yards import write_yard

CLOCK = Clock(Now(), TODAY)


def wait(planner: Planner, until=lambda progress: progress.rested, seconds: float = 90) -> None:
    end = time.monotonic() + seconds
    while not until(planner.progress):
        assert time.monotonic() < end, planner.progress
        time.sleep(0.02)


def started(folder: Path) -> Planner:
    """Return a planner of a yard that has made its first plan."""
    planner = Planner(folder, CLOCK)
    planner.start()
    wait(planner, lambda progress: progress.made == 1 and not progress.behind)
    return planner


@pytest.fixture(scope="module")
def quick() -> Iterator[None]:
    with quick_planning():
        yield


class First(NamedTuple):
    """The first plan of a yard, as soon as it was there and when all had been done."""

    seen: Plan
    rested: Plan
    progress: Progress
    again: Plan  # planned at once again


@pytest.fixture(scope="module")
def begun(quick, tmp_path_factory):
    """Four of the sample's stacks without a diary, so that planning takes no time."""
    folder = write_yard(tmp_path_factory.mktemp("planner") / "yard", "ABCD", 5, diary=False)
    planner = started(folder)
    seen = last_plan(read_yard(folder), TODAY)
    wait(planner)
    rested, progress = last_plan(read_yard(folder), TODAY), planner.progress
    again = plan_yard(folder, TODAY, publish=False).document
    yield folder, planner, First(seen, rested, progress, again)
    planner.close()


@pytest.fixture
def planned(begun):
    """That yard, whatever the tests before have done to it, and its planner at rest."""
    folder, planner, _ = begun
    wait(planner)
    return folder, planner


def record(folder: Path, *events: Event) -> None:
    with Diary(folder / "diary.db") as diary:
        diary.add(events, NOON)


def test_a_yard_without_a_plan_gets_one_when_the_server_starts(planned):
    folder, _ = planned
    yard = read_yard(folder)
    assert is_complete(yard, TODAY)
    now = situation(folder, CLOCK)
    assert {row.stack for row in now.background.stacks} == set(now.state.stacks)
    assert now.background.weather.observed_to == date(2027, 5, 2)
    assert (folder / "out" / "calendar.ics").is_file()


def test_a_first_plan_is_the_one_that_planning_at_once_again_gives(begun):
    """What is read first is what stays."""
    _, _, first = begun
    assert first.progress.made == 1 and first.progress.first
    assert first.seen == first.rested == first.again


def test_after_a_record_the_stack_s_date_moves_and_pages_answer_meanwhile(planned):
    assert new_plan_after_a_record(*planned).pages


@pytest.mark.benchmark
def test_the_new_plan_is_there_within_5_s_and_pages_take_under_100_ms(tmp_path):
    folder = write_yard(tmp_path / "yard")
    planner = started(folder)
    try:
        spent = new_plan_after_a_record(folder, planner)
    finally:
        planner.close()
    page = statistics.median(spent.pages)
    print(
        f"\nnew plan after {spent.seconds:.1f} s, {spent.work:.1f} s of work; "
        f"pages meanwhile in {1000 * page:.0f} ms"
    )
    assert spent.seconds < 5
    assert page < 0.1


class Spent(NamedTuple):
    """What a record cost until its plan was there. [s]"""

    seconds: float
    work: float
    pages: list[float]


def new_plan_after_a_record(folder: Path, planner: Planner) -> Spent:
    """Soak a stack of a yard ahead of its day, and open pages until the plan is new."""
    visitor = Visitor(make_app(folder, planner=planner, now=CLOCK.now))
    before = last_plan(read_yard(folder), TODAY).next_soaks(TODAY)
    stack = min(before, key=before.__getitem__)
    answers = []
    visitor.open(f"/record/soak?check=1&stack={stack}")
    began, worked = time.perf_counter(), cpu_seconds(planner)
    visitor.send("yes")
    while planner.progress.busy:
        opened = time.perf_counter()
        assert visitor.client.get("/", base_url=visitor.origin).status_code == 200
        answers.append(time.perf_counter() - opened)
        time.sleep(0.1)
    taken, worked = time.perf_counter() - began, cpu_seconds(planner) - worked
    changes = planner.progress.changes
    after = last_plan(read_yard(folder), TODAY).next_soaks(TODAY)
    assert after.get(stack) != before[stack]
    assert stack in {change.stack for change in changes}
    return Spent(taken, worked, answers)


def cpu_seconds(planner: Planner) -> float:
    """Return what the planning process has worked so far; nothing where that is not told. [s]"""
    try:
        fields = Path(f"/proc/{planner._process.pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return math.nan
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def test_a_newer_request_ends_the_older_one_wherever_it_is(planned):
    folder, planner = planned
    made = planner.progress.made
    record(folder, Event("pins", TODAY, "A"))
    planner.request()
    record(folder, Event("pins", TODAY, "B"))
    planner.request()
    wait(planner, lambda progress: not progress.behind)
    assert planner.progress.made == made + 1
    process = planner._process
    record(folder, Event("pins", TODAY, "C"))
    planner.request()
    wait(planner, lambda progress: not progress.behind)
    assert planner.progress.made == made + 2
    assert planner._process is process
    planner._proving = True
    planner.request()
    wait(planner)
    assert process.returncode is not None and planner._process is not process
    assert planner.progress.failed == ""
    assert fresh_plan(read_yard(folder), TODAY) is not None


def test_what_is_planned_in_the_end_is_what_the_command_plans(planned):
    folder, planner = planned
    wait(planner)
    by_page = last_plan(read_yard(folder), TODAY)
    by_command = plan_yard(folder, TODAY, publish=False).document
    assert by_page == by_command


def test_what_another_program_records_is_planned_at_the_next_look(planned):
    folder, planner = planned
    made = planner.progress.made
    planner.look()
    assert not planner.progress.busy
    record(folder, Event("fruiting", TODAY, "C"))
    planner.look()
    assert planner.progress.busy
    wait(planner)
    assert planner.progress.made == made + 2


def test_a_planning_process_that_dies_is_told_and_replaced(planned):
    folder, planner = planned
    planner.request()
    os.kill(planner._process.pid, signal.SIGKILL)
    wait(planner, lambda progress: progress.failed != "")
    assert "fault of fruitcast itself" in planner.progress.failed
    assert fresh_plan(read_yard(folder), TODAY) is not None
    planner.request()
    wait(planner)
    assert planner.progress.failed == ""


def test_a_plan_that_cannot_be_made_leaves_the_old_one_and_says_why(planned):
    folder, planner = planned
    weather = folder / "weather.csv"
    text = weather.read_text()
    visitor = Visitor(make_app(folder, planner=planner, now=CLOCK.now))
    try:
        weather.write_text("\n".join(text.splitlines()[:-22]))
        planner.request()
        wait(planner)
        assert "lacks the 22 days since" in planner.progress.failed
        text_of_page = visitor.open("/")
        assert "The plan could not be renewed." in text_of_page
        assert "Today," in text_of_page
        planner.look()
        assert not planner.progress.busy, "the same is not tried again and again"
    finally:
        weather.write_text(text)
    planner.look()
    wait(planner)
    assert planner.progress.failed == ""


class Silent(Planner):
    """A planner that only counts what it is asked."""

    def __init__(self, folder: Path, clock: Clock) -> None:
        super().__init__(folder, clock)
        self.sent: list[dict] = []

    def _send(self, line: str) -> None:
        self.sent.append(json.loads(line))

    def answer(self, step: str = "done", **more: object) -> None:
        self._hear(Message(id=self.sent[-1]["id"], step=step, **more))


def test_a_new_day_wants_a_new_plan(folder, now):
    planner = Silent(folder, Clock(now))
    planner.look()
    planner.look()
    assert [asked["today"] for asked in planner.sent] == ["2027-05-03"]
    planner.answer("failed", message="no weather")
    planner.look()
    now.later(days=1)
    planner.look()
    assert [asked["today"] for asked in planner.sent] == ["2027-05-03", "2027-05-04"]
    assert planner.sent[-1]["now"].startswith("2027-05-04T16:00:00")


def test_a_failure_is_tried_again_after_a_while(folder, now, monkeypatch):
    planner = Silent(folder, Clock(now))
    planner.look()
    planner.answer("failed", message="the network is down")
    assert planner.progress == Progress(failed="the network is down", recent=False)
    monkeypatch.setattr(planning, "RETRY_SECONDS", 0.0)
    planner.look()
    assert len(planner.sent) == 2
    assert planner.progress.busy and planner.progress.failed == ""


def test_a_station_is_asked_again_after_some_hours(folder, now, monkeypatch):
    settings = folder / "yard.toml"
    settings.write_text(settings.read_text().replace('file = "weather.csv"', 'station = "72518"'))
    planner = Silent(folder, Clock(now))
    monkeypatch.setattr(planning, "is_complete", lambda yard, today: True)
    monkeypatch.setattr(planning, "RETRY_SECONDS", 0.0)
    planner._made_at = time.monotonic()
    planner.look()
    assert planner.sent == []
    planner._made_at -= 7 * 3600
    planner.look()
    assert len(planner.sent) == 1


def test_what_comes_of_an_older_request_does_not_end_the_waiting(folder, now):
    planner = Silent(folder, Clock(now))
    planner.request()
    first = planner.sent[-1]["id"]
    planner.request()
    planner._hear(Message(id=first, step="planned"))
    planner._hear(Message(id=first, step="done"))
    assert planner.progress.busy
    planner.answer("planned")
    assert not planner.progress.busy and planner.progress.behind
    planner.answer()
    assert not planner.progress.behind and not planner.progress.rested
    moved = OtherSoak(stack="A", before=TODAY, after=None)
    planner.answer("improved", changes=(moved,))
    planner.answer("rested")
    assert planner.progress.rested and planner.progress.changes == (moved,)


def test_changes_between_two_plans():
    def soaks(*pairs: tuple[str, str]) -> Plan:
        return plan(soaks=[soak(name, 20, on, on, (on,) * 3, 2.0) for name, on in pairs])

    before = soaks(
        ("A", "2027-05-01"), ("A", "2027-05-07"), ("B", "2027-05-11"), ("C", "2027-06-01")
    )
    after = soaks(("A", "2027-05-04"), ("B", "2027-05-11"), ("D", "2027-05-14"))
    changes = plan_changes(before, after, date(2027, 5, 3))
    assert [change.plain() for change in changes] == [
        {"stack": "A", "before": "2027-05-07", "after": "2027-05-04"},
        {"stack": "D", "before": None, "after": "2027-05-14"},
        {"stack": "C", "before": "2027-06-01", "after": None},
    ]


def test_a_stack_that_was_soaked_in_lots_before_is_told_as_a_whole():
    def soaks(*pairs: tuple[str, str]) -> Plan:
        return plan(soaks=[soak(name, 20, on, on, (on,) * 3, 2.0) for name, on in pairs])

    lots = soaks(("A/1", "2027-05-04"), ("A/2", "2027-05-11"), ("B/1", "2027-05-07"))
    whole = soaks(("A", "2027-05-11"), ("B/1", "2027-05-07"))
    (change,) = plan_changes(lots, whole, date(2027, 5, 3))
    assert change.plain() == {"stack": "A", "before": "2027-05-04", "after": "2027-05-11"}
    # Lots on both sides are told one by one.
    other = soaks(("A/2", "2027-05-04"), ("A/1", "2027-05-11"), ("B/1", "2027-05-07"))
    assert [each.stack for each in plan_changes(lots, other, date(2027, 5, 3))] == ["A/2", "A/1"]


def test_a_first_plan_is_no_change_of_another(folder, now):
    planner = Silent(folder, Clock(now))
    planner.request()
    planner.answer("planned", first=True)
    assert planner.progress.first
    planner.request()
    planner.answer("planned")
    assert not planner.progress.first


def test_without_the_network_the_last_plan_stays_and_is_called_old(folder, now):
    settings = folder / "yard.toml"
    settings.write_text(settings.read_text().replace('file = "weather.csv"', 'station = "72518"'))
    now.later(days=1)
    planner = Planner(folder, Clock(now), offline=True)
    visitor = Visitor(make_app(folder, now, planner=planner))
    try:
        planner.start()
        wait(planner, lambda progress: progress.failed != "")
        text = visitor.open("/")
    finally:
        planner.close()
    assert "The plan could not be renewed." in text and "72518" in text
    assert "This is the plan of Mon 3 May. It is old." in text
    assert "Soaked as planned" in text
    assert "The plan could not be renewed." in visitor.open("/about")
