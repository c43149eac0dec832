"""Supply on fresh paths, against plain Python, a known distribution and the members themselves."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.app.choosing import build
from fruitcast.biology.picking import flush_days, pick_shape
from fruitcast.biology.run_length import degree_days
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.yields import rest_factor, temperature_factor
from fruitcast.diary.state import Soak
from fruitcast.numbers import Numbers, default_numbers, numbers_from
from fruitcast.soaks import expected as module
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import FreshPaths, fresh_ledger, fresh_paths
from fruitcast.soaks.problem import Plan
from fruitcast.soaks.search import Search, SearchParams
from fruitcast.soaks.supply import (
    check_days,
    evaluate,
    expected_shortfall,
    likely_range,
    promised,
    reached,
)
from tests.forecast.yards import sample_known
from tests.hindcast.small_yard import small_yard

WEEKS = 22
QUICK = SearchParams(moves=20_000, moves_a_stack=1_000)


def with_spread(numbers: Numbers, size: float) -> Numbers:
    """The numbers with every spread set, past the range that a grower may set."""
    table = {
        key: replace(number, value=size)
        if key.startswith("spread.") and key != "spread.fails_soaks"
        else number
        for key, number in numbers.table.items()
    }
    return numbers_from(table)


@cache
def built(spread: float | None = None, seed: int = 1) -> tuple[BuiltProblem, Plan]:
    """A small yard and a plan for it; with or without spread of yields and lead times."""
    known = small_yard(6, WEEKS)
    if spread is not None:
        known = replace(known, numbers=with_spread(known.numbers, spread))
    made = build(known, weeks=WEEKS, seed=seed)
    return made, Search(made.problem, QUICK).run()


# What can be promised


@given(
    st.lists(st.floats(0, 50), min_size=1, max_size=60),
    st.integers(0, 100).map(lambda percent: percent / 100),
)
def test_a_promise_is_the_greatest_weight_that_so_many_have(weights, share):
    found = float(reached(np.array(weights), share))
    have = [weight >= found for weight in weights]
    assert sum(have) >= share * len(weights) - 1e-9
    assert found in weights
    more = [weight for weight in weights if weight > found]
    assert all(sum(w >= m for w in weights) < share * len(weights) + 1e-9 for m in more) or (
        share == 0
    )


@pytest.mark.parametrize(
    ("share", "kg"), [(0.8, 3.0), (0.81, 2.0), (0.9, 2.0), (0.7, 4.0), (1.0, 1.0), (0.0, 10.0)]
)
def test_of_ten_futures_the_right_one_is_taken(share, kg):
    assert reached(np.arange(10.0, 0.0, -1.0), share) == kg


def test_of_no_sale_nothing_is_promised():
    assert promised(np.empty((0, 60)), 0.8, 30, 30).shape == (0,)


@pytest.mark.parametrize("of_weather", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(("years", "draws"), [(30, 14), (10, 40)])
def test_promises_and_ranges_hold_in_a_year_that_is_none_of_those_known(years, draws, of_weather):
    """Judged by years drawn from the same normal, whatever share of the spread is the weather's."""
    rng = np.random.default_rng(int(years + 100 * of_weather))
    seasons = 3000
    weather = rng.standard_normal((seasons, 1, years)) * np.sqrt(of_weather)
    own = rng.standard_normal((seasons, draws, years)) * np.sqrt(1 - of_weather)
    stock = (weather + own).reshape(seasons, -1)
    came = rng.standard_normal(seasons)
    for share in (0.6, 0.8, 0.9):
        kept = (came >= promised(stock, share, years, years)).mean()
        # Where a year's weather is all, one more year is a step of as much.
        assert share - 0.02 < kept < share + 0.02 + of_weather / (years + 1) / 2
    low, high = likely_range(stock, 0.8, years, years)
    assert 0.78 < ((low <= came) & (came <= high)).mean() < 0.84


def test_what_just_so_many_known_years_have_is_had_by_fewer_new_ones():
    """Of ten years the third smallest is reached by 8 of 11, so 0.8 must take the second."""
    kg = np.arange(10.0, 0.0, -1.0)
    assert reached(kg, 0.8) == 3.0
    assert promised(kg, 0.8, 10, 10) == 2.0
    assert promised(np.tile(kg, 5), 0.8, 10, 10) == 2.0  # no more is known of the years
    assert promised(np.full(10, 4.0), 0.8, 10, 10) == 4.0
    assert promised(np.zeros(20), 0.9, 10, 10) == 0.0
    # Ten members put together from three years tell no more than three years do.
    assert promised(kg, 0.6, 10, 10) == 4.0
    assert promised(kg, 0.6, 10, 3) == 3.0
    assert promised(kg, 0.8, 10, 3) == 1.0


def test_a_soak_without_mushrooms_yet_fails_on_as_many_paths_as_soaks_do():
    """Whole crops on the others: the mean stays what the members say."""
    known = small_yard(1, WEEKS)
    name, state = next(iter(known.state.stacks.items()))
    on = known.today - timedelta(days=3)
    soak = Soak(on, state.logs, 24.0, on + timedelta(days=1))
    stacks = {name: replace(state, soaks=(soak,))}
    known = replace(known, state=replace(known.state, stacks=stacks))
    made = build(known, weeks=WEEKS, seed=1)
    flush, fails = made.outlook.flushes[name], made.outlook.learned.fails
    assert flush.fails == fails > 0
    paths = fresh_paths(made.outlook, 1, 200)
    walk = module._Walk(made, ((),), paths, made.outlook.together[0])
    whole = np.ones((made.outlook.futures.days, paths.count))
    days = module.PickDays(made.outlook.futures.lookback, made.problem.days, whole)
    _, path, _, kg = walk._under_way(days)
    total = np.bincount(path, weights=kg, minlength=paths.count)
    due = (flush.kg > 0)[paths.under_way]
    assert (total[due] == 0).mean() == pytest.approx(fails, abs=0.015)
    said = float((flush.kg * made.outlook.stacks[0].effective_logs)[paths.under_way].mean())
    assert total.mean() == pytest.approx(said, rel=0.02)


# Against the members


def test_without_spread_every_path_is_its_member(monkeypatch):
    """Whole walks and the problem's arcs are two ways to the same crops."""
    made, plan = built(spread=1e-13)
    assert sum(len(path) > 1 for path in plan) > 2
    drawn = fresh_paths

    def own_flushes(*given: object) -> FreshPaths:
        paths = drawn(*given)
        return replace(paths, under_way=paths.member)

    monkeypatch.setattr(module, "fresh_paths", own_flushes)
    problem = made.problem
    _, ledger = evaluate(problem, plan, check_days(problem))
    fresh = fresh_ledger(made, plan, 2 * problem.members)
    np.testing.assert_allclose(fresh.available, np.tile(ledger.available, (1, 2)), atol=1e-4)
    np.testing.assert_allclose(fresh.expired, np.tile(ledger.expired, 2), atol=1e-4)


def test_a_plan_that_was_not_chosen_by_the_members_brings_about_what_they_say():
    """The mean over all luck is the same; only a plan chosen by some luck flatters itself."""
    made, plan = built()
    other, _ = built(seed=77)
    said = expected_shortfall(made.problem, fresh_ledger(made, plan, 1500))
    _, ledger = evaluate(other.problem, plan, check_days(other.problem))
    assert expected_shortfall(other.problem, ledger) == pytest.approx(
        said, abs=0.03 * made.problem.demand
    )


# By hand: one path of one stack, walked through day by day


def walked(made: BuiltProblem, plan: Plan, stack: int, paths: FreshPaths, path: int) -> np.ndarray:
    """What one stack's picks come to on one path, day by day in plain Python. [kg by row]"""
    outlook, look = made.outlook, made.outlook.stacks[stack]
    futures, numbers, logs = outlook.futures, default_numbers(), outlook.kinds[look.kind]
    strain = numbers.strain(look.kind.strain_class)
    member, days = int(paths.member[path]), futures.days
    tmean = futures.tmean[:, member]
    warm = degree_days(tmean, strain.forced.base_temperature, strain.cap_temperature)
    picked = np.zeros(days)

    def ripe(start: int, need: float) -> int:
        total, row = 0.0, start
        while row < days and total < need - 1e-9:
            total += warm[row]
            row += 1
        return row if total >= need - 1e-9 else days

    def survives(first: int, past: int) -> float:
        hard = logs.weather.loss[:, member]
        return float(np.exp(hard[min(first, days)] - hard[min(past, days)]))

    def luck(sd: float, *name: object) -> float:
        return float(np.exp(sd * paths.normals(look.name, *name)[path] - sd**2 / 2))

    def bring(kind: str, first: int, length: int, kg: float, set_off: int) -> None:
        season = module.season_rows(futures, outlook.yard.site)[set_off]
        kg *= look.effective_logs * look.season_factors[season] * paths.yields[season, stack, path]
        for day, share in enumerate(pick_shape(length, peak=numbers.picking.peak)):
            if first + day < days:
                picked[first + day] += kg * share

    lead = look.kind.lead_factor * float(paths.leads[stack, path])
    own, slow = numbers.spread.yield_flush, numbers.spread.lead_flush
    rest = int(numbers.natural.rest_days)
    last, ready = (column[member] for column in module.start_of(look, None, futures))
    begun: object = "today"
    soaks = [(int(outlook.soak_rows[k]), k) for k in plan[stack]]
    for number in range(len(soaks) + 1):
        until = soaks[number][0] if number < len(soaks) else days
        count, under_way_to = 0, 0
        row = max(int(ready), int(last) + rest if np.isfinite(last) else 0, 0)
        while row < until:
            if not logs.natural.trigger[row, member]:
                row += 1
                continue
            need = strain.forced.requirement * numbers.natural.requirement_factor * lead
            first, latest = ripe(row, need), row + int(numbers.natural.longest_days)
            if first > latest:
                row += 1
                continue
            if first >= days:
                break
            if first < futures.lookback:
                row += 1
                continue
            mean = tmean[row:first].mean()
            length = int(flush_days("natural", mean, numbers.picking, numbers.natural))
            kg = strain.yields.base * numbers.yields.natural_factor
            kg *= float(temperature_factor(strain.range, mean, numbers.yields))
            kg *= survives(row, first + length)
            kg *= float(
                moisture_factor(
                    logs.weather.moisture[row, member], numbers.moisture, numbers.spawn_run
                )
            )
            kg *= float(rest_factor(max(row - last, 0.0), numbers.yields))
            kg *= luck(own, begun, "natural", count)
            bring("natural", first, length, kg, row)
            count, last, under_way_to = count + 1, first, first + length
            row = first + rest
        if number == len(soaks):
            break
        soak, k = soaks[number]
        pull = int(logs.forced.pull_row[k])
        on = futures.date(soak)
        first = ripe(pull, strain.forced.requirement * lead * luck(slow, on, "lead"))
        failed = paths.chances(look.name, on, "fails")[path] < paths.fails[path]
        mean = tmean[pull:first].mean()
        bears = first < days and first - pull <= numbers.forced.longest_days and not failed
        if bears and under_way_to <= soak and (number or look.spawn.rows[member] <= soak):
            length = int(flush_days("forced", mean, numbers.picking, numbers.natural))
            fits = logs.weather.crop(
                np.array([soak]),
                np.array([pull]),
                logs.forced.hours[[k]],
                np.full((1, len(futures.years)), first),
            )[1][0, member]
            kg = fits * float(rest_factor(max(soak - last, 0.0), numbers.yields))
            bring("forced", first, length, kg * luck(own, on, "yield"), soak)
        last, ready, begun = (first if bears else soak), pull, str(on)
    return picked


def test_single_paths_are_as_walked_through_day_by_day():
    made, plan = built()
    futures = made.outlook.futures
    paths = fresh_paths(made.outlook, made.problem.seed, 3)
    tried = 0
    for stack, look in enumerate(made.outlook.stacks):
        if look.name in made.outlook.flushes:
            continue
        walk = module._Walk(made, plan, paths, made.outlook.kinds[look.kind])
        walk.mine = [stack]
        walk.soaks = [
            module._Soak(stack, k, int(made.outlook.soak_rows[k]), n)
            for n, k in enumerate(plan[stack])
        ]
        crops = walk.picks()
        for path in (0, 5, paths.count - 1):
            mine = crops.member == path
            total = np.zeros(made.problem.days)
            np.add.at(total, crops.day[mine], crops.kg[mine])
            expected = walked(made, plan, stack, paths, path)
            expected *= made.outlook.yard.saleable * walk.logs.keeping[:, paths.member[path]]
            begin = futures.lookback
            np.testing.assert_allclose(
                total, expected[begin : begin + made.problem.days], atol=1e-9
            )
            tried += int((total > 0).any())
    assert tried > 10


# A known distribution


def test_the_parts_are_spread_as_the_numbers_say_and_every_year_meets_all_of_them():
    made, _ = built()
    members, draws = made.problem.members, 400
    paths = fresh_paths(made.outlook, 1, draws)
    spread = default_numbers().spread
    assert made.outlook.learned.yields.names is not None
    log = np.log(paths.yields[0])
    lasting = np.hypot(spread.yield_yard, np.hypot(spread.yield_class_tree, spread.yield_stack))
    untaught = np.hypot(lasting, spread.yield_season)
    # What the diary has taught makes it narrower, never wider.
    assert (log.std(axis=1) < 1.05 * untaught).all() and (log.std(axis=1) > 0.2).all()
    assert paths.yields[0].mean(axis=1) == pytest.approx(1.0, abs=0.02)
    assert paths.leads.mean(axis=1) == pytest.approx(1.0, abs=0.01)
    good = (made.outlook.parts.share @ paths.yields[0]).reshape(draws, members)
    # Of the worst tenth of the luck each weather year has its tenth.
    bad = good <= np.quantile(good, 0.1)
    assert np.abs(bad.mean(axis=0) - 0.1).max() < 0.01


def test_stacks_share_the_yards_luck_and_keep_their_own_over_a_path():
    made, _ = built()
    paths = fresh_paths(made.outlook, 1, 100)
    log = np.log(paths.yields[0])
    together = np.corrcoef(log)
    off = together[~np.eye(len(log), dtype=bool)]
    assert off.min() > 0.3 and off.max() < 0.99


# Steadiness


def test_the_same_inputs_give_the_same_bytes():
    made, plan = built()
    one, other = fresh_ledger(made, plan), fresh_ledger(made, plan)
    assert one.available.tobytes() == other.available.tobytes()


def test_walked_side_by_side_or_class_by_class_it_is_the_same(monkeypatch):
    made, plan = built()
    assert len(made.outlook.together[0].classes) > 1
    one = fresh_ledger(made, plan, 60)
    monkeypatch.setattr(module, "SIDE_BY_SIDE", 0)
    assert fresh_ledger(made, plan, 60).available.tobytes() == one.available.tobytes()


def test_days_not_asked_about_change_nothing_of_those_that_are():
    made, plan = built()
    whole, soon = fresh_ledger(made, plan, 60), fresh_ledger(made, plan, 60, days=60)
    asked = [n for n, outlet in enumerate(made.problem.outlets) if outlet.day < 60]
    assert 0 < len(asked) < len(made.problem.outlets)
    np.testing.assert_array_equal(soon.available[asked], whole.available[asked])
    assert (soon.available < whole.available - 0.1).any()


def test_a_stack_that_is_soaked_no_more_leaves_the_others_luck():
    made, plan = built()
    paths = fresh_paths(made.outlook, made.problem.seed, 2)
    gone = next(n for n, path in enumerate(plan) if path)
    less = tuple(() if n == gone else path for n, path in enumerate(plan))
    kind = made.outlook.stacks[gone].kind
    others = [logs for k, logs in made.outlook.kinds.items() if k != kind]
    for other in others:
        before = module._Walk(made, plan, paths, other).picks()
        after = module._Walk(made, less, paths, other).picks()
        np.testing.assert_array_equal(before.kg, after.kg)


def test_a_flush_keeps_its_luck_from_day_to_day():
    made, _ = built()
    paths = fresh_paths(made.outlook, 1, 2)
    on = made.problem.today + timedelta(days=20)
    later = fresh_paths(made.outlook, 1, 3)
    early = paths.normals("A", on, "lead")
    assert (later.normals("A", on, "lead")[: len(early)] == early).all()
    assert not (paths.normals("A", on, "yield") == early).any()
    assert not (fresh_paths(made.outlook, 2, 2).normals("A", on, "lead") == early).any()


def test_the_shortfall_said_differs_little_from_seed_to_seed():
    """The standard error of the shortfall is at most 0.2 points of demand."""
    known = sample_known()
    made = build(known)
    plan = Search(made.problem, QUICK).run()
    said = [
        expected_shortfall(
            made.problem, fresh_ledger(replace(made, problem=replace(made.problem, seed=s)), plan)
        )
        for s in range(50, 62)
    ]
    assert np.std(said) <= 0.002 * made.problem.demand
