"""Forms of the page for the phone: whatever is sent, an answer for people, and no word written."""

from __future__ import annotations

import json
from urllib.parse import urlencode

import pytest

from tests.breaking.forms import TYPES
from tests.breaking.kept import plan_samples, read_plan
from tests.breaking.page import GOOD, page
from tests.breaking.readers import readers
from tests.breaking.running import put_before


def test_damaged_forms_are_taken_or_not_and_nothing_else_is_written():
    before = page().written
    put_before(readers()["form"], 300)
    assert page().written > before + 10
    assert page().diary() == []


def test_a_job_of_a_kept_plan_that_nobody_knows_is_shown_as_it_stands():
    document = json.loads(plan_samples()[0])
    document["jobs"][0]["job"] = "${HOME} {0} {"
    read_plan(json.dumps(document).encode())


@pytest.mark.parametrize("target", ["//[", "/\\x", "http://[x", "/\udcff", "/" + "x" * 5000])
def test_a_sign_in_that_leads_nowhere_leads_to_the_first_page(target):
    asked = urlencode({"next": target.encode(errors="surrogateescape")})
    assert page().send("GET", "/signin", asked.encode(), "") < 400
    fields = {"token": page().token, "passphrase": "x", "next": target.encode(errors="replace")}
    assert page().send("POST", "/signin", urlencode(fields).encode(), TYPES[0]) < 500


def test_a_number_of_logs_of_hundreds_of_digits_is_one_message():
    words = f"inspect A {'9' * 400} dead"
    fields = {"token": page().token, "words": words, "uuid": GOOD["uuid"]}
    answer = page().visitor.client.post("/record/words", data=fields, base_url="http://localhost")
    assert answer.status_code == 422
    assert "logs is a huge number, expected 0 to a million" in answer.get_data(as_text=True)
