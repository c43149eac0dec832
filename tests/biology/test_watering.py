"""Watering advice: when, how much, why, and how likely later."""

from __future__ import annotations

import numpy as np
import pytest

from fruitcast.biology.watering import (
    Thirst,
    _reason,
    days_without_rain,
    sample_log_wants_water,
    thirst,
    watering_advice,
)
from fruitcast.biology.wood import dry_from_wet
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()
CATCH = 0.125 * 1.0


def future(days=30, members=4, wet=0.40, rain=0.0, tmean=20.0):
    """Logs, rain and temperature that stay as they are."""
    return [np.full((days, members), v, dtype=float) for v in (dry_from_wet(wet), rain, tmean)]


def advise(moisture, rain, tmean, today=10, known=20):
    return watering_advice(
        moisture,
        rain,
        tmean,
        today=today,
        known=known,
        keep_above_wet=0.35,
        catch=CATCH,
        watering=NUMBERS.watering,
        balance=NUMBERS.moisture,
    )


def test_days_without_rain_count_from_the_last_real_rain():
    rain = np.array([0, 5, 0, 1.9, 0, 2.0, 0])[:, None]
    assert days_without_rain(rain, rain_day=NUMBERS.watering.rain_day)[:, 0].tolist() == [
        1,
        0,
        1,
        2,
        3,
        0,
        1,
    ]


def test_dry_spell_needs_more_than_seven_days_over_24_degrees():
    """Hill 2011, Univ. of Kentucky FOR-85: more than 7 days without rain, above all over 24 C."""
    moisture, rain, tmean = future(members=1, tmean=26.0)
    rain[4] = 20
    code = thirst(moisture, rain, tmean, 0.35, NUMBERS.watering)[:, 0]
    # Days 5 to 12 are eight days without rain, so day 13 is the first to begin after more than 7.
    assert np.flatnonzero(code == Thirst.DRY_SPELL)[0] == 13
    assert not thirst(moisture, rain, tmean - 3, 0.35, NUMBERS.watering).any()
    rain[4::7] = 20
    assert not thirst(moisture, rain, tmean, 0.35, NUMBERS.watering).any(), (
        "seven days are not too long"
    )


def test_dry_log_wants_water_whatever_the_rain_but_not_in_the_cold():
    moisture, rain, tmean = future(members=1, wet=0.34, rain=3.0)
    assert np.all(thirst(moisture, rain, tmean, 0.35, NUMBERS.watering)[1:] == Thirst.DRY_LOG)
    assert not thirst(moisture, rain, tmean - 18, 0.35, NUMBERS.watering).any()
    coldest = np.full_like(tmean, NUMBERS.watering.not_below)
    assert not thirst(moisture, rain, coldest, 0.35, NUMBERS.watering).any()
    assert thirst(moisture, rain, coldest + 0.01, 0.35, NUMBERS.watering)[1:].all()


def test_advice_names_day_amount_and_reason():
    moisture, rain, tmean = future()
    rain[:] = 4
    moisture[12:] = dry_from_wet(0.336)
    moisture[13:] = dry_from_wet(0.28)
    advice = advise(moisture, rain, tmean)
    assert advice.day == 13
    assert not advice.urgent
    assert advice.moisture_wet == pytest.approx(0.336)
    assert advice.reason == "log moisture 34% (wet basis) is below 35%"
    assert advice.litres_per_log == pytest.approx(12.5 * CATCH)
    assert advice.hours == pytest.approx(12.5 / 6)
    assert advice.chance_by_day.tolist() == [0.0] * 3 + [1.0] * 17


@pytest.mark.parametrize(
    ("wet", "words"),
    [(0.29, "too dry to leave"), (0.24, "below 25% the spawn may die"), (0.22, "presumed dead")],
)
def test_advice_is_urgent_below_30_per_cent(wet, words):
    advice = advise(*future(wet=wet))
    assert advice.day == 10
    assert advice.urgent
    assert words in advice.reason


def test_advice_for_a_dry_spell_counts_its_days():
    moisture, rain, tmean = future(tmean=27.0)
    rain[6] = 15
    advice = advise(moisture, rain, tmean)
    assert advice.day == 15
    assert advice.reason == "no rain for 8 days in warm weather"


def test_beyond_the_forecast_there_is_a_chance_and_no_day():
    moisture, rain, tmean = future()
    rain[:] = 4
    moisture[22:, 0] = moisture[25:, 1] = dry_from_wet(0.30)
    advice = advise(moisture, rain, tmean)
    assert advice.day is None
    assert advice.reason == ""
    chance = advice.chance_by_day
    assert chance[23 - 10 - 1] == 0
    assert chance[23 - 10] == 0.25
    assert chance[-1] == 0.5
    assert np.all(np.diff(chance) >= 0)


def test_without_a_forecast_no_day_is_named_however_dry_the_logs():
    advice = advise(*future(wet=0.22), known=10)
    assert advice.day is None
    assert not advice.urgent
    assert advice.chance_by_day.tolist() == [1.0] * 20


def test_moist_logs_in_showery_weather_want_nothing():
    advice = advise(*future(rain=4.0))
    assert advice.day is None
    assert not advice.urgent
    assert not advice.chance_by_day.any()


def test_sample_log_rule():
    """Hill, University of Kentucky FOR-83: water when more than 10 % lighter."""
    assert sample_log_wants_water(29, 35, sample_log_loss=NUMBERS.watering.sample_log_loss)
    assert not sample_log_wants_water(32, 35, sample_log_loss=NUMBERS.watering.sample_log_loss)


def test_a_sample_log_lighter_by_just_the_share_wants_nothing_yet():
    numbers = NUMBERS.with_overrides({"watering.sample_log_loss": 0.25})
    assert not sample_log_wants_water(3.0, 4.0, sample_log_loss=numbers.watering.sample_log_loss)
    assert sample_log_wants_water(2.999, 4.0, sample_log_loss=numbers.watering.sample_log_loss)


def test_a_single_future_is_advised_like_many():
    one, many = (advise(*future(wet=0.34, members=members)) for members in (1, 4))
    for what in ("day", "moisture_wet", "reason"):
        assert getattr(one, what) == getattr(many, what)
    dry = future(tmean=27.0, members=1)
    dry[1][6] = 15
    assert advise(*dry).reason == "no rain for 8 days in warm weather"


def test_logs_just_at_the_level_to_keep_want_nothing():
    moisture, rain, tmean = future(members=1, wet=0.35, rain=4.0)
    assert not thirst(moisture, rain, tmean, 0.35, NUMBERS.watering).any()
    assert thirst(moisture - 1e-9, rain, tmean, 0.35, NUMBERS.watering)[1:].all()


def test_each_level_s_words_begin_below_it():
    def said(wet):
        return _reason(Thirst.DRY_LOG, wet, 0, 0.35, NUMBERS.watering, NUMBERS.moisture)

    dead, danger = NUMBERS.moisture.dead_below, NUMBERS.moisture.danger_below
    urgent = NUMBERS.watering.urgent_below
    assert dead < danger < urgent
    assert "presumed dead" in said(dead - 1e-6)
    assert "may die" in said(dead) and "may die" in said(danger - 1e-6)
    assert "too dry to leave" in said(danger) and "too dry to leave" in said(urgent - 1e-6)
    assert said(urgent) == "log moisture 30% (wet basis) is below 35%"


def test_a_log_hardly_below_the_level_is_said_to_be_just_below_it():
    def words(wet):
        return _reason(Thirst.DRY_LOG, wet, 0, 0.35, NUMBERS.watering, NUMBERS.moisture)

    assert words(0.3496) == "log moisture (wet basis) is down to 35%"
    assert words(0.3449) == "log moisture 34% (wet basis) is below 35%"
