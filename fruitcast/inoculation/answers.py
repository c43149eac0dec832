"""What 'inoculation' prints with --json, of a programme and of a batch: SI units in the keys."""

from __future__ import annotations

from pydantic import Field

from fruitcast.diary.plan import LikelyDays, YoungCare
from fruitcast.document import Amount, Count, Day, Document, Number


class FromTo(Document):
    """A span of days, both ends included."""

    first: Day = Field(validation_alias="from", serialization_alias="from")
    last: Day = Field(validation_alias="to", serialization_alias="to")


class BatchMaterials(Document):
    """What inoculating some logs takes."""

    holes: int
    pieces: int = Field(description="of spawn; 0 for sawdust")
    sawdust_kg: Number
    wax_kg: Number
    drilling_hours: Number
    filling_hours: Number
    waxing_hours: Number
    handling_hours: Number
    hours: Number = Field(description="all of them")
    trees: int
    floor_m2: Number


class Holes(Document):
    """The pattern of the holes."""

    per_log: int
    rows: int
    by_row: tuple[int, ...]
    rows_by_length_over_spacing: Number = Field(description="what area alone would give")
    spacing_m: Number
    row_distance_m: Number
    end_distance_m: Number
    seam_breaks_stagger: bool
    bit_m: Number
    depth_m: Number


class BatchWeight(Document):
    """What fresh logs weigh."""

    log_kg: Number
    batch_kg: Number
    dry_wood_kg: Number


class WateringsOfMonth(Document):
    """Waterings to expect in a month of the first year."""

    month: int
    expected: Number


class BatchDates(Document):
    """The dates of a batch."""

    fell: FromTo | None
    inoculate: FromTo | None
    inoculate_on: Day
    thawed: LikelyDays
    last_frost: LikelyDays
    leaf_out: LikelyDays
    leaf_fall: LikelyDays
    turn_on: tuple[Day, ...]
    waterings: tuple[WateringsOfMonth, ...]
    ready: LikelyDays = Field(description="when the spawn run is done")
    first_soak_from: Day | None
    first_natural: LikelyDays
    retire_after: int | None = Field(description="the last season worth keeping them")


class CropOfYear(Document):
    """What a log and the batch give in one year."""

    year: int = Field(description="the growing season by the year it begins in")
    p10_kg_per_log: Number
    mean_kg_per_log: Number
    p90_kg_per_log: Number
    mean_kg: Number


class BatchYield(Document):
    """What a batch gives, year by year and in its life."""

    years: tuple[CropOfYear, ...]
    life_kg_per_log: Number
    life_kg: Number
    share_of_fresh_wood: Number
    share_of_dry_wood: Number
    best_practice_share_of_fresh_wood: tuple[Number, Number]
    trial_share_of_dry_wood: tuple[Number, Number]


class Accepted(Document):
    """What was written of a batch."""

    file: str
    row: str
    calendar: str | None = Field(description="null while no plan is published")


class BatchAnswer(Document):
    """What 'inoculation --batch --json' prints."""

    stack: str
    strain_class: str
    strain: str
    tree: str
    logs: Count
    diameter_m: Number
    length_m: Number
    spawn: str
    tool: str
    note: str
    holes: Holes
    materials: BatchMaterials
    weight: BatchWeight
    calendar: BatchDates
    gives: BatchYield = Field(validation_alias="yield", serialization_alias="yield")
    cautions: tuple[str, ...]
    today: Day
    care: tuple[YoungCare, ...] = Field(description="its dates as in a plan's care")
    accepted: Accepted | None
    drawing: str | None
    warnings: tuple[str, ...]


class WantedFor(Document):
    """What an outlet wants."""

    outlet: str
    target_kg: Number


class _InoculationOf(Document):
    """Logs of one kind to inoculate in one year."""

    year: int = Field(description="in which they are inoculated")
    strain_class: str
    tree: str
    diameter_m: Number
    length_m: Number
    spawn: str
    logs: Count
    bears_from: int
    bears_to: int


class Inoculation(BatchMaterials, _InoculationOf):
    """Logs of one kind to inoculate in one year, and what that takes."""


class Season(Document):
    """One season of a programme; the last is the settled yard."""

    year: int = Field(description="the growing season by the year it begins in")
    inoculated_logs: Count
    bearing_logs: Count
    spawn_run_logs: Count
    leaving_logs: Count
    target_kg: Number
    picked_kg: Number
    sold_kg: Number
    sold_p10_kg: Number
    sold_p90_kg: Number
    chance: Number | None = Field(description="null without a sale")


class Leaving(Document):
    """A stack that stands."""

    stack: str
    logs: Count
    last_year: int = Field(description="the last season worth keeping it")


class SettledWeek(Document):
    """What one class does in one week of the settled year."""

    week: Day
    strain_class: str
    soaked_logs: Number
    picked_kg: Number


class CauseOfLogs(Document):
    """One cause why we count more logs than the rule of thumb."""

    cause: str
    factor: Number


class LogsForAPound(Document):
    """Logs to keep for a pound a week."""

    logs: Number
    weekly_kg: Number
    logs_per_lb_a_week: Number
    rule_of_thumb: tuple[Number, Number]
    whole_farms: tuple[Number, Number]
    rule_of_thumb_with_our_flush: Number
    causes: tuple[CauseOfLogs, ...] = Field(
        description="their product leads from the rule of thumb with our flush to ours"
    )


class KindMoney(Document):
    """What a log of one kind costs and earns."""

    strain_class: str
    tree: str
    wood: Amount
    spawn: Amount
    wax: Amount
    inoculating: Amount
    soaking: Amount
    start: Amount = Field(description="until it lies in the yard")
    life: Amount = Field(description="with the soaks of its life")
    life_sold_kg: Number
    break_even_kg: Amount | None
    left_out: tuple[str, ...] = Field(description="what has no price")


class MoneyOfYear(Document):
    """Income and spending of one year."""

    year: int = Field(description="the growing season by the year it begins in")
    income: Amount
    spent: Amount
    margin_p10: Amount
    margin: Amount
    margin_p90: Amount
    margin_per_kg: Amount | None


class Money(Document):
    """What the logs cost and earn, in the grower's own money."""

    price_per_kg: Amount | None
    kinds: tuple[KindMoney, ...]
    years: tuple[MoneyOfYear, ...]


class ProgrammeAnswer(Document):
    """What 'inoculation --json' prints."""

    today: Day
    years: Count
    wished_chance: Number
    chance: Number = Field(
        description="share of sales met in weather years that the programme was not made for"
    )
    reached: bool
    outlets: tuple[WantedFor, ...]
    inoculate_on: Day = Field(description="day from which the first year's batches are counted")
    inoculate: tuple[Inoculation, ...] = Field(description="one entry a year, class and wood")
    seasons: tuple[Season, ...]
    leaving: tuple[Leaving, ...]
    settled_year: tuple[SettledWeek, ...]
    logs_per_pound: LogsForAPound | None
    doubt_logs: Number | None = Field(
        description="of the last year's logs those that not knowing how well yard and seasons "
        "bear asks for; null where the chance isn't reached"
    )
    money: Money | None = Field(description="null without prices")
    gap: Number | None = Field(
        description="what whole logs cost beyond the best programme in parts of logs, as a share"
    )
    weather_years: Count
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
