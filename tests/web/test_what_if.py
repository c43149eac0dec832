"""The page on which other circumstances are tried beside the plan, and kept."""

from __future__ import annotations

import statistics
import time
from datetime import date
from pathlib import Path
from shutil import copytree

import pytest

from fruitcast.yard.reading import read_yard
from tests.web.sites import Visitor, forms_of


@pytest.fixture
def folder(planned: Path, tmp_path: Path) -> Path:
    return copytree(planned, tmp_path / "yard")


def wait(visitor: Visitor) -> str:
    """Wait until the what-if is reckoned, and return the page."""
    end = time.monotonic() + 120
    while visitor.client.get("/what-if/status").json["busy"]:
        assert time.monotonic() < end
        time.sleep(0.05)
    return visitor.open("/what-if")


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in ("yard.toml", "stacks.csv", "diary.db")}


def test_other_circumstances_beside_the_plan_are_kept_or_not(visitor, folder):
    before = bytes_of(folder)
    visitor.open("/what-if")
    outlets = read_yard(folder).outlets
    visitor.send(
        tank="20", **{"target-0": "20 lb", "from": "2027-07-04", "to": "2027-07-10"}, days=["Mon"]
    )
    assert "Stop it" in visitor.text
    # The pages are there meanwhile.
    assert visitor.client.get("/stacks").status_code == 200
    text = wait(visitor)
    assert "As it is What if" in text and f"Sold: {outlets[0].name}" in text
    assert "what if" in visitor.html and '<svg class="supply"' in visitor.html
    assert "Nothing was written" in text and bytes_of(folder) == before
    keep = next(n for n, (to, _) in enumerate(forms_of(visitor.html)) if to == "/what-if/keep")
    action, shown = forms_of(visitor.html)[keep]
    visitor.post(action, [(key, "other" if key == "mark" else value) for key, value in shown])
    assert visitor.status == 422 and "Somebody has tried something else" in visitor.text
    visitor.open("/what-if")
    visitor.send(form=keep)
    assert "Changed." in visitor.text
    yard = read_yard(folder)
    assert yard.soaking.tank_logs == 20 and yard.soaking.days == (0,)
    assert round(yard.outlets[0].target_kg / 0.45359237, 2) == 20
    assert (yard.away[-1].first, yard.away[-1].last) == (date(2027, 7, 4), date(2027, 7, 10))
    visitor.send(form=0)
    assert (folder / "yard.toml").read_bytes() == before["yard.toml"]


@pytest.mark.long  # two reckonings one after the other
def test_only_what_was_shown_is_kept_and_an_old_trial_says_so(visitor, folder):
    visitor.open("/what-if")
    visitor.send(tank="20")
    wait(visitor)
    action, shown = next(form for form in forms_of(visitor.html) if form[0] == "/what-if/keep")
    # Meanwhile somebody else tries a larger tank.
    other = Visitor(visitor.client.application)
    other.open("/what-if")
    other.send(tank="90")
    wait(other)
    visitor.post(action, shown)
    assert visitor.status == 422 and "Somebody has tried something else" in visitor.text
    assert read_yard(folder).soaking.tank_logs not in (20, 90)
    # What was tried before the yard changed is called so; once kept it is gone.
    assert "The yard has changed since" not in other.text
    other.open("/change/care")
    other.send(**{"cold_store.days": "9"})
    assert "The yard has changed since" in other.open("/what-if")
    keep = next(n for n, (to, _) in enumerate(forms_of(other.html)) if to == "/what-if/keep")
    other.send(form=keep)
    assert read_yard(folder).soaking.tank_logs == 90
    assert "As it is" not in other.open("/what-if")


@pytest.mark.long  # a reckoning for each limit
def test_a_little_more_of_each(visitor):
    visitor.open("/what-if")
    visitor.send("worth")
    text = wait(visitor)
    assert "A little more of each" in text and "One more place in the tank" in text
    assert "Keep it" not in text


def test_it_can_be_stopped(visitor):
    visitor.open("/what-if")
    visitor.send(tank="20")
    visitor.send(form=0)
    assert "It was stopped." in visitor.text and "Try it beside the plan" in visitor.text
    assert visitor.client.get("/what-if/status").json["busy"] is False


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "Change something first."),
        ({"tank": "many"}, "'many' is no number of logs"),
        ({"tank": "0"}, "'0' is no number of logs"),
        ({"target-0": "a lot"}, "a lot"),
        ({"from": "2027-07-10", "to": "2027-07-04"}, "lies before the first"),
        ({"from": "soon"}, "write both like"),
    ],
)
def test_what_cannot_be_read_is_told(visitor, fields, told):
    visitor.open("/what-if")
    visitor.send(**fields)
    assert visitor.status == 422 and told in visitor.text


@pytest.mark.benchmark
def test_the_pages_stay_quick_meanwhile(visitor):
    visitor.open("/what-if")
    visitor.send("worth")
    took = []
    for _ in range(30):
        began = time.perf_counter()
        assert visitor.client.get("/stacks").status_code == 200
        took.append(time.perf_counter() - began)
    print(f"\nmedian {1000 * statistics.median(took):.0f} ms, longest {1000 * max(took):.0f} ms")
    assert visitor.client.get("/what-if/status").status_code == 200
