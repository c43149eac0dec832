"""Units at the border: exact factors, words in, words out."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.errors import InputError
from fruitcast.units import (
    KG_PER_LB,
    SI_OF_KEY,
    celsius,
    fahrenheit,
    format_elevation,
    format_length,
    format_rain,
    format_temperature,
    format_weight,
    keys_of,
    parse_length,
    parse_rain,
    parse_weight,
    si_from_key,
)


@pytest.mark.parametrize(
    ("key", "value", "si"),
    [
        # International yard and pound agreement, 1959: 1 lb = 0.45359237 kg, 1 in = 25.4 mm.
        ("target_lb", 14, 6.35029318),
        ("target_kg", 14, 14),
        ("diameter_in", 5, 0.127),
        ("diameter_cm", 12.7, 0.127),
        ("length_in", 40, 1.016),
        ("length_cm", 101.6, 1.016),
        ("elevation_ft", 1000, 304.8),
        ("elevation_m", 240, 240),
        ("price_per_kg", 30, 30),
        ("price_per_lb", 14, 14 / 0.45359237),
    ],
)
def test_a_key_carries_its_unit(key, value, si):
    assert si_from_key(key, value) == pytest.approx(si, rel=1e-12)


def test_every_quantity_has_one_key_in_each_system():
    for quantity in {name for name, _ in SI_OF_KEY.values()}:
        metric, us = keys_of(quantity)
        assert metric.rsplit("_", 1)[1] in ("kg", "cm", "m")
        assert us.rsplit("_", 1)[1] in ("lb", "in", "ft")


@pytest.mark.parametrize(
    ("text", "kg"),
    [
        ("2 lb 6 oz", 2.375 * KG_PER_LB),
        ("2lb6oz", 2.375 * KG_PER_LB),
        ("2 lb, 6 oz", 2.375 * KG_PER_LB),
        ("2 pounds and 6 ounces", 2.375 * KG_PER_LB),
        ("1.1 kg", 1.1),
        ("1,1 kg", 1.1),
        ("1 kg 100 g", 1.1),
        (" 450 g ", 0.45),
        ("450G", 0.45),
        ("6 oz", 0.375 * KG_PER_LB),
        (".5 lb", 0.5 * KG_PER_LB),
        ("1/2 lb", 0.5 * KG_PER_LB),
        ("2 1/2 lbs", 2.5 * KG_PER_LB),
        ("2½ lb", 2.5 * KG_PER_LB),
        ("0 kg", 0.0),
    ],
)
def test_weights_in_words(text, kg):
    assert parse_weight(text) == pytest.approx(kg, rel=1e-12, abs=1e-15)


def test_a_bare_number_is_read_only_when_told_in_which_unit():
    assert parse_weight("2.5", bare="us") == pytest.approx(2.5 * KG_PER_LB)
    assert parse_weight("2.5", bare="metric") == 2.5
    with pytest.raises(InputError, match=r"'2\.5': 2\.5 has no unit.*'2 lb 6 oz'"):
        parse_weight("2.5")
    with pytest.raises(InputError, match="6 has no unit"):
        parse_weight("2 lb 6", bare="us")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "weight is empty. Write it like"),
        ("   ", "weight is empty"),
        ("a lot", "'a lot' is not a weight. Write it like"),
        ("-2 lb", "'-2 lb' is not a weight"),
        ("2 stone", "'stone' is not a unit of weight. Write it like"),
        ("6 oz 2 lb", "the larger unit comes first"),
        ("1 kg 1 kg", "the larger unit comes first"),
        ("1/0 lb", "divides by nought"),
        ("nan kg", "is not a weight"),
        ("1e5 kg", "'e' is not a unit of weight"),
    ],
)
def test_words_that_are_no_weight_are_refused_with_a_remedy(text, message):
    with pytest.raises(InputError, match=message):
        parse_weight(text)


def test_lengths_rain_and_temperatures_in_words():
    assert parse_length("5 in") == pytest.approx(0.127)
    assert parse_length('5"') == pytest.approx(0.127)
    assert parse_length("3 ft 4 in") == pytest.approx(1.016)
    assert parse_length("12,5 cm") == pytest.approx(0.125)
    assert parse_length("40", bare="us") == pytest.approx(1.016)
    assert parse_rain("0.6 in") == pytest.approx(15.24)
    assert parse_rain("15mm") == 15
    assert parse_rain("1", bare="us") == 25.4
    with pytest.raises(InputError, match="'kg' is not a unit of rain"):
        parse_rain("3 kg")


def test_temperature_scales_meet_at_minus_forty_and_at_freezing():
    assert celsius(-40) == pytest.approx(-40)
    assert fahrenheit(0) == 32
    assert fahrenheit(100) == pytest.approx(212)


@pytest.mark.parametrize(
    ("kg", "us", "metric"),
    [
        (0.0, "0 oz", "0 g"),
        (0.45, "1.0 lb", "450 g"),
        (1.1, "2.4 lb", "1.1 kg"),
        (0.17, "6 oz", "170 g"),
        (0.9996, "2.2 lb", "1.0 kg"),
        (0.4530, "1.0 lb", "453 g"),
        (62.5, "138 lb", "62.5 kg"),
        (140.0, "309 lb", "140 kg"),
        (float("nan"), "-", "-"),
    ],
)
def test_weights_for_people(kg, us, metric):
    assert format_weight(kg, "us") == us
    assert format_weight(kg, "metric") == metric


def test_other_quantities_for_people():
    assert format_temperature(22.2, "us") == "72 °F"
    assert format_temperature(-0.2, "metric") == "0 °C"
    assert format_temperature(math.nan, "us") == "-"
    assert format_length(0.127, "us") == "5 in"
    assert format_length(0.127, "metric") == "12.7 cm"
    assert format_length(1.016, "us") == "40 in"
    assert format_elevation(240, "us") == "787 ft"
    assert format_elevation(240, "metric") == "240 m"
    assert format_rain(15, "us") == "0.59 in"
    assert format_rain(15.2, "metric") == "15 mm"
    assert format_rain(2.54, "metric") == "2.5 mm"
    assert format_rain(9.97, "metric") == "10 mm"


@given(st.text(max_size=30))
def test_any_text_is_a_weight_or_an_input_error(text):
    try:
        kg = parse_weight(text)
    except InputError:
        return
    assert math.isfinite(kg)
    assert kg >= 0


@given(st.floats(0.001, 5000), st.sampled_from(["us", "metric"]))
def test_a_formatted_weight_reads_back_within_its_rounding(kg, units):
    again = parse_weight(format_weight(kg, units))
    assert again == pytest.approx(kg, rel=0.06, abs=0.6 * KG_PER_LB / 16)
