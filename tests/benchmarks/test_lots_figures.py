"""What accepted lots are worth: missing weight, visits and gap on four real weathers.

Run with ``pytest -m benchmark tests/benchmarks/test_lots_figures.py -s``. The sample yard stands on
the daily weather that comes with the package aquacrop (data/NAME_climate.txt), on the last 1 May
with a year behind it, without the order that nobody could meet. It is planned with its stacks
whole, in the lots that the program proposes, and in lots of eight logs, which pay for their visits
like the lots proposed, or nothing. All are parted by the same entries of the diary, so that no log
is fresher for it. Missing weight is on fresh luck, and each figure the mean of several seeds. What
visits cost beyond those of whole stacks is not in the bound: what that leaves of the gap is told.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from fruitcast.app.choosing import build
from fruitcast.app.demo import demo_day, write_sample_yard
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard, read_known
from fruitcast.app.planning import proposal_for
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.soaks.bound import relax
from fruitcast.soaks.expected import fresh_ledger
from fruitcast.soaks.search import Search
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.supply import expected_shortfall, visits_cost
from fruitcast.yard.model import SEPARATOR
from tests.benchmarks.figures import Figures
from tests.requires import need_file

pytestmark = pytest.mark.benchmark

SMALL = 8
"""Logs of the smallest lots that are tried."""

SEEDS = (1, 2, 3)
"""From one to the next a plan's gap differs by up to half a percent of demand: the mean is told."""


def stack_of(name: str) -> str:
    return name.partition(SEPARATOR)[0]


def known_on(site: str, folder: Path, lots: dict[str, int]) -> KnownYard:
    """Return what is known of the sample yard on a site, its stacks in so many lots each."""
    weather = need_file("aquacrop", f"data/{site}_climate.txt")
    end = demo_day(weather, as_it_stands=True)
    today = date(end.year - (end < date(end.year, 5, 4)), 5, 1)
    write_sample_yard(folder, weather=weather, today=today)
    entries = [
        Event("lots", today - timedelta(days=1), stack, into=str(number))
        for stack, number in lots.items()
    ]
    with Diary(folder / "diary.db") as diary:
        diary.add(entries, datetime(2027, 1, 1, tzinfo=UTC))
    days = days_ahead(DEFAULT_WEEKS, tail_days=default_numbers().schedule.tail_days)
    known = read_known(folder, today, days)
    return replace(known, yard=replace(known.yard, orders=()))


def tried_with(seed: int, known: KnownYard, *, free: bool) -> tuple[float, ...]:
    """Return missing weight, gap, price of visits [% of demand], visits and lots that go in."""
    built = build(known, seed=seed)
    if free:
        stacks = tuple(replace(stack, handling=0.0) for stack in built.problem.stacks)
        built = replace(built, problem=replace(built.problem, stacks=stacks))
    problem, tables = built.problem, SearchTables.of(built.problem)
    plan = Search(problem, tables=tables).run()
    gap = tables.cost(plan) - relax(problem)
    assert gap >= -1e-9
    missing = expected_shortfall(problem, fresh_ledger(built, plan))
    visits = {
        (stack_of(stack.name), soak)
        for stack, path in zip(problem.stacks, plan, strict=True)
        for soak in path
    }
    shares = (missing, gap, visits_cost(problem, plan))
    lots = sum(map(len, plan))
    return (*(100 * kg / problem.demand for kg in shares), float(len(visits)), float(lots))


@pytest.mark.parametrize("site", ["champion", "brussels", "cambridge", "tunis"])
def test_lots_on_real_weather(site: str, tmp_path: Path, figures: Figures) -> None:
    whole = known_on(site, tmp_path / "whole", {})
    problem = build(whole).problem
    proposal = proposal_for(whole, problem)
    assert proposal is not None
    logs: dict[str, int] = {}
    for stack in problem.stacks:
        logs[stack_of(stack.name)] = logs.get(stack_of(stack.name), 0) + stack.logs
    ways = {
        "whole": {},
        "in the lots proposed": {each.stack: each.lots for each in proposal.stacks},
        f"in lots of {SMALL}": {name: min(9, -(-n // SMALL)) for name, n in logs.items()},
    }
    ways[f"in lots of {SMALL} whose visits cost nothing"] = ways[f"in lots of {SMALL}"]
    for number, (words, lots) in enumerate(ways.items()):
        known = known_on(site, tmp_path / str(number), lots)
        free = words.endswith("nothing")
        tried = np.array([tried_with(seed, known, free=free) for seed in SEEDS])
        missing, gap, paid, visits, gone_in = tried.mean(axis=0)
        error = tried[:, 0].std(ddof=1) / len(SEEDS) ** 0.5
        name = f"sample yard on {site}, {words}"
        figures.add(f"{name}: missing", missing, "% of demand")
        figures.add(f"{name}: gap", gap, "% of demand")
        figures.add(f"{name}: gap but for what visits cost", gap - paid, "% of demand")
        figures.add(f"{name}: visits", visits, "")
        figures.add(f"{name}: lots that go in", gone_in, "")
        print(
            f"\n{name}: missing {missing:.1f} ± {error:.1f} %, {visits:.0f} visits of "
            f"{gone_in:.0f} lots, gap {gap:.2f} % ({tried[:, 1].min():.2f} to "
            f"{tried[:, 1].max():.2f}), of which visits {paid:.2f} %"
        )
