"""Lots that a grower accepted: who belongs to which, what is shared, what is never mixed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fruitcast.diary.events import Event
from fruitcast.diary.state import YardState
from fruitcast.diary.state_from_diary import yard_state
from tests.diary.diary_samples import TODAY, day, entry, yard


def state(*events: Event, **changes: object) -> YardState:
    return yard_state(yard(**changes), events, TODAY)


def test_each_lot_has_its_share_of_the_logs_and_of_the_past() -> None:
    seen = state(
        entry("soak", "03-01", "B", hours=24.0),
        entry("pull", "03-02", "B"),
        entry("pick", "03-12", "B", kg=3.1),
        entry("inspect", "03-20", "B", logs=3, findings=("dead logs",)),
        entry("lots", "04-01", "B", into="2"),
    )
    assert list(seen.stacks) == ["A", "B/1", "B/2", "C", "H/1", "H/2"]
    assert seen.lot_of["B/2"] == "B"
    lots = [seen.stacks[name] for name in ("B/1", "B/2")]
    assert [lot.logs for lot in lots] == [14, 13]
    assert [lot.last_soak.logs for lot in lots if lot.last_soak] == [16, 14]
    assert sum(lot.picked_kg for lot in lots) == pytest.approx(3.1)
    assert sum(logs for lot in lots for _, logs in lot.lost) == 3


def test_lots_are_soaked_one_by_one_and_stay_what_they_are() -> None:
    seen = state(
        entry("lots", "03-01", "B", into="2"),
        entry("soak", "03-02", "B/1", hours=24.0),
        entry("pull", "03-03", "B/1"),
        entry("retire", "04-01", "B/2", logs=2),
    )
    assert seen.stacks["B/1"].last_soak is not None
    assert seen.stacks["B/2"].last_soak is None
    assert [seen.stacks[name].logs for name in ("B/1", "B/2")] == [15, 13]


def test_logs_in_the_tank_part_as_they_come_out() -> None:
    seen = state(
        entry("soak", "05-04", "B", hours=72.0),
        entry("lots", "05-05", "B", into="2"),
        entry("pull", "05-07", "B"),
    )
    for name in ("B/1", "B/2"):
        soak = seen.stacks[name].last_soak
        assert soak is not None and soak.pulled_on == day("05-07") and soak.logs == 15


def test_logs_that_rested_alike_are_made_whole_again() -> None:
    seen = state(
        entry("soak", "02-01", "H", hours=24.0),
        entry("pull", "02-02", "H"),
        entry("pick", "02-12", "H", kg=8.0),
        entry("lots", "03-01", "H", into="4"),
        entry("soak", "04-10", "H", hours=24.0),
        entry("pull", "04-11", "H"),
        entry("lots", "05-01", "H", into="whole"),
    )
    # The tank for 60 parts its 100 logs all the same.
    assert [(name, s.logs) for name, s in seen.stacks.items() if name[0] == "H"] == [
        ("H/1", 50),
        ("H/2", 50),
    ]
    assert [soak.logs for soak in seen.stacks["H/1"].soaks] == [50, 50]
    assert [pick.kg for pick in seen.stacks["H/1"].picks] == [pytest.approx(4.0)]
    assert not seen.notes


def test_rests_are_never_mixed() -> None:
    seen = state(
        entry("lots", "03-01", "B", into="2"),
        entry("soak", "03-02", "B/1", hours=24.0),
        entry("pull", "03-03", "B/1"),
        entry("lots", "04-01", "B", into="whole"),
    )
    assert "B/1" in seen.stacks and "B" not in seen.stacks
    assert any("did not rest alike" in note for note in seen.notes)


def test_lots_that_did_not_rest_alike_are_parted_each_by_itself() -> None:
    seen = state(
        entry("soak", "03-02", "H/1", hours=24.0),
        entry("pull", "03-03", "H/1"),
        entry("lots", "04-01", "H", into="4"),
    )
    lots = {name: s for name, s in seen.stacks.items() if name.startswith("H")}
    assert {name: s.logs for name, s in lots.items()} == dict.fromkeys(
        ("H/1", "H/2", "H/3", "H/4"), 25
    )
    # H/1 gave half of its logs to H/3, H/2 to H/4.
    assert [name for name, s in lots.items() if s.soaks] == ["H/1", "H/3"]


@pytest.mark.parametrize(("lot_logs", "names"), [("whole", ["B"]), (10, ["B/1", "B/2", "B/3"])])
def test_the_settings_say_it_where_they_say_anything(lot_logs, names) -> None:
    soaking = replace(yard().soaking, lot_logs=lot_logs)
    seen = state(entry("lots", "03-01", "B", into="2"), soaking=soaking)
    assert [name for name, row in seen.lot_of.items() if row == "B"] == names


def test_a_pick_for_the_stack_is_of_the_lot_in_flush() -> None:
    seen = state(
        entry("lots", "03-01", "B", into="2"),
        entry("soak", "04-20", "B/2", hours=24.0),
        entry("pull", "04-21", "B/2"),
        entry("pick", "04-30", "B", kg=1.5),
    )
    assert seen.stacks["B/1"].picked_kg == 0
    assert seen.stacks["B/2"].picked_kg == pytest.approx(1.5)


def test_a_pick_with_no_lot_in_flush_is_of_them_all() -> None:
    seen = state(entry("lots", "03-01", "B", into="2"), entry("pick", "04-30", "B", kg=1.5))
    assert [seen.stacks[name].picked_kg for name in ("B/1", "B/2")] == pytest.approx([0.75, 0.75])


def test_taken_back_the_stack_is_whole() -> None:
    lots = replace(entry("lots", "03-01", "B", into="2"), uuid="one")
    undo = replace(entry("undo", "03-01"), cancels="one")
    assert "B" in state(lots, undo).stacks


DEEDS = st.sampled_from(
    [
        *(("lots", {"into": into}) for into in ("2", "3", "whole")),
        ("soak", {"hours": 24.0}),
        ("pull", {}),
        ("pick", {"kg": 1.0}),
        ("retire", {"logs": 3}),
        ("inspect", {"logs": 1, "findings": ("dead logs",)}),
        ("split", {"logs": 6, "into": "K"}),
        ("merge", {"into": "A"}),
    ]
)
NAMES = st.sampled_from(["A", "B", "H", "B/1", "B/2", "H/1", "H/2", "A/1", "K", "K/1"])


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(DEEDS, NAMES, st.integers(0, 120)), max_size=12))
def test_no_log_and_no_gram_is_lost_whatever_is_done(deeds) -> None:
    events, gone, picked = [], 0, 0.0
    for (kind, fields), name, days in deeds:
        events.append(Event(kind, day("01-01") + timedelta(days=days), name, **fields))
    seen = state(*events)
    for stack in seen.stacks.values():
        gone += sum(logs for _, logs in stack.lost)
        picked += stack.picked_kg
        assert stack.logs >= 0
        for soak in stack.soaks:
            assert soak.logs >= 0
    assert sum(stack.logs for stack in seen.stacks.values()) + gone == 24 + 30 + 12 + 100
    taken = {n.split("/")[0] for n in seen.stacks} | {"A", "B", "H"}
    assert picked <= sum(e.kg or 0 for e in events if e.stack.split("/")[0] in taken) + 1e-9
    for row in set(seen.lot_of.values()):
        names = [name for name, of in seen.lot_of.items() if of == row]
        assert len(names) == len(set(names))
        # A stack stands as one or in lots, never both.
        assert all(not other.startswith(f"{name}/") for name in names for other in names)


# Names and membership, entry by entry.

IN_LOTS = ("lots", {"into": "2"}), "B", 0
NEAR = st.sampled_from(["B", "B", "B/1", "B/2", "B/3", "A", "A/1", "K"])
LIVES = st.lists(st.tuples(DEEDS, NEAR, st.integers(0, 9)), max_size=14).map(
    lambda deeds: [IN_LOTS, *deeds]
)
"""B is in lots from the start, and most that is done is done to it."""


def members(seen: YardState) -> dict[str, dict[tuple[object, ...], int]]:
    """Return for each stack how many living logs have which soaks behind them."""
    found: dict[str, dict[tuple[object, ...], int]] = {}
    for name, stack in seen.stacks.items():
        if stack.logs:
            soaks = tuple(soak.on for soak in stack.soaks)
            mine = found.setdefault(name.partition("/")[0], {})
            mine[soaks] = mine.get(soaks, 0) + stack.logs
    return found


def look_at(deeds: list[tuple[tuple[str, dict], str, int]]) -> None:
    """Enter deeds one after the other and hold each against what it may change."""
    events: list[Event] = []
    before, on = state(), day("01-01")
    for number, ((kind, fields), name, later) in enumerate(deeds):
        on += timedelta(days=later)
        events.append(replace(Event(kind, on, name, **fields), uuid=f"u{number}"))
        after = state(*events)
        row = name.partition("/")[0]
        living = {one for one, stack in after.stacks.items() if stack.logs}
        if kind == "lots":
            # The same logs with the same rests, only in other lots of the same stack.
            assert members(after) == members(before)
            assert {n for n in after.stacks if n.partition("/")[0] != row} == {
                n for n in before.stacks if n.partition("/")[0] != row
            }
            mine = [n for n in living if n.partition("/")[0] == row]
            for one in mine:
                # Who keeps a name keeps its soaks: the mark on the logs stays true.
                if one in before.stacks and before.stacks[one].logs:
                    then = [soak.on for soak in before.stacks[one].soaks]
                    assert [soak.on for soak in after.stacks[one].soaks] == then
            # Logs that were never soaked rested alike: their lots are of one size within a log.
            fresh = [after.stacks[n].logs for n in mine if not after.stacks[n].soaks]
            if fresh and any(after.accepted.get(n) == on for n in mine) and "/" not in name:
                assert max(fresh) - min(fresh) <= 1
        else:
            # Nobody is renamed by anything else, and only who is named, or new, or joined changes.
            assert set(before.stacks) <= set(after.stacks)
            touched = {row, str(fields.get("into", "")).partition("/")[0]}
            for one, stack in before.stacks.items():
                if one.partition("/")[0] not in touched:
                    assert after.stacks[one] == stack
            assert set(before.accepted) <= set(after.accepted)
        assert set(after.accepted) <= set(after.stacks)
        before = after
    if events:
        # Taken back, the last entry leaves all as it was.
        undo = replace(Event("undo", events[-1].on, cancels=events[-1].uuid), uuid="last")
        assert state(*events, undo) == state(*events[:-1])


@settings(max_examples=100, deadline=None)
@given(LIVES)
def test_names_and_members_stay_until_lots_are_made_anew(deeds) -> None:
    look_at(deeds)


@pytest.mark.long
@settings(max_examples=5000, deadline=None)
@given(LIVES)
def test_names_and_members_stay_through_many_lives(deeds) -> None:
    look_at(deeds)
