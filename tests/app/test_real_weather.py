"""The sample yard on real daily weather: Champion, Nebraska, planned on 1 May 2018.

The file `champion_climate.txt` of the package aquacrop holds the station's 1982 to 2018 without
gaps. It is read from the installed package; only the test's own folder gets a copy.
"""

from datetime import date, timedelta
from pathlib import Path

import pytest

from fruitcast.app.demo import write_sample_yard
from fruitcast.app.planning import Planned, plan_yard
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.yard.reading import read_yard
from tests.requires import need_file
from tests.soaks.judge import judge
from tests.soaks.rules import judge_published

TODAY = date(2018, 5, 1)


def champion() -> Path:
    return need_file("aquacrop", "data/champion_climate.txt")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    folder = tmp_path_factory.mktemp("real") / "yard"
    write_sample_yard(folder, weather=champion(), today=TODAY)
    return plan_yard(folder, TODAY)


def test_the_plan_keeps_every_hard_rule_by_a_judge_of_its_own(planned):
    """Judged from yard, diary and the printed document alone, and from the problem's data."""
    folder = planned.known.yard.folder
    yard = read_yard(folder, TODAY)
    state = read_yard_state(yard, TODAY)
    assert judge_published(yard, state, planned.document.plain(), TODAY) == []
    judged = judge(planned.built.problem, planned.plan)
    assert judged.violations == ()
    assert judged.objective_kg == pytest.approx(planned.document.plain()["objective_kg"], abs=1e-6)


def test_thirty_real_years_stand_for_the_future(planned):
    assert planned.document.plain()["members"] == 30
    assert planned.known.years == tuple(range(1988, 2018))


def test_the_yard_is_as_old_as_the_sample_is_on_its_own_day(planned):
    stacks = {stack.name: stack.inoculated for stack in planned.known.yard.stacks}
    assert stacks["A"] == date(2014, 3, 22) and stacks["P"] == date(2017, 5, 6)
    (order,) = planned.known.yard.orders
    assert order.on == date(2018, 5, 3)  # a Thursday like the sample's


def test_the_plan_is_one_that_a_grower_could_follow(planned):
    yard = planned.known.yard
    row_of = planned.known.state.lot_of
    rows = {stack.name: stack for stack in yard.stacks}
    soaks = planned.document.plain()["soaks"]
    assert len(soaks) >= 15
    for soak in soaks:
        on, stack = date.fromisoformat(soak["soak_on"]), rows[row_of[soak["stack"]]]
        assert on - stack.inoculated >= timedelta(days=365)
        assert on.weekday() in (1, 4)
        assert not date(2018, 7, 15) <= on <= date(2018, 7, 21)
        if stack.strain_class == "cold-weather":  # not for a summer of 24 C
            assert not date(2018, 6, 1) <= on <= date(2018, 8, 20)
        first = date.fromisoformat(soak["pick"]["p50"])
        assert timedelta(days=5) <= first - on <= timedelta(days=32)
        assert soak["expected_kg"] > 0


def test_nothing_is_known_of_the_rest_of_2018(planned, tmp_path):
    header, *rows = champion().read_text(encoding="utf-8").splitlines()
    known = [row for row in rows if row.strip() and _day(row) < TODAY]
    assert len(known) < len(rows) - 200
    cut = tmp_path / "cut.txt"
    cut.write_text("\n".join([header, *known]) + "\n", encoding="utf-8")
    folder = write_sample_yard(tmp_path / "yard", weather=cut, today=TODAY)
    document = plan_yard(folder, TODAY).document.plain()
    assert {**document, "warnings": []} == {**planned.document.plain(), "warnings": []}
    left_out = set(planned.document.plain()["warnings"]) - set(document["warnings"])
    assert len(left_out) == 1 and "2018-05-01 or later" in left_out.pop()


def _day(row: str) -> date:
    day, month, year = (int(part) for part in row.split()[:3])
    return date(year, month, day)
