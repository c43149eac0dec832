"""The invented sample yard, written into a folder to be tried out."""

from __future__ import annotations

import re
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from fruitcast.diary.book import Diary
from fruitcast.diary.tables import import_csv
from fruitcast.errors import InputError, OutputError

TODAY = date(2027, 5, 3)
"""The sample yard's day: its weather ends the day before."""

FOLDER = Path("fruitcast-demo")
"""Where it is written unless somewhere else is named."""

DIARY = "diary.csv"
WEATHER = "weather.csv"
FILES = ("yard.toml", "stacks.csv", WEATHER)

_DATE = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")


def sample_folder() -> Path:
    """Return the folder of the sample yard: inside the package, or beside it in a checkout."""
    package = Path(__file__).parents[1]
    inside = package / "sample_data"
    return inside if inside.is_dir() else package.parent / "sample_data"


def demo_day(weather: Path | None, *, as_it_stands: bool = False) -> date:
    """Return the day to take for today: the sample yard's, or the first that a file lacks."""
    if weather is None:
        return TODAY
    from fruitcast.weather.formats import read_weather_file

    read = read_weather_file(weather, as_it_stands=as_it_stands)
    return read.end + timedelta(days=1)


def write_sample_yard(folder: Path, *, weather: Path | None = None, today: date = TODAY) -> Path:
    """Write the sample yard into a new folder, whole or not at all.

    `weather` is a file of daily weather to take instead of the invented one. The yard is then as
    old on `today` as the sample is on its own day: its dates move by whole weeks. The diary, which
    belongs to the invented weather, is left out. Raises InputError if there is something in the
    folder already; OutputError if it cannot be written.
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
            _fill(staged, weather, round((today - TODAY).days / 7))
            if folder.exists() and folder.samefile(Path.cwd()):
                # Who stands in it would stand nowhere; without its settings it is no yard yet.
                for file in sorted(staged.iterdir(), key=lambda file: file.name == "yard.toml"):
                    file.rename(folder / file.name)
                return folder
            if folder.exists():
                folder.rmdir()
            staged.rename(folder)
    except OSError as error:
        raise OutputError(
            f"{folder}: cannot be written ({error.strerror or error}). Name a folder where you "
            "may write; nothing was changed."
        ) from error
    return folder


def _fill(folder: Path, weather: Path | None, weeks: int) -> None:
    sample = sample_folder()
    for name in FILES:
        data = (sample / name).read_bytes()
        if weather is not None:
            data = weather.read_bytes() if name == WEATHER else _moved(data, weeks)
        (folder / name).write_bytes(data)
    if weather is None:
        events = import_csv((sample / DIARY).read_bytes(), DIARY)
        with Diary(folder / "diary.db") as diary:
            diary.add(events, datetime(TODAY.year, TODAY.month, TODAY.day, tzinfo=UTC))


def _moved(data: bytes, weeks: int) -> bytes:
    """Return a file with every date moved by whole weeks, so that market days stay so."""

    def move(found: re.Match[str]) -> str:
        return (date.fromisoformat(found[0]) + timedelta(weeks=weeks)).isoformat()

    return _DATE.sub(move, data.decode("utf-8")).encode("utf-8")
