"""The page of the weather: what there is, and a file that is taken in once it was understood."""

from __future__ import annotations

import io
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.web.sites import Visitor, forms_of
from tests.yards import write_yard


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_yard(tmp_path / "yard")


def bring(visitor: Visitor, data: bytes, **fields: str) -> str:
    visitor.open("/weather")
    token = dict(forms_of(visitor.html)[-1][1])["token"]
    form = {"token": token, "file": (io.BytesIO(data), "../../evil.csv"), **fields}
    visitor.page = visitor.client.post(
        "/weather", data=form, base_url=visitor.origin, content_type="multipart/form-data"
    )
    return visitor.text


def table(first: date, days: int, low: float = 5.0) -> bytes:
    rows = (f"{first + timedelta(days=n)},{low},{low + 10},1.2\n" for n in range(days))
    return ("date,tmin,tmax,rain\n" + "".join(rows)).encode()


def test_what_there_is(visitor):
    text = visitor.open("/weather")
    assert "weather.csv: from 2006-01-01 to 2027-05-02." in text
    assert "21 past years to plan from" in text and "Sun 2 May 2027" in text


def test_a_file_is_understood_first_and_then_taken(visitor, folder):
    before = (folder / "weather.csv").read_bytes()
    text = bring(visitor, table(date(2027, 5, 3), 4))
    assert visitor.status == 200 and "4 days, from 2027-05-03 to 2027-05-06." in text
    assert (folder / "weather.csv").read_bytes() == before
    visitor.send(form=0)
    # Of days to come nothing is taken in as observed: today alone is new.
    assert "Taken in; 1 day is new." in visitor.text
    written = (folder / "weather.csv").read_bytes()
    assert b"2027-05-03" in written and b"2027-05-06" not in written
    assert not list((folder / ".weather").glob("incoming*"))
    assert not list(folder.parent.glob("evil*"))


def test_days_that_differ_are_taken_only_when_told(visitor, folder):
    before = (folder / "weather.csv").read_bytes()
    bring(visitor, table(date(2027, 5, 1), 3, low=4.4))
    text = visitor.send(form=0)
    assert visitor.status == 422 and "Tick the box to take these values" in text
    assert (folder / "weather.csv").read_bytes() == before
    visitor.send(form=0, replace="1")
    assert "Taken in;" in visitor.text
    assert b"2027-05-01,4.4" in (folder / "weather.csv").read_bytes()


def test_what_cannot_be_weather_is_told(visitor, folder):
    before = (folder / "weather.csv").read_bytes()
    for data in (b"\x89PNG\r\n\x1a\n", b"a,b\n1,2\n", b""):
        text = bring(visitor, data)
        assert visitor.status == 422 and "Nothing was taken yet." in text
    assert (folder / "weather.csv").read_bytes() == before


def test_another_file_than_the_one_shown_is_not_taken(visitor, folder):
    before = (folder / "weather.csv").read_bytes()
    bring(visitor, table(date(2027, 5, 3), 4))
    (folder / ".weather" / "incoming.csv").write_bytes(table(date(2027, 5, 3), 9))
    text = visitor.send(form=0)
    assert visitor.status == 422 and "not here any more" in text
    assert (folder / "weather.csv").read_bytes() == before
