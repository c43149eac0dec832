"""Lots of a stack larger than the tank."""

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.errors import InputError
from fruitcast.yard.model import lots_of
from fruitcast.yard.reading import read_yard

SAMPLE = Path(__file__).parents[2] / "sample_data"


def test_a_stack_that_fits_the_tank_stays_whole():
    assert lots_of("A", 60, 60) == (("A", 60),)


def test_a_larger_stack_is_parted_evenly_the_larger_lots_first():
    assert lots_of("A", 61, 60) == (("A/1", 31), ("A/2", 30))
    assert lots_of("B 2", 100, 30) == (("B 2/1", 25), ("B 2/2", 25), ("B 2/3", 25), ("B 2/4", 25))
    assert lots_of("A", 3, 1) == (("A/1", 1), ("A/2", 1), ("A/3", 1))


@given(st.integers(1, 3000), st.integers(1, 200))
def test_lots_are_as_few_as_the_tank_allows_and_within_one_log(logs, tank_logs):
    sizes = [size for _, size in lots_of("A", logs, tank_logs)]
    assert sum(sizes) == logs
    assert max(sizes) <= tank_logs
    assert max(sizes) - min(sizes) <= 1
    assert (len(sizes) - 1) * tank_logs < logs


def test_a_grower_may_want_smaller_soaks_than_the_tank_allows(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    settings = folder / "yard.toml"
    settings.write_text(
        settings.read_text().replace("tank_logs = 60", "tank_logs = 60\nlot_logs = 18")
    )
    yard = read_yard(folder, date(2027, 5, 3))
    assert yard.logs_at_once == 18
    lots = read_yard_state(yard, date(2027, 5, 3)).stacks
    assert [lots[name].logs for name in ("A/1", "A/2")] == [18, 18]
    assert [lots[name].logs for name in ("G/1", "G/2", "G/3")] == [15, 15, 15]
    assert max(state.logs for state in lots.values()) <= 18
    assert replace(yard, soaking=replace(yard.soaking, tank_logs=10)).logs_at_once == 10


def test_no_more_logs_go_in_together_than_can_fruit_together(tmp_path):
    folder = tmp_path / "yard"
    shutil.copytree(SAMPLE, folder)
    with (folder / "yard.toml").open("a") as settings:
        settings.write("[fruiting]\nplaces = 20\n")
    yard = read_yard(folder, date(2027, 5, 3))
    assert yard.logs_at_once == 20
    lots = read_yard_state(yard, date(2027, 5, 3)).stacks
    assert [lots[name].logs for name in ("G/1", "G/2", "G/3")] == [15, 15, 15]
    assert max(state.logs for state in lots.values()) <= 20


def test_a_tank_for_no_log_is_refused():
    with pytest.raises(InputError, match=r"tank for 0 logs soaks nothing\. Give tank_logs of 1"):
        lots_of("A", 10, 0)
