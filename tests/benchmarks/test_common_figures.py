"""The figures a grower or an adviser feels: start, plan, page, record, hindcast; and the model.

Run with ``pytest -m benchmark``: at the end stands one table, also written to a file. Nothing
here passes or fails on speed.
"""

from __future__ import annotations

import time
from pathlib import Path
from statistics import median, quantiles
from uuid import uuid4

import pytest

from fruitcast.app.demo import write_sample_yard
from tests.benchmarks.figures import Figures
from tests.benchmarks.whole_process import (
    Planned,
    children_of,
    fruitcast,
    on_yard,
    peak_of,
    run,
    spent,
)
from tests.forecast.test_speed import DAYS, whole_model
from tests.web.servers import PlainClient, Running, running

pytestmark = pytest.mark.benchmark

COLUMNS = 3_000
REQUESTS = 200
RECORDS = 3
YEARS = 2


def test_columns_of_the_model(figures: Figures) -> None:
    seconds = min(whole_model(COLUMNS) for _ in range(3))
    name = f"the model: columns of {DAYS} days, of {COLUMNS} at once"
    figures.add(name, COLUMNS / seconds, "columns/s", more_is_better=True)


def test_start_up(figures: Figures) -> None:
    for words in ("--help", "plan --help"):
        figures.add(f"start-up: fruitcast {words}", spent(fruitcast(*words.split())).seconds, "s")


def test_commands_on_the_sample_yard(figures: Figures, planned: Planned) -> None:
    figures.add("sample yard: demo, first plan with its proof", planned.spent.seconds, "s")
    for words, runs in (
        ("plan", 3),
        ("plan --no-bound", 3),
        ("week", 5),
        ("stacks", 3),
        ("report", 3),
    ):
        taken = spent(on_yard(planned.folder, *words.split()), runs=runs)
        figures.add(f"sample yard: {words}", taken.seconds, "s")
        figures.add(f"sample yard: {words}, peak memory", taken.peak, "MB")


def rested(there: Running, client: PlainClient) -> None:
    """Wait until the page says that nothing is being planned and its processes are idle."""
    end = time.monotonic() + 120
    quiet = 0
    used = -1.0
    while quiet < 5:
        assert time.monotonic() < end, "the planning does not come to rest"
        _, data = client.ask("GET", "/status")
        now = sum(_ticks(child) for child in children_of(there.process.pid))
        quiet = quiet + 1 if data.count(b"false") == 2 and now == used else 0
        used = now
        time.sleep(0.3)


def _ticks(process: int) -> float:
    told = Path(f"/proc/{process}/stat").read_text(encoding="utf-8")
    words = told.rpartition(")")[2].split()
    return float(words[11]) + float(words[12])


def test_the_page(figures: Figures, planned: Planned) -> None:
    with running(planned.folder, "--offline") as there:
        client = PlainClient(there.port, keep=True)
        rested(there, client)
        for path, words in (("/", "first page"), ("/supply", "supply"), ("/record/pick", "form")):
            each = []
            for _ in range(REQUESTS):
                started = time.perf_counter()
                answer, _ = client.ask("GET", path)
                each.append(1_000 * (time.perf_counter() - started))
                assert answer.status == 200
            figures.add(f"page: {words}, median", median(each), "ms")
            figures.add(f"page: {words}, 95 % within", quantiles(each, n=20)[-1], "ms")
        until_shown, until_whole = [], []
        for number in range(RECORDS):
            client.ask("GET", "/record/words")
            words = f"note measured {number}"
            started = time.perf_counter()
            assert client.send("/record/words", words=words, uuid=str(uuid4())).status == 303
            shown = 0.0
            while True:
                _, data = client.ask("GET", "/status")
                if b'"busy":false' in data and not shown:
                    shown = time.perf_counter() - started
                if data.count(b"false") == 2:
                    break
                time.sleep(0.02)
            until_shown.append(shown)
            until_whole.append(time.perf_counter() - started)
            rested(there, client)
        figures.add("page: from a record to the new plan", median(until_shown), "s")
        figures.add("page: from a record to all that stands beside it", median(until_whole), "s")
        figures.add("page: server, peak memory", peak_of(there.process.pid), "MB")
        planning = max(peak_of(child) for child in children_of(there.process.pid))
        figures.add("page: planning process, peak memory", planning, "MB")
        client.close()


def test_years_of_hindcast(figures: Figures, tmp_path: Path) -> None:
    folder = write_sample_yard(tmp_path / "yard")
    taken = run(on_yard(folder, "hindcast", "--years", YEARS, "--fresh"))
    name = f"hindcast: sample yard, {YEARS} years of 26 weeks"
    figures.add(name, 60 * YEARS / taken.seconds, "years/min", more_is_better=True)
    figures.add("hindcast: peak memory of one process", taken.peak, "MB")
