"""What a command prints is as its JSON Schema says, by a validator that knows no class of ours."""

from __future__ import annotations

import copy
import json
import subprocess
import sys

import pytest
from jsonschema import Draft202012Validator

from fruitcast.app.demo import TODAY

from .running import done


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
    ran = done("--yard", shared_demo.folder, "--today", TODAY, *words, *more, "--json")
    assert faults(schema(words[0]), ran.document) == []


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
    assert set(soak["properties"]) - set(soak["required"]) == {"cover"}


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
