"""fruitcast hindcast: one document or one table, what is kept, and wrong usage."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from fruitcast.cli import main
from tests.cli.running import done
from tests.yards import SMALL, write_yard

SHORT = ["--today", "2027-05-03", "--years", "1", "--weeks", "4", "--processes", "1"]


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    return write_yard(tmp_path_factory.mktemp("hindcast") / "yard", SMALL, 8, diary=False)


def test_it_answers_with_one_document_and_then_from_what_is_kept(yard, capsys):
    assert main(["--yard", str(yard), "hindcast", *SHORT, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["years"] == [2026] and document["members"] == 7
    (result,) = document["results"]
    assert [policy["policy"] for policy in result["policies"]] == [
        "plan",
        "nine-week rotation",
        "sensible rotation",
        "rule of hand",
        "weather foresight",
        "perfect foresight",
    ]
    assert all(policy["seasons"] == 1 for policy in result["policies"])
    (kept,) = (yard / ".hindcast").iterdir()
    written = kept.stat().st_mtime_ns
    assert main(["--yard", str(yard), "hindcast", *SHORT]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "the model judges itself" in shown and "perfect foresight" in shown
    assert kept.stat().st_mtime_ns == written


def test_nothing_is_planned_or_published_by_it(yard, capsys):
    assert main(["--yard", str(yard), "hindcast", *SHORT, "--json"]) == 0
    capsys.readouterr()
    assert not (yard / "out").exists()


@pytest.mark.parametrize("wrong", [["--years", "0"], ["--weeks", "2"], ["--forecast-days", "30"]])
def test_values_out_of_range_are_wrong_usage(yard, capsys, wrong):
    assert main(["--yard", str(yard), "hindcast", *wrong]) == 2
    assert wrong[0] in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="a terminal's Ctrl-C is sent to a group of processes")
@pytest.mark.parametrize("processes", ["1", pytest.param("2", marks=pytest.mark.long)])
def test_ctrl_c_stops_at_once_and_the_same_command_goes_on(tmp_path, processes):
    """As a terminal sends it: to the command and to those that it has started."""
    asked = ["--today", "2027-05-03", "hindcast", "--json", "--weeks", "4"]
    years = 3
    asked += ["--years", f"{years}", "--processes", processes]

    def command(name):
        return ["--yard", str(tmp_path / name), *asked]

    for name in ("stopped", "whole"):
        write_yard(tmp_path / name, "AC", years, diary=False)
    whole = done(*command("whole")).out
    running = subprocess.Popen(
        [sys.executable, "-m", "fruitcast", *command("stopped")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        # Tests that were started in the background hand on that they are deaf to it.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    kept = tmp_path / "stopped" / ".hindcast"
    until = time.monotonic() + 300
    while not list(kept.glob("*.json")) and running.poll() is None and time.monotonic() < until:
        time.sleep(0.02)
    os.killpg(running.pid, signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130 and out == b""
    assert err.decode() == (
        "Stopped. Seasons lived through are kept: the same command, without --fresh, goes on.\n"
    )
    before = {file.name: file.stat().st_mtime_ns for file in kept.glob("*.json")}
    assert 0 < len(before) < years
    assert done(*command("stopped")).out == whole
    after = {file.name: file.stat().st_mtime_ns for file in kept.glob("*.json")}
    assert len(after) == years and after.items() >= before.items()
