"""`fruitcast report` from the command line."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from fruitcast.app.demo import TODAY
from tests.cli.running import contents, done, run
from tests.yards import planned_yard


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A few stacks with a plan published."""
    return planned_yard(tmp_path / "yard", "ACEJN", 5)


def test_it_writes_the_file_and_says_where(copy: Path, undrawn: None):
    ran = done("--yard", copy, "--today", TODAY, "report")
    assert ran.out.strip() == str(copy / "out" / "report.html")
    assert (copy / "out" / "report.html").read_bytes().startswith(b"<!DOCTYPE html>")
    assert "is not published" not in ran.err


def test_another_file_and_json(copy: Path, tmp_path: Path, undrawn: None):
    target = tmp_path / "new" / "shed door.html"
    document = done("--yard", copy, "--today", TODAY, "--json", "report", "-o", target).document
    assert list(document) == ["today", "file", "bytes", "plan_published", "figures", "warnings"]
    assert document["file"] == str(target) and document["bytes"] == target.stat().st_size
    assert document["plan_published"] is True and document["today"] == TODAY.isoformat()
    for figure in document["figures"]:
        assert list(figure) == ["figure", "title", "text", "columns", "rows"]
        assert figure["rows"] and figure["text"]


def test_without_a_fresh_plan_one_is_made_and_nothing_is_published(small: Path, undrawn: None):
    before = contents(small)
    ran = done("--yard", small, "--today", TODAY, "report")
    assert "not published" in ran.err and "fruitcast plan" in ran.err
    after = contents(small)
    assert {name for name in after if before.get(name) != after[name]} == {"out/report.html"}
    assert "is not published" in after["out/report.html"].decode("utf-8")


def test_what_cannot_be_written_leaves_the_old_report(copy: Path, undrawn: None):
    (copy / "report.html").mkdir()
    ran = run("--yard", copy, "--today", TODAY, "report", "-o", copy / "report.html")
    assert ran.code == 1 and ran.out == "" and "cannot be written" in ran.err
    assert list((copy / "report.html").iterdir()) == []


def test_matplotlib_is_loaded_by_the_report_alone(copy: Path):
    code = (
        "import sys; from fruitcast.cli import main;"
        f"main(['--yard', {str(copy)!r}, '--today', {TODAY.isoformat()!r}, '--json', 'week']);"
        "print('matplotlib' in sys.modules, file=sys.stderr)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert json.loads(ran.stdout)["jobs"] and ran.stderr.strip().endswith("False")


@pytest.mark.benchmark
def test_a_report_of_a_published_plan_takes_under_three_seconds(copy: Path):
    """Measured as the work of the whole process, its start included."""
    import resource

    argv = [sys.executable, "-m", "fruitcast", "--yard", copy, "--today", TODAY.isoformat()]
    taken = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([*map(str, argv), "report"], check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    print(f"report: {min(taken):.2f} s of work at best of {len(taken)}")
    assert min(taken) < 3.0
