"""Water in a log: taken up, given off, and its balance day by day.

Moisture is kg water per kg dry wood where nothing else is said. The rules take arrays of any
shape, or numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from fruitcast.arrays import BoolArray, FloatArray
from fruitcast.biology.evaporation import mean_relative_humidity, open_evaporation, shaded_share
from fruitcast.biology.wood import (
    USUAL_DIAMETER,
    dry_from_wet,
    equilibrium_moisture,
    saturation_moisture,
    surface_per_dry_mass,
)
from fruitcast.errors import BalanceError, WeatherGapError
from fruitcast.topics import MoistureNumbers, WateringNumbers

# How a log takes up water and gives it off: one function for each rule.


REFERENCE_EVAPORATION = 5.0
"""A midsummer day's in the open at mid latitudes: drying is given for it. [mm/day]"""

RAINY_DAY_HOURS = 25.0
"""However hard it rains, a day adds no more than about a day in the tank would. [h]"""


def throughfall(rain: npt.ArrayLike, shade: npt.ArrayLike, *, canopy_storage: float) -> FloatArray:
    """Return the rain of a day [mm/day] that comes through the canopy. [mm/day]

    A closed one keeps `canopy_storage` [mm] of it, one that keeps off a share of the light
    (`shade`, 0..1) that share.
    """
    kept = canopy_storage * np.asarray(shade, dtype=np.float64)
    return np.maximum(np.asarray(rain, dtype=np.float64) - kept, 0.0)


def unused_share(water: npt.ArrayLike, balance: MoistureNumbers) -> FloatArray:
    """Return the share of a rainy day's greatest uptake that this much water leaves unused. [0..1]

    Water is rain through the canopy and watering, as in a gauge among the logs [mm/day]. A lying
    log catches rain on 1/pi of its bark. Of the first millimetres an empty log takes up
    `rain_uptake_share` [0..1]; the more has come, the more runs off. The shares of two waters
    multiply.
    """
    limit = balance.soak_uptake * math.sqrt(RAINY_DAY_HOURS)
    first = balance.rain_uptake_share
    return np.exp(-first / (np.pi * limit) * np.asarray(water, dtype=np.float64))


def drying_rate(
    evaporation: npt.ArrayLike, diameter: npt.ArrayLike, balance: MoistureNumbers
) -> FloatArray:
    """Return how fast a log's moisture nears equilibrium: the inverse of the time constant. [1/day]

    By the evaporation at the logs, shade taken off [mm/day], and the diameter over bark [m].
    Judgement: diffusion alone would make the time constant grow with the square of the diameter,
    a tight bark alone with its first power: the exponent lies between.
    """
    still = balance.drying_still_share
    days = balance.drying_days
    relative = np.asarray(diameter, dtype=np.float64) / USUAL_DIAMETER
    slowed = days * relative**balance.drying_diameter_exponent
    pull = np.asarray(evaporation, dtype=np.float64) / REFERENCE_EVAPORATION
    return (still + (1 - still) * pull) / slowed


def rewetting_share(
    moisture: npt.ArrayLike, balance: MoistureNumbers, out: FloatArray | None = None
) -> FloatArray:
    """Return the share of its usual uptake that an over-dry log still manages. [unitless]

    1 above the limit, below it a straight line down to none of oven-dry wood. `out` is where it
    is put, as numpy has it.
    """
    share: FloatArray = np.divide(moisture, _dry(balance.danger_below), out=out)
    return np.minimum(share, 1.0, out=out)


@lru_cache(maxsize=16)
def _dry(wet: float) -> float:
    """Return a limit on a dry basis; the rules ask for it on every day of a run."""
    return float(dry_from_wet(wet))


def taken_up(
    potential: npt.ArrayLike,
    moisture: npt.ArrayLike,
    saturation: npt.ArrayLike,
    balance: MoistureNumbers,
    into: tuple[FloatArray, FloatArray] | tuple[None, None] = (None, None),
) -> FloatArray:
    """Return what a log takes up of what an empty one would: less the fuller and the drier it is.

    All in kg/kg dry wood; never more than there is room for up to `saturation`, all pores full.
    `into` has room for the answer and for the share of `rewetting_share`: to make new arrays on
    each day of a run takes as long as to work them out.
    """
    answer, share = into
    room: FloatArray = np.subtract(1.0, np.divide(moisture, saturation, out=answer), out=answer)
    room = np.maximum(room, 0.0, out=answer)
    offered = np.multiply(potential, room, out=answer)
    return np.multiply(offered, rewetting_share(moisture, balance, share), out=answer)


def soak_potential(
    hours: npt.ArrayLike,
    diameter: npt.ArrayLike,
    specific_gravity: npt.ArrayLike,
    balance: MoistureNumbers,
) -> FloatArray:
    """Return what an empty log would take up in the tank: with the square root of the time.

    Not above saturation [kg/kg dry wood]; by the hours in water, the diameter over bark [m] and
    the basic specific gravity. The square root is published for the early uptake of hardwoods:
    Rosen, penetration of water into hardwoods, Wood and Fiber Science. The factor, for logs with
    bark, is judgement.
    """
    early = balance.soak_uptake * np.sqrt(np.asarray(hours, dtype=np.float64))
    return np.minimum(
        early * surface_per_dry_mass(diameter, specific_gravity),
        saturation_moisture(specific_gravity),
    )


def soak_gain(
    moisture: npt.ArrayLike,
    hours: npt.ArrayLike,
    diameter: npt.ArrayLike,
    specific_gravity: npt.ArrayLike,
    balance: MoistureNumbers,
) -> FloatArray:
    """Return what a log of some moisture gains in the tank. [kg/kg dry wood]"""
    potential = soak_potential(hours, diameter, specific_gravity, balance)
    return taken_up(potential, moisture, saturation_moisture(specific_gravity), balance)


# The daily water balance of logs: rain, soaking and watering in, drying out.


BLOCK = 100_000
"""Values worked out ahead of the loop over days at a time: they stay in a processor's cache."""


@dataclass(frozen=True)
class MoistureRun:
    """Log moisture through a run of days."""

    moisture: FloatArray  # (day, ...): at the end of each day [kg/kg dry wood]
    watered: FloatArray  # (day, ...): watering, done or assumed [mm/day]
    # (...): days gone by since logs were last watered, see `simulate_moisture` [day]
    unwatered: FloatArray
    # (day, ...): weighed less modelled moisture, NaN where no sample log was weighed; None when
    # none was [kg/kg dry wood]
    correction: FloatArray | None = None


def presumed_dead(moisture: npt.ArrayLike, *, dead_below: float) -> BoolArray:
    """Return whether logs are so dry that their spawn is taken for dead until inspected.

    `moisture` is on a dry basis, `dead_below` on a wet one.
    """
    return np.asarray(moisture, dtype=np.float64) < dry_from_wet(dead_below)


def simulate_moisture(
    initial: npt.ArrayLike,
    *,
    tmin: FloatArray,
    tmax: FloatArray,
    tmean: FloatArray,
    rain: FloatArray,
    rh: FloatArray | None,
    latitude: float,
    day_of_year: npt.ArrayLike,
    shade: npt.ArrayLike,
    diameter: npt.ArrayLike,
    specific_gravity: npt.ArrayLike,
    balance: MoistureNumbers,
    watering: WateringNumbers,
    shade_effect: float,
    keep_above_wet: npt.ArrayLike | None = None,
    unwatered: npt.ArrayLike | None = None,
    watered: npt.ArrayLike | None = None,
    soak_hours: npt.ArrayLike | None = None,
    weighed: npt.ArrayLike | None = None,
) -> MoistureRun:
    """Return the moisture of logs at the end of each day of a run.

    Each day's gain and loss follow from the moisture of the evening before. Any number of column
    axes may follow the day axis; weather, logs and events broadcast against each other, so that
    weather (day, 1, member) with diameters (band, 1) gives (day, band, member). Raises
    WeatherGapError if a temperature or the rain of a day is missing; BalanceError if gain less loss
    is not the change in moisture: a fault in this program.

    Parameters
    ----------
    initial : (...) float array
        Moisture on the evening before the first day. [kg/kg dry wood]
    tmin, tmax, tmean : (day, ...) float array
        Air temperature. [degC]
    rain : (day, ...) float array
        In the open. [mm/day]
    rh : (day, ...) float array or None
        Mean relative humidity; estimated from temperatures where NaN or None. [%]
    latitude : float
        North positive. [degree]
    day_of_year : (day,) int array
        [day]
    shade : (...) float array
        Share of the sky's light kept off the logs. [0..1]
    diameter : (...) float array
        [m]
    specific_gravity : (...) float array
        Basic specific gravity of the wood. [unitless]
    shade_effect : float
        Share of evaporation taken away by full shade. [0..1]
    keep_above_wet : float or array that broadcasts to (day, ...), default None
        Logs are watered on days that begin with less moisture than this; None, or NaN on a day:
        nobody waters. [kg/kg wet]
    unwatered : (...) float array, default None
        Days gone by since logs were last watered; None: long ago. [day]
    watered : (day, ...) float array, default None
        Waterings that were done. [mm/day]
    soak_hours : (day, ...) float array, default None
        Hours in the tank of a soak that starts on that day; its whole gain counts on the day. [h]
    weighed : (day, ...) float array, default None
        Moisture found by weighing sample logs on the evening of a day, else NaN. [kg/kg dry wood]

    Notes
    -----
    More rain never leaves a log drier, with the exception of logs watered by threshold: rain that
    lifts a log just over `keep_above_wet` saves it a watering.
    """
    if rain.ndim < 2:
        raise ValueError("weather needs a column axis: pass values[:, None] for a single one")
    _refuse_gaps(tmin=tmin, tmax=tmax, tmean=tmean, rain=rain)
    days = len(rain)
    done = _or_zero(watered, rain)
    through = throughfall(rain, shade, canopy_storage=watering.rain_day)
    hours = _or_zero(soak_hours, rain)
    calendar = np.asarray(day_of_year)
    humidity = np.full((days, *(1,) * (rain.ndim - 1)), np.nan) if rh is None else rh
    saturation = saturation_moisture(specific_gravity)
    most = soak_potential(RAINY_DAY_HOURS, diameter, specific_gravity, balance)
    amount, gap = watering.amount, watering.gap_days
    raised = 1 - unused_share(amount, balance)
    sun = shaded_share(shade, shade_effect=shade_effect)

    def ahead(rows: slice) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, BoolArray]:
        # All that does not depend on the state is worked out before the loop over days.
        low, high, mean, wet = tmin[rows], tmax[rows], tmean[rows], hours[rows]
        thawed = mean > 0.0  # degC: a frozen log neither dries nor takes up snow
        limit = most * thawed
        unused = limit * unused_share(through[rows] + done[rows], balance)
        potential = limit - unused
        if soak_hours is not None:
            soaked = soak_potential(wet, diameter, specific_gravity, balance)
            potential = np.minimum(potential + soaked, saturation)
        evaporation = open_evaporation(low, high, mean, latitude, calendar[rows])
        rate = drying_rate(evaporation * sun, diameter, balance)
        nearing = -np.expm1(-rate * thawed * np.clip(1 - wet / 24, 0.0, 1.0))
        resting = equilibrium_moisture(mean, mean_relative_humidity(low, high, humidity[rows]))
        mild = (mean > watering.not_below) & (wet == 0)
        return potential, unused, nearing, resting, mild

    keep = None
    if keep_above_wet is not None:
        level = dry_from_wet(keep_above_wet)
        keep = np.broadcast_to(level, (days, *np.shape(level)[1:]))
    columns = np.broadcast_shapes(
        *(np.shape(values) for values in (initial, shade, diameter, specific_gravity)),
        *(
            values.shape[1:]
            for values in (tmin, tmax, tmean, rain, humidity, calendar, done, hours)
        ),
    )
    rows_at_a_time = max(BLOCK // max(int(np.prod(columns)), 1), 1)
    begin = np.minimum(np.broadcast_to(np.asarray(initial, dtype=np.float64), columns), saturation)
    state = begin.copy()
    moisture, account = np.empty((days, *columns)), np.zeros(columns)
    water = np.array(np.broadcast_to(done, (days, *columns)))
    seen = None if weighed is None else np.broadcast_to(weighed, (days, *columns))
    correction = None if seen is None else np.full((days, *columns), np.nan)
    found_on = set()
    if weighed is not None:
        found_on = set(np.argwhere(np.isfinite(weighed))[:, 0].tolist())
    done_on = set(np.nonzero(done > 0)[0].tolist())
    # Day of the run on which each was last watered; negative before it.
    last = -np.array(np.broadcast_to(gap if unwatered is None else unwatered, columns), dtype=float)
    now = np.empty(columns, dtype=bool)
    into, out, drying, room, uptake, share = (np.empty(columns) for _ in range(6))
    for day in range(days):
        row = day % rows_at_a_time
        if row == 0:
            potential, unused, nearing, resting, mild = ahead(slice(day, day + rows_at_a_time))
        offered = potential[row]
        if keep is not None:
            np.less(state, keep[day], out=now)
            thirsty = 1 in now.tobytes()  # any() takes five times as long
            if thirsty:
                now &= mild[row]
                now &= day - last >= gap
                thirsty = 1 in now.tobytes()
            if thirsty:
                offered = np.minimum(offered + now * raised * unused[row], saturation)
                water[day] += amount * now
            if thirsty or day in done_on:
                last[water[day] > 0] = day
        np.subtract(state, resting[row], out=drying)
        drying *= nearing[row]
        np.maximum(drying, 0.0, out=out)
        # Wood drier than the air takes water up from it: a negative drying.
        np.minimum(drying, 0.0, out=drying)
        taken_up(offered, state, saturation, balance, (uptake, share))
        np.subtract(uptake, drying, out=into)
        np.subtract(saturation, state, out=room)
        np.minimum(into, room, out=into)
        for sum_ in (state, account):
            sum_ += into
            sum_ -= out
        if day in found_on and seen is not None and correction is not None:
            found = np.isfinite(seen[day])
            correction[day] = np.where(found, np.minimum(seen[day], saturation) - state, np.nan)
            state += np.where(found, correction[day], 0.0)
        moisture[day] = state

    corrected = 0.0 if correction is None else np.nansum(correction, axis=0)
    _check_balance(state - begin, account + corrected)
    gone_by = days - last if keep is not None else -last
    return MoistureRun(moisture, water, gone_by, correction)


def _or_zero(event: npt.ArrayLike | None, like: FloatArray) -> FloatArray:
    if event is None:
        return np.zeros((len(like), *(1,) * (like.ndim - 1)))
    return np.asarray(event, dtype=np.float64)


def _refuse_gaps(**weather: FloatArray) -> None:
    for name, values in weather.items():
        missing = np.isnan(values)
        if missing.any():
            day = int(np.argwhere(missing)[0][0])
            raise WeatherGapError(
                f"Log moisture: {name} is missing on day {day} of the run ({int(missing.sum())} "
                "values in all). Fill the weather's gaps first; a missing rain is not a dry day."
            )


def _check_balance(change: FloatArray, account: FloatArray) -> None:
    # Rounding of a thousand steps stays far below this; written so that NaN fails too.
    if not np.all(np.abs(change - account) <= 1e-9):
        worst = float(np.max(np.abs(change - account)))
        raise BalanceError(
            f"The water balance of the logs is out by {worst:.3g} kg/kg. This is a fault in the "
            "program, not in your data: please report it and send the yard's folder along."
        )
