"""Yards as folders: the sample, or some of its stacks and weather years; planned ones made once."""

from __future__ import annotations

import fcntl
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any
from unittest import mock

from fruitcast.app.demo import TODAY, write_sample_yard
from tests.cli.running import change

SMALL = "ACEHN"
"""Stacks of every class, one of them in its spawn run: with few weather years quick to plan."""

PHONE = "ABDEG"
"""Stacks that are looked at on the page."""

SHARED = "FRUITCAST_TESTS_SHARED"
"""Environment variable that names the folder of what the processes of one run share."""


def write_yard(
    folder: Path, stacks: str = "", years: int | None = None, *, diary: bool = True
) -> Path:
    """Write the sample yard, of it only some stacks and weather years where they are named.

    Parameters
    ----------
    folder : Path
        A new folder.
    stacks : str
        Names of one letter each; all when empty.
    years : int, optional
        Past years that stand for the possible futures; of earlier ones few are written.
    diary : bool
        Whether with its diary.
    """
    made_once("sample", write_sample_yard, folder)
    if not diary:
        (folder / "diary.db").unlink()
    if years is not None:
        change(folder / "yard.toml", "years = 30", f"years = {years}")
        weather = folder / "weather.csv"
        title, *rows = weather.read_text(encoding="utf-8").splitlines(keepends=True)
        # Some years more, in which the logs came to where they are; to read all takes long.
        weather.write_text("".join([title, *rows[-366 * (years + 4) :]]), encoding="utf-8")
    if stacks:
        file = folder / "stacks.csv"
        title, *rows = file.read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [row for row in rows if row.split(",")[0] in stacks]
        assert len(kept) == len(stacks)
        file.write_text("".join([title, *kept]), encoding="utf-8")
    return folder


def small_yard(folder: Path) -> Path:
    """Write a yard without a diary that is planned in half a second."""
    return write_yard(folder, SMALL, 5, diary=False)


@contextmanager
def quick_search() -> Iterator[None]:
    """Let plans be searched for shortly where nobody looks at how good they are."""
    from fruitcast.soaks.search import SearchParams

    quick, moves_of = (15_000, 800, 0.04, 1, True), SearchParams.moves_of

    def at_most(params: SearchParams, stacks: int) -> int:
        # Searches that name their length are no longer either.
        return min(moves_of(params, stacks), quick[0] + quick[1] * stacks)

    with (
        mock.patch.object(SearchParams.__init__, "__defaults__", quick),
        mock.patch.object(SearchParams, "moves_of", at_most),
    ):
        yield


@contextmanager
def weather_read_once() -> Iterator[None]:
    """Let a yard's weather file be read once for all yards of this process that have the same.

    Nothing may be written into the arrays, which is held to.
    """
    from fruitcast.weather import formats

    read, kept = formats.read_weather_file, {}

    def once(path: Path, **options: Any) -> Any:
        if options != {"as_it_stands": True} or not path.is_file():
            return read(path, **options)
        key = path.name, path.read_bytes()
        if key not in kept:
            weather = read(path, **options)
            for values in (*weather.values.values(), *weather.sources.values()):
                values.flags.writeable = False
            if len(kept) == 16:
                kept.pop(next(iter(kept)))
            kept[key] = weather
        return kept[key]

    with mock.patch.object(formats, "read_weather_file", once):
        yield


def made_once(name: str, make: Callable[[Path], object], folder: Path) -> Path:
    """Put a copy of what one process of the run makes for all others into a new folder.

    Parameters
    ----------
    name : str
        Tells it from all else that is made once.
    make : callable
        Makes it in the new folder that it is given.
    folder : Path
        Where the copy is to stand; it may be changed.
    """
    shared = Path(os.environ[SHARED])
    made, done = shared / name, shared / f"{name}.made"
    with (shared / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not done.exists():
            shutil.rmtree(made, ignore_errors=True)
            make(made)
            done.touch()
    return Path(shutil.copytree(made, folder))


def planned_yard(folder: Path, stacks: str = "", years: int | None = None) -> Path:
    """Put such a yard with its diary and a plan of the sample's day into a new folder.

    A part of the sample is searched shortly: nobody looks at how good its plan is.
    """
    from fruitcast.app.planning import plan_yard  # not for those that only write yards

    def make(place: Path) -> None:
        with quick_search() if stacks else nullcontext():
            plan_yard(write_yard(place, stacks, years), TODAY)

    return made_once(f"planned-{stacks}-{years}", make, folder)
