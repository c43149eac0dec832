"""From an empty folder to the first plan in a real browser, on the phone and on a desk."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fruitcast.app.demo import sample_folder
from fruitcast.app.publication import last_plan
from fruitcast.app.serving import Clock
from fruitcast.web.planner import Planner
from fruitcast.yard.reading import read_yard
from tests.web.quick_planning import quick_planning
from tests.web.serving import Serving
from tests.web.sites import Now, make_app
from tests.web.test_browser import MONDAY, PHONE, accessible, fits

# .ci/run does these; what the server does with the taps is in test_beginning.
pytestmark = pytest.mark.long

DESK = {"width": 1280, "height": 800}
PASTED = (
    "A\t12\tred oak\t5\t40\t2025-04-01\tplug\twide-range\n"
    "B\t10\tsugar maple\t4.5\t40\t2025-04-01\tsawdust\tcold-weather\n"
)


class Site:
    """A server in an empty folder; it plans unless nothing is to be planned."""

    def __init__(self, folder: Path, plans: bool = True) -> None:
        folder.mkdir()
        self.folder = folder
        clock = Clock(Now())
        self.planner = Planner(folder, clock, offline=True)
        self._app = make_app(folder, clock, planner=self.planner)
        self._server = Serving(self._app)
        self.page = self._server.page
        if plans:
            self.planner.start()

    def close(self) -> None:
        self.planner.close()
        self._app.extensions["demo"].close()
        self._server.close()


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    with quick_planning("tests.web.planning_once"):
        there = Site(tmp_path / "yard")
        yield there
        there.close()


@pytest.fixture
def still(tmp_path: Path) -> Iterator[Site]:
    there = Site(tmp_path / "yard", plans=False)
    yield there
    there.close()


class Hand:
    """Someone who taps and types, and counts it."""

    def __init__(self, page: Any, phone: bool) -> None:
        self.page, self.taps, self.typed, self._phone = page, 0, 0, phone

    def tap(self, name: str, role: str = "button") -> None:
        target = self.page.get_by_role(role, name=name, exact=True).first
        with self.page.expect_navigation():
            target.tap() if self._phone else target.click()
        self.taps += 1

    def write(self, label: str, text: str) -> None:
        self.page.get_by_label(label).first.fill(text)
        self.typed += 1


@pytest.mark.parametrize(
    ("size", "scripts"), [(PHONE, True), (PHONE, False), (DESK, True), (DESK, False)]
)
def test_from_an_empty_folder_to_the_first_plan(browser, site, size, scripts):
    context = browser.new_context(
        viewport=size, has_touch=size is PHONE, is_mobile=size is PHONE, java_script_enabled=scripts
    )
    page = context.new_page()
    page.set_default_timeout(30_000)
    hand, began = Hand(page, size is PHONE), time.monotonic()

    def look() -> None:
        if scripts and size is PHONE:
            fits(page)
            accessible(page)

    page.goto(site.page)
    look()
    hand.tap("Begin your yard", "link")
    hand.write("What is it called?", "Fern Gully")
    hand.write("Where is it?", "42.6, -73.4")
    look()
    hand.tap("Next")
    page.get_by_label("Or a file of your own").set_input_files(sample_folder() / "weather.csv")
    hand.taps += 2
    look()
    hand.tap("Next")
    page.get_by_text("past years to plan from").wait_for()
    look()
    hand.tap("Next")
    look()
    hand.write("Or paste rows from a spreadsheet", PASTED)
    hand.tap("Next")
    page.get_by_text("2 stacks, 22 logs").wait_for()
    look()
    hand.tap("That is right")
    page.get_by_label("Name").first.fill("Saturday market")
    page.locator("[name=day-0]").select_option("Sat")
    page.get_by_label("Takes each time (lb)").first.fill("2")
    page.get_by_label("Tue", exact=True).check()
    hand.typed, hand.taps = hand.typed + 2, hand.taps + 2
    look()
    hand.tap("Next")
    look()
    hand.tap("Make the yard and its first plan")
    page.get_by_role("heading", name="This week").wait_for()
    page.locator("#planning").wait_for(state="detached")
    page.get_by_role("heading", name="Today, Mon 3 May").wait_for()
    look()
    assert last_plan(read_yard(site.folder), MONDAY) is not None
    print(
        f"\n{size['width']} px, scripts {scripts}: {hand.taps} taps, {hand.typed} fields typed, "
        f"{time.monotonic() - began:.0f} s of the machine"
    )
    context.close()


def test_this_device_says_where_it_is(browser, still):
    context = browser.new_context(
        viewport=PHONE,
        geolocation={"latitude": 42.6123, "longitude": -73.4},
        permissions=["geolocation"],
    )
    page = context.new_page()
    page.goto(f"{still.page}/start/place")
    page.get_by_role("button", name="Take this device's position").click()
    page.get_by_text("Taken from this device.").wait_for()
    assert page.get_by_label("Where is it?").input_value() == "42.612, -73.400"
    context.close()


def test_the_invented_yard_in_two_taps_and_back(browser, site):
    page = browser.new_page(viewport=PHONE)
    page.set_default_timeout(30_000)
    page.goto(site.page)
    page.get_by_role("button", name="Look at an invented yard first").click()
    page.get_by_role("heading", name="Today, Mon 3 May").wait_for()
    assert page.get_by_text("An invented yard, to try out.").is_visible()
    fits(page)
    accessible(page)
    page.get_by_role("button", name="Back to your own").click()
    page.get_by_role("link", name="Begin your yard").wait_for()
    page.close()


def test_the_start_by_keyboard_alone(browser, site):
    page = browser.new_page(viewport=PHONE)
    page.goto(site.page)

    def on(name: str) -> None:
        """Press Tab until something of this name has the focus."""
        for _ in range(40):
            page.keyboard.press("Tab")
            said = page.evaluate(
                "(document.activeElement.labels?.[0]?.textContent || "
                "document.activeElement.textContent || '').trim()"
            )
            if said.startswith(name):
                return
        raise AssertionError(f"{name} is not reached")

    on("Begin your yard")
    page.keyboard.press("Enter")
    page.wait_for_url("**/start/place")
    on("What is it called?")
    page.keyboard.type("Fern Gully")
    on("Where is it?")
    page.keyboard.type("42.6, -73.4")
    for path in ("weather", "stacks", "selling", "ready"):
        on("Next")
        page.keyboard.press("Enter")
        page.wait_for_url(f"**/start/{path}")
    on("Make the yard")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="This week").wait_for()
    assert read_yard(site.folder).name == "Fern Gully"
    page.close()
