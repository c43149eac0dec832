"""The scheduling model as one (mixed-integer) linear program, arcs of every stack its own.

Variables: for each stack one binary for each arc, a unit of flow from today to the end;
for each member the kilograms that go from a pool of picks to an outlet day. Picks that can
serve the same outlet days are one pool. Constraints: flow, tank places a day, hours a day,
what a pool holds, what an outlet wants.
"""

from __future__ import annotations

from collections.abc import Iterator

import highspy
import numpy as np
import numpy.typing as npt

from fruitcast.soaks.problem import Crops, Plan, Problem

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


class _Rows:
    """Sparse constraints, gathered block by block."""

    def __init__(self) -> None:
        self.count = 0
        self.lower: list[FloatArray] = []
        self.upper: list[FloatArray] = []
        self._row: list[IntArray] = []
        self._column: list[IntArray] = []
        self._value: list[FloatArray] = []

    def add(self, lower: FloatArray, upper: FloatArray) -> int:
        """Add rows with these limits; return the number of the first."""
        first = self.count
        self.lower.append(lower)
        self.upper.append(upper)
        self.count += len(lower)
        return first

    def fill(self, row: npt.ArrayLike, column: npt.ArrayLike, value: npt.ArrayLike) -> None:
        """Add coefficients; those of the same place add up."""
        parts = np.broadcast_arrays(row, column, value)
        self._row.append(parts[0].ravel().astype(np.int64))
        self._column.append(parts[1].ravel().astype(np.int64))
        self._value.append(parts[2].ravel().astype(np.float64))

    def by_row(self, columns: int) -> tuple[IntArray, IntArray, FloatArray]:
        """Return start, column and value of the matrix row by row."""
        place = np.concatenate(self._row) * columns + np.concatenate(self._column)
        place, inverse = np.unique(place, return_inverse=True)
        value = np.zeros(len(place))
        np.add.at(value, inverse, np.concatenate(self._value))
        start = np.searchsorted(place, np.arange(self.count + 1) * columns)
        return start.astype(np.int64), place % columns, value


class ArcFlow:
    """The program of one problem."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._rows = _Rows()
        self._costs: list[FloatArray] = []
        self._upper: list[FloatArray] = []
        self._columns = 0
        self._offset = 0.0
        self._pool_days()
        self._allocation()
        self._visits()
        self._arcs = self._columns
        self._arc_kind: list[tuple[int, int, int]] = []  # stack, soak before or -1, after or -1
        self._limits()
        for index in range(len(problem.stacks)):
            self._stack(index)
        self._arc_table = np.array(self._arc_kind, dtype=np.int64).reshape(-1, 3)

    # Columns and rows -----------------------------------------------------------------

    def _add(self, cost: FloatArray, upper: FloatArray) -> int:
        first = self._columns
        self._costs.append(np.asarray(cost, dtype=np.float64))
        self._upper.append(np.asarray(upper, dtype=np.float64))
        self._columns += len(cost)
        return first

    def _pool_days(self) -> None:
        """Give every pick day its pool: the outlet days it can serve, and whether it expires."""
        problem = self._problem
        days = [picked for picked, _ in problem.stock]
        for crops in _all_crops(problem):
            if len(crops.day):
                days.append(int(crops.day.min()))
        self._first_day = min([0, *days])
        outlet_day = np.array([outlet.day for outlet in problem.outlets], dtype=np.int64)
        pools: dict[tuple[tuple[int, ...], bool], int] = {}
        pool_of = []
        for day in range(self._first_day, problem.days):
            last = day + problem.cold_days
            served = np.flatnonzero((outlet_day > day) & (outlet_day <= last))
            key = (tuple(served.tolist()), last < problem.days)
            pool_of.append(pools.setdefault(key, len(pools)))
        self._pool_of = np.array(pool_of, dtype=np.int64)
        self._pools = list(pools)

    def _allocation(self) -> None:
        """Add what goes from each pool to each outlet day in each member."""
        problem = self._problem
        members, pools = problem.members, len(self._pools)
        member_index = np.arange(members)
        stock = np.zeros(pools)
        for picked, kg in problem.stock:
            stock[self._pool_of[picked - self._first_day]] += kg
        expires = np.array([expires for _, expires in self._pools], dtype=np.float64)
        self._expiry = problem.prices.expired / members * expires
        self._offset += float(problem.prices.expired * (stock * expires).sum())
        target = np.array([outlet.target for outlet in problem.outlets], dtype=np.float64)
        weight = np.array([outlet.weight for outlet in problem.outlets], dtype=np.float64)
        self._offset += float((weight * target).sum())

        rows = self._rows
        self._supply = rows.add(np.full(members * pools, -np.inf), np.tile(stock, members))
        wanted = rows.add(np.full(members * len(target), -np.inf), np.tile(target, members))
        certainty = problem.prices.certainty
        if certainty:
            # Mean of the worst share = min over t of t + sum(max(0, short - t)) / (share x members)
            worst = max((1.0 - problem.promise) * members, 1.0)
            level = self._add(np.full(len(target), certainty), np.full(len(target), np.inf))
            above = self._add(
                np.full(members * len(target), certainty / worst),
                np.full(members * len(target), np.inf),
            )
            tail = rows.add(np.tile(target, members), np.full(members * len(target), np.inf))
            place = np.arange(members * len(target))
            rows.fill(tail + place, level + place % max(len(target), 1), 1.0)
            rows.fill(tail + place, above + place, 1.0)
        for pool, (served, _) in enumerate(self._pools):
            for outlet in served:
                cost = -weight[outlet] / members - self._expiry[pool]
                column = self._add(np.full(members, cost), np.full(members, np.inf))
                rows.fill(self._supply + member_index * pools + pool, column + member_index, 1.0)
                demand_row = member_index * len(target) + outlet
                rows.fill(wanted + demand_row, column + member_index, 1.0)
                if certainty:
                    rows.fill(tail + demand_row, column + member_index, 1.0)

    def _visits(self) -> None:
        """Add the visits of each stack in lots on each soak day, and a row for each of its lots.

        A visit is paid whole, and each soak gets back the part that it would pay if all lots of
        its stack went in.
        """
        problem, soaks = self._problem, len(self._problem.soak_days)
        self._visit_row = []
        of_visit: dict[int, int] = {}
        for stack, visit in zip(problem.stacks, problem.visits.tolist(), strict=True):
            if visit not in of_visit:
                of_visit[visit] = self._add(np.full(soaks, stack.handling), np.ones(soaks))
            row = self._rows.add(np.zeros(soaks), np.full(soaks, np.inf))
            self._rows.fill(row + np.arange(soaks), of_visit[visit] + np.arange(soaks), 1.0)
            self._visit_row.append(row)

    def _limits(self) -> None:
        """Add a row for the tank, one for the hours and one for the places of each day."""
        problem = self._problem
        days = problem.limit_days
        tank = np.full(days, float(problem.tank_logs))
        hours = problem.hours_on.copy()
        places = np.full(days, np.inf if problem.places is None else float(problem.places))
        for stack in problem.stacks:
            out = stack.fixed_nights
            if out > 0:
                tank[:out] -= stack.begun_logs
                hours[out] -= stack.begun_logs * problem.pull_hours_per_log
            places[out : out + stack.fixed_standing] -= stack.begun_logs
        # What is already done may exceed a limit; then nothing more is allowed.
        self._tank = self._rows.add(np.full(days, -np.inf), np.maximum(tank, 0.0))
        self._hours = self._rows.add(np.full(days, -np.inf), np.maximum(hours, 0.0))
        self._places = self._rows.add(np.full(days, -np.inf), np.maximum(places, 0.0))

    def _stack(self, index: int) -> None:
        """Add the arcs of one stack: never soaked, first soaks, soak to soak, last soaks."""
        problem, rows = self._problem, self._rows
        stack = problem.stacks[index]
        kind = problem.types[stack.type_index]
        soaks = len(problem.soak_days)
        lots = sum(visit == problem.visits[index] for visit in problem.visits.tolist())
        soak_cost = problem.prices.soak * stack.logs - stack.handling / lots
        node = rows.add(np.zeros(soaks), np.zeros(soaks))
        start = rows.add(np.ones(1), np.ones(1))

        def changed(day: int | None) -> float:
            return problem.prices.change * (stack.was_published and day != stack.published)

        def rest_value(last: FloatArray) -> FloatArray:
            rested = (problem.next_soak_day - last) / problem.rest_days
            return np.asarray(0.5 * stack.end_flush * np.clip(rested, 0.0, 1.0))

        none = self._add(changed(None) - rest_value(np.array([stack.rested_from])), np.ones(1))
        self._arc_kind.append((index, -1, -1))
        rows.fill(start, none, 1.0)
        self._crops(stack.first.none_crops, 1.0, none)

        first = stack.first.soak
        days = problem.soak_days[first]
        cost = soak_cost + np.array([changed(int(day)) for day in days], dtype=np.float64)
        allowed = kind.allowed[first] & (days >= stack.fixed_nights)
        column = self._add(cost, allowed.astype(np.float64))
        self._arc_kind += [(index, -1, int(soak)) for soak in first]
        rows.fill(start, column + np.arange(len(first)), 1.0)
        rows.fill(node + first, column + np.arange(len(first)), 1.0)
        self._crops(stack.first.crops, 1.0, column)
        self._work(index, first, column)

        gap = problem.soak_days[kind.stop] - problem.soak_days[kind.start]
        allowed = kind.allowed[kind.stop] & (gap >= problem.rest_days)
        column = self._add(np.full(len(gap), soak_cost), allowed.astype(np.float64))
        self._arc_kind += [
            (index, before, after)
            for before, after in zip(kind.start.tolist(), kind.stop.tolist(), strict=True)
        ]
        rows.fill(node + kind.stop, column + np.arange(len(gap)), 1.0)
        rows.fill(node + kind.start, column + np.arange(len(gap)), -1.0)
        self._crops(kind.crops, stack.effective_logs, column)
        self._work(index, kind.stop, column)

        column = self._add(-rest_value(problem.soak_days.astype(np.float64)), np.ones(soaks))
        self._arc_kind += [(index, soak, -1) for soak in range(soaks)]
        rows.fill(node + np.arange(soaks), column + np.arange(soaks), -1.0)
        self._crops(kind.end_crops, stack.effective_logs, column)

    def _crops(self, crops: Crops, effective_logs: float, column: int) -> None:
        """Let each arc fill the pools of the days on which it is picked."""
        if not len(crops.row):
            return
        inside = crops.day < self._problem.days
        pool = self._pool_of[crops.day[inside] - self._first_day]
        member = crops.member[inside]
        arc = column + crops.row[inside]
        kg = effective_logs * crops.kg[inside]
        self._rows.fill(self._supply + member * len(self._pools) + pool, arc, -kg)
        np.add.at(self._extra_costs(), arc, kg * self._expiry[pool])

    def _extra_costs(self) -> FloatArray:
        """Return the costs of all columns so far as one array that can be added to."""
        if len(self._costs) > 1:
            self._costs = [np.concatenate(self._costs)]
        return self._costs[0]

    def _work(self, index: int, soak: IntArray, column: int) -> None:
        """Let the arcs into `soak` take their room in the tank, hours of work and places."""
        problem = self._problem
        stack = problem.stacks[index]
        kind = problem.types[stack.type_index]
        day, nights = problem.soak_days[soak], kind.nights[soak]
        arc = column + np.arange(len(soak))
        self._rows.fill(self._visit_row[index] + soak, arc, -1.0)
        for night in range(int(nights.max(initial=0))):
            held = nights > night
            self._rows.fill(self._tank + day[held] + night, arc[held], float(stack.logs))
        if problem.places is not None:
            standing = kind.standing[soak]
            for later in range(int(standing.max(initial=0))):
                held = standing > later
                place = self._places + day[held] + nights[held] + later
                self._rows.fill(place, arc[held], float(stack.logs))
        if problem.hours_a_day is not None:
            work = stack.logs * problem.soak_hours_per_log
            self._rows.fill(self._hours + day, arc, work)
            work = stack.logs * problem.pull_hours_per_log
            self._rows.fill(self._hours + day + nights, arc, work)

    # Solving --------------------------------------------------------------------------

    def solver(self, *, integer: bool) -> highspy.Highs:
        """Return the solver with the program loaded. Call with standard output silenced."""
        lp = highspy.HighsLp()
        lp.num_col_ = self._columns
        lp.num_row_ = self._rows.count
        lp.offset_ = self._offset
        lp.col_cost_ = self._extra_costs()
        lp.col_lower_ = np.zeros(self._columns)
        lp.col_upper_ = np.concatenate(self._upper)
        lp.row_lower_ = np.concatenate(self._rows.lower)
        lp.row_upper_ = np.concatenate(self._rows.upper)
        start, column, value = self._rows.by_row(self._columns)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.num_col_ = self._columns
        lp.a_matrix_.num_row_ = self._rows.count
        lp.a_matrix_.start_ = start
        lp.a_matrix_.index_ = column
        lp.a_matrix_.value_ = value
        if integer:
            binary = [highspy.HighsVarType.kInteger] * (self._columns - self._arcs)
            lp.integrality_ = [highspy.HighsVarType.kContinuous] * self._arcs + binary
        solver = highspy.Highs()
        solver.setOptionValue("output_flag", False)
        solver.setOptionValue("threads", 1)
        solver.passModel(lp)
        return solver

    def read_plan(self, values: FloatArray) -> Plan | None:
        """Return the plan whose arcs carry flow, None when there is no solution."""
        if len(values) != self._columns:
            return None
        paths: list[list[int]] = [[] for _ in self._problem.stacks]
        chosen = self._arc_table[values[self._arcs :] > 0.5]
        if len(np.unique(chosen[:, 0])) != len(paths):
            return None
        for stack, _, soak in chosen.tolist():
            if soak >= 0:
                paths[stack].append(soak)
        return tuple(tuple(sorted(path)) for path in paths)

    def rule_out(self, solver: highspy.Highs, plan: Plan) -> None:
        """Forbid one plan: at least one of its arcs must not be taken."""
        steps = {
            (stack, before, after)
            for stack, path in enumerate(plan)
            for before, after in zip((-1, *path), (*path, -1), strict=True)
        }
        taken = [i for i, arc in enumerate(self._arc_kind) if arc in steps]
        column = (self._arcs + np.array(taken)).astype(np.int32)
        solver.addRow(-highspy.kHighsInf, len(taken) - 1.0, len(taken), column, np.ones(len(taken)))


def _all_crops(problem: Problem) -> Iterator[Crops]:
    for kind in problem.types:
        yield from (kind.crops, kind.end_crops)
    for stack in problem.stacks:
        yield from (stack.first.crops, stack.first.none_crops)
