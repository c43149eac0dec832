"""Days and amounts in a grower's words."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.diary.limits import weight_in_words
from fruitcast.diary.phrases import Phrase, day_in_words, nearest, parse_day
from fruitcast.errors import InputError

FRIDAY = date(2027, 5, 7)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("today", "2027-05-07"),
        ("this morning", "2027-05-07"),
        ("Yesterday", "2027-05-06"),
        ("day before yesterday", "2027-05-05"),
        ("tomorrow", "2027-05-08"),
        ("3 days ago", "2027-05-04"),
        ("a day ago", "2027-05-06"),
        ("one week ago", "2027-04-30"),
        ("two weeks ago", "2027-04-23"),
        ("ten days ago", "2027-04-27"),
        ("Fri", "2027-05-07"),
        ("last Fri", "2027-04-30"),
        ("last  friday", "2027-04-30"),
        ("last Thu", "2027-05-06"),
        ("Thurs", "2027-05-06"),
        ("Tues.", "2027-05-04"),
        ("on Saturday", "2027-05-01"),
        ("next Mon", "2027-05-10"),
        ("2027-05-04", "2027-05-04"),
        ("2027-5-4", "2027-05-04"),
        ("4 May", "2027-05-04"),
        ("May 4", "2027-05-04"),
        ("4-May", "2027-05-04"),
        ("2027/05/04", "2027-05-04"),
        ("4/30/2027", "2027-04-30"),
        ("30.4.27", "2027-04-30"),
        ("May 4th, 2026", "2026-05-04"),
        ("4th of May 2026", "2026-05-04"),
        ("8 May", "2026-05-08"),
        ("Sept 30", "2026-09-30"),
        ("29 Feb", "2024-02-29"),
        ("Tue 4 May 2027", "2027-05-04"),
        ("Tue, 2027-05-04", "2027-05-04"),
    ],
)
def test_days(words, expected):
    assert parse_day(words, FRIDAY).isoformat() == expected


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("13/13/2027", "'13/13/2027' is not a day of the calendar"),
        ("5/4/2027", "'5/4/2027' can be read as two different days"),
        ("4.5.27", "'4.5.27' can be read as two different days"),
        ("2027-02-30", "not a day of the calendar: February 2027 ends on the 28th"),
        ("30 February", "calendar: February ends on the 28th, in leap years on the 29th"),
        ("31 June", "'31 June' is not a day of the calendar: June ends on the 30th"),
        ("2027-01-99", "'2027-01-99' is not a day of the calendar: January 2027 ends on the 31st"),
        ("9999999999 days ago", "is not a day of the calendar"),
        ("Mon 4 May 2027", "2027-05-04 is a Tuesday, not 'Mon'"),
        ("someday", "'someday' is not a day. Write 'today', 'yesterday'"),
        ("", "'' is not a day"),
    ],
)
def test_what_is_no_day_or_two_is_refused(words, message):
    with pytest.raises(InputError, match=message):
        parse_day(words, FRIDAY)


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_a_day_written_out_is_read_back(day, today):
    assert parse_day(day.isoformat(), today) == day
    assert parse_day(day_in_words(day), today) == day


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.sampled_from(range(7)))
def test_a_weekday_is_within_the_last_seven_days(today, weekday):
    name = day_in_words(date(2024, 1, 1) + timedelta(days=weekday))[:3]
    found = parse_day(name, today)
    assert found.weekday() == weekday
    assert 0 <= (today - found).days < 7
    assert 1 <= (today - parse_day(f"last {name}", today)).days <= 7


@pytest.mark.parametrize(
    ("words", "kg", "left"),
    [
        ("A 2 lb 6 oz yesterday", 2.375 * 0.45359237, "A yesterday"),
        ("1.1kg", 1.1, ""),
        ("1,1 kg", 1.1, ""),
        ("450 g", 0.45, ""),
        ("½ lb", 0.226796185, ""),
        ("2½ lb.", 1.133980925, ""),
        ("2 1/2 lb", 1.133980925, ""),
        ("3 lbs and 2 oz for G", 50 * 0.45359237 / 16, "for G"),
        ("nothing here", None, "nothing here"),
        ("12 logs", None, "12 logs"),
    ],
)
def test_weights_are_taken_out(words, kg, left):
    phrase = Phrase(words)
    assert phrase.take_weight() == (None if kg is None else pytest.approx(kg))
    assert phrase.text == left


def test_a_bare_number_is_a_weight_only_where_that_is_asked_for():
    assert Phrase("A 2.5").take_weight() is None
    assert Phrase("A 2.5").take_weight("us") == pytest.approx(2.5 * 0.45359237)
    assert Phrase("A 2.5").take_weight("metric") == 2.5
    assert Phrase("2027-05-04").take_weight("metric") is None


@pytest.mark.parametrize("words", ["-2 lb", "-1.5", "A -3 kg"])
def test_a_weight_below_nought_is_refused(words):
    with pytest.raises(InputError, match=re.escape("is below 0")):
        Phrase(words).take_weight("us")


def test_names_are_found_whole_and_the_longest_first():
    names = ("A", "A/1", "North bank", "North")
    assert Phrase("north bank 2 lb").take_name(names, at_start=True) == "North bank"
    assert Phrase("a/1 2 lb").take_name(names, at_start=True) == "A/1"
    assert Phrase("A/2 2 lb").take_name(names, at_start=True) is None
    assert Phrase("AB 2 lb").take_name(names, at_start=True) is None
    assert Phrase("2 lb A").take_name(names, at_start=True) is None
    assert Phrase("2 lb A").take_name(names, at_start=False) == "A"


def test_the_nearest_name():
    assert nearest("north bnak", ("A", "North bank")) == "North bank"
    assert nearest("zzz", ("A", "B")) is None


@pytest.mark.parametrize(
    ("kg", "us", "metric"),
    [
        (2.375 * 0.45359237, "2 lb 6 oz", "1.08 kg"),
        (0.45359237, "1 lb", "454 g"),
        (0.45359237 * 0.9999, "1 lb", "454 g"),
        (0.1, "3.5 oz", "100 g"),
        (0.9996, "2 lb 3.3 oz", "1.00 kg"),
        (0.0, "0 oz", "0 g"),
    ],
)
def test_weights_in_words(kg, us, metric):
    assert weight_in_words(kg, "us") == us
    assert weight_in_words(kg, "metric") == metric
