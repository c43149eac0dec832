"""One crate from several stacks: read, shared by what was expected, marked as parts."""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.diary.crates import expected_on, shares
from fruitcast.diary.sentence import records_in
from fruitcast.diary.spoken import parse_sentence, parse_sheet
from fruitcast.diary.state import StackState
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.errors import InputError
from fruitcast.units import KG_PER_LB
from tests.diary.diary_samples import TODAY, entry, yard
from tests.outputs.sample_plan import plan as sample_plan

NAMES = ("A", "B", "C", "H", "H/1", "H/2", "Old oak")
PAST = (
    entry("soak", "04-23", "A", hours=24.0),
    entry("pull", "04-24", "A"),
    entry("soak", "04-23", "H/1", hours=24.0),
    entry("pull", "04-24", "H/1"),
)


@pytest.mark.parametrize(
    ("said", "stacks", "rest"),
    [
        ("pick A, C together 3.2 kg", ("A", "C"), "3.2 kg"),
        ("picked A, H/1 and C together 3.2 kg yesterday", ("A", "H/1", "C"), "3.2 kg yesterday"),
        ("I picked A and C 3 lb all together", ("A", "C"), "3 lb"),
        ("harvested stacks a & Old oak, in one crate: 2 lb", ("A", "Old oak"), "2 lb"),
        ("pick A + C in all 2 lb for Inn", ("A", "C"), "2 lb for Inn"),
        ("pick A, A and H together 1 kg", ("A", "H"), "1 kg"),
        ("picked 3 lb from A and C together", ("A", "C"), "3 lb"),
        ("A and C gave us 3 lb between them", ("A", "C"), "3 lb"),
        ("took 2 lb off A and C altogether", ("A", "C"), "2 lb"),
    ],
)
def test_a_crate_is_told_by_one_word(said: str, stacks: tuple[str, ...], rest: str) -> None:
    (found,) = records_in(said, NAMES, TODAY, (), ("Inn",)).records
    assert (found.kind, found.together, found.words) == ("pick", stacks, rest)


@pytest.mark.parametrize(
    "said",
    [
        "pick A, C 3.2 kg",  # of each, or of both?
        "pick A together 3 kg",
        "pick A, A together 3 kg",
        "pick A 1 kg, C 2 kg",
        "pick A, Z together 3 kg",
        "soak A, C together",
        "pick A, C together together 3 kg",
        "pick A, C altogetherness 3 kg",
        "did not pick A, C together 3 kg",
        "pick A, C together 3 kg, not 2",
    ],
)
def test_all_else_is_no_crate(said: str) -> None:
    try:
        found = records_in(said, NAMES, TODAY).records
    except InputError:
        return
    assert not any(record.together for record in found)


def read(text: str, **options):
    return parse_sentence(text, yard=yard(), events=PAST, today=TODAY, **options)


def planning(since: date = date(2027, 5, 1), **kg: float):
    """A plan that expects so much of stacks from a day on."""
    soaks = [
        SimpleNamespace(stack=name.replace("_", "/"), soak_on=since, pull_on=since, expected_kg=one)
        for name, one in kg.items()
    ]
    return lambda: SimpleNamespace(natural=(), under_way=soaks, soaks=())


def test_each_pick_has_its_part_and_says_so() -> None:
    plan = planning(A=2.0, H_1=4.0, H_2=1.0)
    records = read("pick A, H/1 together 4.5 lb for Inn", plan=plan)
    assert [r.event.stack for r in records] == ["A", "H/1"]
    assert [r.event.kg for r in records] == pytest.approx([1.5 * KG_PER_LB, 3.0 * KG_PER_LB])
    assert {(r.event.on, r.event.outlet) for r in records} == {(TODAY, "Inn")}
    assert {r.event.note for r in records} == {"one crate of A and H/1, 4.5 lb"}
    assert not any(r.questions for r in records)
    state = yard_state(yard(), [*PAST, *(r.event for r in records)], TODAY).stacks
    for name in ("A", "H/1"):
        (pick,) = state[name].picks
        assert pick.shared and pick.kind == "forced"


def test_what_was_expected_is_asked_for_the_day_of_the_pick() -> None:
    plan = planning(since=TODAY, A=1.0, H_1=1.0)
    for day, parts in (("today", [1.0, 1.0]), ("yesterday", [48 / 74, 100 / 74])):
        found = read(f"pick A and H/1 together 2 lb {day}, note: wet", plan=plan)
        assert [r.event.kg for r in found] == pytest.approx([w * KG_PER_LB for w in parts])
    (first, _) = read("pick A and H/1 together 2 lb, note: wet")
    assert first.event.note == "one crate of A and H/1, 2.0 lb; wet"


def test_without_together_it_is_asked_which_is_meant_and_yes_is_no_answer() -> None:
    for yes in (False, True):
        with pytest.raises(InputError, match=r"of each\? .*one crate 'pick A, C together \.\.\.'"):
            read("pick A, C 2 lb", yes=yes)


def test_a_crate_that_can_t_be_is_refused_like_a_pick() -> None:
    with pytest.raises(InputError, match="What weight"):
        read("pick A, C together")
    with pytest.raises(InputError, match="is still to come"):
        read("pick A, C together 2 lb 2027-05-20")
    with pytest.raises(InputError, match="more than"):  # 12 logs of C
        read("pick A, C together 80 lb")


def test_a_sheet_may_hold_crates() -> None:
    lines = ["Thu", "pick A, C together 2 lb", "pick A 1 lb today"]
    records = parse_sheet(lines, yard=yard(), events=PAST, today=TODAY, plan=planning(A=3.0, C=1.0))
    assert [(r.event.stack, r.event.on.day) for r in records] == [("A", 6), ("C", 6), ("A", 7)]
    assert [r.event.kg for r in records] == pytest.approx([w * KG_PER_LB for w in (1.5, 0.5, 1.0)])


def logs(**stacks: int) -> dict[str, StackState]:
    return {name.replace("_", "/"): StackState(name, count) for name, count in stacks.items()}


def test_shares_go_by_what_was_expected_else_by_logs() -> None:
    state = logs(A=20, B=10, H_1=15, H_2=15)
    assert shares(["A", "B"], {"A": 3.0, "B": 1.0}, state) == [0.75, 0.25]
    # Nothing was expected of B: log for log as of A.
    assert shares(["A", "B"], {"A": 3.0}, state) == pytest.approx([2 / 3, 1 / 3])
    assert shares(["A", "B"], {}, state) == pytest.approx([2 / 3, 1 / 3])
    # H is its lots together.
    assert shares(["A", "H"], {"A": 1.0, "H/1": 2.0, "H/2": 1.0}, state) == [0.25, 0.75]
    assert shares(["A", "H"], {}, state) == pytest.approx([0.4, 0.6])


@given(
    st.lists(st.integers(0, 200), min_size=2, max_size=6),
    st.lists(st.floats(0, 50, allow_subnormal=False), min_size=6, max_size=6),
)
def test_shares_add_up_and_none_is_left_out(counts: list[int], kg: list[float]) -> None:
    names = [f"S{n}" for n in range(len(counts))]
    state = {name: StackState(name, count) for name, count in zip(names, counts, strict=True)}
    found = shares(names, dict(zip(names, kg, strict=False)), state)
    assert sum(found) == pytest.approx(1.0)
    assert all(part > 0 for part in found)


def test_a_plan_tells_what_it_expects_of_each_flush() -> None:
    plan = sample_plan()
    soak = next(soak for soak in plan.soaks if soak.stack == "A")
    assert expected_on(plan, soak.pull_on)["A"] == soak.expected_kg
    assert "A" not in expected_on(plan, soak.soak_on)  # still in the water
    # D is under way; else it would be what comes by itself about then, if it comes.
    (under_way,) = plan.under_way
    natural = next(flush for flush in plan.natural if flush.stack == "D")
    assert expected_on(plan, natural.week)["D"] == under_way.expected_kg
    alone = plan.model_copy(update={"under_way": ()})
    assert expected_on(alone, natural.week)["D"] == natural.expected_kg / natural.chance
    assert "D" not in expected_on(alone, natural.week + timedelta(days=22))
