"""The histories of all stacks and lots while the entries of the diary go in, one after another."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import count, islice

from fruitcast.diary.stack_history import StackHistory, in_parts, joined
from fruitcast.numbers import Numbers
from fruitcast.yard.model import SEPARATOR, Stack, Yard, lots_of


class YardHistory:
    """All stacks while the entries go in."""

    def __init__(self, yard: Yard, numbers: Numbers) -> None:
        self.logs_at_once = yard.logs_at_once
        self.lots_by_settings = yard.soaking.lot_logs is not None
        self.rows = {stack.name: stack for stack in yard.stacks}
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
        lots = self._by_base.get(name) or self._by_base.get(name.rpartition("/")[0], [])
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
            StackHistory(
                lot, name, row.name, lot_logs, row.diameter * row.length, self.numbers.diary
            )
            for lot, lot_logs in lots_of(name, logs, self.logs_at_once)
        ]
        self._by_base[name] = lots
        self.by_name.update({lot.name: lot for lot in lots})
        return lots
