"""A small right yard as text, to be spoilt one way at a time."""

from __future__ import annotations

from pathlib import Path

SETTINGS = """\
name = "Alder Bank"
units = "us"

[site]
latitude = 42.6
longitude = -73.4
elevation_m = 240
timezone = "America/New_York"
shade = 0.8

[soaking]
days = ["Tue", "Fri"]
tank_logs = 60

[[outlet]]
name = "Saturday market"
day = "Sat"
target_lb = 14
"""

STACKS = """\
stack,strain_class,strain,tree,logs,diameter_cm,length_cm,inoculated,spawn,note
A,wide-range,all-round,red oak,24,12.5,100,2025-04-02,sawdust,
B,cold-weather,cool,sugar maple,30,10,100,2025-04-20,plug,by the wall
"""


def write_yard(folder: Path, settings: str = SETTINGS, stacks: str = STACKS) -> Path:
    """Write a yard's two files and return its folder."""
    folder.mkdir(exist_ok=True)
    folder.joinpath("yard.toml").write_text(settings, encoding="utf-8")
    folder.joinpath("stacks.csv").write_text(stacks, encoding="utf-8")
    return folder


def replaced(text: str, old: str, new: str) -> str:
    """Return a text with one part replaced, which must be there exactly once."""
    assert text.count(old) == 1, (old, text.count(old))
    return text.replace(old, new)
