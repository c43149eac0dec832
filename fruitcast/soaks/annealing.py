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

FAR = 2
"""Soak days by which a soak is moved at most when it is nudged."""

LEAST_GAIN = 1e-9
"""Less than this is no gain but the noise of adding up. [kg]"""

# A function is compiled once for each plain number that it is called with, but not for these.
_NOUGHT, _NONE, _ONE, _TWO = np.int64(0), np.int64(-1), np.int64(1), np.int64(2)
_IN, _OUT = _ONE, _NONE

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
def _draw(random, below):  # type: ignore[no-untyped-def]
    """Return a whole number from 0 to below `below` by chance (xorshift)."""
    x = random[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    random[0] = x
    return (np.int64(x >> np.uint64(33)) * below) >> 31


@_part
def _occupy(room, stack, path, first, past, sign):  # type: ignore[no-untyped-def]
    kind, logs = room.kind[stack], sign * room.logs[stack]
    for step in range(first, past):
        day, pull = room.soak_day[path[step]], room.pull_day[kind, path[step]]
        visit = room.visit[stack]
        beside = room.visits[visit, path[step]]
        room.visits[visit, path[step]] = beside + sign
        if beside == 0 or beside + sign == 0:
            room.value[2] += sign * room.handling[stack]
        for night in range(day, pull):
            room.tank[night] += logs
        for standing in range(pull, room.clear_day[kind, path[step]]):
            room.fruiting[standing] += logs
        room.hours[day] += logs * room.limits[2]
        room.hours[pull] += logs * room.limits[3]


@_part
def _fits(room, stack, path, first, past):  # type: ignore[no-untyped-def]
    kind = room.kind[stack]
    for step in range(first, past):
        day, pull = room.soak_day[path[step]], room.pull_day[kind, path[step]]
        for night in range(day, pull):
            if room.tank[night] > room.limits[0]:
                return False
        for standing in range(pull, room.clear_day[kind, path[step]]):
            if room.fruiting[standing] > room.limits[1]:
                return False
        if room.hours[day] > room.hours_on[day] or room.hours[pull] > room.hours_on[pull]:
            return False
    return True


@_part
def _row(rows, stack, path, count, step):  # type: ignore[no-untyped-def]
    """Return a row of a path: its first arc, inner arcs, and what follows the last soak."""
    if step == 0:
        return rows.start_row[stack, path[0] if count else rows.start_row.shape[1] - 1]
    if step == count:
        return rows.end_row[rows.kind[stack], path[step - 1]]
    return rows.arc_row[rows.kind[stack], path[step - 1], path[step]]


@_part
def _list_rows(rows, stack, path, count, first, past, listed):  # type: ignore[no-untyped-def]
    """List some rows of a path behind those listed; return how many are then."""
    for step in range(first, past):
        rows.listed[listed] = _row(rows, stack, path, count, step)
        rows.units[listed] = rows.unit[1] * (rows.effective_logs[stack] if step else 1.0)
        listed = listed + 1
    return listed


@_part
def _fetch(rows, listed):  # type: ignore[no-untyped-def]
    """Look at all rows listed: memory brings them side by side then, not one after the other."""
    seen = _NOUGHT
    for place in range(listed):
        row = rows.row[rows.listed[place]]
        for entry in range(np.uint64(row[0]), np.uint64(row[1]), np.uint64(16)):
            seen += np.int64(rows.cell[entry]) + np.int64(rows.kg[entry])
    rows.seen[0] = seen


@_part
def _add_rows(rows, first, past, sign):  # type: ignore[no-untyped-def]
    """Add some rows listed to the change, and widen the check days changed."""
    for place in range(first, past):
        row, units = rows.row[rows.listed[place]], rows.units[place]
        for entry in range(np.uint64(row[0]), np.uint64(row[1])):
            kg = np.int32(rows.kg[entry] * units + np.float32(0.5))
            cell = rows.cell[entry]
            rows.cells[cell] = np.int32(rows.cells[cell] + np.int32(sign * kg))
        rows.changed[0] = min(rows.changed[0], np.int64(row[2]))
        rows.changed[1] = max(rows.changed[1], np.int64(row[3]))


@_part
def _own_cost(plan, stack, path, count):  # type: ignore[no-untyped-def]
    never = plan.start_cost.shape[1] - 1
    return (
        plan.soak_cost[stack] * count
        + plan.start_cost[stack, path[0] if count else never]
        + plan.end_cost[stack, path[count - 1] if count else never]
    )


@_part
def _worst(ledger, members, short):  # type: ignore[no-untyped-def]
    """Return the mean of the largest shortfalls over the worst share of members."""
    worst = ledger.prices[2] * members
    total = 0.0
    for place in range(members):
        if place >= worst:
            break
        most = place
        for other in range(place + 1, members):
            if short[other] > short[most]:
                most = other
        held, short[most] = short[most], short[place]
        total += held * min(worst - place, 1.0)
    return total / worst if worst > 0.0 else 0.0


@_part
def _there(left, come, young, now, before, old, member):  # type: ignore[no-untyped-def]
    """Return what there is to sell: what was left and has come, less what is too old."""
    there = np.int32(np.int32(left[member] + come[member]) + np.int32(now[member] - before[member]))
    return min(there, np.int32(young[member] + np.int32(now[member] - old[member])))


@_joined
def _book(ledger, members):  # type: ignore[no-untyped-def]
    """Book the sales that a change makes others; return what all sales cost more. [kg]

    They are others as long as what has come changes, or what the sale before leaves.
    """
    first, last = ledger.changed[0], ledger.changed[1]
    width, sales = ledger.left.shape[1], ledger.target.shape[0]
    certainty = ledger.prices[1]
    sale = ledger.first_sale[first]
    ledger.booked[0] = sale
    before, left = ledger.none, ledger.left[sale]
    differs, reached = np.int32(0), _NONE
    sold_more, served, sure = _NOUGHT, 0.0, 0.0
    while sale < sales and (differs != 0 or min(reached, ledger.stale[sale]) < last):
        now = ledger.change[min(ledger.reach[sale], last)]
        old = ledger.change[min(ledger.stale[sale], last)]
        come, young = ledger.come[sale], ledger.young[sale]
        kept, then = ledger.left[sale + 1], ledger.tried_left[sale + 1]
        target = ledger.target[sale]
        sold, differs = np.int32(0), np.int32(0)
        for member in range(width):
            there = _there(left, come, young, now, before, old, member)
            goes = min(there, target)
            stays = np.int32(there - goes)
            then[member] = stays
            sold = np.int32(sold + goes)
            differs = np.int32(differs | (stays ^ kept[member]))
        more = np.int64(sold) - ledger.sold[sale]
        ledger.tried_sold[sale] = sold
        sold_more += more
        served += ledger.weight[sale] * more
        if certainty > 0.0:
            for member in range(members):
                there = _there(left, come, young, now, before, old, member)
                ledger.short[member] = np.int32(target - min(there, target))
            ledger.tried_sure[sale] = (
                certainty * ledger.unit[0] * _worst(ledger, members, ledger.short)
            )
            sure += ledger.tried_sure[sale] - ledger.sure[sale]
        before, left, reached = now, then, ledger.reach[sale]
        sale += 1
    ledger.booked[1] = sale
    # What was picked more and neither sold nor left has expired.
    expired = -sold_more
    for member in range(width):
        expired += np.int64(ledger.change[last, member])
    if sale == sales:
        for member in range(width):
            expired += np.int64(ledger.left[sales, member]) - np.int64(
                ledger.tried_left[sales, member]
            )
    return sure + (ledger.prices[0] * expired - served) * ledger.unit[0] / members


@_joined
def _add_up(ledger):  # type: ignore[no-untyped-def]
    """Turn the change on each check day into the change up to that day."""
    width = ledger.change.shape[1]
    for check in range(ledger.changed[0] + 1, ledger.changed[1] + 1):
        before, now = ledger.change[check - 1], ledger.change[check]
        for member in range(width):
            now[member] = np.int32(now[member] + before[member])


@_joined
def _keep(ledger):  # type: ignore[no-untyped-def]
    """Take over what was booked."""
    width, last = ledger.change.shape[1], ledger.changed[1]
    before = ledger.none
    for sale in range(ledger.booked[0], ledger.booked[1]):
        now = ledger.change[min(ledger.reach[sale], last)]
        old = ledger.change[min(ledger.stale[sale], last)]
        come, young = ledger.come[sale], ledger.young[sale]
        left, then = ledger.left[sale + 1], ledger.tried_left[sale + 1]
        for member in range(width):
            come[member] = np.int32(come[member] + np.int32(now[member] - before[member]))
        for member in range(width):
            young[member] = np.int32(young[member] + np.int32(now[member] - old[member]))
        for member in range(width):
            left[member] = then[member]
        ledger.sold[sale] = ledger.tried_sold[sale]
        ledger.sure[sale] = ledger.tried_sure[sale]
        before = now


@_joined
def _forget(ledger):  # type: ignore[no-untyped-def]
    """Make the change nought again."""
    width = ledger.change.shape[1]
    for check in range(ledger.changed[0], ledger.changed[1] + 1):
        now = ledger.change[check]
        for member in range(width):
            now[member] = np.int32(0)
    ledger.changed[0], ledger.changed[1] = ledger.change.shape[0], -1


@_part
def _keep_best(plan):  # type: ignore[no-untyped-def]
    plan.value[1] = plan.value[0]
    for stack in range(plan.counts.shape[0]):
        plan.best_counts[stack] = plan.counts[stack]
        for step in range(plan.counts[stack]):
            plan.best_paths[stack, step] = plan.paths[stack, step]


@_joined
def _try(plan, room, rows, ledger, members, moved, allowed):  # type: ignore[no-untyped-def]
    """Make the move written if it keeps the limits and costs no more than allowed.

    No stack moved is the plan's beginning: what `_begin` has written is booked.
    """
    handled = plan.value[2] if moved else 0.0
    listed = _NOUGHT
    for place in range(moved):
        stack, new, size = plan.stack[place], plan.new[place], plan.size[place]
        old, count = plan.paths[stack], plan.counts[stack]
        # What both paths have at the front or back need not be touched.
        front, back, least = 0, 0, min(count, size)
        while front < least and old[front] == new[front]:
            front += 1
        while front + back < least and old[count - 1 - back] == new[size - 1 - back]:
            back += 1
        plan.front[place], plan.back[place] = front, back
        listed = _list_rows(rows, stack, old, count, front, count + 1 - back, listed)
        _occupy(room, stack, old, front, count - back, _OUT)
    gone = listed
    for place in range(moved):
        stack, new, size = plan.stack[place], plan.new[place], plan.size[place]
        front, past = plan.front[place], size - plan.back[place]
        listed = _list_rows(rows, stack, new, size, front, past + 1, listed)
        _occupy(room, stack, new, front, past, _IN)
    _fetch(rows, listed)
    stands = True
    for place in range(moved):
        stack, past = plan.stack[place], plan.size[place] - plan.back[place]
        stands = stands and _fits(room, stack, plan.new[place], plan.front[place], past)
    if stands:
        more = plan.value[2] - handled
        for place in range(moved):
            stack = plan.stack[place]
            more += _own_cost(plan, stack, plan.new[place], plan.size[place])
            more -= _own_cost(plan, stack, plan.paths[stack], plan.counts[stack])
        _add_rows(rows, _NOUGHT, gone, _OUT)
        _add_rows(rows, gone, listed, _IN)
        changed = rows.changed[0] <= rows.changed[1]
        if changed:
            _add_up(ledger)
            more += _book(ledger, members)
        stands = more < allowed
        if stands and changed:
            _keep(ledger)
        if changed:
            _forget(ledger)
    if stands:
        plan.value[0] += more
        for place in range(moved):
            stack = plan.stack[place]
            plan.counts[stack] = plan.size[place]
            for step in range(plan.size[place]):
                plan.paths[stack, step] = plan.new[place, step]
        if plan.value[0] < plan.value[1] - LEAST_GAIN:
            _keep_best(plan)
    else:
        for place in range(moved):
            stack, past = plan.stack[place], plan.size[place] - plan.back[place]
            _occupy(room, stack, plan.new[place], plan.front[place], past, _OUT)
        for place in range(moved):
            stack = plan.stack[place]
            past = plan.counts[stack] - plan.back[place]
            _occupy(room, stack, plan.paths[stack], plan.front[place], past, _IN)
        plan.value[2] = handled
    return stands


@_part
def _add_soak(plan, stack, path, count, skip, k, new):  # type: ignore[no-untyped-def]
    """Write the path with a soak on day `k`, without soak number `skip` (-1: none).

    Soaks too near to it go. Returns how many there are then, -1 when the stack can't.
    """
    kind = plan.kind[stack]
    before = -1
    for step in range(count):
        if step != skip and path[step] == k:
            return -1
        if step != skip and path[step] < k and plan.arc_row[kind, path[step], k] >= 0:
            before = step
    size = 0
    for step in range(before + 1):
        if step != skip:
            new[size] = path[step]
            size += 1
    new[size] = k
    size += 1
    for step in range(before + 1, count):
        if step != skip and path[step] > k and plan.arc_row[kind, new[size - 1], path[step]] >= 0:
            new[size] = path[step]
            size += 1
    return size if _is_path(plan, stack, new, size) else -1


@_part
def _is_path(plan, stack, path, count):  # type: ignore[no-untyped-def]
    if count and plan.start_row[stack, path[0]] < 0:
        return False
    for step in range(1, count):
        if plan.arc_row[plan.kind[stack], path[step - 1], path[step]] < 0:
            return False
    return True


@_part
def _drop_soak(plan, stack, path, count, gap, new):  # type: ignore[no-untyped-def]
    """Write the path without one soak, and without later ones that have no arc then."""
    size = gap
    for step in range(gap):
        new[step] = path[step]
    for step in range(gap + 1, count):
        new[size] = path[step]
        if _is_path(plan, stack, new, size + 1):
            size += 1
    return size


@_part
def _shift_soaks(plan, stack, path, count, first, by, new):  # type: ignore[no-untyped-def]
    """Write the path with its soaks from number `first` on so many soak days later.

    Soaks beyond the last day go. Returns how many there are then, -1 when the stack can't.
    """
    size = _NOUGHT
    for step in range(count):
        k = path[step] + by if step >= first else path[step]
        if k < 0:
            return _NONE
        if k < plan.start_row.shape[1] - 1:
            new[size] = k
            size += 1
    return size if _is_path(plan, stack, new, size) else _NONE


@_part
def _cross_over(plan, stack, path, count, k, other, others, new):  # type: ignore[no-untyped-def]
    """Write the path until day `k`, and the other one from then on.

    Returns how many soaks there are then, -1 when the stack can't.
    """
    size = _NOUGHT
    for step in range(count):
        if path[step] < k:
            new[size] = path[step]
            size += 1
    for step in range(others):
        if other[step] >= k:
            if size == new.shape[0]:
                return _NONE
            new[size] = other[step]
            size += 1
    return size if _is_path(plan, stack, new, size) else _NONE


@_joined
def _propose_pair(plan, free):  # type: ignore[no-untyped-def]
    """Write a move of two stacks: one takes a soak day of the other's, or all from some day on."""
    days, frees = plan.start_row.shape[1] - 1, free.shape[0]
    one, other = _draw(plan.random, frees), _draw(plan.random, frees - 1)
    a, b = free[one], free[other + 1 if other >= one else other]
    plan.stack[0], plan.stack[1] = a, b
    if plan.counts[a] == 0:
        return False
    soaks, others = plan.counts[a], plan.counts[b]
    if _draw(plan.random, 2) == 0:
        k, path, other = _draw(plan.random, days), plan.paths[a], plan.paths[b]
        plan.size[0] = _cross_over(plan, a, path, soaks, k, other, others, plan.new[0])
        plan.size[1] = _cross_over(plan, b, other, others, k, path, soaks, plan.new[1])
        return plan.size[0] >= 0 and plan.size[1] >= 0
    gap = _draw(plan.random, soaks)
    k = plan.paths[a, gap]
    way = _draw(plan.random, 3)
    j, skip = _NONE, _NONE
    if way == 1 and plan.counts[b] > 0:
        skip = _draw(plan.random, plan.counts[b])
        j = plan.paths[b, skip]
    elif way > 0:
        j = _draw(plan.random, days)
    if j < 0:
        plan.size[0] = _drop_soak(plan, a, plan.paths[a], plan.counts[a], gap, plan.new[0])
    else:
        plan.size[0] = _add_soak(plan, a, plan.paths[a], plan.counts[a], gap, j, plan.new[0])
    plan.size[1] = _add_soak(plan, b, plan.paths[b], plan.counts[b], skip, k, plan.new[1])
    return plan.size[0] >= 0 and plan.size[1] >= 0


@_part
def _nudge(plan):  # type: ignore[no-untyped-def]
    """Return by how many soak days to move something, by chance."""
    by = _draw(plan.random, 2 * FAR) - FAR
    return by + 1 if by >= 0 else by


@_joined
def _propose(plan, free):  # type: ignore[no-untyped-def]
    """Write a move of one stack."""
    days = plan.start_row.shape[1] - 1
    stack = free[_draw(plan.random, free.shape[0])]
    plan.stack[0] = stack
    path, count, new = plan.paths[stack], plan.counts[stack], plan.new[0]
    if _draw(plan.random, 4) == 0:
        # Lots of one stack stand side by side, and going in together saves a visit.
        lot = stack + 2 * _draw(plan.random, 2) - 1
        beside = 0 <= lot < plan.visit.shape[0] and plan.visit[lot] == plan.visit[stack]
        if beside and plan.counts[lot] > 0:
            k = plan.paths[lot, _draw(plan.random, plan.counts[lot])]
            plan.size[0] = _add_soak(plan, stack, path, count, _NONE, k, new)
            return plan.size[0] >= 0
    way = _draw(plan.random, 14)
    if way == 7 and count > 0:
        plan.size[0] = _drop_soak(plan, stack, path, count, _draw(plan.random, count), new)
        return plan.size[0] >= 0
    if way > 7 and count > 1:
        first, by = _draw(plan.random, count), _nudge(plan)
        plan.size[0] = _shift_soaks(plan, stack, path, count, first, by, new)
        return plan.size[0] >= 0
    skip = _NONE
    if way < 4 or count == 0:
        k = _draw(plan.random, days)
    else:
        skip = _draw(plan.random, count)
        k = path[skip] + _nudge(plan)
        if k < 0 or k >= days:
            return False
    plan.size[0] = _add_soak(plan, stack, path, count, skip, k, new)
    return plan.size[0] >= 0


@_joined
def _neighbour(plan, free):  # type: ignore[no-untyped-def]
    """Write the change of one stack that the cursor is at, and move it on."""
    place, turn, k = plan.cursor[0], plan.cursor[1], plan.cursor[2]
    stack, new = free[place], plan.new[0]
    path, count = plan.paths[stack], plan.counts[stack]
    plan.stack[0] = stack
    plan.size[0] = -1
    if turn < count:
        if k >= 0:
            plan.size[0] = _add_soak(plan, stack, path, count, turn, k, new)
        elif turn >= 0:
            plan.size[0] = _drop_soak(plan, stack, path, count, turn, new)
    plan.cursor[2] += 1
    if plan.cursor[2] == plan.start_row.shape[1] - 1:
        plan.cursor[1] += 1
        plan.cursor[2] = -1
        if plan.cursor[1] >= count:
            plan.cursor[0] = place + 1 if place + 1 < free.shape[0] else 0
            plan.cursor[1] = -1
            plan.cursor[3] += 1
    return plan.size[0] >= 0


@_joined
def _begin(plan, room, rows, ledger, members):  # type: ignore[no-untyped-def]
    """Write the plan in `plan.paths` as a change of a yard that sells nothing, to be booked."""
    for night in range(room.tank.shape[0]):
        room.tank[night], room.hours[night] = room.tank_begun[night], room.hours_begun[night]
        room.fruiting[night] = room.fruiting_begun[night]
    value = plan.value[2] = 0.0
    for visit in range(room.visits.shape[0]):
        for day in range(room.visits.shape[1]):
            room.visits[visit, day] = 0
    # Nothing has come and all goes short; then the stock and all paths change that.
    for sale in range(ledger.target.shape[0]):
        target = ledger.target[sale] * rows.unit[0]
        ledger.sure[sale] = ledger.prices[1] * target
        value += ledger.weight[sale] * target + ledger.sure[sale]
        ledger.sold[sale] = 0
        for member in range(ledger.left.shape[1]):
            ledger.come[sale, member] = ledger.young[sale, member] = np.int32(0)
            ledger.left[sale, member] = ledger.left[sale + 1, member] = np.int32(0)
    for check in range(ledger.change.shape[0]):
        for member in range(members):
            kg = ledger.stock[check] - (ledger.stock[check - 1] if check else 0.0)
            ledger.change[check, member] = np.int32(kg * rows.unit[1] + 0.5)
    for stack in range(plan.counts.shape[0]):
        path, count = plan.paths[stack], plan.counts[stack]
        _occupy(room, stack, path, _NOUGHT, count, _IN)
        value += _own_cost(plan, stack, path, count)
        listed = _list_rows(rows, stack, path, count, _NOUGHT, count + 1, _NOUGHT)
        _add_rows(rows, _NOUGHT, listed, _IN)
    rows.changed[0], rows.changed[1] = 0, ledger.change.shape[0] - 1
    plan.value[0] = value


def search(plan, room, rows, ledger, members, free, chances, first, past, moves, allowance):  # type: ignore[no-untyped-def]
    """Try moves by chance with less and less allowance, or else every single one until none gains.

    Parameters
    ----------
    plan, room, rows, ledger : PathsTried, RoomTaken, RowsListed, SalesBooked
        The parts of `Work`.
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
    _begin(plan, room, rows, ledger, members)
    # First the plan as it is, without a move: what is called in one place is compiled once.
    number, moved, allowed = first, _NOUGHT, np.inf
    while True:
        if moved >= 0 and _try(plan, room, rows, ledger, members, moved, allowed):
            plan.cursor[3] = 0
        if not (number < past if moves > 0 else plan.cursor[3] < free.shape[0]):
            break
        moved, allowed = _ONE, -LEAST_GAIN
        if moves > 0:
            cool = 1.0 - number / moves
            allowed = allowance * cool * cool * chances[_draw(plan.random, chances.shape[0])]
            number += 1
            if free.shape[0] > 1 and _draw(plan.random, 2) == 0:
                moved = _TWO if _propose_pair(plan, free) else _NONE
            elif not _propose(plan, free):
                moved = _NONE
        elif not _neighbour(plan, free):
            moved = _NONE
