"""What became of a phrase: right, asked about, refused or taken wrongly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path

from fruitcast.diary.events import Event
from fruitcast.diary.recording import Recorded
from fruitcast.diary.spoken import parse_sentence
from fruitcast.diary.state import StackState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.errors import FruitcastError
from fruitcast.yard.model import Yard

FIGURES = (
    *("logs", "hours", "kg", "second_kg", "lost_kg", "cause", "by", "paid", "mm", "litres"),
    *("outlet", "into", "grade", "picked_on"),
)


def phrases(file: Path) -> list[tuple[str, str]]:
    """Return each phrase of a file and what it means, '?' where it is to be asked or refused."""
    lines = file.read_text(encoding="utf-8").splitlines()
    told = [line.split(" | ") for line in lines if line and not line.startswith("#")]
    return [(phrase, meant) for phrase, meant in told]


def in_short(event: Event) -> str:
    """Return an entry as the files write what is meant."""
    parts = [event.kind, event.stack.replace(" ", "_") or "-", f"{event.on:%m-%d}"]
    for name in FIGURES:
        value = getattr(event, name)
        if value not in (None, ""):
            shown = round(value, 3) if isinstance(value, float) else value
            parts.append(f"{name}={shown}".replace(" ", "_"))
    parts += [finding.replace(" ", "_") for finding in event.findings]
    return " ".join([*parts, f'"{event.note}"'] if event.note else parts)


@dataclass(frozen=True)
class Reader:
    """A yard on a day, to which phrases are said."""

    yard: Yard
    past: Sequence[Event]
    today: date
    _read: dict[str, tuple[Recorded, ...] | FruitcastError] = field(default_factory=dict)

    @cached_property
    def stacks(self) -> Mapping[str, StackState]:
        """Stacks and lots as the diary leaves them."""
        return yard_state(self.yard, self.past, self.today).stacks

    def read(self, phrase: str) -> tuple[Recorded, ...]:
        """Return what a phrase means; it is read once, whoever asks."""
        if phrase not in self._read:
            try:
                found = parse_sentence(
                    phrase,
                    yard=self.yard,
                    events=self.past,
                    today=self.today,
                    stacks=self.stacks,
                )
            except FruitcastError as error:
                self._read[phrase] = error
            else:
                self._read[phrase] = found
        answer = self._read[phrase]
        if isinstance(answer, FruitcastError):
            raise answer
        return answer

    def outcome(self, phrase: str, meant: str) -> tuple[str, str]:
        """Return 'right', 'asked', 'refused' or 'wrong', and what was understood."""
        try:
            records = self.read(phrase)
        except FruitcastError as error:
            return "refused", str(error)
        found = "; ".join(in_short(record.event) for record in records)
        if any(record.questions for record in records):
            return "asked", found
        return ("right" if found == meant else "wrong"), found
