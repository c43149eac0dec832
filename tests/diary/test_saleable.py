"""The saleable share that a yard's own picks teach, by hand; and what losses do to the stock."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.diary.cold_store import cold_store, learned_share, losses, losses_words
from fruitcast.diary.entry_faults import faults_of
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.errors import InputError
from tests.diary.diary_samples import TODAY, day, entry, yard
from tests.diary.test_diary_recording import read


def lossy(on, stack, kg, lost=None, second=None, cause=""):
    return entry("pick", on, stack, kg=kg, lost_kg=lost, second_kg=second, cause=cause)


def test_the_share_is_the_mean_of_a_beta_by_hand():
    # Beta(6 x 0.85, 6 x 0.15) and 6 flushes of which 0.7 was good: Beta(5.1 + 4.2, 0.9 + 1.8).
    assert learned_share(10.0, 7.0, 6, believed=0.85, counts_as=6) == pytest.approx(9.3 / 12.0)
    assert learned_share(10.0, 7.0, 1, believed=0.85, counts_as=6) == pytest.approx(5.8 / 7.0)
    assert learned_share(0.0, 0.0, 0, believed=0.85, counts_as=6) == 0.85


@given(
    st.floats(0.01, 100), st.floats(0, 1), st.integers(1, 500), st.floats(0.05, 1), st.floats(1, 99)
)
def test_the_share_lies_between_belief_and_picks_and_nears_the_picks(
    kg, good, flushes, believed, counts_as
):
    share = learned_share(kg, kg * good, flushes, believed=believed, counts_as=counts_as)
    assert min(good, believed) - 1e-9 <= share <= max(good, believed) + 1e-9
    more = learned_share(kg, kg * good, 10 * flushes, believed=believed, counts_as=counts_as)
    assert abs(more - good) <= abs(share - good) + 1e-9


def test_nothing_changes_without_a_record_of_losses():
    events = [entry("pick", "04-01", "A", kg=2.0), entry("discard", "04-02", "A", kg=0.3)]
    found = losses(yard(), events)
    assert found.share == found.believed == 0.85 and not found.flushes
    assert losses_words(found) == ""
    state = yard_state(yard(), [entry("pick", "05-01", "A", kg=2.0)], TODAY)
    assert state.stock == ((date(2027, 5, 1), 2.0 * 0.85),)


def test_picks_count_from_the_first_to_the_last_that_tells_of_a_loss():
    events = [
        entry("pick", "03-01", "A", kg=9.0),  # nobody looked yet
        lossy("04-01", "A", 2.0, lost=0.5, cause="slugs"),
        entry("pick", "04-03", "A", kg=1.0),  # the same flush, all good
        entry("pick", "04-20", "B", kg=3.0),
        lossy("05-01", "A", 2.0, second=0.4),
        entry("pick", "05-03", "C", kg=9.0),  # nor any more
    ]
    found = losses(yard(), events)
    assert (found.picked_kg, found.second_kg, found.flushes) == (8.0, 0.4, 3)
    assert found.lost_kg == {"slugs": 0.5}
    assert found.share == pytest.approx((6 * 0.85 + 3 * 7.1 / 8.0) / 9)
    assert losses_words(found) == (
        "Of what you picked so far 89% was good (slugs 6%, seconds 5%), so the plan counts on "
        "86% instead of 85%."
    )


def test_each_season_tells_for_itself():
    last_year = [lossy("2026-05-01", "A", 1.0, lost=0.5, cause="slugs")]
    unseen = [entry("pick", on, "A", kg=5.0) for on in ("2026-09-01", "2027-04-01")]
    found = losses(yard(), [*last_year, *unseen, lossy("05-01", "B", 1.0, lost=0.1)])
    assert (found.picked_kg, found.flushes) == (2.0, 2)


def test_rain_counts_for_neither_side_since_the_weather_reckons_it():
    found = losses(yard(), [lossy("05-01", "A", 2.0, lost=1.0, cause="rain-soaked")])
    assert found.share == pytest.approx((6 * 0.85 + 1.0) / 7)
    assert losses_words(found).endswith(
        "counts on 87% instead of 85%; rain it reckons by the weather."
    )


def test_what_is_thrown_away_with_its_cause_counts_back_to_its_pick():
    events = [
        entry("pick", "05-01", "A", kg=1.0),
        entry("pick", "05-03", "B", kg=2.0),
        entry("discard", "05-05", "A", kg=0.2, cause="dried out"),
    ]
    found = losses(yard(), events)
    assert (found.picked_kg, found.lost_kg, found.flushes) == (3.0, {"dried out": 0.2}, 2)
    without_stack = [*events[:2], entry("discard", "05-05", kg=0.2, cause="slugs")]
    assert losses(yard(), without_stack).picked_kg == 2.0


def test_a_whole_pick_of_second_grade_is_told_by_its_grade():
    found = losses(yard(), [entry("pick", "05-01", "A", kg=1.0, grade="seconds")])
    assert found.second_kg == 1.0 and found.share == pytest.approx(6 * 0.85 / 7)


def test_learning_again_from_a_yard_that_has_learned_counts_nothing_twice():
    events = [lossy("05-01", "A", 1.0, lost=0.5, cause="slugs")]
    once = losses(yard(), events).share
    assert losses(yard().with_saleable(once), events).share == once


def batches(events, saleable=0.8):
    on_hand, gone = cold_store(events, saleable=saleable, keeps_days=10, today=TODAY)
    return (
        {(b.stack, b.grade): pytest.approx(b.kg) for b in on_hand},
        [(w.event.kind, w.batch.grade, pytest.approx(w.batch.kg)) for w in gone],
    )


def test_what_a_pick_says_goes_before_the_share_and_seconds_lie_apart():
    pick = lossy("05-05", "A", 2.0, lost=0.5, second=0.3, cause="slugs")
    assert batches([pick, entry("pick", "05-05", "B", kg=1.0)])[0] == {
        ("A", ""): 1.2,
        ("A", "seconds"): 0.3,
        ("B", ""): 0.8,
    }
    state = yard_state(yard(), [pick], TODAY)
    assert state.stock == ((day("05-05"), pytest.approx(1.2)),)
    assert state.stacks["A"].picked_kg == 2.0  # all of it is what the stack bore


def test_seconds_go_where_seconds_are_sold_else_last():
    pick = lossy("05-05", "A", 2.0, second=0.5)
    seconds = entry("sold", "05-06", kg=0.2, outlet="Inn", grade="seconds")
    assert batches([pick, seconds])[1] == [("sold", "seconds", 0.2)]
    both = entry("sold", "05-06", kg=1.7, outlet="Inn")
    assert batches([pick, both])[1] == [("sold", "", 1.5), ("sold", "seconds", 0.2)]


def test_a_loss_told_later_first_uses_up_what_was_taken_as_lost():
    pick = entry("pick", "05-05", "A", kg=1.0)
    on_hand, gone = batches([pick, entry("discard", "05-06", "A", kg=0.3, cause="slugs")])
    assert on_hand == {("A", ""): 0.7}
    assert gone == [("discard", "", 0.2), ("discard", "", 0.1)]
    # Without a cause it may have been good and too old: then it comes off what is on hand.
    assert batches([pick, entry("discard", "05-06", "A", kg=0.3)])[0] == {("A", ""): 0.5}


def test_more_lost_than_picked_is_refused():
    assert faults_of(lossy("05-01", "A", 1.0, lost=0.7, second=0.4)) == [
        "second_kg and lost_kg are more than the kg picked"
    ]
    assert "cause 'wasps' is not one of" in faults_of(lossy("05-01", "A", 1.0, cause="wasps"))[0]


@pytest.mark.parametrize(
    ("words", "kg", "second", "lost", "cause"),
    [
        ("A 1.2 kg, 200 g seconds", 1.2, 0.2, None, ""),
        ("A 1.2 kg and 200 g seconds", 1.4, 0.2, None, ""),
        ("A 1.2 kg, of it 200 g seconds", 1.2, 0.2, None, ""),
        ("A 1.2 kg, 300 g lost to slugs", 1.2, None, 0.3, "slugs"),
        ("A 1.2 kg, 300 g rain-soaked", 1.2, None, 0.3, "rain-soaked"),
        ("A 1.2 kg, 100 g spoilt", 1.2, None, 0.1, "other"),
        ("A 1.2 kg, 100 g dried out", 1.2, None, 0.1, "dried out"),
        ("A 1 kg 200 g", 1.2, None, None, ""),
    ],
)
def test_what_of_a_pick_is_no_good_is_read_from_words(words, kg, second, lost, cause):
    event = read(f"pick {words}").event
    assert event.kg == pytest.approx(kg)
    assert (event.second_kg, event.lost_kg, event.cause) == (
        second and pytest.approx(second),
        lost and pytest.approx(lost),
        cause,
    )


def test_a_whole_pick_of_seconds_and_one_without_are_told_apart():
    assert read("pick A 1.2 kg seconds").event.grade == "seconds"
    assert read("pick A 2 lb, 6 oz").event.second_kg is None


def test_two_causes_in_one_pick_are_refused():
    with pytest.raises(InputError):
        read("pick A 2 kg, 100 g slugs, 200 g rain-soaked")


@pytest.mark.parametrize(
    ("words", "kg", "paid"),
    [
        ("1.2 kg for 26.40", 1.2, 26.4),
        ("1.2 kg at 22", 1.2, 26.4),
        ("2 lb at 12", 0.90718474, 24.0),
        ("500 g at 22", 0.5, 11.0),
        ("2 lb at $12/lb", 0.90718474, 24.0),
        ("2 lb, €30", 0.90718474, 30.0),
        ("2 lb", 0.90718474, None),
    ],
)
def test_what_was_paid_is_read_from_words(words, kg, paid):
    event = read(f"sold Saturday market {words}").event
    assert event.outlet == "Saturday market"
    assert event.kg == pytest.approx(kg)
    assert event.paid == (paid and pytest.approx(paid))
    assert event.note == ""


def test_why_something_was_thrown_away_is_read_from_words():
    assert read("discard 300 g rain-soaked").event.cause == "rain-soaked"
    assert read("discard 300 g slugs").event.cause == "slugs"
    assert read("discard 300 g").event.cause == ""
    assert read("pick A 1 kg by Wren").event.by == "Wren"
