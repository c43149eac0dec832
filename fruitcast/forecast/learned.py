"""What the yard's own flushes say of its yields and lead times, beside what was to be expected.

Every finished flush of the diary is held against the model: the weight a log gave against
what it should have given in that weather, with that rest, in that bearing year; the warmth
from the pull to the first pick against the table's. Only days before today are used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
import numpy.typing as npt

from fruitcast.forecast.diary_flushes import DiaryFlush, finished_flushes, lots_together
from fruitcast.forecast.expectation import Expectation, expected_kg
from fruitcast.forecast.spawn import SpawnRun
from fruitcast.forecast.stacks import Learning
from fruitcast.forecast.water import PastWater
from fruitcast.numbers import Numbers
from fruitcast.shiitake.bearing import hemisphere
from fruitcast.shiitake.learning import Learned, learn
from fruitcast.shiitake.run_length import first_reached
from fruitcast.shiitake.yields import wear_factor
from fruitcast.yard.model import Site, Stack
from fruitcast.yard.state import StackState

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

ClassAndTree = tuple[str, str]

WEAR_ROUNDS = 3
"""Wear depends on what was learned, and the other way round: so often it is gone through, the
first time without wear."""


@dataclass(frozen=True)
class Question:
    """A flush so far from what was to be expected that the grower is asked about it.

    Attributes
    ----------
    stack : str
        Stack or lot.
    row : str
        Name of its row in stacks.csv.
    quantity : str
        'yield' or 'lead time'.
    soaked_on : date or None
        Its soak; None for a natural flush.
    first_pick : date
        Its first pick.
    logs : int
        Logs that it came from.
    observed, expected : float
        Weight of the whole flush [kg], or days from the pull to the first pick. [day]
    """

    stack: str
    row: str
    quantity: Literal["yield", "lead time"]
    soaked_on: date | None
    first_pick: date
    logs: int
    observed: float
    expected: float


@dataclass(frozen=True)
class LearnedFactors:
    """What was learned of one strain class on one tree species.

    Attributes
    ----------
    strain_class, tree : str
        Strain class and tree species.
    kg_before, kg_after : float
        A forced flush of the reference log at its best, by the table and by the yard. [kg/log]
    warmth_before, warmth_after : float
        From pull to first pick. [degC day]
    yields, leads : Learned
        The two updates.
    """

    strain_class: str
    tree: str
    kg_before: float
    kg_after: float
    warmth_before: float
    warmth_after: float
    yields: Learned
    leads: Learned

    @property
    def learning(self) -> Learning:
        """The factors the forecast goes on with."""
        return Learning(self.yields.factor, self.leads.factor)


@dataclass(frozen=True)
class YardLearning:
    """All that the diary's flushes say.

    Attributes
    ----------
    factors : tuple of LearnedFactors
        One for each class and tree with a finished flush, in order of name.
    questions : tuple of Question
        Flushes left out until the grower confirms them.
    """

    factors: tuple[LearnedFactors, ...] = ()
    questions: tuple[Question, ...] = ()

    @property
    def by_class_and_tree(self) -> dict[ClassAndTree, Learning]:
        """The factors to plan with."""
        return {(found.strain_class, found.tree): found.learning for found in self.factors}

    def doubted(self, row: str) -> dict[date, float]:
        """Return the flushes of one stack whose weight is asked about, by first pick.

        Returns
        -------
        dict of date to float
            What a log should have given. [kg/log]
        """
        return {
            question.first_pick: question.expected / question.logs
            for question in self.questions
            if question.row == row and question.quantity == "yield"
        }


def learn_from_diary(
    stacks: Sequence[tuple[Stack, StackState]],
    runs: Sequence[SpawnRun],
    past: PastWater,
    today: date,
    site: Site,
    numbers: Numbers,
) -> YardLearning:
    """Return what the finished flushes of a yard's diary say.

    Parameters
    ----------
    stacks : sequence of (Stack, StackState)
        The stacks.
    runs : sequence of SpawnRun
        Their spawn runs: bearing years count from there.
    past : PastWater
        Weather and moisture so far, its stacks in the same order; flushes before it are left
        out.
    today : date
        The day after the last row of `past`.
    site : Site
        For the hemisphere.
    numbers : Numbers
        The numbers in use.
    """
    groups: dict[ClassAndTree, list[DiaryFlush]] = {}
    for column, (stack, state) in enumerate(stacks):
        flushes = finished_flushes(
            column,
            stack,
            state,
            past,
            today,
            flush_days=numbers.diary.flush_days,
            longest_forced=numbers.picking.longest_flush,
            longest_natural=numbers.natural.longest_flush,
        )
        if flushes:
            groups.setdefault((stack.strain_class, stack.tree), []).extend(flushes)
    model = Expectation(stacks, runs, past, hemisphere(site.latitude), numbers)
    factors, questions = [], []
    for (strain_class, tree), flushes in sorted(groups.items()):
        found, asked = _learn_group(strain_class, tree, lots_together(flushes), model)
        factors.append(found)
        questions += asked
    return YardLearning(tuple(factors), tuple(questions))


def _learn_group(
    strain_class: str, tree: str, flushes: list[DiaryFlush], model: Expectation
) -> tuple[LearnedFactors, list[Question]]:
    """Learn from the flushes of one class on one tree species."""
    numbers = model.numbers
    expected = expected_kg(strain_class, flushes, model)
    observed = np.array([flush.kg / flush.logs for flush in flushes])
    confirmed = np.array([flush.confirmed for flush in flushes])
    lives = np.array([model.life(flush) for flush in flushes])
    years, life, given = lives.T
    usable = np.flatnonzero(expected > 0)
    factor, wear = 1.0, np.ones(len(flushes))
    for turn in range(WEAR_ROUNDS):
        if turn:
            # The quarters of any life fall as those of a life of four years.
            wear = wear_factor(given / factor, years / life * 4, 4.0, numbers.yields)
        yields = learn(
            observed[usable],
            (expected * wear)[usable],
            confirmed[usable],
            scatter=numbers.yields.scatter,
            prior_flushes=numbers.learning.prior_flushes,
            question_at=numbers.learning.question_at,
        )
        factor = yields.factor
        asked = usable[list(yields.questions)]
        given = lives[:, 2] - _over_given(asked, expected * wear * factor, flushes, model)
    leads, timed, days = _learn_lead(strain_class, flushes, confirmed, model)
    questions = [
        _question(flushes[usable[at]], "yield", (expected * wear * factor)[usable[at]], model)
        for at in yields.questions
    ]
    questions += [
        _question(flushes[timed[at]], "lead time", float(days[at]), model) for at in leads.questions
    ]
    kg = numbers.strain(strain_class).yields.base * numbers.tree(tree).yield_factor
    need = numbers.strain(strain_class).forced.requirement
    found = LearnedFactors(
        strain_class,
        tree,
        kg_before=kg,
        kg_after=kg * yields.factor,
        warmth_before=need,
        warmth_after=need * leads.factor,
        yields=yields,
        leads=leads,
    )
    return found, questions


def _over_given(
    asked: IntArray, expected: FloatArray, flushes: list[DiaryFlush], model: Expectation
) -> FloatArray:
    """Return what doubted flushes before each one seem to have given beyond what was expected.

    As a share of the life's crop.
    """
    beyond = np.zeros(len(flushes))
    for at in asked.tolist():
        doubted = flushes[at]
        too_much = (doubted.gave - expected[at]) / model.whole(doubted)
        later = [f.row == doubted.row and f.first > doubted.first for f in flushes]
        beyond += too_much * np.array(later)
    return beyond


def _learn_lead(
    strain_class: str, flushes: list[DiaryFlush], confirmed: BoolArray, model: Expectation
) -> tuple[Learned, list[int], IntArray]:
    """Learn the lead time; also return which flushes it was learned from, and the table's days.

    Mushrooms ripe at any hour wait for the next morning's pick: on average half of the last
    day's warmth came too late to count.
    """
    past, numbers = model.past, model.numbers
    warmth = model.warmth(strain_class)
    timed = [
        at
        for at, flush in enumerate(flushes)
        if flush.soak is not None
        and (flush.soak.pull_recorded or flush.soak.hours is not None)
        and past.row(flush.first) > past.row(flush.pulled_on(numbers.forced.usual_hours)) >= 0
    ]
    pull = np.array(
        [past.row(flushes[at].pulled_on(numbers.forced.usual_hours)) for at in timed],
        dtype=np.int64,
    )
    first = np.array([past.row(flushes[at].first) for at in timed], dtype=np.int64)
    observed = (warmth[first] + warmth[np.maximum(first - 1, pull)]) / 2 - warmth[pull]
    need = numbers.strain(strain_class).forced.requirement
    warm = observed > 0
    timed, pull, observed = (
        [at for at, w in zip(timed, warm, strict=True) if w],
        pull[warm],
        (observed[warm]),
    )
    leads = learn(
        observed,
        np.full(len(timed), need),
        confirmed[timed],
        scatter=numbers.forced.lead_scatter,
        prior_flushes=numbers.learning.lead_prior_flushes,
        question_at=numbers.learning.question_at,
    )
    ripe = first_reached(warmth[:, None], pull, np.zeros(len(pull), dtype=np.int64), need)
    return leads, timed, np.asarray(ripe - pull)


def _question(
    flush: DiaryFlush, quantity: Literal["yield", "lead time"], expected: float, model: Expectation
) -> Question:
    days = (flush.first - flush.pulled_on(model.numbers.forced.usual_hours)).days
    return Question(
        flush.name,
        flush.row,
        quantity,
        flush.soak.on if flush.soak else None,
        flush.first,
        flush.logs,
        flush.kg if quantity == "yield" else float(days),
        float(expected * flush.logs) if quantity == "yield" else expected,
    )
