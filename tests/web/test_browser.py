"""A week on the phone in a real browser: every page, every record, by tap, key and without scripts.

The yard is a few of the sample yard's stacks and few weather years, so that planning takes no
time. The week is gone through each time; .ci/run does all the rest, as among the long tests.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from fruitcast.app.publication import last_plan
from fruitcast.app.serving import Clock
from fruitcast.diary.book import read_events
from fruitcast.diary.events import in_force
from fruitcast.units import KG_PER_LB
from fruitcast.web.access import AccessFile
from fruitcast.web.planner import Planner
from fruitcast.words import day_words
from fruitcast.yard.reading import read_yard
from tests.requires import need, need_node_module, need_program
from tests.web.quick_planning import quick_planning
from tests.web.serving import Serving
from tests.web.sites import PASSPHRASE, Now, make_app
from tests.yards import PHONE as STACKS
from tests.yards import write_yard

need("playwright.sync_api")
need_program("chromium")
AXE = (need_node_module("axe-core") / "axe.min.js").read_text(encoding="utf-8")

PHONE = {"width": 360, "height": 740}
MONDAY = date(2027, 5, 3)


class Yard:
    """The yard with its server and planning, and a clock that the test moves."""

    def __init__(
        self, folder: Path, units: str = "us", passphrase: str = "", plans: bool = True
    ) -> None:
        self.folder = write_yard(folder, STACKS, 5)
        self.now = Now()
        self._fill(units)
        if passphrase:
            AccessFile(self.folder).set_passphrase(passphrase)
        clock = Clock(self.now)
        self.planner = Planner(self.folder, clock)
        app = make_app(self.folder, clock, planner=self.planner if plans else None)
        self._server = Serving(app)
        self.page = self._server.page
        if plans:
            self.planner.start()

    def _fill(self, units: str) -> None:
        settings = self.folder / "yard.toml"
        text = settings.read_text().replace('units = "us"', f'units = "{units}"')
        settings.write_text(text.replace("target_lb = 8", "target_lb = 40"))
        days = (MONDAY + timedelta(days=number) for number in range(120))
        with (self.folder / "weather.csv").open("a") as weather:
            weather.writelines(f"{day},9,19,1.2\n" for day in days)

    def entries(self) -> list[Any]:
        return in_force(read_events(self.folder / "diary.db"))

    def plan(self) -> Any:
        return last_plan(read_yard(self.folder), MONDAY)

    def settle(self) -> None:
        end = time.monotonic() + 60
        while self.planner.progress.behind or not self.planner.progress.made:
            assert time.monotonic() < end
            time.sleep(0.02)

    def close(self) -> None:
        self.planner.close()
        self._server.close()


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    with quick_planning("tests.web.planning_once"):
        yield


@pytest.fixture(scope="module")
def yard(tmp_path_factory) -> Iterator[Yard]:
    there = Yard(tmp_path_factory.mktemp("phone") / "yard")
    there.settle()
    yield there
    there.close()


@pytest.fixture(scope="module")
def phone(browser, yard):
    """Return a page on which one thing is done after the other; a new phone costs a second."""
    yield from _page(browser)


def _page(browser: Any, **options: Any) -> Iterator[Any]:
    """Yield a page of a fresh phone, and look afterwards that its console stayed empty."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, **options)
    page = context.new_page()
    page.set_default_timeout(20_000)
    messages: list[str] = []
    page.on("console", lambda message: messages.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: messages.append(f"error: {error}"))
    yield page
    context.close()
    # A form that is shown again has the status 422, which the browser itself tells.
    told = [m for m in messages if m.startswith(("error", "warning")) and "422" not in m]
    assert told == []


def fits(page: Any) -> None:
    """Look that nothing is wider than the screen and that what is tapped is large enough."""
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    small = page.evaluate(
        """() => [...document.querySelectorAll("a.button, button, .bar a, summary, select, "
            + "label.tile, label.line, input:not([type=hidden], [type=radio], [type=checkbox])")]
            .filter(e => e.getClientRects().length)
            .map(e => [e.textContent.trim() || e.id, e.getBoundingClientRect()])
            .filter(([, box]) => box.height < 48 || box.width < 48)
            .map(([name]) => name)"""
    )
    assert small == []


def accessible(page: Any) -> None:
    """Look that the checker finds nothing of weight."""
    page.evaluate(AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    grave = [
        f"{rule['id']} ({rule['impact']}): {[node['html'] for node in rule['nodes']]}"
        for rule in found["violations"]
        if rule["impact"] in ("serious", "critical", "moderate")
    ]
    assert grave == [], page.url


def tap(page: Any, name: str, role: str = "button") -> None:
    page.get_by_role(role, name=name, exact=True).first.tap()


def open_first_page(page: Any, yard: Yard) -> None:
    """Open the first page and wait until it has shown the plan of the day by itself."""
    page.goto(yard.page)
    page.locator("#planning").wait_for(state="detached")


def see_new_plan(page: Any) -> str:
    """Wait until the page has shown the new plan by itself, and return what has changed."""
    page.locator("#planning").wait_for(state="detached")
    page.get_by_text("New plan.", exact=False).wait_for()
    return str(page.get_by_role("region", name="New plan").inner_text())


def test_a_week_on_the_phone(yard, phone):
    phone.goto(yard.page)
    assert phone.get_by_role("heading", name="Today, Mon 3 May").is_visible()
    fits(phone)
    accessible(phone)

    # On the day of the next soak it is soaked as planned, in two taps.
    soak_on = min(soak.soak_on for soak in yard.plan().soaks)
    yard.now.later(days=(soak_on - MONDAY).days)
    open_first_page(phone, yard)
    assert phone.get_by_role("heading", name=f"Today, {day_words(soak_on)}").is_visible()
    jobs = phone.get_by_role("heading", level=3).all_inner_texts()
    stack = next(re.match(r"Soak (\S+) \(", job)[1] for job in jobs if job.startswith("Soak "))
    tap(phone, "Soaked as planned", "link")
    assert f"of {stack} into the tank on {day_words(soak_on)} 2027" in phone.inner_text("main")
    accessible(phone)
    tap(phone, "Write it down")
    phone.get_by_text("Written down:").wait_for()
    assert re.search(rf"^{stack}: (next soak|no soak planned)", see_new_plan(phone), re.MULTILINE)
    assert [(e.kind, e.stack) for e in yard.entries()][-1] == ("soak", stack)
    assert f"Done: Soaked {stack}" in " ".join(phone.inner_text("main").split())
    fits(phone)
    accessible(phone)

    # The pull, on its day.
    for _ in range(3):
        if phone.get_by_role("link", name="Pulled as planned").count():
            break
        yard.now.later(days=1)
        open_first_page(phone, yard)
    tap(phone, "Pulled as planned", "link")
    tap(phone, "Write it down")
    phone.get_by_text(f"Pulled {stack} from the tank").first.wait_for()
    see_new_plan(phone)

    # Two picks; the second is a slip, asked about, written all the same, and undone.
    for pounds, asked in (("2", False), ("60", True)):
        tap(phone, "Record", "link")
        tap(phone, "Picked", "link")
        phone.get_by_label("A", exact=True).tap()
        phone.get_by_label("lb").fill(pounds)
        fits(phone)
        tap(phone, "Write it down")
        if asked:
            phone.get_by_role("heading", name="Is this right?").wait_for()
            accessible(phone)
            tap(phone, "Yes, write it down")
        phone.get_by_text(f"Picked {pounds} lb from A").first.wait_for()
        see_new_plan(phone)
    picks = [round(e.kg / KG_PER_LB) for e in yard.entries() if e.kind == "pick"]
    assert picks[-2:] == [2, 60]
    phone.get_by_role("status", name="Just written").get_by_role("button").tap()
    phone.get_by_text("Cancelled: Picked 60 lb from A").first.wait_for()
    see_new_plan(phone)
    assert round([e for e in yard.entries() if e.kind == "pick"][-1].kg / KG_PER_LB) == 2
    yard.settle()

    # The calendar knows of it.
    tap(phone, "More", "link")
    tap(phone, "Calendar on your phone", "link")
    assert phone.get_by_role("link", name="Subscribe").get_attribute("href").startswith("webcal://")
    assert phone.get_by_role("img", name="QR code of the calendar's address").is_visible()
    address = phone.get_by_label("Or copy this address into your calendar program").input_value()
    answer = phone.request.get(address)
    feed = answer.text().replace("\r\n ", "")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert f"SUMMARY:Soaked {stack} " in feed and f"SUMMARY:Pulled {stack} " in feed
    fits(phone)
    accessible(phone)


PAGES = (
    *("/", "/record/pick", "/record/words", "/stacks", "/supply", "/diary", "/calendar"),
    *("/change/soaking", "/season", "/what-if"),
    *(
        "/record",
        "/more",
        "/change",
        "/change/outlet/0",
        "/weather",
        "/sales",
        "/foretold",
        "/kept",
    ),
    "/inoculation/batch?strain_class=wide-range&tree=red+oak&logs=30",
    *("/record/soak", "/record/water", "/record/rain", "/record/lines", "/about", "/change/yard"),
    *("/change/care", "/change/numbers", "/change/order/new", "/change/stack?name=A"),
    *("/change/earlier", "/season?mark=0", "/trace?from=2025-01-01", "/diary?find=soak"),
    *("/inoculation", "/report", "/try?stack=A", "/lots"),
)


@pytest.mark.long
@pytest.mark.parametrize("path", PAGES)
def test_every_page_fits_the_phone_and_is_accessible(yard, phone, path):
    phone.goto(yard.page + path)
    phone.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true })")
    fits(phone)
    accessible(phone)


@pytest.mark.long
def test_what_is_wrong_in_a_form_is_accessible(yard, phone):
    phone.goto(f"{yard.page}/record/pick")
    with phone.expect_navigation():
        tap(phone, "Write it down")
    assert phone.title().startswith("Not yet")
    accessible(phone)


@pytest.mark.long
def test_it_all_works_without_scripts(browser, yard):
    for page in _page(browser, java_script_enabled=False):
        page.goto(f"{yard.page}/record/pins")
        page.get_by_label("B", exact=True).tap()
        tap(page, "Write it down")
        page.get_by_text("Saw pins on B").first.wait_for()
        # The page looks again by itself until the plan is there.
        page.get_by_text("Planning with what is known now").wait_for(state="detached")
        page.get_by_text("New plan. Every next soak is as it was.").or_(
            page.get_by_text("New plan. What has changed:")
        ).wait_for()
        tap(page, "Undo")
        page.get_by_text("Cancelled: Saw pins on B").first.wait_for()
    yard.settle()


@pytest.mark.long
def test_the_yard_is_changed_and_put_back_on_the_phone(yard, phone):
    before = (yard.folder / "yard.toml").read_bytes()
    phone.goto(f"{yard.page}/more")
    tap(phone, "Change stacks, markets, days and settings", "link")
    tap(phone, "Soaking: days, tank, hours", "link")
    phone.get_by_label("Logs that fit the tank at one time").fill("0")
    tap(phone, "Save")
    phone.get_by_text("Nothing was changed yet.").wait_for()
    fits(phone)
    accessible(phone)
    phone.get_by_label("Logs that fit the tank at one time").fill("44")
    phone.get_by_label("Mon", exact=True).tap()
    tap(phone, "Save")
    phone.get_by_text("Changed.").wait_for()
    fits(phone)
    accessible(phone)
    soaking = read_yard(yard.folder).soaking
    assert soaking.tank_logs == 44 and 0 in soaking.days
    tap(phone, "Put it back as it was")
    phone.get_by_text("Changed.").wait_for()
    assert (yard.folder / "yard.toml").read_bytes() == before
    yard.settle()


FOCUSED = """(() => {
    const focused = document.activeElement, style = getComputedStyle(focused);
    const name = focused.name || focused.textContent.trim();
    return [name, style.outlineStyle, parseFloat(style.outlineWidth)];
})()"""


@pytest.mark.long
def test_the_keyboard_reaches_everything(yard, phone):
    phone.goto(f"{yard.page}/record/pins")
    phone.keyboard.press("Tab")
    assert phone.evaluate("document.activeElement.className") == "skip"
    phone.keyboard.press("Enter")
    phone.keyboard.press("Tab")
    phone.keyboard.press("Space")
    reached = []
    while not reached or reached[-1][0] != "Write it down":
        assert len(reached) < 20, reached
        reached.append(phone.evaluate(FOCUSED))
        phone.keyboard.press("Tab")
    phone.keyboard.press("Shift+Tab")
    assert all(style == "solid" and width >= 3 for _, style, width in reached), reached
    order = list(dict.fromkeys(name for name, _, _ in reached))
    assert order == ["stack", "day", "other_day", "note", "Write it down"]
    phone.keyboard.press("Enter")
    phone.get_by_text("Saw pins on A").first.wait_for()
    yard.settle()


@pytest.mark.long
def test_signing_in_on_the_phone_in_a_metric_yard(browser, tmp_path):
    there = Yard(tmp_path / "yard", units="metric", passphrase=PASSPHRASE, plans=False)
    try:
        for page in _page(browser):
            page.goto(f"{there.page}/record/pick")
            assert page.title() == "Sign in"
            fits(page)
            accessible(page)
            page.get_by_label("Passphrase").fill(PASSPHRASE)
            tap(page, "Sign in")
            page.get_by_label("A", exact=True).tap()
            page.get_by_label("kg").fill("1,1")
            tap(page, "Write it down")
            page.get_by_text("Picked 1.10 kg from A").first.wait_for()
            assert page.context.cookies()[0]["httpOnly"]
            assert page.context.cookies()[0]["sameSite"] == "Strict"
    finally:
        there.close()
