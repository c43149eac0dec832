"""Who may come in: passphrase, waits, sign-out, and the file that only its owner reads."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from fruitcast.errors import InputError, OutputError
from fruitcast.web import access as access_module
from fruitcast.web.access import KNOWN_SENDERS, Access, AccessFile, Attempts
from tests.web.sites import PASSPHRASE, Visitor, entries, make_app


class Seconds:
    """A clock of seconds."""

    def __init__(self) -> None:
        self.value = 0.0

    def __call__(self) -> float:
        return self.value


@pytest.fixture(autouse=True)
def _quick_digest(monkeypatch):
    """Digests that cost little: some hundred passphrases are tried here."""
    monkeypatch.setattr(access_module, "_N", 2**8)


@pytest.fixture
def access(folder):
    file = AccessFile(folder)
    file.set_passphrase(PASSPHRASE)
    return file


@pytest.fixture
def seconds():
    return Seconds()


@pytest.fixture
def stranger(folder, access, now, seconds):
    return Visitor(make_app(folder, now, ask_always=True, seconds=seconds))


def sign_in(visitor: Visitor, passphrase: str = PASSPHRASE, **headers: str) -> str:
    visitor.open("/signin")
    return visitor.send(passphrase=passphrase)


@pytest.mark.parametrize(
    "path", ["/", "/stacks", "/calendar", "/diary", "/status", "/record/pick", "/nothing"]
)
def test_a_stranger_sees_nothing_but_the_sign_in(stranger, path):
    answer = stranger.client.get(path)
    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/signin?next=")
    assert "Larkspur" not in stranger.open("/signin")


def test_a_stranger_writes_nothing(stranger, folder):
    stranger.open("/signin")
    stranger.send()
    given = [("token", "x"), ("stack", "A"), ("day", "2027-05-03"), ("uuid", "x")]
    stranger.post("/record/pins", given)
    assert stranger.status == 403
    assert entries(folder) == []


def test_the_passphrase_lets_in_to_where_one_wanted_to_go(stranger):
    stranger.open("/signin?next=/stacks")
    stranger.send(passphrase=PASSPHRASE)
    assert "Stacks – Larkspur Hollow" in stranger.text


def test_the_session_changes_at_sign_in(stranger):
    stranger.open("/signin")
    before = stranger.client.get_cookie("fruitcast").value
    sign_in(stranger)
    assert stranger.client.get_cookie("fruitcast").value != before


def test_no_passphrase_admits_nobody_when_others_can_reach_the_page(folder):
    visitor = Visitor(make_app(folder, ask_always=True))
    assert not AccessFile(folder).read().has_passphrase
    assert visitor.client.get("/stacks").status_code == 303


def test_fifty_wrong_passphrases_are_slowed_down_and_so_is_the_right_one_after_them(
    stranger, seconds, monkeypatch
):
    checked = []
    admits = Access.admits
    monkeypatch.setattr(
        Access, "admits", lambda self, given: checked.append(given) or admits(self, given)
    )
    statuses = []
    for number in range(50):
        sign_in(stranger, f"wrong {number}")
        statuses.append(stranger.status)
    assert statuses == [403] * 5 + [429] * 45
    assert len(checked) == 5
    assert stranger.page.headers["Retry-After"] == "30"
    sign_in(stranger)
    assert stranger.status == 429
    assert "Too many wrong tries. Wait 30 s" in stranger.text
    seconds.value += 30
    assert "This week" in sign_in(stranger)


def test_each_further_wrong_one_doubles_the_wait_up_to_an_hour():
    seconds = Seconds()
    attempts = Attempts(seconds)
    waits = []
    for _ in range(15):
        attempts.wrong("192.0.2.1")
        waits.append(attempts.wait("192.0.2.1"))
        seconds.value += waits[-1]
    assert waits[3:8] == [0, 30, 60, 120, 240]
    assert max(waits) == 3600
    assert attempts.wait("192.0.2.2") == 0
    seconds.value += 25 * 3600
    attempts.wrong("192.0.2.1")
    assert attempts.wait("192.0.2.1") == 0


def test_many_senders_together_are_slowed_down_too():
    seconds = Seconds()
    attempts = Attempts(seconds)
    for number in range(60):
        seconds.value += 1
        attempts.wrong(f"198.51.100.{number}")
    assert attempts.wait("203.0.113.9") == pytest.approx(3600 - 59)


def test_strangers_do_not_lock_out_a_device_that_signed_in_before(stranger, seconds):
    ours, other = stranger, Visitor(stranger.client.application)
    sign_in(ours)
    ours.open("/more")
    ours.send(form=1)
    # From our own address, and from sixty others: all there is to try in an hour.
    for number in range(65):
        other.client.environ_base["REMOTE_ADDR"] = f"198.51.100.{number}"
        sign_in(other, f"wrong {number}")
    other.client.environ_base["REMOTE_ADDR"] = "127.0.0.1"
    for number in range(6):
        sign_in(other, f"wrong {number}")
    assert other.status == 429
    sign_in(other)
    assert other.status == 429  # nor does a stranger with the right one get in
    assert "This week" in sign_in(ours)


def test_a_known_device_has_few_tries_too_and_a_forged_mark_none(stranger, seconds):
    sign_in(stranger)
    stranger.open("/more")
    stranger.send(form=1)
    for _ in range(6):
        sign_in(stranger, "wrong for certain")
    assert stranger.status == 429
    forger = Visitor(stranger.client.application)
    forger.client.set_cookie("fruitcast_device", "InNvbWV0aGluZyI.forged", path="/signin")
    for number in range(70):
        forger.client.environ_base["REMOTE_ADDR"] = f"198.51.100.{number}"
        sign_in(forger, "wrong for certain")
    assert forger.status == 429


def test_signing_out_ends_every_copy_of_the_cookie(stranger, access, now):
    sign_in(stranger)
    copy = stranger.client.get_cookie("fruitcast").value
    stranger.open("/more")
    stranger.send(form=1)
    thief = Visitor(stranger.client.application)
    thief.client.set_cookie("fruitcast", copy)
    assert thief.client.get("/stacks").status_code == 303
    assert "passphrase" in thief.client.get("/signin").get_data(as_text=True).lower()
    sign_in(stranger)
    assert stranger.client.get("/stacks").status_code == 200
    assert len(access.read().ended.split()) == 1


def test_ended_sign_ins_are_forgotten_when_their_cookies_have_lapsed(access):
    for number in range(600):
        access.end(f"id{number}", now=1e9 + number)
    assert len(access.read().ended.split()) == 500
    assert access.read().has_ended("id599") and not access.read().has_ended("id5")
    access.end("late", now=1e9 + 32 * 24 * 3600)
    assert access.read().ended.split() == [f"late@{int(1e9 + 32 * 24 * 3600)}"]


def test_an_ipv6_network_is_one_sender_and_none_fills_the_memory():
    attempts = Attempts(Seconds())
    for number in range(5):
        attempts.wrong(f"2001:db8:0:1::{number:x}")
    assert attempts.wait("2001:db8:0:1:ffff::1") == 30
    assert attempts.wait("2001:db8:0:2::1") == 0
    for number in range(KNOWN_SENDERS + 100):
        attempts.wrong(f"2001:db8:{number:x}::1")
    assert len(attempts._senders) == KNOWN_SENDERS


def test_signing_out_here_and_everywhere(stranger, folder, now, seconds):
    sign_in(stranger)
    phone = Visitor(stranger.client.application)
    sign_in(phone)
    phone.open("/more")
    phone.send(form=1)
    assert phone.client.get("/stacks").status_code == 303
    assert stranger.client.get("/stacks").status_code == 200
    sign_in(phone)
    phone.open("/more")
    phone.send(form=2)
    assert stranger.client.get("/stacks").status_code == 303


def test_a_new_passphrase_ends_every_sign_in(stranger, access):
    sign_in(stranger)
    AccessFile(access.path.parent).set_passphrase("quite another one")
    assert stranger.client.get("/stacks").status_code == 303
    assert "This is not the passphrase" in sign_in(stranger)
    assert "This week" in sign_in(stranger, "quite another one")


def test_a_sign_in_lapses_after_thirty_days_unused(stranger, time_machine):
    time_machine.move_to("2027-05-03T16:00Z", tick=False)
    sign_in(stranger)
    time_machine.move_to("2027-05-30T16:00Z", tick=False)
    assert stranger.client.get("/stacks").status_code == 200
    time_machine.move_to("2027-06-28T16:00Z", tick=False)
    assert stranger.client.get("/stacks").status_code == 200
    time_machine.move_to("2027-07-30T16:00Z", tick=False)
    assert stranger.client.get("/stacks").status_code == 303


def test_a_cookie_made_up_or_of_another_yard_admits_nobody(stranger, tmp_path):
    from tests.web.sites import write_site

    other = write_site(tmp_path / "other")
    AccessFile(other).set_passphrase(PASSPHRASE)
    elsewhere = Visitor(make_app(other, ask_always=True))
    sign_in(elsewhere)
    cookie = elsewhere.client.get_cookie("fruitcast").value
    for value in (cookie, "x", cookie.rpartition(".")[0] + ".AAAA"):
        stranger.client.set_cookie("fruitcast", value, domain="localhost")
        assert stranger.client.get("/stacks").status_code == 303


@pytest.mark.skipif(os.name != "posix", reason="file modes are those of POSIX")
def test_the_file_is_its_owner_s_alone_and_holds_no_passphrase(access):
    assert access.path.stat().st_mode & 0o777 == 0o600
    assert PASSPHRASE not in access.path.read_text()
    access.path.chmod(0o644)
    AccessFile(access.path.parent).read()
    assert access.path.stat().st_mode & 0o777 == 0o600
    assert [file.name for file in access.path.parent.glob(".serve*")] == [".serve.json"]


def test_two_yards_with_one_passphrase_share_no_digest(access, tmp_path):
    other = AccessFile(tmp_path)
    other.set_passphrase(PASSPHRASE)
    assert other.read().digest != access.read().digest


@pytest.mark.parametrize(("length", "count"), [(9, "9"), (201, "201"), (0, "0")])
def test_a_passphrase_too_short_or_long_is_refused(folder, length, count):
    with pytest.raises(InputError, match=f"has {count} characters; 10 to 200 are taken"):
        AccessFile(folder).set_passphrase("x" * length)


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"key": 1, "era": 2}', '{"key":"a","era":"b"}'])
def test_a_spoilt_file_lets_nobody_in(folder, text):
    file = AccessFile(folder)
    file.read()
    file.path.write_text(text)
    with pytest.raises(InputError, match=r"\.serve\.json: cannot be read .* --set-passphrase"):
        AccessFile(folder).read()


def test_a_file_that_cannot_be_written_changes_nothing(folder, monkeypatch):
    file = AccessFile(folder)
    before = file.read()
    monkeypatch.setattr(Path, "replace", _full)
    with pytest.raises(OutputError, match=r"cannot be written .*nothing was changed"):
        file.new_feed()
    assert json.loads(file.path.read_text())["feed"] == before.feed
    assert len(list(folder.glob(".serve*"))) == 1


def _full(self: Path, target: Path) -> None:
    raise OSError(28, "No space left on device")
