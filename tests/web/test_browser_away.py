"""A day without a signal in a real browser, and a network that dies on the way back.

Among the long tests: on a machine with other work the browser now and then takes longer than is
waited for. What the server does with late records is in test_without_signal.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fruitcast import web
from fruitcast.web.access import AccessFile
from tests.browsers import ARGUMENTS
from tests.requires import need, need_program
from tests.web.dying_network import (
    HALF,
    HALF_ANSWER,
    LOSE_ANSWER,
    LOSE_REQUEST,
    NAME,
    Network,
    Server,
)
from tests.web.sites import PASSPHRASE, entries, write_site
from tests.web.test_browser import PHONE, accessible, fits, tap

sync_api = need("playwright.sync_api")
CHROMIUM = need_program("chromium")

AS_PHONE = {"viewport": PHONE, "has_touch": True, "is_mobile": True}

pytestmark = pytest.mark.long


class Woods:
    """A yard, its server, the network before it and a phone, which may be switched off."""

    def __init__(
        self, root: Any, chromium: Any, *, asks: bool = False, mortal: bool = False
    ) -> None:
        self.folder = write_site(root / "yard")
        if asks:
            AccessFile(self.folder).set_passphrase(PASSPHRASE)
        self.server = Server(self.folder, asks=asks, mortal=mortal)
        self.network = Network(self.server)
        self.home = self.network.page
        self._profile, self._chromium = root / "phone", chromium
        self.made: list[datetime] = []
        self.switch_on()

    def switch_on(self) -> None:
        self.context = self._chromium.launch_persistent_context(
            str(self._profile),
            executable_path=CHROMIUM,
            args=(*ARGUMENTS, f"--host-resolver-rules=MAP {NAME} 127.0.0.1"),
            **AS_PHONE,
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(20_000)
        self.asked: list[str] = []
        self.page.on("dialog", self._accept)

    def _accept(self, dialog: Any) -> None:
        self.asked.append(dialog.message)
        dialog.accept()

    def run_flat(self) -> None:
        """Kill the browser at once, as an empty battery does."""
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                told = (folder / "cmdline").read_bytes().decode().split("\0")
            except OSError:
                continue
            if f"--user-data-dir={self._profile}" in told and "--type=" not in " ".join(told):
                os.kill(int(folder.name), signal.SIGKILL)
        with contextlib.suppress(sync_api.Error):
            self.context.close()

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
        self.page.wait_for_load_state()
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
def chromium(browser: Any) -> Any:
    return browser.browser_type


@pytest.fixture(scope="module")
def blank(chromium):
    """A page with the scripts of the queue and no yard."""
    browser = chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
    page = browser.new_page()
    page.add_script_tag(path=str(Path(web.__file__).parent / "static" / "queue.js"))
    yield page
    browser.close()


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


@pytest.fixture
def mortal(tmp_path, chromium):
    there = Woods(tmp_path, chromium, asks=True, mortal=True)
    there.page.goto(there.home)
    there.sign_in()
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
    # No link leads to what is not there.
    page.goto(f"{woods.home}/stacks")
    page.get_by_text("What if it were soaked on").first.wait_for(state="detached")
    tap(page, "Unsent", "link")
    page.get_by_text("Nothing waits on this phone").wait_for()
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


@pytest.mark.parametrize(
    ("one", "other", "touch"),
    [
        (["soak", "A"], ["pull", "A"], True),
        (["soak", "A"], ["pull", "B"], False),
        (["soak", "H/1"], ["pick", "H"], True),
        (["soak", "A"], ["rain"], False),
        (["water", "*"], ["soak", "A"], True),
        (["water", "*"], ["rain"], False),
        (["soak", "North row"], ["words: pull north row today"], True),
        (["soak", "A"], ["words: note the gate"], False),
        (["words: soak A"], ["words: pull A"], False),
    ],
)
def test_what_may_hang_on_what(blank, one, other, touch):
    def record(given: list[str]) -> dict[str, Any]:
        form, _, told = given[0].partition(": ")
        return {"form": form, "stacks": given[1:], "told": told}

    for pair in ((one, other), (other, one)):
        found = blank.evaluate("pair => waiting.touches(...pair)", [record(each) for each in pair])
        assert found == touch


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


def test_ten_records_over_a_dying_network(mortal):
    woods, page = mortal, mortal.page
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


def test_what_is_asked_or_refused_waits_for_a_word_by_keyboard_alone(woods):
    page = woods.page
    page.goto(woods.home)
    woods.keep()
    woods.network.up = False
    woods.write("pick", "A", large="2")
    woods.write("soak", "A", hours="24")
    woods.write("words", words="frobnicate the gate")
    woods.write("pins", "A")
    woods.write("pins", "C")
    woods.write("rain", depth="0.2")
    woods.network.up = True
    page.goto(f"{woods.home}/kept")
    woods.settle(3)
    # Pins on A wait behind the soak of A; what is of other stacks does not.
    assert [event.kind for event in entries(woods.folder)] == ["pick", "pins", "rain"]
    page.get_by_text("3 records on this phone are not in the yard yet. 2 want a word").wait_for()
    page.get_by_text("Waits for one above, of the same stack.").wait_for()
    fits(page)
    accessible(page)

    def press(name: str) -> None:
        """Reach something by the Tab key, and press it."""
        for _ in range(40):
            page.keyboard.press("Tab")
            told = page.evaluate(
                "[document.activeElement.getAttribute('aria-label'),"
                " getComputedStyle(document.activeElement).outlineStyle]"
            )
            if told[0] and told[0].startswith(name):
                assert told[1] == "solid"
                page.keyboard.press("Enter")
                return
        raise AssertionError(name)

    page.evaluate("document.activeElement.blur()")
    press("Yes, write it down: Soaked: A")
    woods.settle(1)
    assert [(e.kind, e.stack) for e in entries(woods.folder)][3:] == [("soak", "A"), ("pins", "A")]
    made = {e.kind + e.stack: e.recorded_at for e in entries(woods.folder)}
    assert made["soakA"] <= made["pinsA"] <= made["pinsC"] <= made["rain"]

    press("Mend it: In words: frobnicate")
    words = page.get_by_label("What you did or saw")
    sync_api.expect(words).to_have_value("frobnicate the gate")
    words.fill("note the gate")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Without a signal").wait_for()
    woods.settle(0)
    note = entries(woods.folder)[-1]
    assert note.note == "the gate" and made["soakA"] <= note.recorded_at <= made["pinsA"]

    woods.network.up = False
    woods.write("words", words="nonsense")
    press("Drop it: In words: nonsense")
    woods.settle(0)
    assert woods.asked == ["Drop this for good? In words: nonsense."]
    woods.until("document.activeElement.id === 'reach'")


def test_the_same_pick_from_two_phones_is_asked_about(woods, chromium, tmp_path):
    other = chromium.launch_persistent_context(
        str(tmp_path / "other"), executable_path=CHROMIUM, args=ARGUMENTS, **AS_PHONE
    )
    try:
        theirs = other.new_page()
        for page in (woods.page, theirs):
            page.goto(woods.home)
            mine, woods.page = woods.page, page
            woods.keep()
            woods.page = mine
        woods.network.up = False
        woods.write("pick", "A", large="2")
        woods.page = theirs
        woods.write("pick", "A", large="2", small="1")
        # Put away, so that it does not send its own before the first phone has.
        theirs.goto("about:blank")
        woods.page = mine
        woods.network.up = True
        mine.goto(f"{woods.home}/kept")
        woods.settle(0)
        woods.page = theirs
        theirs.goto(f"{woods.home}/kept")
        theirs.get_by_text("Is this another pick?").wait_for()
        assert theirs.get_by_text("Picked 2 lb from A on Mon 3 May 2027").is_visible()
        tap(theirs, "Yes, write it down: Picked: A, 2 lb, 1 oz, Mon 3 May")
        woods.settle(0)
    finally:
        woods.page = mine
        other.close()
    assert [event.kind for event in entries(woods.folder)] == ["pick", "pick"]


def test_a_form_that_was_open_when_the_signal_went_is_not_lost(woods):
    page = woods.page
    page.goto(woods.home)
    woods.keep()
    page.goto(f"{woods.home}/record/pick")
    page.get_by_label("A", exact=True).check()
    page.get_by_label("lb").fill("30")
    tap(page, "Write it down")
    page.get_by_role("heading", name="Is this right?").wait_for()
    woods.network.up = False
    tap(page, "Yes, write it down")
    page.get_by_text("Picked 30 lb from A on Mon 3 May 2027").first.wait_for()
    (waits,) = woods.queue()
    assert waits["yes"] == ["1"] and waits["tried"]
    woods.network.up = True
    page.goto(f"{woods.home}/kept")
    woods.settle(0)
    (pick,) = entries(woods.folder)
    assert pick.uuid == waits["uuid"]


def test_a_form_sent_when_the_sign_in_has_run_out_waits_for_the_next(guarded):
    woods, page = guarded, guarded.page
    page.goto(woods.home)
    woods.sign_in()
    woods.keep()
    page.goto(f"{woods.home}/record/pins")
    page.get_by_label("A", exact=True).check()
    AccessFile(woods.folder).set_passphrase("another one by the gate")
    tap(page, "Write it down")
    page.get_by_role("heading", name="Sign in").wait_for()
    page.get_by_text("1 record on this phone is not in the yard yet.").wait_for()
    woods.sign_in("another one by the gate")
    woods.settle(0)
    assert [(e.kind, e.stack) for e in entries(woods.folder)] == [("pins", "A")]


def test_two_days_later_the_kept_week_says_whose_plan_it_is(woods):
    page = woods.page
    page.goto(woods.home)
    woods.keep()
    woods.network.up = False
    page.goto(woods.home)
    page.evaluate("waiting.fact('wrong').then(by => waiting.know('wrong', by + 2 * 86400000))")
    woods.write("pins", "A")
    page.goto(woods.home)
    page.get_by_text("No signal. Plan of Monday; 1 record not in it yet.").wait_for()
    page.get_by_role("heading", name="Today, Wed 5 May").wait_for()
    assert page.get_by_role("heading", name="Tue 4 May", exact=True).is_visible()
    assert page.get_by_text("Wed 5 May 2027").is_visible()
    page.goto(f"{woods.home}/record/pins")
    assert page.get_by_label("Today, Wed 5 May").is_checked()
    page.evaluate("waiting.fact('wrong').then(by => waiting.know('wrong', by + 20 * 86400000))")
    page.goto(f"{woods.home}/stacks")
    page.get_by_text("Plan of Mon 3 May, 22 days old; 1 record not in it yet.").wait_for()


def test_signing_out_clears_what_was_kept_and_asks_about_what_waits(guarded):
    woods, page = guarded, guarded.page
    page.goto(woods.home)
    woods.sign_in()
    woods.keep()
    woods.network.up = False
    woods.write("words", words="nonsense")
    woods.network.up = True
    page.goto(f"{woods.home}/kept")
    page.get_by_text("It wants a word from you.").wait_for()
    page.goto(f"{woods.home}/more")
    tap(page, "Sign out here")
    page.get_by_role("heading", name="Sign in").wait_for()
    assert woods.asked and "1 record on this phone is not in the yard yet" in woods.asked[0]
    page.get_by_text("1 record on this phone is not in the yard yet.").wait_for()
    kept = "caches.open('fruitcast-pages').then(c => c.keys()).then(k => k.length)"
    assert page.evaluate(kept) == 0
    woods.network.up = False
    page.goto(woods.home)
    page.get_by_text("nothing of it is kept on this phone").wait_for()
    assert "Larkspur" not in page.content()
    accessible(page)
    woods.network.up = True
    page.goto(woods.home)
    woods.sign_in()
    woods.keep()
    assert len(woods.queue()) == 1


def test_another_site_can_put_nothing_into_the_queue(woods):
    page = woods.page
    page.goto(woods.home)
    woods.keep()
    fields = {"kept": "yes", "stack": "A", "large": "2", "day": "2027-05-03", "uuid": ""}
    inputs = "".join(f'<input name="{name}" value="{value}">' for name, value in fields.items())
    evil = (
        f'<form method="post" action="{woods.home}/record/pick">{inputs}<button>x</button></form>'
    )
    there = f"http://127.0.0.1:{woods.network.port}"
    for up in (True, False):
        page.route(
            f"{there}/evil", lambda route: route.fulfill(body=evil, content_type="text/html")
        )
        woods.network.up = up
        page.goto(f"{there}/evil")
        page.locator("button").click()
        page.wait_for_url(f"{woods.home}/**")
        page.wait_for_load_state()
        page.goto(f"{woods.home}/kept")
        assert woods.queue() == []
        woods.network.up = True
    assert entries(woods.folder) == []


def test_a_new_version_takes_the_old_one_s_place_and_loses_nothing(mortal):
    woods, page = mortal, mortal.page
    woods.keep()
    (before,) = [n for n in page.evaluate("caches.keys()") if n.startswith("fruitcast-static")]
    woods.network.up = False
    woods.write("pins", "A")
    woods.server.kill()
    woods.server.version = "another0"
    woods.server.start()
    woods.network.faults = [LOSE_REQUEST] * 20
    woods.network.up = True
    page.goto(woods.home)
    woods.until(
        "caches.keys().then(k => k.includes('fruitcast-static-another0')"
        f" && !k.includes('{before}'))"
    )
    assert len(woods.queue()) == 1
    woods.network.faults = []
    page.goto(f"{woods.home}/kept")
    woods.settle(0)
    woods.until(
        "caches.open('fruitcast-pages').then(c => c.match('/')).then(p => p.text())"
        ".then(t => t.includes('another0'))"
    )
    woods.network.up = False
    page.goto(woods.home)
    page.get_by_text("No signal.").wait_for()
    fits(page)
    assert page.evaluate("getComputedStyle(document.body).display") == "flex"


def test_over_plain_http_the_page_works_as_it_always_did(woods):
    page = woods.page
    told: list[str] = []
    page.on("pageerror", lambda error: told.append(str(error)))
    home = f"http://{NAME}:{woods.network.port}"
    page.goto(f"{home}/kept")
    page.get_by_text("browsers allow that only over HTTPS").wait_for()
    fits(page)
    accessible(page)
    page.goto(f"{home}/record/pins")
    page.get_by_label("A", exact=True).check()
    tap(page, "Write it down")
    page.get_by_text("Saw pins on A").first.wait_for()
    assert page.evaluate("'serviceWorker' in navigator") is False
    assert told == [] and len(entries(woods.folder)) == 1


def test_without_scripts_all_else_works(woods, chromium, tmp_path):
    plain = chromium.launch_persistent_context(
        str(tmp_path / "plain"),
        executable_path=CHROMIUM,
        args=ARGUMENTS,
        java_script_enabled=False,
        **AS_PHONE,
    )
    try:
        page = plain.new_page()
        page.goto(f"{woods.home}/kept")
        assert "This part needs scripts in the browser." in page.content()
        page.goto(f"{woods.home}/record/pins")
        page.get_by_label("A", exact=True).check()
        tap(page, "Write it down")
        page.get_by_text("Saw pins on A").first.wait_for()
    finally:
        plain.close()


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="looks for the browser among the processes")
def test_what_the_phone_said_it_has_outlives_an_empty_battery(woods):
    woods.page.goto(woods.home)
    woods.keep()
    woods.network.up = False
    count = 8
    for number in range(count):
        woods.write("words", words=f"note day {number}")
        assert len(woods.queue()) == number + 1
        woods.run_flat()
        woods.switch_on()
        woods.page.goto(f"{woods.home}/kept")
    woods.network.up = True
    woods.page.goto(f"{woods.home}/kept")
    woods.settle(0)
    assert [event.note for event in entries(woods.folder)] == [f"day {n}" for n in range(count)]


@pytest.mark.long
def test_two_hundred_records_over_a_network_that_dies_at_random(mortal):
    import random

    chance = random.Random(20)
    woods, page = mortal, mortal.page
    woods.keep()
    woods.network.up = False
    count = 200
    for number in range(count):
        page.evaluate(
            """number => waiting.add({uuid: crypto.randomUUID(), form: "words", stacks: [],
                fields: "words=note+day+" + number, told: "", yes: [], state: "", reasons: [],
                tried: false, made: Date.now() - 1000 * (1000 - number),
                yard: document.body.dataset.yard})""",
            number,
        )
    woods.network.up = True
    rounds = 0
    while woods.queue():
        rounds += 1
        assert rounds < 2000
        woods.network.faults = [
            chance.choice(["", "", LOSE_REQUEST, HALF, LOSE_ANSWER, HALF_ANSWER]) for _ in range(4)
        ]
        if rounds % 7 == 0:
            woods.server.kill()
            woods.server.start()
        page.evaluate("waiting.know('reach', {})")
        woods.send()
        woods.until(
            "Promise.all([waiting.fact('reach'), waiting.all()])"
            ".then(([r, q]) => r.is === 'out' || !q.length)"
        )
    notes = [event.note for event in entries(woods.folder)]
    assert notes == [f"day {number}" for number in range(count)]
    print("rounds", rounds, "posts", woods.network.posts)
