"""What a phone keeps and sends: each record once, at its time, and nothing that isn't its own."""

from __future__ import annotations

import json
import random
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import UUID, uuid4

import pytest

from fruitcast.app.serving import Clock
from fruitcast.web.access import AccessFile
from fruitcast.web.context import Context
from fruitcast.web.records import FORMS
from fruitcast.web.without_signal import yard_mark
from tests.drawn import stride
from tests.outputs.sample_plan import TODAY
from tests.web.sites import NOON, PASSPHRASE, Visitor, entries, make_app, write_site

POUND = 0.45359237


class Phone(Visitor):
    """A phone that sends what was recorded on it."""

    def token(self) -> dict[str, Any]:
        answer = self.client.get("/kept/token", base_url=self.origin)
        return dict(answer.get_json())

    def hand_in(
        self,
        kind: str,
        record: dict[str, Any],
        *,
        ago: float = 60.0,
        clock: float = 0.0,
        **more: Any,
    ) -> dict[str, Any]:
        """Send a record made some seconds ago, by a clock that is some seconds wrong."""
        told = self.token()
        sent = told["now"] + int(clock * 1000)
        given = {
            "token": told["token"],
            "yard": told["yard"],
            "uuid": str(uuid4()),
            "form": kind,
            "fields": urlencode(record, doseq=True),
            "made": sent - int(ago * 1000),
            "sent": sent,
            **more,
        }
        self.page = self.client.post("/kept/record", data=given, base_url=self.origin)
        return dict(self.page.get_json(silent=True) or {})


@pytest.fixture
def phone(folder, now):
    return Phone(make_app(folder, now))


PICK = {"stack": "A", "large": "2", "small": "6", "day": "2027-05-03"}


def test_a_record_is_written_once_with_the_time_it_was_made(phone, folder):
    uuid = str(uuid4())
    first = phone.hand_in("pick", PICK, ago=3600, uuid=uuid)
    assert first["answer"] == "written" and first["uuid"] == uuid
    assert first["words"] == ["Picked 2 lb 6 oz from A on Mon 3 May 2027."]
    again = phone.hand_in("pick", PICK, ago=3600, uuid=uuid)
    assert (again["answer"], again["words"]) == ("known", first["words"])
    (pick,) = entries(folder)
    assert pick.uuid == uuid and pick.recorded_at == NOON - timedelta(hours=1)
    assert pick.kg == pytest.approx(2.375 * POUND)


def test_what_was_written_is_known_even_if_it_could_not_be_read_any_more(phone, folder):
    uuid = str(uuid4())
    phone.hand_in("pins", {"stack": "A", "day": "2027-05-03"}, uuid=uuid)
    assert phone.hand_in("frobnicate", {}, uuid=uuid)["answer"] == "refused"
    answer = phone.hand_in("pins", {"stack": "gone", "day": "2027-05-03"}, uuid=uuid)
    assert answer["answer"] == "known" and len(entries(folder)) == 1


def test_a_form_whose_answer_was_lost_is_known_when_it_comes_from_the_queue(phone, folder):
    for stacks in (["A"], ["A", "B"]):
        phone.open("/record/water")
        uuid = re.search(r'name="uuid" value="([^"]+)"', phone.html)[1]
        phone.send(stack=stacks, depth="1")
        count = len(entries(folder))
        fields = {"stack": stacks, "depth": "1", "day": "2027-05-03"}
        assert phone.hand_in("water", fields, uuid=uuid)["answer"] == "known"
        assert len(entries(folder)) == count
        phone.open("/diary")
        phone.send(form=0)


def test_words_mean_the_day_they_were_written_on(phone, folder):
    answer = phone.hand_in("words", {"words": "pins on A and B yesterday"}, ago=2 * 86400)
    assert answer["answer"] == "written", answer
    found = entries(folder)
    assert [(e.kind, e.stack) for e in found] == [("pins", "A"), ("pins", "B")]
    assert {e.on for e in found} == {TODAY - timedelta(days=3)}
    assert {e.recorded_at for e in found} == {NOON - timedelta(days=2)}


def test_words_of_saturday_sent_on_monday_are_saturday_s(phone, folder):
    """The yard's day is Monday 3 May; its clock stands at noon of the same day."""
    assert phone.hand_in("words", {"words": "turned A"}, ago=2 * 86400)["answer"] == "written"
    (turned,) = entries(folder)
    assert (turned.kind, turned.on) == ("turn", TODAY - timedelta(days=2))


def test_a_phone_of_a_yard_with_a_day_of_its_own_is_told_that_day(folder, now):
    """The day that a kept form offers is the yard's, and a record's words mean it too."""
    own = TODAY + timedelta(days=40)
    phone = Phone(make_app(folder, Clock(now, own)))
    told = datetime.fromtimestamp(phone.token()["now"] / 1000, UTC)
    assert told - NOON == timedelta(days=40)
    assert (
        phone.client.get("/kept/pages", base_url=phone.origin).json["now"] == phone.token()["now"]
    )


def test_what_was_found_and_a_word_given(phone, folder):
    fields = {"stack": "A", "found": ["white ends"], "dead": "2"}
    assert phone.hand_in("asked/inspect", fields, ago=86400)["answer"] == "written"
    fields = {"stack": "A", "until": "2027-05-20"}
    assert phone.hand_in("asked/hold", fields)["answer"] == "written"
    inspected, held = entries(folder)
    assert inspected.on == TODAY - timedelta(days=1) and inspected.logs == 2
    assert (held.kind, held.into) == ("hold", "2027-05-20")


@pytest.mark.parametrize("clock", [0.0, 90.0, -90.0, 3 * 365 * 86400.0, -40 * 86400.0])
def test_a_phone_whose_clock_is_wrong(phone, folder, clock):
    assert phone.hand_in("pins", {"stack": "A", "day": "2027-05-03"}, ago=7200, clock=clock)
    (pins,) = entries(folder)
    wrong = abs((pins.recorded_at - (NOON - timedelta(hours=2))).total_seconds())
    assert wrong == (abs(clock) if abs(clock) < 120 else 0)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"ago": -60.0}, "made after it was sent"),
        ({"ago": 500 * 86400.0}, "more than a year ago"),
        ({"made": ""}, "does not say when"),
        ({"made": "-5"}, "does not say when"),
        ({"sent": "9" * 15}, "does not say when"),
        ({"made": "1e12"}, "does not say when"),
        ({"made": "٣" * 13}, "does not say when"),
        ({"uuid": "x"}, "not complete"),
        ({"uuid": ""}, "not complete"),
        ({"uuid": "6f0f3c1e-0000-4000-8000-00000000000g"}, "not complete"),
        ({"yard": "0" * 20}, "another yard"),
        ({"yard": ""}, "another yard"),
        ({"form": ""}, "no form"),
        ({"form": "undo"}, "no form"),
        ({"form": "../change"}, "no form"),
        ({"form": "asked/note"}, "no form"),
        ({"fields": "&".join(f"a{n}=1" for n in range(1000))}, "too many fields"),
    ],
)
def test_what_can_not_be_is_refused_with_its_reason(phone, folder, more, told):
    answer = phone.hand_in("pins", {"stack": "A", "day": "2027-05-03"}, **more)
    assert answer["answer"] == "refused" and told in answer["words"][0], answer
    assert entries(folder) == []


def test_the_latest_time_that_can_be_said(phone, folder):
    answer = phone.hand_in(
        "pins", {"stack": "A", "day": "2027-05-03"}, made="99999999999999", sent="99999999999999"
    )
    assert answer["answer"] == "written"
    assert entries(folder)[0].recorded_at == NOON


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"stack": "A", "day": "2027-05-09"}, "is still to come"),
        ({"stack": "A", "day": "2019-05-03"}, "is long ago"),
    ],
)
def test_an_unlikely_day_is_asked_about(phone, folder, fields, told):
    uuid = str(uuid4())
    answer = phone.hand_in("pins", fields, uuid=uuid)
    assert answer["answer"] == "asked" and told in answer["words"][0]
    assert entries(folder) == []
    assert phone.hand_in("pins", fields, uuid=uuid, yes="something else")["answer"] == "asked"
    assert phone.hand_in("pins", fields, uuid=uuid, yes=answer["words"])["answer"] == "written"
    assert [event.uuid for event in entries(folder)] == [uuid]


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"stack": "A", "day": "2027-05-03"}, "What weight?"),
        ({**PICK, "stack": "Z"}, "no stack 'Z'"),
        ({**PICK, "large": "two"}, "not a number of lb"),
        ({**PICK, "day": "0000-00-00"}, ""),
        ({**PICK, "note": "x" * 2001}, "at most 2000"),
        ({**PICK, "note": "a\x00b"}, "zero character"),
    ],
)
def test_what_can_not_be_read_is_refused(phone, folder, fields, told):
    answer = phone.hand_in("pick", fields)
    assert answer["answer"] == "refused" and told in answer["words"][0]
    assert entries(folder) == []


def test_like_picks_of_two_phones_on_one_morning_are_asked_about(phone, folder, now):
    phone.hand_in("pick", PICK, ago=3600)
    other = Phone(make_app(folder, now))
    for fields in (PICK, {**PICK, "small": "8"}, {**PICK, "small": "4", "note": "the big crate"}):
        answer = other.hand_in("pick", fields, ago=60)
        assert answer["answer"] == "asked", answer
        assert "Picked 2 lb 6 oz from A" in answer["words"][0] and len(answer["words"]) == 1
    for fields in ({**PICK, "large": "4"}, {**PICK, "stack": "B"}):
        assert other.hand_in("pick", fields)["answer"] == "written"
    assert len(entries(folder)) == 3
    # What a phone itself wrote before is no question: a second crate of about the same weight.
    own = entries(folder)[0].uuid
    assert phone.hand_in("pick", {**PICK, "small": "5"}, own=own)["answer"] == "written"
    # Nor is a pick of the evening.
    now.later(hours=6)
    assert other.hand_in("pick", {**PICK, "small": "7"})["answer"] == "written"


def test_a_lot_and_its_stack_may_be_one_pick(phone, now, folder):
    phone.hand_in("pick", {**PICK, "stack": "H/1"})
    other = Phone(make_app(folder, now))
    assert other.hand_in("pick", {**PICK, "stack": "H", "small": "7"})["answer"] == "asked"
    assert other.hand_in("pick", {**PICK, "stack": "H/2", "small": "7"})["answer"] == "written"


def test_one_record_from_eight_connections_at_once_is_written_once(folder, now):
    app, uuid = make_app(folder, now), str(uuid4())

    def send(number: int) -> str:
        fields = {"stack": ["A", "B"], "depth": "1", "day": "2027-05-03"}
        return Phone(app).hand_in("water", fields, uuid=uuid)["answer"]

    with ThreadPoolExecutor(8) as senders:
        answers = sorted(senders.map(send, range(8)))
    assert answers == ["known"] * 7 + ["written"]
    assert len(entries(folder)) == 2


def test_two_phones_at_one_moment_are_asked_too(folder, now):
    app = make_app(folder, now)

    def send(number: int) -> str:
        return Phone(app).hand_in("pick", {**PICK, "small": str(number)})["answer"]

    with ThreadPoolExecutor(4) as senders:
        answers = sorted(senders.map(send, range(4)))
    assert answers == ["asked"] * 3 + ["written"]


def test_another_yard_s_record_waits(phone, folder, tmp_path, now):
    there = Phone(make_app(write_site(tmp_path / "other"), now))
    assert there.hand_in("pick", PICK, yard=phone.token()["yard"])["answer"] == "refused"
    # The invented yard beside one's own is another one as well.
    own = phone.token()["yard"]
    phone.open("/more")
    phone.send(form=-1)
    assert phone.token()["yard"] != own
    assert phone.hand_in("pick", PICK, yard=own)["answer"] == "refused"
    assert entries(folder) == []


def test_the_yard_keeps_its_mark_when_the_passphrase_changes(folder, now):
    app = make_app(folder, now)
    before = Phone(app).token()["yard"]
    access = AccessFile(folder)
    context = Context(folder, None, access, None)  # type: ignore[arg-type]
    access.set_passphrase(PASSPHRASE)
    assert yard_mark(context) == before


def test_sending_needs_the_sign_in_and_the_token(folder, now):
    AccessFile(folder).set_passphrase(PASSPHRASE)
    phone = Phone(make_app(folder, now, ask_always=True))
    for path in ("/kept", "/kept/pages", "/kept/token"):
        phone.page = phone.client.get(path)
        assert phone.status == 303 and phone.page.headers["Location"].startswith("/signin")
    phone.open("/signin")
    token = re.search(r'name="token" value="([^"]+)"', phone.html)[1]
    given = {"token": token, "uuid": str(uuid4()), "form": "pick", "fields": urlencode(PICK)}
    phone.page = phone.client.post("/kept/record", data=given)
    assert phone.status == 303
    phone.open("/signin")
    phone.send(passphrase=PASSPHRASE)
    for headers in ({"Origin": "http://evil.example"}, {"Sec-Fetch-Site": "cross-site"}):
        given["token"] = phone.token()["token"]
        phone.page = phone.client.post("/kept/record", data=given, headers=headers)
        assert phone.status == 403
    for wrong in ("", "x", token):
        phone.page = phone.client.post("/kept/record", data={**given, "token": wrong})
        assert phone.status == 403
    assert entries(folder) == []
    assert phone.hand_in("pick", PICK)["answer"] == "written"


def test_too_much_is_too_much(phone, folder):
    phone.hand_in("note", {}, fields="note=" + "x" * 70_000)
    assert phone.status == 413
    phone.page = phone.client.get("/kept/record")
    assert phone.status == 405
    assert entries(folder) == []


def test_a_diary_that_can_not_be_written_keeps_the_record_on_the_phone(phone, folder, monkeypatch):
    from fruitcast.app import late_records
    from fruitcast.errors import InputError

    def full(*_: object) -> None:
        raise InputError("diary.db: the disk is full. Make room, then do it again.")

    monkeypatch.setattr(late_records, "write_entries", full)
    answer = phone.hand_in("pick", PICK)
    assert (phone.status, answer["answer"]) == (503, "later") and "disk is full" in answer["words"][
        0
    ]
    monkeypatch.undo()
    assert phone.hand_in("pick", PICK)["answer"] == "written"


@stride(5)
def test_whatever_is_sent_ends_in_an_answer_of_ours(phone, folder, every):
    chance = random.Random(5)
    seeds = [
        "stack=A&large=2&small=6&day=2027-05-03&note=x",
        "words=pick+A+2+lb+6+oz+yesterday",
        "stack=A&found=white+ends&dead=2&until=2027-05-20",
        "stack=*&stack=H%2F1&depth=1%2F2+in&day=other&other_day=2027-05-01",
    ]
    marks = ["%00", "%ff", "&", "=", "\ud800", "9" * 30, "-1", "1e309", "٣", ";", "%0a", "nan", "*"]
    forms = [*FORMS, "words", "asked/inspect", "asked/hold", "", "x"]
    told = set()
    for number in range(300 // every):
        fields = chance.choice(seeds)
        for _ in range(chance.randint(0, 4)):
            at = chance.randrange(len(fields) + 1)
            fields = fields[:at] + chance.choice(marks) + fields[at + chance.randint(0, 3) :]
        given = {"form": chance.choice(forms), "fields": fields.encode(errors="replace").decode()}
        answer = phone.hand_in("", {}, uuid=str(UUID(int=number)), **given)
        assert phone.status == 200, (given, phone.html)
        assert answer["words"] and all(answer["words"]), given
        told.add(answer["answer"])
        count = len(entries(folder))
        if answer["answer"] == "written":
            again = phone.hand_in("", {}, uuid=str(UUID(int=number)), **given)
            assert again["answer"] == "known" and len(entries(folder)) == count
    assert {"written", "asked", "refused"} <= told


# What a phone keeps.


def test_the_pages_that_a_phone_keeps_hold_for_more_than_one_visit(phone):
    answer = phone.client.get("/kept/pages").get_json()
    assert {"/", "/stacks", "/supply", "/record", "/kept", "/record/pick"} <= set(answer["pages"])
    for path, html in answer["pages"].items():
        assert "token" not in html, path
        assert ('name="uuid" value=""' in html) == ("<form" in html), path
        assert 'data-kept="yes"' in html and answer["yard"] in html and "Larkspur Hollow" in html
    assert "Overdue" in answer["pages"]["/"] and "Soak A" in answer["pages"]["/"]
    assert "Set-Cookie" not in phone.client.get("/kept/pages").headers


def test_what_has_not_changed_is_not_sent_again(phone, folder):
    first = phone.client.get("/kept/pages").get_json()
    again = phone.client.get(f"/kept/pages?mark={first['mark']}").get_json()
    assert again["pages"] is None and again["mark"] == first["mark"]
    phone.hand_in("pull", {"stack": "D", "day": "2027-05-03"})
    changed = phone.client.get(f"/kept/pages?mark={first['mark']}").get_json()
    assert "Done: " in changed["pages"]["/"]


def test_the_worker_is_served_from_the_root_to_everybody_and_names_its_files(folder, now):
    AccessFile(folder).set_passphrase(PASSPHRASE)
    visitor = Visitor(make_app(folder, now))
    visitor.open("/worker.js")
    assert visitor.status == 200 and visitor.page.mimetype == "text/javascript"
    assert "Larkspur" not in visitor.html
    files = json.loads(re.search(r"const FILES = (\[.*\]);", visitor.html)[1].replace("'", '"'))
    for file in files:
        assert visitor.client.get(file).status_code == 200, file
    manifest = json.loads(visitor.open("/static/manifest.json") and visitor.html)
    assert manifest["start_url"] == manifest["scope"] == "/"
    for icon in manifest["icons"]:
        assert visitor.client.get(icon["src"]).status_code == 200


def test_over_plain_http_it_says_in_a_sentence_why_not(folder, now):
    for origin, works in (
        ("http://192.168.1.20:8765", False),
        ("http://localhost:8765", True),
        ("https://192.168.1.20", True),
    ):
        visitor = Visitor(make_app(folder, now), origin)
        text = visitor.open("/kept")
        assert ("browsers allow that only over HTTPS" in text) != works
        assert ("How it works" in text) == works


@pytest.mark.benchmark
def test_figures(phone, folder):
    from time import process_time, sleep

    from fruitcast.app.serving import SETTLED_SECONDS

    begun = process_time()
    for number in range(1000):
        fields = {"words": f"note day {number}"}
        answer = phone.hand_in("words", fields, uuid=str(UUID(int=number)), more="1")
        assert answer["answer"] == "written"
    print("a thousand records, s of processor time:", process_time() - begun)
    begun = process_time()
    size = len(phone.client.get("/kept/pages").data)
    print("pages kept, ms:", 1000 * (process_time() - begun), "byte:", size)
    sleep(SETTLED_SECONDS + 0.1)
    mark = phone.client.get("/kept/pages").get_json()["mark"]
    phone.client.get(f"/kept/pages?mark={mark}")
    begun = process_time()
    for _ in range(50):
        phone.client.get(f"/kept/pages?mark={mark}")
    print("nothing new, ms:", 20 * (process_time() - begun))
    assert len(entries(folder)) == 1000
