"""The season's supply as a picture: its months are named where there is room."""

import re
from datetime import date, timedelta
from itertools import pairwise

from fruitcast.diary.plan import Sale
from fruitcast.web.pictures import supply_picture


def sale(on):
    return Sale(
        outlet="Stall",
        on=on,
        target_kg=2.0,
        delivered_kg=1.5,
        available_p10_kg=1.0,
        available_p90_kg=3.0,
        chance=0.5,
        promise_kg=1.0,
    )


def months(first, sales):
    days = [first + timedelta(weeks=week) for week in range(sales)]
    drawn = supply_picture([sale(day) for day in days], "supply", "metric")
    return re.findall(r'class="month" x="([\d.]+)"[^>]*>(\w+)<', drawn)[::-1]


def test_every_month_of_a_season_is_named_at_its_first_sale():
    found = months(date(2027, 5, 1), 24)
    assert [name for _, name in found] == ["May", "Jun", "Jul", "Aug", "Sep", "Oct"]


def test_a_month_too_short_for_its_name_goes_without_so_that_none_overlap():
    found = months(date(2027, 5, 22), 24)  # two sales in May
    assert [name for _, name in found] == ["Jun", "Jul", "Aug", "Sep", "Oct"]
    at = [float(x) for x, _ in found]
    assert min(b - a for a, b in pairwise(at)) >= 30


def test_a_year_and_more_names_what_fits():
    found = months(date(2027, 5, 1), 60)
    at = [float(x) for x, _ in found]
    assert len(found) >= 6 and min(b - a for a, b in pairwise(at)) >= 30


def test_wanted_likely_and_promised_lie_one_inside_the_other_from_one_floor():
    drawn = supply_picture([sale(date(2027, 5, 1))], "supply", "metric")
    found = re.findall(
        r'class="(\w+)" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', drawn
    )
    assert [name for name, *_ in found] == ["wanted", "expected", "promise"]
    x, y, wide, high = zip(*((float(v) for v in row) for _, *row in found), strict=True)
    assert [h / high[0] for h in high] == [1.0, 0.75, 0.5]
    assert len({round(top + h, 1) for top, h in zip(y, high, strict=True)}) == 1
    middles = [left + w / 2 for left, w in zip(x, wide, strict=True)]
    assert max(middles) - min(middles) < 0.2
    assert all(b < 0.75 * a for a, b in pairwise(wide))
