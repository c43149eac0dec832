"""What an adviser wants to know of each yard of a round: its row, out of its plan and diary."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from pydantic import Field

from fruitcast.diary.plan import Plan
from fruitcast.diary.state import YardState
from fruitcast.document import Count, Day, Document, Hours, Number
from fruitcast.group.joint_sales import JointSales
from fruitcast.units import SHOWN_AS_NONE_KG, Units
from fruitcast.weather.daily import DailyWeather, last_observed
from fruitcast.yard.model import Yard

WEEK_DAYS = 7

STALE_DAYS = 2
"""Weather that lacks so many of the last days is stale. Judgement. [day]"""

SILENT_DAYS = 14
"""A diary without an entry for so long is silent, where the logs had or have anything to be
written down. Judgement. [day]"""

MISSED_DAYS = 21
"""Published soaks of so many days past are looked for in the diary. Judgement. [day]"""


class RoundSoak(Document):
    """A soak of this week."""

    stack: str
    logs: Count
    soak_on: Day
    hours: Hours
    fixed: bool = Field(description="whether the grower has fixed the day")


class Overpromised(Document):
    """A sale that was promised more than is likely enough to come."""

    outlet: str
    on: Day
    given_kg: Number = Field(description="promised")
    promise_kg: Number = Field(description="what is there with the yard's own chance")


class DryStack(Document):
    """Logs that want water this week."""

    stack: str
    on: Day
    moisture_wet: Number | None = Field(description="water over whole weight")
    urgent: bool


class UnrecordedSoak(Document):
    """A soak of the yard's published plan of which its diary says nothing."""

    stack: str
    soak_on: Day


class YardRow(Document):
    """One yard of the round."""

    yard: str = Field(description="name of its folder")
    name: str = Field(description="as its yard.toml says; empty where that can't be read")
    faults: tuple[str, ...] = Field(
        default=(), description="why it was not planned; then nothing else is told of it"
    )
    plan_of: Day | None = Field(default=None, description="day of the plan that it has published")
    soaks: tuple[RoundSoak, ...] = Field(default=(), description="in the next 7 days")
    overpromised: tuple[Overpromised, ...] = ()
    dry: tuple[DryStack, ...] = Field(default=(), description="in the next 7 days")
    weather_until: Day | None = Field(
        default=None, description="last day with temperatures and rain as observed"
    )
    weather_stale: bool = False
    diary_until: Day | None = Field(
        default=None, description="day of the last entry; null: nothing was ever written"
    )
    diary_silent: bool = Field(
        default=False,
        description="nothing written for two weeks, though soaks or flushes were under way",
    )
    unrecorded: tuple[UnrecordedSoak, ...] = Field(
        default=(), description="published soaks of the last three weeks that nobody wrote down"
    )

    @property
    def planned(self) -> bool:
        """Whether there is a plan."""
        return not self.faults


@dataclass(frozen=True)
class DiarySeen:
    """What of a diary a row tells."""

    until: date | None  # day of the last entry in force
    published: Plan | None  # the plan published last


def yard_row(
    folder: str, yard: Yard, state: YardState, weather: DailyWeather, plan: Plan, seen: DiarySeen
) -> YardRow:
    """Return the row of a yard.

    `weather` is what it was planned with, `plan` that of today, published or not, `seen` more of
    the diary.
    """
    today = plan.today
    week = today + timedelta(days=WEEK_DAYS)
    until = last_observed(weather, today)
    missed = tuple(unrecorded(seen.published, state, today)) if seen.published else ()
    silent = seen.until is None or (today - seen.until).days >= SILENT_DAYS
    return YardRow(
        yard=folder,
        name=yard.name,
        plan_of=seen.published.today if seen.published else None,
        soaks=tuple(RoundSoak.taken_from(soak) for soak in plan.soaks if soak.soak_on < week),
        overpromised=tuple(
            Overpromised.taken_from(sale)
            for sale in plan.outlets
            if sale.given_kg and sale.promise_kg < sale.given_kg - SHOWN_AS_NONE_KG
        ),
        dry=tuple(DryStack.taken_from(water) for water in plan.water if water.on < week),
        weather_until=until,
        weather_stale=until is None or (today - until).days > STALE_DAYS,
        diary_until=seen.until,
        diary_silent=silent and (bool(missed) or something_to_write(plan, state)),
        unrecorded=missed,
    )


def unrecorded(published: Plan, state: YardState, today: date) -> Iterable[UnrecordedSoak]:
    """Yield the soaks that should have been made in the last weeks and stand in no diary."""
    for soak in published.soaks:
        stack = state.stacks.get(soak.stack)
        if stack is None or not today - timedelta(days=MISSED_DAYS) <= soak.soak_on < today:
            continue
        # A day or two to either side it is the same soak.
        if not any(abs((done.on - soak.soak_on).days) < WEEK_DAYS for done in stack.soaks):
            yield UnrecordedSoak(stack=soak.stack, soak_on=soak.soak_on)


def something_to_write(plan: Plan, state: YardState) -> bool:
    """Whether anything went on in a yard lately that its grower would have written down."""
    since = plan.today - timedelta(days=2 * SILENT_DAYS)
    soaks = (soak.on for stack in state.stacks.values() for soak in stack.soaks)
    return bool(plan.flushes) or any(on >= since for on in soaks)


class Round(Document):
    """What 'yards --json' prints."""

    today: Day
    name: str = Field(description="of the group, or of the folder")
    units: Units
    yards: tuple[YardRow, ...] = Field(description="in the order of their folders' names")
    together: JointSales | None = Field(
        default=None, description="null where group.toml names nothing that is sold together"
    )
