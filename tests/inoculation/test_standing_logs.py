"""What stacks still bear, worked out on a made-up life of six years; the settled season's shape."""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.stacks import Hold
from fruitcast.inoculation.problem import (
    Flow,
    LogKind,
    Pool,
    StandingLogs,
    Year,
    bearing_years,
    standing_logs,
)
from fruitcast.inoculation.programme import season_shape
from tests.inoculation.small_programmes import MEMBERS, pick_day, table
from tests.inoculation.yards import NUMBERS

TODAY = date(
    2027, 5, 3
)  # 18 weeks after the Monday, 28 December, on which its season's grid begins
LIFE = np.array([0.0, 0.5, 1.0, 0.8, 0.6, 0.4, 0.3] + [0.0] * 9)


def life(years):
    """What seasons give by the bearing years behind the log at their ends."""
    return np.interp(years, np.arange(len(LIFE)), LIFE)


YEAR = timedelta(days=int(NUMBERS.forced.first_after_days))


@pytest.fixture(autouse=True)
def made_up_life(monkeypatch):
    at = "fruitcast.inoculation.problem"
    monkeypatch.setattr(f"{at}.stack_factor", lambda tree, thick, long, years, _: life(years))
    monkeypatch.setattr(f"{at}.seasons_of", lambda futures, site: [2027, 2028])


def standing(crop=1.0, latitude=42.0, today=TODAY, **changed):
    """A stack of ten logs, ready in March 2025, of which the outlook has the best at 1.0."""
    options = {
        "ready_on": date(2025, 3, 1),
        "sure_row": 0,
        "inoculated": date(2024, 4, 1),
        "soakable_from": date.min,
        "effective_logs": 8.0,
        "logs": 10,
        "holds": (),
        "by_season": np.ones(3),
    } | changed
    stack = SimpleNamespace(
        name="A",
        stack=SimpleNamespace(
            strain_class="wide-range",
            tree="red oak",
            diameter=0.12,
            length=1.0,
            inoculated=options["inoculated"],
        ),
        spawn=SimpleNamespace(ready_on=options["ready_on"], sure_row=options["sure_row"]),
        state=SimpleNamespace(logs=options["logs"]),
        holds=options["holds"],
        soakable_from=options["soakable_from"],
        effective_logs=options["effective_logs"],
    )
    outlook = SimpleNamespace(
        stacks=(stack,),
        numbers=NUMBERS,
        yard=SimpleNamespace(site=SimpleNamespace(latitude=latitude)),
        futures=SimpleNamespace(date=lambda row: today + timedelta(days=row)),
        parts=SimpleNamespace(by_season=options["by_season"]),
    )
    return standing_logs(outlook, today, {"wide-range": crop})


def test_a_stack_in_its_third_year_has_the_rest_of_its_life_before_it():
    # 2025 and 2026 are gone. Of the seasons 2027 and 2028 its third year, 0.8, is the best: eight
    # units of ten logs are as many as that gives, nothing is worn.
    assert season_grid_start(2027, "north") == date(2026, 12, 28)
    found = standing()
    years = ((0, 18, 0.8), (1, 0, 0.6), (2, 0, 0.4), (3, 0, 0.3))
    assert found == (StandingLogs("A", "wide-range", 10, tuple(Year(*year) for year in years)),)


def test_wear_and_learning_are_what_the_outlook_has_beyond_logs_and_years():
    (worn,) = standing(effective_logs=4.0)
    assert [year.factor for year in worn.years] == pytest.approx([0.4, 0.3, 0.2, 0.15])
    (more,) = standing(effective_logs=8.0, logs=5)
    assert [year.factor for year in more.years] == pytest.approx([1.6, 1.2, 0.8, 0.6])
    # Ready in 2020 it has no year left.
    assert standing(ready_on=date(2020, 6, 1), inoculated=date(2019, 4, 1)) == ()


def test_what_is_expected_of_seasons_further_ahead_is_that_of_the_last_one_known():
    # Seasons 2027 to 2030 are left, with factors of 0.8, 0.6, 0.4 and 0.3.
    for by_season, usual in (
        ([1.0, 0.5, 0.25], [1.0, 0.5, 0.25, 0.25]),
        ([1.0, 0.5], [1.0, 0.5, 0.5, 0.5]),
        ([1.0, 0.9, 0.8, 0.7, 0.6], [1.0, 0.9, 0.8, 0.7]),
    ):
        (found,) = standing(by_season=np.array(by_season))
        expected = np.array([0.8, 0.6, 0.4, 0.3]) * usual
        assert [year.factor for year in found.years] == pytest.approx(expected)


def test_a_stack_goes_when_a_season_would_give_too_little():
    limit = NUMBERS.yields.retire_below
    (found,) = standing(crop=limit / 0.5)
    assert [year.factor for year in found.years] == [0.8, 0.6]
    assert standing(crop=limit / 0.9) == ()  # its third year is not worth it any more


def test_this_season_begins_when_the_stack_can_be_soaked_and_later_ones_at_once():
    # In week 20, of which the first day is 17 May; from 18 May on in week 22.
    for on, week in ((date(2027, 5, 17), 20), (date(2027, 5, 18), 22), (date(2029, 1, 1), 52)):
        (found,) = standing(soakable_from=on)
        assert [year.start_week for year in found.years] == [week, 0, 0, 0]
    # Not known when: from today on. Never within a year of inoculation.
    assert standing(soakable_from=None)[0].years[0].start_week == 18
    (young,) = standing(inoculated=date(2027, 5, 18) - YEAR)
    assert young.years[0].start_week == 22


def test_a_stack_not_ready_yet_begins_with_its_first_year():
    # Ready on 10 June 2028, a Saturday: week 24 of the grid of 27 December begins on 12 June.
    ready = date(2028, 6, 10)
    grid = season_grid_start(2028, "north")
    assert (grid + timedelta(weeks=24)) >= ready > grid + timedelta(weeks=22)
    (found,) = standing(ready_on=ready, inoculated=date(2027, 4, 20), effective_logs=3.0)
    assert [(year.season, year.start_week) for year in found.years[:3]] == [(1, 24), (2, 0), (3, 0)]
    # Six tenths of that season are left, and so much of a year it has behind it at its end.
    assert [year.factor for year in found.years[:6]] == pytest.approx(
        life(0.6 + np.arange(6)).tolist()
    )
    # Where the day is not known, the one that is sure enough.
    row = (ready - TODAY).days
    options = {"inoculated": date(2027, 4, 20), "effective_logs": 3.0}
    assert standing(ready_on=None, sure_row=row, **options) == (found,)
    # Ready this June it begins this season, no earlier than it is ready.
    (soon,) = standing(ready_on=date(2027, 6, 10), inoculated=date(2026, 4, 20), effective_logs=8.0)
    assert (soon.years[0].season, soon.years[0].factor) == (0, pytest.approx(0.3))


def test_spent_and_dead_stacks_are_left_out():
    assert standing(logs=0) == ()
    for cause in ("dead", "no logs"):
        assert standing(holds=(Hold("rest", TODAY), Hold(cause, None))) == ()
    assert len(standing(holds=(Hold("rest", TODAY),))) == 1


def test_the_settled_season_week_by_week_in_logs_soaked_and_kilograms_picked():
    # Two logs to a unit: three units in week 20 and again in week 24, one more in week 22.
    tables = {
        name: table(name, ((0.1, 0.3), (0.2, 0.2), (1.0, 3.0)), after_soak=0.5)
        for name in ("b", "a")
    }
    flow = Flow(np.array([3.0, 1.0, 0.0]), np.array([3.0]), np.array([0.0, 1.0, 3.0]), 0.0)
    idle = Flow(np.zeros(3), np.zeros(1), np.zeros(3), 0.0)
    few = Flow(np.array([0.5, 0.04, 0.0]), np.zeros(1), np.array([0.5, 0.04, 0.0]), 0.0)
    model = SimpleNamespace(
        tables=tables,
        members=MEMBERS,
        pools=(
            Pool(2, "a", 0, 0, {}, 2.0),
            Pool(2, "b", 0, 0, {}, 1.0),
            Pool(1, "a", 0, 0, {}, 1.0),
        ),
    )
    made = SimpleNamespace(
        model=model,
        steady_season=2,
        solution=SimpleNamespace(flows=(flow, few, idle)),
        climate=SimpleNamespace(now=2027, where="north"),
    )
    # Picked in the week after that of the soak, a mean of two weather years. Of the other class's
    # few units those of week 20 are worth a line, those of week 22 are not.
    assert pick_day(0) // 7 == 21
    begins = season_grid_start(2027, "north")
    assert [
        ((entry.week - begins).days // 7, entry.strain_class, entry.soaked_logs, entry.picked_kg)
        for entry in season_shape(made)
    ] == [
        (20, "a", 6.0, 0.0),
        (20, "b", 0.5, 0.0),
        (21, "a", 0.0, pytest.approx(3 * 0.2)),
        (21, "b", 0.0, pytest.approx(0.5 * 0.2)),
        (22, "a", 2.0, 0.0),
        (23, "a", 0.0, pytest.approx(0.2)),
        (24, "a", 6.0, 0.0),
        (25, "a", 0.0, pytest.approx(3 * 0.5 * 2.0)),
    ]


def test_a_log_bears_the_years_of_its_life_one_after_the_other():
    oak = LogKind("wide-range", "red oak", 0.12, 1.0, "plug")
    found = bearing_years(oak, 2, 24, 1.0, NUMBERS.tree(oak.tree), NUMBERS.yields)
    weeks = (24, 0, 0, 0, 0, 0)
    assert found == tuple(Year(2 + n, week, LIFE[1 + n]) for n, week in enumerate(weeks))
