"""What logs of one kind do in every member; members that know nothing of each other."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.biology.yields import rest_factor
from fruitcast.forecast.flushes import FOLLOWED_DAYS, follow, soak_factor
from fruitcast.forecast.fruiting import fruiting
from fruitcast.forecast.log_weather import LogKind
from fruitcast.forecast.members import make_futures
from fruitcast.numbers import numbers_from
from tests.forecast.yards import (
    NUMBERS,
    TODAY,
    UNTAUGHT,
    known,
    look,
    luck,
    stack,
    yard,
    years_of_weather,
)

YEARS = tuple(range(2012, 2026))
ROWS = np.arange(125, 300, 7)
USUAL = LogKind("wide-range", 0.125)
MIXED = (
    stack("A", date(2024, 4, 5)),
    stack("B", date(2024, 4, 5), strain_class="warm-weather", diameter=0.1),
    stack("C", date(2024, 4, 5), strain_class="cold-weather", diameter=0.15),
)


def futures(years=YEARS, today=TODAY):
    weather = known(yard()).weather
    return make_futures(weather, today, years, lookback=120, days_ahead=330, seed=1)


def logs(*kinds, made=None, moisture=0.7, water=0.0, seed=1, rows=ROWS):
    made = made or futures()
    kinds = kinds or (USUAL,)
    return fruiting(
        kinds,
        made,
        np.full((made.days, len(kinds) * len(made.years)), moisture),
        np.tile(made.rain + water, len(kinds)),
        rows,
        lucks=[luck(made.tmean.shape[1])] * len(kinds),
        seed=seed,
        numbers=NUMBERS,
        where="north",
    )


def test_a_member_does_not_depend_on_the_others_or_their_order():
    """The choice of hours is one for all members, and luck is spread evenly over all of them.

    So is what is usual, beside which yesterday was warm or cold: that is left out here.
    """
    key = "forecast.persistence"
    lasts = replace(NUMBERS.table[key], value=0.0)
    numbers = numbers_from({**NUMBERS.table, key: lasts})
    a = look(yard(*MIXED), years=YEARS, learned=UNTAUGHT, numbers=numbers)
    for other, alike in ((tuple(reversed(YEARS))[:10], False), (tuple(reversed(YEARS)), True)):
        b = look(yard(*MIXED), years=other, learned=UNTAUGHT, numbers=numbers)
        # Members put together from other years are others.
        real = [n for n, year in enumerate(b.futures.years) if alike or year > 0]
        at = [a.futures.years.index(b.futures.years[n]) for n in real]
        assert (a.water.moisture[:, :, at] == b.water.moisture[:, :, real]).all()
        for left, right in zip(a.stacks, b.stacks, strict=True):
            one, two = a.kinds[left.kind], b.kinds[right.kind]
            assert (one.natural.trigger[:, at] == two.natural.trigger[:, real]).all()
            assert (left.spawn.rows[at] == right.spawn.rows[real]).all()
            for name in ("pick_row", "length", "bears", "kg", "need") if alike else ():
                x, y = getattr(one.forced, name)[:, at], getattr(two.forced, name)
                assert x == pytest.approx(y), name


def test_kinds_side_by_side_do_what_each_does_alone():
    kinds = (
        USUAL,
        replace(USUAL, diameter=0.1, lead_factor=1.2),
        LogKind("cold-weather", 0.15, lead_factor=0.9),
        LogKind("warm-weather", 0.125),
    )
    together = logs(*kinds)
    assert [one.kinds for one in together.classes] == [kinds[:2], kinds[2:3], kinds[3:]]
    good = np.split(together.good_weather(), len(kinds))
    for kind, one, fit in zip(kinds, together.each, good, strict=True):
        alone = logs(kind)
        assert one.kinds == (kind,)
        for field in fields(alone.forced):
            left, right = getattr(one.forced, field.name), getattr(alone.forced, field.name)
            assert (left == right).all(), field.name
        assert (one.natural.trigger == alone.natural.trigger).all()
        assert (one.natural.pick.first_pick == alone.natural.pick.first_pick).all()
        assert (one.natural.length == alone.natural.length).all()
        assert (one.natural.kg == alone.natural.kg).all() and one.natural.kg.any()
        assert (fit == alone.good_weather()).all()
        kg, natural = alone.weather.with_even_luck(alone.forced, alone.natural.trigger)
        even, coming = one.weather.with_even_luck(one.forced, one.natural.trigger)
        assert (even == kg).all() and (coming.kg == natural.kg).all()


def test_other_stacks_leave_the_weather_s_part_alone():
    """What all stacks have in common depends on what stacks there are; the rest does not."""
    alone = look(yard(MIXED[0]), years=YEARS, learned=UNTAUGHT)
    among = look(yard(*MIXED), years=YEARS, learned=UNTAUGHT)
    one, two = alone.kinds[alone.stacks[0].kind], among.kinds[among.stacks[0].kind]
    assert (one.natural.trigger == two.natural.trigger).all()
    rows = [10, 200]
    assert (one.weather.normals("yield", rows) == two.weather.normals("yield", rows)).all()
    assert alone.stacks[0].effective_logs == pytest.approx(among.stacks[0].effective_logs)
    assert one.weather.luck.yield_log_sd < two.weather.luck.yield_log_sd


def test_what_stacks_share_is_of_mean_one_in_every_season():
    kinds = look(yard(*MIXED), years=YEARS, learned=UNTAUGHT, weeks=45).kinds
    for one in kinds.values():
        weather = one.weather
        assert weather.shared.mean(axis=1) == pytest.approx(1)
        assert weather.luck.leads.mean() == pytest.approx(1)
        assert np.ptp(weather.shared[-1]) > 0.5
        # This season's part and the next one's differ, the yard's is the same.
        first, last = np.log(weather.shared[[0, -1]])
        assert 0.4 < np.corrcoef(first, last)[0, 1] < 0.9


def test_planning_a_day_later_draws_the_same_for_the_same_soak():
    weather = years_of_weather()
    early = look(yard(MIXED[0]), today=TODAY - timedelta(days=1), learned=UNTAUGHT)
    late = look(yard(MIXED[0]), weather=weather, learned=UNTAUGHT)
    a, b = (each.kinds[each.stacks[0].kind].forced for each in (early, late))
    assert a.need[-5:] == pytest.approx(b.need[-5:])


def test_another_seed_draws_otherwise():
    assert (logs(seed=1).forced.need != logs(seed=2).forced.need).mean() > 0.8


def test_a_learned_lead_time_keeps_the_draws():
    slow = logs(LogKind("wide-range", 0.125, lead_factor=1.2))
    usual = logs()
    assert slow.forced.need == pytest.approx(1.2 * usual.forced.need)
    assert (slow.forced.pick_row >= usual.forced.pick_row).all()


def test_hours_that_the_grower_has_fixed_count_on_their_day_alone():
    """Dry logs take up less in six hours than in three days, and come out two days sooner."""
    row = int(ROWS[3])
    day = futures().first + timedelta(days=row)
    usual, short, long = (
        logs(LogKind("wide-range", 0.125, own=own), moisture=0.45).forced
        for own in (None, (day, 6.0), (day, 72.0))
    )
    for own, hours, nights in ((short, 6, 1), (long, 72, 3)):
        assert (own.hours[3], own.pull_row[3]) == (hours, row + nights)
        others = np.arange(len(ROWS)) != 3
        for name in ("hours", "pull_row", "pick_row", "kg"):
            assert (getattr(own, name)[others] == getattr(usual, name)[others]).all()
    assert short.need[3] == pytest.approx(long.need[3])
    assert (short.pick_row[3] <= long.pick_row[3]).all()
    assert short.pick_row[3].mean() < long.pick_row[3].mean()
    assert short.kg[3].mean() < 0.9 * long.kg[3].mean()


def test_dry_logs_bear_less_and_are_not_set_off():
    moist, dry = logs(moisture=0.7), logs(moisture=0.31)
    bearing = moist.forced.kg > 0
    assert (dry.forced.kg[bearing] < moist.forced.kg[bearing]).all()
    assert moist.natural.trigger.any() and not dry.natural.trigger.any()


def test_watering_counts_as_rain_for_the_triggers():
    made = futures()
    water = np.zeros(made.tmean.shape)
    plain = logs(water=-made.rain)  # no rain at all
    assert not plain.natural.trigger.any()
    water[200:202] = 12.5  # two days of watering in the middle of the summer
    wetted = logs(water=water - made.rain)
    assert set(np.flatnonzero(wetted.natural.trigger.any(axis=1))) <= {201, 202}


def test_lead_time_follows_the_warmth_of_the_member():
    made, found = futures(), logs()
    forced = found.forced
    soak, member = np.nonzero(forced.bears)
    warm = [
        made.tmean[forced.pull_row[s] : forced.pick_row[s, m], m].mean()
        for s, m in zip(soak, member, strict=True)
    ]
    days = (forced.pick_row - forced.pull_row[:, None])[soak, member]
    assert np.corrcoef(warm, days)[0, 1] < -0.8
    warmest, coolest = np.array(warm) > 20, np.array(warm) < 13
    assert 5 <= days[warmest].mean() <= 9
    assert 10 <= days[coolest].mean() <= 22


def test_a_course_of_bearing_years_only_multiplies():
    plain = logs()
    course = np.linspace(0.5, 1.0, plain.weather.futures.days)
    curved = plain.times_bearing(course)
    assert curved.forced.kg == pytest.approx(plain.forced.kg * course[ROWS][:, None])
    assert curved.natural.kg == pytest.approx(plain.natural.kg * course[:, None])


# --- natural flushes one after another --------------------------------------------------------


def chain(last=-np.inf, ready=0, **options):
    found = logs()
    members = len(found.weather.futures.years)
    following = follow(
        found,
        np.full((1, members), float(last)),
        np.full((1, members), ready),
        options.get("today", found.weather.futures.lookback),
    )
    return found, following


def test_natural_flushes_keep_their_rest():
    _, following = chain()
    rest = int(NUMBERS.natural.rest_days)
    there = following.kg > 0
    assert 1 < len(following.trigger) <= FOLLOWED_DAYS / rest
    for flush in range(1, len(following.trigger)):
        gap = following.trigger[flush] - following.pick[flush - 1]
        assert (gap[there[flush]] >= rest).all()


def test_a_flush_starts_neither_before_it_is_ready_nor_before_it_is_rested():
    rest = int(NUMBERS.natural.rest_days)
    _, late = chain(ready=250)
    assert late.trigger.min() >= 250
    _, rested = chain(last=180)
    assert rested.trigger.min() >= 180 + rest


def test_flushes_that_nobody_saw_before_today_did_not_happen():
    found, following = chain()
    today = found.weather.futures.lookback
    assert following.pick[following.kg > 0].min() >= today


def test_what_the_known_weather_has_set_off_is_under_way():
    made = futures(YEARS[:-1], today=date(2026, 9, 20))
    today, shape = made.lookback, made.tmean.shape
    starts = []
    for row in range(today - 15, today):
        water = np.zeros(shape)
        water[row] = 30.0
        found = logs(made=made, water=water - made.rain)
        nothing = np.full((1, shape[1]), -np.inf)
        ready = np.zeros((1, shape[1]), dtype=np.int64)
        starts += follow(found, nothing, ready, today).trigger[:1, 0].tolist()
    # All members have seen the same rain, so it has set off all of them or none.
    set_off = [rows for rows in starts if min(rows) < today]
    assert set_off
    assert all(max(rows) < today for rows in set_off)


def test_the_rest_before_a_natural_flush_counts():
    _, never = chain()
    _, short = chain(last=40)
    same = (never.trigger[0] == short.trigger[0]) & (never.kg[0] > 0)
    assert same.any()
    factor = rest_factor(short.trigger[0][same] - 40, NUMBERS.yields) / rest_factor(
        np.inf, NUMBERS.yields
    )
    assert short.kg[0][same] == pytest.approx(never.kg[0][same] * factor)


def test_a_soak_during_a_natural_flush_gives_nothing_and_after_it_less():
    _, following = chain()
    rows = np.arange(100, 300)
    factor = soak_factor(following, rows, NUMBERS.yields)[0]
    for member in range(factor.shape[1]):
        if following.kg[0, 0, member] <= 0:
            continue
        trigger, pick, past = (
            int(getattr(following, name)[0, 0, member]) for name in ("trigger", "pick", "past")
        )
        inside = (rows > trigger) & (rows < past)
        assert (factor[inside, member] == 0).all()
        before = rows <= trigger
        assert factor[before, member] == pytest.approx(float(rest_factor(np.inf, NUMBERS.yields)))
        just_after = (rows >= past) & (rows < past + 40)
        expected = rest_factor(rows[just_after] - pick, NUMBERS.yields)
        assert factor[just_after, member] == pytest.approx(expected)


def test_a_season_that_comes_true_has_luck_of_both_kinds():
    """All members are one weather year there: nothing is spread evenly over them."""
    made = look(yard(), years=(2015,) * 10)
    (logs,) = made.kinds.values()
    drawn = logs.weather.normals("yield", np.arange(200))
    assert (np.ptp(drawn, axis=1) == 0).all()
    assert drawn[:, 0].mean() == pytest.approx(0, abs=0.25)
    assert drawn[:, 0].std() == pytest.approx(1, abs=0.2)
