"""What the diary says about each stack: the facts that the planner starts from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from math import ceil
from operator import attrgetter
from typing import Literal


@dataclass(frozen=True)
class Pick:
    """One picking of one stack."""

    on: date
    kg: float
    kind: Literal["forced", "natural"]  # 'forced' when it belongs to a soak, else 'natural'
    soaked_on: date | None = None  # first day of the soak it belongs to
    confirmed: bool = False  # whether the grower says in its note that it is right, however odd
    # Whether it is a part of a crate from several stacks, which nobody weighed
    shared: bool = False


@dataclass(frozen=True)
class Soak:
    """One soak as recorded."""

    on: date  # day on which the logs went in
    logs: int
    hours: float | None
    pulled_on: date | None  # None while the logs are in the tank
    pull_recorded: bool = True  # False when the pull was forgotten and `pulled_on` is inferred
    brought_nothing: bool = False  # whether the grower says that nothing came of it


@dataclass(frozen=True)
class SampleLog:
    """The starting point of a sample log that is weighed again and again."""

    sample: str  # its mark; empty when the stack has one
    since: date  # day on which the starting weight was recorded
    start_kg: float  # weight then [kg]
    moisture_wet: float  # moisture then [kg/kg wet]

    @property
    def dry_kg(self) -> float:
        """Weight without water. [kg]"""
        return self.start_kg * (1.0 - self.moisture_wet)


@dataclass(frozen=True)
class StackState:
    """One stack (or lot) as the diary leaves it today."""

    name: str  # stack, or lot like 'A/1'
    logs: int  # living logs today, after deaths, retirements, splits and merges
    soaks: tuple[Soak, ...] = ()  # in order of date
    picks: tuple[Pick, ...] = ()  # in order of date
    pins_on: date | None = None  # pins last seen and not picked since
    pins_counted: tuple[date, float] | None = None  # day and number of the pins last counted, a log
    fruiting_on: date | None = None  # a flush last seen in the open and not followed by a pick
    # First natural flush ever seen (it proves the spawn run done)
    natural_seen_on: date | None = None
    # First inspection that found the spawn run done (white ends all over)
    spawn_run_seen_on: date | None = None
    # Log moisture from weighed sample logs, in order of date [kg/kg dry wood]
    moisture_seen: tuple[tuple[date, float], ...] = ()
    watered: tuple[tuple[date, float], ...] = ()  # waterings, in order of date [mm on the logs]
    sample_logs: tuple[SampleLog, ...] = ()  # baselines in force, one for each sample log
    inspected_on: date | None = None
    findings: tuple[str, ...] = ()
    lost: tuple[tuple[date, int], ...] = ()  # logs found dead or retired, in order of date
    place: str = ""  # where the stack was moved to, in the grower's words; empty when never moved
    white_ends_on: date | None = None  # first inspection that found white mycelium at the ends
    # Day that the grower has fixed for the next soak, and its hours [h]
    fixed: tuple[date, float | None] | None = None
    held_until: date | None = None  # first day on which the grower lets it into the tank again
    # Day on which the grower kept it back; without `held_until` it is for that season
    held_since: date | None = None
    # When it was turned, covered, inoculated: the kind of entry and the day, in order of date
    tended: tuple[tuple[str, date], ...] = ()

    def tended_on(self, kind: str) -> list[date]:
        """Return the days on which a job was done that changes nothing in the model."""
        return [on for what, on in self.tended if what == kind]

    @property
    def last_soak(self) -> Soak | None:
        """The latest soak, if any."""
        return self.soaks[-1] if self.soaks else None

    @property
    def in_tank(self) -> bool:
        """Whether logs of it stand in the tank today."""
        return any(soak.pulled_on is None for soak in self.soaks)

    @property
    def soaking_logs(self) -> int:
        """Logs in the tank now, or else those that were soaked last."""
        there = sum(soak.logs for soak in self.soaks if soak.pulled_on is None)
        last = self.soaks[-1].logs if self.soaks else 0
        return min(there or last, self.logs)

    @property
    def picked_kg(self) -> float:
        """All that was picked from the stack so far. [kg]"""
        return sum(pick.kg for pick in self.picks)


@dataclass(frozen=True)
class Losses:
    """What of the picks could not be sold as first grade, as far as it was written down.

    Only picks count from the first to the last of a season that says something was lost: before
    and after nobody may have looked.
    """

    picked_kg: float = 0.0  # [kg]
    second_kg: float = 0.0  # of it second grade [kg]
    # Of it lost, by cause; the greatest first [kg]
    lost_kg: dict[str, float] = field(default_factory=dict)
    flushes: int = 0  # flushes that they came in
    # Share that can be sold: before any pick, and with these picks. What rain soaked counts for
    # neither: it is reckoned by the weather [0..1]
    believed: float = 1.0
    share: float = 1.0


@dataclass(frozen=True)
class YardState:
    """All that the diary says today."""

    # By stack or lot name; stacks larger than the tank appear as lots 'A/1', 'A/2'
    stacks: dict[str, StackState]
    lot_of: dict[str, str]  # lot or stack name to the name of its row in stacks.csv
    # Saleable mushrooms in the cold store, first grade: day picked and weight [kg]
    stock: tuple[tuple[date, float], ...] = ()
    # What of the picks could not be sold, and the share that can be, learned from it
    losses: Losses = field(default_factory=Losses)
    # The grower's own rain gauge [mm/day]
    rain_gauge: dict[date, float] = field(default_factory=dict)
    # Next soak day of each stack in the plan last published before today
    published: dict[str, date] = field(default_factory=dict)
    # Stacks and lots that the plan last published knew nothing of, or not as they are parted now
    unplanned: frozenset[str] = frozenset()
    # Lots that the grower accepted, with the day: not those that the tank or settings make
    accepted: dict[str, date] = field(default_factory=dict)
    # What was promised to whom for which day, from today on [kg]
    promised: tuple[tuple[str, date, float], ...] = ()
    notes: tuple[str, ...] = ()  # what was inferred or left out, for the grower to put right


# What the diary of one stack comes to: its flushes, its soaks, what its logs have given.


def first_picks(picks: tuple[Pick, ...], *, flush_days: float) -> list[Pick]:
    """Return the first pick of each flush, in order of date."""
    return [flush[0] for flush in picks_by_flush(picks, flush_days=flush_days)]


@lru_cache(maxsize=1024)
def picks_by_flush(picks: tuple[Pick, ...], *, flush_days: float) -> tuple[tuple[Pick, ...], ...]:
    """Return the picks of each flush, in order of date; one plan asks for them again and again."""
    flushes: list[list[Pick]] = []
    for pick in sorted(picks, key=attrgetter("on")):
        last = flushes[-1][-1] if flushes else None
        if last is not None and (
            pick.soaked_on == last.soaked_on
            and (pick.kind == "forced" or (pick.on - last.on).days <= flush_days)
        ):
            flushes[-1].append(pick)
        else:
            flushes.append([pick])
    return tuple(map(tuple, flushes))


def picked_per_log(
    state: StackState, doubted: Mapping[date, float] | None = None, *, flush_days: float
) -> float:
    """Return what a log of a stack that still lives has given so far. [kg/log]

    A pick is shared among the logs that lived on its day. For flushes that the grower is asked
    about (`doubted`, by their first pick) what a log should have given counts instead [kg/log];
    picks no further apart than `flush_days` belong to one flush.
    """
    total = 0.0
    for picks in picks_by_flush(state.picks, flush_days=flush_days):
        expected = (doubted or {}).get(picks[0].on)
        if expected is not None:
            total += expected
            continue
        for pick in picks:
            logs = state.logs
            if state.lost:
                logs += sum(lost for on, lost in state.lost if on > pick.on)
            total += pick.kg / max(logs, 1)
    return total


def pulled_on(soak: Soak, usual_hours: float) -> date:
    """Return the day on which the logs of a soak came, or will come, out of the tank."""
    if soak.pulled_on is not None:
        return soak.pulled_on
    hours = soak.hours or usual_hours
    return soak.on + timedelta(days=ceil(hours / 24))


def soak_behind(soaks: Sequence[Soak], day: date, *, forced_pick_days: float) -> Soak | None:
    """Return the soak that what was seen on a day belongs to; None when it came by itself."""
    window = timedelta(days=int(forced_pick_days))
    for soak in reversed(soaks):
        if soak.pulled_on is not None and soak.pulled_on <= day <= soak.pulled_on + window:
            return soak
    return None
