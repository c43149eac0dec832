"""The invented sample yard, written into a folder to be tried out."""

from __future__ import annotations

import shutil
import tempfile
from datetime import UTC, date, datetime
from pathlib import Path

from fruitcast.errors import InputError, OutputError
from fruitcast.yard.diary import Diary
from fruitcast.yard.diary_csv import import_csv

TODAY = date(2027, 5, 3)
"""The sample yard's day: its weather ends the day before."""

FOLDER = Path("fruitcast-demo")
"""Where it is written unless somewhere else is named."""

DIARY = "diary.csv"
FILES = ("yard.toml", "stacks.csv", "weather.csv")


def sample_folder() -> Path:
    """Return the folder of the sample yard: inside the package, or beside it in a checkout."""
    package = Path(__file__).parents[1]
    inside = package / "sample_data"
    return inside if inside.is_dir() else package.parent / "sample_data"


def write_sample_yard(folder: Path) -> Path:
    """Write the sample yard with its diary into a new folder, whole or not at all.

    Returns
    -------
    Path
        The yard's folder.

    Raises
    ------
    InputError
        If there is something in the folder already.
    OutputError
        If it cannot be written.
    """
    folder = folder.expanduser().absolute()
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise InputError(
            f"{folder}: is there already, and the sample yard would overwrite it. Name another "
            "folder, as in 'fruitcast demo my-trial', or plan it again with "
            f"'fruitcast --yard {folder} --today {TODAY} plan'."
        )
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder.parent, prefix=f".{folder.name}.") as name:
            staged = Path(name) / "yard"
            staged.mkdir()
            _fill(staged)
            if folder.exists():
                folder.rmdir()
            staged.rename(folder)
    except OSError as error:
        raise OutputError(
            f"{folder}: cannot be written ({error.strerror or error}). Name a folder where you "
            "may write; nothing was changed."
        ) from error
    return folder


def _fill(folder: Path) -> None:
    sample = sample_folder()
    for name in FILES:
        shutil.copyfile(sample / name, folder / name)
    events = import_csv((sample / DIARY).read_bytes(), DIARY)
    with Diary(folder / "diary.db") as diary:
        diary.add(events, datetime(TODAY.year, TODAY.month, TODAY.day, tzinfo=UTC))
