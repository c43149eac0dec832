"""Calibration by simulation, in pieces: `python -m tests.calibration --yards 30 --kept FOLDER`.

Finished yards are kept in the folder and not lived through again, so a run can be broken off.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import fruitcast
from fruitcast.app.tasks import run_tasks
from fruitcast.atomic import write_atomically
from tests.calibration.living import Way, live
from tests.calibration.tables import table
from tests.calibration.yards import SITES


def code() -> str:
    """Return what changes whenever the program or the calibration does."""
    digest = hashlib.sha256()
    for folder in (Path(fruitcast.__file__).parent, Path(__file__).parent):
        for file in sorted([*folder.rglob("*.py"), *folder.rglob("numbers.toml")]):
            digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def lived(
    yards: list[tuple[str, int]], way: Way, kept: Path, processes: int, stamp: str
) -> list[dict[str, Any]]:
    """Return what was said and came in some yards, those kept read from their files."""
    name = hashlib.sha256(f"{stamp}{way}".encode()).hexdigest()[:12]
    files = {yard: kept / f"{name}-{yard[0]}-{yard[1]}.json" for yard in yards}
    kept.mkdir(parents=True, exist_ok=True)
    missing = [yard for yard in yards if not files[yard].is_file()]
    tasks = ((yard, (*yard, way)) for yard in missing)
    with closing(run_tasks(live, tasks, processes=processes)) as running:
        for yard, done in running:
            write_atomically(files[yard], json.dumps(done.result()).encode())
            print(*yard, flush=True)
    return [json.loads(file.read_text()) for file in files.values()]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--yards", type=int, default=30, help="of each site")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--site", action="append", choices=SITES)
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--yields", type=float, default=1.0, help="true over believed")
    parser.add_argument("--lead", type=float, default=1.0, help="true over believed")
    parser.add_argument("--stamp", help="of the code, when other than this one's")
    asked = parser.parse_args()
    way = replace(Way(), yield_factor=asked.yields, lead_factor=asked.lead)
    numbers = range(asked.first, asked.first + asked.yards)
    yards = [(site, number) for number in numbers for site in asked.site or SITES]
    print(table(lived(yards, way, asked.kept, asked.processes, asked.stamp or code())))


if __name__ == "__main__":
    main()
