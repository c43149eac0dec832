"""fruitcast lots: shown, taken once, and what the jobs say of them."""

from __future__ import annotations

import json

import pytest

from fruitcast.diary.book import Diary, read_events
from fruitcast.diary.events import LOTS
from tests.cli.running import TODAY, run
from tests.web.sites import NOON
from tests.yards import write_yard


@pytest.fixture
def yard(tmp_path):
    """The sample yard before its lots were accepted."""
    folder = write_yard(tmp_path / "yard")
    file = folder / "diary.db"
    events = [event for event in read_events(file) if event.kind != LOTS]
    file.unlink()
    with Diary(file) as diary:
        diary.add(events, NOON)
    return folder


def lots(yard, *words):
    return run("--yard", yard, "--today", TODAY, "lots", *words)


def test_lots_are_shown_then_taken_once(yard):
    shown = json.loads(lots(yard, "--json").out)
    assert not shown["accepted"] and shown["proposed"]
    first = shown["proposed"][0]
    assert sum(lot["logs"] for lot in first["lots"]) == first["logs"]
    assert first["flush_kg"] > shown["week_target_kg"] * 0.8
    taken = json.loads(lots(yard, "--accept", "--json").out)
    assert taken["accepted"] and taken["proposed"] == shown["proposed"]
    after = json.loads(lots(yard, "--json").out)
    assert not after["proposed"]
    standing = {stack["stack"]: stack for stack in after["standing"]}
    for stack in shown["proposed"]:
        assert [lot["name"] for lot in standing[stack["stack"]]["lots"]] == [
            lot["name"] for lot in stack["lots"]
        ]
    again = lots(yard, "--accept")
    assert "No stack bears too much at once" in again.out


def test_settings_that_say_it_propose_nothing(yard):
    settings = yard / "yard.toml"
    settings.write_text(
        settings.read_text().replace("[soaking]\n", '[soaking]\nlot_logs = "whole"\n')
    )
    answer = lots(yard, "--accept")
    assert "lot_logs under [soaking] in yard.toml says how stacks are soaked" in answer.out


def test_a_lot_s_job_says_which_logs_how_heavy_and_what_stays(yard):
    lots(yard, "--accept")
    run("--yard", yard, "--today", TODAY, "fix", "G/1", "2027-05-07")
    run("--yard", yard, "--today", TODAY, "plan")
    jobs = json.loads(run("--yard", yard, "--today", TODAY, "week", "--json").out)["jobs"]
    soaks = [job["what"] for job in jobs if job["job"] == "soak" and "/" in job["stack"]]
    assert soaks
    for words in soaks:
        assert "on top, put " in words and "barrow load" in words and " stay" in words
