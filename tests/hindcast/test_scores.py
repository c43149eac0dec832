"""Scores by hand, and that they survive being kept in a file."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fruitcast.hindcast.scores import (
    PromiseKept,
    SeasonScore,
    SoakScore,
    mean_gain,
    policy_summary,
    read_scores,
    scores_json,
    way_to_foresight,
)
from fruitcast.topics import WorkNumbers

DAY = date(2018, 6, 1)
WORK = WorkNumbers(0.05, 0.04, 1.0, 0.005, 0.15)


def on(days: int) -> date:
    return DAY + timedelta(days=days)


SOAKS = (
    SoakScore("A", DAY, 20, on(7), on(9), on(12), 2.0, on(10), 1.5),
    SoakScore("B", DAY, 10, on(7), on(9), on(12), 1.0, on(6), 1.0),
    SoakScore("A", on(70), 20, on(77), on(79), on(82), 1.0, None, 0.0),
)
PROMISES = (
    PromiseKept("Market", on(14), 4.0, 3.0, 3.0),
    PromiseKept("Market", on(21), 4.0, 6.0, 5.0),
    PromiseKept("Market", on(28), 4.0, 0.0, 0.0),
    PromiseKept("Shop", on(28), 2.0, 1.0, 0.5),
)
SEASON = SeasonScore(1999, "plan", 20.0, 15.0, 1.5, 0.5, SOAKS, PROMISES)


def test_lots_of_a_stack_on_one_day_are_one_visit() -> None:
    names = (("G/1", 0), ("G/2", 0), ("G/1", 60), ("A", 0))
    soaks = tuple(replace(SOAKS[0], stack=name, on=on(days)) for name, days in names)
    assert replace(SEASON, soaks=soaks).visits == 3


def test_a_promise_is_measured_on_what_was_sure_and_never_exceeds_the_target() -> None:
    kept = [promise.kept for promise in PROMISES]
    assert kept == [True, False, True, False]
    assert [promise.promise_kg for promise in PROMISES] == [3.0, 4.0, 0.0, 1.0]
    assert replace(PROMISES[0], available_kg=2.9995).kept  # within a gram
    assert not replace(PROMISES[0], available_kg=2.99).kept


def test_the_summary_by_hand() -> None:
    other = replace(SEASON, year=2000, delivered_kg=17.0, soaks=SOAKS[:1], promises=())
    summary = policy_summary([SEASON, other], 0.5, work=WORK)
    assert summary.plain() == {
        "policy": "plan",
        "seasons": 2,
        "demand_kg": 20.0,
        "shortfall_kg": 4.0,
        "shortfall_share": pytest.approx(0.2),
        "expired_kg": 1.5,
        "left_kg": 0.5,
        "soaks": 2.0,
        "visits": 2.0,
        "logs_soaked": 35.0,
        # 35 logs at 3 and 2.4 minutes, two visits of an hour.
        "soaking_hours": pytest.approx(35 * 0.09 + 2),
        "soaks_without_crop": 0.25,
        "crop_over_expected": pytest.approx(4.0 / 6.0),
        "promises_made": 3,
        "promises_kept": pytest.approx(1 / 3),
        "promised_share": pytest.approx(8.0 / 14.0),
        "first_picks": 3,
        "first_pick_within": pytest.approx(2 / 3),
        "first_pick_error_days": pytest.approx(-1 / 3),
        "first_pick_absolute_error_days": pytest.approx(5 / 3),
        "plan_saves": None,
        "plan_saves_error": None,
        "way_to_foresight": 0.5,
    }


def test_shares_of_nothing_are_left_open() -> None:
    summary = policy_summary([replace(SEASON, soaks=(), promises=())], None, work=WORK)
    for key in ("promises_kept", "promised_share", "first_pick_within", "crop_over_expected"):
        assert getattr(summary, key) is None


def test_the_way_to_foresight() -> None:
    def short(kg: float) -> list[SeasonScore]:
        return [replace(SEASON, delivered_kg=20.0 - kg), replace(SEASON, delivered_kg=20.0)]

    assert way_to_foresight(short(4.0), short(9.0), short(4.0)) == pytest.approx(1.0)
    assert way_to_foresight(short(9.0), short(9.0), short(4.0)) == pytest.approx(0.0)
    assert way_to_foresight(short(5.0), short(9.0), short(4.0)) == pytest.approx(0.8)
    assert way_to_foresight(short(10.0), short(9.0), short(4.0)) == pytest.approx(-0.2)
    assert way_to_foresight(short(4.0), short(4.0), short(4.0)) is None


def test_a_kept_season_reads_back_as_it_was() -> None:
    assert read_scores(scores_json([SEASON, SEASON])) == [SEASON, SEASON]


def test_a_soak_s_first_pick_is_early_or_late_by_days_within_whole_days() -> None:
    usual = SOAKS[0]
    assert [replace(usual, first_pick=on(day)).error_days for day in (7, 9, 12)] == [-2, 0, 3]
    picked = [replace(usual, first_pick=on(day)).within for day in (6, 7, 9, 12, 13)]
    assert picked == [False, True, True, True, False]
    unknown = SoakScore("A", DAY, 20, None, None, None, None, on(9), 1.0)
    for soak in (SOAKS[2], unknown):
        assert soak.error_days is None and soak.within is None
    summary = policy_summary([replace(SEASON, soaks=(usual, SOAKS[2], unknown))], None, work=WORK)
    assert (summary.first_picks, summary.first_pick_error_days) == (2, 1.0)


def test_a_gram_is_neither_a_promise_nor_a_saving() -> None:
    gram = replace(PROMISES[0], sure_kg=0.001, available_kg=0.0)
    assert gram.kept
    assert policy_summary([replace(SEASON, promises=(gram,))], None, work=WORK).promises_made == 0
    more = replace(gram, sure_kg=0.0011)
    assert not more.kept
    assert policy_summary([replace(SEASON, promises=(more,))], None, work=WORK).promises_made == 1

    def short(kg: float) -> list[SeasonScore]:
        return [replace(SEASON, demand_kg=kg, delivered_kg=0.0)]

    assert way_to_foresight(short(0.0), short(0.001), short(0.0)) is None
    assert way_to_foresight(short(0.0), short(0.002), short(0.0)) == 1.0


def test_promises_made_are_kept_to_the_gram_and_shared_out_over_the_targets() -> None:
    # Of 4, 4, 4 and 2 kg wanted, 3, 4, 0 and 1 are promised; of three promises one is kept.
    summary = policy_summary([SEASON], None, work=WORK)
    assert (summary.promises_made, summary.promises_kept) == (3, pytest.approx(1 / 3))
    assert summary.promised_share == pytest.approx(8 / 14)


def test_a_gain_is_of_the_same_seasons_and_has_its_standard_error():
    def season(year: int, delivered: float):
        return replace(SEASON, year=year, demand_kg=20.0, delivered_kg=delivered)

    plan = [season(2001, 18.0), season(2002, 16.0), season(2003, 20.0)]
    other = [season(2001, 14.0), season(2002, 16.0), season(2004, 1.0)]
    # 20 and 0 points saved in the years that both have.
    assert mean_gain(other, plan) == (pytest.approx(0.1), pytest.approx(0.1))
    assert mean_gain(other[:1], plan) == (pytest.approx(0.2), None)
    assert mean_gain(other, []) == (None, None)
    summary = policy_summary(other, None, plan, work=WORK)
    assert (summary.plan_saves, summary.plan_saves_error) == mean_gain(other, plan)
