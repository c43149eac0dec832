"""Forms of the page for the phone: whatever is sent, an answer for people, and no word written."""

from __future__ import annotations

from collections import Counter
from urllib.parse import urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.app.serving import Clock, situation
from fruitcast.web import records
from fruitcast.web.context import Context
from tests.breaking.mutations import CELLS, damaged, many
from tests.breaking.watching import outcome, unwatched
from tests.web.sites import Now, Visitor, entries, forms_of, make_app, write_site

FIELDS = (
    *("day", "other_day", "stack", "logs", "hours", "large", "small", "depth", "outlet", "note"),
    *("uuid", "yes", "change", "words", "entry", "next", "check", "written"),
)
PATHS = (
    *("/record/pick", "/record/soak", "/record/pull", "/record/pins", "/record/water"),
    *("/record/rain", "/record/words", "/undo", "/record/none", "/signin"),
)
GOOD = {"day": "2027-05-03", "stack": "A", "logs": "12", "hours": "24", "large": "2", "depth": "1"}
GOOD |= {"words": "pick A 2 lb", "uuid": "00000000-0000-4000-8000-000000000001", "note": "wet"}
TYPES = (
    "application/x-www-form-urlencoded",
    "multipart/form-data; boundary=b",
    "multipart/form-data",
    "application/json",
    "",
)


class Page:
    """The page of a small yard, its situation read once, and what its forms have written."""

    def __init__(self, folder, monkeypatch) -> None:
        self.visitor = Visitor(make_app(folder))
        self.visitor.open("/record/pick")
        self.token = dict(forms_of(self.visitor.html)[-1][1])["token"]
        self.written = 0
        now = situation(folder, Clock(Now()))
        monkeypatch.setattr(Context, "situation", lambda *_: now)
        monkeypatch.setattr(records, "write_entries", self._write)
        monkeypatch.setattr(records, "cancel_entries", self._write)

    def _write(self, now, wanted, moment):
        self.written += 1
        return [str(number) for number, _ in enumerate(wanted)]

    def send(self, path: str, body: bytes, kind: str) -> None:
        """Send a body; hold the answer to what people may see."""
        before = self.written
        answer = self.visitor.client.post(
            path, data=body, content_type=kind, base_url="http://localhost"
        )
        assert answer.status_code < 500, answer.get_data(as_text=True)[:2000]
        assert len(answer.get_data()) < 500_000
        assert (self.written > before) <= (answer.status_code == 303)

    def open(self, path: str, query: str) -> None:
        """Open a page with a query; nothing is ever written."""
        before = self.written
        answer = self.visitor.client.get(f"{path}?{query}", base_url="http://localhost")
        assert answer.status_code < 500, answer.get_data(as_text=True)[:2000]
        assert self.written == before


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = write_site(tmp_path_factory.mktemp("page") / "yard")
    with pytest.MonkeyPatch.context() as patch:
        yield Page(folder, patch)
    assert entries(folder) == []


FORMS = st.dictionaries(st.sampled_from(FIELDS), st.sampled_from(CELLS), max_size=4)


def _fuzz(page: Page, number: int, start: int) -> Counter[str]:
    counts: Counter[str] = Counter()

    @many(number, start)
    @given(
        st.sampled_from(PATHS),
        FORMS,
        st.none() | damaged((urlencode(GOOD).encode(),), "words", 3),
        st.sampled_from((*TYPES[:1] * 6, *TYPES)),
    )
    def send(path, fields, body, kind):
        given_fields = {name: text.encode(errors="replace") for name, text in fields.items()}
        data = urlencode({"token": page.token, **GOOD, **given_fields}).encode()
        if body is not None:
            data = f"token={page.token}&".encode() + body
        before = page.written
        counts[outcome(lambda sent: page.send(path, sent, kind), data)] += 1
        counts["written"] += page.written - before
        if body is None and kind == TYPES[1]:
            page.open(path, urlencode(given_fields))

    with unwatched():
        send()
    return counts


def test_forms_by_machine(page):
    counts = _fuzz(page, 300, 1)
    assert counts["written"] > 10
    assert counts["read"] >= 300


@pytest.mark.long
def test_a_hundred_thousand_forms(page, capsys):
    counts = sum((_fuzz(page, 5_000, 1000 + part) for part in range(20)), Counter())
    with capsys.disabled():
        print(f"\nforms: {dict(counts)}")


@pytest.mark.parametrize("target", ["//[", "/\\x", "http://[x", "/\udcff", "/" + "x" * 5000])
def test_a_sign_in_that_leads_nowhere_leads_to_the_first_page(page, target):
    page.open("/signin", urlencode({"next": target.encode(errors="surrogateescape")}))
    fields = {"token": page.token, "passphrase": "x", "next": target.encode(errors="replace")}
    page.send("/signin", urlencode(fields).encode(), TYPES[0])


def test_a_number_of_logs_of_hundreds_of_digits_is_one_message(page):
    words = f"inspect A {'9' * 400} dead"
    fields = {"token": page.token, "words": words, "uuid": GOOD["uuid"]}
    answer = page.visitor.client.post("/record/words", data=fields, base_url="http://localhost")
    assert answer.status_code == 422
    assert "logs is a huge number, expected 0 to a million" in answer.get_data(as_text=True)
