"""Two seasons of a drawn yard, week by week: what was said each week, and what came.

The yard that comes true is one that the program's own priors leave possible: its parts of yield
and lead time are drawn once and last, each season's is drawn anew. The diary begins empty, goes
by its own rules, and that of the first season is there in the second.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date, timedelta
from statistics import NormalDist
from typing import Any

import numpy as np

from fruitcast.app.choosing import build
from fruitcast.app.hindcast import (
    HindcastParams,
    LivingPlan,
    carried_out,
    known_in,
    season_days,
    weather_by,
)
from fruitcast.app.known import KnownYard
from fruitcast.forecast.learned import SURE, YardLearning, nothing_learned
from fruitcast.forecast.parts import keyed_generator
from fruitcast.hindcast.diary import SimulatedYard, SoakDone
from fruitcast.hindcast.policies import PathDates, plan_dates
from fruitcast.hindcast.truth import CarriedSoak, TrueFlush, TrueSeason, Truth, true_season
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import fresh_ledger, soak_outcome
from fruitcast.soaks.problem import Plan
from fruitcast.soaks.sale_days import outlet_days
from fruitcast.soaks.search import SearchParams
from fruitcast.soaks.supply import likely_range, promised
from tests.calibration.yards import YEAR_DAYS, drawn_yard

SHARES = (0.6, 0.8, 0.9)

LEADS = ((0, 7), (14, 21), (35, 42))
"""Days before a sale between which its promise is looked at: one plan a week each. [day]"""


LIGHT = SearchParams(moves=6_000, moves_a_stack=600)


@dataclass(frozen=True)
class Way:
    """How two seasons are lived through."""

    weeks: int = 24
    horizon: int = 9
    members: int = 30
    paths: int = 150
    search: SearchParams = LIGHT
    yield_factor: float = 1.0
    lead_factor: float = 1.0
    seasons: int = 2


@dataclass
class Promise:
    """What was said of the stock on one day of sale, and what was there."""

    season: int
    week: int
    lead: int
    target: float
    sure: tuple[float, ...]
    low: float
    high: float
    mean: float
    on: str
    outlet: str
    below: float = np.nan
    had: float = np.nan
    paths: tuple[float, ...] = ()


@dataclass
class Said:
    """A range said of something, and what came; `below` is the chance said to stay below that."""

    what: str
    season: int
    week: int
    kind: str
    low: float
    high: float
    mean: float
    came: float
    below: float


def live(site: str, number: int, way: Way) -> dict[str, Any]:
    """Return all that was said and came in a yard's seasons."""
    ahead = season_days(way.weeks, tail_days=35)
    drawn = drawn_yard(site, number, ahead=max(ahead, YEAR_DAYS + 40), members=way.members)
    known = drawn.known
    seed = 50_000 + 1000 * hash_of(site) + number
    real = real_yard(known, site, number, seed)
    found: dict[str, Any] = {
        "site": site,
        "number": number,
        "promises": [],
        "said": [],
        "years": [],
    }
    for season in range(1, way.seasons + 1):
        truth = Truth(way.lead_factor, way.yield_factor, seed + 77 * season)
        true = _true(known, drawn.held_out[season - 1], truth, real, way)
        params = HindcastParams(
            weeks=way.weeks, truth=truth, search=way.search, forecast_days=7 * (number % 2)
        )
        done = _season(known, true, params, season, way, found)
        known = _next(known, true, done)
    found["held_out"] = drawn.held_out
    return found


@dataclass
class UnevenSeason(TrueSeason):
    """A season whose baskets are as uneven as the program believes baskets to be.

    What a flush gives in all stays as it was: some of it is picked earlier or later.
    """

    def flushes(self, name: str, soaks: Sequence[CarriedSoak]) -> tuple[TrueFlush, ...]:
        return tuple(self._uneven(name, flush) for flush in super().flushes(name, soaks))

    def _uneven(self, name: str, flush: TrueFlush) -> TrueFlush:
        if not flush.picks:
            return flush
        luck = keyed_generator(self.year, name, flush.kind, flush.begun, "baskets")
        spread = self._numbers.picking.basket_spread
        kg = np.array([kg for _, kg in flush.picks])
        picked = kg * np.exp(spread * luck.standard_normal(len(kg)))
        picked *= kg.sum() / picked.sum()
        days = [on for on, _ in flush.picks]
        return replace(flush, picks=tuple(zip(days, picked.tolist(), strict=True)))


def real_yard(known: KnownYard, site: str, number: int, seed: int) -> YardLearning:
    """Return the yard that comes true: the parts that move all its promises evenly drawn.

    Each yard is as likely as the priors have it, but a run of them is spread over what is
    likely, so that fewer yards tell as much.
    """
    years = range(known.today.year - 1, known.today.year + 5)
    before = nothing_learned(known.today, known.yard.site, known.numbers.spread)
    real = before.come_true(known.yard.stacks, years, seed)
    yields, leads = real.yields, real.leads
    place = {("yard", ""): 2} | {("season", str(y)): 3 + 2 * (y % 2) for y in years}
    for part, base in place.items():
        mean = yields.mean.copy()
        mean[yields.names.index(part)] = yields.spread[part[0]] * _even(site, number, base)
        yields = replace(yields, mean=mean)
    mean = leads.mean.copy()
    mean[leads.names.index(("yard", ""))] = leads.spread["yard"] * _even(site, number, 7)
    drawn = np.sort(np.random.default_rng(1).beta(*before.failure, size=10_001))
    fails = float(drawn[int(NormalDist().cdf(_even(site, number, 11)) * 10_000)])
    return replace(
        real,
        yields=yields,
        leads=replace(leads, mean=mean),
        failure=(SURE * fails, SURE * (1 - fails)),
    )


def _even(site: str, number: int, base: int) -> float:
    """Return a standard normal draw from an evenly spread sequence: Halton's, shifted by site."""
    share, step = float(np.random.default_rng([hash_of(site), base]).random()), 1.0
    number += 1
    while number:
        step /= base
        number, digit = divmod(number, base)
        share += step * digit
    return NormalDist().inv_cdf(min(max(share % 1.0, 1e-6), 1 - 1e-6))


def hash_of(site: str) -> int:
    return sum(map(ord, site)) % 97


def _true(known: KnownYard, year: int, truth: Truth, real: YardLearning, way: Way) -> SimulatedYard:
    # The weeks reach so far that winter's flushes come true too.
    season = true_season(
        known.yard,
        known.state,
        known.weather,
        known.today,
        year,
        truth,
        weeks=YEAR_DAYS // 7 - 5 if way.seasons > 1 else way.weeks,
        numbers=known.numbers,
        believed=real,
    )
    season = UnevenSeason(**{one.name: getattr(season, one.name) for one in fields(season)})
    sales = outlet_days(known.yard, known.today, 7 * way.weeks)
    return SimulatedYard(known.yard, known.state, season, way.weeks, sales, known.numbers)


def _next(known: KnownYard, true: SimulatedYard, done: Sequence[SoakDone]) -> KnownYard:
    """Return what is known a year later."""
    day = known.today + timedelta(days=YEAR_DAYS)
    weather = weather_by(known.weather, known.today, true.season.year, day, 0)
    state = replace(true.state_on(done, {}, day), stock=())
    return replace(known, today=day, state=state, weather=weather)


def _season(
    known: KnownYard,
    true: SimulatedYard,
    params: HindcastParams,
    season: int,
    way: Way,
    found: dict[str, Any],
) -> list[SoakDone]:
    done: list[SoakDone] = []
    published: PathDates = {}
    policy = LivingPlan(way.search)
    promises: list[Promise] = []
    waiting: list[tuple[Said, np.ndarray, str, date]] = []
    for week in range(way.weeks):
        now = known_in(known, true, done, published, week, params)
        built = build(now, weeks=min(way.horizon, way.weeks - week), seed=params.seed)
        plan = policy.plan(built.problem)
        ledger = fresh_ledger(built, plan, way.paths)
        promises += _promises(built, ledger.available, season, week)
        soaks, _ = carried_out(built, plan, 7)
        waiting += _soaks(built, plan, season, week)
        waiting += _under_way(built, season, week)
        done += soaks
        published = plan_dates(built.problem, plan)
    found["promises"] += [asdict(promise) for promise in _kept(promises, true, done)]
    flushes = true.flushes(done)
    found["said"] += [asdict(said) for said in _came(waiting, flushes, known)]
    sold = true.sold_by(done, true.first + timedelta(days=7 * way.weeks))
    found["years"].append(
        {
            "season": season,
            "year": true.season.year,
            "demand": sum(sale.target for sale in true.sales),
            "delivered": sum(sold.delivered),
            "soaks": len(done),
            "forced": sum(f.kg for mine in flushes.values() for f in mine if f.kind == "forced"),
            "natural": sum(f.kg for mine in flushes.values() for f in mine if f.kind == "natural"),
        }
    )
    return done


def _promises(built: BuiltProblem, available: np.ndarray, season: int, week: int) -> list[Promise]:
    problem = built.problem
    found = []
    for sale, outlet in enumerate(problem.outlets):
        lead = next((n for n, (a, b) in enumerate(LEADS) if a <= outlet.day < b), None)
        if lead is None or outlet.day >= problem.horizon_days:
            continue
        stock = available[sale]
        low, high = likely_range(stock, 0.8, problem.members, problem.past_years)
        found.append(
            Promise(
                season,
                week,
                lead,
                outlet.target,
                tuple(
                    float(promised(stock, share, problem.members, problem.past_years))
                    for share in SHARES
                ),
                float(low),
                float(high),
                float(stock.mean()),
                str(problem.today + timedelta(days=outlet.day)),
                outlet.outlet,
                paths=tuple(np.round(np.sort(stock), 4).tolist()),
            )
        )
    return found


def _kept(
    promises: Sequence[Promise], true: SimulatedYard, done: Sequence[SoakDone]
) -> list[Promise]:
    sold = true.sold_by(done, true.first + timedelta(days=7 * true.weeks))
    had = {
        (str(true.first + timedelta(days=sale.day)), sale.outlet): kg
        for sale, kg in zip(true.sales, sold.available, strict=True)
    }
    for promise in promises:
        promise.had = had[promise.on, promise.outlet]
        paths = np.array(promise.paths)
        promise.below = _place(paths, promise.had)
        promise.paths = ()
    return list(promises)


def _place(paths: np.ndarray, came: float) -> float:
    """Return the share of the paths that stay below what came; ties count half."""
    return float((paths < came - 1e-6).mean() + (np.abs(paths - came) <= 1e-6).mean() / 2)


def _soaks(
    built: BuiltProblem, plan: Plan, season: int, week: int
) -> list[tuple[Said, np.ndarray, str, date]]:
    """Return what is said of the soaks of the coming week, with all members."""
    problem, found = built.problem, []
    fails = built.outlook.learned.fails
    for index, path in enumerate(plan):
        if not path or problem.soak_days[path[0]] >= 7:
            continue
        stack, out = problem.stacks[index], soak_outcome(built, index, path, 0)
        on = problem.today + timedelta(days=int(problem.soak_days[path[0]]))
        first = built.outlook.futures.date(0)
        name = built.outlook.stacks[index].stack.strain_class
        said = Said("comes", season, week, name, 0, 0, float(out.comes.mean()) * (1 - fails), 0, 0)
        found.append((said, out.comes.astype(float), stack.name, on))
        if out.comes.any():
            rows = (out.pick_row[out.comes] + first.toordinal()).astype(float)
            kg = out.kg[out.comes] / (1 - fails)
            for what, values in (("first pick", rows), ("flush", kg)):
                said = Said(what, season, week, name, *_range(values), 0.0, 0.0)
                found.append((said, values, stack.name, on))
    return found


def _range(values: np.ndarray) -> tuple[float, float, float]:
    low, high = np.quantile(values, (0.1, 0.9), method="inverted_cdf")
    return float(low), float(high), float(values.mean())


def _under_way(
    built: BuiltProblem, season: int, week: int
) -> list[tuple[Said, np.ndarray, str, date]]:
    found = []
    for stack in built.outlook.stacks:
        flush = built.outlook.flushes.get(stack.name)
        if flush is not None and flush.picked_kg > 0:
            values = flush.picked_kg + stack.effective_logs * flush.kg
            kind = f"{flush.kind} under way"
            said = Said(kind, season, week, stack.stack.strain_class, *_range(values), 0.0, 0.0)
            found.append((said, values, stack.name, flush.begun))
    return found


def _came(
    waiting: Sequence[tuple[Said, np.ndarray, str, date]],
    flushes: Mapping[str, Sequence[TrueFlush]],
    known: KnownYard,
) -> list[Said]:
    found = []
    for said, values, name, on in waiting:
        mine = [flush for flush in flushes[name] if flush.picks]
        if said.what in ("comes", "first pick", "flush") or said.what.startswith("forced"):
            flush = next((f for f in mine if f.kind == "forced" and f.begun == on), None)
        else:
            flush = next((f for f in mine if f.kind == "natural" and f.picks[0][0] == on), None)
        if said.what == "comes":
            said.came = float(flush is not None)
        elif flush is None:
            continue
        elif said.what == "first pick":
            said.came = float(flush.picks[0][0].toordinal())
        else:
            said.came = flush.kg
        said.below = _place(values, said.came)
        found.append(said)
    return found
