"""What is worth trying or knowing, and what is said of a promise, in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import pytest

from fruitcast.biology.yields import rest_factor
from fruitcast.diary.plan import Sale
from fruitcast.numbers import default_numbers
from fruitcast.soaks.answer import broken_promises, is_too_unlikely, promise_doubt
from fruitcast.soaks.lot_size import LotProposal, advice_words, to_part
from fruitcast.yard.model import Soaking
from tests.soaks.test_rules import YARD

NUMBERS = default_numbers()


def advice(lots: LotProposal | None = None, **soaking: object) -> tuple[str, ...]:
    asked: Soaking = replace(YARD.soaking, **soaking)  # type: ignore[arg-type]
    return advice_words(lots, asked, "metric", NUMBERS.yields)


def test_who_tells_nothing_of_water_or_rest_is_told_nothing() -> None:
    assert advice() == advice(rest_days=int(NUMBERS.schedule.rest_days)) == ()


@pytest.mark.parametrize(
    ("water", "end"),
    [
        ("spring", "Spring water may be that cold: fill the tank fresh."),
        ("well", "Well water may be that cold: fill the tank fresh."),
        ("pond", "In summer pond water is warmer: fill the tank in the early morning, keep it in "
         "the shade, or put ice in."),
    ],
)  # fmt: skip
def test_cold_water_is_told_by_where_the_tank_s_comes_from(water: str, end: str) -> None:
    (words,) = advice(water=water)
    assert words.startswith("In a trial logs soaked in water of 10 °C to 12 °C bore more.")
    assert words.endswith(f"so the plan does not count on it. {end}")


@pytest.mark.parametrize("rest_days", [42, 62, 64, 126])
def test_another_rest_is_weighed_by_the_flush_and_by_how_often_it_comes(rest_days: int) -> None:
    usual = NUMBERS.schedule.rest_days
    assert usual == 63
    (words,) = advice(rest_days=rest_days)
    # Rest counts from a first pick: as many days more or less as between the soaks.
    rested = NUMBERS.yields.rest_reference + rest_days - 63
    flush = float(rest_factor(rested, NUMBERS.yields)) - 1
    much = f"{abs(flush):.0%} {'lighter' if rest_days < 63 else 'heavier'}"
    often = {42: "50% more", 62: "2% more", 64: "2% fewer", 126: "50% fewer"}[rest_days]
    assert words.startswith(
        f"You rest logs {rest_days} days from soak to soak instead of the usual 63: a flush is "
        f"taken to be {much}, and there can be {often} of them."
    )
    assert (flush < 0) is (rest_days < 63)


def lots(*stacks: tuple[str, float]) -> LotProposal:
    return LotProposal(
        tuple(SimpleNamespace(stack=name, flush_kg=kg) for name, kg in stacks),  # type: ignore[misc]
        2.5,
    )


def test_lots_are_told_by_the_largest_stack_and_the_others_are_counted() -> None:
    first = (
        "One flush of A brings about 6.0 kg within a few days, and in a usual week your outlets "
        "take 2.5 kg."
    )
    for others, counted in (
        ((), " Soaked in lots"),
        ((("B", 4.0),), " 1 more stack bears too much at once as well. Soaked in lots"),
        ((("B", 4.0), ("C", 3.0)), " 2 more stacks bear too much at once as well. Soaked in lots"),
    ):
        words, water = advice(lots(("A", 6.0), *others), water="well")
        assert words.startswith(f"{first}{counted}")
        assert water.startswith("In a trial")


@pytest.mark.parametrize("logs", [20, 21, 22, 23])
@pytest.mark.parametrize("count", [2, 3, 4])
def test_the_parts_of_a_stack_are_all_its_logs_and_differ_by_one_at_most(
    logs: int, count: int
) -> None:
    found = [*to_part("A", logs, 5.0, count).lots]
    assert sum(found) == logs and len(found) == count
    assert max(found) - min(found) <= 1 and found == sorted(found, reverse=True)


def sale(given: float | None, likely: float) -> Sale:
    return Sale(
        outlet="Stall", on=date(2027, 6, 5), target_kg=9.0, delivered_kg=5.0, available_p10_kg=1.0,
        available_p90_kg=9.0, chance=0.5, promise_kg=likely, given_kg=given,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("given", "likely", "doubted"),
    [
        (2.0, 1.961, False), (2.0, 1.959, True),  # two in a hundred of little
        (10.0, 9.951, False), (10.0, 9.949, True),  # 50 g of much
        (2.0, 2.5, False), (0.0, 0.0, False), (None, 0.0, False),
    ],
)  # fmt: skip
def test_a_promise_is_doubted_when_a_scale_would_tell(
    given: float | None, likely: float, doubted: bool
) -> None:
    assert is_too_unlikely(sale(given, likely)) is doubted
    said = broken_promises(SimpleNamespace(outlets=(sale(given, likely),)), "metric")  # type: ignore[arg-type]
    assert len(said) == doubted


def test_what_a_doubted_promise_lacks_is_said_as_what_is_likely_enough() -> None:
    only = "only 1.5 kg of it is likely enough"
    plan = SimpleNamespace(outlets=(sale(2.0, 1.5), sale(2.0, 2.0), sale(3.0, 0.099)))
    assert broken_promises(plan, "metric") == [  # type: ignore[arg-type]
        f"Stall on Sat 5 Jun: 2.0 kg were promised, and {only}.",
        "Stall on Sat 5 Jun: 3.0 kg were promised, and none of it is likely enough.",
    ]
    assert promise_doubt(sale(2.0, 1.5), "metric") == f"O{only[1:]}: tell them in time."
    little = promise_doubt(sale(2.0, 0.1), "metric")
    assert little == "Only 100 g of it is likely enough: tell them in time."
    none = promise_doubt(sale(2.0, 0.09), "metric")
    assert none == "None of it is likely enough: tell them in time."
    assert promise_doubt(None, "metric") == "It can't be kept."
