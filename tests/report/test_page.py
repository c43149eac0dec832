"""The report as a file: whole in itself, small, the same again, safe against what people write."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.planning import plan_yard
from fruitcast.app.reporting import Reported, report_data, write_report
from fruitcast.diary.kept_plan import FIRST_PICK, Foretold
from fruitcast.diary.plan import Watering
from fruitcast.forecast.outcome_scores import scored
from fruitcast.forecast.outcomes import Outcomes, Pair
from fruitcast.outputs.report import report_page
from fruitcast.outputs.report_parts import ReportData
from fruitcast.words import day_words, percent_words
from tests.cli.running import change
from tests.report.pages import Page

MOST_BYTES = 3_000_000


@pytest.fixture(scope="session")
def page(reported: Reported) -> Page:
    return Page(reported.page.html.decode("utf-8"))


def test_it_is_written_whole_and_small(reported: Reported):
    written = reported.file.read_bytes()
    assert written == reported.page.html
    assert written.startswith(b"<!DOCTYPE html>") and written.rstrip().endswith(b"</html>")
    assert len(written) < MOST_BYTES
    assert reported.file.name == "report.html" and reported.file.parent.name == "out"


def test_a_day_of_sale_is_not_called_idle(reported: Reported):
    text = reported.page.html.decode("utf-8")
    plan = reported.data.plan
    days = {sale.on for sale in plan.outlets if sale.on < plan.today + timedelta(days=7)}
    assert days and text.count("see 'To sell this week'") >= len(days)
    assert text.count("Nothing to do.") <= 7 - len(days)


def test_no_weight_of_nought_is_told_as_something_to_sell(reported: Reported, page: Page):
    text = reported.page.html.decode("utf-8")
    assert any(sale.promise_kg < 0.01 for sale in reported.data.plan.outlets)
    assert ">none<" in text
    assert not re.search(r">0 (?:g|oz|kg|lb)<|\b0 (?:g|oz) to |none to none", text)


def test_nothing_in_it_leads_to_the_network(reported: Reported, page: Page):
    for tag in ("script", "iframe", "object", "embed", "img", "image", "base", "form", "audio"):
        assert page.all(tag) == []
    for _, attributes in page.tags:
        for name in ("src", "href", "xlink:href", "action", "srcset", "data", "background"):
            assert attributes.get(name, "#").startswith(("#", "data:,"))
        assert not [name for name in attributes if name.startswith("on")]
    text = reported.page.html.decode("utf-8")
    assert set(re.findall(r"url\((.)", text)) == {"#"}
    assert "@import" not in text
    spaces = {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert set(re.findall(r"https?://[^\s\"'<)]+", text)) == spaces
    policy = [tag["content"] for tag in page.all("meta") if "http-equiv" in tag]
    assert len(policy) == 1 and policy[0].startswith("default-src 'none'")


def test_every_identifier_is_there_once_and_every_reference_leads_somewhere(reported: Reported):
    text = reported.page.html.decode("utf-8")
    ids = Counter(re.findall(r'\bid="([^"]*)"', text))
    assert [name for name, times in ids.items() if times > 1] == []
    used = re.findall(r"url\(#([^)]*)\)|href=\"#([^\"]*)\"|labelledby=\"([^\"]*)\"", text)
    used += [(name, "", "") for name in re.findall(r'<label for="([^"]*)"', text)]
    assert used
    assert {"".join(found) for found in used} <= set(ids)


@pytest.mark.long  # .ci/run does it; its words are kept answers, its figures are in test_figures
def test_the_same_day_gives_the_same_bytes_in_another_process_too(shared_yard, reported):
    code = (
        "import sys; from datetime import date; from pathlib import Path;"
        "from fruitcast.app.reporting import report_data;"
        "from fruitcast.outputs.report import report_page;"
        f"sys.stdout.buffer.write(report_page(report_data(Path({str(shared_yard)!r}), "
        f"date.fromisoformat({TODAY.isoformat()!r}))).html)"
    )
    changed = {"PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "LC_ALL": "C", "MPLBACKEND": "agg"}
    ran = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        env={**os.environ, **changed},
        timeout=120,
    )
    assert ran.returncode == 0, ran.stderr.decode()
    assert ran.stdout == reported.page.html
    assert ran.stderr == b""


def test_every_figure_has_words_and_a_table_and_a_name_for_those_who_cannot_see(
    reported: Reported, page: Page, data: ReportData
):
    figures = page.all("figure")
    assert [tag["id"] for tag in figures] == [f.name for f in reported.page.figures]
    assert {"supply0", "supply1", "season0", "temperature", "rain", "moisture"} == {
        tag["id"] for tag in figures
    }
    drawings = page.all("svg")
    # Two outlets, the strip twice, temperature and rain, and a panel for each dry stack.
    dry = {entry.stack for entry in data.plan.water_chance if entry.chance >= 0.5}
    assert not data.plan.water and 0 < len(dry) < len(data.state.stacks)
    assert len(drawings) == 2 + 2 + 2 + len(dry)
    assert all(tag["role"] == "img" and len(tag["aria-label"]) > 10 for tag in drawings)
    assert len(page.all("figcaption")) == len(figures)
    for figure in reported.page.figures:
        assert figure.text and all(sentence.endswith(".") for sentence in figure.text)
        assert figure.table.rows
        assert {len(row) for row in figure.table.rows} == {len(figure.table.columns)}
        cells = [" ".join(cell.split()) for row in figure.table.rows for cell in row]
        assert [cell for cell in cells if cell not in page.text] == []


def test_the_weeks_jobs_have_boxes_to_tick_and_blanks_for_weights(page: Page, data: ReportData):
    boxes = [tag for tag in page.all("input") if tag["type"] == "checkbox"]
    labels = {tag["for"] for tag in page.all("label")}
    assert boxes and {tag["id"] for tag in boxes} == labels
    first = data.plan.soaks[0]
    if first.soak_on <= date(2027, 5, 9):
        assert f"Soak {first.stack} ({first.logs} logs" in page.text
        assert f"lb, first pick {day_words(first.pick.p50)}; feeds" in page.text
        assert first.reasons[0] not in page.text
    likely = [entry for entry in data.plan.natural if entry.week == TODAY and entry.chance > 0.5]
    assert likely and page.text.count("May come by itself") == 1
    told = [f"{e.stack} ({percent_words(e.chance)} likely, then about" for e in likely]
    assert all(words in page.text for words in told)
    blanks = [tag["aria-label"] for tag in page.all("input") if tag["type"] == "text"]
    days = [day_words(day) for day in (TODAY, TODAY.replace(day=9))]
    picked = [entry.stack for entry in data.plan.under_way]
    assert [stack for stack in picked if f"{stack} picked on {days[1]}, lb" in blanks]
    assert f"Rain on {days[0]}, in" in blanks
    weighed = [entry.stack for entry in data.plan.jobs if entry.kind == "weigh"]
    asked = [words for words in blanks if words.startswith("Weigh the sample logs of ")]
    assert weighed and all(any(stack in words for words in asked) for stack in weighed)
    assert all(words.endswith(": lb") for words in asked)
    assert "Sold to Spring supper, lb" in blanks


def test_what_it_rests_on_is_told(page: Page, data: ReportData):
    facts = page.facts
    assert facts["Weather"] == "weather.csv, up to Sun 2 May 2027 (yesterday)"
    put_together = "9 more put together from blocks of their days"
    assert facts["Weather years"] == f"21, 2006 to 2026; {put_together}"
    assert facts["Filled days"].startswith("none")
    assert facts["Forecast"] == "none"
    assert facts["Diary"] == "up to Sun 2 May 2027"
    assert "Proof" not in facts  # nobody asked for one
    judged = [number for number in data.numbers.entries() if number.label == "judgement"]
    assert f"{len(judged)} our judgement" in facts["Numbers"]
    assert all(number.key in page.text for number in judged)
    assert all(" ".join(note.split()) in page.text for note in data.plan.warnings)


SCRIPT, IMAGE, MATHS = "<script>alert(1)<script>", "<img src=x onerror=x>", "$x^$ $\\frac{$"
QUOTES, BRACES, ABROAD = "a \" b ' c & d > e", "{{ 7 * 7 }}", "椎茸 ёжик שלום"


def test_names_and_notes_are_text_wherever_they_stand(small: Path):
    def quoted(name: str) -> str:
        return name.replace("\\", "\\\\").replace('"', '\\"')

    settings = small / "yard.toml"
    change(settings, "Larkspur Hollow", SCRIPT)
    change(settings, '"Village shop"', f'"{IMAGE}"')
    change(settings, "Spring supper", quoted(QUOTES))
    settings.write_text(
        settings.read_text(encoding="utf-8").replace("Saturday market", quoted(MATHS)),
        encoding="utf-8",
    )
    stacks = small / "stacks.csv"
    for old, new in (("A,", MATHS), ("C,", BRACES), ("N,", ABROAD)):
        change(stacks, f"\n{old}", f'\n"{new}",')
    change(stacks, "north wall", IMAGE)
    written = write_report(small, TODAY)
    page = Page(written.page.html.decode("utf-8"))
    assert not written.data.published and "is not published" in page.text
    assert page.all("script") == [] and page.all("img") == []
    assert not [tag for _, tag in page.tags if any(key.startswith("on") for key in tag)]
    for name in (SCRIPT, IMAGE, MATHS, QUOTES, BRACES, ABROAD):
        assert name in page.text
    labels = [tag.get("aria-label", "") for tag in page.all("svg")]
    assert any(label.startswith(f"{IMAGE}: ") for label in labels)
    beside = {text.strip() for text in page.texts}
    assert {f"{MATHS[:11]}…", BRACES, ABROAD} <= beside  # the stacks on the strip


@pytest.mark.long  # two reports of 168 stacks
def test_a_yard_of_hundreds_of_stacks_stays_readable_and_small(data: ReportData):
    """Twelve times the sample's stacks: strips in parts, the driest stacks drawn, all listed."""
    names = list(data.state.stacks)
    many = [f"{name}-{n}" for n in range(12) for name in names]
    state = replace(
        data.state,
        stacks={name: data.state.stacks[name.split("-")[0]] for name in many},
        lot_of={name: data.state.lot_of[name.split("-")[0]] for name in many},
        accepted={},
    )
    state = replace(
        state, stacks={name: replace(stack, name=name) for name, stack in state.stacks.items()}
    )
    soaks = tuple(
        soak.model_copy(update={"stack": f"{soak.stack}-{n}"})
        for n in range(12)
        for soak in data.plan.soaks
    )
    stacks = tuple(
        replace(stack, name=f"{stack.name}-{n}", state=state.stacks[f"{stack.name}-{n}"])
        for n in range(12)
        for stack in data.outlook.stacks
    )
    past = data.outlook.past
    tiled = {key: np.tile(getattr(past, key), 12) for key in ("by_stack", "watered", "correction")}
    outlook = replace(data.outlook, stacks=stacks, past=replace(past, **tiled))
    plan = data.plan.model_copy(update={"soaks": soaks, "water": (), "water_chance": ()})
    page = report_page(replace(data, state=state, plan=plan, outlook=outlook))
    assert len(page.html) < MOST_BYTES
    figures = {figure.name: figure for figure in page.figures}
    strips = [figure for name, figure in figures.items() if name.startswith("season")]
    assert sum(len(figure.table.rows) for figure in strips) == len(many)
    assert max(len(figure.table.rows) for figure in strips) == 30
    moisture = figures["moisture"]
    assert len(moisture.panels) == 0 and len(moisture.table.rows) == len(many)
    names = [stack.name for stack in stacks[:80]]
    water = tuple(
        Watering(stack=name, on=data.today, moisture_wet=0.3, reason="dry") for name in names
    )
    plan = plan.model_copy(update={"water": water})
    page = report_page(replace(data, state=state, plan=plan, outlook=outlook))
    assert len(page.html) < MOST_BYTES
    moisture = next(figure for figure in page.figures if figure.name == "moisture")
    assert len(moisture.panels) == 60 and len(moisture.table.rows) == len(many)
    assert moisture.text[0].startswith("Drawn are the 60 driest of 80 dry stacks")


NOTHING = (
    *("outlets", "soaks", "natural", "water", "water_chance", "not_soaked", "jobs"),
    *("spawn_run", "learned", "warnings", "short", "under_way"),
)


def test_a_report_of_nothing_says_so(data: ReportData):
    """No sale, no soak, no spawn run, no diary, nothing learned, no warning."""
    empty = data.plan.model_copy(update={**dict.fromkeys(NOTHING, ()), "demand_kg": 0.0})
    page = Page(report_page(replace(data, plan=empty, diary_to=None)).html.decode("utf-8"))
    assert "No outlet sells regularly in these weeks." in page.text
    assert "0 soaks planned" in page.text
    assert "Single orders" not in page.text and "To sell this week" not in page.text
    assert page.facts["Diary"].startswith("empty")


def test_what_the_yard_says_of_the_model_stands_in_the_report(data: ReportData, undrawn: None):
    picks = [
        Pair(Foretold(FIRST_PICK, "A", f"2027-03-{n + 1:02d}", 8, 10, 14), 10.0 + n)
        for n in range(6)
    ]
    found = scored(Outcomes({(FIRST_PICK, 1): picks}, 0), TODAY, data.plan)
    data = replace(data, plan=data.plan.model_copy(update=dict.fromkeys(NOTHING, ())))
    page = Page(report_page(replace(data, foretold=found)).html.decode("utf-8"))
    assert "Of 6 first picks 5 came on the days told 1 to 2 weeks before; 5 should" in page.text
    assert "5 in range" in page.text and "0 early, 1 late" in page.text
    none = scored(Outcomes({}, 0), TODAY, None)
    page = Page(report_page(replace(data, foretold=none)).html.decode("utf-8"))
    assert "too few to say how well it foretells" in page.text


def test_a_published_plan_is_shown_with_its_proof(small: Path, undrawn: None):
    planned = plan_yard(small, TODAY, weeks=6, bound=True)
    data = report_data(small, TODAY)
    assert data.published and data.plan == planned.document
    page = Page(report_page(data).html.decode("utf-8"))
    gap = 100 * (planned.document.objective_kg - planned.document.bound_kg)
    gap /= planned.document.demand_kg
    assert f"by more than {gap:.1f}% of what is wanted" in page.facts["Proof"]
    assert "for 6 weeks" in page.facts["Plan"]


def test_numbers_of_the_yard_and_put_together_years_are_told(small: Path, undrawn: None):
    settings = small / "yard.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text + '\n[numbers]\n"natural.rain" = 31\n', encoding="utf-8")
    page = Page(write_report(small, TODAY).page.html.decode("utf-8"))
    assert page.facts["Weather years"].startswith("4, 2023 to 2026; 26 more put together")
    assert page.facts["Numbers"].endswith("1 the yard's own")
    assert "natural.rain 31 mm the yard's own; ours is judgement:" in page.text


def test_filled_days_and_a_forecast_are_told(small: Path, undrawn: None):
    weather = small / "weather.csv"
    rows = weather.read_text(encoding="utf-8").splitlines()
    assert rows[-10].startswith("2027-04-23,")
    rows[-10] = "2027-04-23,,,"
    ahead = [f"2027-05-{day:02d},8,20,1.5,forecast" for day in range(3, 8)]
    listed = [f"{rows[0]},source", *(f"{row},observed" for row in rows[1:]), *ahead]
    weather.write_text("\n".join(listed) + "\n", encoding="utf-8")
    page = Page(write_report(small, TODAY).page.html.decode("utf-8"))
    assert page.facts["Filled days"].startswith("1 day of temperature and 1 of rain")
    assert page.facts["Forecast"] == "5 days"
    assert "Put in where the record has gaps: 1 day." in page.text
    assert "Forecast for 5 days: 57 °F to 57 °F (daily means)." in page.text
