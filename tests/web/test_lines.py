"""Many records at once, the diary searched, and the lists of sales and picks."""

from __future__ import annotations

import re

import pytest

from tests.web.sites import DIARY, entries, forms_of

TWENTY = """\
pick A 2 lb yesterday
soak B 20 logs on 1 may 24 h

rain 0.4 in yesterday
sold Saturday market 1 lb 8 oz on 1 may
""" + "\n".join(f"note day {number} in the yard" for number in range(16))


def test_pasted_lines_are_shown_before_they_are_written_and_written_once(visitor, folder):
    visitor.open("/record/lines")
    text = visitor.send(lines=TWENTY)
    assert "Is this right? Nothing was written yet." in text and entries(folder) == []
    confirm = next(f for f in forms_of_lines(visitor.html) if "shown" in dict(f))
    visitor.post("/record/lines", confirm)
    assert visitor.status == 200 and "Written down:" in visitor.text
    written = entries(folder)
    assert len(written) == 20 and [e.kind for e in written[:4]] == ["pick", "soak", "rain", "sold"]
    visitor.post("/record/lines", confirm)
    assert len(entries(folder)) == 20


def forms_of_lines(html: str) -> list[list[tuple[str, str]]]:
    """Return what each form of the page sends, its areas of text with it."""
    from html import unescape

    found = []
    for inside in re.findall(
        r'<form method="post" action="/record/lines">(.*?)</form>', html, re.S
    ):
        given = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', inside)
        given += re.findall(r'<textarea[^>]*name="(\w+)"[^>]*>\n?(.*?)</textarea>', inside, re.S)
        found.append([(name, unescape(value)) for name, value in given])
    return found


def test_a_line_that_cannot_be_read_stops_all_and_says_why(visitor, folder):
    visitor.open("/record/lines")
    text = visitor.send(lines="pick A 2 lb\nsoak Zz 24 h\nfrobnicate A")
    assert visitor.status == 422 and entries(folder) == []
    assert "mend the lines that could not be read" in text and "Zz" in text
    assert len(forms_of(visitor.html)) == 1
    again = dict(forms_of_lines(visitor.html)[0])
    assert again["lines"].split("\n")[0] == "pick A 2 lb"


def test_each_line_counts_for_those_below_it(visitor, folder):
    visitor.open("/record/lines")
    visitor.send(lines="soak C 24 h on 1 may\npull C on 2 may")
    assert visitor.status == 200, visitor.text
    assert "no soak" not in visitor.text.lower()
    visitor.open("/record/lines")
    text = visitor.send(lines="\n".join(["note a"] * 61))
    assert visitor.status == 422 and "60 are taken at one time" in text
    visitor.open("/record/lines")
    visitor.send(lines="  \n ")
    assert visitor.status == 422


@pytest.mark.parametrize(
    ("words", "count"),
    [("2026-08", 3), ("pick", 1), ("soak d", 1), ("SOAK", 2), ("nowhere", 0), ("2027-04 tank", 1)],
)
def test_the_diary_is_searched(visitor, words, count):
    text = visitor.open(f"/diary?find={words.replace(' ', '+')}")
    told = "1 entry with" if count == 1 else f"{count or 'No'} entries with"
    assert told in text
    assert visitor.html.count('<li class="card') == count
    assert len(DIARY) == 4


def test_sales_and_picks_are_listed_and_taken_away_as_tables(visitor):
    visitor.open("/record/lines")
    visitor.send(lines="pick A 2 lb on 1 may\nsold Saturday market 1 lb for 14 on 1 may")
    visitor.post("/record/lines", forms_of_lines(visitor.html)[0])
    text = visitor.open("/sales")
    assert "Saturday market 1.0 lb" in text and "14.00" in text
    assert "A-2027-05-01" in visitor.open("/trace")
    answer = visitor.client.get("/sales?csv=1", base_url=visitor.origin)
    assert answer.mimetype == "text/csv" and b"Saturday market" in answer.data
    assert "A-2026-08-14 4.6 lb" in visitor.open("/trace?from=2026-01-01&to=2026-12-31")
    assert "Nothing was sold" in visitor.open("/sales?from=2020-01-01&to=2020-12-31")
    for query in ("from=x", "from=2027-05-01&to=2027-04-01"):
        visitor.open(f"/sales?{query}")
        assert visitor.status == 422
