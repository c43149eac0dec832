"""yard.toml: what is read, the defaults, and doubts that don't stop it."""

import re
from datetime import date, time
from math import inf
from pathlib import Path

import pytest

from fruitcast.numbers import DROPPED, default_numbers
from fruitcast.soaks.soak_days import is_away
from fruitcast.units import KG_PER_LB
from fruitcast.yard.model import Away, in_season
from fruitcast.yard.settings import parse_settings
from tests.yard.yards import SETTINGS, replaced

FOLDER = Path("/yard")

FULL = """\
name = "Larkspur  Hollow"
units = "US"
promise = 0.9

[site]
latitude = 42.6
longitude = -73.4
elevation_ft = 790
timezone = "America/New_York"
shade = 0.75

[weather]
station = 72518
years = 25

[soaking]
days = ["friday", "Tue"]
tank_logs = 60.0
start = 07:30:00
first = "04-15"
last = "10-20"
hours_a_day = 3
rest_days = 56
water = "Spring"

[watering]
keep_above = 0.3

[cold_store]
days = 8

[fruiting]
places = 80
under_cover = true

[picking]
saleable = 0.9

[[outlet]]
name = "Saturday market"
day = "Sat"
target_lb = 14
from = 2027-05-01
to = "2027-10-30"
price_per_lb = 14
weight = 2

[[outlet]]
name = "Village shop"
day = "Wednesday"
target_kg = 2
from = "05-15"
to = "10-30"

[[order]]
outlet = "Wedding"
on = 2027-06-19
target_lb = 9
price_per_kg = 28

[[away]]
from = 2027-07-04
to = 2027-07-10

[[away]]
from = "12-20"
to = "01-06"

[[closed]]
outlet = "saturday market"
on = 2027-07-03

[numbers]
"yard.shade" = 0.7
yard.saleable = 0.8
[numbers.work]
soak_hours_per_log = 0.1
"""


def read(text):
    yard, findings = parse_settings(text, FOLDER)
    assert not findings.faults, [str(fault) for fault in findings.faults]
    return yard, findings.warnings


def test_everything_is_read_into_si_units():
    yard, warnings = read(FULL)
    assert warnings == []
    assert (yard.name, yard.units, yard.promise) == ("Larkspur Hollow", "us", 0.9)
    assert yard.site.elevation == pytest.approx(790 * 0.3048)
    assert (yard.site.latitude, yard.site.longitude, yard.site.shade) == (42.6, -73.4, 0.75)
    assert yard.site.timezone.key == "America/New_York"
    assert (yard.weather.file, yard.weather.station, yard.weather.years) == (None, "72518", 25)
    assert (yard.fruiting.places, yard.fruiting.under_cover) == (80, True)
    soaking = yard.soaking
    assert (soaking.days, soaking.tank_logs, soaking.start) == ((1, 4), 60, time(7, 30))
    assert (soaking.first, soaking.last, soaking.hours_a_day) == ((4, 15), (10, 20), 3.0)
    assert (soaking.rest_days, soaking.water) == (56, "spring")
    assert (yard.keep_above, yard.cold_store_days, yard.saleable) == (0.3, 8, 0.9)
    market, shop = yard.outlets
    assert market.target_kg == pytest.approx(14 * KG_PER_LB)
    assert market.price_per_kg == pytest.approx(14 / KG_PER_LB)
    assert (market.weekday, market.weight) == (5, 2.0)
    assert (market.first, market.last) == (date(2027, 5, 1), date(2027, 10, 30))
    assert market.closed == {date(2027, 7, 3)}
    assert (shop.weekday, shop.target_kg, shop.price_per_kg, shop.weight) == (2, 2.0, None, 1.0)
    assert (shop.first, shop.last, shop.closed) == ((5, 15), (10, 30), frozenset())
    (order,) = yard.orders
    assert (order.outlet, order.on, order.price_per_kg) == ("Wedding", date(2027, 6, 19), 28.0)
    assert order.target_kg == pytest.approx(9 * KG_PER_LB)
    assert yard.away == (
        Away(date(2027, 7, 4), date(2027, 7, 10)),
        Away((12, 20), (1, 6)),
    )
    assert yard.numbers == {
        "yard.shade": 0.7,
        "yard.saleable": 0.8,
        "work.soak_hours_per_log": 0.1,
        "schedule.rest_days": 56.0,  # the grower's own rest is a number of the model like others
    }


def test_hours_may_differ_by_day_of_the_week():
    hours = "{ tuesday = 3, Fri = 2.5, Sun = 0, other = 1 }"
    yard, _ = read(FULL.replace("hours_a_day = 3", f"hours_a_day = {hours}"))
    assert yard.soaking.hours_a_day == (1.0, 3.0, 1.0, 1.0, 2.5, 1.0, 0.0)
    week = [date(2027, 5, 3 + n) for n in range(7)]
    assert [yard.soaking.hours_on(day) for day in week] == [1, 3, 1, 1, 2.5, 1, 0]
    below, _ = read(
        FULL.replace("hours_a_day = 3\n", "").replace(
            "[watering]", "[soaking.hours_a_day]\nTue = 3\nother = 0\n[watering]"
        )
    )
    assert below.soaking.hours_a_day == (0, 3, 0, 0, 0, 0, 0)


def test_defaults():
    yard, warnings = read(SETTINGS)
    assert warnings == []
    assert yard.weather.file == FOLDER / "weather.csv"
    assert (yard.weather.station, yard.weather.years) == (None, 30)
    assert yard.soaking.start == time(8)
    assert (yard.soaking.first, yard.soaking.last, yard.soaking.hours_a_day) == (None, None, None)
    assert (yard.soaking.rest_days, yard.soaking.water) == (None, None)
    assert (yard.keep_above, yard.cold_store_days) == (0.35, 10)
    assert (yard.saleable, yard.promise) == (0.85, 0.8)
    assert (yard.fruiting.places, yard.fruiting.under_cover) == (None, False)
    assert yard.soaking.hours_on(date(2027, 5, 3)) == inf
    (market,) = yard.outlets
    assert (market.first, market.last, market.weight, market.price_per_kg) == (None, None, 1, None)
    assert (yard.orders, yard.away, yard.numbers) == ((), (), {})


def test_numbers_that_the_model_does_without_are_passed_over_with_one_word() -> None:
    own = SETTINGS + '[numbers]\n"wide-range.natural.chill" = 3\n"yard.saleable" = 0.6\n'
    yard, findings = parse_settings(own, Path("/somewhere/yard"))
    assert yard is not None and not findings.faults
    assert yard.numbers == {"yard.saleable": 0.6}
    (warning,) = map(str, findings.warnings)
    assert "'wide-range.natural.chill' has no effect any more" in warning
    assert warning.endswith("Take the line out.")
    yard, findings = parse_settings(own + '"spawn_run.plug" = "x"\n', Path("/somewhere/yard"))
    assert yard is not None and yard.numbers == {"yard.saleable": 0.6} and not findings.faults
    (warning,) = map(str, findings.warnings)
    assert "'wide-range.natural.chill', 'spawn_run.plug' have no effect any more" in warning


def test_every_number_that_went_may_still_stand_in_a_growers_file() -> None:
    assert not DROPPED & default_numbers().table.keys()
    lines = "".join(f'"{key}" = 1\n' for key in sorted(DROPPED))
    yard, findings = parse_settings(SETTINGS + "[numbers]\n" + lines, Path("/somewhere/yard"))
    assert yard is not None and not findings.faults and yard.numbers == {}
    assert len(findings.warnings) == 1


def test_a_default_follows_the_growers_own_number_and_a_key_of_its_own_wins():
    own = SETTINGS + '[numbers]\n"yard.saleable" = 0.6\n"yard.shade" = 0.5\n'
    yard, _ = read(own)
    assert (yard.saleable, yard.site.shade) == (0.6, 0.8)


@pytest.mark.parametrize("off", ["[watering]\nkeep_above = false\n", "watering"])
def test_nobody_waters(off):
    text = "watering = false\n" + SETTINGS if off == "watering" else SETTINGS + off
    assert read(text)[0].keep_above is None


@pytest.mark.parametrize("word", ["Tue", "tuesday", "TUES.", " tu "])
def test_days_of_the_week_in_any_spelling(word):
    yard, _ = read(replaced(SETTINGS, '"Tue", "Fri"', f'"{word}"'))
    assert yard.soaking.days == (1,)


def test_one_text_may_name_several_days():
    assert read(replaced(SETTINGS, '["Tue", "Fri"]', '"fri, tue"'))[0].soaking.days == (1, 4)


def test_who_asks_for_a_forecast_is_an_address_or_a_page():
    for line in ("grower@example.org", "https://farm.example/contact"):
        given, _ = read(SETTINGS + f'[weather]\nstation = "nearest"\ncontact = "{line}"\n')
        assert given.weather.contact == line
    assert read(SETTINGS)[0].weather.contact is None


def test_a_weather_file_may_lie_elsewhere():
    elsewhere = SETTINGS + '[weather]\nfile = "/data/rain.csv"\n'
    assert read(elsewhere)[0].weather.file == Path("/data/rain.csv")
    nearest = SETTINGS + '[weather]\nstation = "nearest"\n'
    weather = read(nearest)[0].weather
    assert (weather.file, weather.station) == (None, "nearest")


@pytest.mark.parametrize(
    ("old", "new", "warning"),
    [
        ("longitude = -73.4", "longitude = 73.4", "longitude 73.4 lies far from .*check the sign"),
        ("elevation_m = 240\n", "", r"no elevation is given; 0 m is taken\. Add elevation_m"),
        (
            "target_lb = 14\n",
            'target_lb = 14\n[[closed]]\noutlet = "Saturday market"\non = 2027-07-02\n',
            "2027-07-02 is a Friday; this outlet sells on Saturdays",
        ),
    ],
)
def test_doubts_are_warnings(old, new, warning):
    yard, warnings = read(replaced(SETTINGS, old, new))
    assert len(warnings) == 1
    assert re.search(f"^yard.toml.*{warning}", warnings[0])
    assert yard.warnings == tuple(warnings)


@pytest.mark.parametrize(
    ("longitude", "zone"),
    [
        (-149.9, "America/Anchorage"),
        (87.6, "Asia/Shanghai"),
        (178, "Pacific/Auckland"),
        (-176.5, "Pacific/Chatham"),
        (-9, "Europe/Madrid"),
        (-6.3, "Europe/Dublin"),
    ],
)
def test_far_ends_of_wide_zones_are_not_doubted(longitude, zone):
    text = replaced(SETTINGS, "-73.4", str(longitude))
    assert read(replaced(text, "America/New_York", zone))[1] == []


@pytest.mark.parametrize(
    ("day", "first", "last", "inside"),
    [
        (date(2027, 5, 15), (5, 15), (10, 30), True),
        (date(2027, 10, 30), (5, 15), (10, 30), True),
        (date(2027, 10, 31), (5, 15), (10, 30), False),
        (date(2027, 1, 3), (12, 20), (1, 6), True),
        (date(2027, 12, 20), (12, 20), (1, 6), True),
        (date(2027, 7, 1), (12, 20), (1, 6), False),
        (date(2027, 3, 1), (5, 15), None, False),
        (date(2027, 3, 1), None, (5, 15), True),
        (date(2028, 5, 15), date(2027, 5, 1), date(2027, 10, 30), False),
        (date(2027, 5, 1), date(2027, 5, 1), date(2027, 10, 30), True),
        (date(2028, 2, 29), (2, 29), (2, 29), True),
        (date(2027, 2, 28), (2, 1), (2, 29), True),
        (date(2027, 5, 1), None, None, True),
    ],
)
def test_seasons(day, first, last, inside):
    assert in_season(day, first, last) is inside


def test_the_yard_answers_for_single_days():
    yard, _ = read(FULL)
    market, shop = yard.outlets
    assert market.sells_on(date(2027, 7, 10))
    assert not market.sells_on(date(2027, 7, 3))  # closed
    assert not market.sells_on(date(2027, 7, 9))  # a Friday
    assert not market.sells_on(date(2027, 4, 24))  # before its season
    assert shop.sells_on(date(2031, 5, 21))
    assert yard.soaking.permits(date(2027, 5, 4))
    assert not yard.soaking.permits(date(2027, 5, 5))
    assert not yard.soaking.permits(date(2027, 4, 13))
    assert is_away(yard, date(2027, 7, 10))
    assert is_away(yard, date(2029, 1, 1))
    assert not is_away(yard, date(2027, 7, 11))


def test_costs_and_woods_are_read_in_either_unit(tmp_path):
    money = """
[costs]
log = 2.5
plug = 0.03
sawdust_per_lb = 3
wax_per_kg = 8
wage_per_hour = 18
hours_per_lb = 0.25

[[wood]]
tree = "Red Oak"
diameter_in = 5
length_cm = 100
logs_a_year = 80
log_cost = 3
spawn = "plug"
strain_class = "wide-range"
"""
    yard, findings = parse_settings(SETTINGS + money, tmp_path)
    assert not findings.faults
    costs, (wood,) = yard.costs, yard.woods
    assert (costs.log, costs.plug, costs.thimble, costs.wax, costs.wage) == (2.5, 0.03, None, 8, 18)
    assert costs.sawdust == pytest.approx(3 / 0.45359237)
    assert costs.hours_per_kg == pytest.approx(0.25 / 0.45359237)
    assert (wood.tree, wood.logs_a_year, wood.log_cost) == ("red oak", 80, 3)
    assert (wood.spawn, wood.strain_class) == ("plug", "wide-range")
    assert (wood.diameter, wood.length) == pytest.approx((0.127, 1.0))


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ("[costs]\nwax_per_kg = 8\nwax_per_lb = 4", r"\[costs\]: gives both wax_per_kg and wax_"),
        ("[costs]\nlog = -1", r"\[costs\] log: -1 is out of range"),
        ('[[wood]]\ntree = "red oak"\nlength_cm = 100', r"'red oak': has no diameter"),
        ("[[wood]]\ndiameter_cm = 12\nlength_cm = 100", r"\[\[wood\]\] no\. 1: tree is missing"),
        (
            '[[wood]]\ntree = "red oak"\ndiameter_cm = 12\nlength_cm = 100\nspawn = "plugs"',
            r"spawn: 'plugs' is not known",
        ),
    ],
)
def test_faults_of_costs_and_woods(tmp_path, lines, message):
    yard, findings = parse_settings(f"{SETTINGS}\n{lines}\n", tmp_path)
    assert yard is None
    assert re.search(message, "\n".join(str(fault) for fault in findings.faults))


def test_a_misspelt_wood_is_a_fault_with_the_nearest_known_one(tmp_path):
    lines = '[[wood]]\ntree = "red oka"\ndiameter_cm = 12\nlength_cm = 100\n'
    yard, findings = parse_settings(f"{SETTINGS}\n{lines}", tmp_path)
    assert yard is None
    (fault,) = findings.faults
    assert "nearest known one is 'red oak'" in fault.remedy
