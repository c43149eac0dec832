"""Reads a yard's folder: yard.toml and stacks.csv, every fault of both at once."""

from __future__ import annotations

import tomllib
from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from fruitcast.errors import Fault, FaultsError, InputError
from fruitcast.numbers import default_numbers
from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.text import read_text
from fruitcast.tables.values import WrongValueError, zone
from fruitcast.yard import keys, stacks
from fruitcast.yard.model import Stack, Yard
from fruitcast.yard.settings import parse_settings

MAX_FAULTS = 50
"""Faults of one file listed at most."""


def read_yard(folder: Path, today: date | None = None) -> Yard:
    """Return the yard in a folder.

    Stacks inoculated after `today` are named in `Yard.warnings`; None names none. Raises
    InputError if the folder is no yard; FaultsError if anything in its files is wrong: all
    faults, those of yard.toml first.
    """
    yard, faults = _read(folder, today)
    if yard is None:
        raise FaultsError(faults)
    return yard


def read_settings(folder: Path) -> Yard:
    """Return a yard by its yard.toml alone, without stacks: what has to do with none of them.

    Raises InputError if the folder is no yard; FaultsError if anything in yard.toml is wrong.
    """
    folder = _yard_folder(folder)
    yard, found = _read_settings(folder)
    faults = _first(found.faults, keys.FILE)
    if yard is None or faults:
        raise FaultsError(faults)
    return replace(yard, warnings=tuple(found.warnings))


def yard_faults(folder: Path, today: date | None = None) -> list[Fault]:
    """Return every fault of the yard's two files, none when it can be planned.

    Raises InputError if the folder is no yard.
    """
    return _read(folder, today)[1]


def day_in_yard(folder: Path, instant: datetime) -> date:
    """Return the day that it is in a yard, whose computer may stand elsewhere or keep other time.

    Where the settings can't be read it is the day of the clock: whoever reads them says why.
    """
    with suppress(WrongValueError, tomllib.TOMLDecodeError, KeyError, TypeError):
        settings = tomllib.loads(read_text(folder.expanduser() / keys.FILE))
        instant = instant.astimezone(zone(settings["site"]["timezone"]))
    return instant.date()


def _yard_folder(folder: Path) -> Path:
    folder = folder.expanduser().absolute()
    if not folder.is_dir():
        what = "is a file, and a yard is a folder" if folder.exists() else "there is no such folder"
        raise InputError(f"{folder}: {what}. Start a yard with 'fruitcast new {folder}'.")
    if not (folder / keys.FILE).is_file():
        raise InputError(
            f"{folder}: there is no {keys.FILE} in it, so it is no yard. Start one with "
            f"'fruitcast new {folder}', or name the yard's folder with --yard."
        )
    return folder


def _read(folder: Path, today: date | None) -> tuple[Yard | None, list[Fault]]:
    folder = _yard_folder(folder)
    yard, in_settings = _read_settings(folder)
    rows, in_stacks = _read_stacks(folder, today)
    faults = _first(in_settings.faults, keys.FILE) + _first(in_stacks.faults, stacks.FILE)
    if yard is None or faults:
        return None, faults
    warnings = (*in_settings.warnings, *in_stacks.warnings)
    return replace(yard, stacks=rows, warnings=warnings), []


def _first(faults: list[Fault], file: str) -> list[Fault]:
    """Return the faults of a file, of very many the first and how many more there are."""
    more = len(faults) - MAX_FAULTS
    if more <= 0:
        return faults
    rest = Fault(file, f"{more} more faults below these", "Mend these and check again.")
    return [*faults[:MAX_FAULTS], rest]


def _read_settings(folder: Path) -> tuple[Yard | None, FaultsFound]:
    try:
        text = read_text(folder / keys.FILE)
    except WrongValueError as error:
        findings = FaultsFound()
        findings.wrong(keys.FILE, error)
        return None, findings
    return parse_settings(text, folder)


def _read_stacks(folder: Path, today: date | None) -> tuple[tuple[Stack, ...], FaultsFound]:
    try:
        text = read_text(folder / stacks.FILE)
    except WrongValueError as error:
        findings = FaultsFound()
        findings.wrong(stacks.FILE, error)
        return (), findings
    return stacks.parse_stacks(text, default_numbers(), today)
