"""The page on which lots are shown and taken."""

from __future__ import annotations

from pathlib import Path

import pytest

from fruitcast.diary.book import read_events
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.yard.reading import read_yard
from tests.outputs.sample_plan import TODAY, plan
from tests.web.sites import Visitor, forms_of, publish_site, write_site

PROPOSED = [
    {"stack": "C", "logs": 30, "flush_kg": 6.0, "lots": [15, 15]},
    {"stack": "A", "logs": 24, "flush_kg": 4.5, "lots": [12, 12]},
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = write_site(tmp_path / "yard")
    publish_site(made, plan(lots=PROPOSED, usual_week_kg=4.0))
    return made


def taken(folder: Path) -> list[tuple[str, str]]:
    return [(e.stack, e.into) for e in read_events(folder / "diary.db") if e.kind == "lots"]


def test_the_first_page_leads_to_lots_that_would_suit(visitor: Visitor) -> None:
    text = visitor.open("/")
    assert "Lots would suit your outlets: a flush of C, A is more than they take." in text
    assert 'href="/lots"' in visitor.html


def test_lots_are_shown_with_what_they_give_and_taken_by_a_button(
    visitor: Visitor, folder: Path
) -> None:
    text = visitor.open("/lots")
    assert "C, 30 logs: one flush gives 13.2 lb. In lots, 2 of 15 logs, each gives 6.6 lb." in text
    assert "Your outlets want 8.8 lb in a usual week" in text
    assert "Nothing is to be done in the yard today" in text
    assert taken(folder) == []
    text = visitor.send()
    assert taken(folder) == [("C", "2"), ("A", "2")]
    # What was written stands on the first page, and can be undone there.
    assert "Written down: C to be soaked in 2 lots" in text
    state = read_yard_state(read_yard(folder), TODAY)
    assert {"A/1", "A/2", "C/1", "C/2"} <= set(state.stacks)
    assert "would suit your outlets" not in visitor.open("/")
    assert "No stack bears too much at once" in visitor.open("/lots")


def test_what_was_taken_can_be_undone_from_the_first_page(visitor: Visitor, folder: Path) -> None:
    visitor.open("/lots")
    visitor.send()
    undo = next(n for n, (action, _) in enumerate(forms_of(visitor.html)) if action == "/undo")
    visitor.send(form=undo)
    assert "A" in read_yard_state(read_yard(folder), TODAY).stacks
    assert "C, 30 logs" in visitor.open("/lots")


def test_a_form_handed_in_twice_writes_once(visitor: Visitor, folder: Path) -> None:
    visitor.open("/lots")
    action, given = forms_of(visitor.html)[-1]
    visitor.post(action, given)
    visitor.post(action, given)
    assert taken(folder) == [("C", "2"), ("A", "2")]
    assert "Written down: C to be soaked in 2 lots" in visitor.text
    # Another form of the same page, left open meanwhile, is told.
    visitor.post(action, [(k, v if k != "uuid" else f"{v[:-4]}0000") for k, v in given])
    assert "not proposed any more" in visitor.text and visitor.status == 422
    assert taken(folder) == [("C", "2"), ("A", "2")]


@pytest.mark.parametrize("lots", [[], ["3 C"], ["2 B"], ["2 C", "9 A"], ["C"]])
def test_only_what_is_proposed_is_taken(visitor: Visitor, folder: Path, lots: list[str]) -> None:
    visitor.open("/lots")
    visitor.send(lots=lots)
    assert visitor.status == 422 and "not proposed any more" in visitor.text
    assert taken(folder) == []


def test_without_a_right_mark_nothing_is_taken(visitor: Visitor, folder: Path) -> None:
    visitor.open("/lots")
    visitor.send(uuid="nonsense")
    assert visitor.status == 422
    assert taken(folder) == []


def test_where_the_settings_say_how_to_soak_none_are_proposed(
    visitor: Visitor, folder: Path
) -> None:
    settings = folder / "yard.toml"
    settings.write_text(
        settings.read_text().replace("tank_logs = 60", "tank_logs = 60\nlot_logs = 18")
    )
    assert "No stack bears too much at once" in visitor.open("/lots")
