"""A day without a signal in a real browser, and a network that dies on the way back."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest

from fruitcast.web.access import AccessFile
from tests.requires import need, need_program
from tests.web.dying_network import (
    HALF,
    HALF_ANSWER,
    LOSE_ANSWER,
    LOSE_REQUEST,
    Network,
    Server,
)
from tests.web.sites import PASSPHRASE, entries, write_site
from tests.web.test_browser import ARGUMENTS, PHONE, accessible, fits, tap

sync_api = need("playwright.sync_api")
CHROMIUM = need_program("chromium")

AS_PHONE = {"viewport": PHONE, "has_touch": True, "is_mobile": True}


class Woods:
    """A yard, its server, the network before it and a phone, which may be switched off."""

    def __init__(self, root: Any, chromium: Any, *, asks: bool = False) -> None:
        self.folder = write_site(root / "yard")
        if asks:
            AccessFile(self.folder).set_passphrase(PASSPHRASE)
        self.server = Server(self.folder, asks=asks)
        self.network = Network(self.server)
        self.home = self.network.page
        self._profile, self._chromium = root / "phone", chromium
        self.made: list[datetime] = []
        self.switch_on()

    def switch_on(self) -> None:
        self.context = self._chromium.launch_persistent_context(
            str(self._profile), executable_path=CHROMIUM, args=ARGUMENTS, **AS_PHONE
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(20_000)
        self.page.on("dialog", lambda dialog: dialog.accept())

    def close(self) -> None:
        self.context.close()
        self.network.close()
        self.server.kill()

    def sign_in(self, passphrase: str = PASSPHRASE) -> None:
        self.page.get_by_label("Passphrase").fill(passphrase)
        tap(self.page, "Sign in")
        self.page.get_by_role("link", name="Stacks", exact=True).wait_for()

    def keep(self) -> None:
        """Wait until the phone has kept the pages."""
        self.until("caches.open('fruitcast-pages').then(c => c.keys()).then(k => k.length > 9)")
        self.until("navigator.serviceWorker.controller !== null")

    def until(self, expression: str) -> None:
        """Wait until something is so in the page, which may have to be worked out there."""
        end = time.monotonic() + 30
        while not self.page.evaluate(expression):
            assert time.monotonic() < end, expression
            time.sleep(0.05)

    def write(self, form: str, *stacks: str, **fields: str) -> None:
        """Write something down on its form."""
        self.page.goto(f"{self.home}/record/{form}")
        for name in stacks:
            self.page.get_by_label(name, exact=True).check()
        for name, value in fields.items():
            self.page.locator(f"[name='{name}']").fill(value)
        self.made.append(self.server.now())
        tap(self.page, "Write it down")
        self.page.get_by_role("heading", name="Without a signal").wait_for()

    def queue(self) -> list[dict[str, Any]]:
        return list(self.page.evaluate("waiting.all()"))

    def send(self) -> None:
        """Send what waits and wait until the phone has done with it."""
        self.page.evaluate("phone.tell('send')")

    def settle(self, left: int) -> None:
        end = time.monotonic() + 30
        while len(self.queue()) != left:
            assert time.monotonic() < end, self.queue()
            time.sleep(0.05)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with sync_api.sync_playwright() as playwright:
        yield playwright.chromium


@pytest.fixture
def woods(tmp_path, chromium):
    there = Woods(tmp_path, chromium)
    yield there
    there.close()


@pytest.fixture
def guarded(tmp_path, chromium):
    there = Woods(tmp_path, chromium, asks=True)
    yield there
    there.close()


def test_the_week_is_there_without_a_signal_and_says_how_old_it_is(woods):
    page = woods.page
    page.goto(woods.home)
    woods.keep()
    woods.network.up = False
    page.goto(f"{woods.home}/")
    page.get_by_text("No signal. Plan of today.").wait_for()
    page.get_by_role("heading", name="Today, Mon 3 May").wait_for()
    assert page.get_by_role("heading", name="Overdue").is_visible()
    for path in ("/", "/stacks", "/supply", "/record", "/record/pick", "/record/words", "/kept"):
        page.goto(woods.home + path)
        fits(page)
        accessible(page)
    page.goto(f"{woods.home}/season")
    page.get_by_text("That page is only there when the yard is in reach.").wait_for()
    accessible(page)
    woods.network.up = True
    page.goto(f"{woods.home}/season")
    assert "The season" in page.inner_text("h1")


def test_what_was_planned_takes_two_taps_in_the_woods_too(woods):
    page = woods.page
    page.goto(woods.home)
    woods.keep()
    woods.network.up = False
    page.goto(woods.home)
    tap(page, "Pulled as planned", "link")
    sync_api.expect(page.get_by_label("D", exact=True)).to_be_checked()
    tap(page, "Write it down")
    page.get_by_text("1 record on this phone is not in the yard yet.").first.wait_for()
    assert page.get_by_text("Pulled: D, Mon 3 May", exact=True).is_visible()
    page.goto(woods.home)
    page.get_by_text("Plan of today; 1 record not in it yet.").wait_for()
    woods.network.up = True
    page.goto(f"{woods.home}/kept")
    page.get_by_text("Pulled D from the tank on Mon 3 May 2027.").wait_for()
    assert [(e.kind, e.stack) for e in entries(woods.folder)] == [("pull", "D")]
    accessible(page)


def ten(woods: Woods) -> None:
    """Write ten records down in the woods."""
    woods.write("pull", "D")
    woods.write("pick", "A", large="2", small="6")
    woods.write("pins", "H/1")
    woods.write("water", "C", "H/1", depth="0.5")
    woods.write("words", words="inspect C loose bark")
    woods.write("rain", depth="0.2")
    woods.write("soak", "B", hours="24")
    woods.write("pick", "H/2", large="1", note="the small crate")
    woods.write("words", words="note the gate is open")
    woods.write("fruiting", "H/2")


KINDS = [
    *("pull", "pick", "pins", "water", "water", "inspect"),
    *("rain", "soak", "pick", "note", "fruiting"),
]
"""What ten records are in the diary: watering two stacks is two entries."""


def arrived(woods: Woods) -> None:
    """Look that all ten are there, once, in order, with the times they were made."""
    found = entries(woods.folder)
    assert [event.kind for event in found] == KINDS
    made = list(woods.made)
    made.insert(4, made[3])
    for event, at in zip(found, made, strict=True):
        assert event.recorded_at is not None
        assert abs(event.recorded_at - at) < timedelta(seconds=2.5), (event, at)
    assert all(event.on == woods.made[0].date() for event in found)


def test_ten_records_over_a_dying_network(guarded):
    woods, page = guarded, guarded.page
    page.goto(woods.home)
    woods.sign_in()
    woods.keep()
    woods.network.up = False
    ten(woods)
    assert len(woods.queue()) == 10 and entries(woods.folder) == []

    # The phone is switched off and on again.
    woods.context.close()
    woods.switch_on()
    page = woods.page
    page.goto(f"{woods.home}/kept")
    page.get_by_text("10 records on this phone are not in the yard yet.").first.wait_for()
    fits(page)
    accessible(page)

    # One bar: each fault stops the sending, and the next try begins where it was.
    woods.network.up = True
    for faults, left in (
        ([LOSE_REQUEST], 10),
        ([HALF], 10),
        ([LOSE_ANSWER], 10),
        (["", HALF_ANSWER], 9),
        (["", LOSE_REQUEST], 8),
    ):
        woods.network.faults = list(faults)
        page.evaluate("waiting.know('reach', {})")
        woods.send()
        woods.until("waiting.fact('reach').then(r => r.is === 'out')")
        assert not woods.network.faults
        assert len(woods.queue()) == left, faults
    # The server is killed and started again; the passphrase is another one meanwhile.
    woods.server.kill()
    woods.send()
    AccessFile(woods.folder).set_passphrase("another one by the gate")
    woods.server.start()
    page.goto(f"{woods.home}/kept")
    assert page.title() == "Sign in"
    page.get_by_text("8 records on this phone are not in the yard yet.").wait_for()
    accessible(page)
    woods.send()
    woods.until("waiting.fact('reach').then(r => r.is === 'signin')")
    assert len(woods.queue()) == 8
    woods.sign_in("another one by the gate")
    woods.settle(0)
    arrived(woods)
    page.get_by_text("Nothing waits on this phone").wait_for()
    assert page.locator("#sent li").count() == 10
    fits(page)
    accessible(page)
