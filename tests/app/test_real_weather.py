"""The same job on real daily weather: Champion, Nebraska, planned on 1 May 2018."""

from datetime import date, timedelta

import pytest

from fruitcast.app.planning import Planned, plan_yard
from fruitcast.schedule.judge import judge
from fruitcast.schedule.rules import judge_published
from fruitcast.yard.reading import read_yard
from fruitcast.yard.state_from_diary import read_yard_state
from tests.app.real_yard import TODAY, write_real_yard


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    return plan_yard(write_real_yard(tmp_path_factory.mktemp("real") / "yard"), TODAY)


def test_the_plan_keeps_every_hard_rule_by_a_judge_of_its_own(planned):
    """Judged from yard, diary and the printed document alone, and from the problem's data."""
    folder = planned.known.yard.folder
    yard = read_yard(folder, TODAY)
    state = read_yard_state(yard, TODAY)
    assert judge_published(yard, state, planned.document, TODAY) == []
    judged = judge(planned.built.problem, planned.plan)
    assert judged.violations == ()
    assert judged.objective_kg == pytest.approx(planned.document["objective_kg"], abs=1e-6)


def test_thirty_real_years_stand_for_the_future(planned):
    assert planned.document["members"] == 30
    assert planned.known.years == tuple(range(1988, 2018))


def test_the_plan_is_one_that_a_grower_could_follow(planned):
    soaks = planned.document["soaks"]
    stacks = {soak["stack"] for soak in soaks}
    assert {"A", "B", "D", "E/1", "E/2", "F"} <= stacks
    assert "J" not in stacks  # inoculated a month ago
    for soak in soaks:
        on = date.fromisoformat(soak["soak_on"])
        if soak["stack"] == "H":
            assert on >= date(2018, 5, 20)
        if soak["stack"] in ("C", "G"):
            assert on < date(2018, 6, 1) or on > date(2018, 8, 20)
        first = date.fromisoformat(soak["pick"]["p50"])
        assert timedelta(days=5) <= first - on <= timedelta(days=32)
        assert soak["expected_kg"] > 0


def test_nothing_is_known_of_the_rest_of_2018(planned, tmp_path):
    cut = write_real_yard(tmp_path / "yard", until=TODAY)
    document = plan_yard(cut, TODAY, bound=False).document
    whole = {**planned.document, "warnings": [], "bound_kg": None}
    assert {**document, "warnings": []} == whole
    left_out = set(planned.document["warnings"]) - set(document["warnings"])
    assert len(left_out) == 1 and "2018-05-01 or later" in left_out.pop()
