"""What sets off a natural flush, when it is picked, when its buds die."""

import numpy as np
import pytest

from fruitcast.biology.forced import thermal_time
from fruitcast.biology.natural import (
    NaturalPick,
    cooler_than_before,
    flush_chain,
    moves_into_range,
    natural_first_pick,
    rain_after_drier_weather,
    set_off_row,
    trigger_days,
)
from fruitcast.biology.wood import dry_from_wet
from fruitcast.numbers import default_numbers

NUMBERS = default_numbers()
DAYS = 80


def spell(rain_on=(), celsius=18.0, cool_on=(), cool=14.0, wet=0.42, nights=8.0):
    """Steady weather with some rainy and some cool days, one column."""
    tmean = np.full((DAYS, 1), celsius)
    tmean[list(cool_on)] = cool
    rain = np.zeros((DAYS, 1))
    for day, amount in rain_on:
        rain[day] = amount
    return {
        "tmin": np.minimum(tmean - 5, nights) if nights is not None else tmean - 5,
        "tmean": tmean,
        "rain": rain,
        "moisture": np.full((DAYS, 1), float(dry_from_wet(wet))),
    }


def triggered(strain_class, weather):
    return np.flatnonzero(
        trigger_days(
            NUMBERS.strain(strain_class).natural,
            **weather,
            natural=NUMBERS.natural,
            urgent_below=NUMBERS.watering.urgent_below,
        )[:, 0]
    ).tolist()


def test_enough_rain_over_three_days_counts_and_a_little_less_does_not():
    rain = np.zeros((30, 2))
    rain[20:23, 0] = [6, 8, 6]
    rain[20:23, 1] = [6, 8, 5.9]
    assert np.flatnonzero(rain_after_drier_weather(rain, NUMBERS.natural)[:, 0]).tolist() == [22]
    assert not rain_after_drier_weather(rain, NUMBERS.natural)[:, 1].any()


def test_rain_spread_over_four_days_does_not_count():
    rain = np.zeros((30, 1))
    rain[20:24] = 5.0
    assert not rain_after_drier_weather(rain, NUMBERS.natural).any()


def test_rain_in_a_wet_spell_does_not_count():
    rain = np.zeros((40, 1))
    rain[5:20] = 6.0  # 60 mm in the ten days before
    rain[20] = 25.0
    fires = np.flatnonzero(rain_after_drier_weather(rain, NUMBERS.natural)[:, 0])
    assert 20 not in fires and 22 not in fires
    rain[5:20] = 4.0
    assert rain_after_drier_weather(rain, NUMBERS.natural)[20, 0]


def test_the_change_of_temperature_is_measured_against_the_days_before_the_rain():
    tmean = np.full((30, 1), 18.0)
    tmean[20:23] = 16.9
    assert np.flatnonzero(cooler_than_before(tmean, 1.0, NUMBERS.natural)[:, 0]).tolist() == [22]
    assert not cooler_than_before(np.full((30, 1), 18.0), 1.0, NUMBERS.natural).any()


def test_the_table_s_first_days_are_no_change():
    assert not cooler_than_before(np.full((5, 1), 10.0), 0.0, NUMBERS.natural)[:3].any()
    assert not moves_into_range(np.full((5, 1), 10.0), 7, 12, NUMBERS.natural).any()


@pytest.mark.parametrize("strain_class", ["wide-range", "warm-weather"])
def test_rain_and_cooling_after_dry_weather_set_a_flush_off(strain_class):
    weather = spell(rain_on=[(40, 25.0)], cool_on=range(40, 44), cool=16.0)
    assert 42 in triggered(strain_class, weather)
    assert all(40 <= day <= 42 for day in triggered(strain_class, weather))


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"rain_on": [(40, 12.0)]}, "one watering is not enough"),
        ({"wet": 0.28}, "a dry log forms no buds"),
        ({"celsius": 27.0, "cool": 24.0}, "too hot even in the break"),
        ({"celsius": 9.0, "cool": 6.0}, "too cold"),
        ({"cool_on": ()}, "rain without a change of temperature"),
    ],
)
def test_each_condition_is_needed(change, why):
    weather = {"rain_on": [(40, 25.0)], "cool_on": range(40, 44), "cool": 15.0} | change
    assert triggered("wide-range", spell(**weather)) == [], why


def test_in_summer_a_real_break_is_needed():
    hot = spell(rain_on=[(40, 30.0)], celsius=25.0, cool_on=range(40, 44), cool=23.0)
    broken = spell(rain_on=[(40, 30.0)], celsius=25.0, cool_on=range(40, 44), cool=17.0)
    assert triggered("wide-range", hot) == []
    assert triggered("wide-range", broken) != []
    assert triggered("warm-weather", hot) != []


def test_cold_weather_strains_follow_temperature_and_not_rain():
    # Published: Bruhn, Mihail & Pickens 2009, Bioresource Technology 100(24):6472-6480.
    falling = spell(celsius=18.0, cool_on=range(40, DAYS), cool=9.0, nights=5.0)
    rising = spell(celsius=3.0, cool_on=range(40, DAYS), cool=9.0, nights=4.0)
    steady = spell(rain_on=[(40, 40.0)], celsius=9.0, nights=4.0)
    assert triggered("cold-weather", falling) != []
    assert triggered("cold-weather", rising) != []
    assert triggered("cold-weather", steady) == []
    soaked = dict(falling, rain=falling["rain"] + 9.0)
    assert triggered("cold-weather", soaked) == triggered("cold-weather", falling)


def test_just_as_much_cooler_as_it_takes_is_enough():
    # Whole days at 20 degC, then at 16.
    tmean = np.full((DAYS, 1), 20.0)
    tmean[40:] = 16.0
    wet = int(NUMBERS.natural.wet_days)
    found = np.flatnonzero(cooler_than_before(tmean, 4.0, NUMBERS.natural)[:, 0]).tolist()
    assert found == [40 + wet - 1]  # all days of the wetting are at 16, those before them at 20
    assert not cooler_than_before(tmean, 4.001, NUMBERS.natural).any()
    # Nothing is known of the days before the table.
    assert not cooler_than_before(tmean[40:], -9.0, NUMBERS.natural)[:wet].any()


@pytest.mark.parametrize(
    ("below_upper", "above_lower", "enough"),
    [(0.0, None, True), (-0.01, None, False), (None, 0.0, True), (None, -0.01, False)],
)
def test_nights_at_either_limit_still_suit_cold_weather_strains(below_upper, above_lower, enough):
    weather = spell(celsius=18.0, cool_on=range(40, DAYS), cool=9.0)
    if below_upper is not None:
        nights = NUMBERS.strain("cold-weather").natural.night_upper - below_upper
    else:
        nights = NUMBERS.strain("cold-weather").natural.night_lower + above_lower
    weather["tmin"] = np.full((DAYS, 1), nights)
    assert (triggered("cold-weather", weather) != []) is enough


@pytest.mark.parametrize("strain_class", ["cold-weather", "wide-range"])
def test_a_log_just_moist_enough_flushes_and_a_drier_one_does_not(strain_class):
    limit = float(dry_from_wet(NUMBERS.watering.urgent_below))
    weather = (
        spell(celsius=18.0, cool_on=range(40, DAYS), cool=9.0, nights=5.0)
        if strain_class == "cold-weather"
        else spell(rain_on=[(40, 40.0)], celsius=22.0, cool_on=range(40, 44), cool=14.0)
    )
    for moisture, flushes in ((limit, True), (limit - 1e-6, False)):
        weather["moisture"] = np.full((DAYS, 1), moisture)
        assert (triggered(strain_class, weather) != []) is flushes


def test_watering_counts_as_rain():
    # The caller adds it to the rain: 12.5 mm watered on top of 8 mm of rain.
    weather = spell(rain_on=[(40, 8.0)], cool_on=range(40, 44), cool=15.0)
    assert triggered("wide-range", weather) == []
    weather["rain"][41] += 12.5
    assert triggered("wide-range", weather) != []


def first_pick(strain_class, tmean, trigger_on):
    trigger = np.zeros(tmean.shape, dtype=bool)
    trigger[trigger_on] = True
    return natural_first_pick(
        NUMBERS.strain(strain_class).forced.requirement,
        thermal_time(NUMBERS.strain(strain_class), tmean),
        trigger,
        NUMBERS.natural,
    )


def test_buds_ripen_by_warmth():
    # 120 degree-days above 5 C: eight days at 20 C.
    picked = first_pick("wide-range", np.full((60, 1), 20.0), 10)
    assert picked.first_pick[10, 0] == 18
    assert not picked.aborted.any()
    assert np.all(np.delete(picked.first_pick[:, 0], 10) == 60)


def test_buds_begun_too_late_in_autumn_abort_and_do_not_wait_for_spring():
    tmean = np.full((200, 1), 12.0)
    tmean[20:150] = -2.0
    picked = first_pick("wide-range", tmean, [0, 10, 15])
    assert picked.first_pick[0, 0] == 18  # seven degrees a day: ripe before the frost
    assert picked.aborted[[10, 15], 0].all()
    assert np.all(picked.first_pick[[10, 15], 0] == 200)


def test_buds_that_ripen_too_slowly_abort():
    picked = first_pick("wide-range", np.full((200, 1), 7.0), 0)  # would take 60 days
    assert picked.aborted[0, 0]


def test_the_end_of_the_table_is_no_abort():
    picked = first_pick("wide-range", np.full((20, 1), 12.0), 10)
    assert picked.first_pick[10, 0] == 20
    assert not picked.aborted[10, 0]


def test_a_chain_of_flushes_rests_between_them_and_skips_aborted_buds():
    days = 300
    trigger = np.zeros((days, 2), dtype=bool)
    trigger[[10, 40, 60, 120, 150, 250]] = True
    pick = np.full((days, 2), days)
    pick[trigger] = np.nonzero(trigger)[0] + 12
    aborted = np.zeros((days, 2), dtype=bool)
    aborted[120, 1] = True
    chain = flush_chain(trigger, NaturalPick(pick, aborted), 77, np.array([0, 20]), most=4)
    assert chain[:, 0].tolist() == [10, 120, 250, days]
    assert chain[:, 1].tolist() == [40, 150, 250, days]


def test_the_rules_know_no_calendar():
    # The same days at another place in the table give the same days later.
    rng = np.random.default_rng(3)
    tmean = 15 + 4 * rng.standard_normal((200, 1)).cumsum(axis=0) / 8
    rain = np.where(rng.random((200, 1)) < 0.2, rng.gamma(1, 10, (200, 1)), 0.0)
    moist = np.full((200, 1), 0.7)
    for strain_class in ("cold-weather", "wide-range", "warm-weather"):
        whole = trigger_days(
            NUMBERS.strain(strain_class).natural,
            tmean - 5,
            tmean,
            rain,
            moist,
            NUMBERS.natural,
            urgent_below=NUMBERS.watering.urgent_below,
        )
        later = trigger_days(
            NUMBERS.strain(strain_class).natural,
            tmean[60:] - 5,
            tmean[60:],
            rain[60:],
            moist[60:],
            NUMBERS.natural,
            urgent_below=NUMBERS.watering.urgent_below,
        )
        settle = 15  # the days before the table are not known
        assert whole[60 + settle :].tolist() == later[settle:].tolist()


@pytest.mark.parametrize("warm", [7.0, 10.0, 13.0])
def test_a_flush_was_set_off_when_what_its_buds_need_was_still_to_come(warm):
    need = NUMBERS.strain("wide-range").forced.requirement * NUMBERS.natural.requirement_factor
    warmth = np.arange(400) * warm
    row = int(
        set_off_row(warmth, 300, NUMBERS.strain("wide-range").forced.requirement, NUMBERS.natural)
    )
    assert warmth[300] - warmth[row] >= need > warmth[300] - warmth[row + 1]
    assert (
        int(
            set_off_row(warmth, 1, NUMBERS.strain("wide-range").forced.requirement, NUMBERS.natural)
        )
        == 0
    )


def test_weather_is_dry_below_its_limit_and_wet_from_its_own_on():
    wet, dry = int(NUMBERS.natural.wet_days), int(NUMBERS.natural.before_days)
    enough, most = NUMBERS.natural.rain, NUMBERS.natural.dry_rain
    on = 40

    def wetted(rain, before):
        table = np.zeros((DAYS, 1))
        table[on - wet] = before  # the last of the days before those of the wetting
        table[on] = rain
        return bool(rain_after_drier_weather(table, NUMBERS.natural)[on, 0])

    assert wetted(enough, most - 0.01)
    assert not wetted(enough - 0.01, 0.0)
    assert not wetted(enough, most)
    # What fell longer ago than the dry days counted is forgotten.
    table = np.zeros((DAYS, 1))
    table[on - wet - dry], table[on] = most, enough
    assert rain_after_drier_weather(table, NUMBERS.natural)[on, 0]
    table[on - wet - dry + 1] = most
    assert not rain_after_drier_weather(table, NUMBERS.natural)[on, 0]


def test_before_the_table_it_was_dry():
    # Two days with ten millimetres at the table's very beginning, and the same four days later.
    rain = np.array([10.0, 10, 0, 0, 0, 10, 10])[:, None]
    for dry_rain in (0.1, 0.5, 20.0):
        found = rain_after_drier_weather(
            rain, NUMBERS.natural._replace(wet_days=2, rain=20.0, before_days=3, dry_rain=dry_rain)
        )
        # Before the second wetting lie three days without rain, before the first no table.
        assert np.flatnonzero(found[:, 0]).tolist() == [1, 6]
