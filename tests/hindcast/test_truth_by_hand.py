"""What comes true of a stack's flushes, from crops and weather set by hand.

Row 10 is the first day of the season; one member is the truth, and 10 effective logs are soaked
for one night or for two.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.biology.natural import NaturalPick
from fruitcast.biology.yields import rest_factor
from fruitcast.forecast.flushes import follow
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.log_weather import Forced, LogKind, Natural
from fruitcast.forecast.under_way import UnderWay
from fruitcast.hindcast.truth import (
    CarriedSoak,
    TrueFlush,
    TrueSeason,
    Truth,
    _Logs,
    _most_nights,
    _one_member,
    _true_table,
)
from fruitcast.numbers import default_numbers, numbers_from
from fruitcast.soaks.crops import PickDays
from fruitcast.topics import STRAIN_CLASSES

NUMBERS = default_numbers()
TODAY = date(2018, 5, 1)
BACK, DAYS = 10, 250
SHAPES = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.75, 0.25, 0.0], [0.5, 0.3, 0.2]])
FULL = float(rest_factor(np.inf, NUMBERS.yields))


def on(row: int) -> date:
    return TODAY + timedelta(days=row - BACK)


# Row of the soak, nights, row of the first pick, days of picking, whether it bears, kg a log.
SOAKS = [
    (20, 1, 30, 3, True, 0.2),
    (20, 2, 33, 2, True, 0.4),
    (95, 1, 105, 1, True, 0.1),
    (40, 1, DAYS, 0, False, 0.0),
]


def fruiting(naturals: tuple[tuple[int, int, int, float], ...] = ()) -> Fruiting:
    """Naturals are (trigger, pick, days of picking, kg)."""
    shape = (DAYS, 1)
    trigger, aborted = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    first, length = np.full(shape, DAYS), np.zeros(shape, dtype=np.int64)
    kg = np.zeros(shape)
    for day, pick, picked, weight in naturals:
        trigger[day], first[day], length[day], kg[day] = True, pick, picked, weight
    row, nights, pick, days, bears, weight = (
        np.array(column) for column in zip(*SOAKS, strict=True)
    )
    forced = Forced(
        soak_row=row,
        pull_row=row + nights,
        hours=24.0 * nights,
        allowed=np.ones(len(row), dtype=bool),
        need=np.ones((len(row), 1)),
        pick_row=pick[:, None],
        length=days[:, None],
        bears=bears[:, None],
        kg=weight[:, None],
    )
    return Fruiting(
        kinds=(LogKind("wide-range", 0.125),),
        weather=SimpleNamespace(numbers=NUMBERS),
        forced=forced,
        natural=Natural(trigger, NaturalPick(first, aborted), length, kg),
        forced_shape=SHAPES,
        natural_shape=SHAPES,
        keeping=np.ones(shape),
    )


def season(
    naturals: tuple[tuple[int, int, int, float], ...] = (),
    flush: UnderWay | None = None,
    away: tuple[int, ...] = (),
    last: float = -np.inf,
) -> TrueSeason:
    """A season of one stack, A, ready on row 15."""
    gone = np.zeros(DAYS, dtype=bool)
    gone[list(away)] = True
    futures = SimpleNamespace(
        lookback=BACK,
        today=TODAY,
        days=DAYS,
        date=on,
        row=lambda day: BACK + (day - TODAY).days,
    )
    logs = fruiting(naturals)
    start = follow(logs, np.array([[last]]), np.array([[15]]), BACK)
    sold = np.arange(DAYS)[:, None] / 1000
    place = {(row, nights): at for at, (row, nights, *_) in enumerate(SOAKS)}
    return TrueSeason(
        SimpleNamespace(futures=futures),
        1999,
        NUMBERS,
        gone,
        PickDays(BACK, DAYS, sold, 2 * sold),
        {"A": _Logs(logs, place, 10.0, start, flush)},
    )


def told(flushes: tuple[TrueFlush, ...]) -> list[tuple]:
    """LogKind, row of the beginning, and the picks as (row, kg)."""
    return [
        (
            f.kind,
            (f.begun - on(0)).days,
            [((day - on(0)).days, pytest.approx(kg)) for day, kg in f.picks],
        )
        for f in flushes
    ]


def soak(row: int, nights: int = 1) -> CarriedSoak:
    return CarriedSoak(on(row), nights)


def test_a_soak_brings_its_crop_over_its_days_of_picking():
    (flush,) = season().flushes("A", [soak(20)])
    whole = 10 * 0.2 * FULL
    assert told((flush,)) == [
        ("forced", 20, [(30, 0.5 * whole), (31, 0.3 * whole), (32, 0.2 * whole)])
    ]
    assert flush.kg == pytest.approx(whole)
    (longer,) = season().flushes("A", [soak(20, 2)])
    whole = 10 * 0.4 * FULL
    assert told((longer,)) == [("forced", 20, [(33, 0.75 * whole), (34, 0.25 * whole)])]


def test_a_second_soak_is_rested_since_the_first_pick():
    first, second = season().flushes("A", [soak(20), soak(95)])
    assert told((second,)) == [("forced", 95, [(105, float(rest_factor(95 - 30, NUMBERS.yields)))])]
    assert first.kg == pytest.approx(2.0 * FULL)
    only = season(last=30.0).flushes("A", [soak(95)])
    assert only == (second,)


def test_a_soak_that_brings_nothing_starts_the_rest_itself():
    nothing, second = season().flushes("A", [soak(40), soak(95)])
    assert (nothing.kind, nothing.picks, nothing.kg) == ("forced", (), 0)
    assert second.kg == pytest.approx(float(rest_factor(95 - 40, NUMBERS.yields)))


def test_natural_flushes_are_those_set_off_before_the_next_soak():
    # Set off on row 18, and without the soak of row 20 again 77 days after the pick of row 24.
    naturals = ((18, 24, 2, 0.3), (19, 25, 2, 9.0), (101, 110, 1, 0.2), (107, 112, 1, 0.4))
    alone = season(naturals).flushes("A", [])
    early = ("natural", 18, [(24, 0.75 * 3 * FULL), (25, 0.25 * 3 * FULL)])
    assert told(alone) == [
        early,
        ("natural", 101, [(110, 2 * float(rest_factor(101 - 24, NUMBERS.yields)))]),
    ]
    # The soak finds it in the open and brings nothing of its own; rest counts from its row 33,
    # two nights in, so that row 110 is the first on which weather sets anything off.
    soaked = season(((18, 19, 1, 0.3), (109, 113, 1, 1.0), (110, 115, 1, 0.5))).flushes(
        "A", [soak(20, 2)]
    )
    assert [f.kind for f in soaked] == ["natural", "forced", "natural"]
    assert soaked[1].begun == on(20)
    rest = float(rest_factor(20 - 19, NUMBERS.yields))
    assert soaked[1].kg == pytest.approx(10 * 0.4 * rest) == pytest.approx(0.0)
    assert told(soaked[2:]) == [
        ("natural", 110, [(115, 5 * float(rest_factor(110 - 33, NUMBERS.yields)))])
    ]


def test_a_trigger_on_the_soak_s_own_day_is_the_soak_s():
    for trigger, kinds in ((19, ["natural", "forced"]), (20, ["forced"])):
        found = season(((trigger, 40, 1, 0.3),)).flushes("A", [soak(20)])
        assert [flush.kind for flush in found] == kinds


def test_a_trigger_that_would_give_nothing_is_no_flush():
    assert season(((18, 24, 2, 0.0),)).flushes("A", []) == ()


def test_days_away_are_not_picked_and_nothing_is_past_the_last_day():
    whole = 10 * 0.2 * FULL
    (flush,) = season(away=(31,)).flushes("A", [soak(20)])
    assert told((flush,)) == [("forced", 20, [(30, 0.5 * whole), (32, 0.2 * whole)])]
    late = season(((DAYS - 10, DAYS - 2, 3, 1.0),)).flushes("A", [])
    assert told(late) == [("natural", DAYS - 10, [(DAYS - 2, 5 * FULL), (DAYS - 1, 3 * FULL)])]


def test_a_flush_under_way_is_what_is_left_of_it():
    share = np.zeros((DAYS, 2))
    share[10:13] = [[0.5, 0.1], [0.3, 0.1], [0.2, 0.8]]
    flush = UnderWay(
        "forced", on(2), np.array([10, 10]), np.array([13, 13]), np.array([0.4, 0.9]), share
    )
    found = season(flush=flush, away=(11,)).flushes("A", [])
    assert told(found) == [("forced", 2, [(10, 2.0), (12, 0.8)])]


def test_what_can_be_sold_is_that_day_s():
    assert season().saleable(TODAY, "natural") == pytest.approx(0.010)
    assert season().saleable(on(37), "natural") == pytest.approx(0.037)
    # Of logs that were pulled a roof keeps more.
    assert season().saleable(on(37), "forced") == pytest.approx(0.074)


def test_a_question_asked_again_is_answered_the_same():
    true = season()
    assert true.flushes("A", [soak(20)]) is true.flushes("A", (soak(20),))
    assert true.flushes("A", [soak(20, 2)]) != true.flushes("A", [soak(20)])


def test_the_truth_s_lead_time_is_every_class_s_own_times_its_factor():
    numbers = numbers_from(_true_table(Truth(lead_factor=1.25), NUMBERS.table))
    for strain_class in STRAIN_CLASSES:
        believed = NUMBERS.strain(strain_class).forced.requirement
        assert numbers.strain(strain_class).forced.requirement == pytest.approx(1.25 * believed)
    assert numbers.yields.rest_time == NUMBERS.yields.rest_time


@pytest.mark.parametrize(("believed", "factor"), [(300.0, 1.15), (30.0, 0.85)])
def test_the_truth_may_lie_beyond_what_a_grower_may_believe(believed, factor):
    key = "wide-range.forced.requirement"
    known = NUMBERS.with_overrides({key: believed})  # the ends of its range
    true = (
        numbers_from(_true_table(Truth(lead_factor=factor), known.table))
        .strain("wide-range")
        .forced
    )
    assert true.requirement == pytest.approx(factor * believed)


@pytest.mark.parametrize(("hours", "nights"), [(48.0, 2), (49.0, 3), (24.0, 1), (72.0, 3)])
def test_a_soak_may_last_as_many_nights_as_the_longest_way_takes(hours, nights):
    short = {"overnight_hours": 12.0, "usual_hours": 20.0, "cool_hours": 22.0}
    for name in short:
        forced = NUMBERS.forced._replace(**{**short, name: hours})
        assert _most_nights(forced) == nights


def test_the_truth_keeps_the_first_of_its_members():
    logs = fruiting(((18, 24, 2, 0.3),))

    def doubled(part, but: tuple[str, ...] = ()):
        return replace(
            part,
            **{
                name: np.concatenate([value, value + value], axis=1)
                for name, value in vars(part).items()
                if isinstance(value, np.ndarray) and value.ndim == 2 and name not in but
            },
        )

    pick = NaturalPick(*(np.concatenate([part, part + part], axis=1) for part in logs.natural.pick))
    shapes = ("forced_shape", "natural_shape")
    two = replace(
        doubled(logs, shapes),
        forced=doubled(logs.forced),
        natural=replace(doubled(logs.natural), pick=pick),
    )
    one = _one_member(two)
    for made, expected in (
        (one.forced, logs.forced),
        (one.natural, logs.natural),
        (one, logs),
    ):
        for name, value in vars(expected).items():
            if isinstance(value, np.ndarray):
                np.testing.assert_array_equal(getattr(made, name), value, err_msg=name)
    for made, expected in zip(one.natural.pick, logs.natural.pick, strict=True):
        np.testing.assert_array_equal(made, expected)
