"""Folders of invented yards on real daily weather, to go round.

    python -m tests.group.many_yards FOLDER --yards 300

The weather is that of four of the places in `stations`.
"""

from __future__ import annotations

import argparse
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from tests.biology.real_weather import series
from tests.group.stations import STATIONS, TODAY, Station, moved_weather

CLASSES = ("wide-range", "wide-range", "warm-weather", "cold-weather")
TREES = ("red oak", "white oak", "sugar maple", "beech", "red maple", "sweetgum")


CLIMATES = {
    "champion": "America/Denver",
    "brussels": "Europe/Brussels",
    "northumberland": "Europe/London",
    "tunis": "Africa/Tunis",
}
"""Stations of `stations.STATIONS`, each with its time zone."""


def write_yard(folder: Path, number: int, weather: str, at: Station) -> Path:
    """Write one yard: 6 to 20 stacks of any class, tree, size and age, last year in its diary."""
    random = np.random.default_rng([number, 2027])
    folder.mkdir(parents=True)
    stacks, events, total = [], list[Event](), 0
    for n in range(int(random.integers(6, 21))):
        name, logs = f"S{n + 1}", int(random.integers(12, 41))
        born = date(TODAY.year - int(random.integers(1, 5)), int(random.integers(3, 6)), 10)
        tree, size = str(random.choice(TREES)), int(random.choice((10, 12, 15)))
        stacks.append(f"{name},{CLASSES[n % 4]},{tree},{logs},{size},100,{born},sawdust")
        total += logs
        if born.year <= TODAY.year - 3 and random.random() < 0.7:
            on = date(TODAY.year - 1, 7, 1) + timedelta(days=int(random.integers(0, 80)))
            pull, pick = on + timedelta(days=1), on + timedelta(days=10)
            events += [
                Event("soak", on, name, logs=logs, hours=24.0),
                Event("pull", pull, name),
                Event(
                    "pick", pick, name, kg=round(0.12 * logs * float(random.uniform(0.5, 1.5)), 2)
                ),
            ]
    titles = "stack,strain_class,tree,logs,diameter_cm,length_cm,inoculated,spawn"
    (folder / "stacks.csv").write_text("\n".join([titles, *stacks]) + "\n", encoding="utf-8")
    (folder / "weather.csv").write_text(weather, encoding="utf-8")
    weekly = total / float(random.uniform(60, 110)) * 0.45
    (folder / "yard.toml").write_text(
        f'name = "Yard {number}"\nunits = "metric"\n\n'
        f"[site]\nlatitude = {at.latitude}\nlongitude = {at.longitude}\n"
        f'elevation_m = {at.elevation}\ntimezone = "{CLIMATES[at.name]}"\n\n'
        '[soaking]\ndays = ["Tue", "Fri"]\n'
        f'tank_logs = {max(40, total // 6)}\nfirst = "04-15"\nlast = "10-20"\n\n'
        f'[[outlet]]\nname = "Saturday market"\nday = "Sat"\ntarget_kg = {weekly:.2f}\n'
        'from = "05-10"\nto = "10-30"\n',
        encoding="utf-8",
    )
    if events:
        with Diary(folder / "diary.db") as diary:
            diary.add(sorted(events, key=lambda e: e.on), datetime(2027, 4, 1, tzinfo=UTC))
    return folder


def write_yards(folder: Path, yards: int) -> list[Path]:
    """Write so many yards, of the climates in turn."""
    climates = [station for station in STATIONS if station.name in CLIMATES]
    weather = [moved_weather(series(at.name), at.moved) for at in climates]
    return [
        write_yard(folder / f"yard-{n:03}", n, weather[n % 4], climates[n % 4])
        for n in range(yards)
    ]


if __name__ == "__main__":
    given = argparse.ArgumentParser()
    given.add_argument("folder", type=Path)
    given.add_argument("--yards", type=int, default=300)
    asked = given.parse_args()
    write_yards(asked.folder, asked.yards)
