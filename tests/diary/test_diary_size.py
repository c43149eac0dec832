"""Eight years of a big yard: diary and backups stay small."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fruitcast.diary import book as diary_module
from fruitcast.diary.backup import KEPT, backups
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.diary.kept_plan import PLAN

STACKS, ENTRIES, YEARS = 60, 5000, 8
"""A big yard."""

FIRST = date(2027, 6, 15)
"""Eight years from here it is the season, in which plans are long."""
DAYS = 365 * YEARS
SEASON = range(110, 290)
"""Days of the year on which logs are soaked."""

MOST = 20_000_000
"""What diary and backups may take. [byte]"""


IN_SEASON = [
    day
    for day in (FIRST + timedelta(n) for n in range(DAYS + 200))
    if day.timetuple().tm_yday in SEASON
]
SOAKS = {f"Stack {number}": IN_SEASON[number % 56 :: 56] for number in range(STACKS)}
"""Days on which each stack is soaked: every eight weeks in the season."""


def jittered(chance: random.Random, kg: float) -> float:
    return kg * chance.uniform(0.8, 1.2)


def plan(today: date, chance: random.Random) -> str:
    """Return a plan of a big yard; its weights are others each day, as after each new day."""
    year = timedelta(weeks=26)
    soaks = [
        {
            "stack": stack,
            "logs": 40,
            "soak_on": on.isoformat(),
            "hours": 24.0,
            "pull_on": str(on + timedelta(days=1)),
            "pick": {
                share: str(on + timedelta(days=middle + chance.randint(-1, 1)))
                for share, middle in (("p10", 10), ("p50", 13), ("p90", 19))
            },
            "pins_on": str(on + timedelta(days=9)),
            "expected_kg": jittered(chance, 8.0),
            "covers": [
                {
                    "outlet": chance.choice(("Saturday market", "Inn")),
                    "on": str(on + timedelta(days=chance.randint(12, 30))),
                    "kg": jittered(chance, 1.0),
                }
                for _ in range(8)
            ],
            "reasons": [
                f"rested {chance.randint(40, 90)} days",
                f"the market wants {jittered(chance, 9.0):.1f} kg on {chance.randint(1, 28)} May",
                f"{chance.randint(1, 99)} % of the years bring a frost after {on}",
            ],
        }
        for stack, days in SOAKS.items()
        for on in days
        if today - timedelta(days=20) <= on < today + year
    ]
    days = [today + timedelta(n) for n in range(182)]
    outlets = [
        {
            "outlet": outlet,
            "on": day.isoformat(),
            "target_kg": 9.0,
            "delivered_kg": jittered(chance, 8.0),
            "available_p10_kg": jittered(chance, 5.0),
            "available_p90_kg": jittered(chance, 14.0),
            "chance": chance.random(),
            "promise_kg": jittered(chance, 7.0),
        }
        for outlet, weekday in (("Saturday market", 5), ("Inn", 2))
        for day in days
        if day.weekday() == weekday and day.timetuple().tm_yday in SEASON
    ]
    natural = [
        {
            "stack": stack,
            "week": day.isoformat(),
            "chance": jittered(chance, 0.3),
            "expected_kg": jittered(chance, 0.5),
            "first_pick": str(day + timedelta(days=3)),
            "days": 9,
        }
        for stack in SOAKS
        for day in days
        if day.weekday() == 0 and day.isocalendar()[1] in (22, 23, 38, 39)
    ]
    document = {"today": today.isoformat(), "soaks": soaks, "outlets": outlets, "promise": 0.8}
    return json.dumps({**document, "natural": natural})


def calendar(plan_text: str) -> str:
    """Return what is kept of a calendar: five events for each soak."""
    kept = ("stack", "logs", "soak_on", "pull_on", "pick", "reasons", "expected_kg")
    return json.dumps(
        [
            {"uid": f"{hash((soak['stack'], n, soak['soak_on'])):x}@fruitcast", "kind": n}
            | {key: soak[key] for key in kept}
            for soak in json.loads(plan_text)["soaks"]
            for n in range(5)
        ]
    )


def entries() -> Iterator[tuple[date, Event]]:
    """Return a big yard's entries with the day on which each is written."""
    chance = random.Random(4)
    for number in range(ENTRIES):
        day = FIRST + timedelta(days=number * DAYS // ENTRIES)
        note = "the bark of some logs peels" if number % 10 == 0 else ""
        stack = f"Stack {chance.randrange(STACKS)}"
        yield day, Event("pick", day, stack, kg=round(chance.uniform(1, 9), 3), note=note)


def live(folder: Path, monkeypatch: pytest.MonkeyPatch, every: int) -> dict[str, int]:
    """Write down and publish for eight years, on each so manieth day; return the files' sizes."""
    file, chance = folder / "diary.db", random.Random(7)
    waiting = list(entries())
    begun = FIRST + timedelta(days=DAYS - 2 * KEPT)
    # Until shortly before the end all in one transaction and without backups: they are replaced.
    with Diary(file) as diary:
        diary.add([Event("note", FIRST, note="begun")], datetime(2027, 6, 15, tzinfo=UTC))
        with monkeypatch.context() as patch:
            patch.setattr(diary_module, "back_up", lambda *_: None)
            with diary.held(FIRST):
                for n in range(0, DAYS - 2 * KEPT, every):
                    publish(diary, FIRST + timedelta(days=n), chance)
                early = [event for day, event in waiting if day < begun]
                diary.add(early, datetime(2034, 1, 1, tzinfo=UTC))
    for n in range(2 * KEPT):
        day = begun + timedelta(days=n)
        with Diary(file) as diary:
            now = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
            diary.add([event for on, event in waiting if on == day], now)
            publish(diary, day, chance)
    with Diary(file) as diary:
        diary.check()
        assert len(diary.events()) == ENTRIES + 1
    assert len(backups(file)) == KEPT
    return {path.name: path.stat().st_size for path in folder.iterdir()}


def publish(diary: Diary, day: date, chance: random.Random) -> None:
    text = plan(day, chance)
    diary.save_documents(day, {PLAN: text, "calendar": calendar(text), "plan inputs": "x" * 64})


def test_eight_years_of_a_big_yard_stay_under_20_megabytes(tmp_path, monkeypatch):
    sizes = live(tmp_path, monkeypatch, every=87)
    assert sum(sizes.values()) < MOST, sizes


@pytest.mark.long
def test_eight_years_of_daily_plans_of_a_big_yard_stay_under_20_megabytes(tmp_path, monkeypatch):
    sizes = live(tmp_path, monkeypatch, every=1)
    assert sum(sizes.values()) < MOST, sizes
