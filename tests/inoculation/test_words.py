"""Batch and programme as documents, in words, in the calendar; the cautions once each."""

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from io import StringIO

import pytest
from rich.console import Console

from fruitcast.inoculation.batch import BatchSpec, batch_to_stack, plan_batch
from fruitcast.outputs.care import batch_care, yard_care, young_calendars
from fruitcast.outputs.cautions import CAUTIONS, growing_cautions, inoculation_cautions
from fruitcast.outputs.inoculation_document import batch_document, programme_document
from fruitcast.outputs.inoculation_words import CAUSES, batch_table, programme_table
from fruitcast.outputs.reminders import reminders
from fruitcast.words import percent_words
from tests.inoculation.yards import (
    NUMBERS,
    TODAY,
    fresh_state,
    outlook_of,
    quick_programme,
    quick_yard,
    sample_weather,
    sample_yard,
)
from tests.outputs import sample_plan

OAK = BatchSpec("R", "wide-range", "red oak", 50, 0.127, 1.02, "plug")


@cache
def batch():
    weather, _ = sample_weather()
    return plan_batch(OAK, sample_yard(), weather, TODAY, numbers=NUMBERS)


@cache
def documents():
    return (
        batch_document(
            batch(),
            NUMBERS.inoculation,
            today=TODAY,
            care=batch_care(
                batch_to_stack(batch()), batch(), TODAY, turn_days=NUMBERS.inoculation.turn_days
            ),
            drawing=None,
            warnings=(),
        ),
        programme_document(quick_programme(), "grinder", (), NUMBERS),
    )


def printed(number):
    return json.loads(documents()[number].json_text())


def shown(renderable, width=100):
    console = Console(width=width, record=True, file=StringIO())
    console.print(renderable)
    return console.export_text()


def test_the_batch_s_document_holds_what_was_planned():
    document, plan = printed(0), batch()
    assert document["holes"]["per_log"] == plan.pattern.holes
    assert document["materials"]["holes"] == 50 * plan.pattern.holes
    assert document["weight"]["batch_kg"] == pytest.approx(50 * plan.weight.log_kg)
    assert document["calendar"]["inoculate_on"] == plan.inoculated.isoformat()
    assert [year["year"] for year in document["yield"]["years"]] == [
        crop.year for crop in plan.gives.years
    ]
    assert document["yield"]["life_kg"] == pytest.approx(50 * plan.gives.life_kg_per_log)


def test_the_programme_s_document_adds_up():
    document = printed(1)
    for year in document["seasons"]:
        mine = [e["logs"] for e in document["inoculate"] if e["year"] == year["year"]]
        if mine:
            assert sum(mine) == year["inoculated_logs"]
        assert year["sold_kg"] <= year["target_kg"] + 1e-6
    for entry in document["inoculate"]:
        assert entry["bears_from"] > entry["year"]
        assert entry["holes"] % entry["logs"] == 0
    per_pound = document["logs_per_pound"]
    product = per_pound["rule_of_thumb_with_our_flush"]
    for cause in per_pound["causes"]:
        assert cause["cause"] in CAUSES
        product *= cause["factor"]
    assert per_pound["logs_per_lb_a_week"] == pytest.approx(product)
    money = document["money"]
    assert money["kinds"][0]["left_out"] == ["wax"]
    assert len(money["years"]) == len(document["seasons"])


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_words_fit_the_window_in_either_system(width, units):
    yard = replace(sample_yard(), units=units)
    for table in (batch_table(documents()[0], yard), programme_table(documents()[1], yard)):
        text = shown(table, width)
        assert max(len(line) for line in text.splitlines()) <= width
        assert ("lb" in text) == (units == "us") or "a pound a week" in text
        assert "None" not in text and "nan" not in text


def test_the_batch_in_words():
    text = " ".join(shown(batch_table(documents()[0], sample_yard()), 200).split())
    for part in (
        "50 logs of red oak, wide-range, plug spawn",
        "5 in thick, 40.2 in long; a fresh log weighs about 28.8 lb",
        f"{batch().pattern.holes} holes a log",
        "The number of rows is odd",
        "Bit 8 mm (0.31 in), 1.2 in deep",
        f"{50 * batch().pattern.holes:,} holes, {batch().materials.pieces:,} pieces of spawn",
        f"best practice {percent_words(0.09)} to {percent_words(0.35)}, Leatham 1982",
        "an outdoor trial 0 to 8.8%",
        "Turn and restack about",
        f"Worth keeping to the end of {batch().retire}",
    ):
        assert part in text, part


def test_the_programme_in_words_says_why_so_many_logs():
    text = " ".join(shown(programme_table(documents()[1], quick_yard()), 200).split())
    assert "The rule of thumb says 16 to 32, whole farms report 30 to 53" in text
    for words in CAUSES.values():
        assert words in text
    assert f"{percent_words(0.5)} of the sales are to be met in full" in text
    assert "Not counted, as no price is entered: wax." in text
    assert "It pays for itself with" in text


def test_in_the_south_logs_are_of_the_year_they_are_inoculated_in_and_seasons_of_two():
    made = quick_programme()
    born = date(made.climate.now + 1, 6, 28)  # the season by which it counts began a July before
    climate = replace(made.climate, where="south", inoculated=born)
    document = programme_document(
        replace(made, climate=climate, first_born=0), "drill", (), NUMBERS
    )
    assert document.inoculate[0].year == document.inoculate_on.year == born.year
    yard = quick_yard()
    yard = replace(yard, site=replace(yard.site, latitude=-41.5))
    text = " ".join(shown(programme_table(document, yard), 200).split())
    assert f"In {born.year}: {document.inoculate[0].logs} logs" in text
    now = climate.now
    assert f"{now}/{(now + 1) % 100} " in text  # the first of what that brings
    bears = document.inoculate[0].bears_from
    assert f"{bears}/{(bears + 1) % 100} to " in text
    assert not re.search(rf"\b{now}\b(?!/)", text)
    seasons = documents()[0].gives.years
    text = shown(batch_table(documents()[0], yard), 200)
    assert f"Worth keeping to the end of {seasons[-1].year}/{(seasons[-1].year + 1) % 100}." in text


def test_the_programme_in_words_says_how_many_logs_doubt_asks_for():
    document = documents()[1].model_copy(update={"doubt_logs": 4.2})
    text = " ".join(shown(programme_table(document, quick_yard()), 200).split())
    assert re.search(r"About 4 of the \d+ logs of 20\d\d are for what nobody knows", text)
    document = document.model_copy(update={"doubt_logs": None})
    assert "nobody knows beforehand" not in shown(programme_table(document, quick_yard()), 200)


def test_each_caution_stands_once_where_it_belongs():
    batch_text = " ".join(shown(batch_table(documents()[0], sample_yard()), 300).split())
    programme_text = " ".join(shown(programme_table(documents()[1], sample_yard()), 300).split())
    for topic, words in CAUTIONS.items():
        in_batch, in_programme = batch_text.count(words), programme_text.count(words)
        assert in_batch == (topic in ("saw", "drill", "wax", "lifting", "deference")), topic
        assert in_programme == (topic != "drill"), topic  # a grinder was asked for
    assert CAUTIONS["wax"] not in inoculation_cautions("drill", waxed=False)
    for listed in (inoculation_cautions("drill", waxed=True), growing_cautions()):
        assert listed[-1] == CAUTIONS["deference"]
        assert "licensed" in listed[-1] and "Local rules" in listed[-1]


def test_care_dates_become_reminders_of_the_accepted_stack():
    yard = sample_yard()
    stack = batch_to_stack(batch())
    yard = replace(yard, stacks=(*yard.stacks, stack))
    care = batch_care(stack, batch(), TODAY, turn_days=NUMBERS.inoculation.turn_days)
    plan = sample_plan.plan().model_copy(
        update={"soaks": (), "water": (), "under_way": (), "care": tuple(care)}
    )
    found = [r for r in reminders(plan, yard, fresh_state(yard)) if r.kind == "care"]
    assert [r.first_day for r in found] == [entry.first for entry in care]
    assert found[0].summary == "R: inoculate 50 logs"
    assert found[0].last_day == batch().window[1]
    assert sum("turn and restack" in r.summary for r in found) == len(batch().turning)
    assert any(r.first_day == batch().earliest_soak and "first time" in r.summary for r in found)
    keys = [r.key for r in found]
    assert len(set(keys)) == len(keys)


def test_a_batch_later_keeps_its_reminders_and_drops_what_is_past():
    stack, turns = batch_to_stack(batch()), batch().turning
    later = turns[0] + timedelta(days=1)
    entries = batch_care(stack, batch(), later, turn_days=NUMBERS.inoculation.turn_days)
    before = batch_care(stack, batch(), TODAY, turn_days=NUMBERS.inoculation.turn_days)
    past = [entry.what for entry in before if entry.last < later]
    assert past[:1] == ["inoculate 50 logs"] and "turn and restack the logs" in past
    assert entries == [entry for entry in before if entry.last >= later]


def test_months_with_waterings_are_told_without_a_hole_between_them():
    often = {5: 1.2, 6: 2.4, 8: 2.6, 9: 0.2}
    calendar = replace(batch(), waterings=often)
    care = batch_care(batch_to_stack(batch()), calendar, TODAY, turn_days=90)
    said = [entry.reason for entry in care if "dry spells" in entry.what]
    assert said == [
        "about once in May",
        "about twice in Jun",
        "seldom in Jul",
        "about 3 times in Aug",
    ]


def test_a_stack_s_calendar_is_that_of_the_batch_it_was():
    weather, _ = sample_weather()
    stack = batch_to_stack(batch())
    other = replace(stack, name="earlier", inoculated=date(2027, 4, 1))
    stacks = [other, stack, replace(stack, name="S")]
    calendars = young_calendars(stacks, sample_yard(), weather, TODAY, 1, NUMBERS)
    found = calendars[stack.name]
    for name in ("turning", "ready", "earliest_soak", "first_natural", "window", "trees"):
        assert getattr(found, name) == getattr(batch(), name), name
    assert calendars["S"] is found
    assert calendars["earlier"].ready != found.ready


def test_only_stacks_in_their_spawn_run_want_the_care_of_young_logs():
    yard, (weather, _) = sample_yard(), sample_weather()
    later = replace(batch_to_stack(batch()), name="R", inoculated=date(2028, 4, 1))
    yard = replace(yard, stacks=(*yard.stacks, later))
    outlook = outlook_of(yard)
    care = yard_care(outlook, weather, 1)
    running = {s.name for s in outlook.stacks if s.spawn.sure_row > outlook.futures.lookback}
    assert {entry.stack for entry in care} <= running
    assert {"P", "R"} <= {entry.stack for entry in care} and "A" not in running
    first = next(entry for entry in care if entry.stack == "R")
    assert (first.what, first.first) == ("inoculate 50 logs", date(2028, 4, 1))
    for entry in care:
        assert TODAY <= entry.last >= entry.first
    assert yard_care(outlook, weather, 1) == care
