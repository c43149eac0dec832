"""fruitcast hindcast: one document or one table, what is kept, and wrong usage."""

from __future__ import annotations

import json

import pytest

from fruitcast.app.demo import write_sample_yard
from fruitcast.cli import main

SHORT = ["--today", "2027-05-03", "--years", "1", "--weeks", "4", "--processes", "1"]


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hindcast") / "yard"
    write_sample_yard(folder)
    return folder


def test_it_answers_with_one_document_and_then_from_what_is_kept(yard, capsys):
    assert main(["--yard", str(yard), "hindcast", *SHORT, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["years"] == [2026] and document["members"] == 20
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
