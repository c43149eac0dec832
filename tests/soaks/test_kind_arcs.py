"""Arcs of one kind of logs and the first arcs of its stacks, from flushes set by hand.

Row 10 is today, a year and more are looked at, and two members are told apart. Logs go in on the
rows of `SOAKS` for one night and are picked ten (member 0) or twelve days later, on one day: 1 kg,
and 2 kg in member 1.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.biology.natural import NaturalPick
from fruitcast.biology.yields import rest_factor
from fruitcast.forecast.fruiting import Fruiting
from fruitcast.forecast.log_weather import Forced, LogKind, Natural
from fruitcast.forecast.under_way import UnderWay
from fruitcast.numbers import default_numbers
from fruitcast.soaks.crops import PickDays
from fruitcast.soaks.kind_arcs import first_of_stacks, kind_arcs

NUMBERS = default_numbers()
TODAY = date(2027, 5, 3)
BACK, DAYS = 10, 300
SOAKS = np.array([12, 74, 75, 138])
NOBODY = np.zeros(DAYS, dtype=bool)
PICK_DAYS = PickDays(BACK, 250, np.full((DAYS, 2), 0.5))
SHAPES = np.array([[0.0, 0.0], [1.0, 0.0], [0.75, 0.25]])


def logs(naturals: tuple[tuple[int, int, int, float], ...] = (), **changes) -> Fruiting:
    """The kind; naturals are (member, trigger, pick, kg) of flushes picked on two days."""
    shape = (DAYS, 2)
    trigger, aborted = np.zeros(shape, dtype=bool), np.zeros(shape, dtype=bool)
    first, length = np.full(shape, DAYS), np.zeros(shape, dtype=np.int64)
    kg = np.zeros(shape)
    for member, day, pick, weight in naturals:
        trigger[day, member] = True
        first[day, member], length[day, member], kg[day, member] = pick, 2, weight
    soaks = (len(SOAKS), 2)
    forced = Forced(
        soak_row=SOAKS,
        pull_row=SOAKS + 1,
        hours=np.array([12.0, 24.0, 24.0, 20.0]),
        allowed=np.ones(len(SOAKS), dtype=bool),
        need=np.ones(soaks),
        pick_row=SOAKS[:, None] + np.array([10, 12]),
        length=np.ones(soaks, dtype=np.int64),
        bears=np.ones(soaks, dtype=bool),
        kg=np.tile([1.0, 2.0], (len(SOAKS), 1)),
    )
    forced = replace(forced, **changes)
    natural = Natural(trigger, NaturalPick(first, aborted), length, kg)
    # Luck is even here as it stands.
    weather = SimpleNamespace(
        numbers=NUMBERS, with_even_luck=lambda forced, _: (forced.kg, natural)
    )
    return Fruiting(
        kinds=(LogKind("wide-range", 0.125),),
        weather=weather,
        forced=forced,
        natural=natural,
        forced_shape=SHAPES,
        natural_shape=SHAPES,
        keeping=np.ones(shape),
    )


def outlook(flushes: dict[str, UnderWay] | None = None, numbers=NUMBERS) -> SimpleNamespace:
    futures = SimpleNamespace(
        lookback=BACK,
        days=DAYS,
        today=TODAY,
        years=(2001, 2002),
        row=lambda day: BACK + (day - TODAY).days,
    )
    return SimpleNamespace(soak_rows=SOAKS, futures=futures, flushes=flushes or {}, numbers=numbers)


def arcs_of(made: Fruiting, away=NOBODY, numbers=NUMBERS):
    return kind_arcs(made, outlook(numbers=numbers), away)[0]


def typed(made, course, least=0.0):
    every = made.with_picks(np.ones(len(made.start), dtype=bool), PICK_DAYS)
    kept = made.brings_at_least(course, 1.0, least)
    told, own = every.type_arcs(course, kept), made.with_picks(kept, PICK_DAYS)
    again = own.type_arcs(course, np.ones(kept.sum(), dtype=bool))
    assert again.start.tolist() == told.start.tolist()
    assert listed(again.crops) == listed(told.crops)
    return told


def pairs(work) -> list[tuple[int, int]]:
    return list(zip(work.start.tolist(), work.stop.tolist(), strict=True))


def listed(crops) -> list[tuple[int, int, int, float]]:
    columns = (crops.row, crops.member, crops.day, crops.kg.astype(float).round(5))
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


def rested(days: float, kg: float) -> float:
    return round(float(rest_factor(days, NUMBERS.yields)) * kg, 5)


EVERY = [(0, 2), (0, 3), (1, 3), (2, 3)]


def test_arcs_join_soaks_rested_to_the_day():
    # 62 days from row 12 to row 74 are one too few.
    assert pairs(arcs_of(logs())) == EVERY
    longer = NUMBERS.with_overrides({"schedule.rest_days": 64})
    assert pairs(arcs_of(logs(), numbers=longer)) == [(0, 3), (1, 3)]


def test_an_arc_brings_its_last_soak_s_crop_by_the_rest_since_the_first_pick():
    crops = typed(arcs_of(logs()), np.ones(DAYS)).crops
    # First picks on rows 22 and 24: 53 and 51 days to row 75. Half of it can be sold.
    assert listed(crops)[:2] == [
        (0, 0, 75, pytest.approx(rested(53, 0.5), abs=1e-5)),
        (0, 1, 77, pytest.approx(rested(51, 1.0), abs=1e-5)),
    ]
    assert listed(crops)[-2:] == [
        (3, 0, 138, pytest.approx(rested(53, 0.5), abs=1e-5)),
        (3, 1, 140, pytest.approx(rested(51, 1.0), abs=1e-5)),
    ]


def test_a_soak_must_be_expected_to_bring_what_makes_it_worth_while():
    # Rested 53 and 51 days from first picks of 1 and 2 kg: the mean over both members counts.
    made = arcs_of(logs())
    expected = (rested(53, 1.0) + rested(51, 2.0)) / 2
    assert made.expected[0] == pytest.approx(expected, abs=1e-5)
    course = np.ones(DAYS)
    assert made.brings_at_least(course, 1.0, made.expected[0]).tolist()[0]
    assert not made.brings_at_least(course, 0.999, made.expected[0])[0]
    assert not made.brings_at_least(course * 0.999, 1.0, made.expected[0])[0]
    heavy = made.brings_at_least(course, 1.0, float(np.median(made.expected)))
    left = made.type_arcs(course, heavy)
    assert pairs(left) == [pair for pair, kept in zip(EVERY, heavy, strict=True) if kept]
    assert 0 < len(left.start) < len(EVERY)


def test_a_soak_that_brought_nothing_starts_the_rest_itself():
    bears = np.ones((len(SOAKS), 2), dtype=bool)
    bears[0, 1] = False
    made = arcs_of(logs(bears=bears, pick_row=np.where(bears, SOAKS[:, None] + 10, DAYS)))
    assert made.factor[pairs(made).index((0, 2))].tolist() == pytest.approx(
        [rested(53, 1), rested(63, 1)], abs=1e-5
    )


def test_a_soak_must_bring_something_in_half_of_the_members():
    kg = np.ones((len(SOAKS), 2))
    kg[3] = [1.0, 0.0]
    assert pairs(arcs_of(logs(kg=kg))) == EVERY
    kg[3] = 0.0
    assert pairs(arcs_of(logs(kg=kg))) == [(0, 2)]
    # A natural flush of rows 135 to 142 stands in the soak's way, in one member or in both.
    one = ((0, 135, 141, 1.0),)
    both = (*one, (1, 136, 141, 1.0))
    assert pairs(arcs_of(logs(one))) == EVERY
    assert (0, 3) not in pairs(arcs_of(logs(both)))
    more = NUMBERS.with_overrides({"schedule.bears_in": 0.6})
    assert (0, 3) not in pairs(arcs_of(logs(one), numbers=more))


def test_neither_end_of_an_arc_may_be_forbidden_or_pulled_on_a_day_away():
    allowed = np.array([True, True, False, True])
    assert pairs(arcs_of(logs(allowed=allowed))) == [(0, 3), (1, 3)]
    away = NOBODY.copy()
    away[76] = True
    made = arcs_of(logs(), away)
    assert pairs(made) == [(0, 3), (1, 3)]
    assert made.allowed.tolist() == [True, True, False, True]
    away[:] = False
    away[75] = True  # the pull of row 74; a soak of row 75 is another matter
    assert pairs(arcs_of(logs(), away)) == [(0, 2), (0, 3), (2, 3)]
    away[:] = False
    away[-1] = True  # pulled past the last row: what holds for that
    late = np.array([13, 75, 76, DAYS + 3])
    assert pairs(arcs_of(logs(pull_row=late), away)) == [(0, 2)]


def test_natural_flushes_before_the_next_soak_are_part_of_an_arc():
    # Rested 77 days after row 22, member 0 is set off on row 100 and picked on 105 and 106; what
    # follows the first soak counts for the arc to row 138, not to row 75, and for the end.
    made = arcs_of(logs(((0, 98, 103, 9.0), (0, 100, 105, 1.0))))
    kind = typed(made, np.ones(DAYS))
    whole = rested(100 - 22, 0.5)
    first = [entry for entry in listed(kind.crops) if entry[0] == 1 and entry[1] == 0]
    assert first == [
        (1, 0, 95, pytest.approx(0.75 * whole, abs=1e-4)),
        (1, 0, 96, pytest.approx(0.25 * whole, abs=1e-4)),
        (1, 0, 138, pytest.approx(rested(138 - 105, 0.5), abs=1e-4)),
    ]
    assert [entry[:3] for entry in listed(kind.end_crops)] == [(0, 0, 95), (0, 0, 96)]
    assert not [entry for entry in listed(kind.crops) if entry[0] == 0 and entry[2] in (95, 96)]


def test_a_type_takes_its_course_from_the_year_of_each_soak_and_trigger():
    made = arcs_of(logs(((0, 100, 105, 1.0),)))
    course = np.ones(DAYS)
    course[70:99], course[99:130], course[130:] = 0.5, 0.25, 3.0
    usual, changed = (typed(made, c) for c in (np.ones(DAYS), course))
    assert (changed.start.tolist(), changed.stop.tolist()) == ([0, 0, 1, 2], [2, 3, 3, 3])

    def ratio(after, before) -> list[tuple]:
        return [
            (*old[:3], pytest.approx(new[3] / old[3], rel=1e-3))
            for old, new in zip(listed(before), listed(after), strict=True)
        ]

    times = {75: 0.5, 77: 0.5, 95: 0.25, 96: 0.25, 138: 3.0, 140: 3.0}
    for after, before in ((changed.crops, usual.crops), (changed.end_crops, usual.end_crops)):
        assert ratio(after, before) == [(*old[:3], times[old[2]]) for old in listed(before)]


def test_logs_past_their_bearing_life_have_no_arc_into_it():
    made = arcs_of(logs(((0, 100, 105, 1.0),)))
    course = np.ones(DAYS)
    course[130:] = 0.0
    kind = typed(made, course)
    assert pairs(kind) == [(0, 2)]
    assert [entry[:3] for entry in listed(kind.crops)] == [(0, 0, 75), (0, 1, 77)]
    course[:], course[75] = 1.0, 0.0
    assert pairs(typed(made, course)) == [(0, 3), (1, 3), (2, 3)]
    assert {row for row, *_ in listed(typed(made, course).crops)} == {0, 1, 2}


def test_a_type_s_nights_hours_and_name():
    kind = typed(arcs_of(logs(pull_row=SOAKS + np.array([1, 1, 2, 3]))), np.ones(DAYS))
    assert kind.nights.tolist() == [1, 1, 2, 3]
    assert kind.hours.tolist() == [12.0, 24.0, 24.0, 20.0]
    assert kind.name == "wide-range, 12.5 cm"


# First arcs ---------------------------------------------------------------------------


def spawn(*rows: int) -> SimpleNamespace:
    return SimpleNamespace(rows=np.array(rows), sure_row=max(rows))


def stack(name: str = "A", **changes) -> SimpleNamespace:
    """Ready and rested since long, of 1 effective logs."""
    made = {
        "name": name,
        "spawn": spawn(-50, -50),
        "kind": LogKind("wide-range", 0.125),
        "state": SimpleNamespace(last_soak=None, logs=1),
        "last_first_pick": None,
        "pulled_on": None,
        "soakable_from": TODAY - timedelta(days=30),
        "effective_logs": 1.0,
    }
    return SimpleNamespace(**{**made, **changes})


def on(row: int) -> date:
    return TODAY + timedelta(days=row - BACK)


def firsts(*stacks, made=None, flushes=None, away=NOBODY, bearing=None, least=0.0, published=-1):
    work = arcs_of(made or logs(), away)
    return first_of_stacks(
        work.logs,
        work.allowed[None],
        stacks,
        outlook(flushes),
        PICK_DAYS,
        bearing=np.tile(np.ones(DAYS) if bearing is None else bearing, (len(stacks), 1)),
        least=least,
        published=np.full(len(stacks), published),
    )


def soaks_of(first, count: int = 1) -> list[list[int]]:
    return [first.soak[first.stack == place].tolist() for place in range(count)]


def test_a_first_soak_is_open_from_the_day_on_which_nothing_forbids_it():
    stacks = [
        stack(),
        stack(soakable_from=on(75)),
        stack(soakable_from=on(76)),
        stack(soakable_from=None),
        stack(effective_logs=0.0),
        stack(soakable_from=on(12)),
        stack(soakable_from=on(13)),
    ]
    found = soaks_of(firsts(*stacks), len(stacks))
    assert found == [[0, 1, 2, 3], [2, 3], [3], [], [], [0, 1, 2, 3], [1, 2, 3]]
    allowed = np.array([True, False, True, True])
    assert soaks_of(firsts(stack(), made=logs(allowed=allowed))) == [[0, 2, 3]]


def test_a_first_soak_brings_nothing_before_the_spawn_run_is_done():
    # Done on row 75 in member 0 and a day later in member 1: on row 75 one of two bears.
    first = firsts(stack(spawn=spawn(75, 76)))
    assert first.starts.factor[0, :, 0].tolist() == pytest.approx(
        [0, 0, *[float(rest_factor(np.inf, NUMBERS.yields))] * 2]
    )
    assert first.starts.factor[0, :, 1].tolist()[:3] == [0.0, 0.0, 0.0]
    assert first.starts.factor[0, 3, 1] > 1


def test_before_the_spawn_run_is_done_nothing_fruits_by_itself_and_takes_the_rest():
    # Weather that sets a flush off on row 60 finds logs that are done on row 70, and others on 50.
    made = logs(((0, 60, 65, 1.0), (1, 60, 65, 1.0)))
    young, grown = (stack(spawn=spawn(r, r), soakable_from=on(r)) for r in (70, 50))
    found = soaks_of(firsts(young, grown, made=made, least=0.5 * 1.5 * FULL), 2)
    assert found == [[1, 2, 3], [3]]


def test_a_first_soak_that_bears_in_too_few_years_is_not_open():
    kg = np.ones((len(SOAKS), 2))
    kg[1], kg[2] = [0.0, 1.0], [0.0, 0.0]
    assert soaks_of(firsts(stack(), made=logs(kg=kg))) == [[0, 1, 3]]


def test_the_rest_since_the_last_first_pick_counts():
    first = firsts(stack(last_first_pick=on(0)))
    assert first.starts.factor[0, :, 0] == pytest.approx(rest_factor(SOAKS - 0.0, NUMBERS.yields))


def test_what_is_left_of_one_stack_s_soak_is_the_same_asked_alone_or_with_all_others():
    # A flush of row 60 takes the rest of logs that are grown through by then, and others wait.
    made = logs(((0, 60, 65, 1.0),))
    rows = (-50, 70, 76)
    stacks = [stack(spawn=spawn(row, row + 1), soakable_from=on(max(row, 10))) for row in rows]
    together = firsts(*stacks, made=made).starts
    every, alone = together.factor, replace(together)  # of which nothing is reckoned yet
    assert "factor" not in vars(alone)
    assert every.shape == (3, len(SOAKS), 2)
    assert len(np.unique(every[:, :, 0], axis=0)) == 3
    for place in range(3):
        for soak in range(len(SOAKS)):
            wanted = every[place, soak].tolist()
            assert alone.left(place, soak).tolist() == wanted
            assert together.left(place, soak).tolist() == wanted


def own_arcs(first, place=0, effective_logs=1.0, flush=None, bearing=None):
    bearing = np.ones(DAYS) if bearing is None else bearing
    return first.arcs(place, effective_logs, flush, bearing, PICK_DAYS)


FULL = float(rest_factor(np.inf, NUMBERS.yields))


def test_each_stack_has_its_own_first_arcs_times_its_scale():
    # B, ready later, has a natural flush set off on row 100: before its soak of row 138.
    stacks = (
        stack(),
        stack("B", soakable_from=on(75), spawn=spawn(60, 60)),
    )
    first = firsts(*stacks, made=logs(((0, 100, 105, 4.0),)))
    a, b = own_arcs(first), own_arcs(first, 1, effective_logs=20.0)
    assert a.soak.tolist() == [0, 1, 2, 3]
    assert b.soak.tolist() == [2, 3]
    near = {"abs": 1e-3}
    whole = 0.5 * 4.0 * FULL
    assert listed(b.crops) == [
        (0, 0, 75, pytest.approx(20 * 0.5 * FULL, **near)),
        (0, 1, 77, pytest.approx(20 * 1.0 * FULL, **near)),
        (1, 0, 95, pytest.approx(20 * 0.75 * whole, **near)),
        (1, 0, 96, pytest.approx(20 * 0.25 * whole, **near)),
        (1, 0, 138, pytest.approx(20 * rested(138 - 105, 0.5), **near)),
        (1, 1, 140, pytest.approx(20 * 1.0 * FULL, **near)),
    ]
    assert listed(b.none_crops) == [
        (0, 0, 95, pytest.approx(20 * 0.75 * whole, **near)),
        (0, 0, 96, pytest.approx(20 * 0.25 * whole, **near)),
    ]
    assert listed(a.none_crops) == [
        (0, 0, 95, pytest.approx(0.75 * whole, **near)),
        (0, 0, 96, pytest.approx(0.25 * whole, **near)),
    ]


def test_a_stack_s_course_multiplies_and_ends_its_first_arcs():
    course = np.ones(DAYS)
    course[74], course[99:130], course[130:] = 0.5, 0.25, 0.0
    first = firsts(stack(), made=logs(((0, 100, 105, 4.0),)), bearing=course)
    made = own_arcs(first, bearing=course)
    assert made.soak.tolist() == [0, 1, 2]
    assert {entry[:2]: entry[3] for entry in listed(made.crops)} == {
        (0, 0): pytest.approx(0.5 * FULL, abs=1e-4),
        (0, 1): pytest.approx(1.0 * FULL, abs=1e-4),
        (1, 0): pytest.approx(0.25 * FULL, abs=1e-4),
        (1, 1): pytest.approx(0.5 * FULL, abs=1e-4),
        (2, 0): pytest.approx(0.5 * FULL, abs=1e-4),
        (2, 1): pytest.approx(1.0 * FULL, abs=1e-4),
    }
    assert sum(kg for *_, kg in listed(made.none_crops)) == pytest.approx(
        0.25 * 0.5 * 4.0 * FULL, abs=1e-4
    )


def test_a_flush_under_way_is_on_every_first_arc_and_without_one():
    share = np.zeros((DAYS, 2))
    share[BACK : BACK + 3, 0] = [0.5, 0.25, 0.25]
    share[BACK + 249 : BACK + 251, 1] = [0.4, 0.6]
    flush = UnderWay(
        "natural",
        TODAY,
        pick=np.array([BACK, BACK + 249]),
        past=np.array([BACK + 3, BACK + 251]),
        kg=np.array([2.0, 1.0]),
        share=share,
    )
    first = firsts(stack(soakable_from=on(75)), flushes={"A": flush})
    course = np.ones(DAYS)
    course[:50] = 0.1  # its own year is counted in its weight
    made = own_arcs(first, effective_logs=10.0, flush=flush, bearing=course)
    now = [(0, 5.0), (1, 2.5), (2, 2.5)]
    # Day 250 lies past the days that count.
    expected = [(0, 0, day, pytest.approx(kg)) for day, kg in now] + [
        (0, 1, 249, pytest.approx(2.0))
    ]
    assert listed(made.none_crops) == expected
    under_way = [entry for entry in listed(made.crops) if entry[2] in (0, 1, 2, 249)]
    again = [(1, *entry[1:]) for entry in expected]
    assert under_way == [*expected, *again]
    assert made.soak.tolist() == [2, 3]


def test_a_first_soak_too_weak_is_closed_unless_it_is_published():
    # Members have 1 and 2 kg of a rested log.
    expected = 1.5 * FULL
    assert soaks_of(firsts(stack(), least=expected - 1e-9)) == [[0, 1, 2, 3]]
    assert soaks_of(firsts(stack(), least=expected + 1e-9)) == [[]]
    many = stack(effective_logs=20.0, state=SimpleNamespace(last_soak=None, logs=40))
    assert soaks_of(firsts(many, least=expected / 2 - 1e-9)) == [[0, 1, 2, 3]]
    assert soaks_of(firsts(many, least=expected / 2 + 1e-9)) == [[]]
    assert soaks_of(firsts(stack(), least=1e9, published=int(SOAKS[2]))) == [[2]]
