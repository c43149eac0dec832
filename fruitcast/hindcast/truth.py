"""The one season that comes true in a hindcast: what each soak and each natural flush brings.

The season is simulated by the model's own rules on one weather year, with draws of its own
for the scatter that weather does not explain. The planner never sees it, only what a grower
would have seen of it by the day of planning. Factors on lead time and yield make a truth
that differs from what the planner believes.

Wear stays as it was when the season began, and a soak leaves the log's moisture as the
weather has it: both as within one plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from math import ceil
from typing import Literal

import numpy as np

from fruitcast.arrays import BoolArray, FloatArray, IntArray
from fruitcast.biology.picking import FlushKind
from fruitcast.biology.yields import hemisphere
from fruitcast.diary.state import YardState
from fruitcast.forecast.flushes import Following, follow, soak_factor
from fruitcast.forecast.fruiting import Fruiting, fruiting
from fruitcast.forecast.learned import YardLearning
from fruitcast.forecast.outlook import YardOutlook, outlook
from fruitcast.forecast.stacks import StackOutlook, season_rows
from fruitcast.forecast.under_way import UnderWay, start_of
from fruitcast.numbers import Number, Numbers, numbers_from
from fruitcast.soaks.crops import PickDays, pick_days_of
from fruitcast.soaks.soak_days import rows_away, soak_dates
from fruitcast.topics import STRAIN_CLASSES, ForcedNumbers
from fruitcast.weather.daily import DailyWeather
from fruitcast.weather.known import ENOUGH_YEARS
from fruitcast.yard.model import Yard


@dataclass(frozen=True)
class Truth:
    """How the season that comes true differs from what the planner's numbers say."""

    # Warmth from pull or trigger to first pick over the planner's [unitless]
    lead_factor: float = 1.0
    yield_factor: float = 1.0  # weight of all flushes over the planner's [unitless]
    seed: int = 7919  # seed of its scatter; never that of a plan


@dataclass(frozen=True)
class CarriedSoak:
    """A soak that was carried out."""

    on: date  # day on which the logs went in
    nights: int  # days until the morning of the pull [day]


@dataclass(frozen=True)
class TrueFlush:
    """A flush as it comes true."""

    kind: Literal["forced", "natural"]  # 'forced' or 'natural'
    begun: date  # day of the soak, or of the trigger
    # Fresh weight of each day's pick, days away left out; empty when nothing comes [kg]
    picks: tuple[tuple[date, float], ...]

    @property
    def kg(self) -> float:
        """Weight of the whole flush. [kg]"""
        return sum(kg for _, kg in self.picks)


@dataclass(frozen=True)
class _Logs:
    """One stack: its kind's flushes, and where it starts from."""

    fruiting: Fruiting
    place: dict[tuple[int, int], int]
    effective_logs: float
    start: Following
    flush: UnderWay | None


@dataclass
class TrueSeason:
    """One weather year come true for one yard."""

    # The yard's outlook with the true year as its only weather (in identical members)
    outlook: YardOutlook
    year: int  # the weather year
    _numbers: Numbers
    _away: BoolArray
    _sold: PickDays
    _logs: dict[str, _Logs]
    _known: dict[tuple[str, tuple[CarriedSoak, ...]], tuple[TrueFlush, ...]] = field(
        default_factory=dict
    )

    def saleable(self, on: date, kind: FlushKind) -> float:
        """Return the share of a day's pick that can be sold, by kind of flush. [0..1]"""
        return float(self._sold.share_of(kind)[self._row(on), 0])

    def flushes(self, name: str, soaks: Sequence[CarriedSoak]) -> tuple[TrueFlush, ...]:
        """Return every flush of a stack, given the soaks carried out so far, in their order.

        A soak changes nothing of what was set off before it, so what has been picked by a
        day does not depend on soaks still to come.
        """
        key = (name, tuple(soaks))
        if key not in self._known:
            self._known[key] = self._follow(self._logs[name], key[1])
        return self._known[key]

    def _follow(self, logs: _Logs, soaks: tuple[CarriedSoak, ...]) -> tuple[TrueFlush, ...]:
        flushes: list[TrueFlush] = []
        if logs.flush is not None:
            kg = logs.flush.share[:, 0] * logs.flush.kg[0] * logs.effective_logs
            rows = np.flatnonzero(kg > 0)
            flushes.append(self._flush(logs.flush.kind, logs.flush.begun, rows, kg[rows]))
        following = logs.start
        forced, shapes = logs.fruiting.forced, logs.fruiting.forced_shape
        for soak in soaks:
            row = self._row(soak.on)
            flushes += self._natural(logs, following, row)
            at = logs.place[row, soak.nights]
            left = float(soak_factor(following, np.array([row]), self._numbers.yields)[0, 0, 0])
            pick, length = int(forced.pick_row[at, 0]), int(forced.length[at, 0])
            kg = forced.kg[at, 0] * left * logs.effective_logs * shapes[length, :length]
            flushes.append(self._flush("forced", soak.on, pick + np.arange(length), kg))
            last = float(pick) if forced.bears[at, 0] else float(row)
            following = self._after(logs.fruiting, last, row + soak.nights)
        flushes += self._natural(logs, following, self.outlook.futures.days)
        return tuple(flushes)

    def _after(self, logs: Fruiting, last_pick: float, ready_row: int) -> Following:
        return follow(
            logs, np.array([[last_pick]]), np.array([[ready_row]]), self.outlook.futures.lookback
        )

    def _natural(self, logs: _Logs, following: Following, before: int) -> list[TrueFlush]:
        """Return the natural flushes set off before a row."""
        found = []
        shapes = logs.fruiting.natural_shape
        for flush in range(len(following.trigger)):
            trigger, kg = int(following.trigger[flush, 0, 0]), following.kg[flush, 0, 0]
            if trigger < before and kg > 0:
                pick = int(following.pick[flush, 0, 0])
                length = int(following.past[flush, 0, 0]) - pick
                found.append(
                    self._flush(
                        "natural",
                        self.outlook.futures.date(trigger),
                        pick + np.arange(length),
                        kg * logs.effective_logs * shapes[length, :length],
                    )
                )
        return found

    def _flush(
        self, kind: Literal["forced", "natural"], begun: date, rows: IntArray, kg: FloatArray
    ) -> TrueFlush:
        futures = self.outlook.futures
        picks = tuple(
            (futures.date(int(row)), float(weight))
            for row, weight in zip(rows, kg, strict=True)
            if weight > 0 and row < futures.days and not self._away[row]
        )
        return TrueFlush(kind, begun, picks)

    def _row(self, on: date) -> int:
        return self.outlook.futures.row(on)


def true_season(
    yard: Yard,
    state: YardState,
    weather: DailyWeather,
    today: date,
    year: int,
    truth: Truth,
    *,
    weeks: int,
    numbers: Numbers,
    believed: YardLearning,
    before: YardOutlook | None = None,
) -> TrueSeason:
    """Return the season that comes true with the weather of a past year.

    The past year's days of the calendar follow on `today`, the first of the season; the weather is
    complete up to the day before. `believed` is what was learned before the season: the truth is
    one of the yards that it leaves possible, times what `truth` says. `before` is what the planner
    saw on the first day, or before, see `outlook`.
    """
    numbers = numbers_from(_true_table(truth, numbers.table))
    seed = truth.seed + year  # a season has luck of its own
    seasons = range(today.year - 1, today.year + weeks // 52 + 3)
    real = believed.come_true(yard.stacks, seasons, seed)
    look = outlook(
        yard,
        state,
        weather,
        today,
        # So many copies of the year that the luck of one is spread as that of any.
        (year,) * ENOUGH_YEARS,
        soak_dates(yard, today, weeks),
        weeks=weeks,
        seed=seed,
        numbers=numbers,
        learned=real.giving(truth.yield_factor),
        before=before,
        comes_true=True,
    )
    futures = look.futures
    away = rows_away(yard, futures)
    season = season_rows(futures, yard.site)
    nights = range(1, _most_nights(numbers.forced) + 1)
    pairs = [(int(row), int(row) + n) for n in nights for row in look.soak_rows]
    place = {(row, pull - row): at for at, (row, pull) in enumerate(pairs)}
    kinds = {
        kind: _one_member(_every_soak(look, kind_, pairs, seed))
        for kind, kind_ in look.kinds.items()
    }
    first = next(iter(kinds.values()))
    sold = pick_days_of(yard, first, away, futures.lookback, futures.days)
    true = TrueSeason(look, year, numbers, away, sold, {})
    for stack in look.stacks:
        logs = kinds[stack.kind].times_bearing(np.array(stack.season_factors)[season])
        true._logs[stack.name] = _stack_logs(true, stack, logs, place)
    return true


def _true_table(truth: Truth, believed: Mapping[str, Number]) -> dict[str, Number]:
    """Return the numbers with every class's lead time as it truly is.

    The truth may lie outside the range in which a grower may set what is believed.
    """
    table = dict(believed)
    for strain_class in STRAIN_CLASSES:
        key = f"{strain_class}.forced.requirement"
        table[key] = replace(table[key], value=table[key].value * truth.lead_factor)
    return table


def _most_nights(forced: ForcedNumbers) -> int:
    longest = max(forced.overnight_hours, forced.usual_hours, forced.cool_hours)
    return ceil(longest / 24)


def _every_soak(
    look: YardOutlook, logs: Fruiting, pairs: list[tuple[int, int]], seed: int
) -> Fruiting:
    """Return a kind of logs with a soak of every length on every day that permits one.

    A soak that fails though the weather suits brings nothing; the others their whole crop.
    """
    numbers = look.numbers
    kind = logs.kind
    columns = {(band.diameter, band.moisture_today): n for n, band in enumerate(look.water.bands)}
    band = columns[kind.diameter, kind.moisture_today]
    found = fruiting(
        [kind],
        look.futures,
        look.water.moisture[:, band],
        look.water.water[:, band],
        np.zeros(0, dtype=np.int64),
        done=pairs,
        lucks=[logs.weather.luck],
        seed=seed,
        numbers=numbers,
        where=hemisphere(look.yard.site.latitude),
    )
    return found.sharing(logs.weather.shared).failing()


def _one_member(logs: Fruiting) -> Fruiting:
    forced, natural = logs.forced, logs.natural
    return replace(
        logs,
        forced=replace(
            forced,
            need=forced.need[:, :1],
            pick_row=forced.pick_row[:, :1],
            length=forced.length[:, :1],
            bears=forced.bears[:, :1],
            kg=forced.kg[:, :1],
        ),
        natural=replace(
            natural,
            trigger=natural.trigger[:, :1],
            pick=natural.pick._replace(
                first_pick=natural.pick.first_pick[:, :1], aborted=natural.pick.aborted[:, :1]
            ),
            length=natural.length[:, :1],
            kg=natural.kg[:, :1],
        ),
        keeping=logs.keeping[:, :1],
    )


def _stack_logs(
    true: TrueSeason, stack: StackOutlook, logs: Fruiting, place: dict[tuple[int, int], int]
) -> _Logs:
    look = true.outlook
    flush = look.flushes.get(stack.name)
    last, ready = start_of(stack, flush, look.futures)
    start = true._after(logs, float(last[0]), int(ready[0]))
    return _Logs(logs, place, stack.effective_logs, start, flush)
