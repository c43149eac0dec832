"""The server as it is started: where it listens, what it refuses; nothing brings it down."""

from __future__ import annotations

import contextlib
import io
import re
import signal
import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from fruitcast.app.serving import Clock
from fruitcast.errors import InputError
from fruitcast.web.access import AccessFile
from fruitcast.web.guard import is_loopback
from fruitcast.web.server import (
    ASKING_SECONDS,
    EVERY_SECONDS,
    MOST,
    MOST_OF_A_SENDER,
    Listening,
    serve,
)
from tests.cli.running import done, run
from tests.outputs.sample_plan import TODAY
from tests.web.servers import PlainClient, Running, running
from tests.web.sites import PASSPHRASE, Now, entries, write_site


@pytest.fixture(scope="module")
def server(tmp_path_factory) -> Iterator[Running]:
    """A server of the small yard that believes a proxy on this machine."""
    folder = write_site(tmp_path_factory.mktemp("server") / "yard")
    AccessFile(folder).set_passphrase(PASSPHRASE)
    with running(folder, "--proxy", "127.0.0.1", "--name", "larkspur.example") as there:
        yield there


@pytest.fixture(scope="module")
def alone(tmp_path_factory) -> Iterator[tuple[Path, Running]]:
    """A yard, and a server of it that nothing stands before."""
    folder = write_site(tmp_path_factory.mktemp("alone") / "yard")
    with running(folder) as there:
        yield folder, there


def raw(port: int, *parts: bytes, wait: float = 10) -> bytes:
    """Send bytes as they are and return all that comes back."""
    with socket.create_connection(("127.0.0.1", port), timeout=wait) as connection:
        answer = b""
        try:
            for part in parts:
                connection.sendall(part)
            while chunk := connection.recv(65536):
                answer += chunk
        except (ConnectionError, TimeoutError):
            pass  # a server may hang up on what it won't read
        return answer


def test_it_listens_on_this_machine_only_unless_told_otherwise():
    assert Listening().host == "127.0.0.1" and not Listening().open
    assert not Listening("::1").open and not Listening("localhost").open
    assert Listening("0.0.0.0").open and Listening("192.168.1.20").open
    assert Listening("larkspur.example").open and Listening(proxy="127.0.0.1").open
    assert is_loopback("127.0.0.53") and not is_loopback("127.0.0.1.example")


@pytest.mark.parametrize(
    "listening", [Listening("0.0.0.0", 0), Listening(port=0, proxy="127.0.0.1")]
)
def test_others_are_let_near_only_with_a_passphrase_set(folder, listening):
    with pytest.raises(InputError, match=r"no passphrase is set\. .*--set-passphrase"):
        serve(folder, Clock(Now()), listening)


def test_the_command_says_so_too_and_sets_the_passphrase(folder):
    words = ("--yard", folder, "--today", TODAY, "serve")
    refused = run(*words, "--host", "0.0.0.0")
    assert refused.code == 1
    assert "no passphrase is set" in refused.err and "Traceback" not in refused.err
    ran = done(*words, "--set-passphrase", stdin=io.StringIO(f"{PASSPHRASE}\n"))
    assert AccessFile(folder).read().admits(PASSPHRASE)
    assert PASSPHRASE not in ran.out + ran.err


def test_a_port_in_use_is_told(folder):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        ran = run("--yard", folder, "--today", TODAY, "serve", "--port", port)
    assert ran.code == 1
    assert f"127.0.0.1 port {port}: can't be listened on" in ran.err


def test_behind_a_proxy_its_word_counts_for_scheme_name_and_sender(server):
    client = PlainClient(server.port)
    forwarded = {
        "X_Forwarded_Proto": "https",
        "X_Forwarded_Host": "larkspur.example",
        "X_Forwarded_For": "203.0.113.7",
    }
    answer, _ = client.ask("GET", "/signin", **forwarded)
    assert "Secure" in answer.headers["Set-Cookie"]
    body = f"token={client.token}&passphrase={PASSPHRASE.replace(' ', '+')}&next=/calendar"
    refused, _ = client.ask("POST", "/signin", body, Origin="http://larkspur.example", **forwarded)
    assert refused.status == 403
    taken, _ = client.ask("POST", "/signin", body, Origin="https://larkspur.example", **forwarded)
    assert taken.status == 303
    _, page = client.ask("GET", "/calendar", **forwarded)
    assert b"https://larkspur.example/feed/" in page
    assert b"webcal://larkspur.example/feed/" in page


def test_without_a_proxy_nobody_s_word_counts(alone):
    answer, page = PlainClient(alone[1].port).ask(
        "GET", "/calendar", X_Forwarded_Proto="https", X_Forwarded_Host="evil.example"
    )
    assert answer.status == 200
    assert b"evil.example" not in page
    assert "Secure" not in answer.headers["Set-Cookie"]


def test_fifty_megabytes_are_refused_before_they_are_read(server):
    began = time.monotonic()
    head = b"POST /signin HTTP/1.1\r\nHost: localhost\r\nContent-Length: 52428800\r\n\r\n"
    answer = raw(server.port, head, *[b"x" * 2**20] * 50)
    assert not answer or answer.startswith(b"HTTP/1.1 413")
    chunks = [b"100000\r\n" + b"x" * 2**20 + b"\r\n"] * 50
    head = b"POST /signin HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n"
    answer = raw(server.port, head, *chunks, b"0\r\n\r\n")
    assert not answer or answer.startswith(b"HTTP/1.1 413")
    assert time.monotonic() - began < 10
    assert PlainClient(server.port).ask("GET", "/signin")[0].status == 200


@pytest.mark.parametrize(
    "path",
    [
        *(b"/static/../../yard.toml", b"/static/../../../../../../etc/passwd", b"/../diary.db"),
        *(b"/static/%2e%2e/%2e%2e/.serve.json", b"//etc/passwd", b"/static/..\\..\\yard.toml"),
        *(b"http://evil.example/static/../access.py", b"/feed/..%2f..%2f.serve.json.ics"),
    ],
)
def test_no_raw_path_leads_out_of_the_page(server, path):
    answer = raw(
        server.port, b"GET " + path + b" HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
    )
    assert re.match(rb"HTTP/1.1 (303|400|404) ", answer), answer[:100]
    assert b"latitude" not in answer and b"root:" not in answer and b"digest" not in answer


@pytest.mark.parametrize(
    "request_bytes",
    [
        b"\x00\x01\x02\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"y" * 100_000 + b"\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"POST /signin HTTP/1.1\r\nHost: localhost\r\nContent-Length: -5\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nTransfer-Encoding: chunked"
        b"\r\n\r\n0\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: localhost\r\nConnection: close\r\n\r\n",
        b"GET /record/pick?stack=%ff%fe&day=%00 HTTP/1.1\r\nHost: localhost\r\n"
        b"Connection: close\r\n\r\n",
    ],
)
def test_spoilt_requests_get_no_traceback_and_do_not_bring_it_down(server, request_bytes):
    answer = raw(server.port, request_bytes, wait=1)
    assert b"Traceback" not in answer and b" 500 " not in answer[:20]
    assert PlainClient(server.port).ask("GET", "/signin")[0].status == 200


def test_the_feed_is_answered_beside_the_sign_in(server):
    answer, data = PlainClient(server.port).ask("GET", server.feed.partition("example")[2])
    assert answer.status == 200
    assert data.startswith(b"BEGIN:VCALENDAR")
    assert "fruitcast" in answer.headers["Server"] and "waitress" not in answer.headers["Server"]


@pytest.mark.parametrize(
    "how", [pytest.param(signal.SIGINT, marks=pytest.mark.long), signal.SIGTERM, signal.SIGKILL]
)
def test_however_it_ends_its_planning_ends_with_it(folder, how):
    with running(folder) as there:
        children = Path(f"/proc/{there.process.pid}/task/{there.process.pid}/children")
        if not children.exists():
            pytest.skip("this system does not tell a process's children")
        planning = int(children.read_text().split()[0])
        assert _works(planning)
        there.process.send_signal(how)
        there.process.wait(timeout=20)
        end = time.monotonic() + 15
        while _works(planning):
            assert time.monotonic() < end
            time.sleep(0.05)


def _works(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_eight_visitors_at_once_lose_nothing(alone):
    from concurrent.futures import ThreadPoolExecutor

    folder, there = alone

    def visit(number: int) -> list[int]:
        client = PlainClient(there.port, keep=True)
        client.ask("GET", "/record/words")
        statuses = []
        for count in range(3):
            uuid = f"00000000-0000-4000-8000-{number:06d}{count:06d}"
            words = f"note tank {number} {count}"
            answer = client.send("/record/words", words=words, uuid=uuid)
            statuses.append(answer.status)
        client.close()
        return statuses

    with ThreadPoolExecutor(8) as visitors:
        for statuses in visitors.map(visit, range(8)):
            assert statuses == [303] * 3
    notes = [event.note for event in entries(folder)]
    assert sorted(notes) == sorted(f"tank {n} {c}" for n in range(8) for c in range(3))
    assert all(event.on == TODAY for event in entries(folder))


def silent(port: int, count: int, begin: bytes = b"") -> list[socket.socket]:
    """Open connections that begin a request at most, and never end it."""
    found = []
    for _ in range(count):
        connection = socket.create_connection(("127.0.0.1", port), timeout=5)
        with contextlib.suppress(OSError):  # hung up on at once
            connection.sendall(begin)
        found.append(connection)
    return found


def answers(port: int) -> bytes:
    """Return what another address than the silent ones' gets, of the sign-in."""
    with socket.create_connection(("127.0.0.1", port), 10, ("127.0.0.2", 0)) as visitor:
        visitor.sendall(b"GET /signin HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
        return visitor.recv(65536)


@pytest.mark.skipif(sys.platform != "linux", reason="needs several addresses of this machine")
@pytest.mark.parametrize(
    "begin", [pytest.param(b"", marks=pytest.mark.long), b"GET / HTTP/1.1\r\nHost: x"]
)
def test_half_open_connections_of_one_sender_leave_room_for_others(alone, begin):
    there = alone[1]
    held = silent(there.port, MOST + 50, begin)
    try:
        begun = time.monotonic()
        assert answers(there.port).startswith(b"HTTP/1.1 303")
        assert time.monotonic() - begun < 10
        hung_up = 0
        for connection in held[MOST_OF_A_SENDER:]:
            with contextlib.suppress(ConnectionError):
                assert connection.recv(1) == b""
            hung_up += 1
        assert hung_up == MOST + 50 - MOST_OF_A_SENDER
    finally:
        for connection in held:
            connection.close()


@pytest.mark.long
def test_who_sends_a_request_byte_by_byte_is_hung_up_on(folder):
    with running(folder) as there:
        begun = time.monotonic()
        (slow,) = silent(there.port, 1, b"GET / HTTP/1.1\r\n")
        with slow, contextlib.suppress(ConnectionError):
            while time.monotonic() - begun < 90:
                slow.sendall(b"X")
                time.sleep(1)
        assert ASKING_SECONDS < time.monotonic() - begun < ASKING_SECONDS + 3 * EVERY_SECONDS + 10
