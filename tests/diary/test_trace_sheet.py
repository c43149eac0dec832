"""The trace sheet: where each pick came from and went."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.diary.sales import trace_sheet, traces
from fruitcast.diary.state_from_diary import yard_state
from tests.diary.diary_samples import TODAY, day, entry, yard

HERE = yard(saleable=0.8)
PAST = (
    entry("soak", "04-20", "A", hours=24.0),
    entry("pull", "04-21", "A"),
    entry("pick", "05-02", "A", kg=2.0, lost_kg=0.4, second_kg=0.3, cause="slugs", by="Wren"),
    entry("pick", "05-03", "B", kg=1.0, note="by Ash, wet"),
    entry("sold", "05-04", kg=2.0, paid=40.0, outlet="Saturday market"),
    entry("discard", "05-05", "B", kg=0.1),
)


def sheet(events=PAST, first="05-01", last="05-07"):
    state = yard_state(HERE, events, TODAY)
    return trace_sheet(HERE, state, events, day(first), day(last))


def test_each_pick_is_followed_from_soak_to_buyer():
    told = [
        (p.stack, p.picked_by, p.grade, p.went, p.to, p.on and p.on.isoformat()[5:], round(p.kg, 6))
        for p in sheet()
    ]
    assert told == [
        ("A", "Wren", "", "lost", "slugs", "05-02", 0.4),
        ("A", "Wren", "", "sold", "Saturday market", "05-04", 1.3),
        ("A", "Wren", "seconds", "not written down", "", None, 0.3),
        ("B", "Ash", "", "sold", "Saturday market", "05-04", 0.7),
        ("B", "Ash", "", "thrown away", "", "05-05", 0.1),
        ("B", "Ash", "", "not written down", "", None, 0.2),
    ]
    assert {(p.stack, p.soaked_on) for p in sheet()} == {("A", (day("04-20"),)), ("B", ())}


def test_it_gives_the_sales_to_the_picks_that_the_list_of_sales_does():
    sold = [(p.stack, p.on, p.to, p.kg) for p in sheet() if p.went == "sold"]
    listed = traces(HERE, {}, PAST, day("05-01"), TODAY)
    assert sold == [(t.stack, t.on, t.outlet, t.kg) for t in listed]
    assert [t.paid for t in listed] == [pytest.approx(26.0), pytest.approx(14.0)]


def test_a_pick_for_an_outlet_is_the_sales_to_it_that_are_written_down():
    pick = entry("pick", "05-02", "A", kg=4.0, outlet="Inn")
    other = entry("pick", "05-03", "B", kg=1.0, outlet="Inn")
    sale = entry("sold", "05-04", kg=2.5, outlet="Inn")

    def both(*events):
        listed = traces(HERE, {}, events, day("05-01"), TODAY)
        told = [
            (p.on, p.to, pytest.approx(p.kg), p.stack)
            for p in sheet(events)
            if p.went in ("sold", "picked for")
        ]
        assert sorted((t.on, t.outlet, t.kg, t.stack) for t in listed) == sorted(told)
        return [(t.stack, t.by, pytest.approx(t.kg)) for t in listed]

    # Nobody wrote a sale down: it went to whom it was picked for, as far as it can be sold.
    assert both(pick, other) == [("A", "picked for", 3.2), ("B", "picked for", 0.8)]
    # A sale is written down: nothing else was sold, of neither pick.
    assert both(pick, other, sale) == [("A", "oldest first", 2.5)]
    # A sale that names another pick, or one to somebody else, says nothing of this one.
    named = entry("sold", "05-04", "B", kg=0.5, outlet="Inn")
    assert both(pick, other, named) == [("A", "picked for", 3.2), ("B", "named", 0.5)]
    cafe = entry("sold", "05-04", kg=0.5, outlet="Saturday market")
    assert [by for _, by, _ in both(pick, cafe)] == ["picked for", "oldest first"]


def test_lots_picked_as_one_stack_show_the_soaks_of_each():
    events = (
        *(entry("soak", "04-20", "H/1"), entry("pull", "04-21", "H/1")),
        *(entry("soak", "04-22", "H/2"), entry("pull", "04-23", "H/2")),
        entry("pick", "05-03", "H", kg=3.0),
    )
    (part,) = sheet(events)
    assert part.soaked_on == (day("04-20"), day("04-22"))


def test_an_entry_taken_back_leaves_no_trace():
    wrong = entry("pick", "05-02", "C", kg=1.0, uuid="a")
    assert sheet((wrong, entry("undo", "05-02", cancels="a"))) == ()


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["pick", "sold", "discard"]),
            st.integers(1, 7),
            st.sampled_from(["A", "B", "H"]),
            st.floats(0.1, 5),
            st.floats(0, 0.5),
            st.floats(0, 0.5),
        ),
        max_size=12,
    )
)
def test_the_parts_of_every_pick_add_up_to_it(drawn):
    events = []
    for kind, on, stack, kg, lost, second in drawn:
        if kind == "pick":
            told = {"lost_kg": kg * lost, "second_kg": kg * second}
            events.append(entry(kind, f"05-0{on}", stack, kg=kg, **told))
        else:
            cause = "slugs" if kind == "discard" and lost > 0.25 else ""
            events.append(entry(kind, f"05-0{on}", stack if second else "", kg=kg, cause=cause))
    totals = {}
    for part in sheet(events):
        assert part.kg >= -1e-9
        whole = totals.setdefault((part.stack, part.picked_on), [part.picked_kg, 0.0])
        whole[1] += part.kg
    assert {key: pytest.approx(kg, abs=1e-5) for key, (kg, _) in totals.items()} == {
        key: kg for key, (_, kg) in totals.items()
    }
    picked = sum(e.kg for e in events if e.kind == "pick")
    assert sum(kg for kg, _ in totals.values()) == pytest.approx(picked)


def test_what_was_eaten_dried_or_given_away_is_not_called_thrown_away():
    notes = ("ate", "dried", "gave to my neighbour", "slimy", "dried out")
    events = [entry("pick", "05-02", "A", kg=3.0)]
    events += [entry("discard", "05-03", kg=0.1, note=note) for note in notes]
    went = [p.went for p in sheet(tuple(events)) if p.on == day("05-03")]
    assert sorted(went) == ["dried", "eaten", "given away", "thrown away"]
