"""How long a spawn run takes at eight sites, against what growers there say.

Common practice: 12 to 14 months from May at a continental site, 12 to 24 at cool oceanic ones.
Published: 6 to 18 months (Hill 2011, Univ. of Kentucky FOR-85), 6 to 24 (Lyon et al. 2022, Ohio
State F-0041). Nobody has published a run with the weather it had, so these are ranges, not dates.

No degree-day total is published, so base temperature and requirement are ours. They are set so that the middle plug-spawn
log of 12.5 cm, wide-range, does what growers say at five of these sites; three were kept back, to see whether it does so
there too. A test here prints the table and holds this one to it. Months from inoculation on
the 10th; middle, 10 to 90 % of weather years and logs, 80 %. At a steady 24 C it is 5 months (growers: 4 to 6).

| site (weather) | July mean, C | growers say | | wide-range from May | 80 % | cold-weather from May | from March | from October |
|---|---|---|---|---|---|---|---|---|
| Champion, Nebraska (aquacrop, 1982-2018) | 23.6 | 12-14 | set on | 13.6 (12.1-15.1) | 14.5 | 14.3 | 14.9 | 19.1 |
| Cambridge, England (aquacrop, 1991-2021) | 17.1 | 12-24 | set on | 14.7 (13.1-16.5) | 15.8 | 15.5 | 16.1 | 19.9 |
| North Yorkshire, England (aquacrop, 1991-2021) | 14.4 | 12-24 | set on | 22.8 (15.6-26.5) | 25.7 | 25.2 | 20.3 | 23.4 |
| Tunis (aquacrop, 1979-2002) | 27.0 | 6-18 | set on | 6.5 (5.2-9.5) | 8.2 | 7.7 | 7.0 | 9.0 |
| Hyderabad (aquacrop, 2000-2010) | 26.6 | 6-18 | set on | 6.1 (5.1-7.5) | 7.0 | 6.8 | 6.8 | 6.8 |
| Northumberland, England (aquacrop, 1991-2021) | 14.6 | 12-24 | kept back | 19.2 (15.3-26.0) | 25.0 | 24.4 | 19.1 | 22.8 |
| Brussels (aquacrop, 1976-2005) | 18.0 | 12-24 | kept back | 14.0 (12.3-15.6) | 15.1 | 14.8 | 15.3 | 19.1 |
| Wageningen, Netherlands (pcse, 1976-1999) | 17.1 | 12-24 | kept back | 14.9 (13.3-17.0) | 16.2 | 15.8 | 16.4 | 20.5 |

What falls short: from October the continental site takes a month more than the 18 published (FOR-85), and cold-weather
strains take a month more than two years where July averages 14 to 15 C.
"""  # noqa: E501

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
import pytest

from fruitcast.biology.spawn_run import (
    ready_day,
    required_progress,
    required_quantile,
)
from fruitcast.numbers import default_numbers
from tests.biology.real_weather import SHADE, watered_series
from tests.biology.weathers import daily_progress

NUMBERS = default_numbers()
WOOD = [(n + 0.5) / 11 for n in range(11)]
MONTH = 30.4
LONGEST = 1300


@dataclass(frozen=True)
class Place:
    """A site, where its weather comes from, and what growers say of such sites. [month]"""

    name: str
    title: str
    source: str
    practice: tuple[float, float]
    set_on: bool


CONTINENTAL, COOL, ELSEWHERE = (12, 14), (12, 24), (6, 18)
PLACES = (
    Place("champion", "Champion, Nebraska", "aquacrop, 1982-2018", CONTINENTAL, True),
    Place("cambridge", "Cambridge, England", "aquacrop, 1991-2021", COOL, True),
    Place("north_yorks", "North Yorkshire, England", "aquacrop, 1991-2021", COOL, True),
    Place("tunis", "Tunis", "aquacrop, 1979-2002", ELSEWHERE, True),
    Place("hyderabad", "Hyderabad", "aquacrop, 2000-2010", ELSEWHERE, True),
    Place("northumberland", "Northumberland, England", "aquacrop, 1991-2021", COOL, False),
    Place("brussels", "Brussels", "aquacrop, 1976-2005", COOL, False),
    Place("wageningen", "Wageningen, Netherlands", "pcse, 1976-1999", COOL, False),
)
"""The numbers were set on those with `set_on`; the others were kept back to check them."""


@lru_cache
def progress_at(name: str) -> np.ndarray:
    weather = watered_series(name)
    return daily_progress(
        weather.tmin,
        weather.tmax,
        weather.moisture,
        NUMBERS,
        shade=SHADE,
    )


def need(strain_class: str) -> float:
    """What makes the middle plug-spawn log of red oak, 12.5 cm, ready. [day at the optimum]"""
    return required_progress(
        "plug",
        0.125,
        NUMBERS.spawn_run,
        class_factor=NUMBERS.strain(strain_class).spawn_run.factor,
        tree_factor=NUMBERS.tree("red oak").starts,
    )


def months(name: str, strain_class: str, month: int) -> np.ndarray:
    """Months from inoculation on the 10th to the end of the spawn run, over years and wood."""
    weather = watered_series(name)
    progress = progress_at(name)
    scatter = NUMBERS.spawn_run.scatter
    wood = np.array([required_quantile(need(strain_class), c, scatter=scatter) for c in WOOD])
    found = []
    for year in sorted(set(weather.years.tolist())):
        row = (date(year, month, 10) - weather.start).days
        ahead = progress[row : row + LONGEST] if row >= 0 else progress[:0]
        if len(ahead) == LONGEST:
            found += [ready_day(ahead, each)[0] / MONTH for each in wood]
    assert len(found) >= 7 * len(WOOD)
    return np.array(found)


def line(place: Place) -> str:
    """One row of the table."""
    weather = watered_series(place.name)
    july = weather.tmean[weather.months == 7].mean()
    may = months(place.name, "wide-range", 5)
    early, middle, likely, late = np.quantile(may, [0.1, 0.5, 0.8, 0.9])
    cold = np.median(months(place.name, "cold-weather", 5))
    march, october = (np.median(months(place.name, "wide-range", m)) for m in (3, 10))
    return (
        f"| {place.title} ({place.source}) | {july:.1f} | {place.practice[0]}-{place.practice[1]} "
        f"| {'set on' if place.set_on else 'kept back'} | {middle:.1f} ({early:.1f}-{late:.1f}) "
        f"| {likely:.1f} | {cold:.1f} | {march:.1f} | {october:.1f} |"
    )


def test_the_table_above_is_what_the_model_gives():
    lines = [line(place) for place in PLACES]
    print("\n".join(lines))
    missing = [row for row in lines if row not in __doc__]
    assert not missing, "write at the head of this module:\n" + "\n".join(lines)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place.name)
def test_the_median_from_may_is_what_growers_say(place):
    assert place.practice[0] <= np.median(months(place.name, "wide-range", 5)) <= place.practice[1]


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place.name)
def test_late_winter_is_no_slower_than_autumn(place):
    # Published: late-winter inoculation faster than autumn (Hill, Univ. of Kentucky FOR-83).
    march, october = (np.median(months(place.name, "wide-range", m)) for m in (3, 10))
    if place.practice != ELSEWHERE or place.name == "tunis":
        assert march < october
    else:
        assert march == pytest.approx(october, abs=1)  # no winter there to wait for


def test_may_at_the_continental_site_bears_from_the_next_may_to_autumn():
    # Common practice, about a year being the planning figure; the middle logs of every year.
    weather = watered_series("champion")
    progress = progress_at("champion")
    for year in range(1982, 2017):
        row = (date(year, 5, 10) - weather.start).days
        ready = int(ready_day(progress[row : row + LONGEST], need("wide-range"))[0])
        assert date(year + 1, 5, 1) <= date.fromordinal(date(year, 5, 10).toordinal() + ready)
        assert ready <= (date(year + 1, 9, 30) - date(year, 5, 10)).days
