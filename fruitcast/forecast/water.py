"""Moisture of the logs: so far, today and what is known of it, through every possible future."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property, partial
from typing import Any

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.moisture import MoistureRun, presumed_dead, simulate_moisture
from fruitcast.biology.run_length import true_at
from fruitcast.biology.wood import fresh_moisture, saturation_moisture
from fruitcast.diary.state import StackState
from fruitcast.forecast.members import Ensemble, day_of_year
from fruitcast.numbers import Numbers
from fruitcast.topics import CareNumbers, MoistureNumbers
from fruitcast.weather.daily import VARIABLES, DailyWeather
from fruitcast.yard.model import Site, Stack, Yard

BAND_WIDTH = 0.025
"""Stacks whose logs differ by less share one simulation: a grid of the calculation. [m]"""

COMMON_WOOD = "other hardwood"

MOISTURE_STEP = 0.06
"""Stacks that differ from others of their size by more get a level of their own, in such
steps: a grid of the calculation, about two per cent wet, so that stacks go on sharing their
simulations. [kg/kg dry wood]"""


@dataclass(frozen=True)
class Band:
    """Stacks whose logs are about equally thick share one account of moisture."""

    diameter: float  # of the logs in the middle of the band [m]
    # Moisture on the evening before today, where the diary knows it to differ from that of other
    # logs of the size [kg/kg dry wood]
    moisture_today: float | None = None


def band_of(diameter: float) -> Band:
    """Return the band of logs of a diameter over bark [m], moisture left aside."""
    return Band(round(max(round(diameter / BAND_WIDTH), 1) * BAND_WIDTH, 4))


def moisture_in(site: Site, numbers: Numbers) -> partial[MoistureRun]:
    """Return `simulate_moisture` as logs dry and are watered at a site."""
    return partial(
        simulate_moisture,
        latitude=site.latitude,
        shade=site.shade,
        balance=numbers.moisture,
        watering=numbers.watering,
        shade_effect=numbers.log.shade_effect,
    )


@dataclass(frozen=True)
class PastWater:
    """Moisture on the days before today."""

    first: date  # date of the first row
    bands: tuple[Band, ...]
    # tmin, tmax, tmean, (day,): daily temperatures [degC]
    tmin: FloatArray
    tmax: FloatArray
    tmean: FloatArray
    # (day, band): of logs of each size, at the end of each day; nothing of the diary counts but
    # what the settings say of watering [kg/kg dry wood]
    moisture: FloatArray
    sprinkled: FloatArray  # (day, band): waterings assumed of logs of each size [mm/day]
    # (day, stack): of each stack, with all that was recorded; fresh wood before its inoculation
    # [kg/kg dry wood]
    by_stack: FloatArray
    # (day, stack): waterings recorded or, where the diary is silent, assumed [mm/day]
    watered: FloatArray
    # (day, stack): weighed less modelled moisture; NaN where no sample log was weighed [kg/kg dry
    # wood]
    correction: FloatArray
    unwatered: FloatArray  # (band + stack,): days gone by since logs were last watered [day]

    @property
    def days(self) -> int:
        """Number of rows."""
        return len(self.tmean)

    @property
    def evening(self) -> FloatArray:
        """Moisture on the last evening, of bands and stacks: (band + stack,). [kg/kg dry wood]"""
        return np.concatenate([self.moisture[-1], self.by_stack[-1]])

    @cached_property
    def weighed_last(self) -> IntArray:
        """Row of the last weighing of each stack; -1 where there was none."""
        row, stack = true_at(np.isfinite(self.correction))
        last = np.full(self.correction.shape[1], -1)
        last[stack] = row  # they rise
        return last

    def row(self, day: date) -> int:
        """Return the row of a day; negative before the account, its length from today on."""
        return min((day - self.first).days, self.days)

    def then(self, later: PastWater) -> PastWater:
        """Return the account with that of the same stacks on the days that follow."""
        names = (
            "tmin",
            "tmax",
            "tmean",
            "moisture",
            "sprinkled",
            "by_stack",
            "watered",
            "correction",
        )
        days: dict[str, Any] = {
            name: np.concatenate([getattr(self, name), getattr(later, name)]) for name in names
        }
        return replace(later, first=self.first, **days)


@dataclass(frozen=True)
class FutureWater:
    """Moisture and water of each band in every member; rows as in `Ensemble`."""

    bands: tuple[Band, ...]
    moisture: FloatArray  # (day, band, member): at the end of each day [kg/kg dry wood]
    water: FloatArray  # (day, band, member): rain and watering: what the triggers see [mm/day]

    def first_rows(self, days: int) -> FutureWater:
        """Return the same on some first days."""
        return replace(self, moisture=self.moisture[:days], water=self.water[:days])


def past_water(
    weather: DailyWeather,
    yard: Yard,
    stacks: Sequence[tuple[Stack, StackState]],
    first: date,
    today: date,
    numbers: Numbers,
    known: PastWater | None = None,
) -> PastWater:
    """Return the moisture of each size band and each stack from a day on to yesterday.

    Soaks, waterings and weighed sample logs of the diary count for their stack. Stacks begin
    fresh on the day of inoculation, those older than the account on its first day. It begins
    with the weather, complete up to yesterday, where that begins later than `first`. For a while
    after a recorded watering the diary is taken to be complete: the settings' own are not assumed.
    `known` is the same stacks' account up to an earlier day, to go on from: of the days before that
    one nothing more has been recorded since.
    """
    if known is not None and known.first + timedelta(known.days) == today:
        return known
    bands = sorted({band_of(stack.diameter) for stack, _ in stacks}, key=lambda band: band.diameter)
    first = max(first, weather.start) if known is None else known.first + timedelta(known.days)
    lived = weather.cut(first, today)
    table = {name: lived.values[name] for name in VARIABLES}
    wood = [COMMON_WOOD] * len(bands) + [stack.tree for stack, _ in stacks]
    gravity = np.array([numbers.tree(tree).specific_gravity for tree in wood])
    fresh = fresh_moisture(np.array([numbers.tree(tree).density for tree in wood]), gravity)
    usual, complete = numbers.forced.usual_hours, int(numbers.moisture.evidence_days)
    marks = (first, lived.days, len(bands), stacks, fresh, yard.keep_above)
    events = _Events(*marks, usual, complete)
    run = moisture_in(yard.site, numbers)(
        fresh if known is None else known.evening,
        **{name: values[:, None] for name, values in table.items()},
        day_of_year=day_of_year(first, lived.days)[:, None],
        diameter=np.array([b.diameter for b in bands] + [s.diameter for s, _ in stacks]),
        specific_gravity=gravity,
        keep_above_wet=events.keep,
        unwatered=None if known is None else known.unwatered,
        watered=events.watered,
        soak_hours=events.hours,
        weighed=events.weighed,
    )
    assert run.correction is not None
    count = len(bands)
    by_stack = np.where(events.before_birth, fresh, run.moisture)[:, count:]
    correction = np.where(events.seen, run.correction, np.nan)[:, count:]
    gone_on = PastWater(
        first,
        tuple(bands),
        table["tmin"],
        table["tmax"],
        table["tmean"],
        run.moisture[:, :count],
        run.watered[:, :count],
        by_stack,
        run.watered[:, count:],
        correction,
        run.unwatered,
    )
    return gone_on if known is None else known.then(gone_on)


class _Events:
    """What was done to each column of the account: the bands first, then the stacks."""

    def __init__(
        self,
        first: date,
        days: int,
        bands: int,
        stacks: Sequence[tuple[Stack, StackState]],
        fresh: FloatArray,
        keep_above: float | None,
        usual: float,
        complete: int,
    ) -> None:
        self._first, self._days = first, days
        shape = (days, bands + len(stacks))
        self.watered, self.hours = np.zeros(shape), np.zeros(shape)
        self.weighed = np.full(shape, np.nan)
        self.seen, self.before_birth = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
        keep = None if keep_above is None else np.full(shape, keep_above)
        for column, (stack, state) in enumerate(stacks, start=bands):
            born = (stack.inoculated - first).days
            self.before_birth[: max(born, 0), column] = True
            self._at(self.weighed, column, stack.inoculated, fresh[column])
            for on, amount in state.watered:
                self._at(self.watered, column, on, amount, add=True)
                row = (on - first).days
                if keep is not None:
                    keep[max(row, 0) : max(row + complete, 0), column] = np.nan
            for soak in state.soaks:
                self._at(self.hours, column, soak.on, soak.hours or usual)
            for on, seen in state.moisture_seen:
                self._at(self.weighed, column, on, seen)
                self._at(self.seen, column, on, True)
        self.keep = keep

    def _at(
        self, table: npt.NDArray, column: int, on: date, value: float, *, add: bool = False
    ) -> None:
        row = (on - self._first).days
        if 0 <= row < self._days:
            table[row, column] = table[row, column] + value if add else value


def bands_of_stacks(
    past: PastWater, stacks: Sequence[tuple[Stack, StackState]], today: date, evidence_days: float
) -> list[Band]:
    """Return the band of each stack, with a level of its own where the diary tells it apart.

    The stacks are in the order of `past`. Only weighings and waterings of the last `evidence_days`
    tell a stack apart.
    """
    found = []
    since = today - timedelta(days=int(evidence_days))
    recent = past.correction[max(past.row(since), 0) :]
    for column, (stack, state) in enumerate(stacks):
        band = band_of(stack.diameter)
        own = float(past.by_stack[-1, column])
        usual = float(past.moisture[-1, past.bands.index(band)])
        watered = any(since <= on < today for on, _ in state.watered)
        soaked = any(since <= soak.on for soak in state.soaks)
        # A soak wets any log for a while: only a weighing tells such a stack apart.
        told = (watered and not soaked) or _surprising(recent[:, column])
        if told and abs(own - usual) > MOISTURE_STEP:
            moisture = round(round(own / MOISTURE_STEP) * MOISTURE_STEP, 4)
            band = Band(band.diameter, moisture)
        found.append(band)
    return found


def _surprising(corrections: FloatArray) -> bool:
    weighed = corrections[np.isfinite(corrections)]
    return bool(np.any(np.abs(weighed) > MOISTURE_STEP))


def future_water(
    futures: Ensemble, yard: Yard, past: PastWater, bands: Sequence[Band], numbers: Numbers
) -> FutureWater:
    """Return moisture and water of each band in every member.

    The last row of `past` is the day before today; late days that nobody knows yet are reckoned
    anew in every member. A band with a level stands on it on the evening before today.
    """
    diameters = [band.diameter for band in past.bands]
    column = [diameters.index(band.diameter) for band in bands]
    members, known = len(futures.years), futures.lookback - futures.late
    begin, end = past.days - futures.lookback, past.days - futures.late
    before, sprinkled = past.moisture[begin:end, column], past.sprinkled[begin:end, column]
    own = [np.nan if band.moisture_today is None else band.moisture_today for band in bands]
    gravity = numbers.tree(COMMON_WOOD).specific_gravity
    told = np.minimum(own, saturation_moisture(gravity))
    if futures.late:
        # As much wetter or drier than others of its size as it is today.
        told += before[-1] - past.moisture[-1, column]
        told = np.clip(told, 0.0, saturation_moisture(gravity))
    before[-1] = np.where(np.isnan(own), before[-1], told)
    table = {name: getattr(futures, name)[known:, None, :] for name in VARIABLES}
    run = moisture_in(yard.site, numbers)(
        np.repeat(before[-1, :, None], members, axis=1),
        **table,
        day_of_year=futures.day_of_year[known:, None, None],
        diameter=np.array([band.diameter for band in bands])[:, None],
        specific_gravity=gravity,
        keep_above_wet=yard.keep_above,
        unwatered=np.maximum(past.unwatered[column, None] - futures.late, 0.0),
    )

    def from_the_first_row(so_far: FloatArray, coming: FloatArray) -> FloatArray:
        return np.concatenate([np.repeat(so_far[:, :, None], members, axis=2), coming])

    return FutureWater(
        tuple(bands),
        from_the_first_row(before, run.moisture),
        futures.rain[:, None, :] + from_the_first_row(sprinkled, run.watered),
    )


# How wet each stack is today, and what is known of it: dryness that kills, sample logs.


@dataclass(frozen=True)
class Weighing:
    """The last weighing of a stack's sample logs, beside what the model had for that evening."""

    on: date  # day of the weighing
    # found, modelled: log moisture [kg/kg dry wood]
    found: float
    modelled: float


@dataclass(frozen=True)
class Dampness:
    """How wet a stack is today, and what is known of it."""

    moisture: float  # log moisture on the evening before today [kg/kg dry wood]
    # First day on which it was so dry that its spawn is presumed dead, with no sign of life since;
    # None when there was none
    dry_since: date | None = None
    weighing: Weighing | None = None  # the last one


def dampness_of(
    column: int,
    stack: Stack,
    state: StackState,
    past: PastWater,
    today: date,
    balance: MoistureNumbers,
    care: CareNumbers,
) -> Dampness:
    """Return how wet one stack is, by its column in `past`, which ends on the day before today.

    An inspection, pins or mushrooms show that it lives. A drought longer ago than a look is asked
    for is not held against it.
    """
    moisture = past.by_stack[:, column]
    seen = [pick.on for pick in state.picks]
    seen += [
        day
        for day in (state.inspected_on, state.pins_on, state.fruiting_on, state.spawn_run_seen_on)
        if day is not None
    ]
    back = timedelta(days=int(care.asked_after_days))
    looked_at = max(stack.inoculated, today - back)
    begin = max(past.row(max([looked_at, *seen])), 0)
    dry = presumed_dead(moisture[begin:], dead_below=balance.dead_below)
    if seen and max(seen) >= looked_at:
        # Seen alive in that state: only if it dries out anew.
        dry &= np.maximum.accumulate(~dry)
    dry_rows = np.flatnonzero(dry)
    weighing: Weighing | None = None
    row = int(past.weighed_last[column])
    if row >= 0:
        found = float(moisture[row])
        on = past.first + timedelta(days=row)
        weighing = Weighing(on, found, found - float(past.correction[row, column]))
    return Dampness(
        float(moisture[-1]),
        past.first + timedelta(days=begin + int(dry_rows[0])) if len(dry_rows) else None,
        weighing,
    )
