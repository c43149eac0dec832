"""fruitcast inoculation: tables, documents, drawing, and slips."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from fruitcast.cli.session import MOST_NOTES
from fruitcast.outputs.cautions import CAUTIONS
from tests.cli.running import TODAY, change, contents, done, run
from tests.inoculation.yards import few_scenarios
from tests.yards import small_yard

BATCH = ("--batch", "--class", "wide-range", "--tree", "red oak", "--logs", 50)
SIZE = ("--diameter", "5 in", "--length", "40 in", "--spawn", "plug")


@pytest.fixture(scope="module", autouse=True)
def _quick_programmes() -> Iterator[None]:
    with few_scenarios():
        yield


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small yard with prices; for reading only."""
    folder = small_yard(tmp_path_factory.mktemp("inoculation") / "yard")
    with (folder / "yard.toml").open("a") as file:
        file.write("\n[costs]\nlog = 2.5\nplug = 0.03\nsawdust_per_lb = 4\nwage_per_hour = 18\n")
    change(folder / "yard.toml", 'to = "10-30"', 'to = "09-30"')
    return folder


@pytest.fixture(scope="module")
def programme(place: Path) -> Any:
    """One programme, as JSON and with all it left behind."""
    before = contents(place)
    words = ("--json", "inoculation", "--years", 1, "--for", "Village shop=0", "--chance", 0.6)
    ran = done("--yard", place, "--today", TODAY, *words)
    assert contents(place) == before
    return ran


def in_words(place: Path, *words: object) -> str:
    return " ".join(done("--yard", place, "--today", TODAY, "inoculation", *words).out.split())


def test_a_programme_answers_with_what_to_inoculate_when(programme: Any) -> None:
    document = programme.document
    assert (document["today"], document["years"], document["wished_chance"]) == (TODAY, 1, 0.6)
    assert [outlet["outlet"] for outlet in document["outlets"]] == ["Saturday market"]
    assert document["inoculate"]
    for entry in document["inoculate"]:
        assert entry["year"] == 2027 and entry["logs"] > 0
        assert entry["hours"] == pytest.approx(
            sum(entry[f"{work}_hours"] for work in ("drilling", "filling", "waxing", "handling"))
        )
        assert 2027 < entry["bears_from"] < entry["bears_to"]
    assert document["seasons"][0]["year"] == 2027
    money = document["money"]
    assert money["kinds"] and all(kind["left_out"] == ["wax"] for kind in money["kinds"])
    assert len(money["years"]) == len(document["seasons"])
    assert all(f"Note: {one}" in programme.err for one in document["warnings"][:MOST_NOTES])


def test_what_is_printed_is_as_the_schema_says(programme: Any, place: Path) -> None:
    ran = done("--yard", place, "--today", TODAY, "--json", "inoculation", *BATCH, *SIZE)
    schema = Draft202012Validator(json.loads(done("inoculation", "--json-schema").out))
    for document in (programme.document, ran.document):
        assert list(schema.iter_errors(document)) == []


def test_nothing_inoculated_shows_how_long_what_stands_will_do(place: Path) -> None:
    words = ("--json", "inoculation", "--none", "--years", 8)
    document = done("--yard", place, "--today", TODAY, *words).document
    assert document["inoculate"] == []
    sold = [season["sold_kg"] for season in document["seasons"]]
    assert sold[0] > 0 and sold[-1] == 0
    # A stack that began to bear late last year still has its best years before it.
    assert all(later <= earlier + 0.25 * sold[0] for earlier, later in pairwise(sold))


def test_sales_of_later_years_alone_ask_for_no_more(place: Path) -> None:
    words = ("--json", "inoculation", "--years", 1, "--from", "2029")
    document = done("--yard", place, "--today", TODAY, *words).document
    wanted = {season["year"]: season["target_kg"] for season in document["seasons"]}
    assert wanted[2027] == wanted[2028] == 0 < wanted[2029]


def test_a_programme_in_words_fits_eighty_columns(place: Path, monkeypatch: Any) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    words = ("inoculation", "--years", 1, "--for", "Sat=1 kg", "--chance", 0.5, "--tool", "grinder")
    text = done("--yard", place, "--today", TODAY, *words).out
    assert max(len(line) for line in text.splitlines()) <= 80
    flat = " ".join(text.split())
    for part in (
        "Logs to inoculate in 1 year",
        "Saturday sale 2.2 lb",
        "50% of the sales are to be met in full",
        "What that brings",
        "What stands",
        "Logs for a pound a week",
        "The rule of thumb says 16 to 32, whole farms report 30 to 53.",
        "Not counted, as no price is entered: wax.",
    ):
        assert part in flat, part
    for topic, caution in CAUTIONS.items():
        assert flat.count(caution) == (topic != "drill"), topic
    assert flat.endswith(CAUTIONS["deference"])


def test_a_batch_in_words(place: Path) -> None:
    before = contents(place)
    text = in_words(place, *BATCH, *SIZE)
    for part in (
        "New batch: 50 logs of red oak, wide-range, plug spawn",
        "a fresh log weighs about",
        "35 holes a log: 5 rows of 7, 5.5 in from hole to hole",
        "The number of rows is odd: the last and the first meet without being set off.",
        "pieces of spawn",
        "First soak not before",
        "First natural flush, if not soaked",
        "Worth keeping to the end of",
        "best practice 9% to 35%, Leatham 1982",
        "an outdoor trial 0 to 8.8%",
    ):
        assert part in text, part
    assert contents(place) == before


@pytest.mark.parametrize("between", ["2 in", "3 in", "4 in"])
def test_the_drawing_has_the_holes_that_are_printed(
    place: Path, tmp_path: Path, between: str
) -> None:
    file = tmp_path / "holes.svg"
    words = (*BATCH, *SIZE, "--between", between, "--drawing", file)
    ran = done("--yard", place, "--today", TODAY, "--json", "inoculation", *words)
    svg = file.read_text(encoding="utf-8")
    holes = ran.document["holes"]
    assert svg.count('class="hole"') == holes["per_log"] == sum(holes["by_row"])
    assert ("odd" in re.findall(r'class="seam( odd)?"', svg)[0]) == holes["seam_breaks_stagger"]
    assert abs(holes["per_log"] - holes["rows_by_length_over_spacing"]) <= 2
    assert ran.document["drawing"] == str(file)
    assert "print it at 100 %" in ran.err


def test_an_accepted_batch_is_in_the_yard_and_in_its_calendar(small: Path) -> None:
    here = ("--yard", small, "--today", TODAY)
    done(*here, "plan", "--no-bound", "--weeks", 4)
    ran = done(*here, "--json", "inoculation", *BATCH, *SIZE, "--accept", "R")
    assert ran.document["accepted"]["calendar"] == str(small / "out" / "calendar.ics")
    assert "Added to" in ran.err and "dates of its care are in" in ran.err
    assert "\nR,wide-range,,red oak,50," in (small / "stacks.csv").read_text(encoding="utf-8")
    assert "R: inoculate 50 logs" in (small / "out" / "calendar.ics").read_text(encoding="utf-8")
    again = run(*here, "--json", "inoculation", *BATCH, *SIZE, "--accept", "R")
    assert (again.code, again.out) == (1, "")
    assert "there is a stack R already" in again.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--years", 0], "--years"),
        (["--chance", 1.2], "--chance"),
        (["--from", "soon"], "'soon' is not a day"),
        (["--logs", 5], "--logs belongs to one batch: add --batch"),
        (["--accept", "R"], "--accept belongs to one batch"),
        (["--batch"], "--batch needs --class, --tree, --logs too"),
        ([*BATCH, "--years", 3], "--years belongs to a programme"),
        ([*BATCH, "--spawn", "plugs"], "--spawn"),
    ],
)
def test_wrong_usage_is_exit_code_2(words: list[object], said: str, monkeypatch: Any) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    ran = run("--json", "inoculation", *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--for", "Market=3"], "--for 'Market=3': no outlet is called 'Market'"),
        ([*BATCH, "--diameter", "200"], "--diameter: diameter is 200 in. Give 0.8 in to 39.4 in."),
        ([*BATCH, "--along", "wide"], "--along: 'wide' is not a length. Write it like"),
        ([*BATCH, *SIZE, "--end", "21"], "--end: 21 in from each end leaves no place for a hole"),
        ([*BATCH, "--on", "1900-01-01"], "--on: 1900-01-01 lies more than 10 years from today"),
        ([*BATCH, "--accept", " "], "--accept: name is empty. Give the stack a name."),
    ],
)
def test_what_cannot_be_is_exit_code_1_and_names_the_option(
    place: Path, words: list[object], said: str
) -> None:
    before = contents(place)
    ran = run("--yard", place, "--today", TODAY, "--json", "inoculation", *words)
    assert (ran.code, ran.out) == (1, "")
    assert said in ran.err and ran.err.count("\n") == 1
    assert contents(place) == before
