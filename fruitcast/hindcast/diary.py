"""What the diary would say during a hindcast, and what the cold store would hold."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from operator import itemgetter

from fruitcast.diary.history import StackHistory
from fruitcast.diary.state import StackState, YardState
from fruitcast.hindcast.truth import CarriedSoak, TrueFlush, TrueSeason
from fruitcast.numbers import Numbers
from fruitcast.soaks.problem import OutletDay
from fruitcast.yard.model import Yard

# The cold store of one possible future, day by day: what is sold where, what expires.
#
# Written to be read and believed, not to be fast: plain lists of batches. It shares no code
# with the search, so that the two can be held against each other.


@dataclass
class StoredPick:
    """Mushrooms of one pick still in the cold store. [day, kg]"""

    picked: int
    kg: float


@dataclass(frozen=True)
class Sales:
    """One member's sales."""

    # Sold on each outlet day, in the order the outlet days were given [kg]
    delivered: tuple[float, ...]
    # Saleable stock when that outlet's turn came: what it could have had with no limit [kg]
    available: tuple[float, ...]
    # What passed its last day unsold, that day lying before the last of the ledger [kg]
    expired: float
    # Stock at the end: day picked and weight, oldest first [kg]
    store: tuple[tuple[int, float], ...]

    @property
    def left(self) -> float:
        """Stock at the end. [kg]"""
        return sum(kg for _, kg in self.store)


def sell(
    picks: Iterable[tuple[int, float]],
    outlets: Sequence[OutletDay],
    cold_days: int,
    days: int,
) -> Sales:
    """Return what is sold and what expires when the oldest mushrooms always go first.

    `picks` are days, negative for stock on hand, and saleable weights [kg]; the ledger is so many
    `days` long. A pick of day p is for sale on the days p+1 .. p+cold_days. On one day the outlet
    of larger weight is served first, equal weights by name.
    """
    picked_on: dict[int, float] = defaultdict(float)
    for day, kg in picks:
        picked_on[day] += kg
    served: dict[int, list[int]] = defaultdict(list)
    for index, outlet in enumerate(outlets):
        served[outlet.day].append(index)
    for queue in served.values():
        queue.sort(key=lambda index: (-outlets[index].weight, outlets[index].outlet))

    store = [StoredPick(day, picked_on[day]) for day in sorted(picked_on) if day < 0]
    delivered = [0.0] * len(outlets)
    available = [0.0] * len(outlets)
    expired = 0.0
    for today in range(days):
        expired += sum(batch.kg for batch in store if batch.picked + cold_days < today)
        store = [batch for batch in store if batch.picked + cold_days >= today]
        for index in served[today]:
            available[index] = sum(batch.kg for batch in store)
            wanted = outlets[index].target
            for batch in store:  # oldest first
                sold = min(batch.kg, wanted)
                batch.kg -= sold
                wanted -= sold
            delivered[index] = outlets[index].target - wanted
            store = [batch for batch in store if batch.kg > 0.0]
        if today in picked_on:  # for sale from tomorrow on
            store.append(StoredPick(today, picked_on[today]))
    # The night after the last day: what was sold until then at the latest has expired too.
    expired += sum(batch.kg for batch in store if batch.picked + cold_days < days)
    kept = tuple((b.picked, b.kg) for b in store if b.picked + cold_days >= days)
    return Sales(tuple(delivered), tuple(available), expired, kept)


# What the diary would say during a hindcast: the true season recorded as a grower records it.


@dataclass(frozen=True)
class SoakDone:
    """A soak as it goes into the diary."""

    stack: str  # stack or lot
    logs: int  # logs in the water
    hours: float  # hours in water [h]
    soak: CarriedSoak  # when


@dataclass(frozen=True)
class SimulatedYard:
    """A yard in the true season."""

    yard: Yard  # settings and stacks
    begin: YardState  # what the diary said when the season began
    season: TrueSeason  # what comes true
    weeks: int  # length of the season [week]
    sales: tuple[OutletDay, ...]  # every sale of the season; days count from its first
    numbers: Numbers  # the numbers in use
    _written: dict[tuple[str, tuple[SoakDone, ...]], list[_Entry]] = field(default_factory=dict)
    _known: dict[tuple[str, tuple[SoakDone, ...], int], StackState] = field(default_factory=dict)

    @property
    def first(self) -> date:
        """First day of the season."""
        return self.season.outlook.futures.today

    def flushes(self, done: Sequence[SoakDone]) -> dict[str, tuple[TrueFlush, ...]]:
        """Return every stack's flushes, given the soaks done so far."""
        soaks = by_stack(done)
        return {
            name: self.season.flushes(name, [d.soak for d in soaks.get(name, ())])
            for name in self.begin.stacks
        }

    def sold_by(self, done: Sequence[SoakDone], day: date) -> Sales:
        """Return what was picked and sold before a day, oldest mushrooms first."""
        return self._sold(self.flushes(done), day)

    def _sold(self, flushes: Mapping[str, Sequence[TrueFlush]], day: date) -> Sales:
        picks = list(self._stock())
        for of_stack in flushes.values():
            for flush in of_stack:
                picks += [
                    ((on - self.first).days, kg * self.season.saleable(on, flush.kind))
                    for on, kg in flush.picks
                    if on < day
                ]
        days = (day - self.first).days
        outlets = [sale for sale in self.sales if sale.day < days]
        return sell(picks, outlets, self.yard.cold_store_days, days)

    def state_on(
        self, done: Sequence[SoakDone], published: Mapping[str, date], day: date
    ) -> YardState:
        """Return what the diary says on the morning of a day.

        A flush is written down when it is picked; what is only on its way nobody has seen.
        """
        flushes, soaks = self.flushes(done), by_stack(done)
        sold = self._sold(flushes, day)
        return replace(
            self.begin,
            stacks={
                name: self._recorded(state, soaks.get(name, []), flushes[name], day)
                for name, state in self.begin.stacks.items()
            },
            stock=tuple((self.first + timedelta(days=on), kg) for on, kg in sold.store),
            published=dict(published),
        )

    def _stock(self) -> list[tuple[int, float]]:
        return [((on - self.first).days, kg) for on, kg in self.begin.stock]

    def _recorded(
        self,
        state: StackState,
        soaks: Sequence[SoakDone],
        flushes: Sequence[TrueFlush],
        day: date,
    ) -> StackState:
        """Return a stack's state after the entries of the season, by the diary's own rules.

        That a soak brought nothing is written down when the plan asks after it.
        """
        entries = self._entries(state.name, tuple(soaks), flushes)
        seen = bisect_left(entries, day, key=itemgetter(0))
        key = (state.name, tuple(soaks), seen)
        if key in self._known:
            return self._known[key]
        history = StackHistory.of(state, self.begin.lot_of[state.name], self.numbers.diary)
        for on, kind, what in entries[:seen]:
            if not isinstance(what, SoakDone):
                history.pick(on, what)
            elif kind == 1:
                history.pull(on)
            elif kind == 2:
                history.soak(on, what.logs, what.hours)
            else:
                history.see_nothing(on)
        now = history.state(day)
        # Logs in the tank, pins and the grower's word on the next soak are not left as they are.
        passing = (now.pins_on, now.fruiting_on, now.fixed, now.held_until)
        if not now.in_tank and not any(passing):
            self._known[key] = now
        return now

    def _entries(
        self, name: str, soaks: tuple[SoakDone, ...], flushes: Sequence[TrueFlush]
    ) -> list[_Entry]:
        """Return what is written down of a stack with the season's soaks so far, in order."""
        if (name, soaks) in self._written:
            return self._written[name, soaks]
        picked: dict[date, float] = {}
        for flush in flushes:
            for on, kg in flush.picks:
                picked[on] = picked.get(on, 0.0) + kg
        entries: list[_Entry] = [(on, 0, kg) for on, kg in picked.items()]
        entries += [(done.soak.on, 2, done) for done in soaks]
        entries += [(done.soak.on + timedelta(days=done.soak.nights), 1, done) for done in soaks]
        asked = timedelta(days=int(self.numbers.forced.longest_days) + 1)
        bore = {flush.begun for flush in flushes if flush.kind == "forced" and flush.picks}
        entries += [
            (done.soak.on + timedelta(days=done.soak.nights) + asked, 3, done)
            for done in soaks
            if done.soak.on not in bore
        ]
        self._written[name, soaks] = sorted(entries, key=itemgetter(0, 1))
        return self._written[name, soaks]


_Entry = tuple[date, int, float | SoakDone]
"""Day, place among the entries of that day, and what was done or picked."""


def by_stack(done: Sequence[SoakDone]) -> dict[str, list[SoakDone]]:
    """Return the soaks of each stack, in order of date."""
    soaks: dict[str, list[SoakDone]] = {}
    for soak in sorted(done, key=lambda d: d.soak.on):
        soaks.setdefault(soak.stack, []).append(soak)
    return soaks
