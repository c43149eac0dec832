"""Living a season through: what is known when, what is written down, who decides how."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.app.choosing import build
from fruitcast.app.hindcast import (
    BY_HAND,
    FORESIGHT,
    NINE_WEEK,
    PLAN,
    SENSIBLE,
    WEATHER,
    HindcastParams,
    as_forecast,
    hold_out,
    known_in,
    season_days,
    weather_by,
    with_sure_forecast,
)
from fruitcast.diary.state import StackState
from fruitcast.forecast.learned import nothing_learned
from fruitcast.forecast.members import make_futures
from fruitcast.hindcast.diary import SimulatedYard, SoakDone
from fruitcast.hindcast.policies import FixedRotation, SensibleRotation, last_plan, logs_a_week
from fruitcast.hindcast.scores import SeasonScore
from fruitcast.hindcast.truth import CarriedSoak, Truth, true_season
from fruitcast.soaks.sale_days import outlet_days
from fruitcast.soaks.search import Search
from fruitcast.topics import ForecastNumbers
from fruitcast.weather.daily import Source, same_day
from tests.hindcast.small_yard import PARAMS, QUICK, TODAY, small_yard, with_yard
from tests.soaks.hand import hand_problem
from tests.soaks.instances import yard_like
from tests.soaks.judge import judge

KNOWN = small_yard()
# Before the oldest stack was inoculated: no year of the yard's own past.
YEAR = KNOWN.years[2]
WEEK = timedelta(days=7)


def simulated(known=KNOWN, year: int = YEAR, weeks: int = PARAMS.weeks) -> SimulatedYard:
    true = true_season(
        known.yard,
        known.state,
        known.weather,
        known.today,
        year,
        Truth(),
        weeks=weeks,
        numbers=known.numbers,
        believed=nothing_learned(TODAY, known.yard.site, known.numbers.spread),
    )
    sales = outlet_days(known.yard, known.today, 7 * weeks)
    return SimulatedYard(known.yard, known.state, true, weeks, sales, known.numbers)


@pytest.fixture(scope="module")
def scores() -> dict[str, SeasonScore]:
    return {score.policy: score for score in hold_out(KNOWN, YEAR, PARAMS)}


def some_soaks() -> list[SoakDone]:
    names = [name for name, state in KNOWN.state.stacks.items() if state.logs]
    return [
        SoakDone(name, KNOWN.state.stacks[name].logs, 24.0, CarriedSoak(TODAY + n * WEEK, 1))
        for n, name in enumerate(names[:3])
    ]


def test_the_weather_known_is_the_held_out_years_up_to_yesterday() -> None:
    day = TODAY + 3 * WEEK
    known = weather_by(KNOWN.weather, TODAY, YEAR, day, 0)
    assert known.end == day - timedelta(days=1)
    assert known.index(TODAY) == KNOWN.weather.index(TODAY)
    begin = KNOWN.weather.index(same_day(TODAY, YEAR))
    for name in ("tmin", "tmax", "rain"):
        lived = known.values[name][known.index(TODAY) :]
        np.testing.assert_array_equal(lived, KNOWN.weather.values[name][begin : begin + 21])
        before = known.values[name][: known.index(TODAY)]
        np.testing.assert_array_equal(before, KNOWN.weather.values[name][: len(before)])


def test_a_perfect_forecast_reaches_as_far_as_asked() -> None:
    day = TODAY + 2 * WEEK
    known = weather_by(KNOWN.weather, TODAY, YEAR, day, 6)
    assert all((known.sources[name][-6:] == Source.FORECAST).all() for name in known.sources)
    others = tuple(year for year in KNOWN.years if year != YEAR)
    futures = make_futures(known, day, others, lookback=30, days_ahead=60, seed=1)
    assert futures.known_days == 6


def test_a_forecast_in_the_hindcast_is_as_wrong_as_the_numbers_say() -> None:
    """The first day is off by about a degree, the tenth by more; a sure one not at all."""
    others = tuple(year for year in KNOWN.years if year != YEAR)
    error, off = KNOWN.numbers.forecast, []
    for week in range(12):
        day = TODAY + week * WEEK
        truth = weather_by(KNOWN.weather, TODAY, YEAR, day, 10)
        assert as_forecast(truth, day, others, 10, ForecastNumbers(), 1) is truth
        told = as_forecast(truth, day, others, 10, error, 1)
        np.testing.assert_array_equal(told.tmean[:-10], truth.tmean[:-10])
        off.append(told.tmean[-10:] - truth.tmean[-10:])
    wrong = np.sqrt(np.mean(np.square(off), axis=0))
    assert 0.4 < wrong[0] < 2.0
    assert wrong[7:].mean() > 1.5 * wrong[:3].mean()


def test_the_held_out_year_is_no_member_and_all_others_are() -> None:
    now = known_in(KNOWN, simulated(), [], {}, 4, PARAMS)
    assert now.today == TODAY + 4 * WEEK
    assert set(now.years) == set(KNOWN.years) - {YEAR}
    assert set(build(now, weeks=4).problem.years) >= set(now.years)


def test_nothing_is_decided_by_weather_to_come() -> None:
    """Another end of the true year leaves every soak before it as it was."""
    turn = TODAY + 5 * WEEK
    row = KNOWN.weather.index(same_day(TODAY, YEAR)) + (turn - TODAY).days
    values = {name: column.copy() for name, column in KNOWN.weather.values.items()}
    span = slice(row, row + 60)
    for name in ("tmin", "tmax", "tmean"):
        values[name][span] += 9.0
    values["rain"][span] = 0.0
    other = replace(KNOWN, weather=replace(KNOWN.weather, values=values))
    params = replace(PARAMS, policies=(PLAN, NINE_WEEK))
    changed = False
    for before, after in zip(
        hold_out(KNOWN, YEAR, params), hold_out(other, YEAR, params), strict=True
    ):
        early = [[s for s in score.soaks if s.on < turn] for score in (before, after)]
        foreseen = [
            [(s.stack, s.on, s.early, s.middle, s.late, s.expected_kg) for s in soaks]
            for soaks in early
        ]
        assert foreseen[0] == foreseen[1]
        assert foreseen[0]
        changed |= before != after
    assert changed


def test_what_is_picked_is_sold_spoilt_or_still_there() -> None:
    true, done = simulated(), some_soaks()
    for week in (0, 3, 6, 10):
        day = TODAY + week * WEEK
        sold = true.sold_by(done, day)
        picked = sum(
            kg * true.season.saleable(on, flush.kind)
            for flushes in true.flushes(done).values()
            for flush in flushes
            for on, kg in flush.picks
            if on < day
        )
        before = sum(kg for _, kg in KNOWN.state.stock)
        assert sum(sold.delivered) + sold.expired + sold.left == pytest.approx(picked + before)


def test_the_diary_holds_what_was_seen_by_the_morning_and_no_more() -> None:
    true, done = simulated(), some_soaks()
    flushes = true.flushes(done)
    for week in range(PARAMS.weeks):
        day = TODAY + week * WEEK
        state = true.state_on(done, {}, day)
        for name, stack in state.stacks.items():
            began = KNOWN.state.stacks[name]
            seen = [s.soak.on for s in done if s.stack == name and s.soak.on < day]
            assert [s.on for s in stack.soaks] == [s.on for s in began.soaks] + seen
            picked = defaultdict(float)
            for flush in flushes[name]:
                for on, kg in flush.picks:
                    if on < day:
                        picked[on] += kg
            new = stack.picks[len(began.picks) :]
            assert {pick.on: pick.kg for pick in new} == pytest.approx(dict(picked))
            for pick in new:
                behind = [s for s in stack.soaks if s.on <= pick.on]
                assert (pick.kind == "forced") == (pick.soaked_on is not None)
                if pick.kind == "forced":
                    assert pick.soaked_on == behind[-1].on
        assert sum(kg for _, kg in state.stock) == pytest.approx(true.sold_by(done, day).left)


def test_logs_in_the_tank_are_there_until_pulled() -> None:
    true = simulated()
    name = next(iter(KNOWN.state.stacks))
    friday = TODAY + timedelta(days=3)
    done = [SoakDone(name, 20, 48.0, CarriedSoak(friday, 2))]
    assert not true.state_on(done, {}, friday).stacks[name].in_tank
    assert true.state_on(done, {}, friday + timedelta(days=1)).stacks[name].in_tank
    after = true.state_on(done, {}, friday + timedelta(days=3)).stacks[name]
    assert not after.in_tank and after.last_soak is not None
    assert after.last_soak.pulled_on == friday + timedelta(days=2)


def test_every_policy_keeps_days_tank_and_rest(scores) -> None:
    assert list(scores) == [PLAN, NINE_WEEK, SENSIBLE, BY_HAND, WEATHER, FORESIGHT]
    for score in scores.values():
        last: dict[str, date] = {}
        tank: dict[date, int] = defaultdict(int)
        for soak in sorted(score.soaks, key=lambda s: s.on):
            assert KNOWN.yard.soaking.permits(soak.on)
            assert TODAY <= soak.on < TODAY + PARAMS.weeks * WEEK
            before = last.get(soak.stack) or max(
                (s.on for s in KNOWN.state.stacks[soak.stack].soaks), default=date.min
            )
            assert (soak.on - before).days >= 63
            last[soak.stack] = soak.on
            tank[soak.on] += soak.logs
        assert tank and max(tank.values()) <= KNOWN.yard.soaking.tank_logs
        assert 0 <= score.shortfall_kg <= score.demand_kg


def test_who_knows_all_is_never_surprised(scores) -> None:
    for soak in scores[FORESIGHT].soaks:
        assert soak.kg == pytest.approx(soak.expected_kg, abs=1e-6)
        assert soak.first_pick == soak.early == soak.late
    assert not scores[FORESIGHT].promises
    for rotation in (NINE_WEEK, SENSIBLE, BY_HAND):
        assert scores[FORESIGHT].shortfall_kg < scores[rotation].shortfall_kg


def test_weather_foresight_has_the_whole_season_as_its_forecast() -> None:
    days = season_days(PARAMS.weeks, tail_days=KNOWN.numbers.schedule.tail_days)
    params = replace(PARAMS, forecast_days=days)
    for week in (0, 5):
        now = known_in(with_sure_forecast(KNOWN), simulated(), [], {}, week, params)
        built = build(now, weeks=PARAMS.weeks - week)
        futures = built.outlook.futures
        assert futures.known_days == futures.days - futures.lookback
        assert np.ptp(futures.tmean, axis=1).max() == 0  # one weather, many lead times and yields
        pick = built.types[0].fruiting.forced.pick_row
        assert np.ptp(pick, axis=1).max() > 0


def test_each_outlet_day_from_two_weeks_on_is_promised_once(scores) -> None:
    wanted = {
        (sale.outlet, TODAY + timedelta(days=sale.day))
        for sale in outlet_days(KNOWN.yard, TODAY, 7 * PARAMS.weeks)
        if sale.day >= 14
    }
    promised = [(promise.outlet, promise.on) for promise in scores[PLAN].promises]
    assert len(promised) == len(wanted) and set(promised) == wanted
    assert not any(score.promises for name, score in scores.items() if name != PLAN)


def test_a_season_that_runs_past_the_last_sale_is_lived_to_its_end() -> None:
    """The weeks after it have nothing to promise; no diary, so nothing is on hand either."""
    last = TODAY + 4 * WEEK
    outlets = tuple(replace(o, last=(last.month, last.day)) for o in KNOWN.yard.outlets)
    known = with_yard(KNOWN, outlets=outlets)
    states = {name: StackState(name, state.logs) for name, state in KNOWN.state.stacks.items()}
    for state in (known.state, replace(KNOWN.state, stacks=states)):
        params = replace(PARAMS, policies=(PLAN, SENSIBLE))
        plan, rotation = hold_out(replace(known, state=state), YEAR, params)
        assert plan.promises and all(promise.on <= last for promise in plan.promises)
        assert rotation.soaks


def test_the_same_seed_gives_the_same_season(scores) -> None:
    (again,) = hold_out(KNOWN, YEAR, replace(PARAMS, policies=(PLAN,)))
    assert again == scores[PLAN]


class Attentive(FixedRotation):
    """A rotation by one who looks at the crops, and so learns of them."""

    crops = True


def test_learning_can_be_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fruitcast.app.hindcast.FixedRotation", Attentive)
    params = HindcastParams(
        weeks=PARAMS.weeks, truth=Truth(yield_factor=0.4), policies=(NINE_WEEK,)
    )
    # However little a soak is expected to bring, so that it is proposed whatever was learned.
    known = replace(KNOWN, numbers=KNOWN.numbers.with_overrides({"schedule.weak_soak": 0.0}))
    (learning,) = hold_out(known, YEAR, params)
    (fixed,) = hold_out(known, YEAR, replace(params, learning=False))
    late = TODAY + 6 * WEEK
    expected = [
        sum(soak.expected_kg for soak in score.soaks if soak.on >= late)
        for score in (learning, fixed)
    ]
    assert 0 < expected[0] < 0.9 * expected[1]


def test_a_rotation_learns_nothing_and_foresees_nothing() -> None:
    params = replace(PARAMS, truth=Truth(yield_factor=0.4), policies=(NINE_WEEK,))
    (learning,) = hold_out(KNOWN, YEAR, params)
    assert any(soak.kg for soak in learning.soaks)
    assert {(soak.early, soak.late, soak.expected_kg) for soak in learning.soaks} == {(None,) * 3}
    assert [learning] == hold_out(KNOWN, YEAR, replace(params, learning=False))


@pytest.mark.parametrize("rotation", [FixedRotation, SensibleRotation])
@pytest.mark.parametrize("later", [0, 2, 4, 6])
def test_a_rotation_needs_no_more_than_its_week(rotation, later: int) -> None:
    known = known_in(KNOWN, simulated(), some_soaks(), {}, later, PARAMS)
    near, far = (build(known, weeks=weeks, crops=False).problem for weeks in (1, 9))
    assert near.soak_days.tolist() == [day for day in far.soak_days.tolist() if day < 7]
    now, ahead = rotation().plan(near), rotation().plan(far)
    assert now == tuple(
        path[:1] if path and path[0] in range(len(near.soak_days)) else () for path in ahead
    )


@pytest.mark.parametrize("rotation", [FixedRotation, SensibleRotation])
def test_a_rotation_is_the_same_where_crops_are_left_out(rotation) -> None:
    whole, bare = (build(KNOWN, weeks=9, crops=crops) for crops in (True, False))
    seen, unseen = (len(built.problem.types[0].end_crops.kg) for built in (whole, bare))
    assert seen and not unseen
    plan = rotation().plan(bare.problem)
    assert plan == rotation().plan(whole.problem) and any(plan)


def test_who_looks_beside_another_sees_what_they_would_alone() -> None:
    true, soaked = simulated(), some_soaks()
    idle, busy = (known_in(KNOWN, true, done, {}, 4, PARAMS) for done in ([], soaked))
    other, alone = build(idle, weeks=8).outlook, build(busy, weeks=6).outlook
    beside = build(busy, weeks=6, beside=other).outlook
    assert other.futures.days == alone.futures.days + 14
    assert np.shares_memory(beside.futures.tmean, other.futures.tmean)
    assert np.shares_memory(beside.water.moisture, other.water.moisture)
    assert beside.past.by_stack.tolist() != other.past.by_stack.tolist()
    assert beside.water.moisture.tolist() == alone.water.moisture.tolist()
    assert beside.futures.tmean.tolist() == alone.futures.tmean.tolist()


def test_who_goes_on_from_last_week_sees_what_they_would_anew() -> None:
    true, soaked = simulated(), some_soaks()
    weeks = [known_in(KNOWN, true, soaked, {}, week, PARAMS) for week in (3, 4)]
    last = build(weeks[0], weeks=6).outlook
    on, anew = (build(weeks[1], weeks=6, before=before).outlook for before in (last, None))
    assert on.past.by_stack == pytest.approx(anew.past.by_stack, abs=1e-12)
    assert on.learned.factors == anew.learned.factors != ()
    for one, other in zip(on.stacks, anew.stacks, strict=True):
        assert one.spawn.rows.tolist() == other.spawn.rows.tolist()
        assert one.spawn.ready_on == other.spawn.ready_on
    assert any(one.spawn.over for one in on.stacks)


def test_last_weeks_plan_goes_on_where_it_still_can() -> None:
    problem = build(KNOWN, weeks=8).problem
    plan = Search(problem, QUICK).run()
    dates = {
        stack.name: tuple(TODAY + timedelta(days=int(problem.soak_days[k])) for k in path)
        for stack, path in zip(problem.stacks, plan, strict=True)
    }
    assert last_plan(problem, dates) == plan
    later = build(replace(KNOWN, years=KNOWN.years), weeks=8).problem
    shifted = {name: (TODAY - WEEK, *days, date(2030, 1, 1)) for name, days in dates.items()}
    kept = last_plan(later, shifted)
    assert kept == plan and judge(later, kept).legal


def test_last_weeks_plan_never_overfills_the_tank() -> None:
    problem = hand_problem()
    day = problem.today + timedelta(days=int(problem.soak_days[1]))
    both = {stack.name: (day,) for stack in problem.stacks}
    roomy = last_plan(replace(problem, tank_logs=50), both)
    assert roomy == ((1,), (1,))
    kept = last_plan(problem, both)
    assert kept == ((1,), ()) and judge(problem, kept).legal


def test_the_fixed_rotation_goes_round_week_by_week() -> None:
    problem = yard_like(9, 12, members=2)
    rotation = FixedRotation()
    turns = []
    for _ in range(18):
        rotation.plan(problem)
        assert rotation.turns is not None
        turns.append(rotation.turns.turn)
    assert turns == list(range(1, 19))
    assert len(rotation.turns.groups) == 9
    together = sorted(stack for group in rotation.turns.groups for stack in group)
    assert together == list(range(9))


def test_the_sensible_rotation_pays_back_what_it_overdrew() -> None:
    problem = yard_like(9, 12, members=2)
    a_week = logs_a_week(sum(stack.logs for stack in problem.stacks))
    rotation, soaked = SensibleRotation(), 0
    for week in range(1, 10):
        plan = rotation.plan(problem)
        soaked += sum(
            stack.logs
            for stack, path in zip(problem.stacks, plan, strict=True)
            if path and problem.soak_days[path[0]] < 7
        )
        most = max(stack.logs for stack in problem.stacks)
        assert soaked <= week * a_week + most / 2
