"""Changing the yard's own files from a form: checked, kept as written, and put back if wanted.

What another has changed meanwhile is told before anything of it is overwritten. The files as they
were before each change are kept in the yard's folder `earlier`.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from difflib import SequenceMatcher
from pathlib import Path
from typing import NamedTuple

from fruitcast.app.change_fields import (
    COLUMN_WORDS,
    SECTIONS,
    Section,
    in_units,
    numbers_section,
    row_words,
    rows_said,
    shown_values,
)
from fruitcast.app.changed_model import numbers_of
from fruitcast.atomic import write_all_atomically
from fruitcast.diary.book import read_events
from fruitcast.diary.state import YardState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.errors import Fault, FaultsError, FruitcastError, InputError
from fruitcast.numbers import default_numbers
from fruitcast.tables.text import decode, encode_like
from fruitcast.tables.values import WrongValueError
from fruitcast.yard import keys, stacks
from fruitcast.yard.model import Yard, stack_of
from fruitcast.yard.reading import read_yard
from fruitcast.yard.settings import parse_settings
from fruitcast.yard.stacks import tree_notes
from fruitcast.yard.stacks_text import layout_of

FOLDER = "earlier"
"""Folder in the yard with its files as they were before changes."""

KEPT = 40
"""Earlier versions kept. Judgement: a season of changes."""

_NAME = re.compile(r"(\d{8}-\d{6})(?:-(\d+))?-(yard\.toml|stacks\.csv)")
_ONE_AT_A_TIME = threading.Lock()


class Texts(NamedTuple):
    """The two files that a grower writes."""

    settings: str
    stacks: str


@dataclass(frozen=True)
class Version:
    """A file as it was before a change."""

    name: str  # in the folder of earlier files
    until: datetime  # when it was changed, in UTC
    # What the change meant, a sentence each; empty where only notes or blanks changed.
    words: tuple[str, ...]


@dataclass(frozen=True)
class Merged:
    """What a form says beside what has become of the files since it was opened."""

    wanted: dict[str, str]  # fields that the form changes, with what it puts there
    shown: dict[str, str]  # all fields as they are to be shown when the form is shown again
    meanwhile: dict[str, str]  # fields that somebody else has changed, with what stands there now


def merge(now: Mapping[str, str], was: Mapping[str, str], given: Mapping[str, str]) -> Merged:
    """Return what a form changes, and what somebody else has changed since it was opened.

    By field: `now` is what stands in the files, `was` what stood there when the form was opened,
    `given` what the form says.
    """
    plain = {field: _plain(text) for field, text in given.items()}
    touched = {field for field in now if plain.get(field, now[field]) != was.get(field, now[field])}
    meanwhile = {
        field: text
        for field, text in now.items()
        if text != was.get(field, text) and plain.get(field) != text
    }
    return Merged(
        {field: plain[field] for field in now if field in touched and plain[field] != now[field]},
        {field: plain[field] if field in touched else now[field] for field in now},
        meanwhile,
    )


def _plain(text: str) -> str:
    return " ".join(text.split())


def read_texts(folder: Path) -> Texts:
    """Return the yard's two files, or raise InputError if one can't be read as text."""
    return Texts(*(_decoded(file, data) for file, data in _bytes(folder).items()))


def change(
    folder: Path, today: date, moment: datetime, edit: Callable[[Texts], Texts]
) -> tuple[str, ...]:
    """Change the yard's files, if no fault comes into them by it, and keep what was there before.

    `edit` is given the files as they stand and returns them as they shall be; `moment` is the
    instant under which what was there is kept. Returned are the names of the earlier versions kept,
    none when nothing changed. Raises FaultsError with every fault that the change would bring,
    nothing being written; InputError if it can't be made; OutputError if it can't be written.
    """
    with _ONE_AT_A_TIME:
        before = _bytes(folder)
        texts = Texts(*(_decoded(file, data) for file, data in before.items()))
        files = {
            file: _encoded(file, new, before[file])
            for file, old, new in zip(before, texts, edit(texts), strict=True)
            if new != old
        }
        return _write(folder, today, moment, before, files)


def versions(folder: Path) -> tuple[Version, ...]:
    """Return the earlier versions of the yard's files with what changed then, the last first."""
    now = _bytes(folder)
    found = []
    for name, file in reversed(_kept(folder)):
        try:
            was = (folder / FOLDER / name).read_bytes()
        except OSError:
            continue
        match = _NAME.fullmatch(name)
        until = datetime.strptime(f"{match[1]}+0000" if match else "", "%Y%m%d-%H%M%S%z")
        found.append(Version(name, until, _change_words(file, was, now[file])))
        now[file] = was
    return tuple(found)


def put_back(folder: Path, name: str, last: str, today: date, moment: datetime) -> tuple[str, ...]:
    """Take one change of a file back; the present file is kept among the earlier ones.

    What was changed after it stays.

    `name` is the version that was there before that change, `last` the last one when this was
    chosen: a change since then would be lost. The rest as in `change`, also what is raised; and
    InputError if there is no such version, or a later change stands in the same place.
    """
    with _ONE_AT_A_TIME:
        kept = _kept(folder)
        if not kept or kept[-1][0] != last:
            raise InputError(
                "Somebody has changed the yard since you opened this page. Look at what was "
                "changed, and choose again; nothing was put back."
            )
        file = dict(kept).get(name)
        if file is None:
            raise InputError("That version is not kept any more. Look at those that are.")
        before = _bytes(folder)
        data = _earlier(folder, name)
        names = [each for each, of in kept if of == file]
        if name != names[-1]:
            then = _earlier(folder, names[names.index(name) + 1])
            without = _without(file, data, then, before[file])
            if without is None:
                raise InputError(
                    "Something that was changed later stands in the same place. Take that back "
                    "first; nothing was changed."
                )
            data = without
        return _write(folder, today, moment, before, {file: data} if data != before[file] else {})


def _earlier(folder: Path, name: str) -> bytes:
    try:
        return (folder / FOLDER / name).read_bytes()
    except OSError as error:
        raise InputError(f"{name}: can't be read ({error.strerror or error}).") from None


def _without(file: str, was: bytes, then: bytes, now: bytes) -> bytes | None:
    """Return a file without one change of it; None where a later one stands in the same place.

    `was` and `then` are the file before and after that change, `now` the file with all that was
    changed later.
    """
    old, base, lines = (data.splitlines(keepends=True) for data in (was, then, now))
    stands: dict[int, int] = {}  # where the lines after that change stand now
    for block in SequenceMatcher(None, base, lines, autojunk=False).get_matching_blocks():
        stands.update((block.a + n, block.b + n) for n in range(block.size))
    changed = SequenceMatcher(None, base, old, autojunk=False).get_opcodes()
    for kind, first, end, old_first, old_end in reversed(changed):
        if kind == "equal":
            continue
        at = stands.get(first, stands[first - 1] + 1 if first - 1 in stands else None)
        if at is None or any(stands.get(first + n) != at + n for n in range(end - first)):
            return None
        lines[at : at + end - first] = old[old_first:old_end]
    data = b"".join(lines)
    # Lines can look alike: it must come to the same, the other way round.
    same = _change_words(file, now, data) == _change_words(file, then, was)
    return data if same else None


def worth_a_look(folder: Path, today: date) -> tuple[str, ...]:
    """Return what 'fruitcast check' says that is no fault, or raise FaultsError with what is."""
    yard = read_yard(folder, today)
    trees = [*(stack.tree for stack in yard.stacks), *(wood.tree for wood in yard.woods)]
    notes = tree_notes(trees, numbers_of(yard).trees)
    try:
        state = yard_state(yard, read_events(yard.diary_file), today)
    except FruitcastError as error:
        return (*yard.warnings, *notes, str(error))
    return (*yard.warnings, *notes, *_numbers_of_logs(yard, state), *state.notes)


def _numbers_of_logs(yard: Yard, state: YardState) -> Iterator[str]:
    """Yield where a stack's row is not all that is to be said of its logs."""
    for stack in yard.stacks:
        lots = [name for name, row in state.lot_of.items() if row == stack.name]
        live = sum(state.stacks[name].logs for name in lots)
        if live < stack.logs:
            yield f"{stack.name}: {stack.logs} logs stand here, of which {live} live by the diary."
        if yard.soaking.lot_logs is None and live > yard.logs_at_once:
            yield (
                f"{stack.name}: {live} logs are more than fit the tank at once, so it is soaked in "
                f"lots, {' and '.join(lots)}; what was done before counts for each."
            )


def named_in_diary(folder: Path) -> frozenset[str]:
    """Return the stacks that entries of the diary speak of, in small letters."""
    events = read_events(folder / "diary.db")
    named = {name for event in events for name in (event.stack, event.into) if name}
    return frozenset(stack_of(name.casefold()) for name in named)


def _bytes(folder: Path) -> dict[str, bytes]:
    found = {}
    for file in (keys.FILE, stacks.FILE):
        try:
            found[file] = (folder / file).read_bytes()
        except OSError as error:
            raise InputError(
                f"{folder / file}: can't be read ({error.strerror or error}). Restore it."
            ) from None
    return found


def _decoded(file: str, data: bytes) -> str:
    try:
        return decode(data)
    except WrongValueError as error:
        raise InputError(f"{file} {error.problem}. {error.remedy}") from None


def _encoded(file: str, text: str, before: bytes) -> bytes:
    try:
        return encode_like(text, before)
    except WrongValueError as error:
        raise FaultsError([Fault(file, error.problem, error.remedy)]) from None


def _write(
    folder: Path,
    today: date,
    moment: datetime,
    before: Mapping[str, bytes],
    files: Mapping[str, bytes],
) -> tuple[str, ...]:
    """Write files that bring no new fault, with what was there before them."""
    if not files:
        return ()
    known = {_mark(fault) for fault in _faults(folder, today, before)}
    new = [f for f in _faults(folder, today, {**before, **files}) if _mark(f) not in known]
    if new:
        raise FaultsError(new)
    kept = {file: _free_name(folder, moment, file) for file in files}
    write_all_atomically(
        {
            **{folder / FOLDER / name: before[file] for file, name in kept.items()},
            **{folder / file: data for file, data in files.items()},
        }
    )
    for name, _ in _kept(folder)[:-KEPT]:
        (folder / FOLDER / name).unlink(missing_ok=True)
    return tuple(kept.values())


def _faults(folder: Path, today: date, files: Mapping[str, bytes]) -> list[Fault]:
    """Return every fault of the two files, as 'fruitcast check' finds them."""
    found: list[Fault] = []
    for file, data in files.items():
        try:
            text = decode(data)
        except WrongValueError as error:
            found.append(Fault(file, error.problem, error.remedy))
            continue
        if file == keys.FILE:
            found += parse_settings(text, folder)[1].faults
        else:
            found += stacks.parse_stacks(text, default_numbers(), today)[1].faults
    return found


def _mark(fault: Fault) -> tuple[str, str]:
    """Return what tells a fault from others, whichever line it has come to stand in."""
    return re.sub(r"line \d+", "line", fault.place), fault.problem


def _free_name(folder: Path, moment: datetime, file: str) -> str:
    """Return a name that sorts behind all that are there."""
    stamp = f"{moment.astimezone(UTC):%Y%m%d-%H%M%S}"
    last = max((name for name, _ in _kept(folder)), default="", key=_order)
    found = _NAME.fullmatch(last)
    if found and found[1] >= stamp:
        stamp = f"{found[1]}-{int(found[2] or 0) + 1}"
    return f"{stamp}-{file}"


def _order(name: str) -> tuple[str, int]:
    found = _NAME.fullmatch(name)
    return (found[1], int(found[2] or 0)) if found else ("", 0)


def _kept(folder: Path) -> list[tuple[str, str]]:
    """Return the names of the earlier versions with the file that each was, the oldest first."""
    try:
        names = [each.name for each in (folder / FOLDER).iterdir() if each.is_file()]
    except OSError:
        return []
    found = [(name, match[3]) for name in names if (match := _NAME.fullmatch(name))]
    return sorted(found, key=lambda each: _order(each[0]))


def _change_words(file: str, was: bytes, now: bytes) -> tuple[str, ...]:
    """Return what a change meant, in sentences: 'Ironwood: 20 logs, was 25.'"""
    try:
        texts = decode(was), decode(now)
        if file == stacks.FILE:
            return tuple(_stack_words(*(_rows_by_stack(text) for text in texts)))
        return tuple(_settings_words(*(keys.parse_toml(text) for text in texts)))
    except (WrongValueError, InputError):
        return ()  # one of the two could not be read at all


def named_rows(text: str) -> list[dict[str, str]]:
    """Return the rows of a stacks.csv that name a stack, by column."""
    layout = layout_of(text)
    return [row for row in map(layout.known, layout.rows) if row.get("stack")]


def _rows_by_stack(text: str) -> dict[str, dict[str, str]]:
    return {_plain(row["stack"]): row for row in named_rows(text)}


def _stack_words(
    was: Mapping[str, Mapping[str, str]], now: Mapping[str, Mapping[str, str]]
) -> Iterator[str]:
    gone, new = [name for name in was if name not in now], [name for name in now if name not in was]
    if len(gone) == len(new) == 1 and len(was) == len(now):
        yield f"{new[0]}: was called {gone[0]}."
        now = {gone[0] if name == new[0] else name: row for name, row in now.items()}
        gone, new = [], []
    for name in gone:
        yield f"{name}: taken out."
    for name in new:
        yield f"{name}: new, {now[name].get('logs', '')} logs of {now[name].get('tree', '')}."
    for name, row in now.items():
        for column in (each for each in was.get(name, ()) if each != "stack"):
            before, after = (_plain(each.get(column, "")) for each in (was[name], row))
            if before != after:
                yield f"{name}: {_was_words(COLUMN_WORDS.get(column, column), before, after)}."


def _was_words(what: str, before: str, after: str) -> str:
    if what == "logs" and after:
        return f"{after} logs, was {before or 'empty'}"
    return f"{what} {after or 'now empty'}, was {before or 'empty'}"


def _settings_words(was: Mapping[str, object], now: Mapping[str, object]) -> Iterator[str]:
    for section in (*SECTIONS, numbers_section()):
        if section.repeated:
            yield from _table_words(section, was, now)
            continue
        for field in in_units(section, now, "metric").fields:
            one = replace(section, fields=(field,))
            before, after = (shown_values(one, said)[field.name] for said in (was, now))
            if before != after:
                yield f"{_was_words(f'{field.label}:', before, after)}."


def _table_words(
    section: Section, was: Mapping[str, object], now: Mapping[str, object]
) -> Iterator[str]:
    """Yield what changed in tables that may stand several times."""
    before, after = (
        [_told(section, row) for row in rows_said(said, section)] for said in (was, now)
    )
    gone = [row for row in before if row not in after]
    new = [row for row in after if row not in before]
    if len(gone) == len(new) == 1:
        (old,), (row,) = gone, new
        name = next(iter(old.values()), section.title)
        for label in dict.fromkeys((*row, *old)):
            if old.get(label) != row.get(label):
                what = f"{label[:1].lower()}{label[1:]}"
                yield f"{name}: {_was_words(what, old.get(label, ''), row.get(label, ''))}."
        return
    for rows, what in ((gone, "taken out"), (new, "new")):
        for row in rows:
            yield f"{section.title}, {what}: {row_words(section, list(row.values()))}."


def _told(section: Section, row: Mapping[str, object]) -> dict[str, str]:
    """Return the fields of a table that say something, by their labels."""
    fitted = in_units(section, row, "metric")
    values = shown_values(fitted, row)
    return {each.label: values[each.name] for each in fitted.fields if values[each.name]}
