"""stacks.csv: what is read whatever the spreadsheet, what is doubted, and what is refused."""

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.numbers import default_numbers
from fruitcast.yard.model import Stack
from fruitcast.yard.reading import read_yard
from fruitcast.yard.stacks import parse_stacks
from tests.drawn import examples
from tests.yard.yards import STACKS, replaced, write_yard

TODAY = date(2027, 5, 3)
HEADER, ROW_A, ROW_B = STACKS.splitlines()

A = Stack(
    name="A",
    strain_class="wide-range",
    strain="all-round",
    tree="red oak",
    logs=24,
    diameter=0.125,
    length=1.0,
    inoculated=date(2025, 4, 2),
    spawn="sawdust",
    note="",
)


def read(text):
    """Return the stacks and warnings of a text that must be right."""
    rows, findings = parse_stacks(text, default_numbers(), TODAY)
    assert not findings.faults, [str(fault) for fault in findings.faults]
    return rows, findings.warnings


def faults_of(text):
    return [str(fault) for fault in parse_stacks(text, default_numbers(), TODAY)[1].faults]


def test_each_row_is_one_stack_in_si_units():
    (a, b), warnings = read(STACKS)
    assert warnings == []
    assert a == A
    assert (b.name, b.note, b.diameter, b.spawn) == ("B", "by the wall", 0.1, "plug")


def spreadsheet(text, delimiter):
    return text.replace(",", delimiter)


@pytest.mark.parametrize(
    "text",
    [
        spreadsheet(STACKS, ";").replace("12.5", "12,5"),
        spreadsheet(STACKS, "\t").replace("12.5", "12,5"),
        spreadsheet(STACKS, "|"),
        replaced(STACKS, "12.5", '"12,5"'),
        "sep=;\n" + spreadsheet(STACKS, ";"),
        STACKS.replace(",", " , "),
        "\n\n" + STACKS.replace("\n", "\n,,,,,,,,,\n"),
        STACKS.replace("strain_class", "Strain Class").replace("diameter_cm", "DIAMETER-CM"),
        STACKS.replace("wide-range", "Wide range").replace("sawdust", "Sawdust"),
        STACKS.replace("red oak", "Red  Oak"),
        STACKS.replace("2025-04-02", "2025-04-02 00:00:00"),
        STACKS.replace(",24,", ',"24.0",'),
        re.sub("^", '"', STACKS.replace(",", '","'), flags=re.M).replace("\n", '"\n')[:-1],
        "\n".join(",".join(reversed(line.split(","))) for line in STACKS.splitlines()),
        "\n".join(line.rpartition(",")[0] for line in STACKS.splitlines()),
    ],
)
def test_spreadsheets_write_it_in_many_ways(text):
    assert read(text)[0][0] == A


@pytest.mark.parametrize(
    "data",
    [
        STACKS.encode("utf-8-sig"),
        STACKS.encode("utf-16"),
        STACKS.replace("\n", "\r\n").encode(),
        STACKS.replace("\n", "\r").encode(),
        replaced(STACKS, "by the wall", "wärmer").encode("cp1252"),
    ],
)
def test_encodings_and_line_ends(tmp_path, data):
    folder = write_yard(tmp_path)
    folder.joinpath("stacks.csv").write_bytes(data)
    a, b = read_yard(folder).stacks
    assert a == A
    assert b.note in ("by the wall", "wärmer")


def test_inches_are_read_as_inches():
    text = STACKS.replace("diameter_cm", "diameter_in").replace("length_cm", "length_in")
    text = text.replace("12.5,100", "5,40").replace("10,100", "4,40")
    (a, b), warnings = read(text)
    assert (a.diameter, a.length) == pytest.approx((0.127, 1.016))
    assert b.diameter == pytest.approx(0.1016)
    assert warnings == []


def test_both_units_may_have_a_column_if_each_row_uses_one():
    text = f"diameter_in,{HEADER}\n,{ROW_A}\n4,{replaced(ROW_B, ',10,', ',,')}\n"
    a, b = read(text)[0]
    assert a.diameter == 0.125
    assert b.diameter == pytest.approx(0.1016)
    both = f"diameter_in,{HEADER}\n5,{ROW_A}\n"
    (fault,) = faults_of(both)
    assert "stacks.csv line 2, stack A: gives both diameter_cm and diameter_in. Keep one" in fault


@pytest.mark.parametrize(
    ("old", "new", "warning"),
    [
        (
            "12.5",
            "5",
            r"line 2, stack A: diameter_cm 5 is unusual .*Are these inches\? Then .*diameter_in",
        ),
        ("12.5", "35", r"line 2, stack A: diameter_cm 35 is unusual for a log; 8 to 20 cm"),
        (
            "12.5,100",
            "12.5,40",
            r"line 2, stack A: length_cm 40 is unusual.*Are these inches\? Then .*length_in",
        ),
        (
            "2025-04-02",
            "2027-05-04",
            r"line 2, stack A: inoculated on 2027-05-04, still to come",
        ),
        ("red oak", "", r"stack A: no tree is given; it is reckoned as other hardwood"),
        ("note", "remark", r"line 1: column 'remark' is not known and not read\."),
        ("note", "nota", r"column 'nota' is not known and not read; the nearest known one is note"),
        (
            "by the wall\n",
            "by the wall\nTotal,,,,54,,,,,\n",
            r"line 4: taken as a row of totals and left out\.$",
        ),
        (
            "by the wall\n",
            "by the wall\n,,,,55,,,,,\n",
            r"line 4: taken as a row of totals .* It says '55' logs; the rows above add up to 54\.",
        ),
    ],
)
def test_doubts_are_warnings(old, new, warning):
    rows, warnings = read(replaced(STACKS, old, new))
    assert len(rows) == 2
    assert len(warnings) == 1
    assert warnings[0].startswith("stacks.csv ")
    assert re.search(warning, warnings[0]), warnings[0]


def test_centimetres_under_a_column_of_inches_are_doubted():
    text = STACKS.replace("diameter_cm", "diameter_in")
    warnings = read(text)[1]
    assert re.search(
        r"stack A: diameter_in 12.5 .*Are these centimetres\? Then .* diameter_cm", warnings[0]
    )


def test_nothing_is_doubted_for_being_late_when_nobody_says_which_day_it_is():
    late = replaced(STACKS, "2025-04-02", "2027-05-04")
    assert parse_stacks(late, default_numbers())[1].warnings == []


CASES = [
    ("wide-range", "wide-rang", r"stack A: strain_class 'wide-rang' is not known\. .*'wide-range'"),
    ("wide-range", "wide", r"strain_class 'wide' .*Did you mean 'wide-range'"),
    ("wide-range", "tropical", r"'tropical' is not known\. .*cold-weather, wide-range, warm-weath"),
    ("wide-range", "", r"stack A: strain_class is empty\. Fill it in"),
    (",24,", ",-5,", r"stack A: logs -5 is out of range\. Give a number from 1 to"),
    (",24,", ",0,", r"logs 0 is out of range"),
    (",24,", ",12.5,", r"logs 12.5 is not a whole number\. Give a whole number from 1"),
    (",24,", ",many,", r"logs 'many' is not a number\. Give digits only"),
    (",24,", ",,", r"stack A: logs is empty"),
    (",24,", ",24 logs,", r"logs '24 logs' is not a number\. .*unit stands in the column"),
    (",24,", f",{'9' * 400},", r"logs '9+\.\.\.' is not a number"),
    ("12.5", "0", r"stack A: diameter_cm 0 is out of range\. Give a number from 2 to 100 cm"),
    ("12.5", "125", r"diameter_cm 125 is out of range"),
    ("12.5", "", r"stack A: diameter_cm is empty"),
    ("12.5", "12.5 cm", r"diameter_cm '12.5 cm' is not a number"),
    ("12.5,100", "12.5,-1", r"length_cm -1 is out of range"),
    ("sawdust", "sawdus", r"stack A: spawn 'sawdus' is not known\. Did you mean 'sawdust'"),
    ("sawdust", "", r"stack A: spawn is empty"),
    ("2025-04-02", "", r"stack A: inoculated is empty"),
    ("2025-04-02", "2025-02-30", r"inoculated '2025-02-30' is no day of the calendar\. Correct"),
    ("2025-04-02", "45749", r"'45749' is a spreadsheet's day number\. .*it means 2025-04-02\."),
    ("2025-04-02", "25/03/2025", r"'25/03/2025' is not a date like .*Write 2025-03-25\."),
    ("2025-04-02", "02.04.2025", r"Write 2025-04-02 or 2025-02-04, whichever is meant"),
    ("2025-04-02", "2025/4/2", r"Write 2025-04-02\."),
    ("2025-04-02", "2 April 2025", r"Write year, month and day like 2027-05-15"),
    ("2025-04-02", "02/04/25", r"Write year, month and day like"),
    ("2025-04-02", "2025-04-02 13:30", r"is not a date like 2027-05-15"),
    ("2025-04-02", "0025-04-02", r"inoculated 0025-04-02 can't be right\. Check the year"),
    ("\nB,", "\nA,", r"line 3, stack A: this name stands in line 2 already\. Give each"),
    ("\nB,", "\na,", r"line 3, stack a: this name stands in line 2 already"),
    ("\nB,", "\n,", r"line 3: stack is empty\. Fill it in"),
    ("\nB,", "\nA/1,", r"stack A/1: stack 'A/1' holds '/', which is kept for lots\. .*A-1"),
    ("\nB,", "\nTotal,,,,24,,,,,\nB,", r"line 3, stack Total: looks like a row of totals\. Delete"),
    ("12.5", "12,5", r"line 2, stack A: has more cells than the first line.* \"12,5\""),
    ("by the wall", '"by the wall', r"line 3: a quotation mark opens here and the cell"),
    ("inoculated,", "inoculatd,", r"line 1: column inoculated is missing\. Rename 'inoculatd'"),
    ("spawn,", "qq,", r"line 1: column spawn is missing\. Add it, and fill it in"),
    ("diameter_cm", "girth", r"line 1: column diameter_cm or diameter_in is missing\. Add it"),
    ("note", "logs", r"line 1: column logs stands twice\. Keep one"),
    (HEADER, "", r"line 2: none of the columns is known in 'A,wide-range.*The first line names"),
    (f"{ROW_A}\n{ROW_B}\n", "", r"^stacks.csv: names no stack\. Add one row for each stack"),
]


@pytest.mark.parametrize(("old", "new", "message"), CASES, ids=[case[2][:40] for case in CASES])
def test_a_fault_is_named_with_line_stack_and_remedy(old, new, message):
    (fault,) = faults_of(replaced(STACKS, old, new))
    assert fault.startswith("stacks.csv")
    assert re.search(message, fault), fault


def test_a_quotation_mark_never_swallows_rows_in_silence():
    text = f'{HEADER}\n{ROW_A}"thick\n{ROW_B}\nC{ROW_B[1:-11]}5"\n'
    (fault,) = faults_of(text)
    assert "line 2: a quotation mark opens here and takes in the rows below" in fault


def test_a_note_may_hold_delimiters_quotes_and_line_ends():
    text = f'{HEADER}\n{ROW_A}"by the ""old"" wall,\nin the shade"\n{ROW_B}\n'
    a, b = read(text)[0]
    assert a.note == 'by the "old" wall, in the shade'
    assert b.name == "B"
    late = faults_of(text.replace("2025-04-20", "x"))
    assert late[0].startswith("stacks.csv line 4, stack B: inoculated")


def test_all_faults_of_all_rows_come_at_once():
    text = STACKS.replace("wide-range", "w").replace(",24,", ",-1,").replace("04-02", "04-42")
    text = text.replace("plug", "peg").replace("\nB,", "\nA,")
    assert len(faults_of(text)) == 5


CELLS = st.one_of(
    st.text(max_size=10),
    st.sampled_from(["A", "wide-range", "24", "12,5", "2025-04-02", "plug", "45749", "1e9", "-"]),
    st.floats().map(str),
)
TABLES = st.lists(st.lists(CELLS, max_size=12), max_size=6)


@examples(50, 300)
@given(TABLES, st.sampled_from(",;\t|"), st.booleans())
def test_any_table_gives_stacks_or_faults(table, delimiter, with_header):
    lines = [HEADER.replace(",", delimiter)] if with_header else []
    text = "\n".join(lines + [delimiter.join(cells) for cells in table])
    rows, findings = parse_stacks(text, default_numbers(), TODAY)
    assert rows or findings.faults
    for fault in findings.faults:
        assert fault.place.startswith("stacks.csv")
        assert fault.problem
        assert fault.remedy


@examples(50, 300)
@given(st.sampled_from(re.split("[,\n]", ROW_A)[:-1]), CELLS)
def test_any_cell_gives_stacks_or_faults(cell, other):
    rows, findings = parse_stacks(STACKS.replace(cell, other, 1), default_numbers(), TODAY)
    assert rows or findings.faults


@examples(50, 200)
@given(st.text(max_size=200))
def test_any_text_gives_stacks_or_faults(text):
    rows, findings = parse_stacks(text, default_numbers())
    assert rows or findings.faults


def since(cell, inoculated="2025-04-02"):
    row = ROW_A.replace("2025-04-02", inoculated)
    return f"{HEADER},bearing_since\n{row},{cell}\n"


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("2026-09-12", date(2026, 9, 12)),
        ("2026", date(2026, 1, 1)),
        ("2025", date(2025, 4, 2)),  # no log bears before it is inoculated
        ("", None),
    ],
)
def test_a_stack_may_say_since_when_it_bears_by_a_day_or_a_year(cell, day):
    (stack,), warnings = read(since(cell))
    assert stack.bearing_since == day
    assert warnings == []


@pytest.mark.parametrize(
    ("cell", "fault"),
    [
        ("2025-04-01", r"bearing_since 2025-04-01 lies before the inoculation on 2025-04-02"),
        ("2024", r"bearing_since 2024-01-01 lies before the inoculation"),
        ("2025-01-01", r"bearing_since 2025-01-01 lies before the inoculation"),
        (
            "spring",
            r"bearing_since 'spring' is not a date like .* or a year alone, will do",
        ),
        ("0000", r"bearing_since '0000' is not a date"),
    ],
)
def test_a_bearing_day_that_can_not_be_is_refused(cell, fault):
    (found,) = faults_of(since(cell))
    assert re.search(fault, found)


def test_a_bearing_day_still_to_come_is_named_and_read():
    (stack,), (warning,) = read(since("2028"))
    assert stack.bearing_since == date(2028, 1, 1)
    assert "still to come" in warning
