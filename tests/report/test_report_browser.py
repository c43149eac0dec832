"""The report in a real browser: phone and paper, nothing cut, nothing overlapping, no network."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.reporting import Reported, write_report
from tests.cli.running import change
from tests.requires import need, need_node_module, need_program

sync_api = need("playwright.sync_api")
CHROMIUM = need_program("chromium")

ARGUMENTS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage"),
)
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


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_api.sync_playwright() as play:
        found = play.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        yield found
        found.close()


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


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_nothing_is_cut_or_overlaps_on_a_screen(opened: Any, reported: Reported, width: int):
    opened.set_viewport_size({"width": width, "height": 740})
    layout = opened.evaluate(LAYOUT)
    check(layout, width)
    (panels,) = (figure.panels for figure in reported.page.figures if figure.panels)
    assert layout["figures"] == 5 + len(panels) > 5


@pytest.mark.parametrize(("paper", "width"), [("A4", 703), ("Letter", 725)])
def test_nothing_is_cut_or_overlaps_on_paper(opened: Any, paper: str, width: int):
    opened.emulate_media(media="print")
    opened.set_viewport_size({"width": width, "height": 900})
    check(opened.evaluate(LAYOUT), width)
    pages = _pages(opened.pdf(format=paper))
    assert 3 <= pages <= 5


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def test_open_tables_are_printed_and_closed_ones_are_not(opened: Any):
    few = _pages(opened.pdf(format="A4"))
    opened.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    many = _pages(opened.pdf(format="A4"))
    assert many > few + 4


def test_open_tables_scroll_inside_their_frames_on_a_phone(opened: Any):
    opened.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert opened.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


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
