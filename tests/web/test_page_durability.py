"""The server killed at random moments while records come in: none that it acknowledged is lost."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from http.client import HTTPException
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


def kill_and_count(folder, kills: int, seed: int) -> int:
    """Kill one server after another, check the diary each time, return what was acknowledged."""
    chance = random.Random(seed)
    acknowledged: set[str] = set()
    nursery = subprocess.Popen(
        [sys.executable, "-c", NURSERY, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert nursery.stdin is not None and nursery.stdout is not None
    try:
        for kill in range(kills):
            nursery.stdin.write("next\n")
            nursery.stdin.flush()
            pid, port = (int(word) for word in nursery.stdout.readline().split())
            begun = threading.Event()
            clients = [
                threading.Thread(target=post_records, args=(port, kill, acknowledged, begun))
                for _ in range(2)
            ]
            for client in clients:
                client.start()
            assert begun.wait(timeout=30)
            time.sleep(chance.uniform(0.0, 0.25))
            os.kill(pid, signal.SIGKILL)
            assert nursery.stdout.readline() == "gone\n"
            for client in clients:
                client.join(timeout=30)
            with Diary(folder / "diary.db") as diary:
                diary.check()
                written = diary.events()[len(DIARY) :]
            uuids = {event.uuid for event in written}
            for location in acknowledged:
                wanted = location.partition("?")[2].replace("written=", "").split("&")
                assert set(wanted) <= uuids, f"kill {kill} lost a record"
            assert len(written) % 3 == 0, f"kill {kill} left a part of a record"
    finally:
        nursery.stdin.close()
        nursery.wait(timeout=30)
    return len(acknowledged)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_no_acknowledged_record_is_lost_in_25_kills(tmp_path):
    # So many must have been acknowledged on a busy machine too, for the check to say something.
    assert kill_and_count(write_site(tmp_path / "yard"), 25, seed=6) > 8


@pytest.mark.long
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_no_acknowledged_record_is_lost_in_500_kills(tmp_path):
    total = 0
    for part in range(20):
        total += kill_and_count(write_site(tmp_path / f"yard{part}"), 25, seed=200 + part)
    assert total > 500
