"""A yard at a real station: daily weather of Champion, Nebraska, as aquacrop brings it.

The file `champion_climate.txt` of the package aquacrop holds 1982 to 2018 without gaps; it is read
from the installed package and copied only into the test's own folder. The stacks are invented.
"""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

from tests.requires import need_file

TODAY = date(2018, 5, 1)

SETTINGS = """\
name = "Champion trial"
units = "metric"

[site]
latitude = 40.4
longitude = -101.7
elevation_m = 1000
timezone = "America/Denver"
shade = 0.85

[weather]
file = "champion_climate.txt"
years = 30

[soaking]
days = ["Mon", "Thu"]
tank_logs = 48
start = "07:30"
first = "04-20"
last = "10-10"
hours_a_day = 4

[[outlet]]
name = "Friday market"
day = "Fri"
target_kg = 3
from = "05-25"
to = "10-19"

[[outlet]]
name = "Kitchen"
day = "Tue"
target_kg = 1.2
weight = 2

[[away]]
from = 2018-07-02
to = 2018-07-08
"""

STACKS = """\
stack,strain_class,strain,tree,logs,diameter_cm,length_cm,inoculated,spawn,note
A,wide-range,,red oak,30,13,100,2015-04-10,sawdust,
B,wide-range,,sugar maple,30,12,100,2015-05-02,plug,
C,cold-weather,,white oak,24,12,100,2015-04-18,plug,
D,warm-weather,,white oak,36,14,100,2016-03-30,sawdust,
E,wide-range,,red oak,60,13,100,2016-04-12,sawdust,larger than the tank
F,warm-weather,,sugar maple,30,11,100,2016-05-07,plug,
G,cold-weather,,ironwood,24,10,100,2016-04-23,sawdust,
H,wide-range,,red oak,36,13,100,2017-05-20,thimble,in its first year
J,wide-range,,beech,40,14,100,2018-03-31,sawdust,just inoculated
"""


def champion_file() -> Path:
    """Return the weather file inside the installed package."""
    return need_file("aquacrop", "data/champion_climate.txt")


def write_real_yard(folder: Path, *, until: date | None = None) -> Path:
    """Write the yard; its weather whole, or cut before a day."""
    folder.mkdir()
    (folder / "yard.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "stacks.csv").write_text(STACKS, encoding="utf-8")
    target = folder / "champion_climate.txt"
    shutil.copyfile(champion_file(), target)
    if until is not None:
        header, *rows = target.read_text(encoding="utf-8").splitlines()
        kept = [row for row in rows if row.strip() and _day(row) < until]
        target.write_text("\n".join([header, *kept]) + "\n", encoding="utf-8")
    return folder


def _day(row: str) -> date:
    day, month, year = (int(part) for part in row.split()[:3])
    return date(year, month, day)
