"""Mutation testing: python -m tests.mutation [--mutants 400] [--seed 1] [--map FILE].

Prints a row for each package, then the damages that no test noticed, each with the name by which
--nodes tries it again. What each test reaches is kept in the file that --map names and read from
it the next time, new tests added; delete it when tests or modules change.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from tests.mutation.mutants import FOLDER, PACKAGES, Place, chosen, places
from tests.mutation.running import Outcome, Reach, Running, forked, start


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("--mutants", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--map", type=Path)
    parser.add_argument("--nodes", nargs="*", default=[], help="FILE:NODE:WAY")
    given = parser.parse_args(arguments)
    tried = named(given.nodes) if given.nodes else chosen(given.mutants, given.seed)
    print(table(outcomes(tried, given.map)))


def named(names: Sequence[str]) -> list[Place]:
    """The damages with the names that the list of survivors gives."""
    found = []
    for name in names:
        file, node, way = name.split(":")
        every = places(FOLDER / file)
        found += [p for p in every if (p.node, p.way) == (int(node), int(way))]
    return found


def outcomes(tried: Sequence[Place], kept: Path | None = None) -> list[Outcome]:
    """Put damages before the tests, one after the other."""
    found: list[Outcome] = []

    def work(running: Running) -> None:
        reaches = known(running, kept)
        begun = time.monotonic()
        for place in tried:
            outcome = running.outcome(place, reaches)
            found.append(outcome)
            print(
                f"{len(found)} {time.monotonic() - begun:.0f} s {line(outcome)}",
                file=sys.stderr,
                flush=True,
            )

    start(work)
    return found


def known(running: Running, kept: Path | None) -> dict[str, Reach]:
    """What each test reaches: from a file, where there is one, and by trying the other tests."""
    rows: dict[str, list] = {}
    if kept is not None and kept.exists():
        rows = json.loads(kept.read_text(encoding="utf-8"))
    new = [name for name in running.items if name not in rows]
    if new:
        tried = forked(lambda: listed(running.reaches(new)), wait=3600.0)
        # A test that is missing took too long or failed.
        rows |= {name: [math.inf, {}, []] for name in new} | tried
    if new and kept is not None:
        part = kept.with_name(kept.name + ".part")
        part.write_text(json.dumps(rows), encoding="utf-8")
        part.replace(kept)
    return {
        name: Reach(seconds, {path: frozenset(seen) for path, seen in lines.items()}, tuple(shared))
        for name, (seconds, lines, shared) in rows.items()
        if name in running.items or "::test" not in name
    }


def listed(reaches: dict[str, Reach]) -> dict[str, list]:
    return {
        name: [
            reach.seconds,
            {path: sorted(seen) for path, seen in reach.lines.items()},
            list(reach.shared),
        ]
        for name, reach in reaches.items()
    }


def line(outcome: Outcome) -> str:
    place = outcome.place
    name = f"{place.package}/{place.path.name}"
    return (
        f"{name}:{place.node}:{place.way} line {place.line} ({place.kind}) {outcome.words}: "
        f"{outcome.verdict}, {outcome.tests} tests"
    )


def table(found: Sequence[Outcome]) -> str:
    """A row for each package and one for all, then the survivors."""
    rows = [
        f"{'package':10} {'mutants':>8} {'killed':>7} {'cut off':>8} {'survived':>9} {'rate':>7}"
    ]
    for name in (*PACKAGES, "all"):
        some = [outcome for outcome in found if name in (outcome.place.package, "all")]
        killed = sum(outcome.killed for outcome in some)
        cut = sum(outcome.verdict == "cut off" for outcome in some)
        rate = f"{killed / len(some):7.1%}" if some else ""
        rows.append(f"{name:10} {len(some):8} {killed:7} {cut:8} {len(some) - killed:9} {rate:>7}")
    left = [line(outcome) for outcome in found if not outcome.killed]
    return "\n".join([*rows, "", "Survivors:", *left])


if __name__ == "__main__":
    main()
