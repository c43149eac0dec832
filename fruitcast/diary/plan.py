"""The plan: what 'plan --json' prints, the diary keeps, and calendar, week, page and report show.

It stands with the yard, below all that makes, keeps or shows it. Fields with a default were
not always there: a plan kept from before is read without them.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import ClassVar, Literal

from pydantic import Field

from fruitcast.document import Count, Day, Document, Hours, Number, Sparse
from fruitcast.yard.model import stack_of

ChangeKind = Literal["moved", "added", "dropped"]


class Pick(Document):
    """Days of the first pick over the weather years."""

    p10: Day = Field(description="one weather year in ten is earlier")
    p50: Day = Field(description="half of the weather years are earlier")
    p90: Day = Field(description="one weather year in ten is later")


class Cover(Document):
    """A cover against rain on open caps."""

    first: Day = Field(validation_alias="from", serialization_alias="from")
    last: Day = Field(validation_alias="to", serialization_alias="to")
    reason: str = ""


class Covered(Document):
    """What a soak brings to one sale."""

    outlet: str
    on: Day
    kg: Number


class SoakInWater(Document):
    """What is told of every soak."""

    stack: str = Field(description="stack or lot")
    logs: Count = Field(description="logs to soak")
    soak_on: Day = Field(description="day the logs go into the tank")
    hours: Hours = Field(description="hours in water")
    pull_on: Day = Field(description="day they come out, at the yard's soak time")
    pick: Pick = Field(description="first pick")


class PlannedSoak(Sparse, SoakInWater):
    """One soak of the plan."""

    left_out: ClassVar[frozenset[str]] = frozenset({"cover", "clear_on"})

    pins_on: Day | None = Field(default=None, description="day from which to watch for pins")
    clear_on: Day | None = Field(
        default=None,
        description="day from which its places to fruit count as free; only there where they limit",
    )
    expected_kg: Number = Field(
        description="forced crop before losses, mean over the weather years"
    )
    kg_p10: Number | None = Field(
        default=None, description="its 80 % range, where it comes; null in older plans"
    )
    kg_p90: Number | None = None
    comes: Number | None = Field(
        default=None,
        description="share of the weather years in which anything comes; null in older plans",
    )
    cover: Cover | None = Field(
        default=None, description="only there when rain is forecast on its open caps"
    )
    covers: tuple[Covered, ...] = Field(default=(), description="the sales it serves")
    reasons: tuple[str, ...] = Field(description="why")
    fixed: bool = Field(default=False, description="whether the grower has fixed the day")


class SoakUnderWay(Sparse, SoakInWater):
    """A soak of the diary whose flush is still to come, in the form of a planned one."""

    left_out: ClassVar[frozenset[str]] = frozenset({"cover", "clear_on"})

    clear_on: Day | None = None
    expected_kg: Number
    kg_p10: Number | None = None
    kg_p90: Number | None = None
    cover: Cover | None = None
    reasons: tuple[str, ...]


class FlushUnderWay(Document):
    """A flush that is being picked, or a natural one whose pins or caps were seen."""

    stack: str
    kind: Literal["forced", "natural"]
    begun: Day = Field(description="soak day, or day on which pins or caps were seen")
    pick: Pick = Field(description="first pick")
    last: Day = Field(description="by which most weather years have picked it out")
    expected_kg: Number = Field(description="still to come")
    reasons: tuple[str, ...] = ()


class WorkDay(Document):
    """The hours of work of one day; picking is the mean over the weather years."""

    on: Day
    soaking_hours: Number
    pulling_hours: Number
    picking_hours: Number = Field(description="once over the logs in flush, twice in heat")
    allowed_hours: Number | None = Field(description="hours_a_day of that day; null: no limit")
    twice: Number = Field(description="share of the weather years that pick twice, for the heat")

    @property
    def hours(self) -> float:
        """All of it. [h]"""
        return self.soaking_hours + self.pulling_hours + self.picking_hours

    @property
    def over(self) -> bool:
        """Whether it is more than the grower has."""
        return self.allowed_hours is not None and self.hours > self.allowed_hours


class Sale(Document):
    """One day of one outlet."""

    outlet: str
    on: Day
    target_kg: Number = Field(description="what is wanted")
    delivered_kg: Number = Field(description="what reaches it, mean over fresh luck")
    available_p10_kg: Number = Field(description="on hand: nine in ten have this much")
    available_p90_kg: Number = Field(description="on hand: one in ten has this much")
    chance: Number = Field(description="share of fresh paths in which all of it is there")
    promise_kg: Number = Field(
        description="what is there with the chance asked for, the target at most"
    )
    given_kg: Number | None = Field(default=None, description="what was promised, if anything")


class NaturalFlush(Document):
    """The chance that a stack starts to fruit by itself in one week."""

    stack: str
    week: Day = Field(description="its Monday")
    chance: Number
    expected_kg: Number = Field(description="mean over all weather years")
    first_pick: Day | None = Field(
        default=None, description="middle of the weather years that have it"
    )
    days: Count | None = Field(default=None, description="days of picking, middle of those years")

    @property
    def kg_if_it_comes(self) -> float:
        """Mean over the weather years that have it. [kg]"""
        return self.expected_kg / self.chance if self.chance else 0.0


class Watering(Document):
    """One watering of one stack that the known weather asks for."""

    stack: str
    on: Day
    moisture_wet: Number | None = Field(description="water over whole weight")
    mm: Number | None = None
    hours: Number | None = None
    litres_per_log: Number | None = None
    urgent: bool = False
    reason: str


class WateringChance(Document):
    """How likely a stack wants water by 7, 14 and 21 days ahead if none is given.

    Stacks already among the waterings are left out.
    """

    stack: str
    by: Day
    chance: Number


class NotSoaked(Document):
    """A stack that is left alone."""

    stack: str
    cause: str = Field(default="", description="in one or two words, the same for all such stacks")
    reason: str


class SoakTried(SoakInWater):
    """A soak that the plan doesn't have."""

    comes: Number = Field(description="share of the weather years in which anything comes")
    expected_kg: Number = Field(description="mean over all weather years")
    kg_p10: Number | None = Field(description="its 80 % range, where it comes")
    kg_p90: Number | None


class SalesTried(Document):
    """What other soaks would bring to the sales and take from them."""

    feeds: tuple[Covered, ...] = Field(description="sales that would get more, largest first")
    takes: tuple[Covered, ...] = Field(description="sales that would get less, as positive kg")
    sold_kg: Number = Field(description="more sold over the plan's weeks; less below 0")


class Waiting(Document):
    """Why a stack isn't soaked in the week from the day of the plan."""

    stack: str
    causes: tuple[str, ...] = Field(
        description="all of them together; each in one or two words, the same for all such stacks"
    )
    reason: str
    soak: SoakTried | None = Field(
        description="the best of the week, all other stacks as planned; null where none is possible"
    )
    sales: SalesTried | None


class Job(Document):
    """One thing to do that the weather or the diary asks for.

    Rain counts only as far as a forecast goes, heat also where most weather years have it.
    """

    kind: str = Field(
        validation_alias="job",
        serialization_alias="job",
        description="cover, pick twice, inspect, weigh or retire",
    )
    stack: str
    on: Day = Field(description="first day")
    until: Day = Field(description="last day")
    reason: str


class LikelyDays(Document):
    """Early, middle and late day of something; null past the days looked at."""

    p10: Day | None
    p50: Day | None
    p80: Day | None = Field(default=None, description="not in plans published before it was told")
    p90: Day | None


class SpawnRun(Document):
    """A spawn run that is not surely done."""

    stack: str
    progress: Number = Field(description="of what is enough with the chance planned on")
    ready: LikelyDays = Field(description="when it is done, over weather and wood")
    slowed_by: tuple[str, ...]
    signs: tuple[str, ...] = Field(description="by which to see that it is done")
    inspected_on: Day | None
    findings: tuple[str, ...]


class WeighedLog(Document):
    """The last weighing of a stack's sample logs beside the model."""

    stack: str
    on: Day
    weighed_wet: Number
    modelled_wet: Number = Field(description="what the model had for that evening")


class Learned(Document):
    """What the diary's finished flushes say beside the table, by class and tree."""

    strain_class: str
    tree: str
    flushes: Count
    yield_factor: Number
    kg_per_log_before: Number
    kg_per_log_after: Number
    lead_flushes: Count
    lead_factor: Number
    lead_degree_days_before: Number
    lead_degree_days_after: Number
    asked: Count = Field(description="flushes left out; each is a question among the warnings")


class LearnedChange(Document):
    """How much more or less logs are reckoned to bear than in the plan published before."""

    since: Day = Field(description="day of that plan")
    factor: Number = Field(description="of all kinds of logs in the mean; below 1 less")
    flushes: Count = Field(description="flushes that have ended since")


class Objective(Sparse):
    """The parts of what the schedule makes small. [kg]"""

    left_out: ClassVar[frozenset[str]] = frozenset({"certainty"})

    shortfall: Number
    expired: Number
    soaks: Number
    change: Number
    end_value: Number
    certainty: Number | None = Field(default=None, description="only there when it has a price")


class KeptDate(Document):
    """The published day of one soak."""

    stack: str
    soak_on: Day


class GoesBy(Document):
    """The published soaks that a plan keeps where it can."""

    soaks: tuple[KeptDate, ...]
    stacks: tuple[str, ...] = Field(description="all that were planned then, soaked or not")


class Word(Document):
    """A word of the grower."""

    kind: str = Field(description="fix, hold or promised")
    stack: str = Field(default="", description="stack or lot; empty for a promise")
    outlet: str = ""
    on: Day | None = Field(
        description="day of the soak or sale, or first day the stack is free; null: this season"
    )
    hours: Hours | None = None


class Decision(Word):
    """What the grower has decided, and what it costs."""

    kg: Number | None = Field(description="promised")
    kept: bool = Field(description="whether the plan can keep it")
    cost_kg: Number | None = Field(
        description="less sold or eaten over the plan's weeks, below 0 more; null if not kept"
    )
    most: Covered | None = Field(description="where most of it goes missing")
    words: str


class Change(Document):
    """What became of a stack's next published soak."""

    stack: str
    kind: ChangeKind
    before: Day | None = Field(description="day of the next soak, as published")
    after: Day | None = Field(description="day of the next soak now")
    gain_kg: Number | None = Field(
        description="what the change is worth against keeping the published day; null when that "
        "day is no longer possible, or another one is fixed"
    )
    reason: str


class OtherSoak(Document):
    """How the next soak of one stack differs between two plans; None where there is no soak."""

    stack: str
    before: Day | None
    after: Day | None


class NumberChange(Document):
    """A number of the model that is not what it was."""

    key: str
    before: Number | None = Field(description="null when the model did not have it")
    after: Number | None = Field(description="null when it has it no more")
    own: bool = Field(description="whether the yard's own value came, went or was changed")


class ModelChange(Document):
    """What changed in the model since the plan published before, and what that does here.

    Weather and diary of the days between are in the figures too.
    """

    since: Day = Field(description="day of the plan that this one stands beside")
    version_before: str = Field(description="of the program")
    version_after: str
    numbers: tuple[NumberChange, ...]
    until: Day = Field(description="the day before which soaks count in both sums")
    expected_kg_before: Number = Field(description="of all soaks from today on")
    expected_kg_after: Number
    next_soaks: tuple[OtherSoak, ...] = Field(description="where they differ")


class Shortage(Document):
    """A sale that goes short, and the limit that binds."""

    outlet: str
    on: Day
    missing_kg: Number = Field(default=0.0, description="mean over the weather years")
    cause: str = ""
    reason: str


class TableWeek(Document):
    """What comes to the grower's own table from the picks of one week."""

    first: Day = Field(validation_alias="from", serialization_alias="from")
    last: Day = Field(validation_alias="to", serialization_alias="to")
    expected_kg: Number = Field(description="mean over fresh luck")
    p10_kg: Number = Field(description="nine in ten have this much")
    p90_kg: Number = Field(description="one in ten has this much")
    most_kg: Number | None = Field(
        default=None, description="more is not counted, whatever is picked; null in older plans"
    )


class NaturalSeason(Document):
    """When the logs of a class bear by themselves, spring or autumn, by past years."""

    season: Literal["spring", "early summer", "autumn"]
    strain_class: str
    stacks: tuple[str, ...]
    chance: Number = Field(description="share of the past years that have it")
    first_pick: Pick
    expected_kg: Number = Field(description="mean of the years that have it, all these stacks")


class MidsummerSoak(Document):
    """What a soak between the natural seasons brings to the stacks of a class."""

    strain_class: str
    stacks: tuple[str, ...]
    week: Day | None = Field(description="Monday of the best week; null when none pays")
    brings_kg: Number
    costs_kg: Number = Field(description="what the natural flushes give less")


class StackDay(Document):
    """A day on which something becomes of a stack."""

    stack: str
    on: Day
    reason: str = ""


class StackToPart(Document):
    """A stack whose flush is more than its days can sell, with lots that would suit."""

    stack: str
    logs: Count
    flush_kg: Number = Field(
        description="what one flush of the whole stack gives, expected, after the plan's weeks"
    )
    lots: tuple[Count, ...] = Field(description="logs of each lot")


class YoungCare(Document):
    """What a stack in its spawn run wants: inoculate, turn, first soak, first natural flush."""

    stack: str
    ordinal: Count = Field(description="its place in the stack's life; stays when the day moves")
    first: Day = Field(validation_alias="from", serialization_alias="from")
    last: Day = Field(validation_alias="to", serialization_alias="to")
    what: str
    reason: str = ""
    logs: Count | None = Field(
        default=None, description="living logs of the stack; null in older plans"
    )


class Plan(Document):
    """A plan as it is published."""

    today: Day = Field(description="day of the plan")
    weeks: Count = 26
    soaks: tuple[PlannedSoak, ...]
    outlets: tuple[Sale, ...]
    natural: tuple[NaturalFlush, ...]
    water: tuple[Watering, ...]
    water_chance: tuple[WateringChance, ...] = ()
    not_soaked: tuple[NotSoaked, ...]
    waits: tuple[Waiting, ...] = Field(default=(), description="stacks without a soak this week")
    jobs: tuple[Job, ...] = ()
    spawn_run: tuple[SpawnRun, ...] = ()
    weighings: tuple[WeighedLog, ...] = ()
    learned: tuple[Learned, ...] = ()
    objective: Objective | None = None
    objective_kg: Number
    bound_kg: Number | None = Field(
        description="no plan can be better than this; null without --bound"
    )
    demand_kg: Number
    expected_shortfall_kg: Number | None = Field(
        None, description="what will be missing of it, mean over fresh luck"
    )
    members: Count = Field(description="weather years")
    promise: Number = Field(default=0.8, description="chance asked of a promise")
    seed: int = 1
    warnings: tuple[str, ...]
    goes_by: GoesBy | None = Field(
        default=None, description="the published soaks that were kept where it could be"
    )
    decisions: tuple[Decision, ...] = ()
    changes: tuple[Change, ...] = ()
    short: tuple[Shortage, ...] = ()
    under_way: tuple[SoakUnderWay, ...] = Field(default=(), description="soaks already made")
    flushes: tuple[FlushUnderWay, ...] = Field(
        default=(), description="that are being picked, and natural ones that have begun"
    )
    rest_ends: tuple[StackDay, ...] = ()
    ready: tuple[StackDay, ...] = ()
    advice: tuple[str, ...] = Field(default=(), description="what is worth trying")
    care: tuple[YoungCare, ...] = ()
    lots: tuple[StackToPart, ...] = Field(
        default=(), description="proposed and not yet taken, the largest flush first"
    )
    usual_week_kg: Number | None = Field(
        default=None, description="what the outlets want in a usual week, where lots are proposed"
    )
    work: tuple[WorkDay, ...] = Field(
        default=(), description="of the next four weeks, and of later days that have too much"
    )
    table: tuple[TableWeek, ...] = Field(
        default=(), description="by weeks, where nothing is sold; there is no sale then"
    )
    natural_seasons: tuple[NaturalSeason, ...] = Field(default=(), description="as `table`")
    midsummer: tuple[MidsummerSoak, ...] = Field(default=(), description="as `table`")
    learned_change: LearnedChange | None = Field(
        default=None, description="null while logs bear about what the plan before had them bear"
    )
    model_change: ModelChange | None = Field(
        default=None, description="null while the model is that of the plan before"
    )

    def kept_dates(self) -> GoesBy:
        """Return what a new plan should keep of this one where it can."""
        planned = {soak.stack for soak in self.soaks}
        planned |= {entry.stack for entry in self.not_soaked}
        return GoesBy(
            soaks=tuple(KeptDate(stack=soak.stack, soak_on=soak.soak_on) for soak in self.soaks),
            stacks=tuple(sorted(planned)),
        )

    def with_care(self, care: Sequence[YoungCare]) -> "Plan":
        """Return the plan with the care of one more young stack."""
        return self.model_copy(update={"care": (*self.care, *care)})

    def yield_beside_table(self) -> tuple[float | None, int]:
        """Return what logs are taken to bear for what the table says, and from how many flushes.

        Over the kinds of logs that have flushed, each as often as it has; None when none has.
        """
        told = sum(found.flushes * found.kg_per_log_before for found in self.learned)
        bears = sum(found.flushes * found.kg_per_log_after for found in self.learned)
        flushes = sum(found.flushes for found in self.learned)
        return (bears / told if told > 0 else None), flushes

    def why_wait(self, today: date) -> dict[str, str]:
        """Return why each stack isn't soaked in the week from today; empty for an older plan."""
        return {entry.stack: entry.reason for entry in self.waits if self.today == today}

    def next_soaks(self, from_day: date) -> dict[str, date]:
        """Return the next soak of each stack, that day's included."""
        found: dict[str, date] = {}
        for soak in self.soaks:
            if from_day <= soak.soak_on < found.get(soak.stack, date.max):
                found[soak.stack] = soak.soak_on
        return found


def _told_whole(soaks: Mapping[str, date], whole: Collection[str]) -> dict[str, date]:
    """Return next soaks where lots of some stacks count as one: the first of them."""
    found: dict[str, date] = {}
    for name, day in soaks.items():
        told = stack_of(name) if stack_of(name) in whole else name
        found[told] = min(day, found.get(told, date.max))
    return found


def plan_changes(before: Plan, after: Plan, today: date) -> tuple[OtherSoak, ...]:
    """Return how the next soak of each stack differs between two plans, in order of day.

    A stack that one of them soaks whole and the other in lots is told as a whole.
    """
    old, new = before.next_soaks(today), after.next_soaks(today)
    whole = ({*old} & set(map(stack_of, new))) | ({*new} & set(map(stack_of, old)))
    old, new = (_told_whole(each, whole) for each in (old, new))
    changed = [stack for stack in {*old, *new} if old.get(stack) != new.get(stack)]
    changed.sort(key=lambda stack: (new.get(stack, date.max), stack))
    return tuple(
        OtherSoak(stack=stack, before=old.get(stack), after=new.get(stack)) for stack in changed
    )
