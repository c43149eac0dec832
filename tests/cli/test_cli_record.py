"""Records on the command line: every kind, what is asked, what is refused, what is taken back."""

import io
import json
import re
from datetime import date
from functools import partial

import pytest
import typer

from fruitcast.app.planning import plan_yard
from fruitcast.cli.commands import load
from fruitcast.diary.book import read_events
from fruitcast.diary.entries import KINDS
from fruitcast.diary.events import UNDO
from tests.cli.running import TODAY, Terminal, contents, done, run

EXAMPLES = {
    "soak": (["B", "24", "h"], {"stack": "B", "hours": 24.0}),
    "pull": (["A"], {"stack": "A"}),
    "pick": (["C", "2", "lb", "6", "oz"], {"stack": "C", "kg": pytest.approx(1.0773, abs=1e-4)}),
    "pins": (["B"], {"stack": "B"}),
    "fruiting": (["F", "yesterday"], {"stack": "F", "on": "2027-05-02"}),
    "nothing": (["A"], {"stack": "A"}),
    "water": (["all", "20", "mm"], {"stack": "", "mm": 20.0}),
    "rain": (["0.6", "in", "yesterday"], {"mm": pytest.approx(15.24), "on": "2027-05-02"}),
    "weigh": (["A", "35", "lb", "at", "42", "%"], {"moisture_wet": pytest.approx(0.42)}),
    "inspect": (["A", "white", "ends,", "2", "dead"], {"logs": 2}),
    "stock": (["5", "lb"], {"kg": pytest.approx(2.268, abs=1e-3)}),
    "sold": (["1", "lb", "Saturday", "market"], {"outlet": "Saturday market"}),
    "discard": (["4", "oz"], {"kg": pytest.approx(0.1134, abs=1e-4)}),
    "split": (["D", "10", "logs", "into", "Q"], {"logs": 10, "into": "Q"}),
    "merge": (["N", "into", "M"], {"stack": "N", "into": "M"}),
    "lots": (["G", "3"], {"stack": "G", "into": "3"}),
    "move": (["A", "to", "the", "north", "bank"], {"into": "the north bank"}),
    "retire": (["B", "3", "logs"], {"stack": "B", "logs": 3}),
    "turn": (["A"], {"stack": "A"}),
    "cover": (["A"], {"stack": "A"}),
    "uncover": (["A"], {"stack": "A"}),
    "inoculate": (["A"], {"stack": "A"}),
    "fix": (["C", "tomorrow", "24", "h"], {"stack": "C", "hours": 24.0, "into": "2027-05-04"}),
    "hold": (["B", "until", "1", "aug"], {"stack": "B", "into": "2027-08-01"}),
    "release": (["A"], {"stack": "A", "into": ""}),
    "promised": (["Saturday", "market", "2", "lb", "sat"], {"into": "2027-05-08"}),
    "note": (["A", "bark", "peels"], {"stack": "A", "note": "bark peels"}),
}


def record(yard, *words, **options):
    return run("--yard", yard, "--today", TODAY, "record", *words, **options)


def entries(yard):
    return read_events(yard / "diary.db")


def test_every_kind_of_entry_has_its_command_and_an_example_here():
    commands = typer.main.get_command(load()).commands["record"].commands
    assert set(commands) == {*KINDS, "sheet", "words"}
    assert set(EXAMPLES) == set(KINDS) - {UNDO}


def test_a_sentence_needs_no_kind_in_front(demo):
    ran = record(demo, "yesterday:", "found", "mould", "on", "2", "logs", "of", "A", "--json")
    (entry,) = ran.document["recorded"]
    assert (entry["kind"], entry["stack"], entry["on"]) == ("inspect", "A", "2027-05-02")
    both = record(demo, "pins", "on", "A", "and", "B", "--json").document["recorded"]
    assert [entry["stack"] for entry in both] == ["A", "B"]
    ran = record(demo, "pikc", "A")
    assert ran.code == 1 and "Did you mean 'pick'?" in ran.err
    ran = record(demo, "pikc", "A", "2", "lb")  # asked about, and nobody is there to answer
    assert ran.code == 1 and "Is this right: Picked 2 lb from A" in ran.err


def test_a_note_is_not_said_to_change_the_plan(demo):
    assert "takes it into the plan" in record(demo, "pins", "A").err
    ran = record(demo, "note", "A", "smells", "sour")
    assert "plan" not in ran.err and "takes it back" in ran.err


def test_yes_does_not_choose_a_stack(demo):
    before = len(entries(demo))
    for options in ((), ("--yes",)):
        ran = record(demo, "soak", "AA", "24", "h", *options)
        assert ran.code == 1 and "Write it out" in ran.err and "--yes" not in ran.err
    assert len(entries(demo)) == before


def test_yes_does_not_answer_what_was_left_aside(demo):
    before = len(entries(demo))
    for options in ((), ("--yes",), ("--json",)):
        ran = record(demo, "words", "Nobbut", "2", "lb", "off", "B", *options)
        assert ran.code == 1 and ran.out == ""
        assert ran.err.startswith("Is this right: Picked 2 lb from B on")
        assert "'Nobbut' was left aside" in ran.err and "'pick B 2 lb'" in ran.err
    assert len(entries(demo)) == before


@pytest.mark.parametrize("kind", EXAMPLES)
def test_each_kind_is_written_down(demo, kind):
    words, expected = EXAMPLES[kind]
    before = len(entries(demo))
    ran = record(demo, kind, *words, "--json", "--yes")
    assert ran.code == 0, ran.err
    (entry,) = ran.document["recorded"]
    assert entry["kind"] == kind and entry["words"]
    assert {name: entry[name] for name in expected} == expected
    assert len(entries(demo)) == before + 1
    assert entries(demo)[-1].uuid == entry["uuid"]


@pytest.mark.parametrize(("words", "kind"), [("soaked B 24 h", "soak"), ("counted 5 lb", "stock")])
def test_a_kind_answers_to_its_other_words(demo, words, kind):
    ran = record(demo, *words.split(), "--json")
    assert [entry["kind"] for entry in ran.document["recorded"]] == [kind]


def test_what_was_understood_is_said(demo):
    ran = record(demo, "soak", "B", "24 h")
    assert ran.out == "Put all logs of B into the tank on Mon 3 May 2027, for 24 h.\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["pick", "A"], "What weight?"),
        (["pick", "Q", "2", "lb"], "There is no stack 'Q'"),
        (["soak", "B", "24"], "hours or logs"),
        (["pick", "C", "900", "lb"], "more than"),
        (["soak", "A", "24", "h", "2031-05-04"], "2031-05-04|4 May 2031"),
    ],
)
def test_what_cannot_be_read_or_true_is_refused_and_nothing_written(demo, words, said):
    before = contents(demo)
    ran = record(demo, *words, "--json")
    assert (ran.code, ran.out) == (1, "")
    assert any(part in ran.err for part in said.split("|"))
    assert contents(demo) == before


def test_a_doubtful_record_wants_yes_when_nobody_can_be_asked(demo):
    before = contents(demo)
    ran = record(demo, "pick", "C", "12", "lb", "to", "the", "Inn")
    assert ran.code == 1
    assert "There is no outlet 'the Inn'" in ran.err or "There is no outlet 'Inn'" in ran.err
    assert "add --yes" in ran.err
    assert contents(demo) == before
    assert record(demo, "pick", "C", "12", "lb", "to", "the", "Inn", "--yes").code == 0


@pytest.mark.parametrize(("answer", "written"), [("y\n", True), ("n\n", False), ("", False)])
def test_a_doubtful_record_is_asked_about_at_the_keyboard(demo, answer, written):
    before = len(entries(demo))
    ran = record(demo, "pick", "C", "1", "lb", "to", "Inn", stdin=Terminal(answer))
    assert "Record it all the same? [y/N]" in ran.err
    assert ran.code == (0 if written else 1)
    assert len(entries(demo)) == before + written


def test_undo_takes_back_the_last_entry_or_a_named_one(demo):
    first = record(demo, "note", "first", "--json").document["recorded"][0]["uuid"]
    record(demo, "note", "second")
    ran = record(demo, "undo")
    assert ran.out.startswith("Cancelled: ") and "second" in ran.out
    # An undo is not taken back itself: the next one is of the entry before.
    assert "takes it back" not in ran.err
    assert "first" in record(demo, "undo", first[:8]).out
    shown = done("--yard", demo, "--today", TODAY, "diary", "show", "--last", 4, "--json").document
    assert [entry["in_force"] for entry in shown["entries"]] == [False, False, True, True]
    assert record(demo, "undo", "zzzz").code == 1


def test_a_sheet_is_written_down_whole_or_not_at_all(demo, tmp_path):
    sheet = tmp_path / "sheet.txt"
    sheet.write_text("2027-05-02:\npick C 1 lb\nwater all\ntoday\npins E\n", encoding="utf-8")
    ran = record(demo, "sheet", sheet, "--json")
    assert ran.code == 0, ran.err
    assert [(entry["kind"], entry["on"]) for entry in ran.document["recorded"]] == [
        ("pick", "2027-05-02"),
        ("water", "2027-05-02"),
        ("pins", TODAY),
    ]
    before = contents(demo)
    sheet.write_text("pick C 1 lb\npick Q 1 lb\n", encoding="utf-8")
    ran = record(demo, "sheet", sheet)
    assert ran.code == 1 and "line 2" in ran.err
    assert contents(demo) == before


def test_a_sheet_may_come_from_standard_input(demo):
    ran = record(demo, "sheet", "-", stdin=io.StringIO("pins J\n"))
    assert ran.out == "Saw pins on J on Mon 3 May 2027.\n"


def test_a_sheet_that_is_not_there_is_said(demo):
    ran = record(demo, "sheet", "none.txt")
    assert ran.code == 1 and ran.err.startswith("none.txt: there is no such file")


def test_the_week_follows_what_was_written_down(small, monkeypatch):
    monkeypatch.setattr("fruitcast.app.planning.plan_yard", partial(plan_yard, weeks=6))
    words = ("--yard", small, "--today", TODAY, "--json")
    done(*words, "plan", "--no-bound", "--weeks", 6)
    assert done(*words, "week").document["plan_published"]
    record(small, "soak", "A", "24", "h")
    after = done(*words, "week")
    assert not after.document["plan_published"]
    assert "is not published" in after.err
    jobs = [(job["job"], job["stack"], job["on"]) for job in after.document["jobs"]]
    assert ("pull", "A", "2027-05-04") in jobs


def test_more_logs_than_the_tank_holds_are_asked_about(yard):
    """The tank holds 60: 36 logs fit, 40 more beside them do not, after the pull they do."""
    record(yard, "soak", "A", "24", "h")
    ran = run("--yard", yard, "--today", TODAY, "record", "soak", "D", "24", "h")
    assert ran.code == 1 and "Is it right?" in ran.err and "--yes" in ran.err
    assert re.search(
        r"With D beside A(/\d)?.* 76 logs would be in the tank, which holds 60", ran.err
    )
    record(yard, "pull", "A")
    record(yard, "soak", "D", "24", "h")


def test_words_that_are_no_day_bring_the_ways_to_write_one(yard):
    ran = run("--yard", yard, "--today", TODAY, "record", "pick", "A", "1", "kg", "1.", "Mai")
    assert ran.code == 1 and "a day is written like 'today', 'yesterday'" in ran.err


def test_a_promise_is_asked_about_and_can_be_taken_off(demo):
    def say(*words):
        return run("--yard", demo, "--today", TODAY, *words)

    market = ("promised", "Saturday", "market")
    closed = say(*market, "2", "lb", "6", "may")
    assert closed.code == 1 and "takes nothing on Thu 6 May" in closed.err
    done("--yard", demo, "--today", TODAY, "plan", "--no-bound")
    plan = json.loads((demo / "out" / "plan.json").read_text())
    sale = next(s for s in plan["outlets"] if s["outlet"] == "Saturday market")
    day = date.fromisoformat(sale["on"])
    when = f"{day.day} {day:%b}"
    most = sale["available_p90_kg"]
    much = say(*market, f"{most + 1:.1f}", "kg", when)
    assert much.code == 1 and "nine years in ten have no more than" in much.err
    nothing = say(*market, "0", "kg", when)
    assert nothing.code == 1 and "'release Saturday market 18 May' takes one off" in nothing.err
    given = say(*market, "0.1", "kg", when)
    assert given.code == 0 and f"release Saturday market {when}" in given.err
    assert say("release", "Saturday", "market", when).code == 0
    assert say("fixed").out == "Nothing is fixed, kept back or promised.\n"
    again = say("release", "Saturday", "market", when)
    assert again.code == 1 and "Nothing is promised to Saturday market" in again.err


@pytest.mark.parametrize("words", ["pick A -3 lb", "pick A -3lb", "took -3 lb off A"])
def test_a_weight_with_a_minus_is_no_unknown_option(yard, words):
    ran = run("--yard", yard, "--today", TODAY, "record", *words.split())
    told = " ".join(ran.err.replace("\u2502", " ").split())
    assert ran.code == 2 and "is below 0; weights and the like are above 0" in told
    assert "No such option" not in told
