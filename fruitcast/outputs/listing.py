"""What an answer is told in: headings, paragraphs, and listings that fit the terminal's window.

The page tells the same parts, so that both have the same words and figures.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeVar

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.text import Text

from fruitcast.words import clean_line

AnyRow = TypeVar("AnyRow")

_GAP = "  "

_LEAST_ROOM = 24
"""A last column of words that has so much room is broken there instead of moved below."""


@dataclass(frozen=True)
class Column:
    """One column."""

    header: str
    align: Literal["left", "right"] = "left"  # 'left' for words and days, 'right' for numbers
    # How its value reads in the line below when the window is too narrow for the column, with {}
    # for the value; None for a column that stays as long as there is any room.
    aside: str | None = None


class Row:
    """One row: its cells, and a note that stands below it."""

    def __init__(self, *cells: str, note: str = "") -> None:
        self.cells, self.note = tuple(map(clean_line, cells)), clean_line(note)


class Heading:
    """A heading with a line of air above it."""

    kind = "heading"

    def __init__(self, words: str) -> None:
        self.words = clean_line(words)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield its lines."""
        yield Text(f"\n{self.words}", style="bold")


class Indented:
    """A paragraph some cells in from the left, without blanks at the ends of its lines."""

    kind = "words"

    def __init__(self, words: str, by: int = 2, style: str = "", *, lead: str = "") -> None:
        self.words, self._by, self._style = clean_line(words), by, style
        self._lead = lead.ljust(by)  # stands before the first line

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield its lines."""
        width = max(options.max_width - self._by, 1)
        before = Text(self._lead, style=self._style)
        for line in Text(self.words, style=self._style).wrap(console, width):
            line.rstrip()
            yield before + line
            before = Text(" " * self._by)


def title(words: str) -> RenderableType:
    """Return a heading with a blank line above it."""
    return Text(f"\n{words}", style="bold underline")


def section(words: str, told: Iterable[str]) -> list[RenderableType]:
    """Return sentences under a heading; nothing where there are none."""
    paragraphs = [Indented(each) for each in told]
    return [title(words), *paragraphs] if paragraphs else []


def lines(rows: Iterable[str]) -> RenderableType:
    """Return paragraphs."""
    return Group(*(Indented(row, by=0) for row in rows))


class Listing:
    """Rows under columns; columns that do not fit the window move into the line below.

    Those that have words for it go first, the last one first; then the others but the first.
    A column that may be left out is, when it is empty.

    `notes` says what the words under the rows are about, where they stand in a column of their own.
    """

    kind = "listing"

    def __init__(self, columns: Sequence[Column], rows: Sequence[Row], notes: str = "") -> None:
        self._columns, self._rows, self._notes = tuple(columns), tuple(rows), notes

    @property
    def headers(self) -> tuple[str, ...]:
        """What stands above the columns, the one of the words under the rows the last."""
        headers = tuple(column.header for column in self._columns)
        return (*headers, self._notes) if self._noted else headers

    @property
    def worded(self) -> tuple[bool, ...]:
        """Whether each column holds words rather than figures: read by `macros.html`."""
        return (*(column.align == "left" for column in self._columns), True)

    @property
    def cells(self) -> tuple[tuple[str, ...], ...]:
        """Return every row with all its cells."""
        return tuple((*row.cells, row.note) if self._noted else row.cells for row in self._rows)

    @property
    def _noted(self) -> bool:
        return any(row.note for row in self._rows)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield the header, then each row with its words."""
        kept = [
            k
            for k, column in enumerate(self._columns)
            if column.aside is None or any(row.cells[k] for row in self._rows)
        ]
        while self._width(kept) > options.max_width:
            droppable = [k for k in kept if self._columns[k].aside is not None]
            if not droppable and self._room_for_last(kept, options.max_width) >= _LEAST_ROOM:
                break
            droppable = droppable or kept[1:]
            if not droppable:
                break
            kept.remove(droppable[-1])
        room = self._room_for_last(kept, options.max_width)
        headers = tuple(column.header for column in self._columns)
        yield Text(self._line(headers, kept), style="bold")
        for row in self._rows:
            yield from self._lines(console, row.cells, kept, room)
            asides = [
                self._aside(k).format(cell)
                for k, cell in enumerate(row.cells)
                if k not in kept and cell
            ]
            words = "; ".join([*asides, *([row.note] if row.note else [])])
            if words:
                yield Indented(words, 4, "dim")

    def _room_for_last(self, kept: Sequence[int], width: int) -> int:
        """Return the room for the words of a last column that is broken; 0 for figures."""
        if len(kept) < 2 or self._columns[kept[-1]].align == "right":
            return 0
        return width - self._width(kept[:-1]) - len(_GAP)

    def _lines(
        self, console: Console, cells: Sequence[str], kept: Sequence[int], room: int
    ) -> list[Text]:
        """Return a row, its last cell broken into several lines where it must be."""
        last = cells[kept[-1]]
        if not 0 < room < cell_len(last):
            return [Text(self._line(cells, kept))]
        parts = Text(last).wrap(console, room)
        shown = [*cells]
        shown[kept[-1]] = parts[0].plain
        before = " " * (self._width(kept[:-1]) + len(_GAP))
        more = (Text(before + part.plain.rstrip()) for part in parts[1:])
        return [Text(self._line(shown, kept)), *more]

    def _aside(self, column: int) -> str:
        """Return how a value reads in the line below."""
        header = self._columns[column].header
        return self._columns[column].aside or f"{header[:1].lower()}{header[1:]} {{}}"

    def _width(self, kept: Sequence[int]) -> int:
        return sum(self._widest[k] for k in kept) + len(_GAP) * (len(kept) - 1)

    @cached_property
    def _widest(self) -> tuple[int, ...]:
        return tuple(
            max(map(cell_len, (column.header, *(row.cells[k] for row in self._rows))))
            for k, column in enumerate(self._columns)
        )

    def _line(self, cells: Sequence[str], kept: Sequence[int]) -> str:
        padded = []
        for k in kept:
            blank = " " * (self._widest[k] - cell_len(cells[k]))
            right = self._columns[k].align == "right"
            padded.append(f"{blank}{cells[k]}" if right else f"{cells[k]}{blank}")
        return _GAP.join(padded).rstrip()


def table(
    rows: Iterable[AnyRow],
    *columns: tuple[Column, Callable[[AnyRow], str]],
    note: Callable[[AnyRow], str] = lambda _: "",
    notes: str = "",
) -> Listing:
    """Return a row for each thing: every column has what says its cell, and `note` what below."""
    listed = [Row(*(cell(row) for _, cell in columns), note=note(row)) for row in rows]
    return Listing([column for column, _ in columns], listed, notes)


def parts_of(told: RenderableType) -> tuple[Heading | Indented | Listing, ...]:
    """Return what an answer for the terminal is told in, without its blank lines."""
    parts = told.renderables if isinstance(told, Group) else [told]
    return tuple(part for part in parts if isinstance(part, (Heading, Indented, Listing)))
