"""The three files of a published plan."""

from __future__ import annotations

import csv
import io

import pytest

from fruitcast.app.publication import PLAN_COLUMNS, plan_csv, plan_files
from fruitcast.atomic import write_all_atomically
from fruitcast.diary.plan import Plan
from fruitcast.errors import OutputError
from tests.outputs.sample_plan import document, plan


def rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode(), newline="")))


def test_one_row_a_soak_in_order_of_day():
    found = rows(plan_csv(plan(soaks=document()["soaks"][::-1])))
    assert [row["soak_on"] for row in found] == [
        "2027-05-04",
        "2027-06-15",
        "2027-07-09",
        "2027-10-15",
    ]
    assert list(found[0]) == list(PLAN_COLUMNS)
    assert found[0] == {
        "stack": "A",
        "logs": "24",
        "soak_on": "2027-05-04",
        "hours": "24",
        "pull_on": "2027-05-05",
        "pick_p10": "2027-05-12",
        "pick_p50": "2027-05-14",
        "pick_p90": "2027-05-18",
        "expected_kg": "2.9",
        "expected_lb": "6.393",  # 2.9 kg / 0.45359237
        "reasons": "ready since 20 Apr; last soaked 39 weeks ago; rest is 9 weeks; "
        "covers Saturday market on 15 May",
    }


def test_every_column_is_described():
    assert all(meaning for meaning in PLAN_COLUMNS.values())


def test_a_plan_without_soaks_has_its_header_still():
    assert plan_csv(plan(soaks=[])).decode() == ",".join(PLAN_COLUMNS) + "\r\n"


def test_a_spreadsheet_calculates_nothing_from_names_and_reasons():
    soaks = document()["soaks"][:1]
    soaks[0].update(stack="=HYPERLINK(1)", reasons=["+1\n=2", 'say "so", twice'])
    found = rows(plan_csv(plan(soaks=soaks)))
    assert found[0]["stack"] == "'=HYPERLINK(1)"
    assert found[0]["reasons"] == '\'+1 =2; say "so", twice'


def test_numbers_in_the_json_are_as_they_were():
    data = plan().json_file()
    assert Plan.model_validate_json(data) == plan()
    assert b"2.4123456789" in data
    assert "Café" in plan(warnings=["Café"]).json_file().decode()


def test_a_plan_with_a_hole_is_never_written():
    with pytest.raises(ValueError, match="objective_kg"):
        plan(objective_kg=float("nan"))
    with pytest.raises(ValueError, match="JSON"):
        plan().model_copy(update={"objective_kg": float("nan")}).json_file()


def test_three_files_are_written_and_nothing_else(tmp_path):
    written = plan_files(tmp_path / "out", plan(), b"BEGIN:VCALENDAR\r\n")
    write_all_atomically(written)
    assert {path.name for path in written} == {"plan.csv", "plan.json", "calendar.ics"}
    assert sorted((tmp_path / "out").iterdir()) == sorted(written)
    assert (tmp_path / "out" / "calendar.ics").read_bytes() == b"BEGIN:VCALENDAR\r\n"
    assert Plan.model_validate_json((tmp_path / "out" / "plan.json").read_bytes()) == plan()


def test_all_three_stay_when_one_cannot_be_written(tmp_path):
    write_all_atomically(plan_files(tmp_path, plan(), b"old"))
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    (tmp_path / "calendar.ics").unlink()
    (tmp_path / "calendar.ics").mkdir()
    (tmp_path / "calendar.ics" / "x").write_bytes(b"")
    with pytest.raises(OutputError, match=r"calendar\.ics"):
        write_all_atomically(plan_files(tmp_path, plan(soaks=[], weeks=3), b"new"))
    for name in ("plan.csv", "plan.json"):
        assert (tmp_path / name).read_bytes() == before[name]
