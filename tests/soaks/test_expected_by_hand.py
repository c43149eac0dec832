"""Natural flushes week by week and the outcome of a soak, from flushes set by hand.

Row 10 is today, a Monday; four members are told apart.
"""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.forecast.flushes import Following
from fruitcast.forecast.under_way import UnderWay
from fruitcast.numbers import default_numbers
from fruitcast.soaks.expected import natural_weeks, soak_outcome

TODAY = date(2027, 5, 3)
BACK, DAYS, MEMBERS = 10, 200, 4
SOAKS = np.array([13, 80])


def following(starts: int, *flushes: tuple[int, int, int, int, int, float]) -> Following:
    """One flush of each start at most: (start, member, trigger, pick, past, kg)."""
    shape = (1, starts, MEMBERS)
    trigger, pick, past = (np.full(shape, DAYS) for _ in range(3))
    kg = np.zeros(shape)
    for start, member, *rows, weight in flushes:
        at = (0, start, member)
        trigger[at], pick[at], past[at] = rows
        kg[at] = weight
    return Following(np.full((starts, MEMBERS), -np.inf), trigger, pick, past, kg)


def built(first: Following, after: Following, flush: UnderWay | None = None) -> SimpleNamespace:
    """Two stacks of one type: A, the second of the yard, stands first in its kind."""
    stacks = tuple(
        SimpleNamespace(name=n, type_index=0, effective_logs=s)
        for n, s in (("B", 5.0), ("A", 20.0))
    )
    futures = SimpleNamespace(
        lookback=BACK, days=DAYS, date=lambda row: TODAY + timedelta(days=row - BACK)
    )
    work = SimpleNamespace(stacks=(1, 0), first=first, following=after)
    return SimpleNamespace(
        problem=SimpleNamespace(stacks=stacks, members=MEMBERS, horizon_days=140),
        outlook=SimpleNamespace(
            futures=futures, soak_rows=SOAKS, flushes={} if flush is None else {"A": flush}
        ),
        types=(work,),
    )


NONE = following(2)


def weeks(made: SimpleNamespace, path: tuple[int, ...] = ()) -> list[tuple]:
    """What stack A is told: (days to the Monday, chance, kg, first pick, days of picking)."""
    found = natural_weeks(made, ((), path))
    assert {week.stack for week in found} <= {"A"}
    return [
        (
            (w.week - TODAY).days,
            w.chance,
            round(w.expected_kg, 6),
            (w.first_pick - TODAY).days,
            w.days,
        )
        for w in found
    ]


def test_a_week_has_its_chance_its_mean_weight_and_its_middle_pick():
    # Rows 24 to 30 are the week of day 14: three members, one a week later. Of 20 effective logs.
    first = following(
        2,
        (0, 0, 20, 24, 27, 0.1),
        (0, 1, 21, 27, 29, 0.2),
        (0, 2, 22, 30, 35, 0.3),
        (0, 3, 22, 31, 33, 0.4),
    )
    assert weeks(built(first, NONE)) == [(14, 0.75, 3.0, 17, 3), (21, 0.25, 2.0, 21, 2)]


def test_a_trigger_that_would_give_nothing_is_not_told() -> None:
    first = following(2, (0, 0, 20, 24, 27, 0.0), (0, 1, 20, 24, 28, 0.1))
    assert weeks(built(first, NONE)) == [(14, 0.25, 0.5, 14, 4)]


def test_the_middle_of_an_even_number_is_the_earlier():
    first = following(2, (0, 0, 20, 24, 28, 0.1), (0, 1, 21, 26, 29, 0.1))
    assert weeks(built(first, NONE)) == [(14, 0.5, 1.0, 14, 3)]


def test_a_stack_has_the_flushes_of_its_own_place_and_scale():
    first = following(2, (1, 0, 20, 24, 28, 0.1))
    (week,) = natural_weeks(built(first, NONE), ((), ()))
    assert (week.stack, week.expected_kg) == ("B", pytest.approx(0.1 * 5.0 / 4))


def test_a_soak_ends_what_would_be_set_off_on_or_after_its_day():
    for trigger, told in ((12, True), (13, False), (14, False)):
        made = built(following(2, (0, 0, trigger, 17, 20, 0.1)), NONE)
        assert bool(weeks(made, (0,))) is told
        assert weeks(made) and weeks(made, (1,))


def test_after_a_soak_it_is_that_soak_s_flushes_up_to_the_next():
    after = following(
        2, (0, 0, 79, 85, 88, 0.1), (0, 1, 80, 85, 88, 0.1), (1, 2, 100, 109, 110, 0.1)
    )
    made = built(NONE, after)
    assert weeks(made, (0, 1)) == [(70, 0.25, 0.5, 75, 3), (98, 0.25, 0.5, 99, 1)]
    assert weeks(made, (0,)) == [(70, 0.5, 1.0, 75, 3)]
    assert weeks(made, (1,)) == [(98, 0.25, 0.5, 99, 1)]
    assert weeks(made) == []


def test_picks_past_the_horizon_are_not_told():
    for pick, told in ((149, True), (150, False)):
        made = built(following(2, (0, 0, 20, pick, pick + 2, 0.1)), NONE)
        assert bool(weeks(made)) is told


def flush_now(kind: str = "natural", **changes) -> UnderWay:
    made = {
        "pick": np.array([10, 12, 9, 11]),
        "past": np.array([14, 15, 12, 19]),
        "kg": np.array([0.1, 0.2, 0.4, 0.0]),
        "share": np.zeros((DAYS, MEMBERS)),
    }
    return UnderWay(kind, TODAY, **{**made, **changes})


def test_a_natural_flush_that_opens_from_today_on_is_told():
    # Member 2 was first picked yesterday, member 3 has nothing to come.
    assert weeks(built(NONE, NONE, flush_now())) == [(0, 0.5, 1.5, 0, 3)]
    late = flush_now(pick=np.array([17, 9, 9, 9]), past=np.array([19, 12, 12, 12]))
    assert weeks(built(NONE, NONE, late)) == [(7, 0.25, 0.5, 7, 2)]
    assert weeks(built(NONE, NONE, flush_now("forced"))) == []
    # Together with what the weather may set off, by member.
    first = following(2, (0, 0, 11, 14, 18, 0.3), (0, 3, 11, 15, 21, 0.1))
    assert weeks(built(first, NONE, flush_now())) == [(0, 0.75, 3.5, 2, 4)]


def test_weeks_in_less_than_one_future_of_twenty_are_left_out(monkeypatch):
    made = built(following(2, (0, 0, 20, 24, 28, 0.1)), NONE)
    assert len(weeks(made)) == 1
    for least, told in ((0.25, 1), (0.26, 0)):
        monkeypatch.setattr("fruitcast.soaks.expected.LEAST_CHANCE_SHOWN", least)
        assert len(weeks(made)) == told


def soaking() -> SimpleNamespace:
    """Soak 1: 0.1 kg a log, pulled on row 82; warmth of 2 a day from the first row on."""
    made = built(NONE, NONE)
    numbers = default_numbers().with_overrides({"forced.pins_share": 0.4})
    warmth = np.tile(2.0 * np.arange(DAYS + 1)[:, None], MEMBERS)
    made.types[0].fruiting = SimpleNamespace(
        forced=SimpleNamespace(
            kg=np.array([[9.0] * 4, [0.1, 0.1, 0.2, 0.0]]),
            pick_row=np.array([[50] * 4, [92, 97, 87, 200]]),
            length=np.array([[9] * 4, [3, 4, 5, 0]]),
            pull_row=np.array([14, 82]),
        ),
        weather=SimpleNamespace(thermal_time=warmth, numbers=numbers),
    )
    first = np.array([[[1.0] * 4, [0.5, 1.0, 1.0, 1.0]], [[7.0] * 4] * 2])
    made.types[0].left_of_first = lambda place, soak: first[place, soak]
    left = np.array([[[1.0] * 4, [0.5, 0.0, 1.0, 1.0]], [[7.0] * 4] * 2])
    made.types[0].left = lambda before, soak: left[before, soak]
    return made


def test_a_soak_s_crop_is_the_stack_s_scale_times_what_rest_leaves():
    first = soak_outcome(soaking(), 1, (1,), 0)
    assert first.kg == pytest.approx([1.0, 2.0, 4.0, 0.0])
    assert first.comes.tolist() == [True, True, True, False]
    assert first.pick_row.tolist() == [92, 97, 87, 200]
    assert first.past_row.tolist() == [95, 101, 92, 200]
    # Pins at 0.4 of the warmth: 4 of 10 days after the pull, 6 of 15, 2 of 5.
    assert first.pins_row.tolist()[:3] == [86, 88, 84]
    second = soak_outcome(soaking(), 1, (0, 1), 1)
    assert second.kg == pytest.approx([1.0, 0.0, 4.0, 0.0])
    assert second.comes.tolist() == [True, False, True, False]
    other = soak_outcome(soaking(), 0, (1,), 0)
    assert other.kg == pytest.approx([3.5, 3.5, 7.0, 0.0])


def test_first_pick_and_pins_by_a_chance_are_those_of_members_that_bear():
    outcome = soak_outcome(soaking(), 1, (1,), 0)
    assert [outcome.first_pick(chance) for chance in (0.1, 0.33, 0.34, 0.5, 0.67, 0.9)] == [
        87, 87, 92, 92, 97, 97,
    ]  # fmt: skip
    assert [outcome.pins(chance) for chance in (0.1, 0.5, 0.9)] == [84, 86, 88]
