"""What the pages show: the week with reasons, stacks, supply, and what is old."""

from __future__ import annotations

import re
from datetime import date

import pytest

from fruitcast.diary.book import Diary
from fruitcast.diary.kept_plan import BACKGROUND
from tests.outputs.sample_plan import TODAY, document, plan
from tests.web.sites import NOON, Now, Visitor, make_app, publish_site, write_site

PAGES = (
    *("/", "/record", "/record/pick", "/record/soak", "/record/pull", "/record/pins"),
    *("/record/fruiting", "/record/water", "/record/rain", "/record/words", "/stacks"),
    *("/supply", "/diary", "/more", "/about", "/calendar", "/lots"),
    *("/inoculation", "/inoculation/batch", "/foretold", "/report", "/what-if", "/try", "/season"),
    *("/weather", "/sales", "/trace", "/change", "/change/earlier", "/change/stack"),
)


@pytest.fixture(scope="module")
def reader(tmp_path_factory):
    """Somebody who only looks at pages."""
    return Visitor(make_app(write_site(tmp_path_factory.mktemp("reader") / "yard")))


@pytest.fixture(scope="module")
def seen():
    """What was found where a page led."""
    return {}


@pytest.mark.parametrize("path", PAGES)
def test_every_page_has_its_landmarks_heading_labels_and_skip_link(reader, path):
    reader.open(path)
    html = reader.html
    assert reader.status == 200
    assert html.startswith("<!doctype html>") and '<html lang="en">' in html
    assert html.count("<h1>") == 1 and html.count("<main ") == 1
    assert '<nav class="bar" aria-label="Pages">' in html
    assert html.index('class="skip" href="#content"') < html.index("<header")
    labelled = set(re.findall(r'<label for="([^"]+)"', html))
    alone = re.sub(r"<label>[^<]+<.*?</label>", "", html, flags=re.S)
    for tag in re.findall(r"<(?:input|select|textarea)[^>]*>", alone):
        part = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        if part.get("type") not in ("hidden", "radio", "checkbox"):
            assert part["id"] in labelled, tag
    for legend_of in re.findall(r"<fieldset[^>]*>\s*(<\w+)", html):
        assert legend_of == "<legend"


@pytest.mark.parametrize("path", PAGES)
def test_no_page_carries_script_or_style_of_its_own(reader, path):
    reader.open(path)
    html = reader.html
    assert not re.search(r"<style|<script(?![^>]*\ssrc=)|\sstyle=|\son\w+=|javascript:", html)


@pytest.mark.parametrize("path", PAGES)
def test_every_page_leads_only_to_pages_that_are_there(reader, seen, path):
    reader.open(path)
    for href in set(re.findall(r'(?:href|src)="(/[^"#]*)"', reader.html)):
        if href not in seen:
            answer = reader.client.get(href.replace("&amp;", "&"), base_url=reader.origin)
            seen[href] = answer.status_code
        assert seen[href] == 200, href


def test_the_week_stands_first_with_times_reasons_and_promises(visitor):
    text = visitor.open("/")
    assert "Pull D (24 logs) now; soak A on Tue 4 May for 24 h" in text  # the answer in short
    text = text[text.index("Overdue") :]
    order = [
        "Overdue",
        "Pull D",
        "Today, Mon 3 May",
        "Tomorrow, Tue 4 May",
        "Soak A (24 logs, 24 h)",
    ]
    assert [text.find(part) for part in order] == sorted(text.find(part) for part in order)
    assert "due since Sun 2 May" in text
    assert "ready since 20 Apr" in text and "covers Saturday market on 15 May" in text
    assert "Water logs: B, H" in text
    assert "Saturday market wants 14.0 lb: promise nothing yet" in text
    assert "Fri 7 May Nothing to do." in text


def test_only_what_is_due_can_be_recorded_as_planned(visitor):
    visitor.open("/")
    assert "Pulled as planned" in visitor.html
    assert "Soaked as planned" not in visitor.html


def test_a_metric_yard_reads_in_kilograms(tmp_path):
    visitor = Visitor(make_app(write_site(tmp_path / "yard", units="metric")))
    assert "wants 6.3 kg: promise nothing yet" in visitor.open("/")
    assert "6.3 kg" in visitor.open("/supply") and " lb" not in visitor.text
    visitor.open("/record/pick")
    assert '<label for="large">kg</label>' in visitor.html
    visitor.open("/record/water")
    assert "Water (mm)" in visitor.html


def test_the_picture_of_the_supply_has_its_table_and_says_how_sure(visitor):
    text = visitor.open("/supply")
    html = visitor.html
    assert html.count('<svg class="supply"') == 1
    picture = re.search(r'<svg class="supply".*?</svg>', html, re.S)[0]
    assert 'role="img"' in picture and "28.0 lb wanted" in picture
    tall = [
        [float(height) for height in re.findall(rf'class="{name}"[^>]*height="([\d.]+)"', picture)]
        for name in ("wanted", "promise", "expected")
    ]
    wanted, promise, expected = tall
    assert len(wanted) == 2 and promise[0] == expected[0] == 0
    assert promise[1] / wanted[1] == pytest.approx(5.2 / 6.35, abs=0.01)
    assert expected[1] / wanted[1] == pytest.approx(6.1 / 6.35, abs=0.01)
    assert "Sat 15 May 14.0 lb 11.5 lb 13.4 lb 62% 9.7 lb to 15.4 lb" in text
    assert "13.4 lb (48%) is expected to reach them" in text
    assert "30 possible seasons" in text
    assert "no plan is better by more than 0.2%" in text


def test_what_the_logs_ask_for_stands_in_the_week_too(visitor, folder):
    def job(kind: str, stack: str, on: str, until: str) -> dict[str, str]:
        return {"job": kind, "stack": stack, "on": on, "until": until, "reason": f"{kind} it"}

    jobs = [
        job("weigh", "H/1", "2027-05-01", "2027-05-03"),
        job("retire", "B", "2027-05-03", "2027-05-03"),
        job("cover", "D", "2027-05-05", "2027-05-09"),
        job("inspect", "C", "2027-05-05", "2027-05-05"),
        job("inspect", "A", "2027-04-01", "2027-04-02"),
    ]
    short = [{"outlet": "Saturday market", "on": "2027-05-15", "reason": "too few logs are rested"}]
    publish_site(folder, plan(jobs=jobs, short=short))
    text = visitor.open("/")
    today = text[text.index("Today,") : text.index("Tomorrow,")]
    assert "Weigh the sample logs of H/1" in today and "weigh it" in today
    assert "Sort out logs of B" in today
    assert "Keep D covered until Sun 9 May" in text
    assert "Look over C" in text and "Look over A" not in text
    assert 'href="/record/words?words=weigh+H%2F1+"' in visitor.html
    assert "Write what you found" not in text
    visitor.open("/record/words?words=weigh+H%2F1+")
    assert 'value="weigh H/1 "' in visitor.html
    assert "too few logs are rested" in visitor.open("/supply")


def test_stacks_stand_with_state_and_next_date(visitor, folder):
    row = {
        "stack": "A",
        "state": "bearing year 2",
        "moisture_wet": 0.38,
        "next_soak_on": "2027-05-04",
        "natural_chance": 0.4,
        "natural_pick_on": "2027-05-12",
    }
    later = {"stack": "B", "state": "bearing year 2, resting", "soakable_from": "2027-05-20"}
    ready = {"middle": "2027-05-30", "likely": "2027-06-20"}
    young = {"stack": "H/1", "state": "spawn run 60%", "ready": ready}
    fruiting = {**row, "stack": "C", "state": "fruiting by itself", "natural_chance": 1.0}
    with Diary(folder / "diary.db") as diary:
        import json

        diary.save_document(
            BACKGROUND, TODAY, json.dumps({"stacks": [row, later, young, fruiting]})
        )
    text = visitor.open("/stacks")
    assert (
        "A bearing year 2 Next: soak Tue 4 May 24 logs of red oak, wide-range, about 38% wet"
        in text
    )
    assert "40% likely to fruit by itself within 4 weeks, first about Wed 12 May" in text
    assert "C fruiting by itself" in text and text.count("likely to fruit by itself") == 1
    assert "B bearing year 2, resting Next: may be soaked from Thu 20 May" in text
    assert "H/1 spawn run 60% Next: spawn run done by Sun 20 Jun 36 logs of beech" in text
    assert "D in the tank" in text


def test_an_old_plan_is_called_old(visitor, now):
    now.later(days=2)
    assert "This is the plan of Mon 3 May. It is old." in visitor.open("/")
    assert "This plan does not know the latest yet." in visitor.text
    assert "The plan is of Mon 3 May. It is old." in visitor.open("/about")


def test_what_the_plan_rests_on_and_its_warnings(visitor, folder):
    with Diary(folder / "diary.db") as diary:
        diary.save_document(
            BACKGROUND,
            TODAY,
            '{"plan_made_at": "2027-05-03T15:00:00+00:00", "years": [1990, 1991], "weather": '
            '{"origin": "a station 12 km away", "observed_to": "2027-04-28", '
            '"forecast_to": "2027-05-08"}}',
        )
    text = visitor.open("/about")
    assert "made 12:00 on Mon 3 May" in text
    assert "Plan made 11:00 on Mon 3 May" in text
    assert "Weather from a station 12 km away" in text
    assert "Weather seen up to Wed 28 Apr 2027; 4 days since are missing" in text
    assert "Forecast up to Sat 8 May 2027" in text
    assert "Weather years 2, 1990 to 1991" in text
    assert "2 days of temperature filled" in text
    assert "Weather seen up to Wed 28 Apr 2027; 4 days since are missing." in visitor.open("/")


def test_a_yard_without_a_plan_says_so(tmp_path):
    folder = write_site(tmp_path / "yard")
    (folder / "diary.db").unlink()
    for backup in folder.glob("diary.backup*"):
        backup.unlink()
    visitor = Visitor(make_app(folder))
    assert "There is no plan yet." in visitor.open("/")
    assert "There is no plan yet." in visitor.open("/supply")
    assert "The diary is empty." in visitor.open("/diary")
    assert "A not looked at yet Next: no date yet" in visitor.open("/stacks")


def test_the_day_is_that_of_the_yard_not_of_the_machine(folder):
    # 03:30 in London is still yesterday evening in the yard.
    visitor = Visitor(make_app(folder, Now(NOON.replace(day=4, hour=3, minute=30))))
    assert "Today, Mon 3 May" in visitor.open("/")


def test_a_broken_yard_shows_every_fault_with_its_remedy(visitor, folder):
    settings = folder / "yard.toml"
    settings.write_text(settings.read_text().replace("tank_logs = 60", "tank_logs = 0"))
    stacks = folder / "stacks.csv"
    stacks.write_text(stacks.read_text().replace("A,wide-range", "A,wide"))
    text = visitor.open("/")
    assert visitor.status == 503
    assert "tank_logs" in text and "stacks.csv line 2" in text
    assert "Traceback" not in text


def test_html_in_names_notes_and_reasons_is_only_text(tmp_path):
    evil = '<script>alert(1)</script><img src=x onerror="alert(2)">'
    quoted = evil.replace('"', '""')
    folder = write_site(tmp_path / "yard", note=f'"{quoted}"')
    spiteful = document(warnings=[evil])
    spiteful["soaks"][0]["reasons"] = [evil]
    spiteful["outlets"][1]["outlet"] = evil
    publish_site(folder, plan(**spiteful))
    with Diary(folder / "diary.db") as diary:
        from fruitcast.diary.events import Event

        diary.add([Event("note", date(2027, 5, 3), note=evil)], NOON)
    visitor = Visitor(make_app(folder))
    for path in PAGES:
        visitor.open(path)
        assert "<img" not in visitor.html and "<script>" not in visitor.html, path
    assert "&lt;script&gt;" in visitor.client.get("/supply").get_data(as_text=True)
    visitor.open(f"/record/words?words={evil}")
    assert "<img" not in visitor.html
    visitor.open("/record/pick")
    visitor.send(stack="A", large="2", note=evil, outlet=evil)
    assert "<img" not in visitor.html and "&lt;img" in visitor.html


LEARNED = {
    "strain_class": "wide-range",
    "tree": "red oak",
    "flushes": 6,
    "yield_factor": 0.8,
    "kg_per_log_before": 0.25,
    "kg_per_log_after": 0.2,
    "lead_flushes": 6,
    "lead_factor": 1.0,
    "lead_degree_days_before": 100.0,
    "lead_degree_days_after": 100.0,
    "asked": 0,
}
CHANGED = {
    "since": "2027-05-02",
    "version_before": "1.0",
    "version_after": "1.1",
    "numbers": [],
    "until": "2027-11-01",
    "expected_kg_before": 10.0,
    "expected_kg_after": 8.0,
    "next_soaks": [{"stack": "A", "before": "2027-05-04", "after": None}],
}


def test_how_the_logs_bear_is_one_sentence_on_the_first_page(visitor, folder):
    publish_site(folder, plan(learned=[LEARNED]))
    said = "Your logs bear about a fifth less than the table; the plan reckons with it."
    assert said in visitor.open("/")
    publish_site(folder, plan(learned=[{**LEARNED, "flushes": 4}]))
    assert "the diary has only 4 whole flushes of them" in visitor.open("/")


def test_a_change_of_the_model_is_told_with_what_it_does(visitor, folder):
    assert "The model has changed" not in visitor.open("/")
    publish_site(folder, plan(model_change=CHANGED))
    page = visitor.open("/")
    assert "The program was upgraded from 1.0 to 1.1." in page
    assert "are expected to bring 17.6 lb; the plan of Sun 2 May expected 22.0 lb." in page
    assert "Next soaks: A none, was Tue 4 May." in page


def test_what_picking_takes_stands_on_the_first_page(visitor, folder):
    assert "Picking takes" not in visitor.open("/")
    busy = {
        "on": "2027-05-08",
        "soaking_hours": 2.0,
        "pulling_hours": 0.0,
        "picking_hours": 1.4,
        "allowed_hours": 3.0,
        "twice": 0.0,
    }
    publish_site(folder, plan(work=[busy]))
    page = visitor.open("/")
    assert "Picking takes about 10 min a day; most on Sat 8 May, 1.4 h." in page
    assert "Sat 8 May: about 3.4 h of work (soaking 2 h, picking 1.4 h); you have 3 h." in page
