"""An accepted batch becomes a row of stacks.csv; what stands there stays as it is."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from fruitcast.errors import FaultsError, InputError, OutputError
from fruitcast.numbers import default_numbers
from fruitcast.yard.model import Stack
from fruitcast.yard.stacks import parse_stacks
from fruitcast.yard.stacks_text import append_stack

NUMBERS = default_numbers()
HEAD = "stack,strain_class,strain,tree,logs,diameter_cm,length_cm,inoculated,spawn,note"
NEW = Stack(
    "R",
    "wide-range",
    "early, all-round",
    "red oak",
    40,
    0.127,
    1.016,
    date(2027, 4, 24),
    "plug",
    'by the "old" gate',
)
TEXT = f"""{HEAD}
# the oldest ones
A,wide-range,all-round,white oak,36,14,100,2023-03-25,sawdust,north wall

# a trial
B,cold-weather,late,sugar maple,28,13,100,2023-04-22,plug,
"""


def added(tmp_path: Path, content: str | bytes, stack: Stack = NEW) -> bytes:
    path = tmp_path / "stacks.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    append_stack(path, stack, NUMBERS)
    return path.read_bytes()


def read(content: str) -> tuple[Stack, ...]:
    stacks, found = parse_stacks(content, NUMBERS)
    assert not found.faults
    return stacks


def test_the_row_comes_last_and_all_above_it_stays_comments_and_blank_lines_too(tmp_path):
    after = added(tmp_path, TEXT).decode()
    assert after.startswith(TEXT)
    row = after[len(TEXT) :]
    assert row == (
        'R,wide-range,"early, all-round",red oak,40,12.7,101.6,2027-04-24,plug,'
        '"by the ""old"" gate"\n'
    )
    stacks = read(after)
    assert [stack.name for stack in stacks] == ["A", "B", "R"]
    assert stacks[-1] == NEW


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-32", "cp1252"]
)
def test_encoding_and_line_ends_stay(tmp_path, ends, encoding):
    before = TEXT.replace("north wall", "Nordwand, grün").replace(",Nord", ',"Nord')
    before = before.replace("grün", 'grün"').replace("\n", ends).encode(encoding)
    after = added(tmp_path, before)
    assert after.decode(encoding).startswith(before.decode(encoding))
    row = after.decode(encoding)[len(before.decode(encoding)) :]
    assert row.endswith(ends) and row.count(ends) == 1


def test_a_last_line_without_an_end_gets_one(tmp_path):
    after = added(tmp_path, TEXT.rstrip("\n")).decode()
    assert [stack.name for stack in read(after)] == ["A", "B", "R"]


def test_columns_delimiter_unit_and_decimal_sign_are_the_file_s_own(tmp_path):
    content = (
        "inoculated;stack;shelf;logs;diameter_in;length_in;tree;strain_class;spawn\r\n"
        "2024-04-01;A;7;30;5,5;40;white oak;wide-range;sawdust\r\n"
    )
    plain = Stack(**{**NEW.__dict__, "strain": "", "note": "", "diameter": 0.1397})
    after = added(tmp_path, content, plain).decode()
    assert after == content + "2027-04-24;R;;40;5,5;40;red oak;wide-range;plug\r\n"


def test_a_row_of_totals_stays_the_last(tmp_path):
    total = "total,,,,64,,,,,\n"
    after = added(tmp_path, f"{TEXT}{total}# checked in May\n").decode()
    assert after.endswith(f'gate"\n{total}# checked in May\n')
    assert [stack.name for stack in read(after)] == ["A", "B", "R"]


def test_a_name_that_stands_there_already_is_refused(tmp_path):
    path = tmp_path / "stacks.csv"
    path.write_text(TEXT)
    with pytest.raises(InputError, match="there is a stack b already"):
        append_stack(path, Stack(**{**NEW.__dict__, "name": "b"}), NUMBERS)
    assert path.read_text() == TEXT


def test_a_file_with_faults_is_not_touched(tmp_path):
    path = tmp_path / "stacks.csv"
    spoilt = TEXT.replace("2023-04-22", "22 April")
    path.write_text(spoilt)
    with pytest.raises(FaultsError, match="line 6, stack B: inoculated"):
        append_stack(path, NEW, NUMBERS)
    assert path.read_text() == spoilt


def test_a_stack_that_would_not_read_back_is_not_written(tmp_path):
    path = tmp_path / "stacks.csv"
    path.write_text(TEXT)
    with pytest.raises(FaultsError, match="'/', which is kept for lots"):
        append_stack(path, Stack(**{**NEW.__dict__, "name": "R/1"}), NUMBERS)
    assert path.read_text() == TEXT


def test_a_column_that_the_file_lacks_is_named(tmp_path):
    path = tmp_path / "stacks.csv"
    without_note = TEXT.replace(",note", "").replace(",north wall", "").replace("plug,\n", "plug\n")
    path.write_text(without_note)
    with pytest.raises(InputError, match="has no column note, which the new stack fills"):
        append_stack(path, NEW, NUMBERS)
    assert path.read_text() == without_note


def test_the_first_stack_of_a_yard(tmp_path):
    assert [stack.name for stack in read(added(tmp_path, HEAD + "\n").decode())] == ["R"]


def test_a_folder_that_cannot_be_written_leaves_the_file(tmp_path, monkeypatch):
    path = tmp_path / "stacks.csv"
    path.write_text(TEXT)

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr("fruitcast.atomic.tempfile.mkstemp", full)
    with pytest.raises(OutputError, match="No space left"):
        append_stack(path, NEW, NUMBERS)
    assert path.read_text() == TEXT


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(InputError, match=r"stacks.csv: can't be read .* 'fruitcast new'"):
        append_stack(tmp_path / "stacks.csv", NEW, NUMBERS)


def test_the_day_since_which_others_bear_stays_and_a_new_one_is_kept(tmp_path):
    text = TEXT.replace("spawn,note", "spawn,bearing_since,note").replace(
        "sawdust,north", "sawdust,2024,north"
    )
    text = text.replace("plug,", "plug,,")
    bearing = replace(NEW, bearing_since=date(2028, 5, 1))
    after = added(tmp_path, text, bearing).decode()
    assert after.startswith(text)
    assert [stack.bearing_since for stack in read(after)] == [
        date(2024, 1, 1),
        None,
        date(2028, 5, 1),
    ]


def test_a_day_of_bearing_without_its_column_is_refused_rather_than_lost(tmp_path):
    bearing = replace(NEW, bearing_since=date(2028, 5, 1))
    with pytest.raises(InputError, match="has no column bearing_since"):
        added(tmp_path, TEXT, bearing)
