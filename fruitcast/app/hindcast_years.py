"""Many past years lived through, in processes of their own; finished years are kept in files."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing, suppress
from os import cpu_count
from pathlib import Path
from typing import Any

import numpy as np

import fruitcast
from fruitcast.app.hindcast import hold_out
from fruitcast.app.hindcast_known import HindcastParams
from fruitcast.app.known import KnownYard
from fruitcast.app.tasks import run_tasks
from fruitcast.atomic import write_atomically
from fruitcast.errors import InputError, OutputError
from fruitcast.hindcast.scores import SeasonScore, read_scores, scores_json

Seasons = dict[int, list[SeasonScore]]
"""Scores of each policy by the weather year that came true."""

_MODEL = (
    "forecast",
    "soaks",
    "hindcast",
    "biology",
    "topics.py",
    "app/hindcast.py",
    "app/hindcast_known.py",
    "app/planning.py",
)


def hindcast_years(
    known: KnownYard,
    years: Sequence[int],
    params: HindcastParams,
    *,
    kept_in: Path | None = None,
    processes: int | None = None,
    cluster: str | None = None,
    progress: Callable[[int], None] | None = None,
) -> Seasons:
    """Return what each policy makes of each of some past years.

    Parameters
    ----------
    known : KnownYard
        What is known on the first day of the season.
    years : sequence of int
        Past years to hold out, one at a time.
    params : HindcastParams
        How.
    kept_in : Path or None
        Folder in which each finished year is kept, and looked for first.
    processes : int or None
        How many at a time; as many as the machine has processors when None, and in this
        process itself when 1.
    cluster : str or None
        Address of a cluster that does it instead, see `tasks.run_tasks`.
    progress : callable, optional
        Told how many seasons are done: first of those that were kept.

    Raises
    ------
    InputError
        If the yard sells nothing: what reaches its outlets is what seasons are compared by.
    """
    if not known.yard.sells:
        raise InputError(
            "A hindcast compares what reaches the outlets of yard.toml, and this yard has none: "
            "'fruitcast plan' tells what comes to your table."
        )
    tell = progress or (lambda done: None)
    files = _files(known, years, params, kept_in)
    seasons: Seasons = {}
    for year, file in files.items():
        if not file.is_file():
            continue
        with suppress(ValueError, KeyError, TypeError):  # damaged: lived through again
            seasons[year] = _read(file)
    tell(len(seasons))
    missing = [year for year in years if year not in seasons]
    at_once = min(processes or cpu_count() or 1, len(missing))
    tasks = ((year, (known, year, params)) for year in missing)
    with closing(run_tasks(hold_out, tasks, processes=at_once, cluster=cluster)) as lived:
        for year, future in lived:
            scores = future.result()
            if year in files:
                with suppress(OutputError):  # kept only to save time
                    write_atomically(files[year], _written(scores))
            seasons[year] = scores
            tell(len(seasons))
    return {year: seasons[year] for year in years}


def _files(
    known: KnownYard, years: Sequence[int], params: HindcastParams, kept_in: Path | None
) -> dict[int, Path]:
    if kept_in is None:
        return {}
    digest = inputs_digest(known, params)
    return {year: kept_in / f"{digest[:16]}-{year}.json" for year in years}


def _written(scores: Sequence[SeasonScore]) -> bytes:
    return scores_json(scores)


def _read(file: Path) -> list[SeasonScore]:
    return read_scores(file.read_bytes())


def inputs_digest(known: KnownYard, params: HindcastParams) -> str:
    """Return what changes whenever the yard, its weather, the way or the model's code does."""
    digest = hashlib.sha256(fruitcast.__version__.encode())
    yard = dataclasses.replace(
        known.yard,
        folder=Path(),
        weather=dataclasses.replace(known.yard.weather, file=None),
        warnings=(),
    )
    own = {number.key: number.value for number in known.numbers.entries()}
    for part in (known.today, yard, known.state, known.years, own, params):
        digest.update(_canonical(part).encode())
    digest.update(known.weather.start.isoformat().encode())
    for name in sorted(known.weather.values):
        digest.update(np.ascontiguousarray(known.weather.values[name]).tobytes())
        digest.update(np.ascontiguousarray(known.weather.sources[name]).tobytes())
    package = Path(__file__).parents[1]
    for name in _MODEL:
        place = package / name
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            digest.update(file.read_bytes())
    return digest.hexdigest()


def _canonical(value: Any) -> str:
    """Return a text that is the same for the same content, whatever the order of a set."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        inner = [
            f"{field.name}={_canonical(getattr(value, field.name))}"
            for field in dataclasses.fields(value)
        ]
        return f"{type(value).__name__}({','.join(inner)})"
    if isinstance(value, Mapping):
        pairs = sorted(f"{_canonical(key)}:{_canonical(item)}" for key, item in value.items())
        return f"{{{','.join(pairs)}}}"
    if isinstance(value, set | frozenset):
        return f"{{{','.join(sorted(map(_canonical, value)))}}}"
    if isinstance(value, list | tuple):
        return f"({','.join(map(_canonical, value))})"
    return repr(value)
