"""The server killed at random moments: no acknowledged record is lost, no file left in halves."""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html import unescape
from http.client import HTTPException
from pathlib import Path
from uuid import UUID

import pytest

from fruitcast.diary.book import Diary
from tests.web.servers import PlainClient
from tests.web.sites import DIARY, write_site

NURSERY = """
import os, sys
from pathlib import Path
from waitress import create_server
from tests.web.sites import make_app

# Everything is loaded once; each server is a child that starts at once and is killed.
while sys.stdin.readline():
    child = os.fork()
    if child == 0:
        server = create_server(make_app(Path(sys.argv[1])), host="127.0.0.1", port=0, threads=4)
        print(os.getpid(), server.effective_port, flush=True)
        server.run()
        os._exit(1)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""


@contextmanager
def nursery(folder: Path) -> Iterator[object]:
    """Yield what starts a server and returns its process and port."""
    process = subprocess.Popen(
        [sys.executable, "-c", NURSERY, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdin is not None and process.stdout is not None
    begun = False

    def start() -> tuple[int, int]:
        nonlocal begun
        assert process.stdin is not None and process.stdout is not None
        if begun:
            assert process.stdout.readline() == "gone\n"
        begun = True
        process.stdin.write("next\n")
        process.stdin.flush()
        pid, port = (int(word) for word in process.stdout.readline().split())
        return pid, port

    try:
        yield start
    finally:
        process.stdin.close()
        process.wait(timeout=30)
        process.stdout.close()


def kill_amid(
    pid: int,
    clients: list[threading.Thread],
    begun: list[threading.Event],
    chance: random.Random,
    within: float = 0.25,
) -> None:
    """Kill a server some moments after all of its clients have begun."""
    for client in clients:
        client.start()
    assert all(each.wait(timeout=30) for each in begun)
    time.sleep(chance.uniform(0.0, within))
    os.kill(pid, signal.SIGKILL)
    for client in clients:
        client.join(timeout=30)


def post_records(port: int, kill: int, acknowledged: set[str], begun: threading.Event) -> None:
    """Write records one after another until the server is gone."""
    client = PlainClient(port, keep=True)
    try:
        client.ask("GET", "/record/words")
        begun.set()
        for number in range(10_000):
            uuid = str(UUID(int=(kill << 64) + number + (threading.get_ident() << 80)))
            # Three entries belong together: a stack's two lots and another stack.
            fields = "&".join(f"stack={name}" for name in ("H%2F1", "H%2F2", "A"))
            body = f"token={client.token}&uuid={uuid}&day=2027-05-03&yes=1&{fields}"
            answer, _ = client.ask("POST", "/record/water", body)
            if answer.status == 303:
                acknowledged.add(answer.headers["Location"])
    except (OSError, HTTPException):
        pass
    finally:
        client.close()


def kill_and_count(folder, kills: int, seed: int, within: float = 0.25) -> int:
    """Kill one server after another, check the diary each time, return what was acknowledged."""
    chance = random.Random(seed)
    acknowledged: set[str] = set()
    with nursery(folder) as start:
        for kill in range(kills):
            pid, port = start()
            begun = threading.Event()
            clients = [
                threading.Thread(target=post_records, args=(port, kill, acknowledged, begun))
                for _ in range(2)
            ]
            kill_amid(pid, clients, [begun], chance, within)
            with Diary(folder / "diary.db") as diary:
                diary.check()
                written = diary.events()[len(DIARY) :]
            uuids = {event.uuid for event in written}
            for location in acknowledged:
                wanted = location.partition("?")[2].replace("written=", "").split("&")
                assert set(wanted) <= uuids, f"kill {kill} lost a record"
            assert len(written) % 3 == 0, f"kill {kill} left a part of a record"
    return len(acknowledged)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_no_acknowledged_record_is_lost_in_three_kills(tmp_path):
    # One at least must have been acknowledged, for the check to say something: on a busy machine
    # that takes a while.
    assert kill_and_count(write_site(tmp_path / "yard"), 3, seed=6, within=1.0) > 0


@pytest.mark.long
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_no_acknowledged_record_is_lost_in_500_kills(tmp_path):
    total = 0
    for part in range(20):
        total += kill_and_count(write_site(tmp_path / f"yard{part}"), 25, seed=200 + part)
    assert total > 500


@dataclass
class Saver:
    """Saves one form again and again, with another number each time."""

    path: str
    field: str
    file: str
    pattern: str
    sent: int
    acknowledged: int
    saved: int = 0

    def save(self, port: int, begun: threading.Event) -> None:
        client = PlainClient(port, keep=True)
        try:
            while True:
                _, page = client.ask("GET", self.path)
                form = page.decode()
                was = unescape(re.search(rf'name="was\.{self.field}" value="([^"]*)"', form)[1])
                name = re.search(r'name="name" value="([^"]*)"', form)
                begun.set()
                self.sent += 1
                fields = {f"was.{self.field}": was, self.field: str(self.sent)}
                if name:
                    fields["name"] = unescape(name[1])
                answer = client.send(self.path.partition("?")[0], **fields)
                assert answer.status == 303, answer.status
                self.acknowledged = self.sent
                self.saved += 1
        except (OSError, HTTPException):
            pass
        finally:
            client.close()

    def look(self, folder: Path, whole: str) -> None:
        """Look that the file is whole, and says what was acknowledged or sent last."""
        text = (folder / self.file).read_text(encoding="utf-8")
        number = int(re.search(self.pattern, text)[1])
        assert self.normal(text) == whole
        assert self.acknowledged <= number <= self.sent
        for earlier in (folder / "earlier").glob(f"*{self.file}"):
            assert self.normal(earlier.read_text(encoding="utf-8")) == whole, earlier

    def normal(self, text: str) -> str:
        """Return the file's text without its number."""
        found = re.search(self.pattern, text)
        return f"{text[: found.start(1)]}N{text[found.end(1) :]}"


def kill_and_look(folder: Path, kills: int, seed: int) -> int:
    """Kill one server after another while forms are saved; return how many saves were told."""
    chance = random.Random(seed)
    savers = [
        Saver("/change/soaking", "soaking.tank_logs", "yard.toml", r"tank_logs = (\d+)", 60, 60),
        Saver("/change/stack?name=A", "note", "stacks.csv", r"A,.*,(\d+)\n", 100, 100),
    ]
    whole = [each.normal((folder / each.file).read_text(encoding="utf-8")) for each in savers]
    with nursery(folder) as start:
        for _ in range(kills):
            pid, port = start()
            begun = [threading.Event() for _ in savers]
            clients = [
                threading.Thread(target=saver.save, args=(port, event))
                for saver, event in zip(savers, begun, strict=True)
            ]
            kill_amid(pid, clients, begun, chance, within=0.5)
            for saver, text in zip(savers, whole, strict=True):
                saver.look(folder, text)
            left = {each.name for each in folder.iterdir() if not each.name.endswith(".part")}
            assert {name for name in left if not OWN.fullmatch(name)} == set()
        # Nothing stays in the way of the next one.
        pid, port = start()
        before = [saver.saved for saver in savers]
        begun = [threading.Event() for _ in savers]
        clients = [
            threading.Thread(target=saver.save, args=(port, event))
            for saver, event in zip(savers, begun, strict=True)
        ]
        for client in clients:
            client.start()
        end = time.monotonic() + 30
        while any(saver.saved <= was for saver, was in zip(savers, before, strict=True)):
            assert time.monotonic() < end
            time.sleep(0.02)
        kill_amid(pid, [], begun, chance)
        for client in clients:
            client.join(timeout=30)
    return min(saver.saved for saver in savers)


OWN = re.compile(
    r"yard\.toml|stacks\.csv|weather\.csv|diary(\.backup-[\d-]+)?\.db(-wal|-shm)?|\.serve\.json"
    r"|earlier|out"
)
"""What a yard's folder holds: no lock, and nothing in halves."""


@pytest.mark.long  # .ci/run does it; records are lost or not in three kills above
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_forms_leave_each_file_whole_in_three_kills(tmp_path):
    assert kill_and_look(write_site(tmp_path / "yard", note="100"), 3, seed=7) > 0


@pytest.mark.long
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_forms_leave_each_file_whole_in_200_kills(tmp_path):
    saved = 0
    for part in range(8):
        saved += kill_and_look(write_site(tmp_path / f"yard{part}", note="100"), 25, seed=40 + part)
    print(f"\n200 kills, at least {saved} saves of each form told")
    assert saved > 100
