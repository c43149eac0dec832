"""What was said beside what came, as tables with standard errors by yard and weather year.

This tests the program's honesty under its own priors, not nature: the yards that come true are
drawn from what the program believes of yards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.calibration.living import LEADS, SHARES

GRAM = 0.001
FIRST_WEEKS = 4


@dataclass(frozen=True)
class Row:
    """One line: a share, of how many, and how far chance may have moved it."""

    what: str
    asked: float
    kept: float
    by_yard: float
    by_year: float
    n: int

    def __str__(self) -> str:
        error = f"{100 * self.by_yard:4.1f} {100 * self.by_year:4.1f}"
        return f"{self.what:52s} {100 * self.asked:4.0f} {100 * self.kept:6.1f} {error} {self.n:6d}"


HEAD = f"{'what, in % of cases':52s} {'said':>4s} {'came':>6s} {'+-yard':>4s} year {'n':>5s}"


def share(what: str, asked: float, cases: Iterable[tuple[Any, Any, float]]) -> Row:
    """Return a mean of cases, each with its yard and weather year, and its standard errors."""
    listed = list(cases)
    held = np.array([case[2] for case in listed], dtype=float)
    mean = float(held.mean()) if len(held) else np.nan
    errors = [_clustered(held - mean, [case[which] for case in listed]) for which in (0, 1)]
    return Row(what, asked, mean, errors[0], errors[1], len(held))


def _clustered(off: np.ndarray, groups: Sequence[Any]) -> float:
    """Return the standard error of a mean whose cases hang together within groups."""
    names = sorted(set(map(str, groups)))
    if len(names) < 2:
        return np.nan
    place = {name: at for at, name in enumerate(names)}
    sums = np.bincount([place[str(g)] for g in groups], weights=off, minlength=len(names))
    few = len(names) / (len(names) - 1)
    return float(np.sqrt(few * (sums**2).sum()) / len(off))


def _with_year(yards: Sequence[dict[str, Any]], what: str) -> list[tuple[Any, Any, dict[str, Any]]]:
    return [
        ((yard["site"], yard["number"]), (yard["site"], yard["held_out"][one["season"] - 1]), one)
        for yard in yards
        for one in yard[what]
    ]


def promise_rows(yards: Sequence[dict[str, Any]]) -> list[Row]:
    """Return promises kept by share asked for, season and days before."""
    cases = _with_year(yards, "promises")
    parts: list[tuple[str, Callable[[dict[str, Any]], bool]]] = [
        ("14-20 days before, all", lambda p: p["lead"] == 1),
        ("14-20, season one", lambda p: p["lead"] == 1 and p["season"] == 1),
        ("14-20, season two", lambda p: p["lead"] == 1 and p["season"] == 2),
        (
            f"14-20, first {FIRST_WEEKS} weeks of season one",
            lambda p: p["lead"] == 1 and p["season"] == 1 and p["week"] < FIRST_WEEKS,
        ),
    ]
    for n, (a, b) in enumerate(LEADS):
        if n != 1:
            parts.append((f"{a}-{b - 1} days before", lambda p, n=n: p["lead"] == n))
    parts.append(("0-6 days before, not yet certain", lambda p: p["lead"] == 0 and not _certain(p)))
    rows = []
    for words, chosen in parts:
        for at, asked in enumerate(SHARES):
            kept = [
                (y, w, float(p["had"] >= p["sure"][at] - GRAM))
                for y, w, p in cases
                if chosen(p) and p["sure"][at] > GRAM
            ]
            rows.append(share(f"promise {words}", asked, kept))
        held = [
            (y, w, float(p["low"] - GRAM <= p["had"] <= p["high"] + GRAM))
            for y, w, p in cases
            if chosen(p) and p["high"] > GRAM
        ]
        rows.append(share(f"80 % range of stock {words}", 0.8, held))
    return rows


def _certain(promise: dict[str, Any]) -> bool:
    """Whether the stock is all picked by then: a promise of that is kept, whatever its chance."""
    return bool(promise["high"] - promise["low"] <= 0.02 * max(promise["high"], 0.1))


def range_rows(yards: Sequence[dict[str, Any]]) -> list[Row]:
    """Return how often what was said of first picks and flushes held."""
    cases = _with_year(yards, "said")
    rows = []
    for what in ("first pick", "flush", "forced under way", "natural under way"):
        for season in (0, 1, 2):
            mine = [
                (y, w, s) for y, w, s in cases if s["what"] == what and season in (0, s["season"])
            ]
            words = f"{what}{f', season {season}' if season else ''}"
            inside = [(y, w, float(s["low"] <= s["came"] <= s["high"])) for y, w, s in mine]
            rows.append(share(f"80 % range: {words}", 0.8, inside))
            rows.append(
                share(
                    f"  below the range: {words}",
                    0.1,
                    [(y, w, float(s["came"] < s["low"])) for y, w, s in mine],
                )
            )
    firsts = [(y, w, s["below"]) for y, w, s in cases if s["what"] == "first pick"]
    whole = [(y, w, float(0.1 <= below <= 0.9)) for y, w, below in firsts]
    rows.append(share("first pick, on a day of the edge as often out", 0.8, whole))
    comes = [(y, w, s) for y, w, s in cases if s["what"] == "comes"]
    said = float(np.mean([s["mean"] for _, _, s in comes])) if comes else np.nan
    rows.append(share("soaks that bring something", said, [(y, w, s["came"]) for y, w, s in comes]))
    return rows


def weights(yards: Sequence[dict[str, Any]]) -> list[str]:
    """Return promised and other weights, in kg a yard and season."""
    lines = []
    for season in (1, 2):
        years = [y for yard in yards for y in yard["years"] if y["season"] == season]
        if not years:
            continue
        told = [
            p
            for yard in yards
            for p in yard["promises"]
            if p["season"] == season and p["lead"] == 1
        ]
        sure = sum(min(p["sure"][1], p["target"]) for p in told)
        wanted = sum(p["target"] for p in told)
        none = sum(p["sure"][1] <= GRAM for p in told)
        stock = sum(p["had"] for p in told) / max(sum(p["mean"] for p in told), 1e-9)
        count = len(years)
        lines.append(
            f"season {season}: promised at 80 % {sure / count:.1f} of {wanted / count:.1f} kg "
            f"wanted ({100 * sure / wanted:.0f} %), nothing to promise on {none} of {len(told)}; "
            f"delivered {sum(y['delivered'] for y in years) / count:.1f} of "
            f"{sum(y['demand'] for y in years) / count:.1f}; stock over its mean said {stock:.3f}; "
            f"forced {sum(y['forced'] for y in years) / count:.1f}, "
            f"natural {sum(y['natural'] for y in years) / count:.1f} kg, "
            f"{sum(y['soaks'] for y in years) / count:.1f} soaks"
        )
    for what in ("flush", "forced under way", "natural under way"):
        mine = [s for yard in yards for s in yard["said"] if s["what"] == what]
        if mine:
            ratio = sum(s["came"] for s in mine) / sum(s["mean"] for s in mine)
            lines.append(f"{what}: came over mean said {ratio:.3f}, n {len(mine)}")
    return lines


def table(yards: Sequence[dict[str, Any]]) -> str:
    """Return everything in words and figures."""
    lines = [
        f"{len(yards)} yards. The program's honesty under its own priors, not nature's.",
        HEAD,
        *map(str, promise_rows(yards)),
        *map(str, range_rows(yards)),
        *weights(yards),
    ]
    return "\n".join(lines)
