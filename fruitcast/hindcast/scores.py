"""What became of one season under one policy, and of many seasons side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from math import sqrt
from statistics import fmean, stdev

from pydantic import Field, TypeAdapter

from fruitcast.document import Count, Document, Number
from fruitcast.topics import WorkNumbers
from fruitcast.yard.model import stack_of

GRAM = 0.001
"""A promise missed by less is kept. [kg]"""


@dataclass(frozen=True)
class PromiseKept:
    """One outlet day's promise, fixed some time ahead, and what was there."""

    outlet: str
    on: date  # its day
    target_kg: float  # wanted [kg]
    sure_kg: float  # stock that was to be there with the chance asked for, whatever was wanted [kg]
    available_kg: float  # stock that was there [kg]

    @property
    def promise_kg(self) -> float:
        """What could be promised: never more than is wanted. [kg]"""
        return min(self.sure_kg, self.target_kg)

    @property
    def kept(self) -> bool:
        """Whether what was to be there was there."""
        return self.available_kg >= self.sure_kg - GRAM


@dataclass(frozen=True)
class SoakScore:
    """One soak that was carried out."""

    stack: str  # stack or lot
    on: date  # soak day
    logs: int  # logs in the water
    # early, middle, late: the first pick as foreseen on the day of planning: 10, 50 and 90 of 100;
    # None of who foresees nothing
    early: date | None
    middle: date | None
    late: date | None
    expected_kg: float | None  # crop as foreseen, mean; None likewise [kg]
    first_pick: date | None  # as it came; None when nothing came
    kg: float  # crop as it came [kg]

    @property
    def error_days(self) -> int | None:
        """Days by which the first pick came later than foreseen. [day]"""
        if self.first_pick is None or self.middle is None:
            return None
        return (self.first_pick - self.middle).days

    @property
    def within(self) -> bool | None:
        """Whether the first pick came within the range foreseen, in whole days."""
        if self.first_pick is None or self.early is None or self.late is None:
            return None
        return self.early <= self.first_pick <= self.late


@dataclass(frozen=True)
class SeasonScore:
    """One season under one policy."""

    year: int  # weather year that came true
    policy: str  # who decided
    # demand_kg, delivered_kg: over the outlet days of the season [kg]
    demand_kg: float
    delivered_kg: float
    expired_kg: float  # passed its last saleable day unsold [kg]
    left_kg: float  # in the cold store at the end [kg]
    soaks: tuple[SoakScore, ...]  # what was soaked
    # The plan's and the weather foresight's; the others promise nothing
    promises: tuple[PromiseKept, ...]

    @property
    def shortfall_kg(self) -> float:
        """Wanted and not delivered. [kg]"""
        return self.demand_kg - self.delivered_kg

    @property
    def visits(self) -> int:
        """Days with a stack to soak; its lots that go in on one day are one visit."""
        return len({(stack_of(soak.stack), soak.on) for soak in self.soaks})

    @property
    def logs_soaked(self) -> int:
        """Logs put into the water, each soak counted."""
        return sum(soak.logs for soak in self.soaks)


def scores_json(scores: Sequence[SeasonScore]) -> bytes:
    """Return scores as JSON, to be kept in a file."""
    return _scores().dump_json(list(scores))


def read_scores(text: bytes) -> list[SeasonScore]:
    """Return the scores that `scores_json` gave; raises ValueError if the text holds none."""
    return _scores().validate_json(text)


@cache
def _scores() -> TypeAdapter[list[SeasonScore]]:
    return TypeAdapter(list[SeasonScore])


class PolicyMeans(Document):
    """One policy over all its seasons, means of a season unless said otherwise."""

    policy: str = Field(
        description="plan; nine-week rotation; sensible rotation; rule of hand (the biggest rested "
        "stack goes in for the week that is short); weather foresight (the planner "
        "with a perfect forecast of the whole season, under the truth as believed only); perfect "
        "foresight (of weather, lead times and yields, planned once)"
    )
    seasons: Count
    demand_kg: Number
    shortfall_kg: Number
    shortfall_share: Number | None
    expired_kg: Number = Field(description="spoilt unsold")
    left_kg: Number = Field(description="in the cold store at the end")
    soaks: Number
    visits: Number = Field(description="a stack's lots that go in on one day are one")
    logs_soaked: Number
    soaking_hours: Number = Field(description="of carrying in and out, and of each visit")
    soaks_without_crop: Number | None = Field(description="as a share of the soaks")
    crop_over_expected: Number | None = Field(
        description="weight of all forced flushes over what was expected on the day of planning; "
        "null for a rotation, which expects nothing"
    )
    promises_made: Count = Field(
        description="outlet days with something to promise, two weeks ahead; only the plan promises"
    )
    promises_kept: Number | None = Field(
        description="share on which the stock reached the weight that was sure with the chance "
        "asked for, whatever was wanted"
    )
    promised_share: Number | None = Field(
        description="promised weight, never above the target, over all targets"
    )
    first_picks: Count = Field(description="soaks that bore")
    first_pick_within: Number | None = Field(
        description="share whose first pick came within the 80 % range, in whole days; null for a "
        "rotation, which foresees nothing"
    )
    first_pick_error_days: Number | None = Field(description="first pick less its middle day")
    first_pick_absolute_error_days: Number | None
    plan_saves: Number | None = Field(
        default=None,
        description="what is missing here less what is missing with the plan in the same seasons, "
        "as a share of all wanted, mean of the seasons; null for the plan itself",
    )
    plan_saves_error: Number | None = Field(
        default=None, description="standard error of that mean; null with fewer than two seasons"
    )
    way_to_foresight: Number | None = Field(
        description="of the shortfall that foresight saves over the nine-week rotation, the share "
        "saved too; null when that is nothing"
    )


class PolicySeason(Document):
    """One season of one policy, under the truth as believed."""

    year: int
    policy: str
    demand_kg: Number
    shortfall_kg: Number
    expired_kg: Number
    soaks: Count
    visits: Count
    logs_soaked: Count


def policy_summary(
    scores: Sequence[SeasonScore],
    way: float | None,
    plan: Sequence[SeasonScore] = (),
    *,
    work: WorkNumbers,
) -> PolicyMeans:
    """Return one policy over all its seasons; shares of nothing are None.

    `way` is its way to foresight; `plan` has the plan's seasons to be set against, none for itself.
    """
    saved, error = mean_gain(scores, plan)
    seasons = len(scores)
    demand = sum(s.demand_kg for s in scores)
    short = sum(s.shortfall_kg for s in scores)
    soaks = [soak for s in scores for soak in s.soaks]
    visits, logs = sum(s.visits for s in scores), sum(s.logs_soaked for s in scores)
    hours = logs * work.tank_hours_per_log
    hours += visits * work.lot_hours
    promises = [promise for s in scores for promise in s.promises]
    made = [promise for promise in promises if promise.sure_kg > GRAM]
    errors = [soak.error_days for soak in soaks if soak.error_days is not None]
    within = [soak.within for soak in soaks if soak.within is not None]
    expected = [soak.expected_kg for soak in soaks if soak.expected_kg is not None]
    return PolicyMeans(
        policy=scores[0].policy,
        seasons=seasons,
        demand_kg=demand / seasons,
        shortfall_kg=short / seasons,
        shortfall_share=_share(short, demand),
        expired_kg=sum(s.expired_kg for s in scores) / seasons,
        left_kg=sum(s.left_kg for s in scores) / seasons,
        soaks=len(soaks) / seasons,
        visits=visits / seasons,
        logs_soaked=logs / seasons,
        soaking_hours=hours / seasons,
        soaks_without_crop=_share(sum(soak.first_pick is None for soak in soaks), len(soaks)),
        crop_over_expected=_share(
            sum(soak.kg for soak in soaks if soak.expected_kg is not None), sum(expected)
        ),
        promises_made=len(made),
        promises_kept=_share(sum(promise.kept for promise in made), len(made)),
        promised_share=_share(
            sum(promise.promise_kg for promise in promises),
            sum(promise.target_kg for promise in promises),
        ),
        first_picks=sum(soak.first_pick is not None for soak in soaks),
        first_pick_within=_share(sum(within), len(within)),
        first_pick_error_days=_share(sum(errors), len(errors)),
        first_pick_absolute_error_days=_share(sum(map(abs, errors)), len(errors)),
        plan_saves=saved,
        plan_saves_error=error,
        way_to_foresight=way,
    )


def mean_gain(
    scores: Sequence[SeasonScore], plan: Sequence[SeasonScore]
) -> tuple[float | None, float | None]:
    """Return what a plan saves in the mean of the seasons that both have, and its error.

    Each season is set against itself, so that good and bad years fall out of the error. [share]
    """
    missing = {s.year: s.shortfall_kg / s.demand_kg for s in plan if s.demand_kg}
    gains = [s.shortfall_kg / s.demand_kg - missing[s.year] for s in scores if s.year in missing]
    if not gains:
        return None, None
    error = stdev(gains) / sqrt(len(gains)) if len(gains) > 1 else None
    return fmean(gains), error


def way_to_foresight(
    policy: Sequence[SeasonScore], rotation: Sequence[SeasonScore], foresight: Sequence[SeasonScore]
) -> float | None:
    """Return how much of the shortfall that foresight saves over a rotation a policy saves too.

    1 is as good as knowing the season beforehand, 0 no better than the rotation; None when
    foresight saves nothing. All seasons are added up first.
    """
    short, before, least = (sum(s.shortfall_kg for s in x) for x in (policy, rotation, foresight))
    saved = before - least
    return (before - short) / saved if saved > GRAM else None


def _share(part: float, whole: float) -> float | None:
    return part / whole if whole else None
