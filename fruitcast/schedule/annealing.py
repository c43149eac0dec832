"""Annealing over soak days, compiled: the search's inner loop.

A move gives one stack, or two, another path. What that changes of the picked total is added up from
the first changed check day on, the sales of all members are booked anew from there, and the move
stands if the objective rises by no more than chance allows. Sums are never rearranged and chance is
drawn from a seed, so the same problem and seed give the same plan on every machine.

Compiled when first used after installing and then read from a file; so only `search.py` imports
this module, and late.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numba import njit

from fruitcast.schedule.problem import FloatArray, IntArray
from fruitcast.schedule.search_tables import Arrays

FAR = 4
"""Soak days by which a soak is moved at most when it is nudged."""

LEAST_GAIN = 1e-9
"""Less than this is no gain but the noise of adding up. [kg]"""


_OPTIONS: dict[str, Any] = {"no_cfunc_wrapper": True, "_nrt": False}
"""Nothing is made in here: counting references to arrays would take half the time."""

_part = partial(njit, no_cpython_wrapper=True, **_OPTIONS)()
"""For what is only called from here."""


def _whole(function: Callable[..., None]) -> Callable[..., None]:
    """Compile a function and keep it in a file, where one can be written."""
    try:
        kept: Callable[..., None] = njit(cache=True, **_OPTIONS)(function)
    except RuntimeError:  # neither beside the package nor in the user's own cache folder
        kept = njit(**_OPTIONS)(function)
    return kept


class Work(NamedTuple):
    """The plan under construction and room to work in; `tried_` is what a move would make of it.

    Attributes
    ----------
    paths, best_paths : (stack, soak) int array
        Soaks of each stack, in the plan and in the best one seen.
    counts, best_counts : (stack,) int array
        Number of its soaks.
    tank, hours : (day,) int, float array
        In use.
    picked, tried_picked : (check, padded member) float array
        Picked total. [kg]
    gone, tried_gone : (sale + 1, padded member) float array
        Sold or expired before each sale, and after the last. [kg]
    cost, tried_cost : (sale + 1, padded member) float array
        Cost of the sales before. [kg]
    sure, tried_sure : (sale + 1,) float array
        Certainty term of the sales before. [kg]
    change : (check * padded member,) float array
        Nought between moves.
    run, short : (padded member,) float array
        Room.
    new : (2, soak) int array
        The paths of a move.
    size, stack : (2,) int array
        Number of soaks and stack of each path of a move.
    value : (3,) float array
        Objective of the plan, its part from the stacks' own costs, and the best objective. [kg]
    random : (1,) uint64 array
        State of chance.
    """

    paths: IntArray
    best_paths: IntArray
    counts: IntArray
    best_counts: IntArray
    tank: IntArray
    hours: FloatArray
    picked: FloatArray
    tried_picked: FloatArray
    gone: FloatArray
    tried_gone: FloatArray
    cost: FloatArray
    tried_cost: FloatArray
    sure: FloatArray
    tried_sure: FloatArray
    change: FloatArray
    run: FloatArray
    short: FloatArray
    new: IntArray
    size: IntArray
    stack: IntArray
    value: FloatArray
    random: Any


def room(arrays: Arrays, paths: IntArray, counts: IntArray, seed: int) -> Work:
    """Return room for a plan, to be begun."""
    (checks, width), sales = arrays.stock.shape, len(arrays.target)

    def booked() -> FloatArray:
        return np.zeros((sales + 1, width))

    state = (seed * 2_654_435_769 + 88_172_645_463_325_252) % 2**64
    return Work(
        paths=paths,
        best_paths=paths.copy(),
        counts=counts,
        best_counts=counts.copy(),
        tank=arrays.tank.copy(),
        hours=arrays.hours.copy(),
        picked=arrays.stock.copy(),
        tried_picked=arrays.stock.copy(),
        gone=booked(),
        tried_gone=booked(),
        cost=booked(),
        tried_cost=booked(),
        sure=np.zeros(sales + 1),
        tried_sure=np.zeros(sales + 1),
        change=np.zeros(checks * width),
        run=np.zeros(width),
        short=np.zeros(width),
        new=np.zeros((2, paths.shape[1]), dtype=np.int64),
        size=np.zeros(2, dtype=np.int64),
        stack=np.zeros(2, dtype=np.int64),
        value=np.zeros(3),
        random=np.array([state], dtype=np.uint64),
    )


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
        for night in range(day, pull):
            work.tank[night] += logs
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
        if work.hours[day] > arrays.limits[1] or work.hours[pull] > arrays.limits[1]:
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
        scale = sign * arrays.scale[stack] if step else sign
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
    for place in range(moved):
        stack = work.stack[place]
        _occupy(arrays, work, stack, work.paths[stack], work.counts[stack], -1)
    for place in range(moved):
        _occupy(arrays, work, work.stack[place], work.new[place], work.size[place], 1)
    stands = True
    for place in range(moved):
        stands = stands and _fits(
            arrays, work, work.stack[place], work.new[place], work.size[place]
        )
    if stands:
        own = 0.0
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
            _occupy(arrays, work, work.stack[place], work.new[place], work.size[place], -1)
        for place in range(moved):
            stack = work.stack[place]
            _occupy(arrays, work, stack, work.paths[stack], work.counts[stack], 1)
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
def _propose_pair(arrays, work):  # type: ignore[no-untyped-def]
    """Write a move of two stacks: one gives up a soak day, the other takes it."""
    days, stacks = arrays.soak_day.shape[0], work.counts.shape[0]
    a, b = _draw(work, stacks), _draw(work, stacks - 1)
    b += 1 if b >= a else 0
    work.stack[0], work.stack[1] = a, b
    if work.counts[a] == 0:
        return False
    gap = _draw(work, work.counts[a])
    k = work.paths[a, gap]
    way = _draw(work, 3)
    if way == 0:
        work.size[0] = _drop_soak(arrays, a, work.paths[a], work.counts[a], gap, work.new[0])
        work.size[1] = _add_soak(arrays, b, work.paths[b], work.counts[b], -1, k, work.new[1])
    elif way == 1 and work.counts[b] > 0:
        other = _draw(work, work.counts[b])
        j = work.paths[b, other]
        work.size[0] = _add_soak(arrays, a, work.paths[a], work.counts[a], gap, j, work.new[0])
        work.size[1] = _add_soak(arrays, b, work.paths[b], work.counts[b], other, k, work.new[1])
    else:
        j = _draw(work, days)
        work.size[0] = _add_soak(arrays, a, work.paths[a], work.counts[a], gap, j, work.new[0])
        work.size[1] = _add_soak(arrays, b, work.paths[b], work.counts[b], -1, k, work.new[1])
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
        work.size[0] = _add_soak(arrays, stack, path, count, -1, _draw(work, days), new)
    elif way < 7:
        step = _draw(work, count)
        k = path[step] + _draw(work, 2 * FAR + 1) - FAR
        if k < 0 or k >= days:
            return False
        work.size[0] = _add_soak(arrays, stack, path, count, step, k, new)
    else:
        work.size[0] = _drop_soak(arrays, stack, path, count, _draw(work, count), new)
    return work.size[0] >= 0


@_whole
def begin(arrays, work, members):  # type: ignore[no-untyped-def]
    """Reckon the plan in `work.paths`; the room must be nought."""
    work.value[1] = 0.0
    for stack in range(work.counts.shape[0]):
        path, count = work.paths[stack], work.counts[stack]
        _occupy(arrays, work, stack, path, count, 1)
        work.value[1] += _own_cost(arrays, stack, path, count)
        _add_path(arrays, work.change, stack, path, count, 0, 0, 1.0)
    _add_up(arrays, work, 0)
    work.value[0] = _book(arrays, work, members, 0) + work.value[1]
    _keep(arrays, work, 0)
    _keep_best(work)


@_whole
def anneal(arrays, work, members, free, first, past, moves, heat, chances):  # type: ignore[no-untyped-def]
    """Try moves by chance, with less and less heat.

    Parameters
    ----------
    arrays : Arrays
        The problem.
    work : Work
        The plan, begun.
    members : int
        Members that are no padding.
    free : (free stack,) int array
        Stacks that may move.
    first, past, moves : int
        Numbers of the moves to try now, and how many there are in all.
    heat : float
        Rise that is accepted half-heartedly at the start; falls to nothing by the last. [kg]
    chances : (chance,) float array
        Quantiles of the exponential distribution.
    """
    for number in range(first, past):
        cool = 1.0 - number / moves
        allowed = heat * cool * cool * chances[_draw(work, chances.shape[0])]
        moved = 1
        if free.shape[0] > 1 and _draw(work, 3) == 0:
            moved = 2 if _propose_pair(arrays, work) else 0
        elif not _propose(arrays, work, free):
            moved = 0
        if moved:
            _try(arrays, work, members, moved, allowed)


@_whole
def descend(arrays, work, members, free):  # type: ignore[no-untyped-def]
    """Make every move of a single stack that gains, one after the other, until none does."""
    days, frees = arrays.soak_day.shape[0], free.shape[0]
    quiet, place = 0, 0
    while quiet < frees:
        stack = free[place]
        place = place + 1 if place + 1 < frees else 0
        quiet += 1
        work.stack[0] = stack
        for turn in range(-1, work.counts[stack]):
            for k in range(-1, days):
                path, count = work.paths[stack], work.counts[stack]
                if turn >= count:
                    break
                if k >= 0:
                    size = _add_soak(arrays, stack, path, count, turn, k, work.new[0])
                elif turn >= 0:
                    size = _drop_soak(arrays, stack, path, count, turn, work.new[0])
                else:
                    size = -1
                work.size[0] = size
                if size >= 0 and _try(arrays, work, members, 1, -LEAST_GAIN):
                    quiet = 0
