"""Four weeks of a season in a real browser: what the page asks for is done and written down on it.

By tap on the phone and by click on a desk, with scripts and without; by keys alone; and every page
at twice its size.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from contextlib import redirect_stdout
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from fruitcast.cli import main
from fruitcast.words import day_words
from fruitcast.yard.reading import read_yard
from tests.requires import need
from tests.web.quick_planning import quick_planning
from tests.web.test_browser import MONDAY, PHONE, Yard, accessible, fits

sync_api = need("playwright.sync_api")
DESK = {"width": 1280, "height": 800}
AS_PLANNED = ("Soaked as planned", "Pulled as planned", "Watered as advised", "Turned", "Covered")
BATCH = "/inoculation/batch?strain_class=wide-range&tree=red+oak&logs=30"
PAGES = (
    *("/", "/record", "/record/pick", "/record/soak", "/record/lines", "/record/words", "/stacks"),
    *("/supply", "/season", "/season?mark=0", "/diary", "/more", "/about", "/calendar", "/lots"),
    *("/inoculation", BATCH, "/foretold", "/report", "/what-if", "/try?stack=A", "/weather"),
    *("/sales", "/trace?from=2025-01-01", "/change", "/change/soaking", "/change/numbers"),
    *("/change/outlet/0", "/change/stack?name=A", "/change/earlier"),
)


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    with quick_planning():
        there = Yard(tmp_path / "yard")
        there.settle()
        yield there
        there.close()


class Grower:
    """Somebody who does what the page says, and writes it down there."""

    def __init__(self, browser: Any, yard: Yard, size: dict[str, int], scripts: bool) -> None:
        self._phone = size is PHONE
        self._context = browser.new_context(
            viewport=size, has_touch=self._phone, is_mobile=self._phone, java_script_enabled=scripts
        )
        self.page = self._context.new_page()
        self.page.set_default_timeout(60_000)
        self.yard, self.scripts, self.written = yard, scripts, list[str]()
        self.looked: set[str] = set()

    def close(self) -> None:
        self._context.close()

    def press(self, name: str | re.Pattern[str], role: str = "button") -> None:
        target = self.page.get_by_role(role, name=name, exact=isinstance(name, str)).first
        target.tap() if self._phone else target.click()

    def look(self) -> None:
        """Look once at each kind of page that it is accessible and fits."""
        self.page.locator("#planning").wait_for(state="detached")  # it shows itself anew
        path = self.page.url.removeprefix(self.yard.page).partition("?")[0]
        if self.scripts and path not in self.looked:
            self.looked.add(path)
            accessible(self.page)
            if self._phone:
                fits(self.page)

    def go(self, path: str) -> None:
        self.open(path)
        self.look()

    def open(self, path: str) -> None:
        """Open a page, also while the one before is just being shown anew by itself."""
        try:
            self.page.goto(self.yard.page + path)
        except sync_api.Error as error:
            if "ERR_ABORTED" not in str(error):
                raise
            self.page.goto(self.yard.page + path)

    def week(self) -> None:
        """Open the first page and wait for the plan of the day."""
        self.open("/")
        self.page.locator("#planning").wait_for(state="detached")
        self.look()

    def write_down(self) -> None:
        self.press("Write it down")
        yes = self.page.get_by_role("button", name="Yes, write it down")
        self.page.get_by_text("Written down:").or_(yes).first.wait_for()
        if yes.count():
            self.look()
            self.press("Yes, write it down")
        self.page.get_by_text("Written down:").first.wait_for()
        said = self.page.locator("section.good p").all_inner_texts()
        self.written += [each.removeprefix("Written down: ") for each in said]

    def a_day(self, picked: dict[str, list[int]], number: int) -> None:
        """Do what stands for today."""
        self.week()
        for _ in range(8):
            links = self.page.locator(".first .actions a, .day:not(.first) .actions a")
            offered = [text.strip() for text in links.all_inner_texts()]
            planned = next((each for each in AS_PLANNED if each in offered), None)
            ripe = next((each for each in offered if self._ripe(each, picked, number)), None)
            if planned:
                self.press(planned, "link")
            elif ripe:
                picked.setdefault(ripe, []).append(number)
                self.press(ripe, "link")
                self.page.get_by_label("lb", exact=True).fill("1.5")
            else:
                return
            self.look()
            self.write_down()
            self.week()
        raise AssertionError("the page asks for ever more")

    def _ripe(self, offered: str, picked: dict[str, list[int]], number: int) -> bool:
        """Return whether a stack is to be picked: every third day that the page says so."""
        return offered.startswith("Picked ") and number - max(picked.get(offered, [-9])) >= 3


@pytest.mark.long
@pytest.mark.parametrize(
    ("size", "scripts"),
    [
        pytest.param(PHONE, True, id="phone"),
        pytest.param(PHONE, False, id="phone without scripts"),
        pytest.param(DESK, True, id="desk"),
        pytest.param(DESK, False, id="desk without scripts"),
    ],
)
def test_four_weeks_of_a_season(browser, yard, size, scripts):
    grower = Grower(browser, yard, size, scripts)
    page, picked = grower.page, dict[str, list[int]]()
    before, fixed = len(yard.entries()), False
    # It begins some days before the plan's first soak.
    begin = min(soak.soak_on for soak in yard.plan().soaks) - timedelta(days=4)
    yard.now.later(days=(begin - MONDAY).days)
    for number in range(28):
        grower.a_day(picked, number)
        fixed = fixed or fix_a_soak(grower)
        if number == 9:
            keep_a_larger_tank(grower)
        if number == 15:
            add_a_batch(grower)
        yard.settle()
        yard.now.later(days=1)
    yard.now.later(days=-1)
    yard.settle()
    entries = yard.entries()[before:]
    kinds = [entry.kind for entry in entries]
    assert {"soak", "pull", "pick", "fix"} <= set(kinds), kinds
    assert len(entries) == len(grower.written) + 1  # the fix stands beside
    assert [entry.on for entry in entries] == sorted(entry.on for entry in entries)
    # Terminal and page tell the same week.
    grower.week()
    shown = page.locator("article h3").all_inner_texts()
    jobs = sorted(each.removeprefix("Done: ") for each in shown)
    told = io.StringIO()
    today = str(begin + timedelta(days=27))
    with redirect_stdout(told):
        assert main(["--yard", str(yard.folder), "--today", today, "--json", "week"]) == 0
    week = json.loads(told.getvalue())
    assert jobs == sorted(job["what"] for job in week["jobs"])
    for path in ("/season", "/supply", "/stacks", "/diary", "/sales", "/trace", "/foretold"):
        grower.go(path)
        assert page.get_by_role("heading", level=1).is_visible()
    print(f"\n{size['width']} px, scripts {scripts}: {len(entries)} records, {sorted(set(kinds))}")
    grower.close()


def fix_a_soak(grower: Grower) -> bool:
    """Keep a soak of the coming week on its day, where there is one; return whether it was."""
    if not grower.page.get_by_role("link", name="Keep it on this day").count():
        return False
    grower.press("Keep it on this day", "link")
    grower.look()
    grower.press(re.compile("Write it down|Yes, write it down"))
    grower.page.get_by_text("Written down:").first.wait_for()
    grower.week()
    assert grower.page.get_by_role("heading", name="As you decided").is_visible()
    return True


def keep_a_larger_tank(grower: Grower) -> None:
    """Try a larger tank beside the plan, look at it, and keep it."""
    page = grower.page
    grower.go("/what-if")
    page.get_by_label("Logs that fit the tank").fill("70")
    grower.press("Try it beside the plan")
    page.get_by_role("button", name="Keep it: have it so from now on").wait_for()
    assert page.get_by_role("columnheader", name="As it is").is_visible()
    grower.looked.discard("/what-if")
    grower.look()
    assert read_yard(grower.yard.folder).soaking.tank_logs != 70
    grower.press("Keep it: have it so from now on")
    page.get_by_text("Changed.").wait_for()
    grower.look()
    assert read_yard(grower.yard.folder).soaking.tank_logs == 70


def add_a_batch(grower: Grower) -> None:
    """Look at a batch with its drawing, and add it."""
    page = grower.page
    grower.go("/inoculation/batch")
    page.get_by_label("Strain class").select_option("wide-range")
    page.get_by_label("Tree").fill("red oak")
    page.get_by_label("Logs", exact=True).fill("30")
    grower.press("What would it take and give?")
    page.get_by_role("heading", name="The holes, drawn").wait_for()
    grower.looked.discard("/inoculation/batch")
    grower.look()
    page.get_by_label("Name of the new stack").fill("Spring oak")
    grower.press("Add it")
    page.get_by_text("Spring oak: new, 30 logs of red oak").wait_for()
    assert read_yard(grower.yard.folder).stacks[-1].name == "Spring oak"
    grower.week()
    grower.yard.settle()
    grower.go("/stacks")
    assert page.get_by_role("heading", name="Spring oak").is_visible()


FOCUSABLE = """() => [...document.querySelectorAll(
    "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")]
    .filter(e => e.getClientRects().length
        && !e.closest(".skip, details:not([open]) > :not(summary)"))
    .filter(e => e.type !== "radio" || e === [...document.getElementsByName(e.name)]
        .find(r => r.checked) || ![...document.getElementsByName(e.name)].some(r => r.checked)
        && e === document.getElementsByName(e.name)[0])
    .length"""
FOCUSED = """() => {
    const focused = document.activeElement;
    if (focused === document.body) return null;
    const shown = focused.closest("label.tile, label.line") || focused;
    const hit = focused.querySelector?.(".hit");
    const style = getComputedStyle(focused), around = hit ? getComputedStyle(hit) : null;
    focused.dataset.reached = "yes";
    return [focused.outerHTML.slice(0, 120), style.outlineStyle !== "none"
        && parseFloat(style.outlineWidth) >= 2 || !!around && parseFloat(around.strokeWidth) >= 2];
}"""


@pytest.mark.long  # some thousand key strokes; one page by keys is in test_browser
def test_every_page_is_used_by_keys_alone(browser, yard):
    page = browser.new_page(viewport=DESK)
    for path in PAGES:
        page.goto(yard.page + path)
        wanted = page.evaluate(FOCUSABLE)
        unseen = []
        for _ in range(wanted + 60):
            page.keyboard.press("Tab")
            found = page.evaluate(FOCUSED)
            if found is None:
                break
            if not found[1]:
                unseen.append(found[0])
        reached = page.evaluate("document.querySelectorAll('[data-reached]:not(.skip)').length")
        assert unseen == [], path
        assert reached >= wanted, (path, reached, wanted)
    page.close()


@pytest.mark.long  # 34 pages in three sizes
def test_every_page_at_twice_its_size_and_more_needs_no_scrolling_aside(browser, yard):
    # 640 px is a desk at 200 %, 320 px one at 400 %; letters twice as large stand on a phone.
    for width, letters in ((640, "100%"), (320, "100%"), (360, "200%")):
        page = browser.new_page(viewport={"width": width, "height": 640})
        for path in PAGES:
            page.goto(yard.page + path)
            page.evaluate(
                "size => { if (size !== '100%') document.documentElement.style.fontSize = "
                "`${2 * parseFloat(getComputedStyle(document.documentElement).fontSize)}px` }",
                letters,
            )
            page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true })")
            wide = page.evaluate(
                "() => [document.documentElement.scrollWidth, [...document.querySelectorAll("
                "'main *')].filter(e => !e.closest('.wide') && e.getBoundingClientRect().right > "
                "innerWidth + 1).slice(0, 3).map(e => e.outerHTML.slice(0, 80))]"
            )
            assert wide[0] <= width, (path, width, letters, wide)
        page.close()


@pytest.mark.long  # one page by keys is in test_browser
def test_a_batch_is_added_by_keys_alone(browser, yard):
    page = browser.new_page(viewport=PHONE)
    page.goto(f"{yard.page}/inoculation/batch")

    def on(name: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            said = page.evaluate(
                "(document.activeElement.labels?.[0]?.textContent || "
                "document.activeElement.textContent || '').trim()"
            )
            if said.startswith(name):
                return
        raise AssertionError(f"{name} is not reached")

    on("Strain class")
    page.keyboard.type("wide")
    on("Tree")
    page.keyboard.type("red oak")
    on("Logs")
    page.keyboard.type("30")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="The holes, drawn").wait_for()
    on("Name of the new stack")
    page.keyboard.type("Spring oak")
    page.keyboard.press("Enter")
    page.get_by_text("Spring oak: new, 30 logs of red oak").wait_for()
    assert day_words(MONDAY) in page.inner_text("header")
    page.close()
