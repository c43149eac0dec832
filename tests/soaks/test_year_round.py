"""A usual year's natural seasons and soaks in summer, from crops set by hand.

Three past years; the season's days count from Monday 28 December 2026. Day 150 is the first of
midsummer, day 210 the first of autumn.
"""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.diary.plan import MidsummerSoak, NaturalSeason, Pick
from fruitcast.diary.state import Soak, StackState
from fruitcast.forecast.yield_tables import SEASON_DAYS
from fruitcast.numbers import default_numbers
from fruitcast.soaks.coming import (
    _dates,
    _rests_from,
    _seasons,
    _summer_soak,
    _together,
    year_round,
)

BEGIN = date(2026, 12, 28)
TODAY = date(2027, 3, 1)
NATURAL = (
    default_numbers()
    .with_overrides({"natural.summer_from": 150, "natural.autumn_from": 210})
    .natural
)
SITE = SimpleNamespace(where="north")
STACKS = [
    SimpleNamespace(name=name, effective_logs=logs, state=SimpleNamespace(logs=2 * logs))
    for name, logs in (("A", 8.0), ("B", 2.0))
]


def ahead(season: Any, strain_class: str, stacks: tuple[str, ...], on: date) -> NaturalSeason:
    return NaturalSeason(
        season=season, strain_class=strain_class, stacks=stacks, chance=0.5,
        first_pick=Pick(p10=on, p50=on, p90=on), expected_kg=1.0,
    )  # fmt: skip


def summer_soak(
    strain_class: str, stacks: tuple[str, ...], week: date | None, brings: float, costs: float
) -> MidsummerSoak:
    return MidsummerSoak(
        strain_class=strain_class, stacks=stacks, week=week, brings_kg=brings, costs_kg=costs
    )


def first_picks(found: NaturalSeason) -> tuple[date, date, date]:
    return found.first_pick.p10, found.first_pick.p50, found.first_pick.p90


def crop(*picks: tuple[int, int, float]) -> np.ndarray:
    """What is picked of a log, from (day, year, kg)."""
    made = np.zeros((SEASON_DAYS + 56, 3))
    for day, year, kg in picks:
        made[day, year] += kg
    return made


def of_day(day: int, year: int = 0) -> date:
    return BEGIN + timedelta(days=day + 364 * year)


def seasons(
    *picks: tuple[int, int, float],
    last: np.ndarray | None = None,
    rests_from: int | None = None,
    today: date = TODAY,
) -> list[NaturalSeason]:
    made = SimpleNamespace(strain_class="wide-range", none=crop(*picks)[None], last=last)
    return list(_seasons(made, SITE, STACKS, today, NATURAL, rests_from))


def test_a_season_has_its_chance_its_first_picks_and_its_weight() -> None:
    # Two springs of three, first picked on days 100 and 120; what follows is the same flush.
    # Of ten effective logs, in the mean of the years that have it.
    (spring,) = seasons((100, 0, 0.1), (101, 0, 0.2), (120, 2, 0.5))
    assert (spring.season, spring.strain_class) == ("spring", "wide-range")
    assert spring.stacks == ("A", "B")
    assert spring.chance == pytest.approx(2 / 3)
    assert first_picks(spring) == (
        of_day(100),
        of_day(100),
        of_day(120),
    )
    assert spring.expected_kg == pytest.approx(10 * (0.3 + 0.5) / 2)


def test_of_three_years_the_middle_first_pick_is_the_second() -> None:
    (autumn,) = seasons((260, 0, 0.1), (250, 1, 0.1), (270, 2, 0.1), (280, 1, 0.4))
    assert (autumn.season, autumn.chance) == ("autumn", 1.0)
    assert first_picks(autumn) == (
        of_day(250),
        of_day(260),
        of_day(270),
    )
    assert autumn.expected_kg == pytest.approx(10 * 0.7 / 3)


@pytest.mark.parametrize(
    ("day", "name"),
    [
        (70, "spring"), (149, "spring"), (150, "early summer"), (209, "early summer"),
        (210, "autumn"), (SEASON_DAYS - 1, "autumn"),
    ],
)  # fmt: skip
def test_a_season_is_named_by_the_day_of_its_middle_first_pick(day: int, name: str) -> None:
    (found,) = seasons((day, 0, 0.1), (day, 1, 0.2))
    assert (found.season, found.first_pick.p50) == (name, of_day(day))


def test_the_middle_year_names_it_whatever_the_first_and_the_last_say() -> None:
    assert seasons((140, 0, 0.1), (160, 1, 0.1), (205, 2, 0.1))[0].season == "early summer"
    assert seasons((140, 0, 0.1), (145, 1, 0.1), (205, 2, 0.1))[0].season == "spring"


def test_early_and_late_are_a_tenth_and_nine_tenths_of_the_years_that_have_it() -> None:
    # Of ten years the first and the ninth: first picked on the days 101 to 110.
    none = np.zeros((1, SEASON_DAYS + 56, 10))
    none[0, 101 + np.arange(10), np.arange(10)] = 0.1
    made: Any = SimpleNamespace(strain_class="wide-range", none=none)
    (found,) = _seasons(made, SITE, STACKS, TODAY, NATURAL)  # type: ignore[arg-type]
    assert first_picks(found) == (
        of_day(101),
        of_day(105),
        of_day(109),
    )
    # A flush of the season's very first day has begun on it.
    none[0, 0, :5] = 0.1
    (found,) = _seasons(made, SITE, STACKS, date(2026, 12, 28), NATURAL)  # type: ignore[arg-type]
    assert first_picks(found) == (
        of_day(0),
        of_day(0),
        of_day(109),
    )


def test_spring_and_autumn_are_parted_at_the_height_of_summer() -> None:
    spring, autumn = seasons((209, 0, 0.1), (210, 0, 0.2), (SEASON_DAYS, 1, 9.0))
    assert (spring.expected_kg, autumn.expected_kg) == (pytest.approx(1.0), pytest.approx(2.0))
    assert (spring.chance, autumn.chance) == (pytest.approx(1 / 3), pytest.approx(1 / 3))
    assert seasons() == []


def test_a_season_gone_by_is_the_next_year_s_all_three_days_together() -> None:
    picks = [(day, year, 0.1) for year, day in enumerate((10, 63, 200))]
    for today, later in ((of_day(63), 0), (of_day(64), 1)):
        (found,) = seasons(*picks, today=today)
        days = first_picks(found)
        # 2028 begins on a Saturday; its season's first Monday is 27 December.
        assert days == tuple(of_day(day, later) for day in (10, 63, 200))
    south = SimpleNamespace(where="south")
    assert _dates(np.array([0]), south, date(2027, 6, 30), 0) == [date(2026, 6, 29)]
    assert _dates(np.array([3]), south, date(2027, 6, 30), 1) == [date(2027, 7, 1)]


def test_after_a_soak_this_season_is_what_follows_it_and_the_next_one_is_rested() -> None:
    rested = [(day, year, 0.1) for year in range(3) for day in (100, 250)]
    follows = np.stack([crop(), crop((270, 1, 0.4)), crop((120, 0, 0.2), (260, 0, 0.2))])
    spring, autumn = seasons(*rested, last=follows, rests_from=1)
    # Nothing comes in this spring: the next one has all three years.
    assert (spring.season, spring.first_pick.p50, spring.chance) == ("spring", of_day(100, 1), 1.0)
    assert (autumn.season, autumn.first_pick.p50) == ("autumn", of_day(270))
    assert (autumn.chance, autumn.expected_kg) == (pytest.approx(1 / 3), pytest.approx(4.0))
    late = seasons(*rested, last=follows, rests_from=2, today=of_day(261))
    assert [each.first_pick.p50 for each in late] == [of_day(100, 1), of_day(250, 1)]
    # On its way by itself: the day of the spring flush has not come yet.
    assert seasons(*rested, last=follows, rests_from=2)[0].first_pick.p50 == of_day(120)


def test_what_is_alike_of_several_groups_is_told_once() -> None:
    a = ahead("autumn", "w", ("A",), TODAY)
    other = a.model_copy(update={"stacks": ("D",), "chance": 0.6})
    same = a.model_copy(update={"stacks": ("B", "C"), "expected_kg": 2.0})
    both = a.model_copy(update={"stacks": ("A", "B", "C"), "expected_kg": 3.0})
    assert list(_together([a, other, same])) == [both, other]


@pytest.mark.parametrize(
    ("soaked", "picked", "row"),
    [
        (None, None, None),
        (of_day(-1), None, None),  # last season's rest is over by spring
        (of_day(0), None, 0),
        (of_day(147), None, 0),
        (of_day(201), None, 2),  # week 28: 29 is nearer than 22
        (of_day(147), of_day(160), 0),  # the soak's own flush
        (of_day(100), of_day(160), 1),  # by itself, long after the soak
        (None, of_day(205), 2),
    ],
)
def test_a_stack_rests_from_its_last_flush_of_this_season(
    soaked: date | None, picked: date | None, row: int | None
) -> None:
    soaks = () if soaked is None else (Soak(soaked, 9, 24.0, soaked + timedelta(days=1)),)
    stack = SimpleNamespace(state=StackState("A", 9, soaks=soaks), last_first_pick=picked)
    diary = default_numbers().diary
    assert _rests_from(stack, soak_table(), SITE, of_day(240), diary) == row
    none = soak_table(soak_weeks=np.array([], dtype=int))
    assert _rests_from(stack, none, SITE, of_day(240), diary) is None


def soak_table(**changes: object) -> SimpleNamespace:
    """Soaks in weeks 21 (day 147), 22, 29 and 30 (day 210); the third arc is of young logs.

    Left alone the logs bear 0.3 in autumn of each year. After the soaks of weeks 22 and 29 it is
    0.2 and 0.1; the soaks bring 0.3 and 0.6 of their own.
    """
    years = range(3)
    spring = [(100, year, 0.05) for year in years]

    def arc(day: int, kg: float) -> np.ndarray:
        return crop(*spring, *((day, year, kg) for year in years))

    def autumn(kg: float) -> np.ndarray:
        return crop(*((250, year, kg) for year in years))

    made = {
        "strain_class": "wide-range",
        "soak_weeks": np.array([21, 22, 29, 30]),
        "first_start": np.array([0, 0, 1, 0, 0]),
        "first_soak": np.array([0, 1, 1, 2, 3]),
        "first": np.stack([arc(170, 9.0), arc(170, 0.3), arc(170, 9.0), arc(215, 0.6),
                           arc(220, 9.0)]),
        "last": np.stack([autumn(kg) for kg in (0.3, 0.2, 0.1, 0.3)]),
        "none": (arc(250, 0.3))[None],
    }  # fmt: skip
    return SimpleNamespace(**(made | changes))


def summer(
    table: SimpleNamespace,
    least_kg: float = 0.0,
    rests_from: int | None = None,
    today: date = TODAY,
) -> MidsummerSoak:
    return _summer_soak(table, SITE, STACKS, today, NATURAL, least_kg, rests_from)


def test_the_midsummer_soak_is_the_one_that_gains_most_beside_a_year_without() -> None:
    # Week 22: 0.3 + 0.2 - 0.3 = 0.2 a log; week 29: 0.6 + 0.1 - 0.3 = 0.4. Both lie in midsummer,
    # days 154 and 203; the weeks before and after it and the young logs' arc do not count.
    found = summer(soak_table())
    assert (found.strain_class, found.stacks) == ("wide-range", ("A", "B"))
    assert found.week == of_day(203)
    assert found.brings_kg == pytest.approx(10 * 0.6)
    assert found.costs_kg == pytest.approx(10 * 0.2)


def test_after_a_soak_the_summer_s_soak_is_weighed_beside_that_one_s_rest() -> None:
    years = range(3)
    inner = np.stack([
        crop(*((215, year, 0.5) for year in years)), crop(*((215, year, 9.0) for year in years)),
    ])  # fmt: skip
    made = {"inner_from": np.array([0, 1]), "inner_to": np.array([2, 3]), "inner": inner}
    # From week 21 only week 29 is rested: 0.5 + 0.1 beside the 0.3 that follow of themselves.
    found = summer(soak_table(**made), rests_from=0)
    assert (found.week, found.brings_kg) == (of_day(203), pytest.approx(5.0))
    assert found.costs_kg == pytest.approx(2.0)
    # What has gone by is no matter of this rest; rested logs have it next year.
    gone = of_day(204)
    assert summer(soak_table(**made), rests_from=0, today=gone).week is None
    assert summer(soak_table(), today=gone).week == of_day(203, 1)
    assert summer(soak_table(**made), rests_from=2).week is None


def test_of_what_a_soak_brings_the_flush_before_it_is_no_part() -> None:
    # Before day 154 all came by itself, on it nothing does.
    table = soak_table()
    table.first[1] = crop((153, 0, 0.3), (154, 0, 1.2), (150, 1, 0.9))
    table.first[3] = 0.0
    found = summer(table)
    assert found.week == of_day(154)
    assert found.brings_kg == pytest.approx(10 * 0.4)
    # In all 0.8 and 0.2 a log, beside 0.35: it costs nothing and is no credit to it either.
    assert found.costs_kg == 0.0


def test_a_soak_that_brings_too_little_a_log_or_gains_nothing_is_not_told() -> None:
    none = summer_soak("wide-range", ("A", "B"), None, 0.0, 0.0)
    # Ten effective logs are twenty logs: 6 kg are 0.3 a log, 3 kg are 0.15.
    assert summer(soak_table(), 0.299).week == of_day(203)
    assert summer(soak_table(), 0.301) == none
    table = soak_table()
    table.last[2] = 0.0
    table.first[3] *= 0.5
    assert summer(table, 0.149).week == of_day(154)
    # However little it gains, it gains.
    usual = soak_table()
    small = {name: 0.1 * getattr(usual, name) for name in ("first", "last", "none")}
    assert summer(soak_table(**small)).brings_kg == pytest.approx(10 * 0.06)
    lean = soak_table(none=5 * soak_table().none)
    assert summer(lean) == none


def test_each_class_of_logs_that_bear_already_has_its_year_in_order_of_the_season(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[tuple[Any, ...]] = []
    at = "fruitcast.soaks.coming"

    def table(name: str, site: Any, yard: Any, starts: Any, saleable: float, seed: int, _: Any):  # type: ignore[no-untyped-def]
        asked.append((name, site, tuple(starts), saleable, seed))
        return SimpleNamespace(name=name)

    def season(table: Any, _: Any, stacks: Any, *rest: Any) -> list[NaturalSeason]:
        late, early = of_day(260 - len(table.name)), of_day(100)
        told = (table.name, tuple(each.name for each in stacks))
        return [ahead("autumn", *told, late), ahead("spring", *told, early)]

    def soak(table: Any, _: Any, stacks: Any, *rest: Any) -> MidsummerSoak:
        today, _, least, rests_from = rest
        week = None if rests_from == 3 else today
        names = tuple(each.name for each in stacks)
        return summer_soak(table.name, names, week, least, rests_from or 0.0)

    rests = {"C": 2, "D": 3}
    monkeypatch.setattr(f"{at}._rests_from", lambda stack, *_: rests.get(stack.name))
    monkeypatch.setattr(f"{at}._begins", lambda *_: BEGIN)
    monkeypatch.setattr(f"{at}.climate", lambda yard, weather, today, diameter, numbers: diameter)
    monkeypatch.setattr(f"{at}.class_table", table)
    monkeypatch.setattr(f"{at}._seasons", season)
    monkeypatch.setattr(f"{at}._summer_soak", soak)

    def stack(
        name: str, strain_class: str, diameter: float, ready: date | None, logs: float = 9.0
    ) -> SimpleNamespace:
        return SimpleNamespace(
            name=name,
            stack=SimpleNamespace(strain_class=strain_class, diameter=diameter),
            spawn=SimpleNamespace(ready=SimpleNamespace(p50=ready)),
            effective_logs=logs,
        )

    before, after = TODAY - timedelta(days=1), TODAY + timedelta(days=1)
    outlook = SimpleNamespace(
        stacks=(
            stack("A", "wide-range", 0.10, TODAY),
            stack("B", "cold-weather", 0.20, before),
            stack("C", "wide-range", 0.12, before),
            stack("D", "wide-range", 0.16, before, 0.1),
            # Not ready yet, nobody knows when, dead.
            stack("E", "wide-range", 0.90, after),
            stack("F", "wide-range", 0.90, None),
            stack("G", "wide-range", 0.90, before, 0.0),
            stack("H", "warm-weather", 0.90, after),
        ),
        futures=SimpleNamespace(today=TODAY),
        yard=SimpleNamespace(saleable=0.8),
        numbers=SimpleNamespace(natural=NATURAL, diary=None),
    )
    found = year_round(outlook, None, 7, least_kg=0.05)  # type: ignore[arg-type]
    # The middle log of each class stands for all; logs rested since last autumn are looked at.
    assert asked == [("cold-weather", 0.20, (0,), 0.8, 7), ("wide-range", 0.12, (0,), 0.8, 7)]
    # Each rest is asked of by itself; what rests all summer has nothing to be told.
    assert found.soaks == (
        summer_soak("cold-weather", ("B",), TODAY, 0.05, 0.0),
        summer_soak("wide-range", ("A",), TODAY, 0.05, 0.0),
        summer_soak("wide-range", ("C",), TODAY, 0.05, 2),
    )
    assert {each.stacks for each in found.seasons} == {("B",), ("A", "C", "D")}
    assert [(each.first_pick.p50, each.strain_class) for each in found.seasons] == [
        (of_day(100), "cold-weather"),
        (of_day(100), "wide-range"),
        (of_day(248), "cold-weather"),
        (of_day(250), "wide-range"),
    ]
    # Summer is over: the next one finds all of them rested.
    outlook.futures.today = of_day(210)
    later = year_round(outlook, None, 7, least_kg=0.05)  # type: ignore[arg-type]
    assert [soak.stacks for soak in later.soaks] == [("B",), ("H",), ("A", "C", "D", "E")]
