"""The starter yard: it reads back, shows every key, and overwrites nothing."""

import re
from datetime import date

import pytest

from fruitcast.errors import FaultsError, InputError, OutputError
from fruitcast.yard.reading import read_yard
from fruitcast.yard.schema import SINGLE, known_keys
from fruitcast.yard.settings import parse_settings
from fruitcast.yard.stacks import OPTIONAL, REQUIRED
from fruitcast.yard.starter import NewYard, write_starter

TODAY = date(2027, 5, 3)
GIVEN = {
    "name": "Alder Bank",
    "latitude": 42.6,
    "longitude": -73.4,
    "timezone": "America/New_York",
    "units": "us",
    "elevation_m": 240.0,
}


def started(folder, **changes):
    write_starter(folder, NewYard(**{**GIVEN, **changes}), TODAY)
    return folder


@pytest.mark.parametrize("units", ["us", "metric"])
def test_it_reads_back_without_fault_or_warning(tmp_path, units):
    yard = read_yard(started(tmp_path / "new" / "yard", units=units), TODAY)
    assert yard.warnings == ()
    assert (yard.name, yard.units) == ("Alder Bank", units)
    assert (yard.site.latitude, yard.site.longitude) == (42.6, -73.4)
    assert yard.site.elevation == pytest.approx(240, abs=0.2)
    assert yard.weather.file == tmp_path / "new" / "yard" / "weather.csv"
    assert (yard.soaking.days, yard.soaking.tank_logs) == ((1, 4), 40)
    assert len(yard.stacks) == 2
    assert all(stack.inoculated < TODAY for stack in yard.stacks)


def test_what_was_given_is_what_it_says(tmp_path):
    folder = started(
        tmp_path,
        name='The "Old" \\ Place {x} Ü',
        station="nearest",
        soak_days=["mon", "Thursday"],
        tank_logs=25,
        latitude=-41,
        longitude=174,
        timezone="Pacific/Auckland",
    )
    yard = read_yard(folder)
    assert yard.name == 'The "Old" \\ Place {x} Ü'
    assert (yard.weather.file, yard.weather.station) == (None, "nearest")
    assert (yard.soaking.days, yard.soaking.tank_logs) == ((0, 3), 25)
    assert yard.site.timezone.key == "Pacific/Auckland"


def settings_shown(text):
    """Return the text with every setting that is only shown put to use."""
    return re.sub(r"^#(?=[\[\"a-z])", "", text, flags=re.M)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_known_key_is_shown_and_works_when_put_to_use(tmp_path, units):
    text = started(tmp_path, units=units).joinpath("yard.toml").read_text()
    shown = settings_shown(text).replace('station = "nearest"\n', "")
    yard, findings = parse_settings(shown, tmp_path)
    assert findings.faults == []
    assert findings.warnings == []
    assert len(yard.orders) == len(yard.away) == 1
    assert len(yard.numbers) == 2  # its own line, and the grower's rest between soaks
    assert yard.outlets[0].closed
    sections = dict(
        re.findall(r"^\[+(\w+)\]+\n(.*?)(?=^\[|\Z)", settings_shown(text), flags=re.M | re.S)
    )
    sections[""] = settings_shown(text).partition("\n[")[0]
    for table, key in known_keys():
        same = {"order": sections["outlet"]}.get(table, "")
        assert re.search(rf"\b{key}\b", sections[table] + same), f"[{table}] {key}"
    assert set(SINGLE) < set(sections)


def test_the_defaults_it_shows_are_the_defaults(tmp_path):
    text = started(tmp_path).joinpath("yard.toml").read_text()
    as_written, _ = parse_settings(text, tmp_path)
    lines = [
        line
        for line in text.splitlines()
        if line.startswith(("#promise", "#years", "#keep_above", "#days", "#saleable", "#start"))
    ]
    assert len(lines) == 6
    for line in lines:
        text = text.replace(line, line[1:])
    assert parse_settings(text, tmp_path)[0] == as_written


def test_every_column_stands_in_the_starter(tmp_path):
    for units in ("us", "metric"):
        header = started(tmp_path / units, units=units).joinpath("stacks.csv").read_text()
        columns = header.partition("\n")[0].split(",")
        for group in REQUIRED:
            assert len(set(group) & set(columns)) == 1
        assert set(OPTIONAL) < set(columns)


@pytest.mark.parametrize("name", ["yard.toml", "stacks.csv"])
def test_nothing_is_overwritten(tmp_path, name):
    tmp_path.joinpath(name).write_text("mine")
    with pytest.raises(InputError, match=rf"{name}: is there already.*Choose another folder"):
        started(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert tmp_path.joinpath(name).read_text() == "mine"


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"latitude": 95.0}, r"\[site\] latitude: 95 is out of range"),
        ({"elevation_m": float("nan")}, r"elevation_ft: nan is out of range"),
        ({"timezone": "America/NewYork"}, r"timezone: .*'America/New_York'"),
        ({"name": " "}, r"name: is empty"),
        ({"name": "a\x7fb\x00"}, r"name: .*unprintable characters"),
        ({"name": "\udc00"}, r"name: .*unprintable characters"),
        ({"soak_days": ()}, r"days: names no day"),
        ({"tank_logs": 0}, r"tank_logs: 0 is out of range"),
    ],
)
def test_wrong_values_are_faults_and_nothing_is_written(tmp_path, changes, message):
    with pytest.raises(FaultsError, match=message):
        started(tmp_path / "yard", **changes)
    assert not tmp_path.joinpath("yard").exists()


def test_a_folder_that_cannot_be_made_leaves_nothing(tmp_path):
    tmp_path.joinpath("file").write_text("x")
    with pytest.raises(OutputError, match="cannot be written"):
        started(tmp_path / "file" / "yard")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
