"""The pages on which logs to inoculate are reckoned, and one batch is drawn and added."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from shutil import copytree

import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.inoculation import BatchWish, Wish, look_at_batch, make_programme
from fruitcast.outputs.inoculation_words import batch_table, programme_table
from fruitcast.outputs.listing import parts_of
from fruitcast.words import count_words
from fruitcast.yard.reading import read_yard
from tests.cli.running import change, done
from tests.inoculation.yards import few_scenarios
from tests.web.reckoning import moments_here, trials_here
from tests.web.sites import Visitor, forms_of
from tests.yards import quick_search

BATCH = {"strain_class": "wide-range", "tree": "red oak", "logs": "50"}


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    with moments_here(), few_scenarios(), quick_search():
        yield


@pytest.fixture
def folder(planned: Path, tmp_path: Path) -> Path:
    return copytree(planned, tmp_path / "yard")


def wait(visitor: Visitor, path: str) -> str:
    """Wait until something is reckoned, and return its page."""
    end = time.monotonic() + 120
    while visitor.client.get(f"{path}/status").json["busy"]:
        assert time.monotonic() < end
        time.sleep(0.02)
    return visitor.open(path)


def agree(visitor: Visitor, table: object) -> None:
    """Look that every word and figure of an answer for the terminal stands on the page."""
    parts = parts_of(table)
    assert parts
    for part in parts:
        if part.kind == "listing":
            for cells in part.cells:
                shown = " ".join(cell for cell in cells if cell)
                assert " ".join(shown.split()) in visitor.text, cells
        else:
            assert part.words in visitor.text


def test_how_many_logs_of_what_as_in_the_terminal(visitor, folder):
    change(folder / "yard.toml", 'to = "10-30"', 'to = "09-30"')
    before = (folder / "stacks.csv").read_bytes()
    visitor.open("/inoculation")
    assert "Saturday market is to have each time" in visitor.text
    with trials_here() as later:
        visitor.send(**{"target-0": "1 lb", "target-1": "0", "years": "1", "chance": "60"})
    assert "Stop it" in visitor.text
    assert visitor.client.get("/stacks").status_code == 200  # meanwhile
    later.last.go()
    text = wait(visitor, "/inoculation")
    assert "In 2027:" in text and (folder / "stacks.csv").read_bytes() == before
    outlets = [outlet.name for outlet in read_yard(folder).outlets]
    wish = Wish((f"{outlets[0]}=1 lb", f"{outlets[1]}=0"), years=1, chance=0.6)
    made = make_programme(folder, TODAY, wish)
    agree(visitor, programme_table(made.document, made.known.yard))
    # Each batch of the first year leads to its page.
    first = [each for each in made.document.inoculate if each.year == 2027]
    entry = max(first, key=lambda each: each.logs)
    assert f"{entry.logs} {entry.strain_class} on {entry.tree}" in text
    href = unescape(re.search(r'href="(/inoculation/batch\?[^"]+)"', visitor.html)[1])
    assert f"{count_words(entry.logs, 'log')} of {entry.tree}" in visitor.open(href)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"target-0": "much"}, "much"),
        ({"years": "90"}, "Years of inoculation: give a number from 1 to 15"),
        ({"chance": "0"}, "Sales to be met in full: give a number from 5 to 99"),
        ({"from": "soon"}, "write a year like 2029"),
        ({"day": "Sun"}, "choose its day of the week, and write what it would take"),
        ({"more": "4 lb"}, "choose its day of the week"),
    ],
)
def test_what_cannot_be_read_is_told(visitor, fields, told):
    visitor.open("/inoculation")
    visitor.send(**fields)
    assert visitor.status == 422 and told in visitor.text


def test_a_yard_that_sells_nothing_says_first_what_it_wants(visitor, folder):
    settings = folder / "yard.toml"
    text = settings.read_text()
    settings.write_text(re.sub(r"\[\[(outlet|order|closed)\]\]\n(?:[^\[].*\n|\n)*", "", text))
    visitor.open("/inoculation")
    assert "What you want each week" in visitor.text
    visitor.send()
    assert visitor.status == 422 and "Choose a day of the week and a weight" in visitor.text
    visitor.send(day="Sat", more="1 lb", years="1")
    assert "Stop it" in visitor.text  # it is being reckoned


def test_a_programme_can_be_stopped(visitor):
    visitor.open("/inoculation")
    visitor.send()
    visitor.send(form=0)
    assert "It was stopped." in visitor.text and "How many logs?" in visitor.text


def test_a_batch_is_seen_as_in_the_terminal_and_drawn(visitor, folder):
    before = {name: (folder / name).read_bytes() for name in ("stacks.csv", "diary.db")}
    visitor.open("/inoculation/batch")
    assert "nothing is added before you say so" in visitor.text
    page = f"/inoculation/batch?{'&'.join(f'{k}={v}' for k, v in BATCH.items())}"
    visitor.open(page)
    seen = look_at_batch(folder, TODAY, BatchWish("wide-range", "red oak", 50))
    agree(visitor, batch_table(seen.document, seen.known.yard))
    assert seen.drawing.strip() in visitor.html  # inside the page
    link = re.search(r'href="(/inoculation/batch/drawing.svg[^"]+)"', visitor.html)[1]
    alone = visitor.client.get(unescape(link), base_url=visitor.origin)
    assert alone.mimetype == "image/svg+xml" and alone.text == seen.drawing
    assert {name: (folder / name).read_bytes() for name in before} == before


def test_a_batch_is_added_as_the_command_adds_it_and_put_back(visitor, folder, tmp_path):
    other = copytree(folder, tmp_path / "other")
    words = ("--batch", "--class", "wide-range", "--tree", "red oak", "--logs", 50)
    done("--yard", other, "--today", TODAY, "inoculation", *words, "--accept", "Spring oak")
    before = (folder / "stacks.csv").read_bytes()
    visitor.open("/inoculation/batch?strain_class=wide-range&tree=red+oak&logs=50")
    visitor.send(form=0, name="Spring oak")
    assert "Spring oak: new, 50 logs of red oak" in visitor.text
    assert (folder / "stacks.csv").read_bytes() == (other / "stacks.csv").read_bytes()
    # After the next plan both have its dates.
    for place in (folder, other):
        done("--yard", place, "--today", TODAY, "plan", "--weeks", 4)
    care = [json.loads((place / "out/plan.json").read_text())["care"] for place in (folder, other)]
    assert care[0] == care[1] and any(each["stack"] == "Spring oak" for each in care[0])
    # Handed in again nothing changes; another batch of the name is refused.
    visitor.open("/inoculation/batch?strain_class=wide-range&tree=red+oak&logs=50")
    visitor.send(form=0, name="Spring oak")
    assert "It says so already" in visitor.text
    visitor.open("/inoculation/batch?strain_class=wide-range&tree=red+oak&logs=60")
    visitor.send(form=0, name="spring OAK")
    assert visitor.status == 422 and "there is a stack" in visitor.text
    visitor.open("/change/earlier")
    visitor.post(*forms_of(visitor.html)[0])
    assert (folder / "stacks.csv").read_bytes() == before


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"logs": "many"}, "'many' is no number of logs"),
        ({"tree": "red oka"}, "The nearest known one is 'red oak'"),
        ({"tree": "pine"}, "is a conifer, and shiitake is grown on hardwoods"),
        ({"diameter": "wide"}, "Diameter over bark: "),
        ({"diameter": "9 m"}, "Diameter over bark: "),
        ({"strain_class": "any"}, "strain class is any"),
        ({"inoculated": "soon"}, "choose a day, or leave it empty"),
        ({"inoculated": "2087-05-01"}, "lies more than 10 years from today"),
        ({"end_distance": "3 m"}, "From the log's end to the first hole: "),
    ],
)
def test_what_is_wrong_with_a_batch_is_told_in_the_words_of_the_form(visitor, fields, told):
    query = "&".join(f"{k}={v}" for k, v in {**BATCH, **fields}.items())
    visitor.open(f"/inoculation/batch?{query}")
    assert visitor.status == 422 and told in visitor.text and "--" not in visitor.text
    assert next(iter(fields.values())) in visitor.html  # to be mended


def test_without_a_name_nothing_is_added(visitor, folder):
    before = (folder / "stacks.csv").read_bytes()
    visitor.open("/inoculation/batch?strain_class=wide-range&tree=red+oak&logs=50")
    visitor.send(form=0, name=" ")
    assert visitor.status == 422 and "What shall it be called?" in visitor.text
    assert (folder / "stacks.csv").read_bytes() == before
