"""What pages show is kept while the yard's files stay as they are, and never any longer."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from datetime import date

import pytest

from fruitcast.app import serving
from fruitcast.app.serving import Clock, KeptSituation
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.errors import InputError
from tests.outputs.sample_plan import TODAY, plan
from tests.web.sites import publish_site

NOTE = Event("note", TODAY, note="tank cleaned")


@pytest.fixture
def kept(folder, now, monkeypatch) -> KeptSituation:
    """The small yard, as if its files had been left alone for long."""
    monkeypatch.setattr(serving, "SETTLED_SECONDS", -3600.0)
    kept = KeptSituation(folder, Clock(now))
    kept.now()
    assert kept.now() is kept.now()
    return kept


def test_an_entry_made_here_or_by_another_process_is_seen_at_once(kept, folder, now):
    with Diary(folder / "diary.db") as diary:
        diary.add([Event("pins", TODAY, "A")], now())
        # The diary is still open: the entry stands in its log only.
        assert kept.now().state.stacks["A"].pins_on == TODAY
    assert kept.now().state.stacks["A"].pins_on == TODAY
    words = ["--yard", str(folder), "--today", f"{TODAY}", "record", "pick", "D", "2", "lb"]
    done = subprocess.run(
        [sys.executable, "-m", "fruitcast", *words, "--yes"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert [pick.on for pick in kept.now().state.stacks["D"].picks] == [TODAY]


def test_a_plan_published_since_is_seen_and_what_it_rests_on(kept, folder, now):
    assert kept.now().fresh
    publish_site(folder, plan(seed=99))
    assert kept.now().plan.seed == 99
    with (folder / "weather.csv").open("a") as file:
        file.write("2027-05-03,9,19,4\n")
    assert not kept.now().fresh


def test_settings_and_stacks_changed_by_hand_are_seen_and_faults_told(kept, folder):
    settings = folder / "yard.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("Larkspur Hollow", "Larkspur Hallow"), encoding="utf-8")
    assert kept.now().yard.name == "Larkspur Hallow"
    stacks = folder / "stacks.csv"
    whole = stacks.read_bytes()
    # As editors do it: another file takes the name, with the same size and time of writing.
    other = folder / "other"
    other.write_bytes(whole.replace(b"beech", b"birch"))
    told = stacks.stat()
    os.utime(other, ns=(told.st_atime_ns, told.st_mtime_ns))
    other.replace(stacks)
    assert {stack.tree for stack in kept.now().yard.stacks} >= {"birch"}
    stacks.unlink()
    with pytest.raises(InputError, match=r"stacks\.csv"):
        kept.now()
    stacks.write_bytes(whole)
    assert {stack.tree for stack in kept.now().yard.stacks} >= {"beech"}


def test_at_midnight_it_is_read_anew(kept, now):
    assert kept.now().today == TODAY
    now.later(days=1)
    assert kept.now().today == date(2027, 5, 4)


def test_files_just_written_are_not_trusted_to_show_the_next_change(folder, now):
    fresh = KeptSituation(folder, Clock(now))
    first = fresh.now()
    assert fresh.now() is not first and replace(fresh.now()) == replace(first)
