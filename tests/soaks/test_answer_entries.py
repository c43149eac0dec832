"""The plain values of an answer, part by part, from records made up for the purpose."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.document import Document
from fruitcast.forecast.jobs import Job
from fruitcast.forecast.learned import LearnedFactors, Question
from fruitcast.forecast.water import Weighing
from fruitcast.numbers import default_numbers
from fruitcast.soaks.answer import (
    _cover,
    _not_soaked,
    _outcomes,
    _soaks,
    _water,
    _windows,
    short_entries,
)
from fruitcast.soaks.answer_parts import (
    all_jobs,
    job_entries,
    learned_entries,
    question_words,
    spawn_run_entries,
    weighing_entries,
)
from fruitcast.soaks.expected import SoakOutcome
from fruitcast.soaks.reasons import Cover, LeftAlone
from fruitcast.soaks.shortage import ShortSale
from fruitcast.yard.model import FruitingPlaces
from tests.soaks.hand import hand_problem

TODAY = date(2027, 5, 3)
JUNE = [date(2027, 6, day) for day in range(1, 31)]


def told(entries: Iterable[Document]) -> list[dict[str, Any]]:
    """Return entries as the plan's JSON says them."""
    return [entry.plain() for entry in entries]


def june(day: int) -> date:
    return JUNE[day - 1]


def job(kind: Any, stack: str, first: int, last: int, reason: str = "rain") -> Job:
    return Job(kind, stack, june(first), june(last), reason)


def test_a_flush_is_covered_from_its_first_rainy_day_to_the_end_of_its_last() -> None:
    jobs = [
        job("cover", "A", 1, 2, "before"),
        job("cover", "A", 5, 6, "first"),
        job("weigh", "A", 6, 6),
        job("cover", "B", 7, 7),
        job("cover", "A", 9, 12, "last"),
        job("cover", "A", 10, 13, "after"),
    ]
    (found,) = told([_cover(jobs, "A", june(5), june(9))])
    assert found == {
        "from": "2027-06-05",
        "to": "2027-06-12",
        "reason": "first",
    }
    assert _cover(jobs, "A", june(3), june(4)) is None
    assert _cover(jobs, "C", june(1), june(30)) is None


def outcome(rows: list[int], kg: list[float]) -> SoakOutcome:
    """First picks on these rows, over three days; pins four days before; none where no crop is."""
    pick = np.array(rows)
    return SoakOutcome(np.array(kg), pick, np.array(kg) > 0, pick + 3, pick - 4)


def test_every_soak_is_told_with_its_days_its_crop_and_its_reasons(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # A hundred members bear, first on the rows 21 to 120, one each; ten more bear nothing.
    rows, kg = [*range(21, 121), *[999] * 10], [1.1] * 100 + [0.0] * 10
    kg[:20] = [0.7] * 10 + [1.5] * 10
    asked = []

    def soak_outcome(built: Any, stack: int, path: tuple[int, ...], step: int) -> SoakOutcome:
        asked.append((stack, path, step))
        return outcome(rows, kg)

    monkeypatch.setattr("fruitcast.soaks.answer.soak_outcome", soak_outcome)
    futures = SimpleNamespace(date=lambda row: TODAY + timedelta(days=row - 20))
    learned, yard = (
        SimpleNamespace(fails=0.1),
        SimpleNamespace(sells=True, fruiting=FruitingPlaces()),
    )
    outlook = SimpleNamespace(futures=futures, learned=learned, yard=yard)
    built = SimpleNamespace(problem=hand_problem(), outlook=outlook)
    plan = ((1, 3), (1,))
    outcomes = _outcomes(built, plan)
    assert asked == [(0, (1, 3), 0), (0, (1, 3), 1), (1, (1,), 0)]
    windows = _windows(built, outcomes)
    assert [window.stack for window in windows] == ["A", "A", "B"]
    assert windows[0].pick.tolist() == rows
    assert windows[0].past.tolist() == [row + 3 for row in rows]
    assert windows[0].comes.tolist() == [True] * 100 + [False] * 10

    explainer = SimpleNamespace(
        covers=lambda stack, step: [Cover("Stall", 26, 0.5 + step)] if stack == 0 else [],
        soak_reasons=lambda stack, step, covers: [f"{stack} {step} {len(covers)}"],
    )
    rain = Job("cover", "B", date(2027, 5, 20), date(2027, 5, 21), "rain")
    early = replace(rain, on=date(2027, 5, 12))
    edge = replace(rain, on=date(2027, 5, 13), until=date(2027, 5, 13), reason="first rain")
    made = _soaks(built, plan, explainer, outcomes, [early, edge, rain])
    first, second, third = told(made)
    assert [(s["stack"], s["soak_on"], s["pull_on"]) for s in (first, second, third)] == [
        ("A", "2027-05-11", "2027-05-13"),
        ("B", "2027-05-11", "2027-05-13"),
        ("A", "2027-07-13", "2027-07-14"),
    ]
    assert [(s["logs"], s["hours"]) for s in (first, second, third)] == [
        (20, 48.0),
        (30, 48.0),
        (20, 24.0),
    ]
    # By row 30 ten of a hundred have their first pick, by 70 fifty, by 110 ninety.
    assert first["pick"] == {"p10": "2027-05-13", "p50": "2027-06-22", "p90": "2027-08-01"}
    assert first["pins_on"] == "2027-06-18"
    assert first["expected_kg"] == pytest.approx((7 + 15 + 80 * 1.1) / 110)
    # Where it comes: the tenth of a hundred from below and from above, a tenth of soaks failing.
    assert first["kg_p10"] == pytest.approx(0.7 / 0.9)
    assert first["kg_p90"] == pytest.approx(1.1 / 0.9)
    assert first["covers"] == [{"outlet": "Stall", "on": "2027-05-29", "kg": 0.5}]
    assert first["reasons"] == ["0 0 1"]
    assert (third["reasons"], second["covers"]) == (["0 1 1"], [])
    # Rain before the pick window of 13 May is nothing to the flush.
    assert second["cover"] == {"from": "2027-05-13", "to": "2027-05-21", "reason": "first rain"}
    assert "cover" not in first


def test_the_cover_of_a_flush_ends_when_ninety_of_a_hundred_are_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Last picks are over from the rows 30 to 40 on, even: nine tenths of the way is row 39.
    made = outcome([*range(27, 38), 500], [1.0] * 11 + [0.0])
    futures = SimpleNamespace(date=lambda row: TODAY + timedelta(days=row))
    learned, yard = (
        SimpleNamespace(fails=0.1),
        SimpleNamespace(sells=True, fruiting=FruitingPlaces()),
    )
    outlook = SimpleNamespace(futures=futures, learned=learned, yard=yard)
    built = SimpleNamespace(problem=hand_problem(), outlook=outlook)
    explainer = SimpleNamespace(covers=lambda *_: [], soak_reasons=lambda *_: [])
    for row, covered in ((39, True), (40, False)):
        on = TODAY + timedelta(days=row)
        rain = [Job("cover", "A", on, on, "rain")]
        (entry,) = told(_soaks(built, ((0,), ()), explainer, {(0, 0): made}, rain))
        assert ("cover" in entry) is covered


def test_stacks_that_want_water_are_told_in_order_of_day() -> None:
    advice = SimpleNamespace(
        moisture_wet=0.33, amount=25.0, hours=2.5, litres_per_log=3.0, urgent=False, reason="dry"
    )
    thirsts = [
        SimpleNamespace(stack="B", on=june(2), advice=advice),
        SimpleNamespace(stack="C", on=None, advice=advice),
        SimpleNamespace(stack="D", on=june(1), advice=advice),
        SimpleNamespace(stack="A", on=june(2), advice=advice),
    ]
    found = told(_water(thirsts))
    assert [(entry["on"], entry["stack"]) for entry in found] == [
        ("2027-06-01", "D"),
        ("2027-06-02", "A"),
        ("2027-06-02", "B"),
    ]
    assert found[0] == {
        "stack": "D",
        "on": "2027-06-01",
        "moisture_wet": 0.33,
        "mm": 25.0,
        "hours": 2.5,
        "litres_per_log": 3.0,
        "urgent": False,
        "reason": "dry",
    }


def test_only_stacks_without_a_soak_are_told_to_be_left_alone() -> None:
    explainer = SimpleNamespace(left_alone=lambda index: LeftAlone("rest", f"stack {index}"))
    assert told(_not_soaked(hand_problem(), ((0,), ()), explainer)) == [
        {"stack": "B", "cause": "rest", "reason": "stack 1"}
    ]


def test_short_sales_name_outlet_day_and_cause() -> None:
    # The fourth sale of the problem is the restaurant's, on day 26.
    assert told(short_entries(hand_problem(), [ShortSale(3, 0.75, "tank")])) == [
        {
            "outlet": "Restaurant",
            "on": "2027-05-29",
            "missing_kg": 0.75,
            "cause": "tank",
            "reason": "the tank is full on the days that would serve it",
        }
    ]


def young(name: str, **changed: Any) -> SimpleNamespace:
    spawn = {
        "seen": False,
        "sure_row": 101,
        "early": june(1),
        "middle": june(11),
        "likely": june(16),
        "late": None,
        "progress": 0.4,
        "slowed_by": ("cold", "plugs"),
    }
    state = {"logs": 10, "inspected_on": None, "findings": ()}
    return SimpleNamespace(
        name=name,
        spawn=SimpleNamespace(**{k: changed.get(k, v) for k, v in spawn.items()}),
        state=SimpleNamespace(**{k: changed.get(k, v) for k, v in state.items()}),
        dampness=SimpleNamespace(weighing=changed.get("weighing")),
    )


def test_spawn_runs_are_told_until_they_are_done_for_sure() -> None:
    stacks = (
        young("seen", seen=True),
        young("dead", logs=0),
        young("sure", sure_row=100),
        young("young"),
        young("inspected", inspected_on=june(3), findings=("white ends",), late=june(21)),
    )
    outlook = SimpleNamespace(stacks=stacks, futures=SimpleNamespace(lookback=100))
    first, second = told(spawn_run_entries(outlook))
    assert (first["stack"], first["progress"]) == ("young", 0.4)
    assert first["ready"] == {
        "p10": "2027-06-01",
        "p50": "2027-06-11",
        "p80": "2027-06-16",
        "p90": None,
    }
    assert first["slowed_by"] == ["cool weather", "plug spawn, slower than sawdust"]
    assert (first["inspected_on"], first["findings"]) == (None, [])
    assert (second["stack"], second["inspected_on"]) == ("inspected", "2027-06-03")
    assert (second["ready"]["p90"], second["findings"]) == ("2027-06-21", ["white ends"])


def test_weighings_are_told_on_a_wet_basis() -> None:
    # A kilogram of water to one of dry wood is half of the weight, a quarter of one a fifth.
    weighed = young("A", weighing=Weighing(june(5), 1.0, 0.25))
    outlook = SimpleNamespace(stacks=(young("B"), weighed))
    assert told(weighing_entries(outlook)) == [
        {"stack": "A", "on": "2027-06-05", "weighed_wet": 0.5, "modelled_wet": pytest.approx(0.2)}
    ]


def test_what_was_learned_counts_its_flushes_and_its_questions() -> None:
    found = LearnedFactors(
        strain_class="wide-range",
        tree="red oak",
        kg_before=0.2,
        kg_after=0.24,
        thermal_time_before=100.0,
        thermal_time_after=90.0,
        flushes=5,
        yield_factor=1.2,
        lead_flushes=4,
        lead_factor=0.9,
        asked=3,
    )
    assert told(learned_entries(SimpleNamespace(factors=(found,)))) == [
        {
            "strain_class": "wide-range",
            "tree": "red oak",
            "flushes": 5,
            "yield_factor": 1.2,
            "kg_per_log_before": 0.2,
            "kg_per_log_after": 0.24,
            "lead_flushes": 4,
            "lead_factor": 0.9,
            "lead_degree_days_before": 100.0,
            "lead_degree_days_after": 90.0,
            "asked": 3,
        }
    ]


@pytest.mark.parametrize(
    ("quantity", "soaked", "said"),
    [
        (
            "yield",
            june(1),
            "6.0 kg picked from the soak of 1 Jun 2027, where about 2.0 kg was to be expected. "
            "Is this pick right?",
        ),
        (
            "lead time",
            None,
            "first picked 6 days after the pull of the natural flush of 12 Jun 2027, where about 2 "
            "were to be expected. Is the day right?",
        ),
    ],
)
def test_a_flush_far_off_is_asked_about(quantity: Any, soaked: Any, said: str) -> None:
    question = Question("A", "A", quantity, soaked, june(12), 10, 6.0, 2.0)
    assert question_words(question, "metric").startswith(f"A: {said} Nothing is learned from it")


def test_jobs_of_every_kind_stand_in_order_of_day(monkeypatch: pytest.MonkeyPatch) -> None:
    at = "fruitcast.soaks.answer_parts"
    under_way, planned = object(), object()

    def picking(windows: Any, *_: Any) -> list[Job]:
        assert windows == [under_way, planned]
        return [job("pick twice", "B", 3, 4), job("cover", "B", 3, 3)]

    monkeypatch.setattr(f"{at}.windows_under_way", lambda outlook: [under_way])
    monkeypatch.setattr(f"{at}.picking_jobs", picking)
    care = [job("weigh", "A", 1, 2), job("cover", "A", 3, 5)]
    monkeypatch.setattr(f"{at}.care_jobs", lambda outlook: care)
    outlook = SimpleNamespace(
        futures=None, yard=SimpleNamespace(units="metric"), numbers=default_numbers()
    )
    found = told(job_entries(all_jobs(outlook, [planned])))
    assert [(e["on"], e["job"], e["stack"], e["until"]) for e in found] == [
        ("2027-06-01", "weigh", "A", "2027-06-02"),
        ("2027-06-03", "cover", "A", "2027-06-05"),
        ("2027-06-03", "cover", "B", "2027-06-03"),
        ("2027-06-03", "pick twice", "B", "2027-06-04"),
    ]
