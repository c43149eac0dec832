"""What is possible, but more often a slip: asked about, each with reason and remedy."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from math import ceil
from typing import TYPE_CHECKING

from fruitcast.diary.book import Diary
from fruitcast.diary.plan import KeptDate
from fruitcast.diary.state import YardState, first_picks
from fruitcast.numbers import Numbers
from fruitcast.soaks.problem import HAIR
from fruitcast.topics import DoubtNumbers, WorkNumbers
from fruitcast.units import format_length, format_temperature, format_weight
from fruitcast.words import day_words, first_of
from fruitcast.yard.model import Yard

if TYPE_CHECKING:
    from fruitcast.forecast.outlook import YardOutlook
    from fruitcast.inoculation.batch import BatchPlan
    from fruitcast.weather.daily import DailyWeather


SALES_DAYS = 182
"""How far sales are counted. [day]"""

SOAKS_DAYS = 400
"""How far back recorded soaks are looked at. [day]"""

WEATHER_DOUBTED = "The weather raises a doubt"
"""So begins the one line that stands elsewhere for what 'check' tells in full."""

_BELIEVED = "believed weather"


def doubts(
    yard: Yard,
    state: YardState,
    weather: DailyWeather,
    years: Sequence[int],
    today: date,
    days_ahead: int,
    numbers: Numbers,
    *,
    checking: bool = False,
) -> tuple[str, ...]:
    """Return what to ask about a yard that can be planned.

    `days_ahead` is the length of the future that the years stand for [day]. Only with `checking` is
    what is doubted of the weather told in full: elsewhere one line says where.
    """
    from fruitcast.weather.doubts import doubts_of_weather

    of_weather = doubts_of_weather(
        weather,
        years,
        today,
        days_ahead,
        yard.site.latitude,
        yard.units,
        numbers.doubt.weather,
        believed_until=_believed_until(yard),
    )
    if of_weather and not checking:
        times = f", {len(of_weather)} times" if len(of_weather) > 1 else ""
        of_weather = (f"{WEATHER_DOUBTED}{times}: 'fruitcast check' tells it.",)
    return (
        *_of_stacks(yard, state, today, numbers),
        *_of_hours(yard, state, numbers.work),
        *_of_sales(yard, today, numbers),
        *_of_soaks(state, weather, today, numbers.doubt),
        *_of_classes(yard, state, weather, numbers),
        *of_weather,
    )


def believe_weather(yard: Yard, today: date, until: date) -> None:
    """Keep the grower's answer that the weather up to a day is right as it stands."""
    with Diary(yard.diary_file) as diary:
        diary.save_document(_BELIEVED, today, until.isoformat())


def _believed_until(yard: Yard) -> date | None:
    with Diary(yard.diary_file) as diary:
        text = diary.latest_document(_BELIEVED)
    return None if text is None else date.fromisoformat(text)


def doubt_of_clock(yard: Yard, now: datetime | None) -> tuple[str, ...]:
    """Return a doubt when the diary was written to well after the machine's clock.

    `now` is None when the day was given by hand, which is no clock's fault.
    """
    if now is None:
        return ()
    with Diary(yard.diary_file) as diary:
        last = diary.last_written()
    if last is None or last <= now.date() + timedelta(days=1):
        return ()
    return (
        f"This computer's clock says {now.date()}, but the diary was written to on {last}. If the "
        "clock is wrong, put it right first: entries and plans are dated by it. What is dated "
        "later than today is left out; --today gives another day.",
    )


def doubts_of_plan(
    look: YardOutlook, soaks: Sequence[KeptDate], doubt: DoubtNumbers
) -> tuple[str, ...]:
    """Return what to ask about a plan: soaks in a frozen tank."""
    from fruitcast.biology.forced import is_frozen

    futures = look.futures
    ice = is_frozen(futures.tmean, doubt).mean(axis=1)
    frozen = []
    for soak in soaks:
        row = futures.row(soak.soak_on)
        if ice[row] > 0.5:
            frozen.append(
                f"{soak.stack} on {day_words(soak.soak_on, futures.today)} ({ice[row]:.0%})"
            )
    if not frozen:
        return ()
    return (
        f"Soaks planned for days on which the tank is frozen in most weather years: "
        f"{first_of(frozen)}. Give the soaking season a first and last day under [soaking] in "
        "yard.toml, or keep the tank free of ice.",
    )


def _of_stacks(yard: Yard, state: YardState, today: date, numbers: Numbers) -> Iterator[str]:
    from fruitcast.biology.yields import bearing_life

    picked: dict[str, date] = {}
    left: dict[str, int] = {}
    for name, lot in state.stacks.items():
        row = state.lot_of[name]
        left[row] = left.get(row, 0) + lot.logs
        for pick in lot.picks:
            picked[row] = max(picked.get(row, date.min), pick.on)
    for stack in yard.stacks:
        if not left.get(stack.name, stack.logs):
            continue
        life = bearing_life(stack.diameter, numbers.tree(stack.tree), numbers.yields)
        age = (today - stack.inoculated).days / 365.25
        last = picked.get(stack.name)
        lately = last is not None and (today - last).days <= numbers.doubt.picked_within
        if age > life + numbers.doubt.past_life and not lately:
            yield (
                f"{stack.name}: presumed spent, as it was inoculated on {stack.inoculated}, "
                f"{age:.0f} years ago, logs of its size and wood bear for about {life:.0f}, and no "
                "pick of the last year is recorded. Check the date in stacks.csv; if the logs are "
                f"spent, 'fruitcast record retire {stack.name}', and if they bear, record the "
                "picks."
            )
        yield from too_many_logs(stack.name, stack.logs, yard, tankfuls=numbers.doubt.tankfuls)


def _of_hours(yard: Yard, state: YardState, work: WorkNumbers) -> Iterator[str]:
    given = yard.soaking.hours_a_day
    hours = max(given) if isinstance(given, tuple) else given
    logs = {name: lot.logs for name, lot in state.stacks.items() if lot.logs}
    if hours is None or not logs:
        return
    per_log = max(work.soak_hours_per_log, work.pull_hours_per_log)
    least = min(logs, key=lambda name: (logs[name], name))
    if logs[least] * per_log <= hours + HAIR:
        return
    smaller = int(hours / per_log + HAIR)
    lots = f", or soak in smaller lots with lot_logs = {smaller}" if smaller else ""
    yield (
        f"hours_a_day = {hours:g} {'at most, ' if given != hours else ''}under [soaking] in "
        f"yard.toml is too little for any soak: even {least}, {logs[least]} logs, takes "
        f"{ceil(10 * logs[least] * per_log) / 10:g} hours to put in or to pull, so nothing can be "
        f"planned. Give more hours{lots}."
    )


def too_many_logs(name: str, logs: int, yard: Yard, *, tankfuls: float) -> Iterator[str]:
    """Yield a doubt when a stack is of more logs than can be handled as one."""
    asked = logs / yard.soaking.tank_logs
    if asked > tankfuls:
        yield (
            f"{name}: {logs} logs are {asked:.0f} tankfuls. A stack is what is soaked and "
            "rested together: check the number and tank_logs in yard.toml, or make several "
            "stacks of it."
        )


def _of_sales(yard: Yard, today: date, numbers: Numbers) -> Iterator[str]:
    from fruitcast.soaks.sale_days import outlet_days

    doubt = numbers.doubt
    logs = sum(stack.logs for stack in yard.stacks)
    wanted = sum(sale.target for sale in outlet_days(yard, today, SALES_DAYS))
    most = logs * doubt.most_flush * (SALES_DAYS / numbers.schedule.rest_days + 1)
    if logs and wanted > most:
        yield (
            f"The outlets ask for more than the logs can bring: "
            f"{format_weight(wanted, yard.units)} in 26 weeks, and {logs} logs bring "
            f"{format_weight(most, yard.units)} at the very most, "
            f"{format_weight(doubt.most_flush, yard.units)} a log as often as it may be soaked. "
            "Are the targets in yard.toml right, and their unit (target_kg, target_lb)? "
            "'fruitcast inoculation' tells how many logs they take."
        )
    for order in yard.orders:
        most = logs * numbers.yields.most_a_flush
        if logs and order.on >= today and order.target_kg > most:
            yield (
                f"{order.outlet} on {order.on} asks for "
                f"{format_weight(order.target_kg, yard.units)}, more than all {logs} logs would "
                f"give at once ({format_weight(most, yard.units)}). Check the target and its unit "
                "in yard.toml."
            )


def _of_soaks(
    state: YardState, weather: DailyWeather, today: date, doubt: DoubtNumbers
) -> Iterator[str]:
    from fruitcast.biology.forced import is_frozen

    ice = is_frozen(weather.tmean.reshape(-1, 1), doubt)[:, 0]
    frozen = []
    for name, lot in state.stacks.items():
        for soak in lot.soaks:
            row = weather.index(soak.on)
            if (today - soak.on).days <= SOAKS_DAYS and 0 <= row < weather.days and ice[row]:
                frozen.append(f"{name} on {day_words(soak.on, today)}")
    if frozen:
        yield (
            f"Soaks recorded in frost, when an open tank is frozen: {first_of(frozen)}. Is the day "
            "right? If not, 'fruitcast diary show' lists the entries and 'fruitcast record undo' "
            "takes one back; if the water was kept open, nothing is to be done."
        )


def _of_classes(
    yard: Yard, state: YardState, weather: DailyWeather, numbers: Numbers
) -> Iterator[str]:
    """Yield stacks whose flushes came at temperatures that their class does not fruit at."""
    seen: dict[str, list[float]] = {}
    days = int(numbers.forced.season_days)
    for name, lot in state.stacks.items():
        picks = first_picks(lot.picks, flush_days=numbers.diary.flush_days)
        ends = [end for pick in picks if days <= (end := weather.index(pick.on)) <= weather.days]
        before = [float(weather.tmean[end - days : end].mean()) for end in ends]
        seen.setdefault(state.lot_of[name], []).extend(before)
    margin = numbers.doubt.class_margin
    for name, temperatures in seen.items():
        strain_class = yard.by_name[name].strain_class
        fruits = numbers.strain(strain_class).range
        low, high = fruits.lower - margin, fruits.upper + margin
        odd = [degrees for degrees in temperatures if not low <= degrees <= high]
        if len(odd) >= numbers.doubt.class_flushes and 2 * len(odd) > len(temperatures):
            yield (
                f"{name}: {len(odd)} of {len(temperatures)} flushes were picked after days of "
                f"{format_temperature(min(odd), yard.units)} to "
                f"{format_temperature(max(odd), yard.units)}, where {strain_class} strains hardly "
                "fruit. "
                "Is its strain_class in stacks.csv right? The spawn maker's label says it."
            )


# What is possible for a batch to be inoculated, but more often a slip.


def doubts_of_batch(plan: BatchPlan, yard: Yard, numbers: Numbers) -> Iterator[str]:
    """Yield what to ask about a batch: its logs, their size, and how close they are drilled."""
    spec = plan.spec
    for what, metres in (("diameter", spec.diameter), ("length", spec.length)):
        low, high = numbers.log.usual(what)
        if not low <= metres <= high:
            yield (
                f"--{what}: {format_length(metres, yard.units)} is unusual for a log; "
                f"{format_length(low, yard.units)} to {format_length(high, yard.units)} is not "
                "asked about. Check the number and its unit."
            )
    usual = numbers.inoculation.along * numbers.inoculation.between
    holes = plan.pattern.holes
    expected = math.pi * spec.diameter * spec.length / usual
    factor = numbers.doubt.holes
    if not expected / factor <= holes <= expected * factor:
        many = "many" if holes > expected else "few"
        yield (
            f"{holes} holes a log are {many}: at the usual distances it would be about "
            f"{expected:.0f}. Check --along and --between and their units."
        )
    yield from too_many_logs(spec.name, spec.logs, yard, tankfuls=numbers.doubt.tankfuls)
