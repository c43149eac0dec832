"""A district's outlook: what it says beside a plan, by hand and in words; faults by place."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from fruitcast.app.group import make_district
from fruitcast.diary.plan import LikelyDays
from fruitcast.group.district import ClassOutlook, PlaceOutlook, SoakDays, usual_inoculation
from fruitcast.numbers import default_numbers
from fruitcast.outputs.district_words import newsletter
from tests.cli.running import contents, run
from tests.cli.test_cli_schema import faults, schema
from tests.group.stations import STATIONS, TODAY, write_places

FEW = tuple(at for at in STATIONS if at.name in ("tunis", "brussels", "northumberland"))


@pytest.fixture(scope="module")
def places(tmp_path_factory) -> Path:
    return write_places(tmp_path_factory.mktemp("district"), FEW)


def test_a_district_is_the_same_in_one_process_and_two(places):
    one = make_district(places, TODAY, units="metric", processes=1)
    page = one.page.read_bytes()
    two = make_district(places, TODAY, units="metric", processes=2)
    assert two.document == one.document and two.page.read_bytes() == page
    assert [place.place for place in one.document.places] == ["Tunis", "Brussels", "Northumberland"]
    assert one.page == places.parent / "out" / "outlook.html"
    html = page.decode()
    assert "<svg" in html and "http://" not in html.replace("http://www.w3.org", "")
    assert "<script" not in html and "https://" not in html


def test_places_differ_as_their_weather_does(places):
    """Told by the weather files alone: the warmer spring, the sooner is a soaked log picked."""
    ran = run("outlook", places, "--today", TODAY, "--json", "--processes", 1)
    assert ran.code == 0, ran.err
    assert faults(schema("outlook"), ran.document) == []
    told = {place["place"]: place for place in ran.document["places"]}
    for name, place in told.items():
        table = np.genfromtxt(
            places.parent / f"{name.lower()}.csv", delimiter=",", skip_header=1, usecols=(1, 2, 3)
        )
        assert place["rain_mm"] == pytest.approx(table[-14:, 2].sum())
        assert place["weather_until"] == str(TODAY - timedelta(days=1))
        assert place["inoculated"] == "2027-03-28"
    wide = {name: place["classes"][1] for name, place in told.items()}
    assert all(one["strain_class"] == "wide-range" for one in wide.values())
    days = [wide[name]["soak_days"]["p50"] for name in ("Tunis", "Brussels", "Northumberland")]
    assert days == sorted(days) and days[0] < days[-1]
    ready = [wide[name]["spawn_ready"]["p50"] for name in ("Tunis", "Brussels", "Northumberland")]
    assert ready == sorted(ready)
    progress = [wide[n]["spawn_progress"] for n in ("Tunis", "Brussels", "Northumberland")]
    assert progress == sorted(progress, reverse=True) and 0 < progress[-1] < progress[0] < 0.2


def test_days_to_the_pick_are_what_the_rule_gives_of_the_same_futures(places):
    from fruitcast.app.known import read_weather
    from fruitcast.forecast.outlook import days_ahead
    from fruitcast.group import district
    from fruitcast.group.district import read_places
    from fruitcast.weather.known import known_weather

    numbers = default_numbers()
    place = read_places(places)[1]
    yard = district.standard_yard(place, date(2025, 4, 15), numbers.yard, bearing=True)
    weather = read_weather(yard, TODAY)
    weather, years = known_weather(
        weather, TODAY, days_ahead(district.WEEKS, tail_days=numbers.schedule.tail_days), {}
    )
    told = district.place_outlook(place, weather, years, TODAY, 1)
    # The middle of the weather years by hand: soaked on Monday for a day, warmth above the base.
    mean = []
    strain = numbers.strain("wide-range").forced
    for year in years:
        at = weather.index(date(year, 5, 4))
        warmth = (weather.values["tmin"] + weather.values["tmax"])[at : at + 60] / 2
        grown = np.maximum(warmth - strain.base_temperature, 0.0).cumsum()
        # Enough by the evening of that day, so picked the morning after; a day in the tank before.
        mean.append(int(np.searchsorted(grown, strain.requirement)) + 1 + 1)
    soak = told.of("wide-range").soak_days
    assert soak is not None and soak.p10 <= np.median(mean) <= soak.p90
    assert abs(soak.p50 - np.median(mean)) <= 2


def test_a_place_that_is_wrong_is_told_and_the_others_go_on(places, tmp_path):
    table = write_places(tmp_path / "d", FEW[:1])
    with table.open("a", encoding="utf-8") as file:
        file.write("Nowhere,50,4,20,missing.csv\nShort,50,4,20,short.csv\n")
    rows = (table.parent / "tunis.csv").read_text().splitlines()
    (table.parent / "short.csv").write_text("\n".join([rows[0], *rows[-400:]]) + "\n")
    before = contents(table.parent)
    ran = run("outlook", table, "--today", TODAY, "--json", "--processes", 1)
    assert ran.code == 1
    good, nowhere, short = ran.document["places"]
    assert good["classes"] and not good["faults"]
    assert "missing.csv" in nowhere["faults"][0] and short["faults"]
    assert "Nowhere" in (table.parent / "out" / "outlook.html").read_text()
    after = contents(table.parent)
    assert {name: after[name] for name in before} == before
    ran = run("outlook", table, "--today", TODAY, "--processes", 1)
    assert ran.code == 1 and "Nothing known" in ran.out


def test_every_fault_of_the_table_is_told_at_once(tmp_path):
    table = tmp_path / "places.csv"
    table.write_text(
        "place,latitude,longitude,elevation_m,file,station\n"
        "High Farm,91,4,20,a.csv,\nLow Farm,50,x,20,,\nMill,50,4,20,a.csv,10384\n"
        "Mill,50,4,20,a.csv,\nMill,50,4,20,a.csv,\n",
        encoding="utf-8",
    )
    ran = run("outlook", table, "--today", TODAY)
    assert ran.code == 1 and not ran.out
    for words in (
        "line 2, High Farm latitude: 91",
        "line 3, Low Farm longitude",
        "line 3, Low Farm: names neither a file nor a station",
        "line 4, Mill: names a file and a station",
        "line 6, Mill: another place has this name",
    ):
        assert words in ran.err, ran.err
    assert not (tmp_path / "out").exists()
    assert run("outlook", tmp_path / "no.csv").code == 1


def test_logs_are_of_the_last_spring_of_their_own_half_of_the_earth():
    # 90 days past the Monday on or before the first of January, south of July.
    numbers = default_numbers().inoculation
    assert usual_inoculation(50.0, date(2027, 3, 27), numbers) == date(2026, 3, 29)
    assert usual_inoculation(50.0, date(2027, 3, 28), numbers) == date(2027, 3, 28)
    assert usual_inoculation(-31.0, date(2027, 5, 3), numbers) == date(2026, 9, 27)


def told(place: str, chances=(0.0, 0.0, 0.0), days=(10, 12, 15), allowed=True, **more):
    classes = ("cold-weather", "wide-range", "warm-weather")
    ready = LikelyDays(p10=None, p50=more.pop("ready", date(2028, 6, 1)), p90=None)
    return PlaceOutlook(
        place=place,
        rain_mm=more.pop("rain", 20.0),
        moisture_wet=more.pop("wet", 0.38),
        classes=tuple(
            ClassOutlook(
                strain_class=name,
                spawn_progress=0.05,
                spawn_ready=ready,
                natural_chance=chance,
                soak_allowed=allowed,
                soak_comes=0.9 if allowed else 0.0,
                soak_days=SoakDays(p10=day - 2, p50=day, p90=day + 3) if allowed else None,
            )
            for name, chance, day in zip(classes, chances, days, strict=True)
        ),
    )


def test_the_paragraph_says_who_waits_who_soaks_and_who_waters():
    words = newsletter(
        [
            told("Mill Creek", chances=(0.9, 0.3, 0.0), wet=0.31, rain=4.0),
            told("High Farm", days=(14, 18, 22), ready=date(2028, 9, 1)),
        ],
        TODAY,
        "metric",
    )
    for said in (
        "Week of Mon 3 May 2027.",
        "Rested cold-weather logs will likely fruit by themselves within 3 weeks at Mill Creek: "
        "wait for them, a soak now is wasted. Elsewhere cold-weather logs soaked this week are "
        "first picked about 14 days later.",
        "Wide-range logs soaked this week are first picked 12 (Mill Creek) to 18 days (High Farm) "
        "later. They may fruit by themselves within 3 weeks at Mill Creek: look before you soak.",
        "Warm-weather logs soaked this week are first picked 15 (Mill Creek) to 22 days",
        "hold 31% to 38% water by weight. Water at Mill Creek: below 35% is too dry (Mill Creek is "
        "driest, with 31% after 4 mm of rain in 14 days).",
        "Most likely done: Jun 2028 at Mill Creek, Sep 2028 at High Farm.",
    ):
        assert said in words, words
    dry = [told(name, allowed=name == "Mill", wet=0.3, rain=0.0) for name in ("Mill", "A", "B")]
    words = newsletter(dry, date(2028, 10, 3), "metric")
    assert (
        "At Mill wide-range logs soaked this week are first picked about 12 days later; leave "
        "them out of the tank everywhere else." in words
    )
    assert "Water everywhere: below 35% is too dry (Mill is driest, with 30% after no rain" in words
    assert "Most likely done: by now." in words
    winter = newsletter([told("Mill Creek", allowed=False)], TODAY, "metric")
    assert "Leave wide-range logs out of the tank this week." in winter and "soaked" not in winter
    assert newsletter([], TODAY, "metric") == ""
