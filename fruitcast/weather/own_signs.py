"""What a table shows by itself: rain that is no day's own, instruments that don't work, odd dates.

Gauges and programs tell the rain of the week, month or year so far, of the last seven days, of a
whole week on its Sunday, of a weekend on its Monday. Each gives numbers that look like rain, and
each has a rhythm that rain has not. A sensor that hangs tells one value day after day, one that is
dead tells zero, and a table filled downwards repeats its last row. Weather does none of this: to
the tenth of a degree hardly two days in a row are alike.
"""

from __future__ import annotations

import math
from datetime import timedelta

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.tables.faults import Question
from fruitcast.weather.daily import YEAR, DailyWeather, Source
from fruitcast.weather.table import count_days, list_days

_STEPS = (2.54, 1.0, 0.5, 0.254, 0.2, 0.1)
"""Steps in which gauges and tables tell rain: whole, half, fifth and tenth of mm, tenths and
hundredths of an inch. [mm]"""

_BY_CHANCE = 1e-2
"""How rarely chance may give what is asked about. Judgement. [0..1]"""

_LEAST_STAY = 0.08
"""Share of good rains that a running total has twice, at the least: after half of them the next day
is dry. Judgement. [0..1]"""

_TWO_MONTHS = 45
"""Days from which rain on the last of a month alone is asked about. Judgement. [day]"""

_FEWEST_PAIRS, _MOST_ALIKE = 20, 0.2
"""Pairs of rainy days from which their likeness is told, and the likeness that rain can have.
Judgement. [unitless]"""

_A_MONTH_OF_RAIN = 10.0
"""Least that a single one has then. Judgement. [mm]"""

_LESS, _NO_LESS = 0.6, 0.45
"""Share of days after one with rain that have less, and that have no less, at the most.
Judgement. [0..1]"""

_MOST_SUMMED = 10
"""Days that are summed at the most where each day's rain is that of the last ones. [day]"""

_WEEK = 7

_WEEKS = 3
"""Weeks from which a rhythm of the week is told. Judgement. [week]"""

_RUNNING = "take the column of each day's rain"


def questions_of_sums(weather: DailyWeather) -> list[Question]:
    """Return what to ask about rain that is no day's own; the first of its kind is enough."""
    for asked in (_of_rows, _of_running_totals, _of_last_days, _of_weekdays, _of_months):
        if (question := asked(weather)) is not None:
            return [question]
    return []


def _of_rows(weather: DailyWeather) -> Question | None:
    """Ask about a table whose rows lie further apart than a day."""
    told = np.zeros(weather.days, dtype=bool)
    for column in weather.values.values():
        told |= np.isfinite(column)
    gaps = np.diff(np.flatnonzero(told))
    if not len(gaps) or (np.median(gaps) < 2 if len(gaps) > 2 else gaps.min() < 7):
        return None
    apart = int(np.median(gaps))
    name = "weekly" if apart == 7 else "monthly" if 28 <= apart <= 31 else "no daily"
    return Question(
        f"its rows are {apart} days apart",
        f"This looks like {name} weather, whose rain is the sum of several days: download daily "
        "values",
    )


def _of_running_totals(weather: DailyWeather) -> Question | None:
    """Ask about rain that grows or stays from day to day, as a gauge's month so far does."""
    rain = weather.rain
    before, after = rain[:-1], rain[1:]
    with np.errstate(invalid="ignore"):
        both = np.isfinite(before) & np.isfinite(after) & (before > 0.0)
        pairs = int(both.sum())
        fell = int((both & (after < before)).sum())
        same = int((both & (after == before)).sum())
        rose = int((both & (after > before)).sum())
    short = pairs >= 3 and not fell and same >= 1 and rose >= 1
    long = pairs >= 10 and fell <= 0.25 * pairs and rose >= 1
    # A week's total falls back on one weekday only, however often it rains.
    falls = np.flatnonzero(both & (np.nan_to_num(after) < np.nan_to_num(before)))
    weekly = fell >= 3 and same >= 1 and len(np.unique(falls % _WEEK)) == 1
    keeping = _chance_of_step(np.flatnonzero(both), falls) if fell and rose else 1.0
    if short or long or weekly or keeping < _BY_CHANCE:
        return Question(
            f"rain falls back on only {fell} of {pairs} days after one with rain",
            f"This looks like a running total, the rain of the week, month or year so far: "
            f"{_RUNNING}",
        )
    alike = _alike(rain)
    if alike is not None:
        return Question(
            f"rain of one day is much like that of the day before (rank correlation {alike:.2f})",
            f"This looks like the rain of several days, such as that of the last three: {_RUNNING}",
        )
    stayed, expected, of = _stayed(rain)
    if not stayed or stayed < _LEAST_STAY * of:
        return None
    staying = _chance_of(stayed, expected) if stayed > 1 else 1.0
    # Each may be chance where both are not.
    both_ = staying * keeping if stayed > 1 else _chance_of(1, expected) * keeping
    if staying > _BY_CHANCE and both_ * (1.0 - math.log(both_)) > _BY_CHANCE:
        return None
    return Question(
        f"on {count_days(stayed)} rain is exactly what it was the day before",
        "This looks like the rain of several days, such as that of the last week or since the "
        f"gauge was emptied: {_RUNNING}",
    )


def _chance_of_step(pairs: npt.NDArray[np.intp], falls: npt.NDArray[np.intp]) -> float:
    """Return how likely rain falls back by chance only every so many days, as totals do.

    After a day with rain the next has less of it more often than not; that it always has on one
    day of so many, when the gauge is emptied, and never on any other tells a total.
    """
    least = 1.0
    for days in (2, 3, 4, 5, 6, _WEEK, 10, 14):
        on = np.unique(falls % days)
        others = pairs % days != on[0]
        if len(on) == 1:
            always = _LESS ** len(falls) if len(falls) == (~others).sum() else 1.0
            least = min(least, days * always * _NO_LESS ** int(others.sum()))
    return least


def _alike(rain: FloatArray) -> float | None:
    """Return the rank correlation of rainy days in a row, None where it can be chance.

    Falls of days in a row have hardly anything in common; sums of several days share all but one.
    """
    # Drizzle, which a model's rain has on most days of some months, is alike.
    good = np.nan_to_num(rain) > 1.0
    both = np.flatnonzero(good[:-1] & good[1:])
    if len(both) < _FEWEST_PAIRS:
        return None
    first, second = (np.argsort(np.argsort(rain[both + later])) for later in (0, 1))
    found = float(np.corrcoef(first, second)[0, 1])
    return found if found > _MOST_ALIKE + 2.5 / math.sqrt(len(both)) else None


def _stayed(rain: FloatArray) -> tuple[int, float, int]:
    """Return how often a good rain is told again to the last digit, how often by chance, of what.

    Falls that differ by less than a step of the gauge look equal: two large ones do so at most as
    often as a step goes into what they have beyond the least of them. Drizzle is left out, of
    which days in a row have the smallest amount that a gauge can tell.
    """
    wet = rain[np.isfinite(rain) & (rain > 0.0)]
    step = _step_of(wet)
    least = max(1.0, 5.0 * step)
    large = wet[wet > least]
    if not len(large):
        return 0, 0.0, 0
    before, after = rain[:-1], rain[1:]
    with np.errstate(invalid="ignore"):
        pairs = (before > least) & np.isfinite(after)
        same = int((pairs & (after == before)).sum())
    beyond = max(float(large.mean()) - least, step)
    of = int(pairs.sum())
    return same, of * step / beyond, of


def _step_of(wet: FloatArray) -> float:
    """Return the step in which rain is told. [mm]"""
    for step in _STEPS:
        # Inches are often told in mm to the tenth.
        rounded = 0.051 if step in (2.54, 0.254) else 1e-3
        off = np.abs(wet - np.round(wet / step) * step)
        if len(wet) and float((off < rounded).mean()) > 0.98:
            return step
    return 0.01


def _of_last_days(weather: DailyWeather) -> Question | None:
    """Ask about rain that is each day the sum of the last two to ten."""
    wet = weather.rain[np.isfinite(weather.rain) & (weather.rain > 0.0)]
    step = _step_of(wet)
    for days in range(2, _MOST_SUMMED + 1):
        # Sums of what the gauge tells are exact; those of another table's were rounded once more.
        for rounded in (False, True):
            by_chance, count = _chance_of_sums(weather.rain, days, step, rounded=rounded)
            if count and by_chance < _BY_CHANCE / 2:
                break
        if count and by_chance < _BY_CHANCE / 2:
            return Question(
                f"each of {count} spells of rain could be the sum of the last {days} days, told "
                "anew every day",
                f"This looks like the rain of several days, such as that of the last {days}: "
                f"{_RUNNING}",
            )
    return None


def _chance_of_sums(
    rain: FloatArray, days: int, step: float, *, rounded: bool
) -> tuple[float, int]:
    """Return how likely chance makes all spells of rain look like sums, and how many they are.

    In a spell between two days without, each day's own rain follows from the sums: what a sum
    has more than the one before, and what left it. It is never below nought, and nought on the
    last days of the spell, when rain had ended and the sums had not. A spell of one day, or one
    that ends in no such way, is no sum: then it is 1.
    """
    dry = np.flatnonzero(rain == 0.0)
    chance, count = 1.0, 0
    for first, last in zip(dry[:-1] + 1, dry[1:], strict=True):
        spell = rain[first:last]
        if not len(spell) or not np.isfinite(spell).all():
            continue
        own = np.zeros(len(spell) + days)
        own[days:] = np.diff(spell, prepend=0.0)
        for residue in range(days):  # what leaves a sum came in so many days before
            own[residue::days] = np.cumsum(own[residue::days])
        # Where each sum was rounded, the longer the spell, the more of it gathers.
        off = step * (1.0 + len(spell) / days) if rounded else 0.3 * step
        if len(spell) < days or own.min() < -off or np.abs(own[1 - days :]).max() > off:
            return 1.0, 0
        count += 1
        chance *= min(1.0, max(2.0 * off, step) / float(spell.mean())) ** (days - 1)
    return chance, count


def _of_weekdays(weather: DailyWeather) -> Question | None:
    """Ask about rain that keeps to the days of the week."""
    rain = weather.rain
    told = np.flatnonzero(np.isfinite(rain))
    if not len(told) or told[-1] - told[0] < _WEEK * _WEEKS:
        return None
    weekday = np.arange(weather.days) % _WEEK
    within = (np.arange(weather.days) >= told[0]) & (np.arange(weather.days) <= told[-1])
    wet = np.nan_to_num(rain) > 0.0
    by_day = np.bincount(weekday[wet], minlength=_WEEK)
    all_ = int(by_day.sum())
    if all_ >= _WEEKS and by_day.max() == all_:
        return Question(
            f"all {all_} days with rain are a {_name(weather, int(by_day.argmax()))}",
            "This looks like the rain of whole weeks: download daily values",
        )
    days = np.bincount(weekday[within], minlength=_WEEK)
    gone = np.bincount(weekday[within & np.isnan(rain)], minlength=_WEEK)
    never = (gone >= _WEEKS) & (gone > 0.8 * days)
    if 0 < never.sum() < _WEEK and (gone[~never] <= 0.2 * days[~never]).all():
        named = " and ".join(_name(weather, day) for day in np.flatnonzero(never).tolist())
        return Question(
            f"rain is missing on every {named}",
            "This looks like a gauge that nobody reads on these days, so that the next reading is "
            "the rain of several: leave that one empty too",
        )
    dry = by_day <= 0.1 * all_ / _WEEK
    if dry.any() and _WEEK * math.exp(-all_ / _WEEK) < _BY_CHANCE:
        named = " or ".join(_name(weather, day) for day in np.flatnonzero(dry).tolist())
        return Question(
            f"it hardly ever rained on a {named}, in {all_} days with rain",
            "This looks like a gauge that nobody reads on these days, whose next reading is the "
            "rain of several: leave both empty",
        )
    return None


def _of_months(weather: DailyWeather) -> Question | None:
    """Ask about rain that falls on the first or the last day of a month only."""
    wet = np.flatnonzero(np.nan_to_num(weather.rain) > 0.0).tolist()
    if not wet or weather.days < _TWO_MONTHS:
        return None
    if len(wet) == 1 and weather.rain[wet[0]] < _A_MONTH_OF_RAIN:
        return None
    days = [weather.day(row) for row in wet]
    if all(day.day == 1 for day in days) or all((day + timedelta(1)).day == 1 for day in days):
        return Question(
            f"it rained on the {'first' if days[0].day == 1 else 'last'} of a month only, on "
            f"{count_days(len(wet))}",
            "This looks like the rain of whole months: download daily values",
        )
    return None


def _name(weather: DailyWeather, row: int) -> str:
    return f"{weather.day(row):%A}"


def _chance_of(count: int, expected: float) -> float:
    """Return how likely chance alone gives so many or more, where so many are expected."""
    term = below = math.exp(-expected)
    for number in range(1, count):
        term *= expected / number
        below += term
    return 1.0 - below


# Temperatures that no instrument should give.

_ALIKE, _ALIKE_WHOLE = 3, 6
"""Days in a row with the same lowest and highest temperature, told in tenths and in whole
degrees, from which they are asked about. Judgement: where one day is like another whole degrees
repeat by chance. [day]"""

_ONE_ALIKE, _ONE_ALIKE_WHOLE = 5, 10
"""The same of one of the two."""

_FEW = 0.002
"""Share of a record's days that may be alike: in decades some are. Judgement. [0..1]"""

_FEWEST_COPIED, _MOSTLY_COPIED = 10, 0.5
"""Days that are those of another year from which it is asked about, and their share. Judgement."""

_FEWEST_STEPS, _JUMP = 10, 9.0
"""Days from which their changes are told, and a mean change twice that of the roughest climates.
Judgement. [day], [degC]"""

_EMPTY = "correct them, or leave the cells empty if nobody knows"


def questions_of_instruments(weather: DailyWeather) -> list[Question]:
    """Return what to ask about temperatures that no instrument should give."""
    for asked in (_of_level_days, _of_stuck, _of_jumps):
        if (question := asked(weather)) is not None:
            return [question]
    return []


def of_copied_days(weather: DailyWeather, known: DailyWeather | None) -> Question | None:
    """Ask about days that are those of another year, in the table or in what is known."""
    mine = _days_alike(weather)
    if len(mine) < _FEWEST_COPIED:
        return None
    parts = [mine]
    if known is not None:
        # What is known of the table's own days is no copy.
        past_all = max(known.end, weather.end) + timedelta(days=1)
        before = known.cut(known.start, weather.start)
        after = known.cut(weather.end + timedelta(days=1), past_all)
        parts += [_days_alike(before), _days_alike(after)]
    # Sorted column by column: to compare whole rows takes five times as long.
    table = np.concatenate(parts)
    order = np.lexsort(table.T)
    alike = np.zeros(len(table), dtype=np.int64)
    alike[order[1:]] = np.cumsum((np.diff(table[order], axis=0) != 0).any(axis=1))
    copied = int((np.bincount(alike)[alike[: len(mine)]] > 1).sum())
    if copied < _FEWEST_COPIED or copied < _MOSTLY_COPIED * len(mine):
        return None
    return Question(
        f"{count_days(copied)} have the temperatures of the same calendar days of another year",
        "This looks like a year copied from another or with the wrong year in its dates: see whose "
        "days they are",
    )


def _days_alike(weather: DailyWeather) -> IntArray:
    """Return calendar day, lowest and highest temperature of each day that was observed."""
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    months = days.astype("datetime64[M]")
    there = (weather.sources["tmin"] == Source.OBSERVED) & np.isfinite(weather.tmin)
    there &= (weather.sources["tmax"] == Source.OBSERVED) & np.isfinite(weather.tmax)
    parts = (
        months.astype(int) % 12,
        (days - months).astype(int),
        np.round(np.nan_to_num(weather.tmin) * 100.0),
        np.round(np.nan_to_num(weather.tmax) * 100.0),
    )
    table: IntArray = np.stack([part.astype(np.int64) for part in parts], axis=1)
    return np.asarray(table[there])


def _of_jumps(weather: DailyWeather) -> Question | None:
    """Ask about temperatures that jump from day to day as no weather does."""
    steps = np.abs(np.diff(weather.tmean))
    steps = steps[np.isfinite(steps)]
    if len(steps) < _FEWEST_STEPS or float(steps.mean()) < _JUMP:
        return None
    return Question(
        f"temperatures change by {steps.mean():.0f} C from one day to the next on average",
        "This looks like two units in one column, or rows in a wrong order: see where they change",
    )


def _of_level_days(weather: DailyWeather) -> Question | None:
    """Ask about days whose lowest temperature is their highest."""
    with np.errstate(invalid="ignore"):
        level = weather.tmin == weather.tmax
    days = int(level.sum())
    known = int((np.isfinite(weather.tmin) & np.isfinite(weather.tmax)).sum())
    zero = bool((level & (weather.tmin == 0.0)).any())
    whole = _in_whole_degrees(weather)
    if not days or (whole and (days < 3 or days < 0.1 * known)):
        return None
    if not whole and not zero and (days < 2 or days < 0.02 * known):
        return None
    return Question(
        f"on {count_days(days)} the lowest temperature is the highest too, "
        f"{list_days(weather, level, 3)}",
        f"This looks like zeros for missing values, means in both columns or a dead sensor: "
        f"{_EMPTY}",
    )


def _of_stuck(weather: DailyWeather) -> Question | None:
    """Ask about days in a row that are alike."""
    whole = _in_whole_degrees(weather)
    low, high = _as_before(weather.tmin), _as_before(weather.tmax)
    stuck = _in_runs(low & high, _ALIKE_WHOLE if whole else _ALIKE)
    for one in (low, high):
        stuck |= _in_runs(one, _ONE_ALIKE_WHOLE if whole else _ONE_ALIKE)
    if stuck.sum() <= _FEW * np.isfinite(weather.tmean).sum():
        return None
    return Question(
        f"temperatures are the same day after day, {list_days(weather, stuck, 3)}",
        "This looks like a sensor that hangs, or a gap that was filled with the day before it or "
        f"with a mean: {_EMPTY}",
    )


def _in_whole_degrees(weather: DailyWeather) -> bool:
    """Return whether temperatures are in whole degrees, of C or F."""
    values = np.concatenate([weather.tmin, weather.tmax])
    values = values[np.isfinite(values)]
    # Fahrenheit is often told in C to the tenth.
    return any(
        float((np.abs(scale - np.round(scale)) < rounded).mean()) > 0.9
        for scale, rounded in ((values, 1e-3), (values * 1.8, 0.091))
        if len(scale)
    )


def _as_before(column: FloatArray) -> BoolArray:
    """Return the days that have the value of the day before."""
    found = np.zeros(len(column), dtype=bool)
    found[1:] = column[1:] == column[:-1]
    return found


def _in_runs(as_before: BoolArray, days: int) -> BoolArray:
    """Return the days in runs of at least so many days alike, the first of them included."""
    found = np.zeros(len(as_before), dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], as_before.astype(np.int8), [0]])))
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if past - first + 1 >= days:
            found[first - 1 : past] = True
    return found


_LONG_DRY = 60
"""Days without a drop from which a stretch is held against other years. Judgement. [day]"""

_TIMES_AS_LONG = 2.5
"""How much longer it is than what the same place has had in other years. Judgement. [unitless]"""

_RAINED = 20
"""Days with rain that other years have on the calendar days of such a stretch. Judgement. [day]"""

_MOST_YEARS, _FEWEST_OTHERS = 0.75, 2
"""Share of the other years that must say so, and how many there must be. Judgement.
[0..1], [year]"""


def of_dry_stretches(weather: DailyWeather) -> Question | None:
    """Ask about a stretch without a drop where other years had rain on the same calendar days.

    Deserts and dry seasons have none in other years either. Days that nobody measured are neither
    dry nor wet.
    """
    wet, dry = np.nan_to_num(weather.rain) > 0.0, weather.rain == 0.0
    edges = np.concatenate([[-1], np.flatnonzero(wet), [weather.days]])
    doubted = np.zeros(weather.days, dtype=bool)
    for before, after in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        if after - before > _LONG_DRY and (found := dry[before + 1 : after]).sum() >= _LONG_DRY:
            first = before + 1 + int(np.argmax(found))
            if _rained_in_other_years(wet, dry, first, after):
                doubted[first:after] |= dry[first:after]
    if not doubted.any():
        return None
    first, last = np.flatnonzero(doubted)[[0, -1]].tolist()
    return Question(
        f"on {count_days(int(doubted.sum()))} between {weather.day(first)} and {weather.day(last)} "
        "not a drop is told, and other years had rain on the same calendar days",
        f"This looks like a gauge that is blocked, or zeros for missing values: {_EMPTY}",
    )


def _rained_in_other_years(wet: BoolArray, dry: BoolArray, first: int, past: int) -> bool:
    """Return whether most other years had rain, and no such stretch, on the days of a dry one."""
    long, days = int(dry[first:past].sum()), min(past - first, YEAR)
    rained = []
    for years in range(-(len(wet) // 365) - 1, len(wet) // 365 + 2):
        begin = first + round(years * 365.25)
        end = begin + days
        if begin < 0 or end > len(wet) or (begin < past and end > first):
            continue
        if (wet | dry)[begin:end].mean() < 0.8:
            continue
        falls = np.flatnonzero(np.concatenate([[True], wet[begin:end], [True]]))
        longest = int(np.diff(falls).max()) - 1
        rained.append(
            int(wet[begin:end].sum()) >= _RAINED and long >= _TIMES_AS_LONG * max(longest, 1)
        )
    return len(rained) >= _FEWEST_OTHERS and sum(rained) >= _MOST_YEARS * len(rained)


# Dates that follow no others, or that a program has turned.

_STRAY = 60
"""Days without a value between a few days and all others from which they are asked about.
Judgement. [day]"""

_YEARS_AWAY = 20
"""Years between a short table and all that is known from which its dates are asked about: a slip
in the century is a hundred. Judgement. [year]"""


def of_stray_days(weather: DailyWeather, known: DailyWeather | None) -> Question | None:
    """Ask about days that lie years away from all others, as those with a slip in the year do."""
    told = np.flatnonzero(np.isfinite(weather.tmean) | np.isfinite(weather.rain))
    if not len(told):
        return None
    gaps = np.diff(told)
    if len(gaps) and gaps.max() > _STRAY:
        at = int(np.argmax(gaps))
        ends = sorted((told[: at + 1], told[at + 1 :]), key=len)
        if len(ends[0]) <= (0.1 if gaps.max() > YEAR else 0.05) * len(told):
            stray = np.zeros(weather.days, dtype=bool)
            stray[ends[0]] = True
            return Question(
                f"{count_days(len(ends[0]))} lie {gaps.max()} days away from all others, "
                f"{list_days(weather, stray, 3)}",
                "This looks like a slip in the date: correct it, or leave the days out",
            )
    if known is None or len(told) > YEAR:
        return None
    first, last = weather.day(int(told[0])), weather.day(int(told[-1]))
    away = max((first - known.end).days, (known.start - last).days) / 365.25
    if away < _YEARS_AWAY:
        return None
    return Question(
        f"its days are of {first.year}, {away:.0f} years from all that is known",
        "This looks like a slip in the year: see whether the dates are right",
    )


def of_exchanged_dates(weather: DailyWeather) -> Question | None:
    """Ask about days up to the 12th that are as warm as with day and month exchanged.

    How warm each month is, the days after the 12th tell, which can't be exchanged.
    """
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    months = days.astype("datetime64[M]").astype(int)
    day = (days - days.astype("datetime64[M]")).astype(int) + 1
    months, swapped = months - months.min(), months - months % 12 + day - 1 - months.min()
    known = np.isfinite(weather.tmean)
    sure = known & (day > 12)
    counts = np.bincount(months[sure], minlength=months.max() + 12)
    sums = np.bincount(months[sure], weights=weather.tmean[sure], minlength=months.max() + 12)
    with np.errstate(invalid="ignore"):
        mean = np.where(counts >= 8, sums / counts, np.nan)
    open_ = known & (day <= 12) & (swapped >= 0) & (swapped != months)
    there = np.where(open_, swapped, 0)
    as_read = np.where(open_, weather.tmean - mean[months], np.nan) ** 2
    turned = np.where(open_, weather.tmean - mean[there], np.nan) ** 2
    both = np.isfinite(as_read) & np.isfinite(turned)
    if both.sum() < 20 or as_read[both].mean() < 1.5 * turned[both].mean():
        return None
    return Question(
        f"on {count_days(int(both.sum()))} up to the 12th of a month it is as warm as with day and "
        "month exchanged, and after the 12th it is not",
        "A spreadsheet seems to have taken these for dates with day and month exchanged: download "
        "the table again and write dates as YYYY-MM-DD",
    )
