"""The diary as tables: the whole of it, one season for others, the year's yields."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import date, datetime

from pydantic import Field

from fruitcast.diary.entry_faults import faults_of
from fruitcast.diary.events import (
    FIELDS,
    FRUITING,
    PICK,
    PINS,
    PULL,
    RAIN,
    SOAK,
    WATER,
    Event,
    in_force,
    whole_seconds_utc,
)
from fruitcast.diary.state import StackState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.document import Amount, Document
from fruitcast.errors import Fault, FaultsError, InputError
from fruitcast.topics import OTHER_TREE
from fruitcast.yard.model import SEPARATOR, Stack, Yard, stack_of

MAX_BYTES = 50_000_000
"""Largest file read. [byte]"""

MAX_FAULTS = 50
"""Faults listed at most."""

_NUMBERS = (
    *("hours", "kg", "start_kg", "moisture_wet", "mm", "litres"),
    *("paid", "second_kg", "lost_kg"),
)
_DAYS = ("on", "picked_on")

# What a spreadsheet would take for a formula, behind any apostrophes already there.
_FORMULA = re.compile(r"'*(?:\s*[=+\-@＝＋－＠]|[\t\r\n])")


def defused(text: str) -> str:
    """Return a cell's text with an apostrophe before what a spreadsheet would calculate."""
    return f"'{text}" if _FORMULA.match(text) else text


def restored(cell: str) -> str:
    """Return the text that `defused` made a cell from."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell[1:]) else cell


def write_rows(header: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """Return rows as CSV (RFC 4180) with formulas defused; None is an empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    return defused(value) if isinstance(value, str) else str(value)


def documents_csv(columns: Sequence[str], rows: Iterable[Document]) -> bytes:
    """Return documents as CSV in UTF-8, a row each: money to the cent, other amounts to a gram."""
    told = [row.model_dump(by_alias=True) for row in rows]
    cells = [[_rounded(row[column], column == "paid") for column in columns] for row in told]
    return write_rows(columns, cells).encode("utf-8-sig")


def _rounded(value: object, money: bool) -> object:
    if isinstance(value, tuple):  # the soaks behind a pick
        return "; ".join(str(part) for part in value) or "natural flush"
    return f"{value:.{2 if money else 3}f}" if isinstance(value, float) else value


def export_csv(events: Sequence[Event]) -> bytes:
    """Return the diary as CSV bytes in UTF-8 with a byte order mark, for spreadsheets.

    One row an entry in the order written, cancelled ones and undo entries too.
    """
    rows = [
        [
            event.recorded_at.isoformat()
            if name == "recorded_at" and event.recorded_at
            else ";".join(event.findings)
            if name == "findings"
            else getattr(event, name)
            for name in FIELDS
        ]
        for event in events
    ]
    return write_rows(FIELDS, rows).encode("utf-8-sig")


def import_csv(data: bytes, file: str, known: Sequence[Event] = ()) -> tuple[Event, ...]:
    """Return the entries of an exported diary, to be added to the known ones by one `Diary.add`.

    Cells stand with comma or semicolon between. Raises FaultsError with every cell that is wrong
    and every entry that is there already; InputError if it is no such file at all.
    """
    if len(data) > MAX_BYTES:
        raise InputError(f"{file}: {len(data)} bytes are no diary. Export the diary again.")
    wide = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{file}: not in UTF-8 (byte {error.start}). In the spreadsheet, save it as "
            "'CSV UTF-8'."
        ) from error
    if "\n" not in text:  # line ends of an old Mac
        text = text.replace("\r", "\n")
    head = text[: text.find("\n") + 1] or text
    delimiter = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter, strict=True)
    seen = {event.uuid for event in known}
    events: list[Event] = []
    faults: list[Fault] = []
    try:
        columns = _columns(next(reader, []), file)
        line = reader.line_num + 1
        for cells in reader:
            place = f"{file} line {line}"
            line = reader.line_num + 1
            if not any(cells):
                continue
            while len(cells) > len(columns) and not cells[-1].strip():
                cells.pop()
            event, problems = _event(cells, columns, decimal_comma=delimiter != ",")
            if event is not None:
                problems += _clash(event, seen)
                seen.add(event.uuid)
                events.append(event)
            faults += [Fault(place, problem, _REMEDY) for problem in problems]
            if len(faults) >= MAX_FAULTS:
                break
    except csv.Error as error:
        raise InputError(
            f"{file} line {reader.line_num}: not a CSV row ({error}). Export the diary again."
        ) from error
    if faults:
        raise FaultsError(faults)
    return tuple(events)


_REMEDY = "Nothing was imported; correct it, or export the diary again."


def _columns(header: Sequence[str], file: str) -> list[str]:
    columns = [cell.strip().lower() for cell in header]
    while columns and not columns[-1]:
        columns.pop()
    missing = [name for name in ("kind", "on", "uuid", "recorded_at") if name not in columns]
    unknown = [name for name in columns if name not in FIELDS]
    twice = [name for name in FIELDS if columns.count(name) > 1]
    for problem, names in (("lacks", missing), ("has unknown", unknown), ("has twice", twice)):
        if names:
            listed = ", ".join(f"'{name[:40]}'" for name in names[:20])
            raise InputError(
                f"{file} line 1: the header {problem} {listed}. "
                f"A diary has the columns {', '.join(FIELDS)}."
            )
    return columns


def _event(
    cells: Sequence[str], columns: Sequence[str], *, decimal_comma: bool
) -> tuple[Event | None, list[str]]:
    """Return the entry of a row, or None, and what is wrong with it."""
    if len(cells) != len(columns):
        return None, [f"{len(cells)} cells, the header has {len(columns)}"]
    values: dict[str, object] = {}
    problems = []
    for name, cell in zip(columns, cells, strict=True):
        if not cell:
            continue
        comma = decimal_comma and name in _NUMBERS
        try:
            values[name] = _value(name, cell.replace(",", ".") if comma else cell)
        except (ValueError, OverflowError):
            failed = ", a formula that failed in a spreadsheet" if cell.startswith("#") else ""
            problems.append(f"{name} is '{cell[:40]}'{failed}, expected {_expected(name)}")
    problems += [
        f"'{name}' is empty"
        for name in ("kind", "on", "uuid", "recorded_at")
        if name not in values and not any(p.startswith(f"{name} is") for p in problems)
    ]
    if problems:
        return None, problems
    event = Event(**values)  # type: ignore[arg-type]
    return event, faults_of(event)


def _value(name: str, cell: str) -> object:
    if name in _DAYS:
        return date.fromisoformat(cell.strip())
    if name in _NUMBERS:
        return float(cell)
    if name == "logs":
        return int(cell)
    if name == "recorded_at":
        return whole_seconds_utc(datetime.fromisoformat(cell.strip()))
    text = restored(cell)
    return tuple(text.split(";")) if name == "findings" else text


def _expected(name: str) -> str:
    if name in _DAYS:
        return "a day like 2027-05-04"
    if name == "recorded_at":
        return "a moment with its time zone like 2027-05-04T17:30:00+00:00"
    return "a whole number" if name == "logs" else "a number with a decimal point"


def _clash(event: Event, seen: set[str]) -> list[str]:
    problems = []
    if event.uuid in seen:
        problems.append(f"the entry {event.uuid[:40]} is in the diary already")
    if event.cancels and event.cancels not in seen:
        problems.append(f"it cancels {event.cancels[:40]}, which does not stand above it")
    return problems


# One season of a yard for others to check the numbers by: what was done and picked, no names.

KINDS = (
    *(SOAK, PULL, PICK, PINS, FRUITING, "nothing", WATER, RAIN),
    *("weigh", "inspect", "split", "merge", "retire"),
)
"""What is told: all that logs were done to and gave. Sales, moves and notes stay at home."""

_FIGURES = ("logs", "hours", "kg", "start_kg", "moisture_wet", "mm", "litres")

COLUMNS = (
    *("date", "kind", "stack", "into", *_FIGURES, "findings"),
    *("strain_class", "tree", "logs_inoculated", "diameter_m", "length_m", "inoculated", "spawn"),
)
"""Columns of the table; all weights in kg, moisture water over whole weight."""


def season_csv(
    yard: Yard, events: Sequence[Event], year: int, known_trees: Collection[str]
) -> tuple[str, int]:
    """Return one growing year as CSV text with a heading, and how many entries it holds.

    Nothing in it names people, places or products: stacks are numbered as they stand in
    stacks.csv; strains, outlets, grades, marks of sample logs and notes are left out, and a tree
    that the model doesn't know is 'other hardwood'.
    """
    first, last = yard.site.growing_year(year)
    valid = [event for event in in_force(events) if event.on <= last]
    state = yard_state(yard, events, last)
    numbered = _Numbered(yard.by_name)
    told = sorted(
        (event for event in valid if event.on >= first and event.kind in KINDS),
        key=lambda event: event.on,
    )
    rows = []
    for event in told:
        row = yard.by_name.get(state.lot_of.get(event.stack, event.stack))
        rows.append(
            (
                *(event.on, event.kind, numbered.name(event.stack), numbered.name(event.into)),
                *(getattr(event, figure) for figure in _FIGURES),
                ";".join(event.findings),
                *_facts(row or yard.by_name.get(stack_of(event.stack)), known_trees),
            )
        )
    return write_rows(COLUMNS, rows), len(rows)


class _Numbered:
    """Names in the order in which they are met, those of stacks.csv first."""

    def __init__(self, rows: Collection[str]) -> None:
        self._number = {name: number for number, name in enumerate(rows, start=1)}

    def name(self, stack: str) -> str:
        """Return what stands for a stack or lot: 'S3', 'S3/1'; for none nothing."""
        if not stack:
            return ""
        base, _, lot = stack.rpartition(SEPARATOR)
        if base and lot.isdigit() and stack not in self._number:
            return f"{self.name(base)}{SEPARATOR}{lot}"
        return f"S{self._number.setdefault(stack, len(self._number) + 1)}"


def _facts(row: Stack | None, known_trees: Collection[str]) -> tuple[object, ...]:
    if row is None:
        return ("",) * 7
    tree = row.tree if row.tree in known_trees else OTHER_TREE
    size = (f"{row.diameter:.3f}", f"{row.length:.3f}")
    return (row.strain_class, tree, row.logs, *size, row.inoculated, row.spawn)


# The year in one table: what each stack, class, strain and tree has borne a log, and how soon.

GROUPS: dict[str, Callable[[Stack, str], str]] = {
    "stack": lambda stack, name: name,
    "strain class": lambda stack, name: stack.strain_class,
    "strain": lambda stack, name: stack.strain,
    "tree": lambda stack, name: stack.tree,
    "all": lambda stack, name: "all",
}
"""What the table is grouped by, in its order."""


class YearRow(Document):
    """What a stack, class, strain or tree bore in a year."""

    group: str
    name: str
    logs: int = Field(description="that could bear: those at the year's end and those lost in it")
    forced_kg: Amount
    natural_kg: Amount
    soaks: int = Field(description="begun in the year, each lot counted")
    days_to_pick: Amount | None = Field(description="from the pull to the first pick, mean")
    soaks_picked: int = Field(description="soaks behind that mean")
    kg: Amount
    kg_per_log: Amount | None = Field(description="null without logs")


def year_end(
    yard: Yard, events: Sequence[Event], year: int, today: date | None = None
) -> list[YearRow]:
    """Return the table of a growing year, by stack, strain class, strain and tree, and over all.

    The diary is read only to `today`, None being the end of the year.
    """
    first, last = yard.site.growing_year(year)
    after = yard_state(yard, events, min(last, today or last))
    members: dict[tuple[str, str], list[tuple[StackState, int]]] = {}
    for name, state in after.stacks.items():
        row = yard.by_name[after.lot_of[name]]
        if row.inoculated > last:
            continue
        logs = state.logs + sum(lost for on, lost in state.lost if on >= first)
        for group, key in GROUPS.items():
            members.setdefault((group, key(row, stack_of(name))), []).append((state, logs))
    table = [
        _row(group, name, members[group, name], first, last)
        for group in GROUPS
        for g, name in members
        if g == group
    ]
    return [row for row in table if row.logs or row.kg or row.soaks]


def _row(
    group: str, name: str, states: Sequence[tuple[StackState, int]], first: date, last: date
) -> YearRow:
    picks = [pick for state, _ in states for pick in state.picks if first <= pick.on <= last]
    soaks = [
        (state, soak) for state, _ in states for soak in state.soaks if first <= soak.on <= last
    ]
    waits = []
    for state, soak in soaks:
        picked = [pick.on for pick in state.picks if pick.soaked_on == soak.on]
        if picked and soak.pulled_on is not None:
            waits.append((min(picked) - soak.pulled_on).days)
    logs = sum(logs for _, logs in states)
    forced, natural = (
        sum(pick.kg for pick in picks if pick.kind == kind) for kind in ("forced", "natural")
    )
    return YearRow(
        group=group,
        name=name,
        logs=logs,
        forced_kg=forced,
        natural_kg=natural,
        soaks=len(soaks),
        days_to_pick=sum(waits) / len(waits) if waits else None,
        soaks_picked=len(waits),
        kg=forced + natural,
        kg_per_log=(forced + natural) / logs if logs else None,
    )
