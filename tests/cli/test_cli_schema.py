"""What a command prints is as its JSON Schema says, by a validator that knows no class of ours."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
from functools import cache
from pathlib import Path
from unittest import mock

import pytest
import typer
from jsonschema import Draft202012Validator

from fruitcast.app.checking import CheckedYard
from fruitcast.app.demo import TODAY, sample_folder
from fruitcast.cli.commands import load
from fruitcast.diary.events import FIELDS

from .running import done, run

KEPT = Path(__file__).parents[1] / "golden" / "kept" / "sample-us"


@cache
def schema(*command: str) -> Draft202012Validator:
    found = json.loads(done(*command, "--json-schema").out)
    Draft202012Validator.check_schema(found)
    return Draft202012Validator(found)


def faults(validator: Draft202012Validator, document: object) -> list[str]:
    return [error.message for error in validator.iter_errors(document)]


def test_the_plan_is_as_its_schema_says(shared_demo):
    validator = schema("plan")
    assert shared_demo.plan["soaks"] and faults(validator, shared_demo.plan) == []


@pytest.mark.parametrize(
    "words",
    [("week",), ("stacks",), ("plan", "--tank", 70, "--weeks", 6), ("report",)],
    ids=lambda words: words[0],
)
def test_other_documents_are_as_their_schemas_say(shared_demo, tmp_path, words):
    more = ("-o", tmp_path / "page.html") if words == ("report",) else ()
    with mock.patch("fruitcast.outputs.report._drawn", return_value=""):  # no part of a document
        ran = done("--yard", shared_demo.folder, "--today", TODAY, *words, *more, "--json")
    assert faults(schema(words[0]), ran.document) == []


SMALL = [
    ("check",),
    ("check", "--numbers"),
    ("calendar",),
    ("weather", "show", "--days", 400),
    ("weather", "import", "{yard}/weather.csv"),
    ("record", "pick", "A", "1 lb", "--yes"),
    ("record", "inspect", "D", "white ends", "--yes"),
    ("record", "undo"),
    ("diary", "show", "--last", 400),
    ("diary", "export", "{yard}/diary.csv"),
    ("diary", "restore", "--yes"),
    ("diary", "sales", "--from", "2026-01-01"),
    ("diary", "year", 2026),
    ("completion", "bash"),
]


@pytest.mark.parametrize("words", SMALL, ids=lambda words: " ".join(map(str, words[:2])))
def test_small_documents_are_as_their_schemas_say(demo, words):
    typed = [str(word).format(yard=demo) for word in words]
    ran = done("--yard", demo, "--today", TODAY, *typed, "--json")
    command = words[:2] if words[0] in ("weather", "record", "diary", "completion") else words[:1]
    validator = schema(*command)
    assert faults(validator, ran.document) == []
    # Each key is wanted, so that a schema that asks for nothing is noticed.
    for key in ran.document:
        less = {name: value for name, value in ran.document.items() if name != key}
        left_out = words == ("check",) and key in CheckedYard.left_out
        assert left_out or faults(validator, less), key


def test_lists_in_small_documents_are_not_empty(demo):
    """Else their schemas would be held to nothing."""

    def printed(*words):
        return done("--yard", demo, "--today", TODAY, *words, "--json").document

    assert printed("diary", "sales", "--from", "2026-01-01")["sales"]
    assert printed("diary", "year", 2026)["rows"]
    weather = printed("weather", "show", "--days", 30)
    assert weather["days"] and weather["years"]
    entries = printed("diary", "show")["entries"]
    assert [*FIELDS, "words", "in_force"] == list(entries[0])


def test_documents_without_a_yard_are_as_their_schemas_say(tmp_path):
    assert faults(schema(), done("--yard", tmp_path, "--json").document) == []
    started = done("new", tmp_path / "mine", "--place", "42.44, -76.5", "--json").document
    assert started["guesses"] and faults(schema("new"), started) == []


def test_a_faulty_yard_is_told_as_the_schema_says(tmp_path):
    (tmp_path / "yard.toml").write_text("name = 3\n", encoding="utf-8")
    told = run("--yard", tmp_path, "check", "--json").document
    assert told["faults"] and "stacks" not in told and faults(schema("check"), told) == []


def test_the_demo_is_as_its_schema_says(tmp_path):
    weather = sample_folder() / "weather.csv"
    ran = done("demo", tmp_path / "yard", "--weather", weather, "--json")
    assert faults(schema("demo"), ran.document) == []


@pytest.mark.parametrize("command", ["hindcast", "inoculation"])
def test_kept_answers_are_as_their_schemas_say(command):
    """What takes long to make is kept for the tests; it is as it was printed, but for digits."""
    kept = json.loads((KEPT / f"{command}.json").read_text(encoding="utf-8"))
    validator = schema(command)
    assert faults(validator, kept) == []
    del kept[next(iter(kept))]
    assert faults(validator, kept)


def test_every_command_tells_its_schema():
    def each(group):
        for sub in group.commands.values():
            yield from each(sub) if hasattr(sub, "commands") else [sub]

    known = list(each(typer.main.get_command(load())))
    assert len(known) > 30
    silent = [sub.name for sub in known if "json_schema" not in {p.name for p in sub.params}]
    assert silent == []


def test_a_schema_refuses_what_the_command_would_not_print(shared_demo):
    validator = schema("plan")
    for damage in (
        lambda plan: plan.pop("members"),
        lambda plan: plan["soaks"][0].pop("pins_on"),
        lambda plan: plan["soaks"][0].update(logs="many"),
        lambda plan: plan["outlets"][0].update(chance=None),
        lambda plan: plan["soaks"][0].update(cover={"from": "2027-05-10"}),
    ):
        plan = copy.deepcopy(shared_demo.plan)
        damage(plan)
        assert faults(validator, plan), damage


def test_every_key_that_a_plan_prints_is_told():
    """Only then is the schema one to write a reader from."""
    told = json.loads(done("plan", "--json-schema").out)
    plan = told["$defs"]["Plan"]
    assert set(plan["required"]) == set(plan["properties"])
    soak = told["$defs"]["PlannedSoak"]
    assert set(soak["properties"]) - set(soak["required"]) == {"cover", "clear_on"}


def test_help_loads_no_pydantic():
    code = (
        "import sys; sys.argv = ['fruitcast', '--help'];"
        "from fruitcast.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "sys.exit('pydantic' in sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert ran.returncode == 0 and "hindcast" in ran.stdout
