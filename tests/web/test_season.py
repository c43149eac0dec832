"""The chart of the season: every mark can be reached and says what, when and why."""

from __future__ import annotations

import re
from html import unescape

from fruitcast.words import day_words
from fruitcast.yard.reading import read_yard
from tests.outputs.sample_plan import plan


def test_every_soak_of_the_plan_is_a_mark_that_says_what_and_when(visitor):
    visitor.open("/season")
    labels = [
        unescape(each)
        for each in re.findall(r'<a href="/season[^>]*aria-label="([^"]*)"', visitor.html)
    ]
    soaks = plan().soaks
    assert soaks
    for soak in soaks:
        told = f"{soak.stack}: {soak.logs} logs into the tank on {day_words(soak.soak_on)}"
        assert any(label.startswith(told) for label in labels), told
    assert all(visitor.text.count(label) >= 1 for label in labels)


def test_a_mark_that_is_chosen_tells_why(visitor):
    visitor.open("/season")
    marks = re.findall(r'<a href="(/season\?mark=\d+)#told" aria-label="([^"]*)"', visitor.html)
    soak = next(each for each in plan().soaks if each.reasons)
    path, label = next(
        (path, unescape(label))
        for path, label in marks
        if label.startswith(f"{soak.stack}: {soak.logs}")
    )
    text = visitor.open(path)
    assert label in text and all(" ".join(reason.split()) in text for reason in soak.reasons)
    assert visitor.html.count('aria-current="true"') == 1
    # From there it is kept on its day, in the words of the diary.
    assert f"words=fix+{soak.stack}+{soak.soak_on}&amp;check=1" in visitor.html
    said = visitor.open(f"/record/words?words=fix+{soak.stack}+{soak.soak_on}&check=1")
    assert f"fixed for {day_words(soak.soak_on)}" in said


def test_marks_that_are_not_there_are_no_fault(visitor):
    for query in ("mark=9999", "mark=-1", "mark=x", "mark="):
        visitor.open(f"/season?{query}")
        assert visitor.status == 200 and 'id="told"' not in visitor.html


def test_a_stack_that_the_chart_leaves_out_is_told_with_why(visitor, tmp_path):
    visitor.open("/season")
    names = visitor.html.split('class="names"')[1].split("</ul>")[0]
    drawn = re.findall(r"<li>([^<]*)</li>", names)
    listed = visitor.html.split("Not in the chart:")[1].split("</ul>")[0]
    left_out = dict(re.findall(r"<li>([^:<]+): ([^<]+)</li>", listed))
    assert drawn and left_out and not left_out.keys() & set(drawn)
    # A stack in lots stands there lot by lot.
    told = {name.partition("/")[0] for name in (*drawn, *left_out)}
    assert told == {each.name for each in read_yard(tmp_path / "yard").stacks}
