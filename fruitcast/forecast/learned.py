"""What the yard's own flushes say of its yields and lead times, beside what was to be expected.

Every finished flush of the diary is held against the model: the weight a log gave against
what it should have given in that weather, with that rest, in that bearing year; the warmth
from the pull to the first pick against the table's. All of them teach all parts at once, see
`forecast.parts`. Soaks that brought nothing teach the chance of that. Only days before today
are used.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.forced import bears
from fruitcast.biology.run_length import first_reached
from fruitcast.biology.spread import failure_shape, learn
from fruitcast.biology.yields import hemisphere, season, wear_factor
from fruitcast.diary.plan import Learned
from fruitcast.diary.state import StackState
from fruitcast.forecast.parts import (
    Luck,
    SharedParts,
    lead_case,
    leads_unknown,
    usual_luck,
    wood_case,
    yield_case,
    yields_unknown,
)
from fruitcast.forecast.past_flushes import (
    DiaryFlush,
    Expectation,
    empty_soaks,
    expected_kg,
    finished_flushes,
    lots_together,
)
from fruitcast.forecast.spawn import SpawnRun
from fruitcast.forecast.stacks import Learning
from fruitcast.forecast.water import PastWater
from fruitcast.numbers import Numbers
from fruitcast.topics import SpreadNumbers
from fruitcast.yard.model import Site, Stack

WEAR_ROUNDS = 3
"""Wear depends on what was learned, and the other way round: so often it is gone through, the
first time without wear."""

SURE = 1e9
"""A chance that is known counts as learned from so many soaks."""


@dataclass(frozen=True)
class Question:
    """A flush so far from what was to be expected that the grower is asked about it."""

    stack: str  # stack or lot
    row: str  # name of its row in stacks.csv
    quantity: Literal["yield", "lead time"]  # 'yield' or 'lead time'
    soaked_on: date | None  # its soak; None for a natural flush
    first_pick: date
    logs: int  # logs that it came from
    # observed, expected: weight of the whole flush [kg], or days from the pull to the first pick
    # [day]
    observed: float
    expected: float


@dataclass(frozen=True)
class YardLearning:
    """All that the diary's flushes say."""

    # yields, leads: what is known of the parts of yield and lead time
    yields: SharedParts
    leads: SharedParts
    # Beta distribution of the chance that a soak brings nothing, see `spread.failure_shape`
    failure: tuple[float, float]
    season: int  # the present growing season
    # One for each class and tree with a finished flush, in order of name
    factors: tuple[Learned, ...] = ()
    questions: tuple[Question, ...] = ()  # flushes left out until the grower confirms them
    # The flushes, and since when the logs of each can bear
    learned_from: tuple[tuple[DiaryFlush, date | None], ...] = ()

    @property
    def fails(self) -> float:
        """Chance that a soak brings nothing though the weather suits. [0..1]"""
        return self.failure[0] / sum(self.failure)

    def of(self, stacks: Iterable[Stack]) -> dict[str, Learning]:
        """Return the factors to plan some stacks with, by the name of each."""
        stacks = list({stack.name: stack for stack in stacks}.values())
        leads = {name: self.lead_of(name) for name in {stack.strain_class for stack in stacks}}
        found = {}
        for stack in stacks:
            cases = [yield_case(stack, self.season), yield_case(stack, None)]
            now, lasting = self.yields.factors(cases)
            found[stack.name] = Learning(float(now), leads[stack.strain_class], float(lasting))
        return found

    def of_new_logs(self, strain_class: str, tree: str) -> float:
        """Return the yield of logs to be inoculated over the table's, in a usual season."""
        return float(self.yields.factors([wood_case(strain_class, tree, "", None)])[0])

    def lead_of(self, strain_class: str) -> float:
        """Return the lead time of a class over the table's. [unitless]"""
        return float(self.leads.factors([lead_case(strain_class)])[0])

    def usual_luck(self, years: tuple[int, ...], seed: int) -> tuple[Luck, FloatArray]:
        """Return the luck of logs to be inoculated, see `parts.usual_luck`."""
        return usual_luck(self.yields, self.leads, self.fails, years, seed)

    def come_true(self, stacks: Sequence[Stack], seasons: Iterable[int], seed: int) -> YardLearning:
        """Return one of the yards that this leaves possible, of which all is known.

        With its stacks, and growing seasons that have each a part of their own; the seed says
        which yard.
        """
        rng = np.random.default_rng([seed, 3])
        cases = [yield_case(stack, season) for season in seasons for stack in stacks]
        fails = rng.beta(*self.failure)
        return replace(
            self,
            yields=self.yields.come_true(cases, rng),
            leads=self.leads.come_true([lead_case(s.strain_class) for s in stacks], rng),
            failure=(SURE * fails, SURE * (1 - fails)),
        )

    def giving(self, factor: float) -> YardLearning:
        """Return the same of a yard that gives so many times as much."""
        return replace(self, yields=self.yields.shifted(factor))

    def doubted(self, row: str) -> dict[date, float]:
        """Return what a log should have given in each flush of one stack that is asked about.

        By first pick, of those whose weight is asked about. [kg/log]
        """
        return {
            question.first_pick: question.expected / question.logs
            for question in self.questions
            if question.row == row and question.quantity == "yield"
        }


def nothing_learned(today: date, site: Site, spread: SpreadNumbers) -> YardLearning:
    """Return what is known of a yard before its first flush."""
    return YardLearning(
        yields_unknown(spread),
        leads_unknown(spread),
        failure_shape(0, 0, spread),
        season(today, hemisphere(site.latitude)),
    )


def learn_from_diary(
    stacks: Sequence[tuple[Stack, StackState]],
    runs: Sequence[SpawnRun],
    past: PastWater,
    today: date,
    site: Site,
    numbers: Numbers,
    earlier: YardLearning | None = None,
) -> YardLearning:
    """Return what the finished flushes of a yard's diary say.

    Bearing years count from the spawn runs; they and the account of weather and moisture have the
    stacks in the same order. It ends on the day before `today`, and flushes before it are left out.
    `earlier` is what they said on an earlier day: as long as no more are finished they say the
    same.
    """
    untaught = nothing_learned(today, site, numbers.spread)
    flushes = lots_together(
        [
            flush
            for column, (stack, state) in enumerate(stacks)
            for flush in finished_flushes(
                column, stack, state, past, today, numbers.diary, numbers.picking, numbers.natural
            )
        ]
    )
    model = Expectation(stacks, runs, past, hemisphere(site.latitude), numbers)
    failed = _failed_without_cause(stacks, model)
    bore = sum(flush.soak is not None for flush in flushes)
    learning = replace(untaught, failure=failure_shape(failed, bore, numbers.spread))
    if not flushes:
        return learning
    learned_from = tuple((flush, runs[flush.column].ready_on) for flush in flushes)
    if earlier and earlier.learned_from == learned_from:
        return replace(earlier, failure=learning.failure, season=learning.season)
    yields = _learn_yields(flushes, model, untaught.yields)
    leads = _learn_leads(flushes, model, untaught.leads)
    learning = replace(learning, yields=yields.parts, leads=leads.parts)
    return replace(
        learning,
        learned_from=learned_from,
        factors=_by_class_and_tree(flushes, yields, leads, learning, model),
        questions=(
            *_questions("yield", yields, flushes, model),
            *_questions("lead time", leads, flushes, model),
        ),
    )


@dataclass(frozen=True)
class _Found:
    """Parts learned, from which flushes, and which to ask about with what was expected."""

    parts: SharedParts
    used: tuple[int, ...]
    asked: dict[int, float]


def _learn_yields(flushes: list[DiaryFlush], model: Expectation, parts: SharedParts) -> _Found:
    """Learn the parts of the yield; wear and learning are gone through in turn."""
    numbers = model.numbers
    expected = _expected(flushes, model)
    wood = [model.stacks[flush.column][0] for flush in flushes]
    cases = [
        yield_case(stack, season(flush.first, model.where))
        for stack, flush in zip(wood, flushes, strict=True)
    ]
    lasting = [yield_case(stack, None) for stack in wood]
    parts = parts.including(cases)
    shares, lasting_shares = parts.shares(cases), parts.shares(lasting)
    observed = np.array([flush.kg / flush.logs for flush in flushes])
    confirmed = np.array([flush.confirmed for flush in flushes])
    doubt = np.array([numbers.learning.crate_spread * flush.shared for flush in flushes]) ** 2
    lives = np.array([model.life(flush) for flush in flushes])
    years, life, given = lives.T
    usable = np.flatnonzero(expected > 0)
    whole, wear = np.ones(len(flushes)), np.ones(len(flushes))
    for turn in range(WEAR_ROUNDS):
        if turn:
            # The quarters of any life fall as those of a life of four years.
            wear = wear_factor(given / whole, years / life * 4, 4.0, numbers.yields)
        found = learn(
            shares[usable],
            observed[usable],
            (expected * wear)[usable],
            confirmed[usable],
            prior_variance=parts.variance,
            flush_variance=parts.flush_variance,
            question_at=numbers.learning.question_at,
            doubt_variance=doubt[usable],
        )
        parts = parts.knowing(found)
        whole = parts.factors_of(lasting_shares)
        asked = usable[~found.counted]
        given = lives[:, 2] - _over_given(asked, expected * wear * whole, flushes, model)
    should = expected * wear * parts.factors_of(shares)
    return _Found(
        parts,
        tuple(usable[found.counted].tolist()),
        {at: float(should[at]) for at in asked.tolist()},
    )


def _expected(flushes: list[DiaryFlush], model: Expectation) -> FloatArray:
    """Return what each flush should have given a log by the table, wear left aside. [kg/log]"""
    classes = [model.stacks[flush.column][0].strain_class for flush in flushes]
    expected = np.zeros(len(flushes))
    for strain_class in dict.fromkeys(classes):
        mine = [at for at, name in enumerate(classes) if name == strain_class]
        expected[mine] = expected_kg(strain_class, [flushes[at] for at in mine], model)
    return expected


def _over_given(
    asked: IntArray, expected: FloatArray, flushes: list[DiaryFlush], model: Expectation
) -> FloatArray:
    """Return what doubted flushes before each one seem to have given beyond what was expected.

    As a share of the life's crop.
    """
    beyond = np.zeros(len(flushes))
    of_row: dict[str, list[int]] = {}
    for at, flush in enumerate(flushes):
        of_row.setdefault(flush.row, []).append(at)
    for at in asked.tolist():
        doubted = flushes[at]
        too_much = (doubted.gave - expected[at]) / model.whole(doubted)
        beyond[[n for n in of_row[doubted.row] if flushes[n].first > doubted.first]] += too_much
    return beyond


def _learn_leads(flushes: list[DiaryFlush], model: Expectation, parts: SharedParts) -> _Found:
    """Learn the parts of the lead time.

    Mushrooms ripe at any hour wait for the next morning's pick: on average half of the last
    day's warmth came too late to count.
    """
    past, numbers = model.past, model.numbers
    timed: list[int] = []
    observed, need = [], []
    for at, flush in enumerate(flushes):
        soak = flush.soak
        if soak is None or not (soak.pull_recorded or soak.hours is not None):
            continue
        pull, first = past.row(flush.pulled_on(numbers.forced.usual_hours)), past.row(flush.first)
        if not first > pull >= 0:
            continue
        strain_class = model.stacks[flush.column][0].strain_class
        thermal_time = model.thermal_time(strain_class)
        took = float(
            (thermal_time[first] + thermal_time[max(first - 1, pull)]) / 2 - thermal_time[pull]
        )
        if took > 0:
            timed.append(at)
            observed.append(took)
            need.append(numbers.strain(strain_class).forced.requirement)
    cases = [lead_case(model.stacks[flushes[at].column][0].strain_class) for at in timed]
    parts = parts.including(cases)
    found = learn(
        parts.shares(cases),
        observed,
        need,
        [flushes[at].confirmed for at in timed],
        prior_variance=parts.variance,
        flush_variance=parts.flush_variance,
        question_at=numbers.learning.question_at,
    )
    asked = _table_days([timed[n] for n in np.flatnonzero(~found.counted)], flushes, model)
    used = tuple(timed[n] for n in np.flatnonzero(found.counted))
    return _Found(parts.knowing(found), used, asked)


def _table_days(
    wanted: list[int], flushes: list[DiaryFlush], model: Expectation
) -> dict[int, float]:
    """Return the days from the pull to the first pick by the table, for some flushes. [day]"""
    of_class: dict[str, list[int]] = {}
    for at in wanted:
        strain_class = model.stacks[flushes[at].column][0].strain_class
        of_class.setdefault(strain_class, []).append(at)
    days: dict[int, float] = {}
    for name, mine in of_class.items():
        pull = np.array(
            [model.past.row(flushes[at].pulled_on(model.numbers.forced.usual_hours)) for at in mine]
        )
        took = _ripe_row(name, pull, model) - pull
        days.update(zip(mine, took.astype(float).tolist(), strict=True))
    return {at: days[at] for at in wanted}


def _ripe_row(strain_class: str, pull: IntArray, model: Expectation) -> IntArray:
    """Return the row on which the table has the first pick after each pull."""
    need = model.numbers.strain(strain_class).forced.requirement
    thermal_time = model.thermal_time(strain_class)[:, None]
    return first_reached(thermal_time, pull, np.zeros(len(pull), dtype=np.int64), need)


def _failed_without_cause(stacks: Sequence[tuple[Stack, StackState]], model: Expectation) -> int:
    """Return how many soaks brought nothing though the weather suited; lots of one count once."""
    seen: dict[tuple[str, date], tuple[str, date]] = {}
    for stack, state in stacks:
        for soak, pulled in empty_soaks(state, model.past, model.numbers.forced.usual_hours):
            seen[stack.name, soak.on] = (stack.strain_class, pulled)
    failed = 0
    for strain_class, pulled in seen.values():
        pull = np.array([model.past.row(pulled)])
        ripe = _ripe_row(strain_class, pull, model)
        days, longest = len(model.temperature) - 1, model.numbers.forced.longest_days
        failed += int(bears(pull, ripe[:, None], days, longest_days=longest)[0, 0])
    return failed


def _by_class_and_tree(
    flushes: list[DiaryFlush],
    yields: _Found,
    leads: _Found,
    learning: YardLearning,
    model: Expectation,
) -> tuple[Learned, ...]:
    """Return what to show of each class on each tree."""
    numbers = model.numbers
    wood = [model.stacks[flush.column][0] for flush in flushes]
    kinds = [(stack.strain_class, stack.tree) for stack in wood]
    shown = sorted(set(kinds))
    yields_of = learning.yields.factors([wood_case(*kind, "", None) for kind in shown]).tolist()
    leads_of = {name: learning.lead_of(name) for name in {name for name, _ in shown}}
    found = []
    for (strain_class, tree), lasting in zip(shown, yields_of, strict=True):
        kg = numbers.strain(strain_class).yields.base * numbers.tree(tree).yield_factor
        need = numbers.strain(strain_class).forced.requirement
        lead = leads_of[strain_class]
        mine = {at for at, kind in enumerate(kinds) if kind == (strain_class, tree)}
        asked = sum((at in yields.asked) + (at in leads.asked) for at in mine)
        found.append(
            Learned(
                strain_class=strain_class,
                tree=tree,
                flushes=len(mine.intersection(yields.used)),
                lead_flushes=len(mine.intersection(leads.used)),
                yield_factor=lasting,
                lead_factor=lead,
                kg_per_log_before=kg,
                kg_per_log_after=kg * lasting,
                lead_degree_days_before=need,
                lead_degree_days_after=need * lead,
                asked=asked,
            )
        )
    return tuple(found)


def _questions(
    quantity: Literal["yield", "lead time"],
    found: _Found,
    flushes: list[DiaryFlush],
    model: Expectation,
) -> list[Question]:
    questions = []
    for at, expected in found.asked.items():
        flush = flushes[at]
        heavy = quantity == "yield"
        days = float((flush.first - flush.pulled_on(model.numbers.forced.usual_hours)).days)
        questions.append(
            Question(
                flush.name,
                flush.row,
                quantity,
                flush.soak.on if flush.soak else None,
                flush.first,
                flush.logs,
                flush.kg if heavy else days,
                expected * flush.logs if heavy else expected,
            )
        )
    return questions
