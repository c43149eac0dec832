"""The programme put together, with its weather made up: what goes in and what comes out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.errors import InputError, NoPlanError
from fruitcast.forecast.past_seasons import season_grid_start
from fruitcast.forecast.typical_seasons import ECHOES
from fruitcast.inoculation.build import make_model
from fruitcast.inoculation.problem import Asked, LogKind, StandingLogs, Year
from fruitcast.inoculation.programme import (
    Programme,
    _check,
    _warnings,
    available_kinds,
    plan_programme,
)
from fruitcast.inoculation.solving import smallest_programme
from fruitcast.yard.model import Outlet, Wood
from tests.inoculation.small_programmes import MEMBERS, WEEKS, Small, table
from tests.inoculation.yards import NUMBERS
from tests.soaks.test_rules import YARD, stack

COOL = LogKind("cold-weather", "red oak", 0.10, 1.0, "plug", cost=2.0)
WARM = LogKind("warm-weather", "red oak", 0.14, 1.0, "plug", cost=4.0, most_a_year=50, wood=1)
KINDS = (COOL, WARM)
BEARING = ((Year(1, 0, 0.5), Year(2, 0, 1.0)), (Year(1, 0, 1.0),))
STANDS = (
    StandingLogs("A", "cold-weather", 10, (Year(0, 0, 1.0), Year(1, 0, 0.5), Year(9, 0, 0.1))),
)
OUTLET = Outlet("Stall", 5, 3.0, (5, 1), (9, 30), None, 1.0, frozenset())
TODAY = date(2027, 5, 3)
ASKED = Asked(KINDS, (OUTLET,), TODAY, 0.8, years=1)
SITE = SimpleNamespace(
    inoculated=date(2027, 4, 1),
    where="north",
    now=2027,
    seasons=SimpleNamespace(years=tuple(range(12))),
)


@pytest.fixture
def asked(monkeypatch):
    """What tables are asked for, each answered by the small one of soak weeks 20, 22 and 24."""
    found = {}

    def class_table(name, site, yard, starts, saleable, seed, numbers):
        found[name] = (list(starts), saleable, seed)
        return table(name, ((0.3, 0.25), (0.1, 0.1), (0.3, 0.2)))

    monkeypatch.setattr("fruitcast.inoculation.build.class_table", class_table)
    return found


def model(**changed):
    options = {
        "yard": YARD,
        "bearing": BEARING,
        "standing": STANDS,
        "site": SITE,
        "first_born": 0,
        "seed": 7,
        "numbers": NUMBERS,
    }
    own = {name: changed.pop(name) for name in vars(ASKED) if name in changed}
    asked = replace(ASKED, **{"years": 2} | own)
    return make_model(asked=asked, **(options | changed))


def test_seasons_are_looked_at_until_the_last_inoculation_has_borne(asked):
    # Two years of inoculation, then two more seasons for the longest life.
    made = model()
    assert made.seasons == 0 + 2 + 2
    assert model(first_born=1).seasons == 5
    assert model(bearing=((), ())).seasons == 3
    # Not the stack's tenth season.
    assert max(pool.season for pool in made.pools) == 3
    assert {sale.season for sale in made.sales} == {0, 1, 2, 3}
    first = made.sales[0].day
    assert season_grid_start(2027, "north") + timedelta(days=first) == date(2027, 5, 8)


def test_a_log_s_years_feed_the_pools_of_their_seasons(asked):
    pools = {(pool.season, pool.strain_class): pool for pool in model().pools}
    # Cool logs are columns 0 and 2, warm ones 1 and 3; the second year's go on for ever.
    assert pools[0, "cold-weather"].standing_units == 10
    assert pools[1, "cold-weather"].standing_units == 5
    assert pools[1, "cold-weather"].units == {0: 0.5}
    assert pools[2, "cold-weather"].units == {0: 1.0, 2: 0.5}
    assert pools[3, "cold-weather"].units == {2: 1.5}
    assert pools[1, "warm-weather"].units == {1: 1.0}
    assert pools[3, "warm-weather"].units == {3: 1.0}


def test_tables_are_asked_for_with_the_weeks_in_which_logs_can_begin(asked):
    late = ((Year(1, 18, 0.5), Year(2, 0, 1.0)), (Year(1, 6, 1.0),))
    model(bearing=late)
    assert asked == {
        "cold-weather": ([0, 18], YARD.saleable, 7),
        "warm-weather": ([6], YARD.saleable, 7),
    }


def test_the_week_s_capacity_is_that_of_every_season_and_class(asked):
    # One soak day a week in the small tables, the tank holds 50.
    made = model()
    assert set(made.capacity) == {
        (season, name, week)
        for season in range(4)
        for name in ("cold-weather", "warm-weather")
        for week in WEEKS
    }
    assert set(made.capacity.values()) == {50.0}


def test_costs_prices_and_limits_of_the_columns(asked):
    made = model()
    # The cool logs of the last year give all of the second season's and a third of the third's
    # in sight: 1.5 + 0.5 of 1.5. The warm ones give theirs of two seasons.
    assert made.cost == pytest.approx([2.0, 4.0, 2.0 * 2.0 / 1.5, 4.0 * 2])
    assert made.most.tolist() == [np.inf] * 4
    assert made.limits == (((1,), 50.0), ((3,), 50.0))
    assert made.change == (((0,), (2,)), ((1,), (3,)))
    assert made.cold_days == YARD.cold_store_days
    # A small price in the unit of a log, 3 on average; the grower's own where it is known.
    assert made.soak_price == pytest.approx(NUMBERS.inoculation.soak_price * 3.0)
    assert made.change_price == pytest.approx(NUMBERS.inoculation.change_price * 3.0)
    assert model(soak_cost=0.25).soak_price == 0.25
    assert model(soak_cost=0.0).soak_price == 0.0


def test_weather_years_are_fewer_the_more_weeks_are_sold_in(asked):
    # Twelve years: six at most, so that as many are left to judge by; 22 weeks of sale a season
    # in each of four, 88 in all, leave room for more than eight.
    assert [len(seen) for seen in model().scenarios] == [6] * 4
    # Two outlets of the same week are one week of sale.
    many = SimpleNamespace(**{**vars(SITE), "seasons": SimpleNamespace(years=tuple(range(40)))})
    every = Outlet("Market", 5, 1.0, None, None, None, 1.0, frozenset())
    midweek = replace(every, weekday=2)
    years = 10
    both = model(outlets=(every, midweek), site=many, years=years)
    weeks = len({sale.day // 7 for sale in both.sales})
    assert len(both.sales) > 1.9 * weeks
    assert len(both.scenarios[0]) == 3000 // weeks == 4


def test_without_sales_or_soak_days_there_is_no_programme(asked, monkeypatch):
    past = replace(OUTLET, first=date(2026, 5, 1), last=date(2026, 9, 30))
    with pytest.raises(NoPlanError, match="No outlet sells"):
        model(outlets=(past,))

    def never(*_):
        found = table("a", ((0.3, 0.25),) * 3)
        nothing = np.zeros(0, dtype=np.int64)
        return replace(
            found, soak_weeks=nothing, soak_days=nothing, nights=nothing, standing=nothing
        )

    monkeypatch.setattr("fruitcast.inoculation.build.class_table", never)
    with pytest.raises(NoPlanError, match="no day on which to soak"):
        model()


@pytest.fixture
def planned(monkeypatch):
    """A programme over two small classes; also what it asked its parts for."""
    small = Small(
        {"a": ((0.3, 0.25), (0.05, 0.0), (0.35, 0.2)), "b": ((0.1, 0.05), (0.3, 0.35), (0.1, 0.2))},
        0.7,
        ((0.4, 0.4, 0.4), (0.4, 0.4, 0.4)),
        8.0,
        (1.0, 1.0),
    )
    at = "fruitcast.inoculation.programme"
    seen = {}

    def climate(yard, weather, today, diameter, numbers, **_):
        seen["diameter"] = diameter
        # Of yard and season all is known here: sure of them, as many logs do.
        learning = SimpleNamespace(usual_luck=lambda years, seed: (None, np.ones(MEMBERS)))
        return SimpleNamespace(**vars(SITE), learning=learning)

    def problem(yard, asked, *_):
        seen.update(wanted_from=asked.wanted_from, served=asked.outlets)
        return small.model()

    def settled(program, wished, judged, **options):
        if "wished" not in seen:  # the programme itself comes before the one that is sure
            seen.update(options, wished=wished, judged=judged.tolist())
        seen["most"] = program.model.most.tolist()
        return smallest_programme(program, wished, judged, **options)

    monkeypatch.setattr(f"{at}.climate", climate)
    monkeypatch.setattr(f"{at}.class_table", lambda *_: None)
    monkeypatch.setattr(f"{at}.rotation_crop", lambda *_, **__: np.array([1.0, 3.0]))
    monkeypatch.setattr(f"{at}.kind_years", lambda *_: [(Year(0, 0, 1.0),), (Year(0, 0, 1.0),)])
    monkeypatch.setattr(f"{at}.standing_logs", lambda *_: ())
    monkeypatch.setattr(f"{at}.make_model", problem)
    monkeypatch.setattr(f"{at}.smallest_programme", settled)
    now = SimpleNamespace(yard=YARD, futures=SimpleNamespace(today=TODAY), learned=None)

    def plan(kinds=KINDS, **options):
        seen.clear()
        usual = Asked(kinds, YARD.outlets, TODAY, YARD.promise, years=2)
        made = plan_programme(now, None, replace(usual, **options), numbers=NUMBERS)
        return made, seen

    return plan


def test_a_programme_of_whole_logs_reaches_the_wished_chance(planned):
    made, seen = planned(chance=0.9)
    assert seen["diameter"] == pytest.approx(0.12)
    assert (seen["wished"], seen["rounds"], seen["wanted_from"]) == (0.9, None, TODAY)
    assert seen["served"] == YARD.outlets
    # Born in season 0 and bearing in it, new logs are judged from their second year on.
    assert seen["judged"] == [1]
    # Prices count in logs, of a mean cost of 3.
    assert seen["highest"] == pytest.approx(3.0 * NUMBERS.inoculation.shortfall_price)
    prices = [seen[name] for name in ("lowest", "start", "highest")]
    assert 0 < prices[0] < prices[1] < prices[2]
    double = [replace(kind, cost=2 * kind.cost) for kind in KINDS]
    _, seen = planned(chance=0.9, kinds=double)
    assert [seen[name] for name in ("lowest", "start", "highest")] == pytest.approx(
        [2 * price for price in prices]
    )
    assert made.logs.shape == (2, 2)
    assert made.logs.dtype == np.int64
    assert made.logs.ravel() == pytest.approx(np.ceil(made.relaxed.logs - 0.3))
    assert made.solution.logs == pytest.approx(made.logs.ravel())
    assert made.reached and made.chance >= 0.88
    assert made.crops == dict.fromkeys(("cold-weather", "wide-range", "warm-weather"), 2.0)
    assert (made.first_born, made.years, made.steady_season) == (0, 2, 1)
    assert made.columns_born(5) == {0: 2, 1: 3}
    assert [note[:13] for note in made.warnings] == ["Only 3 past y"]  # twelve columns, four each


def test_the_later_of_today_and_the_wished_day_counts(planned):
    for wanted, expected in (
        (date(2027, 1, 1), TODAY),
        (date(2028, 1, 1), date(2028, 1, 1)),
    ):
        made, seen = planned(wanted_from=wanted, outlets=(OUTLET,))
        assert (seen["wanted_from"], seen["served"]) == (expected, (OUTLET,))
        assert seen["wished"] == made.wished == YARD.promise


def test_without_inoculation_nothing_is_bought_and_one_price_is_enough(planned):
    made, seen = planned(inoculate=False, chance=0.9)
    assert seen["most"] == [0.0] * 4
    assert (seen["rounds"], seen["start"]) == (1, seen["highest"])
    assert made.logs.tolist() == [[0, 0], [0, 0]]
    assert (made.chance, made.reached) == (0.0, False)
    assert not any("hardly help" in warning for warning in made.warnings)


def test_the_gap_is_what_whole_logs_cost_more_in_parts_of_the_best():
    def gap(best, whole):
        made = SimpleNamespace(
            relaxed=SimpleNamespace(objective=best), solution=SimpleNamespace(objective=whole)
        )
        return Programme.gap.fget(made)

    assert gap(8.0, 10.0) == pytest.approx(0.25)
    assert gap(8.0, 8.0) == 0.0
    assert gap(0.0, 3.0) == 0.0


def test_what_cannot_be_planned_is_refused():
    _check(ASKED)
    _check(replace(ASKED, years=15))
    for years in (0, 16):
        with pytest.raises(InputError, match=f"A programme of {years} years .* 1 to 15"):
            _check(replace(ASKED, years=years))
    with pytest.raises(NoPlanError, match=r"names no outlet.* --for 'Sat=2 lb'.* --batch"):
        _check(replace(ASKED, outlets=()))
    with pytest.raises(NoPlanError, match="No kind of log"):
        _check(replace(ASKED, kinds=()))
    for cost in (0.0, -1.0):
        with pytest.raises(InputError, match=f"warm-weather on red oak: a cost of {cost:g} a log"):
            _check(replace(ASKED, kinds=(COOL, replace(WARM, cost=cost))))
    _check(replace(ASKED, kinds=(replace(COOL, cost=0.01),)))


def test_what_the_grower_should_know():
    def notes(outlets=(OUTLET,), years=10, met=0.8, wished=0.8, inoculate=True):
        seasons = SimpleNamespace(years=tuple(range(years * ECHOES)))
        asked = replace(ASKED, outlets=outlets, chance=wished, inoculate=inoculate)
        found = _warnings(asked, SimpleNamespace(seasons=seasons), met)
        return [note.split(":")[0] for note in found]

    assert notes() == []
    once = replace(OUTLET, name="Fair", last=date(2027, 9, 1))
    assert notes(outlets=(OUTLET, once)) == ["Fair"]
    assert notes(outlets=(replace(OUTLET, first=date(2027, 6, 1)),)) == []
    assert notes(years=9) == ["Only 9 past years of weather"]
    # Two in a hundred below the wish is near enough.
    assert notes(met=0.781) == []
    assert notes(met=0.779) == ["78% of the sales are met, not 80%"]
    assert notes(met=0.5, inoculate=False) == []


def test_kinds_are_of_the_usual_wood_and_spawn_of_the_stacks():
    def row(name, logs, tree, diameter, length, spawn):
        return replace(stack(name, logs), tree=tree, diameter=diameter, length=length, spawn=spawn)

    stacks = (
        row("A", 10, "white oak", 0.10, 1.0, "plug"),
        row("B", 30, "red oak", 0.14, 1.2, "sawdust"),
        row("C", 15, "white oak", 0.12, 1.0, "plug"),
        row("D", 5, "alder", 0.12, 1.0, "sawdust"),
        row("E", 25, "birch", 0.12, 1.0, "plug"),
    )
    yard = replace(YARD, stacks=stacks)
    kinds = available_kinds(yard)
    # Most used first, of one number by name: birch and white oak have 25. Plugs 50, sawdust 35.
    assert [kind.tree for kind in kinds] == ["red oak", "birch", "white oak"] * 3
    assert {kind.spawn for kind in kinds} == {"plug"}
    # 10.3 over 85 logs: (1.0 + 4.2 + 1.8 + 0.6 + 3.0) / 85 = 0.1247; (55 + 36) / 85 = 1.0706.
    assert {(kind.diameter, kind.length) for kind in kinds} == {(0.125, 1.07)}
    assert [kind.strain_class for kind in kinds[::3]] == [
        "cold-weather",
        "wide-range",
        "warm-weather",
    ]
    assert [kind.wood for kind in kinds] == [0, 1, 2] * 3
    # A single log of another form is more than none of plugs.
    one = replace(yard, stacks=(row("A", 1, "white oak", 0.10, 1.0, "sawdust"),))
    assert {kind.spawn for kind in available_kinds(one)} == {"sawdust"}
    with pytest.raises(NoPlanError, match="Nobody knows which logs"):
        available_kinds(replace(yard, stacks=()))


def test_woods_that_the_grower_names_count_alone():
    woods = (
        Wood("maple", 0.1, 1.0, strain_class="warm-weather", logs_a_year=40),
        Wood("alder", 0.2, 0.9, spawn="thimble"),
    )
    kinds = available_kinds(replace(YARD, woods=woods))
    assert [(kind.strain_class, kind.tree, kind.spawn, kind.wood) for kind in kinds] == [
        ("cold-weather", "alder", "thimble", 1),
        ("wide-range", "alder", "thimble", 1),
        ("warm-weather", "maple", "plug", 0),
        ("warm-weather", "alder", "thimble", 1),
    ]
    assert [kind.most_a_year for kind in kinds] == [None, None, 40, None]
    assert (kinds[0].diameter, kinds[0].length) == (0.2, 0.9)


def test_what_doubt_asks_for_is_the_last_year_s_logs_beyond_those_for_sure():
    # Two years of two kinds; in parts of logs the last year has 12.5 and 4.
    made = SimpleNamespace(
        logs=np.zeros((2, 2), dtype=np.int64),
        relaxed=SimpleNamespace(logs=np.array([90.0, 70.0, 12.5, 4.0])),
    )
    for sure, doubt in ((10.0, 6.5), (16.5, 0.0), (20.0, 0.0), (0.0, 16.5), (None, None)):
        made.sure_logs = sure
        assert Programme.doubt_logs.fget(made) == doubt
