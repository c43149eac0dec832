"""What if a stack were soaked on a day of the grower's choice, beside the plan as it is."""

from __future__ import annotations

import shutil
import statistics
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from fruitcast.app.choosing import choose
from fruitcast.app.demo import TODAY as DEMO_DAY
from fruitcast.app.grower_word import understand_word
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard
from fruitcast.app.planning import plan_yard
from fruitcast.app.recording import understand, write_records
from fruitcast.app.what_if import try_soak, weigh_soak
from fruitcast.diary.events import Event
from fruitcast.diary.plan import GoesBy, Plan
from fruitcast.errors import InputError
from fruitcast.outputs.what_if_words import SoakTriedOut, soak_tried_lines
from fruitcast.soaks.answer import soak_dates_of
from tests.app.test_grower_word import WEEKS
from tests.hindcast.small_yard import TODAY, small_yard
from tests.web.sites import NOON
from tests.yards import planned_yard


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_yard(tmp_path_factory.mktemp("trying") / "yard", "ACEJN", 5)


@pytest.fixture(scope="module")
def plan(folder: Path) -> Plan:
    """What is planned again from that yard."""
    return plan_yard(folder, DEMO_DAY, publish=False).document


def files(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_nothing_is_written_and_the_answer_is_what_fixing_would_do(folder: Path) -> None:
    before = files(folder)
    found = try_soak(folder, DEMO_DAY, ["J", "friday"])
    assert files(folder) == before
    (soak,) = found.soaks
    assert (soak.stack, soak.soak_on) == ("J", date(2027, 5, 7))
    assert soak.soak_on < soak.pull_on < soak.pick.p10 <= soak.pick.p50 <= soak.pick.p90
    assert soak.kg_p10 and soak.kg_p90 and soak.kg_p10 < soak.expected_kg < soak.kg_p90
    own = next(entry for entry in found.other_soaks if entry.stack == "J")
    assert soak.soak_on in own.other and soak.soak_on not in own.present
    shown = sum(c.kg for c in found.sales.feeds) - sum(c.kg for c in found.sales.takes)
    assert found.sales.sold_kg == pytest.approx(shown, abs=0.1 * 40)  # under 100 g isn't listed
    lines = soak_tried_lines(found)
    assert lines[0].startswith("J (36 logs) in on Fri 7 May for ")
    # The change is the grower's, not the plan's wish.
    assert lines[-1].startswith("If you fix it, the plan changes: ")


def test_what_a_rule_forbids_is_answered_with_the_rule_that_fixing_names(folder: Path) -> None:
    found = try_soak(folder, DEMO_DAY, ["N", "friday"])
    assert found.soaks == () and "spawn run" in found.forbidden
    assert soak_tried_lines(found) == [f"N can't be soaked on Fri 7 May: {found.forbidden}."]
    with pytest.raises(InputError) as told:
        understand_word(folder, DEMO_DAY, ["fix", "N", "friday"])
    assert found.forbidden in str(told.value)


def test_what_is_only_care_is_said_and_not_forbidden(folder: Path) -> None:
    found = try_soak(folder, DEMO_DAY, ["A", "tuesday"])
    assert not found.forbidden
    assert any("63 are usual" in care for care in found.cares)


def test_a_soak_of_the_plan_is_there_already(folder: Path, plan: Plan) -> None:
    soak = plan.soaks[0]
    found = try_soak(folder, DEMO_DAY, [soak.stack, str(soak.soak_on)])
    assert soak_tried_lines(found)[1:] == ["That is what the plan has already."]
    assert abs(found.sales.sold_kg) < 1e-9


def test_hours_in_the_water_count(folder: Path, plan: Plan) -> None:
    """Three days in the water: out later, picked later, and the plan's own hours stand beside."""
    soak = min(plan.soaks, key=lambda soak: soak.soak_on)
    day = str(soak.soak_on)
    usual, short, long = (
        try_soak(folder, DEMO_DAY, [soak.stack, day, f"{hours:g}", "h"])
        for hours in (soak.hours, 6, 72)
    )
    assert soak_tried_lines(usual)[1:] == ["That is what the plan has already."]
    for other, nights in ((short, 1), (long, 3)):
        ((found,), (planned,)) = other.soaks, other.planned
        assert (found.pull_on - found.soak_on).days == nights
        assert (planned.hours, planned.pull_on) == (soak.hours, soak.pull_on)
        lines = soak_tried_lines(other)
        assert "That is what the plan has already." not in lines
        assert lines[1].startswith(f"The plan has it in for {soak.hours:g} h, ")
    assert usual.soaks[0].pick.p50 < long.soaks[0].pick.p50
    assert "comes to the same" not in soak_tried_lines(long)[1]


def test_a_fixed_soak_has_its_own_hours_in_the_plan(folder: Path) -> None:
    copy = write_records_of(folder, ["fix", "J", "friday", "72", "h"], "fixed")
    soaks = plan_yard(copy, DEMO_DAY, publish=False).document.soaks
    (soak,) = [soak for soak in soaks if soak.fixed]
    tried = try_soak(folder, DEMO_DAY, ["J", "friday", "72", "h"]).soaks[0]
    assert (soak.hours, soak.pull_on, soak.pick.p50) == (72, tried.pull_on, tried.pick.p50)
    assert soak.expected_kg == pytest.approx(tried.expected_kg)


def test_other_stacks_stay_unless_the_tank_has_no_room(folder: Path) -> None:
    found = try_soak(folder, DEMO_DAY, ["J", "friday"])
    assert [entry.stack for entry in found.other_soaks] == ["J"]


def tried(seed: int) -> list[tuple[SoakTriedOut, SoakTriedOut]]:
    """Try each stack of a small yard on a day by chance, quickly and whole."""
    draw = np.random.default_rng(seed)
    known = published(small_yard(int(draw.integers(2, 7)), DEFAULT_WEEKS))
    found = []
    for name, state in known.state.stacks.items():
        day = TODAY + timedelta(days=int(draw.integers(0, 7 * WEEKS)))
        event = Event("fix", TODAY, name, into=str(day))
        other = with_fixed(known, name, day)
        assert state.fixed is None
        quick, whole = (weigh_soak(known, other, event, whole=length) for length in (False, True))
        assert quick.forbidden == whole.forbidden
        if not quick.forbidden:
            found.append((quick, whole))
    return found


def published(known: KnownYard) -> KnownYard:
    """Return the same with a plan that was published for it."""
    built, plan, _ = choose(known)
    dates = GoesBy(soaks=soak_dates_of(built.problem, plan), stacks=tuple(known.state.stacks))
    return replace(known, published=dates)


def with_fixed(known: KnownYard, name: str, day: date) -> KnownYard:
    stacks = dict(known.state.stacks)
    stacks[name] = replace(stacks[name], fixed=(day, None))
    return replace(known, state=replace(known.state, stacks=stacks))


def test_a_forbidden_soak_is_told_the_same_quickly_and_whole() -> None:
    assert tried(1)


@pytest.mark.long
def test_quick_estimates_beside_whole_plans(capsys: pytest.CaptureFixture[str]) -> None:
    """How far the quick estimate of what is sold lies from two whole plans on fresh luck."""
    pairs = [pair for seed in range(60) for pair in tried(seed)]
    off = [quick.sales.sold_kg - whole.sales.sold_kg for quick, whole in pairs]
    target = [sum(s.kg for s in whole.sales.takes) for _, whole in pairs]
    with capsys.disabled():
        print(
            f"\n{len(off)} soaks: quick less whole, mean {statistics.mean(off):+.2f} kg, "
            f"standard deviation {statistics.stdev(off):.2f} kg; whole takes "
            f"{statistics.mean(target):.2f} kg from others in the mean"
        )
    assert len(off) > 50
    assert statistics.mean(off) < 0.1  # it never flatters: others could still make room


def test_the_week_and_trying_it_say_the_same_of_one_soak(folder: Path, plan: Plan) -> None:
    waits = [entry for entry in plan.waits if entry.soak is not None and entry.sales is not None]
    assert waits
    for entry in waits[:3]:
        assert entry.soak and entry.sales
        found = try_soak(folder, DEMO_DAY, [entry.stack, str(entry.soak.soak_on)])
        assert found.sales.sold_kg == pytest.approx(entry.sales.sold_kg, abs=0.02)
        assert found.soaks[0].expected_kg == pytest.approx(entry.soak.expected_kg)


@pytest.mark.long  # four plans of a yard so large that stacks wait for more
def test_a_later_soak_is_called_better_only_where_it_is(tmp_path: Path) -> None:
    """A stack that waits bears more later by the plan's own figures, or nothing is said of it."""
    folder = planned_yard(tmp_path / "yard")
    found = 0
    for seed in range(1, 5):  # not every plan has a stack that waits for more
        plan = plan_yard(folder, DEMO_DAY, publish=False, seed=seed).document
        later = {soak.stack: soak.expected_kg for soak in reversed(plan.soaks)}
        waits = [wait for wait in plan.waits if "nothing more would be" in wait.reason]
        for wait in waits:
            if not wait.soak:
                continue
            found += 1
            if "rested until" in wait.reason:
                assert later[wait.stack] > wait.soak.expected_kg
            elif wait.stack in later:
                assert "rested" not in wait.reason
    assert found


def test_a_day_gone_by_is_not_taken_for_one_to_come(folder: Path) -> None:
    for words in (["A", "yesterday"], ["A", "last", "tuesday"], ["A", "2", "days", "ago"]):
        with pytest.raises(InputError, match="gone by"):
            try_soak(folder, DEMO_DAY, words)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["A"], r"^'try A': on which day\? Write it like 'try A Tue' or 'try A 11 May 24 h'"),
        (["A", "tuesday", "400", "h"], r"^No log stays in the water for 400 hours[^-]*$"),
    ],
)
def test_what_is_refused_is_told_of_trying(folder: Path, words: list[str], told: str) -> None:
    with pytest.raises(InputError, match=told) as refusal:
        try_soak(folder, DEMO_DAY, words)
    assert "fix" not in str(refusal.value).lower()


def test_fixing_a_stack_that_is_kept_back_is_asked_about(folder: Path) -> None:
    held = write_records_of(folder, ["hold", "J", "until", "1", "july"])
    (read,) = understand(held, DEMO_DAY, ["fix", "J", "friday"])
    assert any(question.startswith("You keep J back until") for question in read.questions)


def write_records_of(folder: Path, words: list[str], name: str = "held") -> Path:
    """Return a copy of a yard with one more record."""
    copy = folder.parent / name
    shutil.copytree(folder, copy)
    write_records(copy, DEMO_DAY, understand(copy, DEMO_DAY, words), NOON)
    return copy
