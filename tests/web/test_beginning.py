"""A yard begun on the page: from an empty folder to a yard that can be planned."""

from __future__ import annotations

import io
import re
from datetime import date
from pathlib import Path

import pytest
import responses

from fruitcast.app.beginning import can_begin
from fruitcast.app.checking import check_yard
from fruitcast.app.demo import sample_folder
from fruitcast.errors import Fault, FaultsError
from fruitcast.weather.formats import AS_IT_STANDS
from fruitcast.web.access import AccessFile
from fruitcast.web.guard import MOST_BYTES, MOST_UPLOAD
from fruitcast.web.weather import fault_lines
from fruitcast.yard.reading import read_yard
from tests.weather.station_server import stations_db
from tests.web.sites import PASSPHRASE, Now, Visitor, forms_of, make_app

TODAY = date(2027, 5, 3)
PLACE = {"name": "Fern Gully", "place": "42.6, -73.4"}
WEATHER = (sample_folder() / "weather.csv").read_bytes()
PASTED = (
    "A\t12\tred oak\t5\t40\t2026-04-01\tplug\twide-range\r\n"
    "B\t10\tsugar maple\t4.5\t40\t2025-04-01\tsawdust\tcold-weather\r\n"
)


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    folder = tmp_path / "yard"
    folder.mkdir()
    return folder


@pytest.fixture
def folder(empty: Path) -> Path:
    return empty


def step(visitor: Visitor, path: str, **fields: object) -> str:
    """Open a step and send its last form."""
    visitor.open(f"/start/{path}")
    return visitor.send(**fields)


def upload(visitor: Visitor, path: str, name: str, data: bytes, **fields: str) -> str:
    """Send a file on a step's form."""
    visitor.open(f"/start/{path}")
    token = dict(forms_of(visitor.html)[-1][1])["token"]
    form = {"token": token, "file": (io.BytesIO(data), name), **fields}
    visitor.page = visitor.client.post(
        f"/start/{path}", data=form, base_url=visitor.origin, content_type="multipart/form-data"
    )
    while visitor.page.status_code == 303:
        there = visitor.page.headers["Location"]
        visitor.page = visitor.client.get(there, base_url=visitor.origin)
    return visitor.text


@pytest.mark.parametrize("path", ["/", "/stacks", "/record", "/change", "/supply", "/nothing"])
def test_in_an_empty_folder_every_page_leads_to_the_start(visitor, path):
    visitor.open(path, follow_redirects=True)
    assert "Begin your yard" in visitor.text
    assert "Look at an invented yard first" in visitor.text


def test_a_whole_yard_is_begun(visitor, empty):
    step(visitor, "place", **PLACE)
    text = upload(visitor, "weather", "my record.csv", WEATHER)
    assert "The file you gave" in text and "past years to plan from" in text
    assert not (empty / "weather.csv").exists()
    assert "Your stacks of logs" in visitor.send()
    text = visitor.send(pasted=PASTED)
    assert "Understood: 2 stacks, 22 logs." in text
    visitor.send("yes", form=0)
    visitor.send(
        **{"name-0": "Saturday market", "day-0": "Sat", "target-0": "3", "name-1": "Café"},
        **{"day-1": "Wed", "target-1": "1,5", "days": ["Mon", "Thu"], "tank_logs": "24"},
    )
    assert "2 with 22 logs" in visitor.text and "24 logs; Mon, Thu" in visitor.text
    assert not (empty / "yard.toml").exists()
    visitor.send()
    assert visitor.status == 200 and "This week" in visitor.text
    yard = read_yard(empty)
    assert (yard.name, yard.site.latitude, yard.units) == ("Fern Gully", 42.6, "us")
    assert [(each.name, each.logs) for each in yard.stacks] == [("A", 12), ("B", 10)]
    assert [(each.name, each.weekday, round(each.target_kg / 0.45359237, 2)) for each in
            yard.outlets] == [("Saturday market", 5, 3), ("Café", 2, 1.5)]  # fmt: skip
    assert (yard.soaking.days, yard.soaking.tank_logs) == ((0, 3), 24)
    # Nobody gave the markets a season.
    assert all(each.first is None and each.last is None for each in yard.outlets)
    checked = check_yard(empty, TODAY)
    assert checked.sound and checked.weather_years and checked.weather_years > 5
    assert not (empty / ".begin").exists()
    # The start is over: its pages lead to the yard.
    assert "This week" in visitor.open("/start/place", follow_redirects=True)


def test_everything_may_be_left_for_later(visitor, empty, monkeypatch):
    monkeypatch.setenv("TZ", "America/New_York")
    for path in ("place", "weather", "stacks", "selling", "ready"):
        step(visitor, path)
        assert visitor.status == 200, (path, visitor.text)
    yard = read_yard(empty)
    assert yard.name == "yard" and yard.site.timezone.key == "America/New_York"
    assert len(yard.stacks) == 2 and yard.weather.station == "nearest"
    # No market was given, so none is invented.
    assert not yard.sells and not yard.outlets


def test_mushrooms_for_the_table(visitor, empty):
    step(visitor, "place", name="Kitchen", place="50.85, 4.35", units="")
    step(visitor, "selling", sells="no")
    step(visitor, "ready")
    yard = read_yard(empty)
    assert not yard.sells and yard.units == "metric"


def test_rows_are_filled_in_one_by_one_and_slips_told(visitor, empty):
    step(visitor, "place", **PLACE)
    row = {"stack-0": "A", "logs-0": "twelve", "tree-0": "red oak", "inoculated-0": "2026-04-01"}
    row |= {"spawn-0": "plug", "strain_class-0": "wide-range"}
    text = step(visitor, "stacks", **row)
    assert visitor.status == 422 and "Stack A: Logs 'twelve' is not a number" in text
    assert "stacks.csv" not in text
    sent = dict(forms_of(visitor.html)[-1][1])
    assert (sent["stack-0"], sent["logs-0"], sent["tree-0"]) == ("A", "twelve", "red oak")
    visitor.send(**{**row, "logs-0": "12"})
    assert "Understood: 1 stack, 12 logs." in visitor.text
    # More rows keep what stands in those there.
    visitor.open("/start/stacks")
    visitor.send("more", **{**row, "logs-0": "14"})
    assert visitor.html.count("<legend>Stack ") == 6
    assert dict(forms_of(visitor.html)[-1][1])["logs-0"] == "14"


def test_what_was_understood_can_be_corrected_without_filling_in_all_again(visitor, empty):
    step(visitor, "place", **PLACE)
    row = {
        "stack-0": "A",
        "logs-0": "12",
        "inoculated-0": "2026-04-01",
        "diameter-0": "6",
        "spawn-0": "plug",
    }
    step(visitor, "stacks", **row)
    assert "A : 12 logs of other hardwood, 6 in thick, 40 in long" in visitor.text
    sent = dict(forms_of(visitor.html)[-1][1])
    assert (sent["stack-0"], sent["logs-0"], sent["diameter-0"]) == ("A", "12", "6")
    visitor.send(**{"logs-0": "14", "tree-0": "spaghetti"})
    assert "1 stack, 14 logs" in visitor.text and "spaghetti" in visitor.text
    assert "other hardwood" in visitor.text
    # A pasted table comes back as it was pasted.
    visitor.send(pasted=PASTED, **{"stack-0": "", "logs-0": ""})
    assert "2 stacks, 22 logs" in visitor.text
    assert "B\t10\tsugar maple" in visitor.html


def test_a_missing_day_is_told_by_the_name_of_its_field(visitor):
    step(visitor, "place", **PLACE)
    text = step(
        visitor,
        "stacks",
        **{"stack-0": "A", "logs-0": "12", "diameter-0": "500", "spawn-0": "plug"},
    )
    assert "Stack A: Inoculated on is empty" in text and "Stack A: Thick 500" in text
    assert "diameter_in" not in text and "stacks.csv" not in text


def test_the_units_chosen_stay_when_the_place_is_not_found(visitor):
    step(visitor, "place", name="Fern Gully", place="1000, 2000", units="us")
    assert visitor.status == 422
    assert 'value="us" checked' in visitor.html


def test_every_step_leads_back(visitor):
    for path, back in (("place", "/start"), ("weather", "/start/place"),
                       ("ready", "/start/selling")):  # fmt: skip
        visitor.open(f"/start/{path}")
        assert f'<a href="{back}">Back</a>' in visitor.html


def test_a_table_with_names_of_columns_is_kept_as_it_is(visitor, empty):
    step(visitor, "place", **PLACE)
    table = (
        "Row;stack;strain_class;tree;logs;diameter_cm;length_cm;inoculated;spawn\r\n"
        "north;A;wide-range;red oak;12;12,5;100;2026-04-01;plug\r\n"
    )
    upload(visitor, "stacks", "Stapel.csv", table.encode("utf-16"))
    assert "Understood: 1 stack, 12 logs." in visitor.text
    step(visitor, "ready")
    assert (empty / "stacks.csv").read_text().startswith("Row;stack;")


def test_a_file_that_is_no_weather_is_told_and_not_taken(visitor, empty):
    step(visitor, "place", **PLACE)
    for data in (
        b"\x89PNG\r\n\x1a\n" + bytes(100),
        b"PK\x03\x04zip",
        b"a,b\n1,2\n",
        b"<html></html>",
    ):
        text = upload(visitor, "weather", "../../x.csv", data)
        assert visitor.status == 422 and "Nothing was taken yet." in text
        assert "incoming" not in text
    assert not list(empty.parent.glob("x.csv"))
    assert sorted(each.name for each in (empty / ".begin").iterdir()) == ["draft.json"]


def test_weather_that_can_hardly_be_true_is_asked_about_first(visitor):
    step(visitor, "place", name="South", place="-42.6, 147.3")
    text = upload(visitor, "weather", "north.csv", WEATHER)
    assert visitor.status == 422 and "tick the box below the file" in text
    text = upload(visitor, "weather", "north.csv", WEATHER, believe="1")
    assert visitor.status == 200 and "The file you gave" in text


@pytest.mark.parametrize(
    ("times", "more", "titles"),
    [(1.8, 32, "tmin_f, tmax_f, rain_in"), (10, 0, "tmin (0.1 C), tmax (0.1 C), rain (0.1 mm)")],
)
def test_weather_in_units_that_nobody_names_is_helped_by_its_titles(visitor, times, more, titles):
    header, *lines = WEATHER.decode().splitlines()
    cells = [line.split(",") for line in lines]
    inch = 25.4 if more else 0.1
    rows = [
        f"{day},{float(low) * times + more:.0f},{float(high) * times + more:.0f},"
        f"{float(rain) / inch:.2f}".removesuffix("" if more else ".00")
        for day, low, high, rain in cells
    ]
    step(visitor, "place", **PLACE)
    text = upload(visitor, "weather", "plain.csv", "\n".join([header, *rows]).encode())
    assert visitor.status == 422 and "The file, line 1: the titles name no units" in text
    assert f". Put the units into the titles ({titles})." in text
    assert "fruitcast weather" not in text and "--units" not in text
    text = upload(visitor, "weather", "named.csv", "\n".join([f"date,{titles}", *rows]).encode())
    assert visitor.status == 200 and "The file you gave" in text


@pytest.mark.parametrize(
    "told",
    [
        "They look like Fahrenheit taken for Celsius: say --units us, or put the units",
        "Say --units us or --units metric, or put the units into the titles",
        "They look like tenths of C: put the units into the titles (tmin (0.1 C)), or say them to "
        "'fruitcast weather import' with --units tenths",
        "put the unit into the title (rain_mm), or say --units metric or tenths",
    ],
)
def test_no_option_of_a_command_is_told_on_the_page(told):
    fault = Fault("incoming.csv", "is odd", f"{told}. {AS_IT_STANDS}.")
    (line,) = fault_lines(FaultsError([fault]))
    assert "--" not in line and "import" not in line and line.startswith("The file: is odd. ")
    assert "put the unit" in line.lower() and line.endswith("tick the box below the file.")


@pytest.mark.parametrize("place", ["99, 12", "12, 999"])
def test_a_place_that_is_not_on_earth_is_told(visitor, place):
    assert "out of range" in step(visitor, "place", name="X", place=place)
    assert visitor.status == 422 and "--place" not in visitor.text


def test_stations_are_shown_with_distance_years_and_gaps(empty, tmp_path):
    rows = [("72518", "Albany", 42.75, -73.8, 89), ("X1", "Hill", 42.62, -73.45, 500)]
    inventory = [("72518", "ghcnd", name, "1938-06-01", "2027-05-01", 0.985)
                 for name in ("tmin", "tmax", "prcp")]  # fmt: skip
    inventory.append(("X1", "ghcnd", "prcp", "1990-01-01", "2027-05-01", 1.0))
    with responses.RequestsMock(assert_all_requests_are_fired=False) as server:
        import meteostat

        for url in meteostat.config.stations_db_endpoints:
            server.get(url, body=stations_db(tmp_path, rows, inventory))
        visitor = Visitor(make_app(empty, Now()))
        step(visitor, "place", name="Fern", place="albany")
        text = visitor.open("/start/weather")
        assert "albany: 42.75, -73.80, time zone America/New_York" in text
        assert re.search(r"Albany : 0 km away, 0 ft higher, 1938 to 2027, 2% of the days", text)
        assert re.search(r"Hill : 3\d km away, .* ft higher; which years it has", text)
        visitor.send(weather="72518")
        step(visitor, "ready")
    yard = read_yard(empty)
    assert yard.weather.station == "72518" and round(yard.site.elevation) == 89


def test_what_was_given_outlives_the_server(empty):
    step(Visitor(make_app(empty)), "place", **PLACE)
    again = Visitor(make_app(empty))
    assert "Go on with your yard" in again.open("/start")
    assert 'value="Fern Gully"' in (again.open("/start/place") and again.html)


def test_the_invented_yard_is_one_tap_away_and_so_is_the_way_back(empty):
    app = make_app(empty)
    ann, bill = Visitor(app), Visitor(app)
    ann.open("/start")
    ann.send()
    assert "Larkspur Hollow" in ann.text and "An invented yard, to try out." in ann.text
    ann.open("/change/soaking")
    ann.send(**{"soaking.tank_logs": "44"})
    assert read_yard(empty / "fruitcast-demo").soaking.tank_logs == 44
    # Another browser is not in it.
    assert "Begin your yard" in bill.open("/", follow_redirects=True)
    way_back = next(n for n, (to, _) in enumerate(forms_of(ann.html)) if to == "/demo/close")
    ann.send(form=way_back)
    assert "Begin your yard" in ann.open("/", follow_redirects=True)
    for path, fields in (("place", PLACE), ("ready", {})):
        step(ann, path, **fields)
    assert read_yard(empty).name == "Fern Gully"


def test_files_come_only_from_those_who_are_let_in_and_only_so_large(empty):
    AccessFile(empty).set_passphrase(PASSPHRASE)
    visitor = Visitor(make_app(empty))
    visitor.open("/signin")
    token = dict(forms_of(visitor.html)[-1][1])["token"]

    def send(path: str, size: int) -> int:
        form = {"token": token, "file": (io.BytesIO(b"x" * size), "a.csv")}
        return visitor.client.post(
            path, data=form, base_url=visitor.origin, content_type="multipart/form-data"
        ).status_code

    assert send("/start/weather", MOST_BYTES + 1) == 413
    visitor.send(passphrase=PASSPHRASE)
    token = dict(forms_of((visitor.open("/start/place"), visitor.html)[1])[-1][1])["token"]
    assert send("/start/weather", MOST_BYTES + 1) == 422
    assert send("/start/weather", MOST_UPLOAD + 1) == 413
    assert send("/start/place", MOST_BYTES + 1) == 413


def test_where_a_yard_may_be_begun(tmp_path):
    assert can_begin(tmp_path)
    (tmp_path / "record.csv").write_text("date\n")
    (tmp_path / ".serve.json").write_text("{}")
    assert can_begin(tmp_path)
    (tmp_path / "letters").mkdir()
    assert not can_begin(tmp_path)
    assert not can_begin(tmp_path / "nothing")


def test_handed_in_twice_it_is_begun_once(visitor, empty):
    step(visitor, "place", **PLACE)
    visitor.open("/start/ready")
    action, given = forms_of(visitor.html)[-1]
    visitor.post(action, given)
    before = (empty / "yard.toml").read_bytes()
    visitor.post(action, given)
    assert visitor.status == 200 and (empty / "yard.toml").read_bytes() == before


def old_weather(last: str) -> bytes:
    """Return the sample weather as it was when it ended on a day."""
    lines = WEATHER.decode().splitlines(keepends=True)
    return "".join([lines[0], *(line for line in lines[1:] if line[:10] <= last)]).encode()


def test_weather_that_is_too_old_stops_the_step_and_says_what_helps(visitor, empty):
    step(visitor, "place", **PLACE)
    text = upload(visitor, "weather", "old.csv", old_weather("2025-05-30"))
    assert visitor.status == 422 and "The file ends on 2025-05-30" in text
    assert "Give another file, or use the stations." in text
    assert "fruitcast weather" not in text and "--today" not in text
    assert "The file you gave" not in visitor.open("/start/weather")
    # A good one that was given before stays.
    upload(visitor, "weather", "good.csv", WEATHER)
    upload(visitor, "weather", "old.csv", old_weather("2025-05-30"))
    assert "past years to plan from" in visitor.open("/start/weather")


def test_a_tank_of_no_logs_is_told_with_the_other_mistakes(visitor):
    step(visitor, "place", **PLACE)
    text = step(visitor, "selling", **{"name-0": "Market", "target-0": "3", "tank_logs": "0"})
    assert visitor.status == 422
    assert "Market: has no day" in text and "The tank: '0' is no number of logs" in text
