"""A season for others holds what logs were done to and gave, and nobody's name."""

from __future__ import annotations

import csv
import io

from fruitcast.diary.tables import season_csv
from tests.diary.diary_samples import entry, stack, yard

SECRET = "Juniper"


def secret_yard():
    return yard(
        name=SECRET,
        stacks=(
            stack(f"{SECRET} bank", strain=f"{SECRET} 12", note=SECRET),
            stack("H", 100, tree=f"{SECRET.lower()} oak", strain_class="cold-weather"),
        ),
    )


EVENTS = [
    entry("soak", "2026-09-01", "H", logs=50, hours=24.0),
    entry("soak", "05-04", "H/1", logs=50, hours=24.0, note=SECRET),
    entry("pull", "05-05", "H/1"),
    entry("pick", "05-16", "H/1", kg=4.25, outlet=SECRET, grade=SECRET),
    entry("pick", "05-18", f"{SECRET} bank", kg=1.0, uuid="slip"),
    entry("undo", "05-18", cancels="slip", uuid="undo"),
    entry("sold", "05-19", kg=3.0, outlet=SECRET),
    entry(
        "weigh", "05-20", f"{SECRET} bank", kg=14.0, start_kg=16.0, moisture_wet=0.4, sample=SECRET
    ),
    entry("split", "05-21", f"{SECRET} bank", logs=10, into=f"{SECRET} two"),
    entry("pick", "05-22", f"{SECRET} two", kg=0.5),
    entry("move", "05-23", "H", into=SECRET),
    entry("note", "05-24", note=SECRET),
    entry("inspect", "05-25", "H", findings=("white ends",), note=SECRET),
    entry("rain", "05-26", mm=12.0),
]


def rows(year: int):
    text, number = season_csv(secret_yard(), EVENTS, year, {"red oak"})
    found = [*csv.DictReader(io.StringIO(text))]
    assert len(found) == number
    return text, found


def test_no_name_is_in_it():
    text, _ = rows(2027)
    assert SECRET.lower() not in text.lower()
    assert "note" not in text and "uuid" not in text


def test_what_was_done_and_given_stands_with_the_facts_of_the_stack():
    _, found = rows(2027)
    assert [(row["date"][5:], row["kind"], row["stack"]) for row in found] == [
        ("05-04", "soak", "S2/1"),
        ("05-05", "pull", "S2/1"),
        ("05-16", "pick", "S2/1"),
        ("05-20", "weigh", "S1"),
        ("05-21", "split", "S1"),
        ("05-22", "pick", "S3"),
        ("05-25", "inspect", "S2"),
        ("05-26", "rain", ""),
    ]
    soak, pick, split, part = found[0], found[2], found[4], found[5]
    assert (soak["logs"], soak["hours"], pick["kg"]) == ("50", "24.0", "4.25")
    assert (pick["strain_class"], pick["tree"], pick["logs_inoculated"]) == (
        "cold-weather",
        "other hardwood",
        "100",
    )
    assert (split["into"], part["tree"], part["diameter_m"]) == ("S3", "red oak", "0.125")
    assert found[6]["findings"] == "white ends"


def test_only_the_season_asked_for_goes_out():
    _, found = rows(2026)
    assert [(row["date"], row["kind"]) for row in found] == [("2026-09-01", "soak")]
