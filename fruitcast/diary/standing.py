"""How each stack stands: what 'stacks --json' prints and the page shows beside the plan."""

from __future__ import annotations

from pydantic import AwareDatetime, Field

from fruitcast.document import Count, Day, Document, Number

NATURAL_DAYS = 28
"""Days ahead for which the chance of a natural flush is given. [day]"""


class SpawnRunDays(Document):
    """When a spawn run is or was done."""

    seen: bool = Field(default=False, description="whether the grower saw it")
    early: Day | None = Field(default=None, description="the 10 % day")
    middle: Day | None = Field(description="the 50 % day")
    likely: Day | None = Field(default=None, description="the 80 % day")
    late: Day | None = Field(default=None, description="the 90 % day")


class StandingHold(Document):
    """What forbids a soak."""

    cause: str
    until: Day | None
    reason: str


class StackStanding(Document):
    """One stack or lot as it stands."""

    stack: str
    row: str = Field(default="", description="its row in stacks.csv")
    strain_class: str = ""
    strain: str = ""
    tree: str = ""
    place: str = ""
    logs: Count = 0
    inoculated: Day | None = None
    state: str = Field(description="in words")
    spawn_run_progress: Number | None = Field(default=None, description="0 to 1")
    ready: SpawnRunDays | None = Field(
        default=None, description="when the spawn run is or was done"
    )
    bearing_year: int | None = None
    bearing_life_years: Number | None = None
    moisture_wet: Number | None = Field(default=None, description="water over whole weight")
    rest_left_days: Count = 0
    soakable_from: Day | None = None
    holds: tuple[StandingHold, ...] = Field(default=(), description="what forbids a soak")
    natural_chance: Number | None = Field(
        default=None, description="of a first pick of a natural flush within natural_days days"
    )
    natural_pick_on: Day | None = Field(default=None, description="its middle day")
    last_soak_on: Day | None = None
    last_pick_on: Day | None = None
    picked_kg: Number = 0.0
    next_soak_on: Day | None = None


class Standing(Document):
    """All stacks and lots today."""

    today: Day
    planned_on: Day | None = Field(
        description="day of the plan that the next soaks come from; null without one"
    )
    natural_days: Count
    stacks: tuple[StackStanding, ...] = Field(description="one entry a stack or lot")
    losses: str = Field(
        default="",
        description="what was lost so far and the share that the plan counts on; empty when "
        "nobody wrote it down",
    )
    warnings: tuple[str, ...]


class KnownWeather(Document):
    """Where the weather is from and how far it goes."""

    origin: str
    attribution: str = ""
    observed_to: Day
    forecast_to: Day | None


class Background(Document):
    """What belongs to a plan but costs too much to work out for a page."""

    inputs: str = Field(default="", description="fingerprint of the yard that it was made from")
    plan_made_at: AwareDatetime | None = None
    stacks: tuple[StackStanding, ...] = ()
    years: tuple[Count, ...] = ()
    weather: KnownWeather | None = None
