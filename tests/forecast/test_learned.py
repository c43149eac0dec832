"""What the diary's flushes say of the yard, beside what the model expected of them."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.diary.events import Event
from fruitcast.diary.state import Pick, Soak, StackState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.soaks.answer_parts import question_words
from fruitcast.words import day_words
from tests.forecast.yards import NUMBERS, TODAY, UNTAUGHT, look, stack, yard, years_of_weather
from tests.weather.tables import steady

BORN = date(2023, 4, 5)
STEADY = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=12.0, tmax=24.0, rain=3.0)
SOAKS = tuple(date(2025, 5, 6) + timedelta(days=70 * n) for n in range(9))
"""On the nine-week cycle, through two seasons that are all alike."""


def flushes(kg: float, lead: int = 9, soaks=SOAKS, logs: int = 24, **changes):
    """The state after soaks that each gave so much a log, first picked so many days later."""
    made = tuple(Soak(on, logs, 24.0, on + timedelta(days=1)) for on in soaks)
    picks = tuple(
        Pick(on + timedelta(days=1 + lead + n), kg * logs * share, "forced", on)
        for on in soaks
        for n, share in ((0, 0.5), (2, 0.5))
    )
    return StackState("A", logs, soaks=made, picks=picks, **changes)


def learn(*states: StackState, rows=None, weather=STEADY, today=TODAY, **options):
    rows = rows or (stack(inoculated=BORN),)
    return look(yard(*rows), *states, weather=weather, today=today, **options).learned


def only(*states: StackState, **options):
    (found,) = learn(*states, **options).factors
    return found


def test_a_diary_without_a_finished_flush_teaches_nothing():
    assert learn().factors == ()
    soaked = replace(flushes(0.1), picks=())
    assert learn(soaked).factors == ()


def test_rich_flushes_raise_and_poor_ones_lower_the_yield():
    poor, rich = only(flushes(0.05)), only(flushes(0.25))
    assert poor.yield_factor < 1 < rich.yield_factor
    assert poor.flushes == rich.flushes == len(SOAKS)
    assert poor.kg_per_log_before == rich.kg_per_log_before == pytest.approx(0.21)
    assert poor.kg_per_log_after == pytest.approx(poor.kg_per_log_before * poor.yield_factor)


def test_the_yard_s_own_factor_is_found_again():
    """Flushes all of them so much richer or poorer move the factor by what their number weighs."""
    spread = NUMBERS.spread
    lasting = spread.yield_yard**2 + spread.yield_class_tree**2
    flush = spread.yield_flush**2
    # Two seasons of five and four flushes: what each season tells of the yard, as one figure.
    told = sum(1 / (spread.yield_season**2 + flush / n) for n in (5, 4))
    own = spread.yield_stack**2
    share = lasting / (lasting + own + 1 / told)
    unworn = NUMBERS.with_overrides({"yield.wear_least": 1.0})
    usual = only(flushes(0.1), numbers=unworn).yield_factor
    for richer in (0.8, 1.25):
        ratio = only(flushes(0.1 * richer), numbers=unworn).yield_factor / usual
        assert np.log(ratio) == pytest.approx(share * np.log(richer), abs=1e-6)


def test_bearing_years_rest_and_weather_are_not_taken_for_the_yard_s_own():
    """The same logs in a poor year, after a short rest, are no poorer logs."""
    first_year = stack(inoculated=date(2024, 4, 1))  # first bears in 2025
    one = only(flushes(0.1), rows=(first_year,))
    two = only(flushes(0.1), rows=(stack(inoculated=BORN),))
    assert one.yield_factor > two.yield_factor
    close = tuple(date(2025, 5, 6) + timedelta(days=35 * n) for n in range(9))
    assert only(flushes(0.1, soaks=close)).yield_factor > only(flushes(0.1)).yield_factor


def test_lead_times_are_learned_in_warmth_not_in_days():
    # 18 degC gives 13 degree-days a day: the table's 100 are full after 8 days.
    assert only(flushes(0.1, lead=8)).lead_factor == pytest.approx(0.98, abs=0.03)
    slow = only(flushes(0.1, lead=10))
    spread = NUMBERS.spread
    lasting, own = spread.lead_yard**2 + spread.lead_class**2, spread.lead_flush**2 / 9
    share = lasting / (lasting + own)
    assert slow.lead_factor == pytest.approx((9.5 * 13 / 100) ** share, abs=0.03)
    cold = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=6.0, tmax=18.0, rain=3.0)
    same = only(flushes(0.1, lead=14), weather=cold)  # 7 degree-days a day
    assert same.lead_factor == pytest.approx(1.0, abs=0.05)


def test_what_was_learned_is_planned_with():
    plain = look(yard(stack(inoculated=BORN)), flushes(0.05), weather=STEADY, learned=UNTAUGHT)
    learned = look(yard(stack(inoculated=BORN)), flushes(0.05), weather=STEADY)
    factor = learned.learned.of([learned.stacks[0].stack])["A"].yield_factor
    assert learned.stacks[0].effective_logs / learned.stacks[0].wear == pytest.approx(
        plain.stacks[0].effective_logs / plain.stacks[0].wear * factor
    )
    slow = look(yard(stack(inoculated=BORN)), flushes(0.1, lead=12), weather=STEADY)
    assert slow.stacks[0].kind.lead_factor > 1
    first = [o.kinds[o.stacks[0].kind].forced.pick_row for o in (plain, slow)]
    assert first[1].mean() > first[0].mean()


def test_wear_is_not_learned_as_a_poor_yard():
    # Picked hard from the start: later flushes are smaller because the logs are worn.
    rows = (stack(inoculated=date(2024, 4, 1)),)
    hard = flushes(0.24)
    tired = replace(
        hard,
        picks=tuple(
            replace(pick, kg=pick.kg * (1.0 if n < 8 else 0.4)) for n, pick in enumerate(hard.picks)
        ),
    )
    found = only(tired, rows=rows)
    blind = NUMBERS.with_overrides({"yield.wear_least": 1.0})
    assert found.yield_factor > only(tired, rows=rows, numbers=blind).yield_factor


def test_one_slip_of_the_decimal_point_is_asked_about_and_not_learned():
    honest = flushes(0.12)
    slipped = replace(
        honest,
        picks=tuple(
            replace(p, kg=p.kg * 10) if p.soaked_on == SOAKS[3] else p for p in honest.picks
        ),
    )
    learning = learn(slipped)
    (question,) = learning.questions
    assert question.stack == "A" and question.soaked_on == SOAKS[3]
    assert question.quantity == "yield"
    assert question.observed == pytest.approx(28.8)
    assert question.expected < 6
    words = question_words(question, "metric")
    assert "Is this pick right?" in words and day_words(SOAKS[3], date.min) in words
    found = learning.factors[0]
    assert found.flushes == len(SOAKS) - 1
    assert found.yield_factor == pytest.approx(only(honest).yield_factor, rel=0.1)
    # Nor does it wear the logs out, until it is confirmed.
    worn = look(yard(stack(inoculated=BORN)), slipped, weather=STEADY).stacks[0].wear
    usual = look(yard(stack(inoculated=BORN)), honest, weather=STEADY).stacks[0].wear
    assert worn == pytest.approx(usual, rel=0.15)
    sure = replace(slipped, picks=tuple(replace(p, confirmed=True) for p in slipped.picks))
    assert look(yard(stack(inoculated=BORN)), sure, weather=STEADY).stacks[0].wear < 0.8 * worn


def test_a_confirmed_pick_counts_however_odd():
    odd = flushes(1.2, soaks=SOAKS[:1])
    asked = learn(odd)
    assert len(asked.questions) == 1 and asked.factors[0].yield_factor == 1
    sure = replace(odd, picks=tuple(replace(p, confirmed=True) for p in odd.picks))
    learning = learn(sure)
    assert learning.questions == ()
    assert learning.factors[0].yield_factor > 1.2


def test_a_wild_lead_time_is_asked_about():
    learning = learn(flushes(0.12, lead=25, soaks=SOAKS[:1]))
    (question,) = [q for q in learning.questions if q.quantity == "lead time"]
    assert question.observed == 25 and question.expected == 8
    assert "Is the day right?" in question_words(question, "us")


def test_a_flush_still_being_picked_is_not_learned_from():
    on = TODAY - timedelta(days=12)
    unfinished = flushes(0.08, soaks=[*SOAKS[:4], on])
    finished = flushes(0.08, soaks=SOAKS[:4])
    assert only(unfinished).flushes == only(finished).flushes == 4
    week_later = TODAY + timedelta(days=7)
    weather = steady(date(2011, 1, 1), week_later - timedelta(days=1), tmin=12, tmax=24, rain=3.0)
    assert only(unfinished, weather=weather, today=week_later).flushes == 5


def test_what_was_learned_stands_until_one_more_flush_is_finished(monkeypatch):
    made = yard(stack(inoculated=BORN))
    before = look(made, flushes(0.05, soaks=SOAKS[:4]), weather=STEADY)
    more = look(made, flushes(0.05), weather=STEADY, before=before).learned
    assert more.factors == learn(flushes(0.05)).factors != before.learned.factors
    failed = Soak(date(2027, 3, 1), 24, 24.0, date(2027, 3, 2), brought_nothing=True)
    state = flushes(0.05, soaks=SOAKS[:4])
    state = replace(state, soaks=(*state.soaks, failed))
    expected = learn(state)
    monkeypatch.delattr("fruitcast.forecast.learned._learn_yields")
    found = look(made, state, weather=STEADY, before=before).learned
    assert found.factors == expected.factors
    assert found.fails == expected.fails > before.learned.fails


def test_nothing_of_the_future_is_learned():
    """The diary as it stood on an earlier day, and the weather up to then, are all that count."""
    made = yard(stack(inoculated=BORN))
    events = [
        event
        for on in SOAKS
        for event in (
            Event("soak", on, stack="A", hours=24.0),
            Event("pull", on + timedelta(days=1), stack="A"),
            Event("pick", on + timedelta(days=10), stack="A", kg=4.0),
        )
    ]
    earlier = date(2026, 5, 1)
    then = yard_state(made, events, earlier).stacks["A"]
    known = [event for event in events if event.on <= earlier]
    assert then == yard_state(made, known, earlier).stacks["A"]
    weather = STEADY.cut(STEADY.start, earlier)
    warm_later = STEADY.cut(STEADY.start, TODAY)
    changed = warm_later.values["tmax"].copy()
    changed[warm_later.index(earlier) :] += 9.0
    warm_later = replace(warm_later, values={**warm_later.values, "tmax": changed})
    found = [learn(then, weather=w, today=earlier) for w in (weather, warm_later)]
    assert found[0].factors == found[1].factors
    assert found[0].factors[0].flushes == sum(on < date(2026, 4, 10) for on in SOAKS)


def test_a_pick_shared_among_lots_is_one_flush():
    whole = stack(inoculated=BORN, logs=100)
    made = yard(whole)
    events = [
        Event("soak", SOAKS[0], stack="A", hours=24.0),
        Event("pull", SOAKS[0] + timedelta(days=1), stack="A"),
        Event("pick", SOAKS[0] + timedelta(days=10), stack="A", kg=12.0),
    ]
    state = yard_state(made, events, TODAY)
    assert set(state.stacks) == {"A/1", "A/2"}
    from fruitcast.forecast.outlook import outlook
    from tests.forecast.yards import known

    now = known(made, weather=STEADY)
    found = outlook(
        made, state, now.weather, TODAY, now.years, [], weeks=12, seed=1, numbers=NUMBERS
    ).learned
    assert found.factors[0].flushes == 1


def test_parts_of_crates_teach_less_than_what_was_weighed():
    weighed = flushes(0.25)
    parts = replace(weighed, picks=tuple(replace(pick, shared=True) for pick in weighed.picks))
    half = replace(
        weighed,
        picks=tuple(
            replace(pick, shared=number % 2 == 1) for number, pick in enumerate(weighed.picks)
        ),
    )
    told = [only(state) for state in (parts, half, weighed)]
    assert 1 < told[0].yield_factor < told[1].yield_factor < told[2].yield_factor
    # That mushrooms came, and when, was seen all the same.
    assert len({one.lead_factor for one in told}) == 1
    assert {one.flushes for one in told} == {len(SOAKS)}


def test_natural_flushes_teach_yield_but_no_lead_time():
    picks = tuple(
        Pick(date(2025, 6, 1) + timedelta(days=100 * n), 24 * 0.3, "natural") for n in range(6)
    )
    found = only(StackState("A", 24, picks=picks, natural_seen_on=picks[0].on))
    assert found.flushes == 6
    assert found.lead_flushes == 0 and found.lead_factor == 1
    assert found.yield_factor > 1


def test_classes_and_trees_are_learned_apart():
    rows = (
        stack("A", BORN),
        stack("B", BORN, tree="red maple"),
        stack("C", BORN, strain_class="warm-weather"),
    )
    states = [
        replace(flushes(kg), name=name) for name, kg in zip("ABC", (0.1, 0.2, 0.05), strict=True)
    ]
    learning = learn(*states, rows=rows)
    assert [(f.strain_class, f.tree) for f in learning.factors] == [
        ("warm-weather", "red oak"),
        ("wide-range", "red maple"),
        ("wide-range", "red oak"),
    ]
    warm, maple, oak = (found.yield_factor for found in learning.factors)
    assert maple > oak > warm


def test_a_stack_without_a_pick_learns_from_its_neighbours():
    rows = (
        stack("A", BORN),
        stack("B", BORN),
        stack("C", BORN, strain_class="warm-weather", tree="beech"),
    )
    learning = learn(flushes(0.05), rows=rows)
    taught = learning.of(rows)
    own, alike, other = (taught[row.name].yield_factor for row in rows)
    assert own < alike < other < 1
    assert learning.of_new_logs("wide-range", "red oak") == pytest.approx(
        taught["B"].lasting_factor
    )


def test_what_a_season_was_is_forgotten_at_its_end():
    soaks = tuple(date(2026, 5, 6) + timedelta(days=63 * n) for n in range(4))
    (autumn, spring) = (date(2026, 12, 20), date(2027, 1, 10))
    state = flushes(0.05, soaks=soaks)
    row = stack(inoculated=BORN)
    weather = steady(date(2011, 1, 1), spring, tmin=12.0, tmax=24.0, rain=3.0)
    now, then = (
        learn(state, weather=weather.cut(weather.start, day), today=day).of([row])["A"]
        for day in (autumn, spring)
    )
    assert now.yield_factor < then.yield_factor < 1
    assert now.lasting_factor == pytest.approx(then.lasting_factor, rel=0.01)
    assert then.yield_factor == pytest.approx(then.lasting_factor)


def test_soaks_that_brought_nothing_teach_the_chance_of_that():
    usual, strong = NUMBERS.spread.fails, NUMBERS.spread.fails_soaks
    state = flushes(0.1)
    empty = replace(
        state,
        soaks=tuple(replace(soak, brought_nothing=soak.on == SOAKS[2]) for soak in state.soaks),
        picks=tuple(pick for pick in state.picks if pick.soaked_on != SOAKS[2]),
    )
    bore = len(SOAKS)
    assert learn(state).fails == pytest.approx(usual * strong / (strong + bore))
    assert learn(empty).fails == pytest.approx((usual * strong + 1) / (strong + bore))
    # When the weather explains it, the yard is not to blame: 3 degC brings nothing.
    cold = steady(date(2011, 1, 1), TODAY - timedelta(days=1), tmin=-1.0, tmax=7.0, rain=3.0)
    assert learn(empty, weather=cold).fails < learn(empty).fails
    found = look(yard(stack(inoculated=BORN)), empty, weather=STEADY)
    certain = look(yard(stack(inoculated=BORN)), empty, weather=STEADY, learned=found.learned)
    assert certain.kinds[found.stacks[0].kind].weather.luck.fails == found.learned.fails


def test_the_document_shows_before_and_after():
    learning = learn(flushes(0.05, lead=10))
    (entry,) = learning.factors
    assert entry.kg_per_log_after < entry.kg_per_log_before
    assert entry.lead_degree_days_after > entry.lead_degree_days_before == 100
    assert entry.flushes == entry.lead_flushes == len(SOAKS)
    assert entry.asked == 0


@pytest.mark.benchmark
def test_learning_from_five_hundred_flushes_takes_milliseconds():
    from fruitcast.forecast.learned import learn_from_diary

    trees = ("red oak", "white oak", "beech", "sugar maple")
    rows = tuple(stack(f"S{n}", BORN, tree=trees[n % 4]) for n in range(90))
    states = [replace(flushes(0.12), name=row.name) for row in rows]
    made = yard(*rows)
    outlook = look(made, *states, weather=years_of_weather())
    given = list(zip(rows, states, strict=True))
    runs = [s.spawn for s in outlook.stacks]
    best = float("inf")
    for _ in range(3):
        begun = time.perf_counter()
        found = learn_from_diary(given, runs, outlook.past, TODAY, made.site, NUMBERS)
        best = min(best, time.perf_counter() - begun)
    counted = sum(f.flushes + f.asked for f in found.factors)
    print(f"\nlearning from {counted} flushes: {1000 * best:.0f} ms")
    assert counted >= 500
    assert best < 0.4
