"""A yard's folder: both files at once, and files that are no such files."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from fruitcast.errors import FaultsError, FruitcastError, InputError
from fruitcast.yard.reading import day_in_yard, read_yard, yard_faults
from tests.drawn import examples
from tests.yard.yards import SETTINGS, STACKS, write_yard


def test_a_yard_is_read_from_its_folder(tmp_path):
    folder = write_yard(tmp_path)
    yard = read_yard(folder)
    assert yard.folder == folder
    assert [stack.name for stack in yard.stacks] == ["A", "B"]
    assert yard.weather.file == folder / "weather.csv"
    assert yard_faults(folder) == []


def test_a_relative_folder_becomes_absolute(tmp_path, monkeypatch):
    write_yard(tmp_path / "yard")
    monkeypatch.chdir(tmp_path)
    assert read_yard(Path("yard")).folder == tmp_path / "yard"


def test_warnings_of_both_files_are_kept(tmp_path):
    text = SETTINGS.replace("elevation_m = 240\n", "")
    folder = write_yard(tmp_path, text, STACKS.replace("2025-04-02", "2027-06-01"))
    warnings = read_yard(folder, today=date(2027, 5, 3)).warnings
    assert [warning[:10] for warning in warnings] == ["yard.toml ", "stacks.csv"]


def test_faults_of_both_files_come_at_once(tmp_path):
    folder = write_yard(tmp_path, SETTINGS.replace("60", "0"), STACKS.replace(",24,", ",-5,"))
    with pytest.raises(FaultsError) as caught:
        read_yard(folder)
    places = [fault.place for fault in caught.value.faults]
    assert places == ["yard.toml [soaking] tank_logs", "stacks.csv line 2, stack A"]
    assert str(caught.value).count("\n") == 1
    assert yard_faults(folder) == list(caught.value.faults)


@pytest.mark.parametrize(
    ("zone", "day"),
    [("Australia/Sydney", 4), ("Pacific/Honolulu", 2), ("Nowhere/Here", 3), ("", 3)],
)
def test_the_day_is_that_of_the_yard(tmp_path, zone, day):
    folder = write_yard(tmp_path, SETTINGS.replace("America/New_York", zone))
    assert zone in (folder / "yard.toml").read_text()
    moment = datetime(2027, 5, 3, 14 if day > 3 else 8, tzinfo=UTC)
    assert day_in_yard(folder, moment) == date(2027, 5, day)
    assert day_in_yard(tmp_path / "no yard", moment) == date(2027, 5, 3)


def test_no_folder_and_no_yard_name_the_command_that_starts_one(tmp_path):
    with pytest.raises(InputError, match=r"no such folder\. Start a yard with 'fruitcast new .*/x"):
        read_yard(tmp_path / "x")
    with pytest.raises(InputError, match=r"there is no yard\.toml in it.*'fruitcast new.*--yard"):
        read_yard(tmp_path)
    file = write_yard(tmp_path) / "yard.toml"
    with pytest.raises(InputError, match="is a file, and a yard is a folder"):
        yard_faults(file)


@pytest.mark.parametrize("name", ["yard.toml", "stacks.csv"])
@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", r"is empty\. Restore it"),
        (b"  \n\n", r"is empty"),
        (b"<!DOCTYPE html>\n<html><body>404</body></html>", r"is a web page.*Download the file"),
        (b"\n<HTML lang='en'>", r"is a web page"),
        (b"PK\x03\x04\x14\x00", r"is a spreadsheet's own file.*save it as CSV"),
        (b"%PDF-1.7", r"is a PDF document\. Save the table itself as CSV"),
        (b"SQLite format 3\x00", r"is a data base"),
        (b"name = 1\n\x00\x00 = 1", r".*line 2 holds zero bytes\. Save it again as plain text"),
        (b"\x81\x8d\x9d", r".*encoding that can't be told\. Save it again as plain text"),
        (b"\xff\xfea", r".*encoding that can't be told"),
    ],
)
def test_files_that_are_something_else(tmp_path, name, data, message):
    folder = write_yard(tmp_path)
    folder.joinpath(name).write_bytes(data)
    with pytest.raises(FaultsError, match=rf"^{name}: {message}"):
        read_yard(folder)


def test_stacks_may_be_missing_altogether(tmp_path):
    folder = write_yard(tmp_path)
    folder.joinpath("stacks.csv").unlink()
    with pytest.raises(FaultsError, match=r"^stacks\.csv: there is no such file\. Write it"):
        read_yard(folder)
    folder.joinpath("stacks.csv").mkdir()
    with pytest.raises(FaultsError, match=r"^stacks\.csv: can't be read \(Is a directory\)"):
        read_yard(folder)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_settings_from_any_editor(tmp_path, encoding):
    folder = write_yard(tmp_path)
    text = SETTINGS.replace("Alder Bank", "Bärlauch").replace("\n", "\r\n")
    folder.joinpath("yard.toml").write_bytes(text.encode(encoding))
    assert read_yard(folder).name == "Bärlauch"


@examples(30, 150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=120), st.sampled_from(["yard.toml", "stacks.csv"]), st.booleans())
def test_any_bytes_give_a_yard_or_an_error_of_ours(tmp_path, data, name, behind):
    folder = write_yard(tmp_path)
    file = folder / name
    file.write_bytes(file.read_bytes() + data if behind else data)
    try:
        yard = read_yard(folder)
    except FruitcastError as error:
        assert name in str(error)
    else:
        assert yard.stacks
