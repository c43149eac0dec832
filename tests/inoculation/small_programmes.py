"""Programmes small enough to look at every possibility, and the look itself."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from fruitcast.forecast.yield_tables import SEASON_DAYS, TAIL_DAYS, SeasonTable
from fruitcast.inoculation.problem import Flow, Pool, ProgrammeModel, SaleDay

WEEKS = (20, 22, 24)
"""Soak weeks; four weeks of rest, so that only 20 and 24 go together."""

MEMBERS = 2
COLD_DAYS = 4
"""Mushrooms reach the sale of their own soak and no other."""

PATHS = ((), (0,), (1,), (2,), (0, 2))


def pick_day(soak):
    """Day of the season on which everything of a soak is picked."""
    return 7 * WEEKS[soak] + 8


def sale_day(soak):
    """Day of the sale that it reaches."""
    return 7 * WEEKS[soak] + 11


def table(name, kg, after_soak=1.0):
    """A class whose soak s gives kg[s][m] per unit in member m; less after an earlier soak."""
    first, inner = [], []
    shape = (SEASON_DAYS + TAIL_DAYS, MEMBERS)
    for soak in range(len(WEEKS)):
        crop = np.zeros(shape, dtype=np.float32)
        crop[pick_day(soak)] = kg[soak]
        first.append(crop)
    crop = np.zeros(shape, dtype=np.float32)
    crop[pick_day(2)] = np.array(kg[2]) * after_soak
    inner.append(crop)
    return SeasonTable(
        strain_class=name,
        years=tuple(range(MEMBERS)),
        soak_weeks=np.array(WEEKS),
        soak_days=np.ones(3, dtype=np.int64),
        nights=np.ones(3, dtype=np.int64),
        standing=np.full(3, 12, dtype=np.int64),
        starts=np.array([0]),
        first_start=np.zeros(3, dtype=np.int64),
        first_soak=np.arange(3),
        inner_from=np.array([0]),
        inner_to=np.array([2]),
        first=np.array(first),
        inner=np.array(inner),
        last=np.zeros((3, *shape), dtype=np.float32),
        none=np.zeros((1, *shape), dtype=np.float32),
    )


@dataclass(frozen=True)
class Small:
    """Two classes, logs of one or two years, each bearing in the season after with factor 1."""

    kg: dict[str, tuple]
    after_soak: float
    targets: tuple[tuple[float, float, float], ...]
    capacity: float
    cost: tuple[float, float]
    standing: int = 0
    most: int = 4
    soak_price: float = 0.01
    change_price: float = 0.3

    @property
    def years(self):
        return len(self.targets)

    def model(self):
        names = tuple(self.kg)
        tables = {name: table(name, kg, self.after_soak) for name, kg in self.kg.items()}
        pools, change = [], []
        for season in range(self.years):
            for n, name in enumerate(names):
                units = {2 * season + n: 1.0}
                there = float(self.standing if season == 0 and n == 0 else 0)
                pools.append(Pool(season, name, 0, there, units, 1.0))
        for season in range(self.years - 1):
            change += [((2 * season + n,), (2 * season + 2 + n,)) for n in range(2)]
        return ProgrammeModel(
            tables=tables,
            scenarios=tuple(np.arange(MEMBERS) for _ in range(self.years)),
            pools=tuple(pools),
            sales=tuple(
                SaleDay(SEASON_DAYS * season + sale_day(soak), wanted)
                for season, targets in enumerate(self.targets)
                for soak, wanted in enumerate(targets)
            ),
            capacity={
                (season, name, week): self.capacity
                for season in range(self.years)
                for name in names
                for week in WEEKS
            },
            cost=np.array(self.cost * self.years),
            most=np.full(2 * self.years, float(self.most)),
            limits=(),
            change=tuple(change),
            cold_days=COLD_DAYS,
            soak_price=self.soak_price,
            change_price=self.change_price,
        )

    def best_by_looking(self, price):
        """Return least objective and its logs, trying every whole number of logs and soaks."""
        seasons = [
            {logs: self._season(targets, logs, price, first) for logs in self._choices()}
            for first, targets in zip([True] + [False] * self.years, self.targets, strict=False)
        ]
        best = (np.inf, ())
        for logs in product(self._choices(), repeat=self.years):
            cost = sum(season[mine] for season, mine in zip(seasons, logs, strict=True))
            cost += sum(np.dot(self.cost, mine) for mine in logs)
            for before, after in pairwise(logs):
                apart = abs(before[0] - after[0]) + abs(before[1] - after[1])
                cost += self.change_price * apart
            if cost < best[0] - 1e-12:
                best = (cost, logs)
        return best

    def _choices(self):
        return list(product(range(self.most + 1), repeat=2))

    def _season(self, targets, logs, price, first):
        """Least cost of one season's soaks and shortfall with so many logs of each class."""
        there = (logs[0] + (self.standing if first else 0), logs[1])
        names = tuple(self.kg)
        options = [list(_splits(count)) for count in there]
        least = np.inf
        for split in product(*options):
            soaked = np.zeros((2, 3))
            again = np.zeros(2)
            for n, counts in enumerate(split):
                for path, count in zip(PATHS, counts, strict=True):
                    for soak in path:
                        soaked[n, soak] += count
                    if path == (0, 2):
                        again[n] += count
            if (soaked.sum(axis=0) > self.capacity + 1e-9).any():
                continue
            short = 0.0
            for soak, wanted in enumerate(targets):
                for member in range(MEMBERS):
                    got = 0.0
                    for n, name in enumerate(names):
                        fresh = soaked[n, soak] - (again[n] if soak == 2 else 0.0)
                        tired = again[n] if soak == 2 else 0.0
                        kg = self.kg[name][soak][member]
                        got += kg * (fresh + self.after_soak * tired)
                    short += max(wanted - got, 0.0) / MEMBERS
            least = min(least, price * short + self.soak_price * soaked.sum())
        return least


def _splits(count):
    """Every way to send so many logs along the paths."""
    for counts in product(range(count + 1), repeat=len(PATHS) - 1):
        if sum(counts) <= count:
            yield (count - sum(counts), *counts)


_CRUMB = 1e-6  # units; less is rounding of the solver


def soak_paths(table: SeasonTable, flow: Flow) -> list[tuple[float, tuple[int, ...]]]:
    """Return a flow as whole paths: units, and the soak weeks that they go through.

    Parameters
    ----------
    table : SeasonTable
        Arcs of the pool's class.
    flow : Flow
        The flow.
    """
    first, inner, last = flow.first.copy(), flow.inner.copy(), flow.last.copy()
    paths: list[tuple[float, tuple[int, ...]]] = []
    if flow.none > _CRUMB:
        paths.append((flow.none, ()))
    while len(first) and first.max() > _CRUMB:
        arc = int(first.argmax())
        soak = int(table.first_soak[arc])
        units, soaks, inners = first[arc], [soak], []
        while last[soak] <= _CRUMB:
            onward = np.flatnonzero(table.inner_from == soak)
            if not len(onward) or inner[onward].max() <= _CRUMB:
                break  # crumbs of rounding: the path ends here
            step = int(onward[inner[onward].argmax()])
            inners.append(step)
            units = min(units, inner[step])
            soak = int(table.inner_to[step])
            soaks.append(soak)
        else:
            units = min(units, last[soak])
            last[soak] -= units
        first[arc] -= units
        inner[inners] -= units
        paths.append((float(units), tuple(int(table.soak_weeks[n]) for n in soaks)))
    return paths
