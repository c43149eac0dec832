"""Annealing over soak days: the search's inner loop, for numba to compile.

A move gives one stack, or two, another path. What that changes of the picked total is added up from
the first changed check day on, the sales of all members are booked anew from there, and the move
stands if the objective rises by no more than chance allows. Sums are never rearranged and chance is
drawn from a seed, so the same problem and seed give the same plan on every machine.

Imported only where the machine code must be made (`machine_code.py`): it takes half a second and
60 MB to import numba, and some seconds to compile.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numba import njit

FAR = 4
"""Soak days by which a soak is moved at most when it is nudged."""

LEAST_GAIN = 1e-9
"""Less than this is no gain but the noise of adding up. [kg]"""

# A function is compiled once for each plain number that it is called with, but not for these.
_NOUGHT, _NONE, _IN, _OUT = np.int64(0), np.int64(-1), np.int64(1), np.int64(-1)

compiled = partial(
    njit,
    no_cpython_wrapper=True,
    no_cfunc_wrapper=True,
    # Nothing is made in here: counting references to arrays would take half the time.
    _nrt=False,
    error_model="numpy",
)
"""For numbers and arrays alone: the machine code needs nothing of Python."""

_part = compiled()


@_part
def _draw(work, below):  # type: ignore[no-untyped-def]
    """Return a whole number from 0 to below `below` by chance (xorshift)."""
    x = work.random[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    work.random[0] = x
    return (np.int64(x >> np.uint64(33)) * below) >> 31


@_part
def _occupy(arrays, work, stack, path, count, sign):  # type: ignore[no-untyped-def]
    kind, logs = arrays.kind[stack], sign * arrays.logs[stack]
    for step in range(count):
        day, pull = arrays.soak_day[path[step]], arrays.pull_day[kind, path[step]]
        visit = arrays.visit[stack]
        beside = work.visits[visit, path[step]]
        work.visits[visit, path[step]] = beside + sign
        if beside == 0 or beside + sign == 0:
            work.value[3] += sign * arrays.handling[stack]
        for night in range(day, pull):
            work.tank[night] += logs
        for standing in range(pull, arrays.clear_day[kind, path[step]]):
            work.fruiting[standing] += logs
        work.hours[day] += logs * arrays.limits[2]
        work.hours[pull] += logs * arrays.limits[3]


@_part
def _fits(arrays, work, stack, path, count):  # type: ignore[no-untyped-def]
    kind = arrays.kind[stack]
    for step in range(count):
        day, pull = arrays.soak_day[path[step]], arrays.pull_day[kind, path[step]]
        for night in range(day, pull):
            if work.tank[night] > arrays.limits[0]:
                return False
        for standing in range(pull, arrays.clear_day[kind, path[step]]):
            if work.fruiting[standing] > arrays.limits[1]:
                return False
        if work.hours[day] > arrays.hours_on[day] or work.hours[pull] > arrays.hours_on[pull]:
            return False
    return True


@_part
def _row(arrays, stack, path, count, step):  # type: ignore[no-untyped-def]
    """Return a row of a path: its first arc, inner arcs, and what follows the last soak."""
    if step == 0:
        return arrays.start_row[stack, path[0] if count else arrays.soak_day.shape[0]]
    if step == count:
        return arrays.end_row[arrays.kind[stack], path[step - 1]]
    return arrays.arc_row[arrays.kind[stack], path[step - 1], path[step]]


@_part
def _add_path(arrays, change, stack, path, count, front, back, sign):  # type: ignore[no-untyped-def]
    """Add a path's rows but some at the front and back; return the first check day changed."""
    first = arrays.stock.shape[0]
    for step in range(front, count + 1 - back):
        row = _row(arrays, stack, path, count, step)
        scale = sign * arrays.effective_logs[stack] if step else sign
        for entry in range(arrays.first_entry[row], arrays.first_entry[row + 1]):
            change[arrays.cell[entry]] += scale * arrays.kg[entry]
        first = min(first, arrays.first_check[row])
    return first


@_part
def _own_cost(arrays, stack, path, count):  # type: ignore[no-untyped-def]
    never = arrays.soak_day.shape[0]
    return (
        arrays.soak_cost[stack] * count
        + arrays.start_cost[stack, path[0] if count else never]
        + arrays.end_cost[stack, path[count - 1] if count else never]
    )


@_part
def _worst(arrays, members, short):  # type: ignore[no-untyped-def]
    """Return the mean of the largest shortfalls over the worst share of members."""
    worst = arrays.prices[2] * members
    total = 0.0
    for place in range(members):
        if place >= worst:
            break
        most = place
        for other in range(place + 1, members):
            if short[other] > short[most]:
                most = other
        held = short[most]
        short[most] = short[place]
        short[place] = held
        total += held * min(worst - place, 1.0)
    return total / worst if worst > 0.0 else 0.0


@_part
def _book(arrays, work, members, check):  # type: ignore[no-untyped-def]
    """Book the sales from a check day on as tried; return what all sales cost. [kg]"""
    width, sales = arrays.stock.shape[1], arrays.target.shape[0]
    expired, certainty = arrays.prices[0], arrays.prices[1]
    first = arrays.first_sale[check]
    for member in range(width):
        work.tried_gone[first, member] = work.gone[first, member]
        work.tried_cost[first, member] = work.cost[first, member]
    work.tried_sure[first] = work.sure[first]
    for sale in range(first, sales):
        target, weight = arrays.target[sale], arrays.weight[sale]
        stale, fresh = work.tried_picked[arrays.stale[sale]], work.tried_picked[arrays.reach[sale]]
        if arrays.stale[sale] < check:
            stale = work.picked[arrays.stale[sale]]
        gone, gone_after = work.tried_gone[sale], work.tried_gone[sale + 1]
        cost, cost_after = work.tried_cost[sale], work.tried_cost[sale + 1]
        for member in range(width):
            left = max(stale[member], gone[member])
            sold = min(max(fresh[member] - left, 0.0), target)
            gone_after[member] = left + sold
            lost = expired * (left - gone[member])
            cost_after[member] = cost[member] + (lost + weight * (target - sold))
        work.tried_sure[sale + 1] = work.tried_sure[sale]
        if certainty > 0.0:
            for member in range(members):
                left = max(stale[member], gone[member])
                work.short[member] = target - (gone_after[member] - left)
            work.tried_sure[sale + 1] += certainty * _worst(arrays, members, work.short)
    last = arrays.stale[sales]
    total = 0.0
    for member in range(members):
        end = work.tried_picked[last, member] if last >= check else work.picked[last, member]
        lost = max(end - work.tried_gone[sales, member], 0.0)
        total += work.tried_cost[sales, member] + expired * lost
    return total / members + work.tried_sure[sales]


@_part
def _add_up(arrays, work, check):  # type: ignore[no-untyped-def]
    """Add the change to the picked total from a check day on, and forget it."""
    checks, width = arrays.stock.shape
    run = work.run
    for member in range(width):
        run[member] = 0.0
    for later in range(check, checks):
        picked, tried = work.picked[later], work.tried_picked[later]
        change = work.change[later * width : (later + 1) * width]
        for member in range(width):
            run[member] += change[member]
            change[member] = 0.0
            tried[member] = picked[member] + run[member]


@_part
def _keep(arrays, work, check):  # type: ignore[no-untyped-def]
    """Take over what was tried from a check day on."""
    checks, width = arrays.stock.shape
    for later in range(check, checks):
        for member in range(width):
            work.picked[later, member] = work.tried_picked[later, member]
    if check < checks:
        for sale in range(arrays.first_sale[check], arrays.target.shape[0] + 1):
            for member in range(width):
                work.gone[sale, member] = work.tried_gone[sale, member]
                work.cost[sale, member] = work.tried_cost[sale, member]
            work.sure[sale] = work.tried_sure[sale]


@_part
def _keep_best(work):  # type: ignore[no-untyped-def]
    work.value[2] = work.value[0]
    for stack in range(work.counts.shape[0]):
        work.best_counts[stack] = work.counts[stack]
        for step in range(work.counts[stack]):
            work.best_paths[stack, step] = work.paths[stack, step]


@_part
def _try(arrays, work, members, moved, allowed):  # type: ignore[no-untyped-def]
    """Make the move that stands in `work` if it keeps the limits and costs no more than allowed."""
    checks = arrays.stock.shape[0]
    handled = work.value[3]
    for place in range(moved):
        stack = work.stack[place]
        _occupy(arrays, work, stack, work.paths[stack], work.counts[stack], _OUT)
    for place in range(moved):
        _occupy(arrays, work, work.stack[place], work.new[place], work.size[place], _IN)
    stands = True
    for place in range(moved):
        stands = stands and _fits(
            arrays, work, work.stack[place], work.new[place], work.size[place]
        )
    if stands:
        own = work.value[3] - handled
        check = checks
        for place in range(moved):
            stack, new, size = work.stack[place], work.new[place], work.size[place]
            old, count = work.paths[stack], work.counts[stack]
            own += _own_cost(arrays, stack, new, size) - _own_cost(arrays, stack, old, count)
            # Rows that both paths have at the front or back need not be touched.
            front, back, least = 0, 0, min(count, size)
            while front <= least and _row(arrays, stack, old, count, front) == _row(
                arrays, stack, new, size, front
            ):
                front += 1
            while front + back <= least and _row(arrays, stack, old, count, count - back) == _row(
                arrays, stack, new, size, size - back
            ):
                back += 1
            check = min(check, _add_path(arrays, work.change, stack, old, count, front, back, -1.0))
            check = min(check, _add_path(arrays, work.change, stack, new, size, front, back, 1.0))
        own += work.value[1]
        then = work.value[0] - work.value[1] + own
        if check < checks:
            _add_up(arrays, work, check)
            then = _book(arrays, work, members, check) + own
        stands = then - work.value[0] < allowed
    if stands:
        work.value[0], work.value[1] = then, own
        _keep(arrays, work, check)
        for place in range(moved):
            stack = work.stack[place]
            work.counts[stack] = work.size[place]
            for step in range(work.size[place]):
                work.paths[stack, step] = work.new[place, step]
        if then < work.value[2] - LEAST_GAIN:
            _keep_best(work)
    else:
        for place in range(moved):
            _occupy(arrays, work, work.stack[place], work.new[place], work.size[place], _OUT)
        for place in range(moved):
            stack = work.stack[place]
            _occupy(arrays, work, stack, work.paths[stack], work.counts[stack], _IN)
        work.value[3] = handled
    return stands


@_part
def _add_soak(arrays, stack, path, count, skip, k, new):  # type: ignore[no-untyped-def]
    """Write the path with a soak on day `k`, without soak number `skip` (-1: none).

    Soaks too near to it go. Returns how many there are then, -1 when the stack can't.
    """
    kind = arrays.kind[stack]
    before = -1
    for step in range(count):
        if step != skip and path[step] == k:
            return -1
        if step != skip and path[step] < k and arrays.arc_row[kind, path[step], k] >= 0:
            before = step
    size = 0
    for step in range(before + 1):
        if step != skip:
            new[size] = path[step]
            size += 1
    new[size] = k
    size += 1
    for step in range(before + 1, count):
        if step != skip and path[step] > k and arrays.arc_row[kind, new[size - 1], path[step]] >= 0:
            new[size] = path[step]
            size += 1
    return size if _is_path(arrays, stack, new, size) else -1


@_part
def _is_path(arrays, stack, path, count):  # type: ignore[no-untyped-def]
    if count and arrays.start_row[stack, path[0]] < 0:
        return False
    for step in range(1, count):
        if arrays.arc_row[arrays.kind[stack], path[step - 1], path[step]] < 0:
            return False
    return True


@_part
def _drop_soak(arrays, stack, path, count, gap, new):  # type: ignore[no-untyped-def]
    """Write the path without one soak, and without later ones that have no arc then."""
    size = gap
    for step in range(gap):
        new[step] = path[step]
    for step in range(gap + 1, count):
        new[size] = path[step]
        if _is_path(arrays, stack, new, size + 1):
            size += 1
    return size


@_part
def _propose_pair(arrays, work, free):  # type: ignore[no-untyped-def]
    """Write a move of two stacks: one gives up a soak day, the other takes it."""
    days, frees = arrays.soak_day.shape[0], free.shape[0]
    one, other = _draw(work, frees), _draw(work, frees - 1)
    a, b = free[one], free[other + 1 if other >= one else other]
    work.stack[0], work.stack[1] = a, b
    if work.counts[a] == 0:
        return False
    gap = _draw(work, work.counts[a])
    k = work.paths[a, gap]
    way = _draw(work, 3)
    if way == 0:
        work.size[0] = _drop_soak(arrays, a, work.paths[a], work.counts[a], gap, work.new[0])
        work.size[1] = _add_soak(arrays, b, work.paths[b], work.counts[b], _NONE, k, work.new[1])
    elif way == 1 and work.counts[b] > 0:
        other = _draw(work, work.counts[b])
        j = work.paths[b, other]
        work.size[0] = _add_soak(arrays, a, work.paths[a], work.counts[a], gap, j, work.new[0])
        work.size[1] = _add_soak(arrays, b, work.paths[b], work.counts[b], other, k, work.new[1])
    else:
        j = _draw(work, days)
        work.size[0] = _add_soak(arrays, a, work.paths[a], work.counts[a], gap, j, work.new[0])
        work.size[1] = _add_soak(arrays, b, work.paths[b], work.counts[b], _NONE, k, work.new[1])
    return work.size[0] >= 0 and work.size[1] >= 0


@_part
def _propose(arrays, work, free):  # type: ignore[no-untyped-def]
    """Write a move of one stack."""
    days = arrays.soak_day.shape[0]
    stack = free[_draw(work, free.shape[0])]
    work.stack[0] = stack
    path, count, new = work.paths[stack], work.counts[stack], work.new[0]
    way = _draw(work, 8)
    if way < 4 or count == 0:
        work.size[0] = _add_soak(arrays, stack, path, count, _NONE, _draw(work, days), new)
    elif way < 7:
        step = _draw(work, count)
        k = path[step] + _draw(work, 2 * FAR + 1) - FAR
        if k < 0 or k >= days:
            return False
        work.size[0] = _add_soak(arrays, stack, path, count, step, k, new)
    else:
        work.size[0] = _drop_soak(arrays, stack, path, count, _draw(work, count), new)
    return work.size[0] >= 0


@_part
def _neighbour(arrays, work, free):  # type: ignore[no-untyped-def]
    """Write the change of one stack that the cursor is at, and move it on."""
    place, turn, k = work.cursor[0], work.cursor[1], work.cursor[2]
    stack, new = free[place], work.new[0]
    path, count = work.paths[stack], work.counts[stack]
    work.stack[0] = stack
    work.size[0] = -1
    if turn < count:
        if k >= 0:
            work.size[0] = _add_soak(arrays, stack, path, count, turn, k, new)
        elif turn >= 0:
            work.size[0] = _drop_soak(arrays, stack, path, count, turn, new)
    work.cursor[2] += 1
    if work.cursor[2] == arrays.soak_day.shape[0]:
        work.cursor[1] += 1
        work.cursor[2] = -1
        if work.cursor[1] >= count:
            work.cursor[0] = place + 1 if place + 1 < free.shape[0] else 0
            work.cursor[1] = -1
            work.cursor[3] += 1
    return work.size[0] >= 0


@_part
def _begin(arrays, work, members):  # type: ignore[no-untyped-def]
    """Reckon the plan in `work.paths`."""
    for night in range(work.tank.shape[0]):
        work.tank[night], work.hours[night] = arrays.tank[night], arrays.hours[night]
        work.fruiting[night] = arrays.fruiting[night]
    for check in range(arrays.stock.shape[0]):
        for member in range(arrays.stock.shape[1]):
            work.picked[check, member] = arrays.stock[check, member]
    work.value[1], work.value[3] = 0.0, 0.0
    for visit in range(work.visits.shape[0]):
        for day in range(work.visits.shape[1]):
            work.visits[visit, day] = 0
    for stack in range(work.counts.shape[0]):
        path, count = work.paths[stack], work.counts[stack]
        _occupy(arrays, work, stack, path, count, _IN)
        work.value[1] += _own_cost(arrays, stack, path, count)
        _add_path(arrays, work.change, stack, path, count, _NOUGHT, _NOUGHT, 1.0)
    work.value[1] += work.value[3]
    _add_up(arrays, work, _NOUGHT)
    work.value[0] = _book(arrays, work, members, _NOUGHT) + work.value[1]
    _keep(arrays, work, _NOUGHT)
    if work.value[0] < work.value[2] - LEAST_GAIN:
        _keep_best(work)


def search(arrays, work, members, free, chances, first, past, moves, allowance):  # type: ignore[no-untyped-def]
    """Try moves by chance with less and less allowance, or else every single one until none gains.

    Parameters
    ----------
    arrays : Arrays
        The problem.
    work : Work
        The plan, and room.
    members : int
        Members that are no padding.
    free : (free stack,) int array
        Stacks that may move, one at least.
    chances : (chance,) float array
        Quantiles of the exponential distribution.
    first, past, moves : int
        Numbers of the moves to try now, and how many there are in all; none of them: every change
        of a single stack's path is made that gains, one after the other, until none does.
    allowance : float
        Rise that is accepted half-heartedly at the start; falls to nothing by the last. [kg]
    """
    _begin(arrays, work, members)
    number = first
    while number < past if moves > 0 else work.cursor[3] < free.shape[0]:
        moved, allowed = 1, -LEAST_GAIN
        if moves > 0:
            cool = 1.0 - number / moves
            allowed = allowance * cool * cool * chances[_draw(work, chances.shape[0])]
            number += 1
            if free.shape[0] > 1 and _draw(work, 3) == 0:
                moved = 2 if _propose_pair(arrays, work, free) else 0
            elif not _propose(arrays, work, free):
                moved = 0
        elif not _neighbour(arrays, work, free):
            moved = 0
        if moved and _try(arrays, work, members, moved, allowed):
            work.cursor[3] = 0
