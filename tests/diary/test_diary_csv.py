"""The whole diary out as CSV and in again."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.events import FIELDS, Event
from fruitcast.diary.tables import defused, export_csv, import_csv, restored
from fruitcast.errors import FaultsError, FruitcastError, InputError
from tests.diary.diary_samples import NOW, day, entry
from tests.drawn import examples

TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=20)
AMOUNT = st.none() | st.floats(0.001, 1e6)
EVENTS = st.builds(
    Event,
    kind=st.sampled_from(["soak", "pick", "water", "inspect", "note"]),
    on=st.dates(date(1950, 1, 1), date(2199, 12, 31)),
    stack=TEXT.map(lambda text: text + "A"),
    logs=st.none() | st.integers(0, 1000),
    hours=AMOUNT,
    kg=st.floats(0.001, 1e6),
    mm=AMOUNT,
    litres=AMOUNT,
    picked_on=st.none() | st.dates(date(1950, 1, 1), date(2199, 12, 31)),
    grade=TEXT,
    outlet=TEXT,
    sample=TEXT,
    findings=st.sampled_from([(), ("healthy",), ("white ends", "loose bark")]),
    note=TEXT.map(lambda text: text + "."),
    uuid=st.uuids().map(str),
    recorded_at=st.datetimes(
        datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)
    ).map(lambda moment: moment.replace(microsecond=0)),
)


@examples(30, 150)
@given(st.lists(EVENTS, max_size=5, unique_by=lambda event: event.uuid))
def test_out_and_in_again_is_identical(events):
    data = export_csv(events)
    back = import_csv(data, "diary.csv")
    assert back == tuple(events)
    assert export_csv(back) == data


def test_a_diary_goes_through_the_file_and_another_diary_unchanged(tmp_path):
    with Diary(tmp_path / "one.db") as one:
        one.add(
            [
                entry("soak", "05-04", "A", hours=24.0),
                replace(entry("pick", "05-12", "A", kg=1.1, note="=1+1"), uuid="p"),
                entry("undo", "05-12", cancels="p"),
            ],
            NOW,
        )
        data = export_csv(one.events())
    with Diary(tmp_path / "two.db") as two:
        two.add(import_csv(data, "diary.csv"), NOW + timedelta(days=5))
    assert read_events(tmp_path / "two.db") == read_events(tmp_path / "one.db")
    assert export_csv(read_events(tmp_path / "two.db")) == data


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1", "-1", "@SUM(A1)", " =1", "\t=1", "\tx", "\rx", "\n=1", "'=1", "''-2", "＝1"],
)
def test_formulas_are_defused_and_restored(text):
    cell = defused(text)
    assert cell == f"'{text}"
    assert restored(cell) == text


@pytest.mark.parametrize("text", ["", "A", "'twas wet", "1-2", "'", "''", "2 lb = much"])
def test_other_text_stays_as_it_is(text):
    assert defused(text) == text
    assert restored(text) == text


@given(TEXT)
def test_no_cell_begins_like_a_formula_and_all_come_back(text):
    cell = defused(text)
    assert not cell.lstrip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))
    assert not cell.startswith(("\t", "\r", "\n"))
    assert restored(cell) == text


def test_the_file_is_a_table_that_spreadsheets_read():
    data = export_csv([replace(entry("note", "05-04", note="nüss"), uuid="u", recorded_at=NOW)])
    assert data.startswith("\ufeffkind,on,stack".encode())
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))
    assert rows[0]["note"] == "nüss"
    assert rows[0]["recorded_at"] == "2027-05-07T17:30:00+00:00"
    assert tuple(rows[0]) == FIELDS


def test_a_spreadsheet_with_semicolons_and_fewer_columns_is_read():
    text = (
        "uuid;recorded_at;kind;on;stack;kg\n\nu;2027-05-04T12:00:00Z;pick;2027-05-04;A;1.5\n;;;;;\n"
    )
    (event,) = import_csv(text.encode(), "diary.csv")
    assert event == Event(
        *("pick", day("05-04"), "A"),
        kg=1.5,
        uuid="u",
        recorded_at=datetime(2027, 5, 4, 12, tzinfo=UTC),
    )


HEADER = "kind,on,stack,kg,logs,findings,cancels,uuid,recorded_at\n"
GOOD = "pick,2027-05-04,A,1.5,,,,u1,2027-05-04T12:00:00Z\n"


@pytest.mark.parametrize(
    ("row", "message"),
    [
        (GOOD, "line 3: the entry u1 is in the diary already. Nothing was imported"),
        (GOOD.replace("u1", "known"), "line 3: the entry known is in the diary already"),
        (GOOD.replace("u1", ""), "line 3: 'uuid' is empty"),
        ("pick,5/4/2027,A,1,,,,u2,2027-05-04T12:00:00Z\n", "on is '5/4/2027', expected a day like"),
        ("pick,2027-05-04,A,1;5,,,,u2,2027-05-04T12:00:00Z\n", "kg is '1;5', expected a number"),
        ("soak,2027-05-04,A,,1.5,,,u2,2027-05-04T12:00:00Z\n", "logs is '1.5', expected a whole"),
        ("pick,2027-05-04,A,1,,,,u2,2027-05-04 12:00\n", "expected a moment with its time zone"),
        ("pick,2027-05-04,A,,,,,u2,2027-05-04T12:00:00Z\n", "a pick entry needs 'kg'"),
        ("pick,2027-05-04,A,inf,,,,u2,2027-05-04T12:00:00Z\n", "kg is inf, expected 0 to a"),
        ("inspect,2027-05-04,A,,,rot,,u2,2027-05-04T12:00:00Z\n", "finding 'rot' is not one of"),
        ("undo,2027-05-04,,,,,zz,u2,2027-05-04T12:00:00Z\n", "it cancels zz, which does not stand"),
        ("pick,2027-05-04,A,1\n", "line 3: 4 cells, the header has 9"),
    ],
)
def test_wrong_rows_are_named_and_nothing_is_taken(row, message):
    known = [replace(entry("note", "05-01", note="x"), uuid="known", recorded_at=NOW)]
    with pytest.raises(FaultsError, match=message):
        import_csv((HEADER + GOOD + row).encode(), "diary.csv", known)


def test_all_faults_are_listed_at_once_up_to_a_limit():
    rows = "".join(f"pick,x,A,1,,,,u{n},2027-05-04T12:00:00Z\n" for n in range(500))
    with pytest.raises(FaultsError) as caught:
        import_csv((HEADER + rows).encode(), "diary.csv")
    assert len(caught.value.faults) == 50
    assert caught.value.faults[49].place == "diary.csv line 51"


def test_a_note_of_several_lines_does_not_shift_the_line_numbers():
    text = (
        'kind,on,note,uuid,recorded_at\nnote,2027-05-04,"a\nb\nc",u,2027-05-04T12:00:00Z\nx,,,,\n'
    )
    with pytest.raises(FaultsError, match=r"diary\.csv line 5: 'on' is empty"):
        import_csv(text.encode(), "diary.csv")


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "line 1: the header lacks 'kind', 'on', 'uuid', 'recorded_at'"),
        (b"kind,on,uuid,recorded_at,colour\n", "line 1: the header has unknown 'colour'"),
        (b"kind,on,uuid,recorded_at,kind\n", "line 1: the header has twice 'kind'"),
        (b"kind\xff", r"not in UTF-8 \(byte 4\). In the spreadsheet, save it as 'CSV UTF-8'"),
        (b'kind,on,uuid,recorded_at\n"a', r"line 2: not a CSV row"),
    ],
)
def test_what_is_no_diary_is_said(data, message):
    with pytest.raises(InputError, match=message):
        import_csv(data, "diary.csv")


def test_a_huge_file_is_refused(monkeypatch):
    monkeypatch.setattr("fruitcast.diary.tables.MAX_BYTES", 10)
    with pytest.raises(InputError, match="11 bytes are no diary"):
        import_csv(b"x" * 11, "diary.csv")


@examples(60, 300)
@given(st.binary(max_size=60) | TEXT.map(str.encode), st.booleans())
def test_any_bytes_give_entries_or_one_message(data, headed):
    try:
        events = import_csv((HEADER + GOOD).encode() + data if headed else data, "diary.csv")
    except FruitcastError as error:
        assert str(error)
    else:
        assert events == () or headed
