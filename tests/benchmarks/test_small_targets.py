"""Small targets: 283 logs that are to bring 1 kg a week, lived through in twenty held-out years.

Run with ``pytest -m long tests/benchmarks/test_small_targets.py -s``; some four minutes of
processor time. Eleven invented stacks stand on the weather of Champion, Nebraska, in the lots that
the program proposes. A point of the demand is 0.24 kg, a flush some 2 kg: single years are luck.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fruitcast.app.choosing import build
from fruitcast.app.hindcast import (
    BY_HAND,
    NINE_WEEK,
    PLAN,
    SENSIBLE,
    HindcastParams,
    hold_out,
    season_days,
)
from fruitcast.app.known import KnownYard
from fruitcast.app.planning import proposal_for
from fruitcast.numbers import default_numbers
from fruitcast.weather.known import known_weather
from fruitcast.yard.model import lots_of
from tests.benchmarks.yards import TODAY, champion, in_lots, invented_yard

STACKS, LOGS, KG_A_WEEK, MEMBERS, YEARS = 11, 283, 1.0, 30, 20
KG_PER_POUND = 0.45359237
RIVALS = (NINE_WEEK, SENSIBLE, BY_HAND)
PARAMS = HindcastParams(policies=(PLAN, *RIVALS))


def small_targets() -> KnownYard:
    """Return what is known of the yard on the first day, its lots accepted."""
    yard, state = invented_yard(STACKS, logs_per_pound_a_week=LOGS * KG_PER_POUND / KG_A_WEEK)
    numbers = default_numbers()
    days = season_days(PARAMS.weeks, tail_days=numbers.schedule.tail_days)
    weather, years = known_weather(champion(), TODAY, days, {})
    known = KnownYard(TODAY, yard, state, weather, years[-MEMBERS:], numbers, ())
    proposal = proposal_for(known, build(known).problem)
    assert proposal is not None
    lots = {each.stack: lots_of(each.stack, each.logs, each.lots[0]) for each in proposal.stacks}
    return replace(known, state=in_lots(state, lots, TODAY))


def test_the_yard_is_to_bring_a_kilogram_a_week() -> None:
    known = small_targets()
    assert sum(stack.logs for stack in known.state.stacks.values()) == LOGS
    assert sum(outlet.target_kg for outlet in known.yard.outlets) == pytest.approx(KG_A_WEEK)
    assert known.state.accepted


@pytest.mark.long
def test_the_plan_saves_more_than_two_errors_over_each_rotation() -> None:
    known = small_targets()
    missing, logs = [], []
    for year in known.years[-YEARS:]:
        scores = {score.policy: score for score in hold_out(known, year, PARAMS)}
        in_order = [scores[name] for name in PARAMS.policies]
        missing.append([100 * (1 - s.delivered_kg / s.demand_kg) for s in in_order])
        logs.append([sum(soak.logs for soak in s.soaks) for s in in_order])
        print(year, dict(zip(PARAMS.policies, np.round(missing[-1], 1).tolist(), strict=True)))
    shares = np.array(missing)
    print("mean", shares.mean(axis=0).round(1), "logs", np.mean(logs, axis=0).round())
    saved = shares[:, 1:] - shares[:, :1]
    error = saved.std(axis=0, ddof=1) / YEARS**0.5
    print("saved", saved.mean(axis=0).round(1), "+-", error.round(1), RIVALS)
    print("worst years", saved.min(axis=0).round(1))
    assert (saved.mean(axis=0) > 2 * error)[:2].all()
