"""How a new plan changes the calendar that was published."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.errors import InputError
from fruitcast.outputs.calendar_state import (
    CANCELLED_DAYS,
    HISTORY_DAYS,
    CalendarEvent,
    CalendarState,
    update,
    yard_calendar,
)
from fruitcast.outputs.reminders import reminders
from tests.outputs.sample_plan import TODAY, diary, document, plan, yard

NEXT_DAY = TODAY + timedelta(days=1)


def publish(
    state: CalendarState | None,
    today: date,
    the_plan: Mapping[str, Any] | None = None,
    the_diary: YardState | None = None,
) -> CalendarState:
    known = the_diary or diary()
    found = reminders(the_plan or plan(), yard(), known)
    return update(state or yard_calendar(yard()), found, today, known.stacks)


def event(state: CalendarState, key: str) -> CalendarEvent:
    return next(e for e in state.events if e.reminder.key == key)


def with_soak(*soaks: Soak, picks: tuple[Pick, ...] = ()) -> YardState:
    state = diary()
    first = state.stacks["A"]
    stack = replace(first, soaks=(*first.soaks, *soaks), picks=picks)
    return replace(state, stacks={**state.stacks, "A": stack})


def test_the_same_plan_a_day_later_changes_nothing():
    first = publish(None, TODAY)
    assert publish(first, NEXT_DAY, plan(today=NEXT_DAY.isoformat())) == first


def test_uids_are_of_no_host_and_all_different():
    uids = [e.uid for e in publish(None, TODAY).events]
    assert len(set(uids)) == len(uids)
    assert all(uid.endswith("@fruitcast") and len(uid) == 42 for uid in uids)


def test_uids_stay_when_the_yard_changes_its_name_and_differ_between_yards():
    first = publish(None, TODAY)
    renamed = replace(yard(), name="Foxglove Rise")
    renewed = yard_calendar(renamed, first)
    assert renewed.name == "Foxglove Rise: logs"
    again = update(renewed, reminders(plan(), renamed, diary()), TODAY, diary().stacks)
    assert [e.uid for e in again.events] == [e.uid for e in first.events]
    other = update(yard_calendar(renamed), reminders(plan(), renamed, diary()), TODAY)
    assert not {e.uid for e in other.events} & {e.uid for e in first.events}


def test_a_moved_soak_keeps_its_uid_and_only_its_family_is_revised():
    first = publish(None, TODAY)
    moved = document()
    moved["soaks"][0].update(soak_on="2027-05-07", pull_on="2027-05-08")
    second = publish(first, NEXT_DAY, plan(**moved))
    assert {e.uid for e in second.events} == {e.uid for e in first.events}
    revised = {e.reminder.key for e in second.events if e.sequence}
    assert revised == {"soak|2|A", "pull|2|A", "pins|2|A"}
    soaked = event(second, "soak|2|A")
    assert (soaked.sequence, soaked.modified, soaked.created) == (1, NEXT_DAY, TODAY)
    assert event(second, "pick|2|A") == event(first, "pick|2|A")


def test_changed_words_alone_are_a_revision_too():
    first = publish(None, TODAY)
    changed = document()
    changed["soaks"][0]["expected_kg"] = 3.4
    second = publish(first, NEXT_DAY, plan(**changed))
    assert {e.reminder.key for e in second.events if e.sequence} == {"soak|2|A", "pick|2|A"}


def test_a_difference_too_small_to_show_is_no_revision():
    first = publish(None, TODAY)
    changed = document()
    changed["soaks"][0]["expected_kg"] += 1e-6
    assert publish(first, NEXT_DAY, plan(**changed)) == first


def test_another_soak_time_revises_all_timed_events():
    first = publish(None, TODAY)
    later = replace(yard(), soaking=replace(yard().soaking, start=yard().soaking.start.replace(9)))
    second = update(first, reminders(plan(), later, diary()), NEXT_DAY, diary().stacks)
    kinds = {e.reminder.kind for e in second.events if e.sequence}
    assert {"soak", "pull"} <= kinds


def test_another_zone_of_the_same_offset_is_a_revision():
    first = publish(None, TODAY)
    elsewhere = yard(zone="America/Toronto")
    second = update(first, reminders(plan(), elsewhere, diary()), NEXT_DAY, diary().stacks)
    assert event(second, "soak|2|A").sequence == 1
    assert event(second, "pick|2|A").sequence == 0


def test_a_dropped_soak_is_cancelled_with_all_that_follows_it():
    first = publish(None, TODAY)
    second = publish(first, NEXT_DAY, plan(soaks=document()["soaks"][:3]))
    for kind in ("soak", "pull", "pins", "pick"):
        gone = event(second, f"{kind}|1|C")
        assert (gone.cancelled_on, gone.sequence, gone.modified) == (NEXT_DAY, 1, NEXT_DAY)
    assert all(e.cancelled_on is None for e in second.events if e.reminder.stack != "C")
    # Nothing more happens to it while it waits.
    third = publish(second, NEXT_DAY + timedelta(days=1), plan(soaks=document()["soaks"][:3]))
    assert third == second


def test_a_cancelled_event_is_kept_for_sixty_days_and_then_dropped():
    short = plan(soaks=document()["soaks"][:3])
    state = publish(publish(None, TODAY), NEXT_DAY, short)
    last = NEXT_DAY + timedelta(days=CANCELLED_DAYS)
    assert event(publish(state, last, short), "soak|1|C").cancelled_on == NEXT_DAY
    after = publish(state, last + timedelta(days=1), short)
    assert not [e for e in after.events if e.reminder.stack == "C"]


def test_a_soak_that_comes_back_is_confirmed_again_under_its_old_uid():
    first = publish(None, TODAY)
    gone = publish(first, NEXT_DAY, plan(soaks=document()["soaks"][:3]))
    back = publish(gone, NEXT_DAY + timedelta(days=1))
    again = event(back, "soak|1|C")
    assert (again.uid, again.sequence) == (event(first, "soak|1|C").uid, 2)
    assert again.cancelled_on is None


def test_a_recorded_soak_becomes_the_past_under_the_same_uid():
    first = publish(None, TODAY)
    made = with_soak(Soak(date(2027, 5, 4), 24, 24.0, None))
    second = publish(first, NEXT_DAY, plan(soaks=document()["soaks"][1:]), made)
    soaked = event(second, "soak|2|A")
    assert soaked.uid == event(first, "soak|2|A").uid
    assert soaked.reminder.done
    assert soaked.cancelled_on is None


def test_what_follows_a_soak_that_was_made_stays_though_the_plan_says_nothing_of_it():
    first = publish(None, TODAY)
    made = with_soak(Soak(date(2027, 5, 4), 24, 24.0, date(2027, 5, 5)))
    second = publish(first, date(2027, 5, 6), plan(soaks=document()["soaks"][1:]), made)
    for kind in ("pins", "pick"):
        assert event(second, f"{kind}|2|A") == event(first, f"{kind}|2|A")
    much_later = publish(second, date(2027, 6, 30), plan(soaks=document()["soaks"][1:]), made)
    assert event(much_later, "pick|2|A") == event(first, "pick|2|A")


def test_an_undone_record_takes_the_past_back():
    made = with_soak(
        Soak(date(2027, 5, 4), 24, 24.0, date(2027, 5, 5)),
        picks=(Pick(date(2027, 5, 12), 1.0, "forced", date(2027, 5, 4)),),
    )
    rest = plan(soaks=document()["soaks"][1:2])
    second = publish(publish(None, TODAY), date(2027, 5, 13), rest, made)
    assert event(second, "pick|2|A").reminder.done
    undone = publish(second, date(2027, 5, 14), rest, diary())
    assert event(undone, "soak|2|A").cancelled_on == date(2027, 5, 14)
    assert event(undone, "pick|2|A").cancelled_on == date(2027, 5, 14)


def test_a_missed_soak_is_no_history():
    state = publish(None, TODAY)
    later = publish(state, date(2027, 5, 20), plan(soaks=document()["soaks"][1:2]))
    assert event(later, "soak|2|A").cancelled_on == date(2027, 5, 20)


def test_what_was_done_with_a_stack_that_is_gone_stays():
    state = publish(None, TODAY)
    stacks = {name: stack for name, stack in diary().stacks.items() if name != "D"}
    gone = publish(state, NEXT_DAY, plan(under_way=[], rest_ends=[]), YardState(stacks, {}))
    assert event(gone, "soak|1|D") == event(state, "soak|1|D")
    assert event(gone, "pick|1|D") == event(state, "pick|1|D")


def test_advice_whose_day_is_over_stays_and_advice_withdrawn_is_cancelled():
    state = publish(None, TODAY)
    water = f"water|{date(2027, 5, 6).toordinal()}|"
    withdrawn = publish(state, date(2027, 5, 6), plan(water=[]))
    assert event(withdrawn, water).cancelled_on == date(2027, 5, 6)
    over = publish(state, date(2027, 5, 7), plan(water=[]))
    assert event(over, water) == event(state, water)


def test_history_ends_after_a_season_and_a_bit():
    # D's first soak was on 2 June 2026 and last picked on 13 June.
    last = date(2026, 6, 13) + timedelta(days=HISTORY_DAYS)
    state = publish(None, TODAY)
    assert event(publish(state, last), "pick|1|D").reminder.done
    later = publish(state, last + timedelta(days=1))
    assert "pick|1|D" not in [e.reminder.key for e in later.events]
    assert "pick|2|D" in [e.reminder.key for e in later.events]


def test_the_pick_of_a_soak_stays_when_the_soak_itself_has_left_the_history():
    made = Soak(date(2027, 5, 3), 24, 24.0, date(2027, 5, 4))
    state = publish(None, TODAY, plan(soaks=[]), with_soak(made))
    window = reminders(plan(), yard(), diary())
    state = update(state, [r for r in window if r.key == "pick|2|A"], TODAY, ())
    at = made.on + timedelta(days=HISTORY_DAYS + 3)
    later = publish(state, at, plan(soaks=[], under_way=[]), with_soak(made))
    assert "soak|2|A" not in [e.reminder.key for e in later.events]
    assert event(later, "pick|2|A").cancelled_on is None


def test_update_leaves_its_arguments_alone():
    state = publish(None, TODAY)
    before = state.to_json()
    publish(state, NEXT_DAY, plan(soaks=[]))
    assert state.to_json() == before


def test_the_state_comes_back_from_its_text():
    state = publish(publish(None, TODAY), NEXT_DAY, plan(soaks=document()["soaks"][:2]))
    back = CalendarState.from_json(state.to_json())
    assert back == state
    assert back.to_json() == state.to_json()
    assert publish(back, NEXT_DAY, plan(soaks=document()["soaks"][:2])) == state


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"namespace": 1, "name": "x", "zone": "Ox"}'])
def test_a_spoilt_state_is_refused_with_a_remedy(text):
    with pytest.raises(InputError, match=r"stored calendar cannot be read.*Restore"):
        CalendarState.from_json(text)


@pytest.mark.parametrize("place", ["uid", "summary", "reasons"])
def test_half_a_letter_in_a_stored_calendar_is_refused_and_not_met_when_it_is_written(place):
    document = json.loads(publish(None, TODAY).to_json())
    event = document["events"][0]
    event[place] = ["\ud800"] if place == "reasons" else "\ud800"
    with pytest.raises(InputError, match=r"stored calendar cannot be read.*hex escape.*Restore"):
        CalendarState.from_json(json.dumps(document))


def test_the_state_is_readable_json():
    document = json.loads(publish(None, TODAY).to_json())
    soaked = next(e for e in document["events"] if e["kind"] == "soak" and e["stack"] == "C")
    assert soaked["start"] == "2027-10-15T08:00:00"
    assert soaked["zone"] == "America/New_York"


def test_a_stack_may_have_any_name():
    names = ["A|1", "A", "soak|1|A", "名前", "Ä/1"]
    entries = [{**document()["soaks"][0], "stack": name} for name in names]
    state = YardState({name: StackState(name, 24) for name in names}, {})
    published = publish(None, TODAY, plan(soaks=entries, under_way=[]), state)
    uids = {e.uid for e in published.events if e.reminder.kind == "soak"}
    assert len(uids) == len(names)
    assert CalendarState.from_json(published.to_json()) == published
