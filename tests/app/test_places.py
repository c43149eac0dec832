"""The sample yard with few places to fruit, a roof over them and hours by day of the week."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from fruitcast.app.known import KnownYard, read_known
from fruitcast.app.planning import Planned, make_plan
from fruitcast.app.what_if import Circumstances, changed_yard, compare
from fruitcast.errors import InputError
from fruitcast.forecast.outlook import days_ahead
from fruitcast.numbers import default_numbers
from fruitcast.soaks.search import SearchParams
from tests.soaks.judge import judge
from tests.soaks.rules import judge_published

TODAY = date(2027, 5, 3)
WEEKS = 14
QUICK = SearchParams(moves=30_000, moves_a_stack=0)
PLACES = 60


def known(folder: Path) -> KnownYard:
    ahead = days_ahead(WEEKS, tail_days=default_numbers().schedule.tail_days)
    return read_known(folder, TODAY, ahead)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("places") / "yard"
    shutil.copytree(Path(__file__).parents[2] / "sample_data", folder)
    settings = folder / "yard.toml"
    text = settings.read_text().replace(
        "tank_logs = 60", "tank_logs = 60\nhours_a_day = { Sun = 0, Tue = 2, other = 3 }"
    )
    settings.write_text(text + f"\n[fruiting]\nplaces = {PLACES}\n")
    return folder


@pytest.fixture(scope="module")
def planned(folder: Path) -> Planned:
    return make_plan(known(folder), weeks=WEEKS, params=QUICK)


def test_the_plan_keeps_to_places_and_hours(planned: Planned) -> None:
    here, document = planned.known, planned.document.plain()
    assert judge_published(here.yard, here.state, document, TODAY) == []
    assert judge(planned.built.problem, planned.plan).violations == ()
    assert len(document["soaks"]) > 5


def test_the_judge_of_the_printed_plan_counts_places(planned: Planned) -> None:
    here, document = planned.known, planned.document.plain()
    stays = [
        (date.fromisoformat(s["pull_on"]), date.fromisoformat(s["clear_on"]), s["logs"])
        for s in [*document["soaks"], *document["under_way"]]
    ]
    for soak in document["soaks"]:
        # A place is free again some days after the first pick.
        assert soak["pick"]["p50"] < soak["clear_on"]
    most = max(
        sum(logs for pull, clear, logs in stays if pull <= day < clear) for day, _, _ in stays
    )
    assert 0.7 * PLACES < most <= PLACES
    tight = replace(here.yard, fruiting=replace(here.yard.fruiting, places=most - 1))
    found = judge_published(tight, here.state, document, TODAY)
    assert {violation.rule for violation in found} == {"places"}


def test_fewer_places_leave_more_missing_and_that_is_said(folder: Path) -> None:
    here = known(folder)
    found = compare(here, Circumstances(places=200), weeks=WEEKS).plain()
    assert (found["present"]["places"], found["other"]["places"]) == (PLACES, 200)
    assert found["other"]["missing_kg"] < found["present"]["missing_kg"]
    assert found["soaks"]
    few = replace(here, yard=changed_yard(here.yard, Circumstances(places=45)), published=None)
    tight = make_plan(few, weeks=WEEKS, params=QUICK).document
    assert "places" in {sale.cause for sale in tight.short}


def test_smaller_places_part_stacks_into_smaller_lots(folder: Path) -> None:
    here = known(folder)
    # A and G, of 36 and 45 logs, can't stand in 30 places: lots of them are soaked instead.
    found = compare(here, Circumstances(places=30), weeks=WEEKS).plain()
    assert found["other"]["soaks"] > 0
    assert not any("/" in soak["stack"] for soak in found["soaks"])
    with pytest.raises(InputError, match="--places 0: at least one log must stand"):
        changed_yard(here.yard, Circumstances(places=0))


def test_room_for_more_leaves_the_lots_as_they_are(folder: Path) -> None:
    small = replace(known(folder).yard.soaking, tank_logs=20)
    yard = replace(known(folder).yard, soaking=small)
    larger = changed_yard(yard, Circumstances(tank_logs=60))
    assert larger.soaking.tank_logs == 60 and larger.logs_at_once == 20
    # Who asks for other lots as well gets them.
    assert changed_yard(yard, Circumstances(tank_logs=60, lot_logs=40)).logs_at_once == 40
    assert changed_yard(yard, Circumstances(tank_logs=10)).logs_at_once == 10


def test_a_roof_keeps_what_rain_would_spoil_of_what_was_pulled(planned: Planned) -> None:
    here = planned.known
    roof = replace(here.yard, fruiting=replace(here.yard.fruiting, under_cover=True))
    open_air, dry = (
        planned.built.problem,
        make_plan(
            replace(here, yard=roof), weeks=WEEKS, params=SearchParams(moves=0, moves_a_stack=0)
        ).built.problem,
    )
    for wet, kept in zip(open_air.types, dry.types, strict=True):
        assert np.array_equal(wet.start, kept.start) and np.array_equal(wet.stop, kept.stop)
        if len(wet.crops.kg):
            assert kept.crops.kg.sum() > wet.crops.kg.sum()
        # Natural flushes come where the logs lie, in the open.
        assert np.allclose(wet.end_crops.kg, kept.end_crops.kg)


def test_the_problem_file_tells_places_and_stays(planned: Planned) -> None:
    from fruitcast.soaks.problem import dump_problem

    document = json.loads(dump_problem(planned.built.problem, planned.plan))
    assert document["places"] == PLACES
    assert document["hours_a_day"] == [3.0, 2.0, 3.0, 3.0, 3.0, 3.0, 0.0]
    standing = [days for kind in document["types"] for days in kind["standing"] if days]
    # From the pull a flush takes one to three weeks, its picking included.
    assert min(standing) >= 8 and max(standing) <= 40
