"""The plain values of an answer, part by part, from records made up for the purpose."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fruitcast.diary.plan import Job, LikelyDays, NotSoaked, Sale, Shortage
from fruitcast.diary.state import Pick, Soak, StackState
from fruitcast.document import Document
from fruitcast.forecast.learned import Question
from fruitcast.forecast.water import Weighing
from fruitcast.numbers import default_numbers
from fruitcast.soaks.answer import (
    _cover,
    _outcomes,
    _soaks,
    _waits,
    _water,
    _windows,
    given_promises,
    plan_document,
    sales_tried,
    soak_tried,
)
from fruitcast.soaks.answer_parts import (
    all_jobs,
    question_words,
    silent_soaks,
    spawn_run_entries,
    weighing_entries,
)
from fruitcast.soaks.expected import SoakOutcome
from fruitcast.soaks.reasons import covered
from fruitcast.soaks.waiting import OneSoak, Wait
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
    return Job(kind=kind, stack=stack, on=june(first), until=june(last), reason=reason)


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
        covers=lambda stack, step: [covered(built.problem, 4, 0.5 + step)] if stack == 0 else [],
        soak_reasons=lambda stack, step, covers: [f"{stack} {step} {len(covers)}"],
    )
    rain = Job(
        kind="cover", stack="B", on=date(2027, 5, 20), until=date(2027, 5, 21), reason="rain"
    )
    early = rain.model_copy(update={"on": date(2027, 5, 12)})
    day = date(2027, 5, 13)
    edge = rain.model_copy(update={"on": day, "until": day, "reason": "first rain"})
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
    for row, wanted in ((39, True), (40, False)):
        on = TODAY + timedelta(days=row)
        rain = [Job(kind="cover", stack="A", on=on, until=on, reason="rain")]
        (entry,) = told(_soaks(built, ((0,), ()), explainer, {(0, 0): made}, rain))
        assert ("cover" in entry) is wanted


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


READY = LikelyDays(p10=june(1), p50=june(11), p80=june(16), p90=None)


def young(name: str, **changed: Any) -> SimpleNamespace:
    spawn = {
        "seen": False,
        "sure_row": 101,
        "ready": READY,
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
    late = READY.model_copy(update={"p90": june(21)})
    stacks = (
        young("seen", seen=True),
        young("dead", logs=0),
        young("sure", sure_row=100),
        young("young"),
        young("inspected", inspected_on=june(3), findings=("white ends",), ready=late),
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
    found = told(all_jobs(outlook, [planned]))
    assert [(e["on"], e["job"], e["stack"], e["until"]) for e in found] == [
        ("2027-06-01", "weigh", "A", "2027-06-02"),
        ("2027-06-03", "cover", "A", "2027-06-05"),
        ("2027-06-03", "cover", "B", "2027-06-03"),
        ("2027-06-03", "pick twice", "B", "2027-06-04"),
    ]


def test_where_logs_fruit_in_places_of_their_own_it_is_told_when_these_are_clear() -> None:
    made = outcome([30] * 4, [1.0] * 4)
    futures = SimpleNamespace(date=lambda row: TODAY + timedelta(days=row))
    outlook = SimpleNamespace(
        futures=futures,
        learned=SimpleNamespace(fails=0.0),
        yard=SimpleNamespace(sells=False, fruiting=FruitingPlaces()),
    )
    explainer = SimpleNamespace(
        covers=lambda *_: [covered(hand_problem(), 4, 0.5)], soak_reasons=lambda *_: []
    )
    for places, clear in ((None, None), (60, "2027-05-24")):
        # In on day 8, out on day 10, and then eleven days in its place.
        problem = replace(hand_problem(), places=places)
        built = SimpleNamespace(problem=problem, outlook=outlook)
        (entry,) = told(_soaks(built, ((1,), ()), explainer, {(0, 0): made}, []))
        assert entry.get("clear_on") == clear
        # Where nothing is sold no outlet is covered.
        assert entry["covers"] == []


def tried_yard(monkeypatch: pytest.MonkeyPatch, fails: float = 0.2, **changed: Any) -> Any:
    """Of forty members twenty bear, first on rows 20 to 39, from 1 kg to 20 kg."""
    made = outcome([*range(20, 40), *[99] * 20], [*map(float, range(1, 21))] + [0.0] * 20)
    made = replace(made, **changed)
    asked: list[Any] = []

    def soak_outcome(*given: Any) -> SoakOutcome:
        asked.append(given[1:])
        return made

    monkeypatch.setattr("fruitcast.soaks.answer.soak_outcome", soak_outcome)
    futures = SimpleNamespace(date=lambda row: TODAY + timedelta(days=row))
    outlook = SimpleNamespace(futures=futures, learned=SimpleNamespace(fails=fails))
    return SimpleNamespace(problem=hand_problem(), outlook=outlook, asked=asked)


def test_a_soak_that_is_only_tried_is_told_as_a_planned_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    built = tried_yard(monkeypatch)
    found = soak_tried(built, 1, (1, 3))
    assert built.asked == [(1, (1, 3), 0)]
    assert (found.stack, found.logs, found.hours) == ("B", 30, 48.0)
    assert (found.soak_on, found.pull_on) == (date(2027, 5, 11), date(2027, 5, 13))
    day = TODAY.toordinal()
    assert [on.toordinal() - day for on in (found.pick.p10, found.pick.p50, found.pick.p90)] == [
        21, 29, 37,
    ]  # fmt: skip
    # Half of the years suit, and of the soaks that they suit a fifth fails.
    assert found.comes == pytest.approx(0.5 * 0.8)
    assert found.expected_kg == pytest.approx(210 / 40)
    assert (found.kg_p10, found.kg_p90) == pytest.approx((2.0 / 0.8, 18.0 / 0.8))


def test_a_tried_soak_of_which_nothing_comes_has_no_range(monkeypatch: pytest.MonkeyPatch) -> None:
    built = tried_yard(monkeypatch, kg=np.zeros(40), comes=np.zeros(40, dtype=bool))
    found = soak_tried(built, 0, (0,))
    assert (found.comes, found.expected_kg, found.kg_p10, found.kg_p90) == (0, 0, None, None)
    assert found.pick.p10 < found.pick.p90


def test_what_sales_get_more_or_less_is_told_the_most_first_where_a_stall_would_notice() -> None:
    # Stall on days 5, 12, 19, restaurant on 26, stall on 26; a tenth of a kilogram is told.
    found = sales_tried(hand_problem(), np.array([0.1, -0.1, 0.099, 2.0, -0.5]))
    assert [(c.outlet, c.on, c.kg) for c in found.feeds] == [
        ("Restaurant", date(2027, 5, 29), 2.0),
        ("Stall", date(2027, 5, 8), 0.1),
    ]
    assert [(c.outlet, c.on, c.kg) for c in found.takes] == [
        ("Stall", date(2027, 5, 29), 0.5),
        ("Stall", date(2027, 5, 15), 0.1),
    ]
    # What is too little to be told adds up all the same.
    assert found.sold_kg == pytest.approx(1.599)
    little = sales_tried(hand_problem(), np.full(5, -0.099))
    assert (little.feeds, little.takes, little.sold_kg) == ((), (), pytest.approx(-0.495))


def test_only_a_soak_that_could_be_tried_stands_beside_why_a_stack_waits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    built = tried_yard(monkeypatch)
    waits = {
        0: Wait(("rest",), "it rests"),
        1: Wait(("costs",), "it costs", OneSoak((1,), np.array([0.0, 0.0, 1.0, 0.0, 0.0]), -1.0)),
    }
    monkeypatch.setattr("fruitcast.soaks.answer.wait_of", lambda _, index: waits.get(index))
    first, second = _waits(built.problem, SimpleNamespace(built=built))
    assert (first.stack, first.causes, first.reason) == ("A", ("rest",), "it rests")
    assert (first.soak, first.sales) == (None, None)
    assert second.soak == soak_tried(built, 1, (1,))
    assert [cover.on for cover in second.sales.feeds] == [date(2027, 5, 22)]
    waits.pop(0)
    assert [wait.stack for wait in _waits(built.problem, SimpleNamespace(built=built))] == ["B"]


def sale(outlet: str, day: int) -> Sale:
    figures = dict.fromkeys(
        ("target_kg", "delivered_kg", "available_p10_kg", "available_p90_kg", "promise_kg"), 1.0
    )
    return Sale(outlet=outlet, on=june(day), chance=0.5, **figures)


def test_a_promise_stands_at_its_own_outlet_s_own_day() -> None:
    sales = sale("Stall", 5), sale("Inn", 5), sale("Stall", 12)
    given = given_promises(sales, (("Stall", june(12), 2.0), ("Inn", june(12), 3.0)))
    assert [entry.given_kg for entry in given] == [None, None, 2.0]
    assert [replace_given(entry) for entry in given] == list(sales)


def replace_given(entry: Sale) -> Sale:
    return entry.model_copy(update={"given_kg": None})


@pytest.mark.parametrize("sells", [True, False])
def test_who_sells_is_told_of_sales_and_who_does_not_of_the_table(
    sells: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All that isn't about sales is put aside."""
    at = "fruitcast.soaks.answer"
    for name in (
        "_soaks", "_water", "_waits", "_work", "_windows", "_outcomes", "all_jobs",
        "thirsty_stacks", "natural_weeks", "spawn_run_entries", "weighing_entries",
        "water_chance_entries", "changes", "_table", "_outlets", "short_sales",
    ):  # fmt: skip
        monkeypatch.setattr(f"{at}.{name}", lambda *_, **__: ())
    problem = replace(hand_problem(), promise=0.7)
    short = Shortage(outlet="Inn", on=june(5), missing_kg=0.75, cause="tank", reason="it is full")
    monkeypatch.setattr(f"{at}._outlets", lambda *_: (sale("Stall", 12),))
    monkeypatch.setattr(f"{at}.silent_soaks", lambda *_: ["silent"])
    monkeypatch.setattr(f"{at}.short_sales", lambda *_: (short,))
    monkeypatch.setattr(f"{at}.expected_shortfall", lambda *_: 1.25)
    outlook = SimpleNamespace(
        learned=SimpleNamespace(questions=(), factors=()),
        yard=SimpleNamespace(units="metric", sells=sells),
        state=SimpleNamespace(promised=(("Stall", june(12), 2.0),)),
        numbers=default_numbers(),
    )
    beside = SimpleNamespace(
        notes=("note",), doubts=("doubt",), goes_by=None, under_way=(), flushes=(), rest_ends=(),
        ready=(), advice=(), care=(), lots=None, year_round=None,
    )  # fmt: skip
    parts = SimpleNamespace(
        shortfall=1.0, expired=0.1, soaks=0.2, change=0.0, end_value=-0.5, certainty=0.0, total=0.8
    )
    plan = plan_document(
        SimpleNamespace(problem=problem, outlook=outlook),
        ((0,), ()),
        parts,
        None,
        None,
        SimpleNamespace(
            tables=None,
            left_alone=lambda n: NotSoaked(stack="AB"[n], cause="rest", reason="it rests"),
        ),
        published={},
        bound=None,
        beside=beside,
    )
    assert plan.warnings == ("note", "silent", "doubt")
    # Of stacks with a soak nobody asks why they are left alone.
    assert [(entry.stack, entry.reason) for entry in plan.not_soaked] == [("B", "it rests")]
    assert (plan.objective.certainty, plan.objective_kg, plan.promise) == (None, 0.8, 0.7)
    if sells:
        assert [(entry.outlet, entry.given_kg) for entry in plan.outlets] == [("Stall", 2.0)]
        assert [entry.missing_kg for entry in plan.short] == [0.75]
        assert (plan.demand_kg, plan.expected_shortfall_kg) == (problem.demand, 1.25)
    else:
        assert (plan.outlets, plan.short) == ((), ())
        assert (plan.demand_kg, plan.expected_shortfall_kg) == (0.0, None)


@pytest.mark.parametrize(
    ("days_ago", "asked"), [(35, False), (36, True), (95, True), (96, False), (10, False)]
)
def test_of_a_soak_that_is_over_somebody_is_asked_for_sixty_days_what_came(
    days_ago: int, asked: bool
) -> None:
    forced = default_numbers().with_overrides({"forced.longest_days": 35}).forced
    pulled = TODAY - timedelta(days=days_ago)
    soak = Soak(pulled - timedelta(days=1), 20, 24.0, pulled)
    picked = Pick(pulled + timedelta(days=9), 1.0, "forced", soak.on)

    def said(name: str, soaks: tuple[Soak, ...], *picks: Pick) -> list[str]:
        state = StackState(name, 20, soaks=soaks, picks=picks)
        row = SimpleNamespace(stack=SimpleNamespace(name=name), state=state)
        return silent_soaks(
            SimpleNamespace(futures=SimpleNamespace(today=TODAY), stacks=(row,)), forced
        )

    found = said("A", (soak,))
    assert [line.split(":")[0] for line in found] == ["A"] * asked
    # Nobody is asked whose baskets or whose word are in the diary; those of another soak are none.
    assert said("A", (soak,), picked) == said("A", (replace(soak, brought_nothing=True),)) == []
    other = replace(picked, soaked_on=soak.on - timedelta(days=90))
    assert said("A", (soak,), other, replace(picked, kind="natural", soaked_on=None)) == found
    # The last soak alone is asked about, once its logs are out; without any there is nothing.
    assert said("A", (soak, replace(soak, on=TODAY, pulled_on=None))) == said("A", ()) == []
