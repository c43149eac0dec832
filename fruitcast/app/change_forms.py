"""The forms that change a yard's files: opened, merged with what others did, and saved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

from fruitcast.app.change_fields import (
    Section,
    faults_by_field,
    in_units,
    read_value,
    rows_said,
    shown_values,
)
from fruitcast.app.changing import (
    Merged,
    Texts,
    change,
    merge,
    named_in_diary,
    named_rows,
    read_texts,
)
from fruitcast.app.what_if import Circumstances
from fruitcast.errors import FaultsError, InputError
from fruitcast.tables.values import WEEKDAYS, WrongValueError
from fruitcast.units import Units, keys_of, parse_weight, si_from_key, units_named
from fruitcast.words import capital
from fruitcast.yard.keys import parse_toml
from fruitcast.yard.settings_text import Value, Way, add_table, remove_table, set_value
from fruitcast.yard.stacks import FILE as STACKS_FILE
from fruitcast.yard.stacks_text import COLUMNS, change_row, layout_of, with_row, without_row

GONE = "This is not there any more: somebody else has taken it out. Look at what is there now."


@dataclass(frozen=True)
class Saved:
    """What became of a form."""

    done: bool  # whether the files say what the form said
    # The earlier versions kept, to be put back; empty when nothing had to change.
    versions: tuple[str, ...] = ()
    # What the form shows when it is shown again.
    shown: dict[str, str] = field(default_factory=dict)
    # What is wrong, by field; under '' what is of none.
    faults: dict[str, str] = field(default_factory=dict)
    # What somebody else has put into a field since the form was opened.
    meanwhile: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Sent:
    """A form as it was sent."""

    was: Mapping[str, str]  # what stood in its fields when it was opened
    given: Mapping[str, str]  # what they say now
    today: date  # in the yard
    moment: datetime  # with its time zone
    remove: bool = False  # whether what it shows is to be taken out


@dataclass(frozen=True)
class _AskedError(Exception):
    """The form can't be written as it is: it is shown again."""

    saved: Saved


def settings_said(folder: Path) -> dict[str, object]:
    """Return what yard.toml says, as it stands, or raise InputError if it can't be read."""
    return _said(read_texts(folder).settings)


def units_said(raw: Mapping[str, object]) -> Units:
    """Return the units that the settings name, metric where they name none."""
    return units_named(str(raw.get("units", "")).strip().casefold()) or "metric"


def fitted(section: Section, raw: Mapping[str, object], at: int | None) -> Section:
    """Return a section with the units of the file; `at` is the number of a repeated table."""
    rows = rows_said(raw, section) if section.repeated else []
    said = rows[at] if at is not None and at < len(rows) else {} if section.repeated else raw
    return in_units(section, said, units_said(raw))


def save_settings(folder: Path, section: Section, sent: Sent) -> Saved:
    """Save a form of a section that stands once."""

    def edit(texts: Texts) -> Texts:
        raw = _said(texts.settings)
        merged = _merged(shown_values(section, raw), sent)
        settings = texts.settings
        for name, value in _values(section, merged, folder).items():
            way = next(each.way for each in section.fields if each.name == name)
            settings = set_value(settings, way, value)
        return texts._replace(settings=settings)

    return _saved(folder, [each.name for each in section.fields], sent, edit)


def save_row(folder: Path, section: Section, at: int | None, sent: Sent) -> Saved:
    """Save a form of one table of several; without a number it is a new one.

    One day away is written once.
    """
    given = sent.given
    if section.name == "away" and not given.get("to", "").strip():
        given = {**given, "to": given.get("from", "")}
        sent = replace(sent, given=given)

    def edit(texts: Texts) -> Texts:
        rows = rows_said(_said(texts.settings), section)
        if at is None:
            if any(_agree(shown_values(section, row), given) for row in rows):
                return texts  # the form was handed in before
            blank = dict.fromkeys(given, "")
            values = _values(section, Merged(dict(given), dict(given), {}), folder)
            told: dict[str, Value] = {
                name: value for name, value in values.items() if value is not None
            }
            if not told:
                raise _AskedError(Saved(False, shown=blank, faults={"": "Nothing is filled in."}))
            return texts._replace(settings=add_table(texts.settings, section.name, told))
        number = _row_meant(section, rows, at, sent.was)
        merged = _merged(shown_values(section, rows[number]), sent)
        if sent.remove:
            return texts._replace(settings=remove_table(texts.settings, section.name, number))
        settings = texts.settings
        for name, value in _values(section, merged, folder).items():
            settings = set_value(settings, (section.name, number, name), value)
        return texts._replace(settings=settings)

    return _saved(folder, [each.name for each in section.fields], sent, edit)


def stack_columns(folder: Path, stack: str = "") -> dict[str, str]:
    """Return the columns of stacks.csv that are read, each with what stands there for a stack.

    Without a stack all are empty; of two columns for one size only the one in use is given.

    Raises InputError if there is no such stack, or the file can't be read.
    """
    return _columns(read_texts(folder).stacks, stack)


def stacks_said(folder: Path) -> list[dict[str, str]]:
    """Return the rows of stacks.csv as they stand, by column.

    Raises InputError if the file can't be read.
    """
    return named_rows(read_texts(folder).stacks)


def save_stack(folder: Path, stack: str, sent: Sent) -> Saved:
    """Save a form of one stack; without a name it is a new one.

    A stack of which the diary speaks keeps its name and its row.
    """

    def edit(texts: Texts) -> Texts:
        text = texts.stacks
        if not stack:
            rows = [_columns(text, row["stack"]) for row in named_rows(text)]
            if any(_agree(row, sent.given) for row in rows):
                return texts  # the form was handed in before
            return texts._replace(stacks=with_row(text, _plain(sent.given))[0])
        now = _columns(text, stack)
        merged = _merged(now, sent)
        renamed = "stack" in merged.wanted
        if (sent.remove or renamed) and stack.casefold() in named_in_diary(folder):
            what = (
                "The diary speaks of this stack, so it keeps its row. Retire it in the diary."
                if sent.remove
                else "The diary speaks of this stack, so it keeps its name."
            )
            raise _AskedError(Saved(False, shown=merged.shown, faults={"stack": what}))
        if sent.remove:
            return texts._replace(stacks=without_row(text, stack))
        if not merged.wanted:
            return texts
        return texts._replace(stacks=change_row(text, stack, merged.wanted))

    return _saved(folder, list(sent.given), sent, edit)


def keep_circumstances(
    folder: Path, what: Circumstances, today: date, moment: datetime
) -> tuple[str, ...]:
    """Write what was tried into yard.toml, and return the earlier versions kept.

    Raises FaultsError with every fault that this would bring, nothing being written; InputError if
    it can't be written there.
    """

    def edit(texts: Texts) -> Texts:
        text = texts.settings
        raw = _said(text)
        keys: list[tuple[Way, Value | None]] = [
            (("soaking", "tank_logs"), what.tank_logs),
            (("soaking", "lot_logs"), what.lot_logs),
            (("fruiting", "places"), what.places),
            (("soaking", "days"), [WEEKDAYS[day][:3] for day in what.soak_days] or None),
        ]
        rows = raw.get("outlet", [])
        assert isinstance(rows, list)
        for name, amount in what.targets:
            number = next((n for n, row in enumerate(rows) if row.get("name") == name), None)
            if number is None:
                raise InputError(f"{name}: {GONE}")
            key = next(key for key in keys_of("target") if key in rows[number])
            kg = parse_weight(amount, units_said(raw))
            keys.append((("outlet", number, key), round(kg / si_from_key(key, 1.0), 3)))
        for way, value in keys:
            if value is not None:
                text = set_value(text, way, value)
        for first, last in what.skip:
            text = add_table(text, "away", {"from": first, "to": last})
        return texts._replace(settings=text)

    return change(folder, today, moment, edit)


def _saved(folder: Path, names: Sequence[str], sent: Sent, edit: Callable[[Texts], Texts]) -> Saved:
    try:
        return Saved(True, change(folder, sent.today, sent.moment, edit))
    except _AskedError as asked:
        return asked.saved
    except FaultsError as error:
        return Saved(False, shown=dict(sent.given), faults=faults_by_field(names, error.faults))
    except InputError as error:
        return Saved(False, shown=dict(sent.given), faults={"": str(error)})


def _said(settings: str) -> dict[str, object]:
    try:
        return parse_toml(settings)
    except WrongValueError as error:
        raise InputError(f"yard.toml: {error.problem}. {error.remedy}") from None


def _merged(now: Mapping[str, str], sent: Sent) -> Merged:
    merged = merge(now, sent.was, sent.was if sent.remove else sent.given)
    if merged.meanwhile:
        raise _AskedError(Saved(False, shown=merged.shown, meanwhile=merged.meanwhile))
    return merged


def _values(section: Section, merged: Merged, folder: Path) -> dict[str, Value | None]:
    """Return what the fields that are changed mean, by name."""
    values: dict[str, Value | None] = {}
    faults: dict[str, str] = {}
    for each in section.fields:
        if each.name not in merged.wanted:
            continue
        try:
            values[each.name] = read_value(each, merged.wanted[each.name])
            if each.name == "weather.file":
                _check_inside(folder, merged.wanted[each.name])
        except WrongValueError as error:
            faults[each.name] = f"{capital(error.problem)}. {error.remedy}"
    if faults:
        raise _AskedError(Saved(False, shown=merged.shown, faults=faults))
    return values


def _check_inside(folder: Path, name: str) -> None:
    """Refuse a file that doesn't lie in the yard's folder itself."""
    lies = (folder / name).resolve()
    plain = not any(sign in name for sign in "/\\\0:") and not name.startswith(".")
    if name and (not plain or lies.parent != folder.resolve()):
        raise WrongValueError(
            "only a file in the yard's own folder can be named here", "Give its name alone."
        )


def _row_meant(
    section: Section, rows: Sequence[Mapping[str, object]], at: int, was: Mapping[str, str]
) -> int:
    """Return the number that a table has by now: the others may have been taken out or moved."""
    shown = [shown_values(in_units(section, row, "metric"), row) for row in rows]
    first = [each.name for each in section.fields[:2]]

    def same(number: int) -> bool:
        return 0 <= number < len(rows) and all(
            shown[number].get(name, "") == was.get(name, "") for name in first
        )

    if same(at):
        return at
    alike = [number for number in range(len(rows)) if same(number)]
    if alike:
        return alike[0]
    if was.get("rows") == str(len(rows)) and at < len(rows):
        return at
    raise InputError(GONE)


def _agree(row: Mapping[str, str], given: Mapping[str, str]) -> bool:
    plain = _plain(given)
    return all(row.get(name, "") == text for name, text in plain.items())


def _plain(given: Mapping[str, str]) -> dict[str, str]:
    return {name: " ".join(text.split()) for name, text in given.items()}


def _columns(text: str, stack: str) -> dict[str, str]:
    layout = layout_of(text)
    row = dict.fromkeys((name for name in layout.header if name in COLUMNS), "")
    if stack:
        named = {" ".join(each["stack"].split()).casefold(): each for each in named_rows(text)}
        if stack.casefold() not in named:
            raise InputError(f"There is no stack {stack[:60]} in {STACKS_FILE}. {GONE}")
        row = {name: " ".join(cell.split()) for name, cell in named[stack.casefold()].items()}
    for quantity in ("diameter", "length"):
        present = [key for key in keys_of(quantity) if key in row]
        used = next((key for key in present if row[key]), None) or (
            layout.size_column(quantity) if present else None
        )
        row = {name: cell for name, cell in row.items() if name == used or name not in present}
    return row
