"""A handful of logs and no market: flushes for the table, natural seasons, new logs' first year."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from fruitcast.app.known import read_known
from fruitcast.app.planning import Planned, make_plan, plan_yard
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.soaks.sale_days import table_days
from tests.app.table_yards import HALF_A_YEAR, HANDFUL, SITES, TODAY, write_table_yard
from tests.cli.running import done, run
from tests.soaks.judge import judge
from tests.soaks.rules import judge_published
from tests.web.sites import Now, Visitor, make_app

SCHEDULE = default_numbers().schedule._replace(rest_days=63.0)

SELLING = re.compile(
    r"\b(sell\w*|sold|sales?|market\w*|outlets?|promis\w*|targets?|prices?|money|buyer\w*)\b", re.I
)
"""Words that a yard without outlets never reads."""


@pytest.fixture(
    scope="module",
    params=[
        "brussels",
        *(pytest.param(n, marks=pytest.mark.long) for n in sorted({*SITES} - {"brussels"})),
    ],
)
def site(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Planned:
    folder = write_table_yard(tmp_path_factory.mktemp(request.param) / "yard", request.param)
    return plan_yard(folder, TODAY)


def test_soaks_are_spread_over_the_season(site: Planned) -> None:
    soaks = site.document.soaks
    assert judge(site.built.problem, site.plan).violations == ()
    known = site.known
    found = judge_published(known.yard, known.state, site.document.plain(), TODAY)
    assert found == []
    wide = [soak for soak in soaks if soak.stack in "AB"]
    assert len({soak.soak_on.month for soak in wide}) >= 2
    picks = sorted(soak.pick.p50 for soak in soaks)
    assert (picks[-1] - picks[0]).days >= 60
    # Never everything at once while another week has room.
    assert len({soak.soak_on for soak in soaks}) >= len(soaks) - 1


def test_both_natural_seasons_are_foretold_where_past_years_have_them(site: Planned) -> None:
    told = {(s.strain_class, s.season) for s in site.document.natural_seasons}
    for strain_class in ("wide-range", "cold-weather"):
        assert (strain_class, "autumn") in told
        assert told & {(strain_class, "spring"), (strain_class, "early summer")}
    for season in site.document.natural_seasons:
        pick = season.first_pick
        assert pick.p90 >= TODAY and pick.p10 <= pick.p50 <= pick.p90
        assert pick.p90 <= TODAY + timedelta(days=560)
        assert 0 < season.chance <= 1 and season.expected_kg > 0
    assert {soak.strain_class for soak in site.document.midsummer} == {"cold-weather", "wide-range"}


def test_new_logs_have_their_first_year_in_dates(site: Planned) -> None:
    for stack, born in (("N", date(1998, 4, 1)), ("P", date(1998, 4, 10))):
        care = [entry for entry in site.document.care if entry.stack == stack]
        whats = " ".join(entry.what for entry in care)
        for word in ("turn and restack", "water the new logs", "natural flush", "soaked for the"):
            assert word in whats, (stack, word)
        ready = [entry.on for entry in site.document.ready if entry.stack == stack]
        assert ready or "spawn run should be done" in whats
        assert all(born < entry.last for entry in care)
        (first,) = (entry for entry in care if "first natural flush" in entry.what)
        assert (first.last - born).days > 120


def test_nothing_says_a_word_of_selling(site: Planned, tmp_path: Path) -> None:
    folder = site.known.yard.folder
    where = ("--yard", folder, "--today", str(TODAY))
    shown = {
        "plan": done("plan", "--all", *where).out,
        "week": done("week", *where).out,
        "stacks": done("stacks", *where).out,
        "what if": done("plan", "--tank", 80, "--weeks", 6, *where).out,
        "calendar": (folder / "out" / "calendar.ics").read_text("utf-8"),
    }
    done("report", "-o", str(tmp_path / "report.html"), *where)
    html = (tmp_path / "report.html").read_text("utf-8")
    shown["report"] = re.sub(r"<style>.*?</style>|<[^>]+>", " ", html, flags=re.S)
    moment = datetime(TODAY.year, TODAY.month, TODAY.day, 12, tzinfo=UTC)
    visitor = Visitor(make_app(folder, Now(moment)))
    for page in ("/", "/stacks", "/supply", "/record", "/record/pick", "/more", "/about"):
        shown[page] = re.sub(r"<[^>]+>", " ", visitor.client.get(page).get_data(as_text=True))
    for name, text in shown.items():
        # A line of the calendar goes on in the next one.
        found = SELLING.findall(text.replace("\r\n ", ""))
        assert not found, (name, found)
    for name in ("plan", "report", "/supply"):
        assert "For the table" in shown[name] and "New logs: N" in shown[name]
        assert "autumn flush of" in shown[name].lower()
    calendar = shown["calendar"].replace("\r\n ", "")
    for word in ("turn and restack", "water the new logs", "first natural flush", "Soak A"):
        assert word in calendar


@pytest.mark.parametrize(
    "south", [pytest.param(False, marks=pytest.mark.long), True], ids=["north", "south"]
)
@pytest.mark.parametrize("strain_class", ["cold-weather", "wide-range", "warm-weather"])
def test_one_log_or_two_have_a_plan_too(strain_class: str, south: bool, tmp_path: Path) -> None:
    rows = (
        ("One", strain_class, 1, date(1995, 4, 1)),
        ("Two", strain_class, 2, date(1996, 4, 1)),
    )
    folder = write_table_yard(tmp_path / "yard", "brussels", rows, south=south)
    today = TODAY + (HALF_A_YEAR if south else timedelta())
    ahead = days_ahead(26, tail_days=default_numbers().schedule.tail_days)
    planned = make_plan(read_known(folder, today, ahead))
    document = planned.document
    assert judge(planned.built.problem, planned.plan).violations == ()
    assert not any("nothing is wanted" in words for words in document.warnings)
    assert document.soaks or document.natural
    assert document.table and max(week.expected_kg for week in document.table) > 0
    assert {season.season for season in document.natural_seasons} >= {"autumn"}


def test_a_season_for_the_table_is_not_held_against_sales(tmp_path: Path) -> None:
    folder = write_table_yard(tmp_path / "yard", "brussels")
    ran = run("hindcast", "--yard", folder, "--today", str(TODAY), "--years", "1")
    assert ran.code == 1 and "this yard has none" in ran.err


def test_a_week_wants_what_all_logs_would_bear_steadily() -> None:
    monday = date(2027, 5, 3)
    found = table_days(monday, 21, 9.0, keeps=10, schedule=SCHEDULE)
    assert [(sale.day, sale.weight) for sale in found] == [
        (day, weight) for day in (0, 7, 14) for weight in (1.0, 0.5)
    ]
    assert {round(sale.target, 9) for sale in found} == {1.0, 3.0}
    # A day later the weeks are the same ones.
    later = table_days(monday + timedelta(days=1), 21, 9.0, keeps=10, schedule=SCHEDULE)
    assert [sale.day for sale in later] == [6, 6, 13, 13, 20, 20]
    # What keeps three days is wanted every three days.
    short = table_days(monday, 7, 21.0, keeps=3, schedule=SCHEDULE)
    assert len({sale.day for sale in short}) in (2, 3)
    assert short[0].target == pytest.approx(1.0)
    assert table_days(monday, 21, 0.0, keeps=10, schedule=SCHEDULE) == ()


def test_what_is_on_hand_dead_or_in_the_tank_is_told_as_it_is(tmp_path: Path) -> None:
    folder = write_table_yard(tmp_path / "yard", "tunis")
    where = ("--yard", folder, "--today", str(TODAY))
    done("record", "stock 300 g", "--yes", *where)
    done("record", "soaked 2 logs of B", *where)
    done("record", "2 logs of N died", "--yes", *where)
    plan = done("plan", "--all", *where).out
    assert ", on hand." in plan, plan
    assert not re.search(r"about (\S+ \S+), \1 to \1 in 8", plan)
    assert "New logs: N, 4 logs," in plan
    stacks = done("stacks", *where).out
    assert "2 logs in the tank" in stacks


def test_logs_that_are_kept_back_are_wanted_as_much_of_as_before(tmp_path: Path) -> None:
    folder = write_table_yard(tmp_path / "yard", "brussels", HANDFUL[:3])
    ahead = days_ahead(26, tail_days=default_numbers().schedule.tail_days)
    before = make_plan(read_known(folder, TODAY, ahead))
    with Diary(folder / "diary.db") as diary:
        held = [Event("hold", TODAY, stack, into="1998-12-01") for stack in "ABC"]
        diary.add(held, datetime(1998, 4, 20, 12, tzinfo=UTC))
    after = make_plan(read_known(folder, TODAY, ahead)).document
    assert not after.soaks
    # More than half a year away, a day has its year.
    assert all("until 1 Dec 1998." in word.words for word in after.decisions)
    assert after.demand_kg == pytest.approx(before.document.demand_kg)
    # What comes by itself is told of the weeks, too.
    assert after.natural and max(week.expected_kg for week in after.table) > 0
