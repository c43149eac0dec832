"""What is wrong with a batch as given, and what a log gives in a year, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fruitcast.biology.yields import stack_factor
from fruitcast.inoculation import batch
from fruitcast.inoculation.batch import (
    BatchSpec,
    batch_faults,
    crop_of_year,
    plan_batch,
)
from fruitcast.inoculation.problem import LogKind
from tests.inoculation.yards import NUMBERS, TODAY, sample_weather, sample_yard

OAK = BatchSpec("R", "wide-range", "red oak", 50, 0.127, 1.02, "plug")


def fields_at_fault(**changes) -> list[str]:
    """The places of the faults of a batch with some fields changed: field names here."""
    return [fault.place for fault in faults(replace(OAK, **changes))]


def faults(spec, units="metric"):
    return batch_faults(spec, units, {name: name for name in vars(OAK)})


def test_a_batch_as_usual_has_no_fault():
    assert faults(OAK) == []
    assert fields_at_fault(along=0.15, between=0.06, end_distance=0.05, tool="grinder") == []


@pytest.mark.parametrize(
    ("field", "least", "most", "step"),
    [
        ("logs", 1, 100_000, 1),
        ("diameter", 0.02, 1.0, 1e-6),
        ("length", 0.1, 5.0, 1e-6),
        ("along", 0.03, 1.0, 1e-6),
        ("between", 0.01, 1.0, 1e-6),
        ("end_distance", 0.0, 1.0, 1e-6),
    ],
)
def test_sizes_at_their_ends_are_right_and_beyond_them_wrong(field, least, most, step):
    # On logs long enough for holes a metre from either end.
    roomy = {} if field == "length" else {"length": 5.0}
    assert fields_at_fault(**roomy, **{field: least}) == []
    assert fields_at_fault(**roomy, **{field: most}) == []
    assert fields_at_fault(**roomy, **{field: least - step}) == [field]
    assert fields_at_fault(**roomy, **{field: most + step}) == [field]


def test_names_that_are_not_known_or_not_given():
    assert fields_at_fault(name=" ", strain_class="mild", tree="", spawn="dowel", tool="awl") == [
        "name",
        "strain_class",
        "spawn",
        "tool",
        "tree",
    ]
    (fault,) = faults(replace(OAK, strain_class="mild"))
    assert fault.place == "strain_class"
    assert fault.problem == "strain class is mild"
    assert fault.remedy == "Known are cold-weather, wide-range, warm-weather."


def test_a_size_s_fault_is_said_in_the_grower_s_units():
    (fault,) = faults(replace(OAK, diameter=1.27))
    assert (fault.problem, fault.remedy) == ("diameter is 127 cm", "Give 2 cm to 100 cm.")
    (fault,) = faults(replace(OAK, diameter=1.27), "us")
    assert (fault.problem, fault.remedy) == ("diameter is 50 in", "Give 0.8 in to 39.4 in.")
    (fault,) = faults(replace(OAK, logs=0))
    assert (fault.problem, fault.remedy) == ("logs is 0", "Give 1 to 100,000 logs.")


def test_both_ends_must_leave_a_place_for_a_hole():
    assert fields_at_fault(length=1.0, end_distance=0.5) == []
    assert fields_at_fault(length=1.0, end_distance=0.51) == ["end_distance"]
    (fault,) = faults(replace(OAK, length=1.0, end_distance=0.6))
    assert fault.problem == "60 cm from each end leaves no place for a hole on a log of 100 cm"
    # With another fault this one waits.
    assert fields_at_fault(logs=0, length=1.0, end_distance=0.6) == ["logs"]


def test_a_year_s_crop_is_its_mean_between_the_tenth_and_the_ninetieth_of_a_hundred():
    # Eleven futures of 0 to 1 kg in steps of 0.1, in any shape.
    kg = np.linspace(0.0, 1.0, 11)
    kg[-1] = 2.1
    made = crop_of_year(2029, kg[::-1].reshape(11, 1), 50)
    assert (made.year, made.mean_kg) == (2029, pytest.approx(50 * 0.6))
    shares = (made.p10_kg_per_log, made.mean_kg_per_log, made.p90_kg_per_log)
    assert shares == pytest.approx((0.1, 0.6, 0.9))


def test_a_batch_is_of_its_logs_kind():
    assert OAK.kind == LogKind("wide-range", "red oak", 0.127, 1.02, "plug")


def test_a_batch_s_crop_is_as_picked_each_year_by_its_own_factor(monkeypatch):
    # A log of factor 1 gives 1 kg in its first year's rotation, which starts late, and 2 kg in the
    # next ones'; nothing is taken off for what cannot be sold.
    asked = []

    def class_table(strain_class, site, yard, starts, saleable, seed, numbers):
        asked.append((strain_class, len(starts), saleable, seed))
        return SimpleNamespace(starts=np.array([*starts, 0]))

    monkeypatch.setattr(batch, "class_table", class_table)
    monkeypatch.setattr(
        batch, "rotation_crop", lambda table, n, **_: np.array([[0.5, 1.5], [1.0, 3.0]][n])
    )
    weather, _ = sample_weather()
    plan = plan_batch(OAK, sample_yard(), weather, TODAY, seed=5, numbers=NUMBERS)
    assert asked == [("wide-range", 1, 1.0, 5)]
    factors = stack_factor(
        NUMBERS.tree("red oak"),
        0.127,
        1.02,
        np.arange(1, len(plan.gives.years) + 1),
        NUMBERS.yields,
    )
    assert [crop.mean_kg_per_log for crop in plan.gives.years] == pytest.approx(
        [factors[0], *(2 * factors[1:])]
    )
    assert plan.gives.life_kg_per_log == pytest.approx(factors[0] + 2 * factors[1:].sum())
    assert plan.gives.years[1].p10_kg_per_log == pytest.approx(1.2 * factors[1])
    assert plan.gives.years[1].p90_kg_per_log == pytest.approx(2.8 * factors[1])
    assert plan.retire == plan.gives.years[0].year + len(plan.gives.years) - 1
    gives, weight = plan.gives, plan.weight
    assert gives.life_kg == pytest.approx(50 * gives.life_kg_per_log)
    assert gives.share_of_fresh_wood == pytest.approx(gives.life_kg_per_log / weight.log_kg)
    assert gives.share_of_dry_wood == pytest.approx(gives.life_kg_per_log / weight.dry_wood_kg)
    assert weight.batch_kg == 50 * weight.log_kg
