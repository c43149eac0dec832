"""yard.toml: every fault names the file, the culprit and the remedy, and all come at once."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.errors import FaultsError
from fruitcast.yard.reading import read_yard, yard_faults
from fruitcast.yard.schema import known_keys
from fruitcast.yard.settings import parse_settings
from tests.drawn import examples
from tests.yard.yards import SETTINGS, replaced, write_yard

FOLDER = Path("/yard")


def faults_of(text):
    yard, findings = parse_settings(text, FOLDER)
    assert (yard is None) == bool(findings.faults)
    return [str(fault) for fault in findings.faults]


OUTLET = '[[outlet]]\nname = "Saturday market"\nday = "Sat"\ntarget_lb = 14\n'

CASES = [
    # keys and tables
    ('name = "Alder Bank"\n', "", r"^yard.toml: name is missing\. Add a line like: name ="),
    ("latitude = 42.6\n", "", r"\[site\]: latitude is missing\. Add a line like: latitude = 42.6"),
    ("tank_logs = 60\n", "", r"\[soaking\]: tank_logs is missing"),
    (
        "tank_logs = 60",
        "tank_log = 60",
        r"\[soaking\] tank_log: this key is not known here\. The nearest known one is 'tank_logs'",
    ),
    (
        "shade = 0.8",
        "shade = 0.8\npromise = 0.9",
        r"\[site\] promise: this key is not known here\. It is known above the first table: move",
    ),
    (
        "shade = 0.8",
        "shade = 0.8\nkeep_above = 0.3",
        r"\[site\] keep_above: .*known under \[watering\]: move it there",
    ),
    (
        "shade = 0.8",
        "shade = 0.8\nqqqq = 1",
        r"\[site\] qqqq: .*Known here are: latitude, longitude",
    ),
    ('units = "us"', 'unit = "us"', r"yard.toml unit: .*nearest known one is 'units'"),
    (
        "[soaking]",
        "[soking]",
        r"yard.toml \[soking\]: this table is not known\. The nearest known one is \[soaking\]",
    ),
    ("[[outlet]]", "[outlet]", r"\[outlet\]: stands in single brackets\. .*write \[\[outlet\]\]"),
    ("[soaking]", "[[soaking]]", r"\[soaking\]: stands in double brackets\. .*\[soaking\], once"),
    ('units = "us"', 'units = "us"\nweather = 3', "yard.toml weather: 3 stands where a table is"),
    (
        'units = "us"\n',
        'units = "us"\norder = "x"\n',
        r"yard.toml order: 'x' stands where tables are wanted\. Write \[\[order\]\]",
    ),
    ('units = "us"', 'units = "us"\nnumbers = 3', r"yard.toml numbers: 3 .*Write \[numbers\]"),
    # single values
    ('units = "us"', 'units = "metrik"', r"units: 'metrik' is not known\. Did you mean 'metric'"),
    ('units = "us"', "units = 1", r"units: 1 is not known\. Give one of: us, metric"),
    ('"Alder Bank"', '" "', r"name: is empty\. Give it a name"),
    ('"Alder Bank"', "5", r"name: 5 is not a text\. Put it in quotes"),
    ('"Alder Bank"', r'"a\u0007b"', "name: 'a.?b' holds unprintable|unprintable characters"),
    ("42.6", "95", r"\[site\] latitude: 95 is out of range\. Give a number from -90 to 90"),
    ("42.6", "nan", r"latitude: nan is out of range"),
    ("42.6", '"42.6"', r"latitude: '42.6' is a text, not a number\. .*Without quotes"),
    ("42.6", "true", r"latitude: true is not a number"),
    ("42.6", "[42.6]", r"latitude: a list is not a number"),
    ("-73.4", "-190", r"longitude: -190 is out of range\. Give a number from -180 to 180 degrees"),
    ("240", "24000", r"elevation_m: 24000 is out of range\. .*m\."),
    ("0.8", "80", r"shade: 80 is not a share of one\. Write 0.8 for 80 %"),
    ("0.8", "-1", r"shade: -1 is out of range"),
    (
        "America/New_York",
        "America/NewYork",
        r"timezone: 'America/NewYork' is not a time zone\. .*nearest known one is 'America/New_Yo",
    ),
    ("America/New_York", "New York", r"timezone: .*'America/New_York'"),
    ("America/New_York", "", r"timezone: '' is not a time zone\. Write it like"),
    ("America/New_York", "../etc/passwd", r"timezone: '../etc/passwd' is not a time zone"),
    ("America/New_York", "America", r"timezone: 'America' is not a time zone"),
    ('"America/New_York"', "-5", r"timezone: -5 is not a text"),
    ("tank_logs = 60", "tank_logs = 0", r"\[soaking\] tank_logs: 0 is out of range\. .*1 to"),
    ("tank_logs = 60", "tank_logs = -3", r"tank_logs: -3 is out of range"),
    ("tank_logs = 60", "tank_logs = 60.5", r"tank_logs: 60.5 is not a whole number\. .* logs"),
    ("tank_logs = 60", "tank_logs = inf", r"tank_logs: inf is not a whole number"),
    ("tank_logs = 60", f"tank_logs = {10**40}", r"tank_logs: a huge number is out of range"),
    ('"Tue"', '"Thusday"', r"days: 'Thusday' is not a day of the week\. Did you mean 'Thursday'"),
    ('"Tue"', '"T"', r"days: 'T' is not a day of the week\. Write it like"),
    ('"Tue"', '"Fri"', r"days: Friday is named twice\. Name each day once"),
    ('["Tue", "Fri"]', "[]", r"days: names no day\. Write it like"),
    ('["Tue", "Fri"]', "2", r"days: 2 is not a list of days"),
    ("60\n", '60\nstart = "25:00"\n', r"start: '25:00' is not a time of day\. Write it like"),
    ("60\n", '60\nfirst = "04-31"\n', r"first: '04-31' is not a day of the year\. .*\"04-15\""),
    ("60\n", "60\nlast = 2027-10-20\n", r"last: 2027-10-20 is one date.*Write \"10-20\""),
    ("60\n", "60\nhours_a_day = 0\n", r"hours_a_day: 0 is out of range\. .*above 0 up to 24 hours"),
    (
        "60\n",
        "60\nhours_a_day = { Tue = 3 }\n",
        r"hours_a_day: says nothing of Monday\. Name all seven days, or .*other = 1",
    ),
    (
        "60\n",
        "60\nhours_a_day = { Tue = 25, other = 1 }\n",
        r"hours_a_day: Tue: 25 is out of range\. .*from 0 to 24 hours",
    ),
    (
        "60\n",
        "60\nhours_a_day = { Tue = 2, tuesday = 3, other = 1 }\n",
        r"hours_a_day: 'tuesday' stands twice\. Name it once",
    ),
    (
        "60\n",
        "60\nhours_a_day = { Tusday = 2, other = 1 }\n",
        r"hours_a_day: 'Tusday' is not a day of the week\. Did you mean 'Tuesday'",
    ),
    ("60\n", "60\nhours_a_day = { other = 0 }\n", r"leaves no hour on any day\. Give the hours"),
    ("60\n", "60\nhours_a_day = {}\n", r"hours_a_day: says nothing of Monday"),
    ("60\n", "60\n[fruiting]\nplaces = 0\n", r"\[fruiting\] places: 0 is out of range\. .*1 to"),
    ("60\n", "60\nplaces = 80\n", r"places: this key is not known here\. It is known under \[fru"),
    (
        "60\n",
        "60\n[fruiting]\nunder_cover = 1\n",
        r"under_cover: 1 is neither true nor false\. Write true or false",
    ),
    ("60\n", "60\nrest_days = 48\n", r"rest_days: 48 is out of range\. .*49 to 200 days"),
    (
        "60\n",
        "60\nrest_days = 56\n[numbers]\n'schedule.rest_days' = 63\n",
        r"says 63 days, and rest_days in \[soaking\] says 56\. Keep one of them",
    ),
    ("60\n", '60\nwater = "creek"\n', r"water: 'creek' is not known.*spring, well, mains, pond"),
    ("60\n", "60\n[watering]\nkeep_above = true\n", r"keep_above: true says not how moist"),
    ("60\n", "60\n[watering]\nkeep_above = 35\n", r"keep_above: 35 .*Write 0.35 for 35 %"),
    ("60\n", "60\n[watering]\nkeep_above = 0.1\n", r"keep_above: 0.1 is out of range\. .*0.23 to"),
    ("60\n", "60\n[cold_store]\ndays = 0\n", r"\[cold_store\] days: 0 is out of range"),
    ("60\n", "60\n[picking]\nsaleable = 85\n", r"saleable: 85 .*Write 0.85 for 85 %"),
    ("60\n", "60\n[weather]\nyears = 1\n", r"\[weather\] years: 1 is out of range\. .*3 to 200"),
    ("60\n", '60\n[weather]\nfile = ""\n', r"\[weather\] file: is empty"),
    ("60\n", '60\n[weather]\nfile="a"\nstation="b"\n', r"names a file and a station\. Keep one"),
    ('units = "us"', 'units = "us"\npromise = 1.5', r"promise: 1.5 .*share of one"),
    # quantities in two units, or in none
    ("240\n", "240\nelevation_ft = 790\n", r"gives both elevation_m and elevation_ft\. Keep one"),
    ("target_lb = 14\n", "", r"\[\[outlet\]\] 'Saturday market': has no target\. Add target_kg or"),
    ("14\n", "14\ntarget_kg = 6\n", r"'Saturday market': gives both target_kg and target_lb"),
    (
        "14\n",
        "14\nprice_per_kg = 6\nprice_per_lb = 3\n",
        r"'Saturday market': gives both price_per_kg and price_per_lb",
    ),
    ("14\n", "-1\n", r"target_lb: -1 is out of range\. Give a number from 0 to"),
    ("14\n", "14\nprice_per_lb = -1\n", r"price_per_lb: -1 is out of range"),
    ("14\n", "14\nweight = 0\n", r"weight: 0 is out of range"),
    ("14\n", '"14 lb"\n', r"target_lb: '14 lb' is a text, not a number\. .*Without quotes or unit"),
    # outlets, orders, days away
    ('day = "Sat"\n', "", r"\[\[outlet\]\] 'Saturday market': day is missing\. .*day = \"Sat\""),
    ('name = "Saturday market"\n', "", r"\[\[outlet\]\] no\. 1: name is missing"),
    (
        OUTLET,
        OUTLET + OUTLET.replace("Saturday market", "saturday  Market"),
        r"\[\[outlet\]\] 'saturday Market': another outlet has this name\. Give each its own",
    ),
    (
        "14\n",
        "14\nfrom = 2027-10-30\nto = 2027-05-01\n",
        r"from 2027-10-30 lies after the last day, 2027-05-01\. Exchange or correct",
    ),
    (
        "14\n",
        '14\nfrom = 2027-05-01\nto = "10-30"\n',
        r"from 2027-05-01 to \"10-30\" mixes one year with every year\. Write both",
    ),
    ("14\n", '14\nfrom = "15 May"\n', r"from: '15 May' is not a date like 2027-05-15\. Write year"),
    ("14\n", "14\nfrom = 515\n", r"from: 515 is not a date\. Write 2027-05-15 for one year, or"),
    ("14\n", "14\nfrom = 2027-05-01T08:00:00\n", r"has a time of day\. Write 2027-05-01"),
    ("14\n", "14\nfrom = 0027-05-01\n", r"from: 0027-05-01 can't be right\. Check the year"),
    ("14\n", "14\n[[order]]\non = 2027-06-19\ntarget_lb = 9\n", r"no\. 1: outlet is missing"),
    (
        "14\n",
        '14\n[[order]]\noutlet = "Wedding"\ntarget_lb = 9\n',
        r"\[\[order\]\] 'Wedding': on is missing\. Add a line like: on = 2027",
    ),
    (
        "14\n",
        '14\n[[order]]\noutlet = "Wedding"\non = 2027-06-19\n',
        r"\[\[order\]\] 'Wedding': has no target",
    ),
    (
        "14\n",
        '14\n[[order]]\noutlet = "Saturday Market"\non = 2027-06-19\ntarget_lb = 9\n',
        r"another sale has this name on 2027-06-19\. Give the order a name of its own",
    ),
    ("14\n", "14\n[[away]]\nfrom = 2027-07-04\n", r"\[\[away\]\] no\. 1: to is missing"),
    (
        "14\n",
        "14\n[[away]]\nfrom = 2027-07-10\nto = 2027-07-04\n",
        r"\[\[away\]\] no\. 1: from 2027-07-10 lies after the last day",
    ),
    (
        "14\n",
        '14\n[[closed]]\noutlet = "Saturday markt"\non = 2027-07-03\n',
        r"no \[\[outlet\]\] is called 'Saturday markt'\. Did you mean 'Saturday market'\?",
    ),
    (
        "14\n",
        '14\n[[closed]]\noutlet = "Saturday market"\non = "3 July"\n',
        r"\[\[closed\]\] 'Saturday market' on: '3 July' is not a date",
    ),
    (
        "14\n",
        '14\n[weather]\ncontact = "the grower"\n',
        r"contact: 'the grower' is neither an e-mail address nor a web page\. Write, for instance",
    ),
    # the grower's own numbers
    (
        "14\n",
        '14\n[numbers]\n"yard.shad" = 0.5\n',
        r"\[numbers\] 'yard.shad': is not a number of the model\. The nearest .* 'yard.shade'",
    ),
    (
        "14\n",
        "14\n[numbers.yard]\nshade = 7\n",
        r"\[numbers\] 'yard.shade': 7 is outside 0 to 1 .*\. Give a value in that range",
    ),
    ("14\n", "14\n[numbers]\nyard.shade = nan\n", r"'yard.shade': nan is out of range"),
    ("14\n", '14\n[numbers]\nyard.shade = "x"\n', r"'yard.shade': 'x' is a text, not a number"),
    ("14\n", "14\n[numbers]\nyard = [1]\n", r"\[numbers\] 'yard': a list is not a number"),
    # no TOML
    (
        "tank_logs = 60",
        "tank_logs = sixty",
        r"yard.toml: line 13 can't be read: .*'tank_logs = sixty'\. Each line is key = value",
    ),
    ('"Sat"', "“Sat”", r"yard.toml: line 17 can't be read: .*straight quotes"),
    ("[site]", "[site", r"yard.toml: line 4 can't be read"),
    ("shade = 0.8", "latitude = 40", r"yard.toml: line 9 can't be read: cannot overwrite a value"),
    ("60\n", "60\nfirst = 04-15\n", r"line 14 can't be read: .*days of every year in quotes"),
    ("60\n", f"60\nfirst = {'9' * 5000}\n", r"yard.toml: holds a value beyond all measure"),
    ("60\n", f"60\nfirst = {'[' * 5000}\n", r"yard.toml: .*(beyond all measure|can't be read)"),
]


@pytest.mark.parametrize(("old", "new", "message"), CASES, ids=[case[2][:40] for case in CASES])
def test_a_fault_is_named_with_place_and_remedy(old, new, message):
    text = SETTINGS.replace(old, new, 1)
    assert text != SETTINGS
    (fault,) = faults_of(text)
    assert fault.startswith("yard.toml")
    assert re.search(message, fault), fault


def test_all_faults_come_at_once_whatever_tables_they_are_in():
    text = SETTINGS.replace('"us"', '"uss"').replace("42.6", "142.6").replace("-73.4", '"W"')
    text = text.replace("New_York", "NewYork").replace("60", "0").replace('day = "Sat"\n', "")
    text += 'to = "10-32"\nweigth = 1\n[[closed]]\noutlet = "X"\non = 3\n[numbers]\nq = 1\n'
    found = faults_of(text)
    for culprit in (
        "units",
        r"\[site\] latitude",
        r"\[site\] longitude",
        r"\[site\] timezone",
        r"\[soaking\] tank_logs",
        r"\[\[outlet\]\] 'Saturday market': day",
        r"\[\[outlet\]\] 'Saturday market' to",
        r"\[\[outlet\]\] 'Saturday market' weigth",
        r"\[\[closed\]\] 'X' outlet",
        r"\[\[closed\]\] 'X' on",
        r"\[numbers\] 'q'",
    ):
        assert sum(bool(re.match(f"yard.toml {culprit}", fault)) for fault in found) == 1, culprit
    assert len(found) == 11


def test_the_order_and_the_away_table_of_a_broken_outlet_are_still_checked():
    text = replaced(SETTINGS, '"Saturday market"', "3")
    text += "[[away]]\nfrom = 2027-07-10\nto = 2027-07-04\n"
    assert len(faults_of(text)) == 2


def test_a_fault_stops_the_reading(tmp_path):
    folder = write_yard(tmp_path, replaced(SETTINGS, "tank_logs = 60", "tank_logs = 0"))
    with pytest.raises(FaultsError, match=r"yard\.toml \[soaking\] tank_logs: 0 is out of range"):
        read_yard(folder)
    assert len(yard_faults(folder)) == 1


KEYS = sorted({key for _, key in known_keys()})
TOML_VALUES = st.one_of(
    st.text(max_size=12).map(lambda text: "'" + text.replace("'", "") + "'"),
    st.integers(-(10**20), 10**20).map(str),
    st.floats().map(str),
    st.sampled_from(["true", "false", "[]", "{}", "2027-05-01", "08:00:00", "[1, 'Tue']", "nan"]),
    st.sampled_from(["[{a=1}]", "2027-05-01T08:00:00Z", "'05-15'", "'Sat'", "1e400", "-inf"]),
)
TABLE_LINES = [f"[{name}]" for name in ("site", "soaking", "watering", "numbers", "cold_store")]
TABLE_LINES += [f"[[{name}]]" for name in ("outlet", "order", "away", "closed", "site")]
LINES = st.one_of(
    st.sampled_from(TABLE_LINES),
    st.tuples(st.sampled_from(KEYS), TOML_VALUES).map(" = ".join),
    st.text(max_size=20),
)


@examples(50, 300)
@given(st.lists(LINES, max_size=12))
def test_any_text_gives_a_yard_or_faults(lines):
    yard, findings = parse_settings("\n".join(lines), FOLDER)
    assert (yard is None) == bool(findings.faults)
    for fault in findings.faults:
        assert fault.place.startswith("yard.toml")
        assert fault.problem
        assert fault.remedy.endswith((".", "?")) or "like:" in fault.remedy


@examples(50, 200)
@given(st.sampled_from(SETTINGS.splitlines()), TOML_VALUES)
def test_any_value_of_a_known_key_gives_a_yard_or_faults(line, value):
    spoilt = SETTINGS.replace(line, f"{line.partition(' =')[0]} = {value}", 1)
    yard, findings = parse_settings(spoilt, FOLDER)
    assert (yard is None) == bool(findings.faults)
