"""The hindcast's evidence: twenty held-out years, promises, first picks, truths that differ.

Run with ``pytest -m long tests/benchmarks/test_hindcast_figures.py -s``; some forty minutes on
two processors that have nothing else to do. FRUITCAST_HINDCAST names a folder in which finished
seasons are kept, to go on after a stop; else a temporary one is taken.

Two yards: the sample yard with its invented weather, and the same stacks and sales on the real
weather of Champion, Nebraska (aquacrop/data/champion_climate.txt of the package aquacrop). The
single order that nobody could meet, put into the sample to show just that, is left out of both.
Each is lived through with its stacks soaked whole, and in lots of at most `LOT_LOGS` logs.
"""

from __future__ import annotations

import os
import time
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from fruitcast.app.choosing import build
from fruitcast.app.demo import write_sample_yard
from fruitcast.app.hindcast import (
    NINE_WEEK,
    PLAN,
    SENSIBLE,
    HindcastParams,
    LivingPlan,
    season_days,
)
from fruitcast.app.hindcast_years import Workers, hindcast_document
from fruitcast.app.known import KnownYard, read_known
from fruitcast.hindcast.policies import plan_dates
from fruitcast.numbers import default_numbers
from fruitcast.outputs.evidence_words import hindcast_table
from fruitcast.soaks.search import QUICK
from tests.benchmarks.figures import Figures
from tests.benchmarks.yards import known_yard
from tests.requires import need_file

YEARS, OTHER_TRUTHS = 20, 8
PARAMS = HindcastParams()
LOT_LOGS = 18
YARDS = (("sample", None), ("sample", LOT_LOGS), ("Champion", None), ("Champion", LOT_LOGS))
"""Where, and the logs of a lot. Truths that differ are tried on whole stacks."""


def known_sample(where: str, lot_logs: int | None, folder: Path) -> KnownYard:
    """Return what is known of the sample yard on its first day, on one of two weathers."""
    if where == "sample":
        today = date(2027, 5, 3)
        write_sample_yard(folder)
    else:
        today = date(2018, 5, 1)
        weather = need_file("aquacrop", "data/champion_climate.txt")
        write_sample_yard(folder, weather=weather, today=today)
    if lot_logs is not None:
        settings = folder / "yard.toml"
        text = settings.read_text()
        settings.write_text(text.replace("[soaking]\n", f"[soaking]\nlot_logs = {lot_logs}\n"))
    known = read_known(
        folder, today, season_days(PARAMS.weeks, tail_days=default_numbers().schedule.tail_days)
    )
    return replace(known, yard=replace(known.yard, orders=()))


@pytest.fixture(scope="module", params=YARDS, ids=str)
def document(request, tmp_path_factory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("evidence")
    kept_in = Path(os.environ.get("FRUITCAST_HINDCAST") or folder / "kept")
    where, lot_logs = request.param
    started = time.perf_counter()
    found = hindcast_document(
        known_sample(where, lot_logs, folder / "yard"),
        PARAMS,
        YEARS,
        0 if lot_logs else OTHER_TRUTHS,
        Workers(kept_in),
    )
    soaked = f"in lots of {lot_logs}" if lot_logs else "whole"
    print(f"\n{where}, stacks soaked {soaked}: {time.perf_counter() - started:.0f} s")
    Console(width=150).print(hindcast_table(found))
    return found.plain()


def as_believed(document: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {policy["policy"]: policy for policy in document["results"][0]["policies"]}


@pytest.mark.long
def test_it_goes_short_less_than_both_rotations_and_soaks_no_more_logs(document) -> None:
    policies = as_believed(document)
    for rotation in (NINE_WEEK, SENSIBLE):
        assert policies[PLAN]["shortfall_kg"] < policies[rotation]["shortfall_kg"]
        assert policies[PLAN]["logs_soaked"] <= policies[rotation]["logs_soaked"]


@pytest.mark.long
def test_promises_are_kept_about_as_often_as_asked(document) -> None:
    kept = as_believed(document)[PLAN]["promises_kept"]
    assert 0.7 <= kept <= 0.9


@pytest.mark.long
def test_first_picks_come_within_their_range(document) -> None:
    within = as_believed(document)[PLAN]["first_pick_within"]
    assert 0.7 <= within <= 0.95


@pytest.mark.benchmark
@pytest.mark.parametrize("stacks", [20, 40])
def test_time_to_plan_again(stacks: int, figures: Figures) -> None:
    """Prints the seconds of processor time of one week's plan, built and searched."""
    known = known_yard(stacks, logs_per_pound_a_week=60)
    policy = LivingPlan(QUICK)
    spent = []
    for _ in range(2):
        started = time.process_time()
        built = build(known)
        plan = policy.plan(built.problem)
        spent.append(time.process_time() - started)
        assert plan_dates(built.problem, plan) == policy.dates
    print(f"\n{stacks} stacks, {known.weather.origin}: {spent[0]:.2f} s, again {spent[1]:.2f} s")
    figures.add(f"hindcast: one week's plan of {stacks} stacks, processor time", spent[1], "s")
