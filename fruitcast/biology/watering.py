"""When to water logs, how much, and why; how likely that is further ahead."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from fruitcast.arrays import FloatArray, IntArray
from fruitcast.biology.wood import dry_from_wet, wet_from_dry
from fruitcast.topics import MoistureNumbers, WateringNumbers

ASKED_BY = 0.5
"""Share of the possible futures that must want water on a forecast day. Judgement."""


class Thirst(IntEnum):
    """Why logs want water."""

    NONE = 0
    DRY_LOG = 1
    DRY_SPELL = 2


@dataclass(frozen=True)
class WateringAdvice:
    """What to water and when, for one stack."""

    # Row of the first day, today or later, on which the known weather asks for water
    day: int | None
    urgent: bool  # whether the logs are below the level under which they should never fall
    moisture_wet: float | None  # log moisture as that day begins [kg/kg wet]
    amount: float  # one watering [mm]
    hours: float  # the time that takes with the sprinkler set in the numbers [h]
    litres_per_log: float  # what falls on each log [litre]
    reason: str  # the cause in words; empty when no water is wanted
    # (day,): share of members that want water on or before each day from today on, if none is
    # given
    chance_by_day: FloatArray


def days_without_rain(rain: FloatArray, *, rain_day: float) -> IntArray:
    """Return how many days in a row, up to and with each day, brought no rain to speak of. [day]

    `rain` is rain and watering, (day, ...) [mm/day]; less than `rain_day` is none.
    """
    row = np.arange(1, len(rain) + 1).reshape(-1, *(1,) * (rain.ndim - 1))
    last_wet = np.maximum.accumulate(np.where(rain >= rain_day, row, 0), axis=0)
    return row - last_wet


def thirst(
    moisture: FloatArray,
    rain: FloatArray,
    tmean: FloatArray,
    keep_above_wet: float,
    watering: WateringNumbers,
) -> IntArray:
    """Return whether and why logs want water on each day, from the days before: `Thirst` codes.

    All are (day, ...): moisture at the end of each day [kg/kg dry wood], rain and watering
    [mm/day], mean temperature [degC]. Logs drier than `keep_above_wet` want water [kg/kg wet]; the
    first day never does, as nothing is known before it. A dry log counts before a dry spell.

    More than 7 days without rain, above all over 24 degC: Hill 2011, University of Kentucky
    FOR-85. The temperature is taken as the mean of as many days as the rule counts.
    """
    window = int(watering.dry_days)
    shape = np.broadcast_shapes(moisture.shape, rain.shape, tmean.shape)
    dry, warm_mean = np.zeros(shape, dtype=bool), np.full(tmean.shape, -np.inf)
    dry[1:] = np.broadcast_to(moisture < dry_from_wet(keep_above_wet), shape)[:-1]
    if len(tmean) >= window:
        total = np.cumsum(np.concatenate([np.zeros_like(tmean[:1]), tmean]), axis=0)
        warm_mean[window - 1 :] = (total[window:] - total[:-window]) / window
    spell = np.zeros(shape, dtype=bool)
    long_dry = days_without_rain(rain, rain_day=watering.rain_day) > window
    spell[1:] = np.broadcast_to(long_dry & (warm_mean > watering.warm_above), shape)[:-1]
    code = np.where(dry, Thirst.DRY_LOG, np.where(spell, Thirst.DRY_SPELL, Thirst.NONE))
    return np.where(tmean > watering.not_below, code, Thirst.NONE)


def sample_log_wants_water(weight: float, earlier_weight: float, *, sample_log_loss: float) -> bool:
    """Return whether a sample log has lost so large a share that its stack wants water.

    By its weight and the earlier one, in any one unit. Hill, University of Kentucky FOR-83.
    """
    return 1 - weight / earlier_weight > sample_log_loss


def watering_advice(
    moisture: FloatArray,
    rain: FloatArray,
    tmean: FloatArray,
    *,
    today: int,
    known: int,
    keep_above_wet: float,
    catch: float,
    watering: WateringNumbers,
    balance: MoistureNumbers,
) -> WateringAdvice:
    """Return when one stack wants water within the known weather, and how likely beyond.

    Moisture if nobody waters from today on, rain with the waterings done and mean temperature, as
    in `thirst`, are (day, member): some days of the past, then from the row `today` on the possible
    futures. Rows before `known` are observed or forecast: a day counts on which at least half of
    the members ask for water. `catch` is a log's area seen from above: diameter times length [m2].
    """
    why = thirst(moisture, rain, tmean, keep_above_wet, watering)[today:]
    by_day = np.maximum.accumulate(why > 0, axis=0).mean(axis=1)
    near = np.flatnonzero((why[: max(known - today, 0)] > 0).mean(axis=1) >= ASKED_BY)
    amount = watering.amount
    day = today + int(near[0]) if near.size else None
    wet, urgent, reason = None, False, ""
    if day is not None:
        member = int(np.argmax(why[day - today] > 0))
        cause = Thirst(int(why[day - today, member]))
        wet = float(wet_from_dry(moisture[day - 1, member]))
        urgent = wet < watering.urgent_below
        spell = int(days_without_rain(rain[:day, member], rain_day=watering.rain_day)[-1])
        reason = _reason(cause, wet, spell, keep_above_wet, watering, balance)
    return WateringAdvice(
        day=day,
        urgent=urgent,
        moisture_wet=wet,
        amount=amount,
        hours=amount / watering.sprinkler_rate,
        litres_per_log=amount * catch,
        reason=reason,
        chance_by_day=by_day,
    )


def _reason(
    cause: Thirst,
    wet: float,
    spell: int,
    keep_above_wet: float,
    watering: WateringNumbers,
    balance: MoistureNumbers,
) -> str:
    if cause is Thirst.DRY_SPELL:
        return f"no rain for {spell} days in warm weather"
    words = f"log moisture {wet:.0%} (wet basis) is below {keep_above_wet:.0%}"
    if f"{wet:.0%}" == f"{keep_above_wet:.0%}":
        # As it reads in every table beside it.
        words = f"log moisture (wet basis) is down to {keep_above_wet:.0%}"
    dead, danger = balance.dead_below, balance.danger_below
    if wet < dead:
        return f"{words}; below {dead:.0%} the spawn is presumed dead: inspect the logs first"
    if wet < danger:
        return f"{words}; below {danger:.0%} the spawn may die"
    if wet < watering.urgent_below:
        return f"{words}, and too dry to leave: water until it is back"
    return words
