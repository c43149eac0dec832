"""The histories of stacks and lots while the diary is read: entries go in, states come out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import count, islice
from math import ceil
from typing import TYPE_CHECKING, Any, Literal

from fruitcast.diary.events import SPAWN_RUN_DONE, WHITE_ENDS
from fruitcast.diary.state import Pick, SampleLog, Soak, StackState, soak_behind
from fruitcast.numbers import Numbers
from fruitcast.yard.model import SEPARATOR, Stack, Yard, lots_of, stack_of

if TYPE_CHECKING:
    from fruitcast.topics import DiaryNumbers

HOURS_A_DAY = 24.0


def dry_basis_moisture(kg: float, start_kg: float, moisture_wet: float) -> float:
    """Return the moisture of a sample log from its weight now [kg]. [kg/kg dry wood]

    The dry wood is taken as unchanged since the log weighed `start_kg` at `moisture_wet`; below 0
    when it is lighter than its dry wood can be.
    """
    dry_kg = start_kg * (1.0 - moisture_wet)
    return (kg - dry_kg) / dry_kg


def _hours_full_on(soak: Soak) -> date:
    """Return the first morning after the hours meant are over (one night when none were given)."""
    return soak.on + timedelta(days=max(1, ceil((soak.hours or HOURS_A_DAY) / HOURS_A_DAY)))


_AS_IT_IS = (
    *("pins_on", "pins_counted", "fruiting_on", "natural_seen_on", "spawn_run_seen_on"),
    *("white_ends_on", "inspected_on", "findings", "place", "fixed", "held_until", "held_since"),
)
"""Fields that history and state have alike."""

_LISTED = ("soaks", "picks", "watered", "lost", "tended")
"""Fields that grow in the history, and stand in the state."""


@dataclass
class StackHistory:
    """A stack or lot as far as the diary has been read.

    Entries must come in order of date.

    The others as in `StackState`.
    """

    name: str
    row: str  # name of its row in stacks.csv
    logs: int
    area_per_log: float  # ground covered by one log [m2]
    numbers: DiaryNumbers
    soaks: list[Soak] = field(default_factory=list)
    picks: list[Pick] = field(default_factory=list)
    pins_on: date | None = None
    pins_counted: tuple[date, float] | None = None
    fruiting_on: date | None = None
    natural_seen_on: date | None = None
    spawn_run_seen_on: date | None = None
    white_ends_on: date | None = None
    moisture_seen: dict[date, list[float]] = field(default_factory=dict)
    watered: list[tuple[date, float]] = field(default_factory=list)
    samples: dict[str, SampleLog] = field(default_factory=dict)
    inspected_on: date | None = None
    findings: tuple[str, ...] = ()
    lost: list[tuple[date, int]] = field(default_factory=list)
    place: str = ""
    fixed: tuple[date, float | None] | None = None
    held_until: date | None = None
    held_since: date | None = None
    tended: list[tuple[str, date]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, state: StackState, row: str, numbers: DiaryNumbers) -> StackHistory:
        """Return the history that led to a state, for what is written down after it.

        Its `state` returns the state again; `row` is the name of its row in stacks.csv.
        """
        alike: dict[str, Any] = {name: getattr(state, name) for name in _AS_IT_IS}
        alike |= {name: list(getattr(state, name)) for name in _LISTED}
        return cls(
            *(state.name, row, state.logs, 0.0, numbers),
            moisture_seen={on: [share] for on, share in state.moisture_seen},
            samples={sample.sample: sample for sample in state.sample_logs},
            **alike,
        )

    @property
    def in_water(self) -> list[Soak]:
        """The soaks that are not over."""
        return [soak for soak in self.soaks if soak.pulled_on is None]

    def say(
        self,
        fixed: tuple[date, float | None] | None = None,
        held_until: date | None = None,
        held_since: date | None = None,
    ) -> None:
        """Take the grower's last word in the place of any before."""
        self.fixed, self.held_until, self.held_since = fixed, held_until, held_since

    def soak(self, on: date, logs: int, hours: float | None) -> None:
        """Put logs into the tank."""
        in_water = self.in_water
        if sum(soak.logs for soak in in_water) + logs > self.logs:
            # They can't be in the water twice: the pull between was not recorded.
            for soak in in_water:
                self._infer_pull(soak, min(_hours_full_on(soak), on))
        self.soaks.append(Soak(on, logs, hours, None))
        self.say()  # it was about the next soak, which this is
        self.pins_on = self.fruiting_on = None

    def pull(self, on: date) -> None:
        """Take the logs out of the tank."""
        waiting = self.in_water or [soak for soak in self.soaks[-1:] if not soak.pull_recorded]
        if not waiting:
            self.notes.append(
                f"{self.name}: a pull on {on} without a soak before it is left out. Record the "
                "soak too"
            )
        for soak in waiting:
            self._end(soak, pulled_on=on, pull_recorded=True)

    def pick(self, on: date, kg: float, *, confirmed: bool = False, shared: bool = False) -> None:
        """Pick mushrooms; they belong to a soak pulled not long before, or came by themselves."""
        for soak in self.in_water:
            if on > _hours_full_on(soak):
                self._infer_pull(soak, _hours_full_on(soak))
        soaked_on = self._soak_behind(on)
        kind: Literal["natural", "forced"] = "natural" if soaked_on is None else "forced"
        self.picks.append(Pick(on, kg, kind, soaked_on, confirmed, shared))
        if soaked_on is None:
            self.natural_seen_on = self.natural_seen_on or on
        self.pins_on = self.fruiting_on = None

    def in_flush(self, on: date) -> bool:
        """Return whether mushrooms may be picked on a day by what was soaked, seen and picked."""
        if self.pins_on or self.fruiting_on:
            return True
        soaked_on = self._soak_behind(on)
        picked = [pick.on for pick in self.picks if pick.soaked_on == soaked_on]
        over = timedelta(days=self.numbers.flush_days)
        return soaked_on is not None and (not picked or on - max(picked) <= over)

    def see_fruiting(self, on: date) -> None:
        """See mushrooms in the open."""
        self.fruiting_on = on
        if self._soak_behind(on) is None:
            self.natural_seen_on = self.natural_seen_on or on

    def see_nothing(self, on: date) -> None:
        """Find that nothing came of the last soak that was pulled by then, or of pins."""
        pulled = [s for s in self.soaks if s.pulled_on is not None and s.pulled_on <= on]
        if pulled and all(pick.soaked_on != pulled[-1].on for pick in self.picks):
            self._end(pulled[-1], brought_nothing=True)
        self.pins_on = self.fruiting_on = None

    def weigh(
        self, on: date, sample: str, kg: float, start_kg: float | None, moisture_wet: float | None
    ) -> None:
        """Weigh a sample log, with a new starting point or against the one in force."""
        if start_kg is not None and moisture_wet is not None:
            self.samples[sample] = SampleLog(sample, on, start_kg, moisture_wet)
        baseline = self.samples.get(sample)
        if baseline is None:
            self.notes.append(
                f"{self.name}: the weight of {on} says nothing without a starting weight and "
                "moisture. Record them once"
            )
            return
        moisture = dry_basis_moisture(kg, baseline.start_kg, baseline.moisture_wet)
        if moisture < 0:
            self.notes.append(
                f"{self.name}: the sample log weighed {kg:.2f} kg on {on}, less than its dry wood "
                f"({baseline.dry_kg:.2f} kg). Record a new starting weight and moisture"
            )
            return
        self.moisture_seen.setdefault(on, []).append(moisture)

    def inspect(self, on: date, findings: tuple[str, ...], dead: int) -> None:
        """Look at the logs: signs of the spawn run, enemies, deaths."""
        self.inspected_on, self.findings = on, findings
        if SPAWN_RUN_DONE in findings:
            self.spawn_run_seen_on = self.spawn_run_seen_on or on
        if WHITE_ENDS in findings:
            self.white_ends_on = self.white_ends_on or on
        self.lose(on, dead)

    def lose(self, on: date, logs: int) -> None:
        """Take logs out for good: dead or retired."""
        logs = min(logs, self.logs)
        if logs:
            self.lost.append((on, logs))
            self.logs -= logs

    def give(self, logs: int, to: StackHistory) -> None:
        """Hand over logs with their share of the past: a split, or a merge when all go."""
        if logs <= 0 or not self.logs:
            return
        share = logs / self.logs
        self.logs -= logs
        to.logs += logs
        moved = [_scaled(pick, share) for pick in self.picks]
        to.picks = sorted(to.picks + moved, key=lambda pick: pick.on)
        self.picks = [_scaled(pick, 1.0 - share) for pick in self.picks] if self.logs else []
        known = {(soak.on, soak.pulled_on) for soak in to.soaks}
        to.soaks += [
            replace(soak, logs=min(max(1, round(share * soak.logs)), logs))
            for soak in self.soaks
            if (soak.on, soak.pulled_on) not in known
        ]
        to.soaks.sort(key=lambda soak: soak.on)
        to.pins_on = _later(to.pins_on, self.pins_on)
        counts = [counted for counted in (to.pins_counted, self.pins_counted) if counted]
        to.pins_counted = max(counts, default=None)
        to.fruiting_on = _later(to.fruiting_on, self.fruiting_on)
        if to.logs == logs:  # a new stack: what was seen of the old one holds for it too
            for name in _AS_IT_IS:
                setattr(to, name, getattr(self, name))
            to.moisture_seen = {on: list(seen) for on, seen in self.moisture_seen.items()}
            to.watered = list(self.watered)
            to.tended = list(self.tended)
        if not self.logs:
            self.soaks = []
            self.pins_on = self.fruiting_on = self.pins_counted = None

    @property
    def soaked(self) -> tuple[tuple[date, date | None], ...]:
        """Days in and out of the tank: what lots must have in common to be regrouped."""
        return tuple((soak.on, soak.pulled_on) for soak in self.soaks)

    def parted(self, names: Sequence[str]) -> list[StackHistory]:
        """Return lots of about the same size, the larger first, each with its share of the past."""
        sizes = _even(self.logs, len(names))
        shares = [size / max(self.logs, 1) for size in sizes]

        def of_each(logs: int) -> list[int]:
            return _whole([logs * share for share in shares], logs)

        soaked = [of_each(soak.logs) for soak in self.soaks]
        lost = [of_each(logs) for _, logs in self.lost]
        lots = []
        for n, (name, logs) in enumerate(zip(names, sizes, strict=True)):
            soaks = [replace(soak, logs=s[n]) for soak, s in zip(self.soaks, soaked, strict=True)]
            gone = [(on, each[n]) for (on, _), each in zip(self.lost, lost, strict=True)]
            lots.append(
                replace(
                    self,
                    name=name,
                    logs=logs,
                    soaks=soaks,
                    picks=[_scaled(pick, shares[n]) for pick in self.picks],
                    moisture_seen={on: list(seen) for on, seen in self.moisture_seen.items()},
                    watered=list(self.watered),
                    tended=list(self.tended),
                    samples=dict(self.samples),
                    lost=[(on, each) for on, each in gone if each],
                    notes=[] if n else self.notes,
                )
            )
        return lots

    def state(self, today: date) -> StackState:
        """Return the state on a day, with forgotten pulls and pins put right."""
        slack = timedelta(days=self.numbers.forgotten_pull_days)
        for soak in self.in_water:
            if today > _hours_full_on(soak) + slack:
                self._infer_pull(soak, _hours_full_on(soak))
        if self.fixed and self.fixed[0] < today:
            self.notes.append(
                f"{self.name}: fixed for {self.fixed[0]} and not soaked; the plan chooses again"
            )
            self.fixed = None
        if self.held_until and self.held_until <= today:
            self.say()
        stale = timedelta(days=self.numbers.stale_pins_days)
        for what in ("pins_on", "fruiting_on"):
            seen: date | None = getattr(self, what)
            if seen is not None and today > seen + stale:
                self.notes.append(
                    f"{self.name}: {what.removesuffix('_on')} seen on {seen} and nothing picked "
                    "since; taken as gone. If nothing came, record 'nothing' for the stack"
                )
                setattr(self, what, None)
        alike: dict[str, Any] = {name: getattr(self, name) for name in _AS_IT_IS}
        alike |= {name: tuple(getattr(self, name)) for name in _LISTED}
        return StackState(
            name=self.name,
            logs=self.logs,
            moisture_seen=tuple(
                (on, sum(shares) / len(shares)) for on, shares in sorted(self.moisture_seen.items())
            ),
            sample_logs=tuple(self.samples.values()),
            **alike,
        )

    def _soak_behind(self, on: date) -> date | None:
        """Return the soak that a flush on a day belongs to, None when it came by itself."""
        soak = soak_behind(self.soaks, on, forced_pick_days=self.numbers.forced_pick_days)
        return soak.on if soak else None

    def _end(self, soak: Soak, **changes: Any) -> None:
        """Put a soak right by what is known of it since."""
        self.soaks[self.soaks.index(soak)] = replace(soak, **changes)

    def _infer_pull(self, soak: Soak, on: date) -> None:
        self._end(soak, pulled_on=on, pull_recorded=False)
        self.notes.append(
            f"{self.name}: soaked on {soak.on} and no pull recorded; taken as pulled on {on}. "
            "Record the pull if that is wrong."
        )


def _scaled(pick: Pick, share: float) -> Pick:
    return replace(pick, kg=pick.kg * share)


def _later(first: date | None, second: date | None) -> date | None:
    return max((day for day in (first, second) if day is not None), default=None)


def joined(lots: Sequence[StackHistory]) -> StackHistory:
    """Return one history of lots whose living logs went in and out of the tank together.

    Raises ValueError if they did not: rests are never mixed.
    """
    living = [lot for lot in lots if lot.logs]
    first = living[0]
    if any(lot.soaked != first.soaked for lot in living):
        raise ValueError(f"{first.name} did not rest like the others")
    soaks = [
        replace(parts[0], logs=sum(soak.logs for soak in parts))
        for parts in zip(*(lot.soaks for lot in living), strict=True)
    ]
    picks: dict[tuple[date, date | None], Pick] = {}
    for pick in (pick for lot in lots for pick in lot.picks):
        key = (pick.on, pick.soaked_on)
        other = picks.get(key)
        picks[key] = (
            pick
            if other is None
            else replace(
                pick,
                kg=pick.kg + other.kg,
                confirmed=pick.confirmed or other.confirmed,
                shared=pick.shared or other.shared,
            )
        )
    lost: dict[date, int] = {}
    for on, logs in (each for lot in lots for each in lot.lost):
        lost[on] = lost.get(on, 0) + logs
    return replace(
        first,
        logs=sum(lot.logs for lot in lots),
        soaks=soaks,
        picks=sorted(picks.values(), key=lambda pick: pick.on),
        lost=sorted(lost.items()),
        notes=[note for lot in lots for note in lot.notes],
    )


def hand_over(history: StackHistory, logs: int, targets: list[StackHistory]) -> None:
    """Give logs to the lots of a stack: by their size, or evenly when it is new."""
    empty = not any(target.logs for target in targets)
    shares = _even(logs, len(targets)) if empty else shared(logs, targets)
    for target, share in zip(targets, shares, strict=True):
        history.give(share, target)


def shared(logs: int | None, histories: Sequence[StackHistory]) -> list[int]:
    """Divide a number of logs among lots by their living logs, in whole logs; None is all."""
    if logs is None:
        return [history.logs for history in histories]
    total = sum(history.logs for history in histories)
    if not total:
        return _even(logs, len(histories))
    exact = [logs * history.logs / total for history in histories]
    return _whole(exact, logs)


def _even(logs: int, parts: int) -> list[int]:
    return _whole([logs / parts] * parts, logs)


def in_parts(number: int, logs: Sequence[int]) -> list[int]:
    """Divide a number of lots among groups of logs by their size, at least one for each."""
    parts = [1] * len(logs)
    while sum(parts) < number:
        largest = max(range(len(logs)), key=lambda n: logs[n] / parts[n])
        parts[largest] += 1
    return parts


def _whole(exact: Iterable[float], total: int) -> list[int]:
    """Round to whole numbers that add up to the total, the largest remainders upwards."""
    values = list(exact)
    whole = [int(value) for value in values]
    order = sorted(range(len(values)), key=lambda i: whole[i] - values[i])
    for i in order[: total - sum(whole)]:
        whole[i] += 1
    return whole


class YardHistory:
    """All stacks while the entries go in."""

    def __init__(self, yard: Yard, numbers: Numbers) -> None:
        self.logs_at_once = yard.logs_at_once
        self.lots_by_settings = yard.soaking.lot_logs is not None
        self.rows = yard.by_name
        self.numbers = numbers
        self.by_name: dict[str, StackHistory] = {}
        self.accepted: dict[str, date] = {}
        self.rain_gauge: dict[date, float] = {}
        self.promised: dict[tuple[str, date], float] = {}
        self._by_base: dict[str, list[StackHistory]] = {}
        self._unknown: dict[str, int] = {}
        for stack in yard.stacks:
            self.begin(stack.name, stack, stack.logs)

    def concerned(self, name: str) -> list[StackHistory]:
        """Return the stack or lots of a name, all without one; a stack that is gone is noted."""
        histories = self.named(name) if name else list(self.by_name.values())
        if not histories:
            self.miss(name)
        return histories

    def miss(self, name: str) -> None:
        """Note an entry of a stack that the yard does not have."""
        self._unknown[name] = self._unknown.get(name, 0) + 1

    def named(self, name: str) -> list[StackHistory]:
        """Return the stack or lot of a name, or all lots of a stack, those with logs if any."""
        if name in self.by_name:
            return [self.by_name[name]]
        # A lot of a division that no longer holds (another tank) stands for its whole stack.
        lots = self._by_base.get(name) or self._by_base.get(stack_of(name), [])
        return [lot for lot in lots if lot.logs] or list(lots)

    def part(self, name: str, number: int, on: date) -> None:
        """Part a stack into so many lots, 1 for whole; logs that rested alike are regrouped."""
        if self.lots_by_settings:
            return  # the grower's own lot_logs says it
        before = self._by_base.get(name, [])
        logs = sum(lot.logs for lot in before)
        if not logs:
            self.miss(name)
            return
        alike: dict[tuple[object, ...], list[StackHistory]] = {}
        for lot in before:
            if lot.logs:
                alike.setdefault(lot.soaked, []).append(lot)
        least = max(len(alike), -(-logs // self.logs_at_once))
        if number < len(alike):
            before[0].notes.append(
                f"{name}: the entry of {on} on its lots is left out, its logs did not rest alike. "
                "Record it again when they have been soaked together"
            )
            return
        gone = [lot for lot in before if not lot.logs]
        groups = [
            joined([*lots, *gone] if not n else lots) for n, lots in enumerate(alike.values())
        ]
        sizes = in_parts(max(number, least), [group.logs for group in groups])
        names = self._lot_names(name, list(alike.values()), sizes)
        lots = [
            lot for group, mine in zip(groups, names, strict=True) for lot in group.parted(mine)
        ]
        lots.sort(key=lambda lot: lot.name)
        self._by_base[name] = lots
        found: dict[str, StackHistory] = {}
        for other, history in self.by_name.items():
            if history is before[0]:
                found.update({lot.name: lot for lot in lots})
            elif not any(history is lot for lot in before):
                found[other] = history
        self.by_name = found
        self.accepted = {lot: day for lot, day in self.accepted.items() if lot in found}
        if number > 1:
            self.accepted.update({lot.name: on for lot in lots})

    @staticmethod
    def _lot_names(
        stack: str, groups: Sequence[Sequence[StackHistory]], sizes: Sequence[int]
    ) -> list[list[str]]:
        """Return names for the lots made of each group: those it had, then new ones."""
        if sum(sizes) == 1:
            return [[stack]]
        kept = [
            [lot.name for lot in group if SEPARATOR in lot.name][:size]
            for group, size in zip(groups, sizes, strict=True)
        ]
        taken = {name for names in kept for name in names}
        free = (name for n in count(1) if (name := f"{stack}{SEPARATOR}{n}") not in taken)
        return [
            names + list(islice(free, size - len(names)))
            for names, size in zip(kept, sizes, strict=True)
        ]

    def unknown_notes(self) -> tuple[str, ...]:
        """Return a sentence for each stack in the diary that the yard does not have."""
        return tuple(
            f"{name}: {count} diary {'entry' if count == 1 else 'entries'} left out, the stack is "
            "not in stacks.csv. Put its row back, or leave it if the stack is gone"
            for name, count in sorted(self._unknown.items())
        )

    def begin(self, name: str, row: Stack, logs: int) -> list[StackHistory]:
        """Begin a stack, in lots where it does not fit the tank."""
        lots = [
            StackHistory(lot, row.name, lot_logs, row.diameter * row.length, self.numbers.diary)
            for lot, lot_logs in lots_of(name, logs, self.logs_at_once)
        ]
        self._by_base[name] = lots
        self.by_name.update({lot.name: lot for lot in lots})
        return lots
