"""Annealing over soak days: the search's inner loop, for numba to compile.

A move gives one stack, or two, another path. What that changes is added up by check day and member,
the sales are booked anew from the first to which it makes a difference until it makes none any
more, and the move stands if the objective rises by no more than chance allows. Weights are whole
numbers of a small unit, so that no order of adding them up matters and what is the same is seen to
be; and chance is drawn from a seed: the same problem and seed give the same plan on every machine.

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

_joined = compiled(forceinline=True)
"""For what is called in one place: handing over all arrays takes as long as a path's crop."""


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
def _occupy(arrays, work, stack, path, first, past, sign):  # type: ignore[no-untyped-def]
    kind, logs = arrays.kind[stack], sign * arrays.logs[stack]
    for step in range(first, past):
        day, pull = arrays.soak_day[path[step]], arrays.pull_day[kind, path[step]]
        visit = arrays.visit[stack]
        beside = work.visits[visit, path[step]]
        work.visits[visit, path[step]] = beside + sign
        if beside == 0 or beside + sign == 0:
            work.value[2] += sign * arrays.handling[stack]
        for night in range(day, pull):
            work.tank[night] += logs
        for standing in range(pull, arrays.clear_day[kind, path[step]]):
            work.fruiting[standing] += logs
        work.hours[day] += logs * arrays.limits[2]
        work.hours[pull] += logs * arrays.limits[3]


@_part
def _fits(arrays, work, stack, path, first, past):  # type: ignore[no-untyped-def]
    kind = arrays.kind[stack]
    for step in range(first, past):
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
def _list_rows(arrays, work, stack, path, count, first, past, listed):  # type: ignore[no-untyped-def]
    """List some rows of a path behind those listed; return how many are then."""
    for step in range(first, past):
        work.row[listed] = _row(arrays, stack, path, count, step)
        work.units[listed] = arrays.unit[1] * (arrays.effective_logs[stack] if step else 1.0)
        listed = listed + 1
    return listed


@_part
def _fetch(arrays, work, listed):  # type: ignore[no-untyped-def]
    """Look at all rows listed: memory brings them side by side then, not one after the other."""
    seen = _NOUGHT
    for place in range(listed):
        row = arrays.row[work.row[place]]
        for entry in range(np.uint64(row[0]), np.uint64(row[1]), np.uint64(16)):
            seen += np.int64(arrays.cell[entry]) + np.int64(arrays.kg[entry])
    work.seen[0] = seen


@_part
def _add_rows(arrays, work, first, past, sign):  # type: ignore[no-untyped-def]
    """Add some rows listed to the change, and widen the check days changed."""
    for place in range(first, past):
        row, units = arrays.row[work.row[place]], work.units[place]
        for entry in range(np.uint64(row[0]), np.uint64(row[1])):
            kg = np.int32(arrays.kg[entry] * units + np.float32(0.5))
            cell = arrays.cell[entry]
            work.cells[cell] = np.int32(work.cells[cell] + np.int32(sign * kg))
        work.changed[0] = min(work.changed[0], np.int64(row[2]))
        work.changed[1] = max(work.changed[1], np.int64(row[3]))


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
def _there(left, come, young, now, before, old, member):  # type: ignore[no-untyped-def]
    """Return what there is to sell: what was left and has come, less what is too old."""
    there = np.int32(np.int32(left[member] + come[member]) + np.int32(now[member] - before[member]))
    return min(there, np.int32(young[member] + np.int32(now[member] - old[member])))


@_joined
def _book(arrays, work, members):  # type: ignore[no-untyped-def]
    """Book the sales that a change makes others; return what all sales cost more. [kg]

    They are others as long as what has come changes, or what the sale before leaves.
    """
    first, last = work.changed[0], work.changed[1]
    width, sales = work.left.shape[1], arrays.target.shape[0]
    certainty = arrays.prices[1]
    sale = arrays.first_sale[first]
    work.booked[0] = sale
    before, left = work.none, work.left[sale]
    differs, reached = np.int32(0), _NONE
    sold_more, served, sure = _NOUGHT, 0.0, 0.0
    while sale < sales and (differs != 0 or min(reached, arrays.stale[sale]) < last):
        now = work.change[min(arrays.reach[sale], last)]
        old = work.change[min(arrays.stale[sale], last)]
        come, young = work.come[sale], work.young[sale]
        kept, then = work.left[sale + 1], work.tried_left[sale + 1]
        target = arrays.target[sale]
        sold, differs = np.int32(0), np.int32(0)
        for member in range(width):
            there = _there(left, come, young, now, before, old, member)
            goes = min(there, target)
            stays = np.int32(there - goes)
            then[member] = stays
            sold = np.int32(sold + goes)
            differs = np.int32(differs | (stays ^ kept[member]))
        more = np.int64(sold) - work.sold[sale]
        work.tried_sold[sale] = sold
        sold_more += more
        served += arrays.weight[sale] * more
        if certainty > 0.0:
            for member in range(members):
                there = _there(left, come, young, now, before, old, member)
                work.short[member] = np.int32(target - min(there, target))
            work.tried_sure[sale] = certainty * arrays.unit[0] * _worst(arrays, members, work.short)
            sure += work.tried_sure[sale] - work.sure[sale]
        before, left, reached = now, then, arrays.reach[sale]
        sale += 1
    work.booked[1] = sale
    # What was picked more and neither sold nor left has expired.
    expired = -sold_more
    for member in range(width):
        expired += np.int64(work.change[last, member])
    if sale == sales:
        for member in range(width):
            expired += np.int64(work.left[sales, member]) - np.int64(work.tried_left[sales, member])
    return sure + (arrays.prices[0] * expired - served) * arrays.unit[0] / members


@_joined
def _add_up(work):  # type: ignore[no-untyped-def]
    """Turn the change on each check day into the change up to that day."""
    width = work.change.shape[1]
    for check in range(work.changed[0] + 1, work.changed[1] + 1):
        before, now = work.change[check - 1], work.change[check]
        for member in range(width):
            now[member] = np.int32(now[member] + before[member])


@_joined
def _keep(arrays, work):  # type: ignore[no-untyped-def]
    """Take over what was booked."""
    width, last = work.change.shape[1], work.changed[1]
    before = work.none
    for sale in range(work.booked[0], work.booked[1]):
        now = work.change[min(arrays.reach[sale], last)]
        old = work.change[min(arrays.stale[sale], last)]
        come, young = work.come[sale], work.young[sale]
        left, then = work.left[sale + 1], work.tried_left[sale + 1]
        for member in range(width):
            come[member] = np.int32(come[member] + np.int32(now[member] - before[member]))
        for member in range(width):
            young[member] = np.int32(young[member] + np.int32(now[member] - old[member]))
        for member in range(width):
            left[member] = then[member]
        work.sold[sale] = work.tried_sold[sale]
        work.sure[sale] = work.tried_sure[sale]
        before = now


@_joined
def _forget(work):  # type: ignore[no-untyped-def]
    """Make the change nought again."""
    width = work.change.shape[1]
    for check in range(work.changed[0], work.changed[1] + 1):
        now = work.change[check]
        for member in range(width):
            now[member] = np.int32(0)
    work.changed[0], work.changed[1] = work.change.shape[0], -1


@_part
def _keep_best(work):  # type: ignore[no-untyped-def]
    work.value[1] = work.value[0]
    for stack in range(work.counts.shape[0]):
        work.best_counts[stack] = work.counts[stack]
        for step in range(work.counts[stack]):
            work.best_paths[stack, step] = work.paths[stack, step]


@_joined
def _try(arrays, work, members, moved, allowed):  # type: ignore[no-untyped-def]
    """Make the move that stands in `work` if it keeps the limits and costs no more than allowed."""
    handled = work.value[2]
    listed = _NOUGHT
    for place in range(moved):
        stack, new, size = work.stack[place], work.new[place], work.size[place]
        old, count = work.paths[stack], work.counts[stack]
        # What both paths have at the front or back need not be touched.
        front, back, least = 0, 0, min(count, size)
        while front < least and old[front] == new[front]:
            front += 1
        while front + back < least and old[count - 1 - back] == new[size - 1 - back]:
            back += 1
        work.front[place], work.back[place] = front, back
        listed = _list_rows(arrays, work, stack, old, count, front, count + 1 - back, listed)
        _occupy(arrays, work, stack, old, front, count - back, _OUT)
    gone = listed
    for place in range(moved):
        stack, new, size = work.stack[place], work.new[place], work.size[place]
        front, past = work.front[place], size - work.back[place]
        listed = _list_rows(arrays, work, stack, new, size, front, past + 1, listed)
        _occupy(arrays, work, stack, new, front, past, _IN)
    _fetch(arrays, work, listed)
    stands = True
    for place in range(moved):
        stack, past = work.stack[place], work.size[place] - work.back[place]
        stands = stands and _fits(arrays, work, stack, work.new[place], work.front[place], past)
    if stands:
        more = work.value[2] - handled
        for place in range(moved):
            stack = work.stack[place]
            more += _own_cost(arrays, stack, work.new[place], work.size[place])
            more -= _own_cost(arrays, stack, work.paths[stack], work.counts[stack])
        _add_rows(arrays, work, _NOUGHT, gone, _OUT)
        _add_rows(arrays, work, gone, listed, _IN)
        changed = work.changed[0] <= work.changed[1]
        if changed:
            _add_up(work)
            more += _book(arrays, work, members)
        stands = more < allowed
        if stands and changed:
            _keep(arrays, work)
        if changed:
            _forget(work)
    if stands:
        work.value[0] += more
        for place in range(moved):
            stack = work.stack[place]
            work.counts[stack] = work.size[place]
            for step in range(work.size[place]):
                work.paths[stack, step] = work.new[place, step]
        if work.value[0] < work.value[1] - LEAST_GAIN:
            _keep_best(work)
    else:
        for place in range(moved):
            stack, past = work.stack[place], work.size[place] - work.back[place]
            _occupy(arrays, work, stack, work.new[place], work.front[place], past, _OUT)
        for place in range(moved):
            stack = work.stack[place]
            past = work.counts[stack] - work.back[place]
            _occupy(arrays, work, stack, work.paths[stack], work.front[place], past, _IN)
        work.value[2] = handled
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


@_joined
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


@_joined
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
        k = path[step] + _draw(work, 2 * FAR) - FAR
        if k >= path[step]:
            k += 1
        if k < 0 or k >= days:
            return False
        work.size[0] = _add_soak(arrays, stack, path, count, step, k, new)
    else:
        work.size[0] = _drop_soak(arrays, stack, path, count, _draw(work, count), new)
    return work.size[0] >= 0


@_joined
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


@_joined
def _begin(arrays, work, members):  # type: ignore[no-untyped-def]
    """Reckon the plan in `work.paths`."""
    for night in range(work.tank.shape[0]):
        work.tank[night], work.hours[night] = arrays.tank[night], arrays.hours[night]
        work.fruiting[night] = arrays.fruiting[night]
    value = 0.0
    work.value[2] = 0.0
    for visit in range(work.visits.shape[0]):
        for day in range(work.visits.shape[1]):
            work.visits[visit, day] = 0
    # Nothing has come and all goes short; then the stock and all paths change that.
    for sale in range(arrays.target.shape[0]):
        target = arrays.target[sale] * arrays.unit[0]
        work.sure[sale] = arrays.prices[1] * target
        value += arrays.weight[sale] * target + work.sure[sale]
        work.sold[sale] = 0
        for member in range(work.left.shape[1]):
            work.come[sale, member] = work.young[sale, member] = np.int32(0)
            work.left[sale, member] = work.left[sale + 1, member] = np.int32(0)
    for check in range(work.change.shape[0]):
        for member in range(members):
            kg = arrays.stock[check] - (arrays.stock[check - 1] if check else 0.0)
            work.change[check, member] = np.int32(kg * arrays.unit[1] + 0.5)
    for stack in range(work.counts.shape[0]):
        path, count = work.paths[stack], work.counts[stack]
        _occupy(arrays, work, stack, path, _NOUGHT, count, _IN)
        value += _own_cost(arrays, stack, path, count)
        listed = _list_rows(arrays, work, stack, path, count, _NOUGHT, count + 1, _NOUGHT)
        _add_rows(arrays, work, _NOUGHT, listed, _IN)
    work.changed[0], work.changed[1] = 0, work.change.shape[0] - 1
    _add_up(work)
    value += _book(arrays, work, members) + work.value[2]
    _keep(arrays, work)
    _forget(work)
    work.value[0] = value
    if work.value[0] < work.value[1] - LEAST_GAIN:
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
