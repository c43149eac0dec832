"""The page on which a soak is tried out."""

from __future__ import annotations

from pathlib import Path

import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.planning import plan_yard
from fruitcast.app.serving import Clock
from fruitcast.diary.book import Diary
from fruitcast.diary.entries.word import SEASON
from fruitcast.diary.events import Event
from tests.web.reckoning import moments_here
from tests.web.sites import NOON, Now, Visitor, make_app
from tests.yards import planned_yard, write_yard


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_yard(tmp_path_factory.mktemp("trying") / "yard", "ACEJN", 5)


def test_a_soak_is_tried_and_can_be_fixed_from_there(visitor: Visitor, folder: Path) -> None:
    diary = (folder / "diary.db").read_bytes()
    visitor.open("/try?stack=J&day=2027-05-07&hours=24")
    assert "J (36 logs) in on Fri 7 May for 24 h, out on Sat 8 May" in visitor.text
    assert "Nothing was written" in visitor.text
    assert 'href="/record/words?words=fix+J+2027-05-07+24+h&amp;check=1"' in visitor.html
    assert (folder / "diary.db").read_bytes() == diary


def test_what_a_rule_forbids_is_said_and_no_button_offers_it(visitor: Visitor) -> None:
    with moments_here():
        visitor.open("/try?stack=N&day=2027-05-07")
    assert "N can't be soaked on Fri 7 May" in visitor.text
    assert "fix+N" not in visitor.html


@pytest.mark.parametrize("query", ["stack=Zz&day=2027-05-07", "stack=E&day=2020-05-07"])
def test_what_cannot_be_read_is_told_beside_the_form(visitor: Visitor, query) -> None:
    with moments_here():
        answer = visitor.client.get(f"/try?{query}", base_url=visitor.origin)
    assert answer.status_code == 422
    assert "What would it bring?" in answer.text


def test_each_stack_says_why_it_waits_and_leads_there(visitor: Visitor) -> None:
    visitor.open("/stacks")
    assert "Not this week: spawn run" in visitor.text
    assert 'href="/try?stack=J"' in visitor.html
    visitor.open("/try?stack=J")
    assert '<option value="J" selected>' in visitor.html


def test_what_was_decided_stands_on_the_first_page_with_its_cost(tmp_path: Path) -> None:
    folder = write_yard(tmp_path / "yard", "ACEJN", 5)
    with Diary(folder / "diary.db") as diary:
        diary.add([Event("hold", TODAY, "J", into=SEASON)], NOON)
    plan_yard(folder, TODAY)
    page = Visitor(make_app(folder, now=Clock(Now(), TODAY).now))
    page.open("/")
    assert "As you decided" in page.text
    assert "J: kept out of the tank this season. It costs" in page.text
    assert 'href="/record/words?words=release+J&amp;check=1"' in page.html
