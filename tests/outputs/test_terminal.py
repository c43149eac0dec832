"""What a person reads in the terminal, at any width and without colour."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from rich.cells import cell_len
from rich.console import Console, RenderableType

from fruitcast.diary.kept_plan import StackStanding
from fruitcast.diary.plan import Plan
from fruitcast.errors import Fault
from fruitcast.outputs.listing import Column, Listing, Row
from fruitcast.outputs.reminders import reminders
from fruitcast.outputs.terminal import (
    PlanAnswer,
    faults_list,
    stacks_table,
    week_table,
)
from fruitcast.outputs.week import week_ahead
from fruitcast.words import (
    clean_line,
    clean_text,
    count_words,
    day_words,
    hours_words,
    percent_words,
    span_words,
)
from tests.outputs.sample_plan import TODAY, diary, document, plan, soak, yard

_ROWS = [
    {
        "stack": "A",
        "strain_class": "wide-range",
        "tree": "red oak",
        "logs": 24,
        "state": "bearing year 2",
        "moisture_wet": 0.41,
        "rest_left_days": 0,
        "natural_chance": 0.2,
        "next_soak_on": "2027-05-04",
    },
    {
        "stack": "D",
        "strain_class": "wide-range",
        "tree": "red maple",
        "logs": 24,
        "state": "in the tank",
        "moisture_wet": 0.38,
        "rest_left_days": 60,
        "natural_chance": 0.05,
        "next_soak_on": None,
    },
    {
        "stack": "H",
        "strain_class": "wide-range",
        "tree": "beech",
        "logs": 36,
        "state": "spawn run 78% done",
        "moisture_wet": None,
        "rest_left_days": 0,
        "natural_chance": None,
        "next_soak_on": None,
    },
]


ROWS = [StackStanding.model_validate_json(json.dumps(row)) for row in _ROWS]


def shown(renderable: RenderableType, width: int = 80, **options: Any) -> str:
    stream = io.StringIO()
    Console(file=stream, width=width, **options).print(renderable)
    return stream.getvalue()


def words(renderable: RenderableType, width: int = 80) -> str:
    """All that is said, whatever the line breaks."""
    return " ".join(shown(renderable, width).split())


def whole_plan(made: Plan | None = None) -> RenderableType:
    return PlanAnswer(made or plan(), yard(), diary()).table(whole=True)


def everything() -> list[RenderableType]:
    return [
        whole_plan(),
        PlanAnswer(plan(), yard(), diary()).table(),
        PlanAnswer(plan(), yard(), diary()).short(),
        week_table(plan(), yard(), diary(), TODAY),
        stacks_table(ROWS, 28),
        faults_list([Fault("stacks.csv line 4, stack C", "-3 logs", "Write how many there are.")]),
    ]


@pytest.mark.parametrize("width", [50, 60, 80, 120])
def test_nothing_is_wider_than_the_window(width):
    for renderable in everything():
        lines = shown(renderable, width).splitlines()
        assert max(map(cell_len, lines)) <= width


@pytest.mark.parametrize("width", [60, 80, 120])
def test_nothing_is_left_out_in_a_narrow_window(width):
    said = words(whole_plan(), width)
    for entry in document()["soaks"]:
        for reason in entry["reasons"]:
            assert reason in said
    for part in ("Tue 4 May", "24 h", "Wed 5 May", "Fri 14 May (12 to 18 May)", "6.4 lb"):
        assert part in said
    assert "9.7 lb to 15.4 lb" in said


def test_without_colour_there_are_no_escapes_and_no_trailing_blanks(monkeypatch):
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    for renderable in everything():
        text = shown(renderable)
        assert "\x1b" not in text
        assert not [line for line in text.splitlines() if line != line.rstrip()]
    monkeypatch.setenv("NO_COLOR", "1")
    for renderable in everything():
        assert "\x1b[3" not in shown(renderable, force_terminal=True)


def test_our_own_words_need_no_more_than_ascii():
    for renderable in everything():
        shown(renderable).encode("ascii")


def test_columns_line_up():
    lines = shown(whole_plan(), 100).splitlines()
    head = next(line for line in lines if line.startswith("Soak  "))
    body = next(line for line in lines if line.startswith("Tue 4 May"))
    assert body.index("Wed 5 May") == head.index("Pull")
    assert body.index("Fri 14 May") == head.index("First pick")
    assert len(body) == len(head)  # weights end where their title ends


def test_the_plan_names_every_stack_left_alone_with_its_reason():
    said = words(whole_plan())
    assert "Left alone D: in the tank since 30 Apr; rested again on 2 Jul H: its spawn" in said


def test_the_plan_says_what_can_be_promised_and_how_good_it_is():
    said = words(whole_plan())
    assert "Sat 15 May Saturday market 14.0 lb 11.5 lb 62%" in said
    assert "The outlets ask for 28.0 lb; 13.4 lb (48%) is expected" in said
    # (12.3 - 11.9) / 166
    assert "no plan is better by more than 0.2% of what is asked for" in said
    assert "Proved" not in words(whole_plan(plan(bound_kg=None)))


def test_sales_past_eight_weeks_are_summed_up():
    sale = document()["outlets"][1]
    days = [TODAY + timedelta(days=5 + 7 * k) for k in range(20)]
    said = words(whole_plan(plan(outlets=[{**sale, "on": d.isoformat()} for d in days])))
    assert said.count("Saturday market 14.0 lb") == 8
    # 12 x 6.1 of 12 x 6.35 kg
    assert "12 more sales to Sat 18 Sep: 161 lb of 168 lb (96%) expected." in said


def test_a_plan_without_soaks_says_so_and_why():
    said = words(whole_plan(plan(soaks=[], outlets=[], natural=[], water=[])))
    assert "No soak is planned." in said
    assert "Left alone D: in the tank" in said
    assert "For sale" not in said


def test_weights_are_in_the_yards_units():
    said = words(PlanAnswer(plan(), yard(units="metric"), diary()).table(whole=True))
    assert "2.9 kg" in said
    assert " lb" not in said


def test_the_week_goes_day_by_day_with_reasons():
    lines = shown(week_table(plan(), yard(), diary(), TODAY)).splitlines()
    titles = [
        line for line in lines if line[:3] in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    ]
    assert titles[0] == "Mon 3 May (today)"
    assert len(titles) == 7
    assert "  08:00  Soak A (24 logs, 24 h)" in lines
    assert lines.index("  08:00  Soak A (24 logs, 24 h)") == lines.index("Tue 4 May") + 1
    said = words(week_table(plan(), yard(), diary(), TODAY))
    assert "covers Saturday market on 15 May" in said
    assert "Water logs: B, H B: 33 % wet, keep 35 %; H: 31 % wet, keep 35 %" in said
    assert "Watch A for pins, until Tue 11 May" in said
    assert "Saturday market wants 14.0 lb: promise nothing yet" in said


def test_days_in_a_row_without_a_job_are_one_line():
    empty = {key: [] for key, value in document().items() if isinstance(value, list)}
    nobody = replace(diary(), stacks={})
    said = shown(week_table(plan(**empty), yard(), nobody, TODAY))
    assert said.strip() == "Mon 3 May (today) to Sun 9 May\n  Nothing to do."


def test_logs_forgotten_in_the_tank_come_first():
    lines = shown(week_table(plan(), yard(), diary(), TODAY)).splitlines()
    assert [line for line in lines if line][:2] == [
        "Overdue",
        "  08:00  Pull D (24 logs), due since Sun 2 May",
    ]


def test_the_week_accounts_for_every_stack():
    said = words(week_table(plan(), yard(), diary(), TODAY))
    rest = said.partition("Not this week ")[2]
    assert rest.startswith("B: next soak on Tue 15 Jun C: next soak on Fri 15 Oct D: in the tank")
    assert "H: its spawn run" in rest


def test_what_keeps_several_stacks_from_the_tank_is_said_once():
    why = "what waits for all of them"
    left = [{"stack": n, "cause": "bears", "reason": why} for n in ("D", "H", "B")]
    made = plan(not_soaked=left, soaks=[], waits=[])
    said = words(week_table(made, yard(), diary(), TODAY))
    assert said.endswith(f"Not this week B, D, H: {why}")


def test_that_the_week_has_no_soak_day_is_said_once():
    no_day = "the week's soak days lie outside your soaking season"
    waits = [
        {"stack": name, "causes": causes, "reason": reason, "soak": None, "sales": None}
        for name, causes, reason in (
            ("B", ["soak day"], no_day),
            ("D", ["soak day", "rest"], f"{no_day}; it rests"),
            ("H", ["soak day"], no_day),
        )
    ]
    said = words(week_table(plan(waits=waits), yard(), diary(), TODAY))
    rest = said.partition("Not this week ")[2]
    assert rest.startswith(f"All stacks: {no_day} B: next soak on Tue 15 Jun C: next soak on")
    assert rest.endswith("D: it rests")
    waits[1] |= {"causes": ["rest"], "reason": "it rests"}
    said = words(week_table(plan(waits=waits), yard(), diary(), TODAY))
    assert "All stacks" not in said and said.endswith(f"D: it rests H: {no_day}")


def test_what_is_to_be_done_stays_under_its_first_word():
    lines = shown(week_table(plan(), yard(), diary(), TODAY), 24).splitlines()
    at = lines.index("  08:00  Soak A (24")
    assert lines[at + 1] == "         logs, 24 h)"


def test_a_pick_window_that_began_stands_on_today():
    jobs = week_ahead(reminders(plan(), yard(), diary()), date(2027, 5, 14))
    assert [job.summary for job in jobs.days[0][1]] == [
        "Look at D: first pick about Thu 13 May (11 to 16 May)",
        "Look at A: first pick about Fri 14 May (12 to 18 May)",
    ]


def test_the_week_as_documents():
    rows = [row.plain() for row in week_ahead(reminders(plan(), yard(), diary()), TODAY).rows()]
    assert [row["what"] for row in rows][:2] == ["Pull D (24 logs)", "Soak A (24 logs, 24 h)"]
    assert rows[1] == {
        "on": "2027-05-04",
        "at": "08:00",
        "until": "2027-05-04",
        "job": "soak",
        "stack": "A",
        "what": "Soak A (24 logs, 24 h)",
        "reasons": [
            "ready since 20 Apr",
            "last soaked 39 weeks ago; rest is 9 weeks",
            "covers Saturday market on 15 May",
        ],
        "done": False,
    }
    assert all(row["on"] < "2027-05-10" for row in rows)


def test_stacks_stand_with_what_is_known_of_them():
    said = words(stacks_table(ROWS, 28), 100)
    assert "A 24 bearing year 2 41% 20% Tue 4 May wide-range, red oak" in said
    assert "D 24 in the tank 38% 60 days 5% wide-range, red maple" in said
    assert "H 36 spawn run 78% done wide-range, beech" in said
    narrow = words(stacks_table(ROWS, 28), 60)
    assert "next soak Tue 4 May" in narrow


def test_a_column_with_nothing_in_it_is_left_out():
    rows = [row.model_copy(update={"rest_left_days": 0}) for row in ROWS]
    assert "Rest left" not in words(stacks_table(rows, 28), 100)


def test_faults_show_place_problem_and_remedy():
    text = shown(faults_list([Fault("yard.toml [soaking]", "tank_logs is 0", "Give its logs.")]))
    assert text == "yard.toml [soaking]\n  tank_logs is 0. Give its logs.\n"


def test_names_cannot_command_the_terminal():
    nasty = "[bold]A[/bold]\x1b]0;x\x07\x9b2J\r\n日本"
    entry = soak(nasty, 24, "2027-05-04", "2027-05-05", ("2027-05-12",) * 3, 1.0, nasty)
    spiteful = plan(soaks=[entry], not_soaked=[{"stack": nasty, "reason": nasty}])
    for renderable in (
        whole_plan(spiteful),
        week_table(spiteful, yard(), diary(), TODAY),
        faults_list([Fault(nasty, nasty, nasty)]),
    ):
        text = shown(renderable)
        assert "[bold]A[/bold]" in text
        assert not {"\x1b", "\x9b", "\x07", "\r"} & set(text)


# --- sales ------------------------------------------------------------------------------------


def test_what_was_promised_and_what_a_chance_is_of_stand_beside_the_sales():
    made = plan()
    bare = shown(PlanAnswer(made, yard(), diary()).table(), 120)
    assert "All of it" in bare and "Promised" not in bare
    assert "Can promise: what is there in 80% of the years" in bare
    first, *others = made.outlets
    given = made.model_copy(
        update={"outlets": (first.model_copy(update={"given_kg": 1.0}), *others)}
    )
    assert "Promised" in shown(PlanAnswer(given, yard(), diary()).table(), 120)
    assert "2.2 lb promised" in words(PlanAnswer(given, yard(), diary()).table(), 60)
    assert "2.2 lb promised" in words(week_table(given, yard(), diary(), first.on), 60)


@pytest.mark.parametrize("width", [30, 40, 50, 60, 80])
def test_a_listing_keeps_to_its_window_at_any_width(width: int):
    columns = (
        Column("Day"),
        Column("Outlet"),
        Column("Wanted", "right"),
        Column("Seen", aside="seen {}"),
    )
    rows = [Row("Sat 15 May", "Farmers' market in the square", "12.5 kg", "yes")]
    lines = shown(Listing(columns, rows), width).splitlines()
    assert max(map(cell_len, lines)) <= width
    # However narrow, nothing that is said goes missing.
    said = " ".join(" ".join(lines).split())
    long = Listing((Column("Factor"), Column("Cause")), [Row("x 1.2", "word " * 30)])
    broken = shown(long, width).splitlines()
    assert max(map(cell_len, broken)) <= width and " ".join(broken).count("word") == 30
    assert (broken[1].count("word") > 0) == (width > 30)
    assert "12.5 kg" in said and "market in the square" in said and "yes" in said


# --- words -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        (date(2027, 5, 12), date(2027, 5, 18), "12 to 18 May"),
        (date(2027, 5, 28), date(2027, 6, 2), "28 May to 2 Jun"),
        (date(2026, 12, 30), date(2027, 1, 2), "30 Dec to 2 Jan"),
        (date(2027, 5, 14), date(2027, 5, 14), "14 May"),
    ],
)
def test_spans_of_days(first, last, expected):
    assert span_words(first, last) == expected


@pytest.mark.parametrize(
    ("share", "expected"),
    [(0, "0%"), (0.004, "under 1%"), (0.62, "62%"), (0.996, "over 99%"), (1, "100%")],
)
def test_a_chance_is_never_rounded_to_certainty(share, expected):
    assert percent_words(share) == expected


def test_small_words():
    assert [hours_words(h) for h in (8.0, 24, 1.5)] == ["8 h", "24 h", "1.5 h"]
    assert [count_words(n, "log") for n in (0, 1, 2)] == ["0 logs", "1 log", "2 logs"]
    assert clean_text(" a\r\nb\x00c\u2028d ") == "a\nbc\nd"
    assert clean_line(" a\r\n  b\tc ") == "a b c"


def test_a_flush_by_itself_weighs_the_same_wherever_it_is_told():
    made = plan(natural=[{"stack": "D", "week": "2027-05-10", "chance": 0.4, "expected_kg": 1.2}])
    text = shown(whole_plan(made), 100)
    assert "D (40% likely, then about 6.6 lb)" in text
    lines = text.splitlines()
    at = next(n for n, line in enumerate(lines) if line.split()[:2] == ["Week", "of"])
    assert lines[at].endswith("If it comes")
    assert lines[at + 1].split()[-4:] == ["D", "40%", "6.6", "lb"]


def test_a_day_more_than_half_a_year_away_has_its_year():
    today = date(2026, 11, 29)
    assert day_words(date(2026, 2, 3), today) == "3 Feb 2026"
    assert day_words(date(2027, 8, 1), today) == "1 Aug 2027"
    assert day_words(date(2027, 2, 6), today) == "Sat 6 Feb"
    assert day_words(date(2026, 8, 1), today) == "Sat 1 Aug"
    assert day_words(date(2026, 2, 3)) == "Tue 3 Feb"


def test_lots_that_stay_out_of_the_tank_are_no_stacks():
    left = [{"stack": name, "reason": "rests"} for name in ("A/1", "A/2", "B", "C/1")]
    entry = soak("C/2", 8, "2027-05-07", "2027-05-08", ("2027-05-14",) * 3, 1.0, "x")
    made = plan(soaks=[entry], not_soaked=left)
    said = words(PlanAnswer(made, yard(), diary()).table(), 200)
    assert "also shows why 2 stacks and 1 lot stay out of the tank." in said
    made = plan(soaks=[entry], not_soaked=left[3:])
    said = words(PlanAnswer(made, yard(), diary()).table(), 200)
    assert "also shows why 1 lot stays out of the tank." in said
