"""The pages on how well it was foretold, and of the report to print."""

from __future__ import annotations

import re
import time
from datetime import date
from pathlib import Path
from shutil import copytree

import pytest

from fruitcast.app.demo import TODAY
from fruitcast.app.diary_tables import trace_page, trace_table
from fruitcast.app.publication import how_well_foretold
from fruitcast.app.reporting import report_data
from fruitcast.outputs.evidence_words import foretold_table
from fruitcast.outputs.listing import parts_of
from fruitcast.outputs.report import report_page
from fruitcast.weather.stations import STORED
from tests.diary.lived import live_through
from tests.web.reckoning import trials_here
from tests.web.sites import Visitor, make_app
from tests.yards import small_yard


@pytest.fixture
def folder(planned: Path, tmp_path: Path) -> Path:
    return copytree(planned, tmp_path / "yard")


def test_how_well_it_was_foretold_as_in_the_terminal(tmp_path):
    folder = live_through(small_yard(tmp_path / "yard"))
    visitor = Visitor(make_app(folder))
    visitor.open("/foretold")
    found, units = how_well_foretold(folder, TODAY)
    lines = parts_of(foretold_table(found, units))
    assert any(part.kind == "listing" for part in lines)
    for part in lines:
        if part.kind == "words":
            assert part.words in visitor.text
            continue
        for cells in part.cells:
            assert " ".join(filter(None, cells)) in visitor.text
    assert "Of 6 first picks 5 came on the days told up to a week before; 5 should" in visitor.text


def test_the_trace_sheet_is_printed_from_its_page(visitor, tmp_path):
    visitor.open("/trace?from=2026-01-01&to=2027-05-03")
    assert 'href="/trace/print?from=2026-01-01&amp;to=2027-05-03"' in visitor.html
    answer = visitor.client.get("/trace/print?from=2026-01-01&to=2027-05-03")
    first, last = date(2026, 1, 1), TODAY
    table = trace_table(tmp_path / "yard", TODAY, first, last)
    assert answer.data == trace_page(table, first, last)
    assert "script" not in answer.headers["Content-Security-Policy"]


def test_where_nothing_was_foretold_yet_it_says_so(visitor):
    assert "too few to say how well it foretells" in visitor.open("/foretold")
    assert "fruitcast plan" not in visitor.text


def test_the_report_is_made_in_the_background_and_opened_to_print(visitor, folder, monkeypatch):
    # That drawings are the same each time says `test_page.py`.
    monkeypatch.setattr("fruitcast.outputs.report._drawn", lambda *_, **__: "<svg></svg>")
    visitor.open("/report")
    assert "Open" not in visitor.text
    visitor.open("/report/print", follow_redirects=True)
    assert "Make it" in visitor.text  # there is none yet
    with trials_here() as later:
        visitor.send()
    assert "Stop it" in visitor.text
    assert visitor.client.get("/stacks").status_code == 200  # meanwhile
    later.last.go()
    end = time.monotonic() + 120
    while visitor.client.get("/report/status").json["busy"]:
        assert time.monotonic() < end
        time.sleep(0.02)
    assert "The report of Mon 3 May is ready." in visitor.open("/report")
    answer = visitor.client.get("/report/print", base_url=visitor.origin)
    wanted = report_page(report_data(folder, TODAY, fetching=STORED)).html
    assert answer.data == (folder / "out/report.html").read_bytes() == wanted
    policy = answer.headers["Content-Security-Policy"]
    assert "script" not in policy and "default-src 'none'" in policy and "sandbox" in policy
    body = answer.text.partition("</head>")[2]
    assert not re.search(r"<script|\bon\w+=|https?://(?!www\.w3\.org)", body)
