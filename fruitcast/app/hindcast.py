"""A season lived through week by week with a past year's weather, and what is known each morning.

The yard stands as it does today: 'this season with the weather of year Y'. Each week is
planned with what was known by then: the true year's days that have passed, and the other
years as possible futures. The first week's soaks are carried out in the true season, what
grows is picked, sold oldest first and written down, and the next week begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import ClassVar

import numpy as np

from fruitcast.app.choosing import DEFAULT_SEED, build, choose_paths
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard
from fruitcast.forecast.learned import YardLearning
from fruitcast.forecast.members import PERFECT, USUAL_DAYS, make_futures, uniform
from fruitcast.forecast.outlook import YardOutlook, days_ahead, outlook
from fruitcast.hindcast.diary import SimulatedYard, SoakDone
from fruitcast.hindcast.policies import (
    LONGEST_SEASON,
    FixedRotation,
    PathDates,
    Policy,
    RuleOfHand,
    SensibleRotation,
    last_plan,
    only_member,
    plan_dates,
)
from fruitcast.hindcast.scores import PromiseKept, SeasonScore, SoakScore
from fruitcast.hindcast.truth import CarriedSoak, Truth, true_season
from fruitcast.soaks.build import BuiltProblem, build_problem
from fruitcast.soaks.expected import fresh_ledger, soak_outcome
from fruitcast.soaks.problem import Plan, Problem
from fruitcast.soaks.sale_days import outlet_days
from fruitcast.soaks.search import GLANCE, ONE_FUTURE, QUICK, Search, SearchParams
from fruitcast.soaks.supply import promised
from fruitcast.topics import ForecastNumbers
from fruitcast.weather.daily import DailyWeather, Source, same_day

# What is known on each morning of a season lived through with a past year's weather.

PLAN, NINE_WEEK, SENSIBLE, BY_HAND, WEATHER, FORESIGHT = POLICIES = (
    "plan",
    "nine-week rotation",
    "sensible rotation",
    "rule of hand",
    "weather foresight",
    "perfect foresight",
)
"""Weather foresight is the planner with a perfect forecast of the whole season; perfect foresight
knows lead times and yields too, scatter and all."""

LEAP_DAYS = 2
"""Days by which a past year's days may slip against the calendar. [day]"""


@dataclass(frozen=True)
class HindcastParams:
    """How a season is lived through."""

    weeks: int = DEFAULT_WEEKS  # length of the season
    seed: int = DEFAULT_SEED  # seed of the plans
    forecast_days: int = 0  # weather ahead that a forecast tells, as wrong as the numbers say
    # How the true season differs from what the planner believes.
    truth: Truth = field(default_factory=Truth)
    search: SearchParams = QUICK  # how long to search each week
    foresight: SearchParams = ONE_FUTURE  # how long the one who knows all searches, once
    # Whether the planner goes on learning from what is picked; else it keeps to what the diary had
    # taught it when the season began.
    learning: bool = True
    policies: tuple[str, ...] = POLICIES  # who is to live through the season, of `POLICIES`


def season_days(weeks: int, *, tail_days: float) -> int:
    """Return how many days from today past years must have weather for. [day]"""
    return days_ahead(weeks, tail_days=tail_days) + LEAP_DAYS


def with_sure_forecast(known: KnownYard) -> KnownYard:
    """Return the same knowledge of one whose forecasts are never wrong."""
    return replace(known, numbers=replace(known.numbers, forecast=PERFECT))


def known_in(
    known: KnownYard,
    true: SimulatedYard,
    done: Sequence[SoakDone],
    published: PathDates,
    week: int,
    params: HindcastParams,
) -> KnownYard:
    """Return what is known on the first morning of a week of the true season."""
    day = known.today + timedelta(days=7 * week)
    soaked = {soak.stack: soak.soak.on for soak in done}
    coming = {
        stack: next((on for on in dates if on > soaked.get(stack, date.min)), None)
        for stack, dates in published.items()
    }
    later = day.year - known.today.year
    ahead = min(
        params.forecast_days,
        season_days(params.weeks, tail_days=known.numbers.schedule.tail_days) - 7 * week,
    )
    weather = weather_by(known.weather, known.today, true.season.year, day, ahead)
    years = tuple(year + later for year in known.years if year != true.season.year)
    error = known.numbers.forecast
    return replace(
        known,
        today=day,
        state=true.state_on(done, {s: on for s, on in coming.items() if on}, day),
        weather=as_forecast(weather, day, years, ahead, error, params.truth.seed),
        years=years,
    )


def as_forecast(
    weather: DailyWeather,
    today: date,
    years: tuple[int, ...],
    days: int,
    error: ForecastNumbers,
    seed: int,
) -> DailyWeather:
    """Return the weather with a forecast that is as wrong as forecasts are.

    What is forecast and what comes depart from one another alike whichever is the given one: so
    the forecast is one of the possible futures of a planner who was told the truth.

    `weather` is what was, and what will truly be in its last days; `today` is the first of these,
    and the errors are taken from past `years`. The seed is that of the season that comes true.
    """
    if not days or error == PERFECT:
        return weather
    futures = make_futures(
        weather, today, years, lookback=0, days_ahead=max(days, USUAL_DAYS), seed=seed, error=error
    )
    drawn = int(uniform(f"{seed}|forecast made on {today}") * len(futures.years))
    values = {name: column.copy() for name, column in weather.values.items()}
    for name, column in values.items():
        column[weather.index(today) :] = getattr(futures, name)[:days, drawn]
    return replace(weather, values=values)


def weather_by(
    weather: DailyWeather, today: date, year: int, day: date, forecast_days: int
) -> DailyWeather:
    """Return the weather known on a day of the season with a past year's weather.

    `weather` is complete up to the day before `today`, the first of the season; the past year's
    days follow on from then. Planned is on `day`, from which on a perfect forecast tells
    `forecast_days`.
    """
    past = weather.cut(weather.start, today)
    begin = weather.index(same_day(today, year))
    rows = begin + np.arange((day - today).days + forecast_days)
    values = {
        name: np.concatenate([past.values[name], column[rows]])
        for name, column in weather.values.items()
    }
    sources = {
        name: np.concatenate([past.sources[name], codes[rows]])
        for name, codes in weather.sources.items()
    }
    for codes in sources.values():
        codes[len(codes) - forecast_days :] = Source.FORECAST
    return replace(past, values=values, sources=sources)


# A season lived through week by week with the weather of a past year, under one policy or more.

PROMISE_PATHS = 150
"""Fresh paths that promises are made on: fewer than a plan's, which is made once. A bound of the
calculation."""

PROMISE_DAYS = 14
"""Promises to outlets are fixed so many days ahead. [day]"""


@dataclass
class LivingPlan:
    """The planner: each week the plan of last week, mended or made anew."""

    params: SearchParams
    dates: PathDates = field(default_factory=dict)  # the plan last made
    weeks: ClassVar[int] = LONGEST_SEASON
    crops: ClassVar[bool] = True

    def plan(self, problem: Problem) -> Plan:
        """Return this week's plan."""
        search = Search(problem, self.params)
        last = last_plan(problem, self.dates) if self.dates else None
        plan = choose_paths(search, last, glance=GLANCE)
        self.dates = plan_dates(problem, plan)
        return plan


def hold_out(known: KnownYard, year: int, params: HindcastParams) -> list[SeasonScore]:
    """Return what each policy makes of the season with the weather of one past year.

    `known` is what is known on the first day of the season; its `years` have the one held out.
    """
    yard, numbers = known.yard, known.numbers
    before = look_before(known, year, params)
    season = true_season(
        yard,
        known.state,
        known.weather,
        known.today,
        year,
        params.truth,
        weeks=params.weeks,
        numbers=numbers,
        believed=before.learned,
        before=before,
    )
    true = SimulatedYard(
        yard,
        known.state,
        season,
        params.weeks,
        outlet_days(yard, known.today, 7 * params.weeks),
        numbers,
    )
    living: dict[str, Policy] = {
        PLAN: LivingPlan(params.search),
        NINE_WEEK: FixedRotation(),
        SENSIBLE: SensibleRotation(),
        BY_HAND: RuleOfHand(),
        WEATHER: LivingPlan(params.search),
    }
    all_known = replace(
        params, forecast_days=season_days(params.weeks, tail_days=numbers.schedule.tail_days)
    )
    foreknown = with_sure_forecast(known)
    lives = [
        _Life(
            foreknown if name == WEATHER else known,
            true,
            name,
            living[name],
            all_known if name == WEATHER else params,
            None if params.learning and living[name].crops else before.learned,
            before,
        )
        for name in params.policies
        if name in living
    ]
    for week in range(params.weeks):
        # Who looks furthest ahead in the same weather, whoever it is.
        looked: dict[int, tuple[int, YardOutlook]] = {}
        for life in lives:
            ahead = min(params.weeks - week, life.policy.weeks)
            furthest, beside = looked.get(life.params.forecast_days, (0, None))
            look = life.live(week, ahead, beside if ahead <= furthest else None)
            if ahead > furthest:
                looked[life.params.forecast_days] = ahead, look
    scores = [life.score() for life in lives]
    if FORESIGHT in params.policies:
        scores.append(_foresee(true, params))
    return scores


def _foresee(true: SimulatedYard, params: HindcastParams) -> SeasonScore:
    """Return the season of one who knows it beforehand: weather, lead times and yields."""
    season = true.season
    built = build_problem(
        season.outlook, weeks=params.weeks, seed=params.seed, promise=true.yard.promise
    )
    problem = only_member(built.problem, 0)
    plan = Search(problem, params.foresight).run()
    soaks, foreseen = carried_out(replace(built, problem=problem), plan, 7 * params.weeks)
    return _score(true, FORESIGHT, soaks, foreseen, [])


def look_before(known: KnownYard, year: int, params: HindcastParams) -> YardOutlook:
    """Return what the planner knew when the season began: what the diary had taught, moisture."""
    return outlook(
        known.yard,
        known.state,
        known.weather,
        known.today,
        tuple(other for other in known.years if other != year),
        [],
        weeks=1,
        seed=params.seed,
        numbers=known.numbers,
    )


@dataclass
class _Life:
    """What one policy makes of the true season, week by week."""

    known: KnownYard  # what is known on the first day
    true: SimulatedYard  # the true season
    name: str  # who decides
    policy: Policy  # how they decide
    params: HindcastParams
    learned: YardLearning | None  # what was learned, to keep to; None learns it week by week
    before: YardOutlook  # what was seen on the first day, then in the week now lived through
    _done: list[SoakDone] = field(default_factory=list)
    _foreseen: list[SoakScore] = field(default_factory=list)
    _promises: list[PromiseKept] = field(default_factory=list)
    _published: PathDates = field(default_factory=dict)

    def live(self, week: int, ahead: int, beside: YardOutlook | None) -> YardOutlook:
        """Plan a week and carry it out; return what was looked at.

        Weeks count from 0, in order; `beside` is what another looked at, see `outlook`.
        """
        built = build(
            known_in(self.known, self.true, self._done, self._published, week, self.params),
            weeks=ahead,
            seed=self.params.seed,
            learned=self.learned,
            before=self.before,
            beside=beside,
            crops=self.policy.crops,
        )
        self.before = built.outlook
        plan = self.policy.plan(built.problem)
        if self.name == PLAN:  # nobody else could promise anything
            self._promises += _promises(built, plan)
        soaks, outcomes = carried_out(built, plan, 7, foreseen=self.policy.crops)
        self._done += soaks
        self._foreseen += outcomes
        self._published = plan_dates(built.problem, plan)
        return built.outlook

    def score(self) -> SeasonScore:
        """Return what has become of the season."""
        return _score(self.true, self.name, self._done, self._foreseen, self._promises)


def carried_out(
    built: BuiltProblem, plan: Plan, days: int, *, foreseen: bool = True
) -> tuple[list[SoakDone], list[SoakScore]]:
    """Return the soaks of a plan in its first days, with what was foreseen of them, if it was."""
    problem, futures = built.problem, built.outlook.futures
    soaks: list[SoakDone] = []
    scores: list[SoakScore] = []
    for index, path in enumerate(plan):
        stack = problem.stacks[index]
        arcs = problem.types[stack.type_index]
        for step, soak in enumerate(path):
            if problem.soak_days[soak] >= days:
                continue
            on = problem.today + timedelta(days=int(problem.soak_days[soak]))
            hours, nights = float(arcs.hours[soak]), int(arcs.nights[soak])
            soaks.append(SoakDone(stack.name, stack.logs, hours, CarriedSoak(on, nights)))
            early = middle = late = expected = None
            if foreseen:
                outcome = soak_outcome(built, index, path, step)
                expected = float(outcome.kg.mean())
                if outcome.comes.any():
                    early, middle, late = (
                        futures.date(outcome.first_pick(share)) for share in (0.1, 0.5, 0.9)
                    )
            scores.append(
                SoakScore(stack.name, on, stack.logs, early, middle, late, expected, None, 0.0)
            )
    return soaks, scores


def _promises(built: BuiltProblem, plan: Plan) -> list[PromiseKept]:
    """Return the promises fixed this week: for outlet days from `PROMISE_DAYS` ahead on."""
    problem = built.problem
    past = PROMISE_DAYS + 7
    available = fresh_ledger(built, plan, PROMISE_PATHS, days=past).available
    sure = promised(available, problem.promise, problem.members, problem.past_years)
    return [
        PromiseKept(
            outlet.outlet, problem.today + timedelta(days=outlet.day), outlet.target, float(kg), 0.0
        )
        for outlet, kg in zip(problem.outlets, sure, strict=True)
        if PROMISE_DAYS <= outlet.day < min(past, problem.horizon_days)
    ]


def _score(
    true: SimulatedYard,
    policy: str,
    done: Sequence[SoakDone],
    foreseen: Sequence[SoakScore],
    promises: Sequence[PromiseKept],
) -> SeasonScore:
    """Return the season's score: what was foreseen beside what came."""
    sold = true.sold_by(done, true.first + timedelta(days=7 * true.weeks))
    stock = {
        (sale.outlet, true.first + timedelta(days=sale.day)): kg
        for sale, kg in zip(true.sales, sold.available, strict=True)
    }
    forced = {
        (name, flush.begun): flush
        for name, flushes in true.flushes(done).items()
        for flush in flushes
        if flush.kind == "forced"
    }
    soaks = []
    for soak in foreseen:
        flush = forced[soak.stack, soak.on]
        first = flush.picks[0][0] if flush.picks else None
        soaks.append(replace(soak, first_pick=first, kg=flush.kg))
    return SeasonScore(
        true.season.year,
        policy,
        sum(sale.target for sale in true.sales),
        sum(sold.delivered),
        sold.expired,
        sold.left,
        tuple(soaks),
        tuple(replace(p, available_kg=stock[p.outlet, p.on]) for p in promises),
    )
