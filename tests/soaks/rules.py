"""The same independent judge for a published plan: yard, diary and the plan's JSON alone.

Nothing is taken from the planner but the document it printed. What needs weather (spawn
run, allowance, expected crops) can't be seen from here and is left to `judge`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import ceil, isfinite
from typing import Any

from fruitcast.diary.state import StackState, YardState
from fruitcast.numbers import default_numbers
from fruitcast.topics import DiaryNumbers
from fruitcast.yard.model import Outlet, Yard
from tests.soaks.judge import Violation

TOLERANCE = 1e-6


@dataclass(frozen=True)
class PlannedSoak:
    """One soak of the document, or one still in the tank. Days from `on` to before `pull_on`."""

    stack: str
    logs: int
    on: date
    pull_on: date
    planned: bool = True


def judge_published(
    yard: Yard, state: YardState, plan: Mapping[str, Any], today: date
) -> list[Violation]:
    """Return every hard rule that a published plan breaks, in words.

    Parameters
    ----------
    yard : Yard
        The yard the plan was made for.
    state : YardState
        What the diary said on that day.
    plan : mapping
        The document that 'plan --json' prints.
    today : date
        The day the plan was made.
    """
    try:
        planned = [_planned(soak) for soak in plan["soaks"]]
        return [
            *_dates(yard, plan, planned, today),
            *_covered(state, plan, planned),
            *_rest(yard, state, planned),
            *_lots(yard, state, planned),
            *_tank(yard, state, planned, today),
            *_places(yard, plan),
            *_summer(yard, state, planned),
            *_hours(yard, state, planned, today),
            *_soak_details(plan),
            *_outlets(yard, plan, today),
            *_objective(plan),
        ]
    except (KeyError, TypeError, ValueError) as error:
        return [Violation("format", None, None, f"the document can't be read: {error!r}")]


def _planned(soak: Mapping[str, Any]) -> PlannedSoak:
    return PlannedSoak(
        stack=soak["stack"],
        logs=soak["logs"],
        on=date.fromisoformat(soak["soak_on"]),
        pull_on=date.fromisoformat(soak["pull_on"]),
    )


def _nights(hours: float) -> int:
    """Return the mornings from the soak to the first one after the hours are full."""
    return max(1, ceil(hours / 24 - TOLERANCE))


def _dates(
    yard: Yard, plan: Mapping[str, Any], planned: Sequence[PlannedSoak], today: date
) -> Iterator[Violation]:
    """Soak days, season, days away, horizon, and the pull that follows from the hours."""
    if plan["today"] != today.isoformat():
        yield Violation("today", None, today, f"the plan says it was made on {plan['today']}")
    past = today + timedelta(weeks=plan["weeks"])
    for soak, entry in zip(planned, plan["soaks"], strict=True):
        if soak.on.weekday() not in yard.soaking.days:
            message = f"soaked on a {soak.on:%A}, which is no soak day"
            yield Violation("soak day", soak.stack, soak.on, message)
        if not today <= soak.on < past:
            message = f"soaked outside the horizon {today} to {past}"
            yield Violation("horizon", soak.stack, soak.on, message)
        first, last = yard.soaking.first, yard.soaking.last
        if not _in_season(soak.on, first, last):
            message = f"soaked outside the season {first} to {last}"
            yield Violation("season", soak.stack, soak.on, message)
        for away in yard.away:
            for what, day in (("soaked", soak.on), ("pulled", soak.pull_on)):
                if _in_season(day, away.first, away.last):
                    message = f"{what} while away from {away.first} to {away.last}"
                    yield Violation("away", soak.stack, day, message)
        nights = (soak.pull_on - soak.on).days
        if nights != _nights(entry["hours"]):
            message = f"pulled after {nights} days, but {entry['hours']:g} hours are full after "
            message += f"{_nights(entry['hours'])}"
            yield Violation("pull", soak.stack, soak.on, message)


def _summer(yard: Yard, state: YardState, planned: Sequence[PlannedSoak]) -> Iterator[Violation]:
    """Cold-weather logs are not soaked in the summer of their hemisphere."""
    months = (6, 7, 8) if yard.site.latitude >= 0 else (12, 1, 2)
    cold = {stack.name for stack in yard.stacks if stack.strain_class == "cold-weather"}
    for soak in planned:
        if state.lot_of.get(soak.stack, soak.stack) in cold and soak.on.month in months:
            yield Violation("summer", soak.stack, soak.on, "cold-weather logs soaked in summer")


def _in_season(
    day: date, first: date | tuple[int, int] | None, last: date | tuple[int, int] | None
) -> bool:
    """Return whether a day lies between two ends, each a date or a month and day of any year."""
    if isinstance(first, date) and day < first:
        return False
    if isinstance(last, date) and day > last:
        return False
    opens: tuple[int, ...] = first if isinstance(first, tuple) else (1, 1)
    closes: tuple[int, ...] = last if isinstance(last, tuple) else (12, 31)
    of_year = (day.month, day.day)
    if opens <= closes:
        return opens <= of_year <= closes
    return of_year >= opens or of_year <= closes


def _covered(
    state: YardState, plan: Mapping[str, Any], planned: Sequence[PlannedSoak]
) -> Iterator[Violation]:
    """Every living stack is soaked or has its reason why not; no stranger is listed."""
    soaked = {soak.stack for soak in planned}
    listed = Counter(entry["stack"] for entry in plan["not_soaked"])
    for name in sorted(soaked | set(listed) | set(state.stacks)):
        known = state.stacks.get(name)
        times = (name in soaked) + listed[name]
        if known is None:
            yield Violation("stack", name, None, "is not in the yard")
        elif times > 1:
            yield Violation("stack", name, None, "stands in soaks and in not_soaked, or twice")
        elif times == 0 and known.logs > 0:
            yield Violation("stack", name, None, "is neither in soaks nor in not_soaked")
    for entry in plan["not_soaked"]:
        if not entry["reason"]:
            yield Violation("reason", entry["stack"], None, "isn't soaked, but no reason is given")
    for soak in planned:
        logs = state.stacks[soak.stack].logs if soak.stack in state.stacks else soak.logs
        if soak.logs != logs or logs <= 0:
            message = f"{soak.logs} logs soaked of {logs} living"
            yield Violation("logs", soak.stack, soak.on, message)


def _rest(yard: Yard, state: YardState, planned: Sequence[PlannedSoak]) -> Iterator[Violation]:
    """First year, rest from soak to soak and from a natural flush, pins, logs in the tank."""
    numbers = default_numbers().with_overrides(yard.numbers)
    rest = numbers.schedule.rest_days
    flush_rest = numbers.natural.soak_rest_days
    first_year = numbers.forced.first_after_days
    inoculated = {stack.name: stack.inoculated for stack in yard.stacks}
    by_stack: dict[str, list[date]] = defaultdict(list)
    for soak in planned:
        by_stack[soak.stack].append(soak.on)
    for name, days in by_stack.items():
        known = state.stacks.get(name)
        if known is None:
            continue
        row = state.lot_of.get(name, name)
        for day in days:
            age = (day - inoculated[row]).days
            if age < first_year:
                message = f"soaked {age} days after inoculation, {first_year:g} needed"
                yield Violation("first year", name, day, message)
        done = sorted([soak.on for soak in known.soaks] + days)
        for before, after in pairwise(done):
            gap = (after - before).days
            if gap < rest and after in days:
                message = f"soaked {gap} days after the soak of {before}, {rest:g} needed"
                yield Violation("rest", name, after, message)
        for words, picked in _natural_flushes(known, numbers.diary):
            gap = (min(days) - picked).days
            if gap < flush_rest:
                message = f"soaked {gap} days after {words} of {picked}, {flush_rest:g} needed"
                yield Violation("flush", name, min(days), message)


def _natural_flushes(stack: StackState, diary: DiaryNumbers) -> Iterator[tuple[str, date]]:
    """Yield words and the earliest day of the first pick of the latest natural flush."""
    natural = [pick.on for pick in stack.picks if pick.kind == "natural"]
    if natural:
        first = natural[-1]
        for day in reversed(natural):
            if (first - day).days > diary.flush_days:
                break
            first = day
        yield "the first pick of the natural flush", first
    window = timedelta(days=int(diary.forced_pick_days))
    for words, seen in (("the pins", stack.pins_on), ("the flush seen", stack.fruiting_on)):
        if seen is None:
            continue
        forced = any(s.on <= seen <= (s.pulled_on or s.on) + window for s in stack.soaks)
        if not forced:
            yield words, seen


def _lots(yard: Yard, state: YardState, planned: Sequence[PlannedSoak]) -> Iterator[Violation]:
    """No lot is larger than the tank; lots that the tank makes are few, equal within one log."""
    tank = yard.soaking.tank_logs
    for soak in planned:
        if soak.logs > tank:
            message = f"{soak.logs} logs in one lot, the tank holds {tank}"
            yield Violation("lot", soak.stack, soak.on, message)
    inoculated = {stack.name: stack.logs for stack in yard.stacks}
    lots: dict[str, list[int]] = defaultdict(list)
    for name, stack in state.stacks.items():
        lots[state.lot_of.get(name, name)].append(stack.logs)
    at_once = yard.logs_at_once
    for row, sizes in lots.items():
        untouched = sum(sizes) == inoculated.get(row)  # deaths since leave lots uneven
        taken = any(state.lot_of.get(name, name) == row for name in state.accepted)
        if not untouched or taken:
            continue
        if len(sizes) != ceil(sum(sizes) / at_once) or max(sizes) - min(sizes) > 1:
            message = f"{sum(sizes)} logs in lots of {sizes}, {at_once} may be soaked at once"
            yield Violation("lot", row, None, message)


def _in_tank(state: YardState, today: date) -> Iterator[PlannedSoak]:
    """Yield the recorded soaks that still hold places in the tank."""
    for name, stack in state.stacks.items():
        for soak in stack.soaks:
            pull = soak.on + timedelta(days=_nights(soak.hours or 24.0))
            if soak.pulled_on is None and pull > today:
                yield PlannedSoak(name, soak.logs, soak.on, pull, planned=False)


def _tank(
    yard: Yard, state: YardState, planned: Sequence[PlannedSoak], today: date
) -> Iterator[Violation]:
    soaks = [*planned, *_in_tank(state, today)]
    for day in _days(planned):
        held = [soak for soak in soaks if soak.on <= day < soak.pull_on]
        logs = sum(soak.logs for soak in held)
        if logs > yard.soaking.tank_logs and any(soak.planned for soak in held):
            names = ", ".join(soak.stack for soak in held)
            message = f"{logs} logs in a tank for {yard.soaking.tank_logs} ({names})"
            yield Violation("tank", None, day, message)


def _places(yard: Yard, plan: Mapping[str, Any]) -> Iterator[Violation]:
    """No more logs fruit on a day with a planned soak's logs than there are places."""
    if yard.fruiting.places is None:
        return
    stays = [
        (
            date.fromisoformat(soak["pull_on"]),
            date.fromisoformat(soak["clear_on"]),
            soak["logs"],
            soak in plan["soaks"],
        )
        for soak in [*plan["soaks"], *plan["under_way"]]
    ]
    for pull, clear, logs, planned in stays:
        if planned and not pull < clear:
            yield Violation("places", None, pull, f"{logs} logs stand nowhere after their pull")
    days = {
        pull + timedelta(days=n)
        for pull, clear, _, mine in stays
        if mine
        for n in range((clear - pull).days)
    }
    for day in sorted(days):
        there = sum(logs for pull, clear, logs, _ in stays if pull <= day < clear)
        if there > yard.fruiting.places:
            message = f"{there} logs fruit where {yard.fruiting.places} can stand"
            yield Violation("places", None, day, message)


def _hours(
    yard: Yard, state: YardState, planned: Sequence[PlannedSoak], today: date
) -> Iterator[Violation]:
    allowed = yard.soaking.hours_a_day
    if allowed is None:
        return
    numbers = default_numbers().with_overrides(yard.numbers)
    soak_hours, pull_hours = numbers.work.soak_hours_per_log, numbers.work.pull_hours_per_log
    soaks = [*planned, *_in_tank(state, today)]
    for day in _days(planned):
        work = sum(soak.logs for soak in soaks if soak.on == day and soak.planned) * soak_hours
        work += sum(soak.logs for soak in soaks if soak.pull_on == day) * pull_hours
        busy = any(soak.planned and day in (soak.on, soak.pull_on) for soak in soaks)
        today_s = allowed[day.weekday()] if isinstance(allowed, tuple) else allowed
        if busy and work > today_s + TOLERANCE:
            message = f"{work:.2f} hours of soaking and pulling, {today_s:g} allowed"
            yield Violation("hours", None, day, message)


def _days(planned: Iterable[PlannedSoak]) -> list[date]:
    days: set[date] = set()
    for soak in planned:
        days |= {soak.on + timedelta(days=n) for n in range((soak.pull_on - soak.on).days + 1)}
    return sorted(days)


def _soak_details(plan: Mapping[str, Any]) -> Iterator[Violation]:
    """Pick quantiles in order and after the pull, no negative crop, a reason for each soak."""
    for entry in plan["soaks"]:
        name, on = entry["stack"], date.fromisoformat(entry["soak_on"])
        quantiles = [date.fromisoformat(entry["pick"][key]) for key in ("p10", "p50", "p90")]
        pull = date.fromisoformat(entry["pull_on"])
        if sorted(quantiles) != quantiles or quantiles[0] < pull:
            message = f"picks on {[str(day) for day in quantiles]} after a pull on {pull}"
            yield Violation("pick", name, on, message)
        if not entry["expected_kg"] >= 0:
            yield Violation("pick", name, on, f"expects {entry['expected_kg']} kg")
        if not entry["reasons"]:
            yield Violation("reason", name, on, "no reason is given for the soak")
    for entry in plan["natural"]:
        week = date.fromisoformat(entry["week"])
        if week.weekday() != 0 or not 0 <= entry["chance"] <= 1 or entry["expected_kg"] < 0:
            message = f"chance {entry['chance']} of {entry['expected_kg']} kg in the week of {week}"
            yield Violation("natural", entry["stack"], week, message)


def _targets(yard: Yard, today: date, past: date) -> dict[tuple[str, date], float]:
    """Return what each outlet wants on each of its days."""
    wanted: dict[tuple[str, date], float] = defaultdict(float)
    for offset in range((past - today).days):
        day = today + timedelta(days=offset)
        for outlet in yard.outlets:
            if _open(outlet, day):
                wanted[outlet.name, day] += outlet.target_kg
        for order in yard.orders:
            if order.on == day:
                wanted[order.outlet, day] += order.target_kg
    return dict(wanted)


def _open(outlet: Outlet, day: date) -> bool:
    return (
        day.weekday() == outlet.weekday
        and day not in outlet.closed
        and _in_season(day, outlet.first, outlet.last)
    )


def _outlets(yard: Yard, plan: Mapping[str, Any], today: date) -> Iterator[Violation]:
    """Every outlet day in the horizon, its target, and figures that can hang together."""
    past = today + timedelta(weeks=plan["weeks"])
    wanted = _targets(yard, today, past)
    listed: dict[tuple[str, date], float] = defaultdict(float)
    for entry in plan["outlets"]:
        name, day = entry["outlet"], date.fromisoformat(entry["on"])
        if day < past:
            listed[name, day] += entry["target_kg"]
        for key in ("delivered_kg", "promise_kg"):
            if not -TOLERANCE <= entry[key] <= entry["target_kg"] + TOLERANCE:
                message = f"{key} {entry[key]:g} with a target of {entry['target_kg']:g}"
                yield Violation("outlet", name, day, message)
        if not 0 <= entry["chance"] <= 1:
            yield Violation("outlet", name, day, f"chance {entry['chance']}")
        if not 0 <= entry["available_p10_kg"] <= entry["available_p90_kg"] + TOLERANCE:
            low, high = entry["available_p10_kg"], entry["available_p90_kg"]
            yield Violation("outlet", name, day, f"available from {low:g} to {high:g} kg")
    for name, day in sorted(set(wanted) | set(listed)):
        target, said = wanted.get((name, day)), listed.get((name, day))
        if target is None or said is None or abs(target - said) > TOLERANCE:
            message = f"{name} wants {target} kg by the yard and {said} kg by the plan"
            yield Violation("target", None, day, message)
    demand = sum(wanted.values())
    if abs(plan["demand_kg"] - demand) > TOLERANCE:
        message = f"demand is {plan['demand_kg']:g} kg by the plan and {demand:g} kg by the yard"
        yield Violation("target", None, None, message)


def _objective(plan: Mapping[str, Any]) -> Iterator[Violation]:
    """The parts add up, the costs aren't negative, the bound lies below."""
    parts = plan["objective"]
    total = sum(parts.values())
    if not isfinite(total) or abs(total - plan["objective_kg"]) > TOLERANCE:
        message = f"the parts add up to {total:g} kg, objective_kg is {plan['objective_kg']:g}"
        yield Violation("objective", None, None, message)
    for name, kg in parts.items():
        if kg * (-1 if name == "end_value" else 1) < -TOLERANCE:
            yield Violation("objective", None, None, f"{name} is {kg:g} kg, of the wrong sign")
    if plan["bound_kg"] is not None and plan["bound_kg"] > plan["objective_kg"] + TOLERANCE:
        message = f"bound {plan['bound_kg']:g} lies above objective {plan['objective_kg']:g}"
        yield Violation("objective", None, None, message)
