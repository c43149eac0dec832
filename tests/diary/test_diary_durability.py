"""Writers killed at random moments, and many at once: nothing acknowledged is lost.

A kill takes the program, not the machine, so this shows that records are whole and are
handed over before they are acknowledged. That they reach the disk rests on the database's
own flushing (synchronous = FULL).
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from fruitcast.diary.backup import backups
from fruitcast.diary.book import Diary, read_events

WRITER = """
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from fruitcast.diary.book import Diary
from fruitcast.diary.entries import kind_named
from fruitcast.diary.events import Event

file, name, most = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
kind_named("pick")  # all is loaded
print("begun", flush=True)
for n in range(most):
    # Three entries belong together; every tenth falls on another day, so that backups are made.
    mark = f"{name}-{n}"
    group = [Event("pick", date(2027, 5, 4), "A", kg=0.5, note=mark) for _ in range(3)]
    now = datetime(2027, 5, 4, 12, tzinfo=UTC) + timedelta(days=n // 10)
    with Diary(file) as diary:
        diary.add(group, now)
    print(mark, flush=True)
"""


def writer(file: Path, name: str, most: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(file), name, str(most)],
        stdout=subprocess.PIPE,
        text=True,
    )


def kill_and_count(file: Path, kills: int, seed: int) -> int:
    """Kill writers of one diary after another, check it each time, return what was acknowledged."""
    chance = random.Random(seed)
    acknowledged: set[str] = set()
    for number in range(kills):
        process = writer(file, str(number), 10_000)
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        if number:  # the first may be killed before it acknowledges anything, however busy it is
            acknowledged.add(process.stdout.readline()[:-1])
        time.sleep(chance.uniform(0.0, 0.12))
        os.kill(process.pid, signal.SIGKILL)
        rest, _ = process.communicate()
        # The last line may have been cut off: then it was not acknowledged.
        acknowledged |= {line[:-1] for line in rest.splitlines(keepends=True) if line[-1] == "\n"}
        with Diary(file) as diary:
            diary.check()
            found = Counter(event.note for event in diary.events())
        assert acknowledged <= set(found), f"kill {number} lost a record"
        assert set(found.values()) <= {3}, f"kill {number} left a part of a record"
    for copy in backups(file):
        with Diary(copy) as diary:
            diary.check()
    return len(acknowledged)


def test_no_acknowledged_record_is_lost_in_three_kills(tmp_path):
    # So many must have been acknowledged on a busy machine too, for the check to say something.
    assert kill_and_count(tmp_path / "diary.db", 3, seed=5) > 1


def test_a_kill_while_the_diary_is_begun_leaves_an_empty_or_a_whole_one(tmp_path):
    for number in range(3):
        kill_and_count(tmp_path / f"diary{number}.db", 1, seed=number)


@pytest.mark.long
def test_no_acknowledged_record_is_lost_in_500_kills(tmp_path):
    total = 0
    for part in range(20):
        total += kill_and_count(tmp_path / f"diary{part}.db", 25, seed=100 + part)
    assert total > 500


def test_four_writers_at_once_lose_nothing(tmp_path):
    file = tmp_path / "diary.db"
    writers = [writer(file, f"w{number}", 15) for number in range(4)]
    for process in writers:
        lines, _ = process.communicate(timeout=60)
        assert process.returncode == 0
        assert len(lines.splitlines()) == 16
    notes = Counter(event.note for event in read_events(file))
    assert notes == {f"w{w}-{n}": 3 for w in range(4) for n in range(15)}
    with Diary(file) as diary:
        diary.check()
