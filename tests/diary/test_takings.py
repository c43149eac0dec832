"""What sales brought, by season and outlet; and prices that are asked about."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from fruitcast.diary.recording import check_record
from fruitcast.diary.sales import highest_prices, takings, takings_words
from tests.diary.diary_samples import TODAY, bare_limits, entry, yard

HERE = yard()
MARKET, INN = HERE.outlets
PRICED = replace(HERE, outlets=(replace(MARKET, price_per_kg=22.0), INN))
SALES = [
    entry("sold", "2026-09-05", kg=2.0, paid=40.0, outlet="Saturday market"),
    entry("sold", "05-01", kg=1.2, paid=26.4, outlet="Saturday market"),
    entry("sold", "05-01", kg=0.8, outlet="Saturday market"),
    entry("sold", "05-02", kg=1.0, paid=18.0, outlet="Inn"),
    entry("sold", "05-03", kg=0.5, outlet="Bull"),
]


def listed(here=HERE, first=date(2026, 1, 1), last=TODAY, outlet=None):
    return takings(here, SALES, first, last, outlet)


def test_takings_add_up_by_season_and_outlet():
    assert [(t.year, t.outlet, t.kg, t.told_kg, t.paid) for t in listed()] == [
        (2026, "Saturday market", 2.0, 2.0, 40.0),
        (2027, "Bull", 0.5, 0, 0),
        (2027, "Inn", 1.0, 1.0, 18.0),
        (2027, "Saturday market", 2.0, 1.2, 26.4),
    ]
    assert [t.price_per_kg for t in listed()] == [20.0, None, 18.0, pytest.approx(22.0)]
    assert sum(t.paid for t in listed()) == sum(sale.paid or 0 for sale in SALES)
    assert [t.outlet for t in listed(first=date(2027, 5, 2), outlet="Inn")] == ["Inn"]


def test_south_of_the_equator_a_season_goes_over_new_year():
    south = replace(HERE, site=replace(HERE.site, latitude=-42.0))
    assert {t.year for t in listed(south)} == {2026}


def test_a_sale_taken_back_brings_nothing():
    sale = replace(SALES[3], uuid="a")
    undo = entry("undo", "05-03", cancels="a")
    assert takings(HERE, [sale, undo], date(2027, 1, 1), TODAY) == ()


def test_what_an_outlet_brought_is_said_beside_the_price_set():
    early, bull, inn, market = listed(PRICED)
    assert takings_words(bull, "metric") == ""
    assert takings_words(inn, "metric") == "Inn: 18.00 for 1.00 kg, 18.00 a kg."
    assert takings_words(market, "metric") == (
        "Saturday market: 26.40 for 1.20 kg of 2.00 kg, 22.00 a kg, as set in yard.toml."
    )
    assert takings_words(early, "metric") == (
        "Saturday market: 40.00 for 2.00 kg, 20.00 a kg, 9% less than the 22.00 a kg set in "
        "yard.toml."
    )
    assert takings_words(early, "us").startswith(
        "Saturday market: 40.00 for 4 lb 6.5 oz, 9.07 a lb"
    )


def asked(paid, here=HERE, outlet="Inn", past=SALES):
    event = entry("sold", "05-07", kg=1.0, paid=paid, outlet=outlet)
    limits = replace(bare_limits({}, "metric"), prices=highest_prices(here, past))
    return check_record(event, limits).questions


def test_a_price_far_above_what_the_outlet_paid_is_asked_about():
    assert asked(36.0) == ()
    assert asked(180.0) == (
        "180.00 a kg is 10 times the most that Inn has paid, 18.00 a kg. Is it right?",
    )
    assert asked(180.0, outlet="Bull") == ()
    # The price set stands for an outlet that has bought nothing yet.
    assert asked(220.0, PRICED, "Saturday market", past=[])


def test_what_was_paid_is_told_with_the_sale():
    record = check_record(SALES[1], bare_limits({}, "metric"))
    assert record.understood == (
        "Sold 1.20 kg on Sat 1 May 2027, to Saturday market, for 26.40 (22.00 a kg)."
    )
