"""The report in a real browser: phone and paper, nothing cut, nothing overlapping, no network."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.reporting import Reported, write_report
from tests.browsers import one_browser
from tests.cli.running import change
from tests.requires import need, need_node_module, need_program

# .ci/run does these; what the report says is in test_page and test_figures.
pytestmark = pytest.mark.long

need("playwright.sync_api")
need_program("chromium")

PHONE = {"width": 360, "height": 740}

LAYOUT = """() => {
  const shown = [...document.querySelectorAll('svg.plot')].filter(svg => svg.clientWidth);
  const box = node => { const b = node.getBoundingClientRect();
    return {l: b.left, t: b.top, r: b.right, b: b.bottom, words: node.textContent.trim()}; };
  const cut = [], over = [], small = [];
  for (const svg of shown) {
    const frame = box(svg);
    const texts = [...svg.querySelectorAll('text')].map(box).filter(t => t.words);
    for (const t of texts) {
      if (t.l < frame.l - 1 || t.r > frame.r + 1 || t.t < frame.t - 1 || t.b > frame.b + 1)
        cut.push(svg.getAttribute('aria-label') + ': ' + t.words);
      if (Math.min(t.r - t.l, t.b - t.t) < 7) small.push(t.words);
    }
    texts.forEach((a, i) => texts.slice(i + 1).forEach(b => {
      const wide = Math.min(a.r, b.r) - Math.max(a.l, b.l);
      const high = Math.min(a.b, b.b) - Math.max(a.t, b.t);
      if (wide > 0.5 && high > 2) over.push(a.words + ' / ' + b.words);
    }));
  }
  return {figures: shown.length, cut, over, small: small.filter(w => w.length > 1),
          wide: document.documentElement.scrollWidth};
}"""

OPEN = "document.querySelectorAll('details').forEach(d => d.open = true)"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with one_browser() as chromium:
        yield chromium


@pytest.fixture
def opened(browser: Any, reported: Reported) -> Iterator[Any]:
    """The sample yard's report on a phone; whatever the browser complains of fails the test."""
    page = browser.new_page(viewport=PHONE)
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "request",
        lambda request: (
            None if request.url.startswith(("file:", "data:")) else complaints.append(request.url)
        ),
    )
    page.goto(reported.file.as_uri())
    yield page
    page.close()
    assert complaints == []


def check(layout: dict[str, Any], width: int) -> None:
    assert layout["wide"] <= width
    assert (layout["cut"], layout["over"], layout["small"]) == ([], [], [])


def test_nothing_is_cut_or_overlaps_on_a_screen(opened: Any, reported: Reported):
    (panels,) = (figure.panels for figure in reported.page.figures if figure.panels)
    for width in (320, 360, 768, 1280):
        opened.set_viewport_size({"width": width, "height": 740})
        layout = opened.evaluate(LAYOUT)
        check(layout, width)
        assert layout["figures"] == 5 + len(panels) > 5
    # Open tables scroll inside their frames.
    opened.set_viewport_size(PHONE)
    opened.evaluate(OPEN)
    assert opened.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_nothing_is_cut_or_overlaps_on_paper_and_open_tables_are_printed(opened: Any):
    opened.emulate_media(media="print")
    few = {}
    for paper, width in (("A4", 703), ("Letter", 725)):
        opened.set_viewport_size({"width": width, "height": 900})
        check(opened.evaluate(LAYOUT), width)
        few[paper] = _pages(opened.pdf(format=paper))
        assert 3 <= few[paper] <= 5
    opened.evaluate(OPEN)
    assert _pages(opened.pdf(format="A4")) > few["A4"] + 4


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def test_boxes_tick_and_blanks_take_weights(opened: Any):
    box = opened.locator("input[type=checkbox]").first
    box.check()
    assert box.is_checked()
    blank = opened.get_by_label(re.compile("picked on Sun 9 May")).first
    blank.fill("1.2")
    assert blank.input_value() == "1.2"


def test_axe_finds_nothing_to_complain_of(browser: Any, reported: Reported):
    """Rules of WCAG 2.2 up to AA; the page's own policy forbids scripts, so it is set aside."""
    axe = (need_node_module("axe-core") / "axe.min.js").read_text(encoding="utf-8")
    context = browser.new_context(viewport=PHONE, bypass_csp=True)
    page = context.new_page()
    page.goto(reported.file.as_uri())
    page.evaluate("document.querySelector('#season0 details').open = true")
    page.evaluate(axe)
    found = page.evaluate("axe.run()")
    assert found["passes"]
    assert [f"{v['id']}: {v['nodes'][0]['html']}" for v in found["violations"]] == []
    context.close()


def test_long_names_and_metric_units_fit_too(browser: Any, small: Path):
    name = "A very long name of an outlet, longer than any heading has room for, in the valley"
    change(small / "yard.toml", '"Village shop"', f'"{name}"')
    change(small / "yard.toml", 'units = "us"', 'units = "metric"')
    change(small / "stacks.csv", "\nA,", "\nthe stack beside the old wall by the spring,")
    written = write_report(small, TODAY)
    page = browser.new_page(viewport=PHONE)
    page.goto(written.file.as_uri())
    check(page.evaluate(LAYOUT), PHONE["width"])
    page.close()
