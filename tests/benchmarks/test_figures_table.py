"""The table of figures: what stands in the file, and how two runs compare."""

from __future__ import annotations

import json
import platform
from datetime import UTC, datetime

import pytest

from fruitcast import __version__
from tests.benchmarks.figures import BEFORE, FILE, Figures, machine, read_before, table, write

AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def run_of(**values: float) -> dict:
    figures = Figures()
    for name, value in values.items():
        figures.add(name, value, "1/s" if name == "speed" else "s", more_is_better=name == "speed")
    return figures.document(AT)


def test_a_run_says_what_was_measured_of_what_where_and_when():
    run = run_of(plan=3.25, speed=1200)
    assert run["fruitcast"] == __version__
    assert run["date"] == "2026-11-25T12:00:00+00:00"
    assert run["machine"]["cores"] >= 1 and run["machine"]["memory_gib"] > 0
    assert run["machine"]["processor"]
    assert run["machine"]["python"] == platform.python_version()
    assert run["figures"][0] == {
        "name": "plan",
        "value": 3.25,
        "unit": "s",
        "more_is_better": False,
    }


def test_the_file_named_is_written_and_read_again(tmp_path):
    run = run_of(plan=3.25)
    file = write(run, {FILE: str(tmp_path / "kept" / "run.json")})
    assert json.loads(file.read_text(encoding="utf-8")) == run
    assert read_before({BEFORE: str(file)}) == run
    assert read_before({}) is None


def test_two_runs_compare_as_ratios_and_small_ones_are_not_judged():
    lines = table(
        run_of(plan=3.0, speed=1500, start=0.105, page=6.0), run_of(plan=6.0, speed=1000, start=0.1)
    )
    assert lines[0].startswith("measured 2026-11-25") and lines[1].startswith("beside")
    by_name = {line.split()[0]: line for line in lines[2:]}
    assert "x 0.50 better" in by_name["plan"]
    assert "x 1.50 better" in by_name["speed"]
    assert by_name["start"].endswith("x 1.05")
    assert by_name["page"].endswith("new")


def test_what_was_measured_only_before_is_told_as_are_other_machines():
    before = run_of(plan=6.0, start=0.1)
    before["machine"] = {**machine(), "cores": 999, "load_at_start": 0.0}
    lines = table(run_of(plan=9.0), before)
    assert any("different machines" in line for line in lines)
    assert "x 1.50 worse" in next(line for line in lines if line.startswith("plan"))
    assert "not measured" in next(line for line in lines if line.startswith("start"))


def test_one_name_is_measured_once():
    figures = Figures()
    figures.add("plan", 1, "s")
    with pytest.raises(ValueError, match="'plan' already"):
        figures.add("plan", 2, "s")
