"""What the diary would say during a hindcast: the true season recorded as a grower records it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fruitcast.diary.stack_history import StackHistory
from fruitcast.diary.state import StackState, YardState
from fruitcast.hindcast.ledger import Sales, sell
from fruitcast.hindcast.truth import CarriedSoak, TrueFlush, TrueSeason
from fruitcast.numbers import Numbers
from fruitcast.soaks.problem import OutletDay
from fruitcast.yard.model import Yard


@dataclass(frozen=True)
class SoakDone:
    """A soak as it goes into the diary.

    Attributes
    ----------
    stack : str
        Stack or lot.
    logs : int
        Logs in the water.
    hours : float
        Hours in water. [h]
    soak : CarriedSoak
        When.
    """

    stack: str
    logs: int
    hours: float
    soak: CarriedSoak


@dataclass(frozen=True)
class SimulatedYard:
    """A yard in the true season.

    Attributes
    ----------
    yard : Yard
        Settings and stacks.
    begin : YardState
        What the diary said when the season began.
    season : TrueSeason
        What comes true.
    weeks : int
        Length of the season. [week]
    sales : tuple of OutletDay
        Every sale of the season; days count from its first.
    numbers : Numbers
        The numbers in use.
    """

    yard: Yard
    begin: YardState
    season: TrueSeason
    weeks: int
    sales: tuple[OutletDay, ...]
    numbers: Numbers

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
        picks = list(self._stock())
        for flushes in self.flushes(done).values():
            for flush in flushes:
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
        sold = self.sold_by(done, day)
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
        history = StackHistory.of(state, self.begin.lot_of[state.name], self.numbers.diary)
        picked: dict[date, float] = {}
        for flush in flushes:
            for on, kg in flush.picks:
                picked[on] = picked.get(on, 0.0) + kg
        entries: list[tuple[date, int, float | SoakDone]]
        entries = [(on, 0, kg) for on, kg in picked.items()]
        entries += [(done.soak.on, 2, done) for done in soaks]
        entries += [(done.soak.on + timedelta(days=done.soak.nights), 1, done) for done in soaks]
        asked = timedelta(days=int(self.numbers.forced.longest_days) + 1)
        bore = {flush.begun for flush in flushes if flush.kind == "forced" and flush.picks}
        entries += [
            (done.soak.on + timedelta(days=done.soak.nights) + asked, 3, done)
            for done in soaks
            if done.soak.on not in bore
        ]
        for on, kind, what in sorted(entries, key=lambda entry: entry[:2]):
            if on >= day:
                break
            if not isinstance(what, SoakDone):
                history.pick(on, what)
            elif kind == 1:
                history.pull(on)
            elif kind == 2:
                history.soak(on, what.logs, what.hours)
            else:
                history.see_nothing(on)
        return history.state(day)


def by_stack(done: Sequence[SoakDone]) -> dict[str, list[SoakDone]]:
    """Return the soaks of each stack, in order of date."""
    soaks: dict[str, list[SoakDone]] = {}
    for soak in sorted(done, key=lambda d: d.soak.on):
        soaks.setdefault(soak.stack, []).append(soak)
    return soaks
