"""What is recorded on the page: two taps for what was planned, questions, undo."""

from __future__ import annotations

from datetime import date

import pytest

from fruitcast.diary.book import read_events
from fruitcast.diary.events import in_force
from fruitcast.yard.reading import read_yard
from tests.outputs.sample_plan import TODAY, plan
from tests.web.sites import Visitor, entries, make_app, publish_site, write_site

YESTERDAY = date(2027, 5, 2)


def link(visitor: Visitor, label: str) -> str:
    """Return where a button of the page leads."""
    import re
    from html import unescape

    found = re.search(rf'href="([^"]+)">{label}</a>', visitor.html)
    assert found, f"no button '{label}' on the page"
    return unescape(found[1])


def test_an_overdue_pull_takes_two_taps(visitor, folder):
    assert "Overdue" in visitor.open("/")
    understood = visitor.open(link(visitor, "Pulled as planned"))
    assert "Pulled D from the tank on Mon 3 May 2027." in understood
    assert entries(folder) == []
    assert "Written down: Pulled D from the tank" in visitor.send("yes")
    (pull,) = entries(folder)
    assert (pull.kind, pull.stack, pull.on) == ("pull", "D", TODAY)


def test_a_soak_as_planned_has_the_planned_logs_and_hours(visitor, folder, now):
    now.later(days=1)
    visitor.open("/")
    visitor.open(link(visitor, "Soaked as planned"))
    assert "Put 24 logs of A into the tank on Tue 4 May 2027, for 24 h." in visitor.text
    visitor.send("yes")
    (soak,) = entries(folder)
    assert (soak.kind, soak.stack, soak.logs, soak.hours) == ("soak", "A", 24, 24.0)


def test_a_planned_soak_can_be_fixed_put_off_or_moved(visitor, folder):
    visitor.open("/")
    assert link(visitor, "Try another day") == "/try?stack=A"
    text = visitor.open(link(visitor, "Keep it on this day"))
    assert "The next soak of A is fixed for Tue 4 May 2027" in text and not entries(folder)
    assert "Written down: The next soak of A is fixed" in visitor.send("yes")
    (fix,) = entries(folder)
    assert (fix.kind, fix.stack, fix.into) == ("fix", "A", "2027-05-04")
    visitor.open("/")
    visitor.open(link(visitor, "Let the plan choose"))
    assert "A is released" in visitor.send("yes")
    visitor.open("/")
    visitor.open(link(visitor, "Not this time"))
    assert 'name="until" min="2027-05-03" value="2027-05-18"' in visitor.html
    assert "A is kept out of the tank until Thu 20 May 2027" in visitor.send(until="2027-05-20")
    visitor.send(form=0)
    assert "Cancelled:" in visitor.text
    visitor.open("/record/asked/hold?stack=A")
    assert "Until when?" in visitor.send(until="") and visitor.status == 422
    assert "no stack" in visitor.send(until="2027-05-20", stack="Q") and visitor.status == 422


def test_an_inspection_is_ticked_not_spelt(visitor, folder):
    visitor.open("/record/asked/inspect?stack=A")
    assert "What did you find on A?" in visitor.text and "Springy bark" in visitor.text
    assert "Tick what you saw" in visitor.send() and visitor.status == 422
    visitor.send(found=["white ends", "springy bark", "dull sound when knocked"], dead="2")
    assert "Written down: Inspected A" in visitor.text
    (found,) = entries(folder)
    assert (found.kind, found.stack, found.logs) == ("inspect", "A", 2)
    assert found.findings == ("white ends", "dead logs")
    assert found.note == "springy bark; dull sound when knocked"


def test_a_soak_sent_again_after_going_back_is_written_once(visitor, folder):
    for _ in range(2):
        visitor.open("/record/soak")
        visitor.send(stack="A", hours="24")
    assert visitor.status == 422 and "is written down already" in visitor.text
    visitor.send("yes")
    assert len(entries(folder)) == 1


def test_watering_as_advised_is_written_for_every_stack_or_none(visitor, folder, now):
    now.later(days=3)
    visitor.open("/")
    visitor.open(link(visitor, "Watered as advised"))
    assert "Watered B on Thu 6 May 2027" in visitor.text
    assert "Written down: Watered" in visitor.send("yes")
    assert sorted(event.stack for event in entries(folder)) == ["B", "H"]
    visitor.send(form=0)
    assert "Taken back: Watered B" not in visitor.text
    assert visitor.text.count("Cancelled: Watered") == 2
    assert not [e for e in in_force(read_events(folder / "diary.db")) if e.kind == "water"]


@pytest.mark.parametrize(
    ("units", "large", "small", "kg", "words"),
    [
        ("us", "2", "6", 2.375 * 0.45359237, "Picked 2 lb 6 oz from A"),
        ("us", "", "6.5", 6.5 / 16 * 0.45359237, "Picked 6.5 oz from A"),
        ("metric", "1,1", "", 1.1, "Picked 1.10 kg from A"),
        ("metric", "", "450", 0.45, "Picked 450 g from A"),
    ],
)
def test_a_pick_is_weighed_in_the_yard_s_units(tmp_path, units, large, small, kg, words):
    folder = write_site(tmp_path / "yard", units=units)
    visitor = Visitor(make_app(folder))
    visitor.open("/record/pick")
    visitor.send(stack="A", large=large, small=small, outlet="Café Fern", note="first of spring")
    assert f"Written down: {words} on Mon 3 May 2027, for Café Fern" in visitor.text
    (pick,) = entries(folder)
    assert pick.kg == pytest.approx(kg)
    assert (pick.outlet, pick.note) == ("Café Fern", "first of spring")


def test_a_sale_is_written_with_what_was_taken(visitor, folder):
    visitor.open("/record/pick")
    visitor.send(stack="A", large="3")
    visitor.open("/record")
    assert 'href="/record/sold"' in visitor.html
    visitor.open("/record/sold")
    assert "To which outlet?" in visitor.text
    visitor.send(large="2", paid="£26,40", outlet="Café Fern")
    assert "Sold 2 lb on Mon 3 May 2027, to Café Fern, for 26.40 (13.20 a lb)." in visitor.text
    sale = entries(folder)[-1]
    assert (sale.kind, sale.stack, sale.paid) == ("sold", "", 26.4)
    visitor.open("/record/sold")
    visitor.send("yes", large="1")
    assert entries(folder)[-1].paid is None


def test_a_yard_that_sells_nothing_is_offered_no_sale(tmp_path):
    folder = write_site(tmp_path / "yard")
    settings = (folder / "yard.toml").read_text()
    (folder / "yard.toml").write_text(settings.partition("[[outlet")[0])
    visitor = Visitor(make_app(folder))
    visitor.open("/record")
    assert "/record/pick" in visitor.html and "/record/sold" not in visitor.html


def test_a_pick_is_written_with_its_seconds_and_losses(visitor, folder):
    visitor.open("/record/pick")
    visitor.send(stack="A", large="2", second="4", lost="8", cause="rain-soaked")
    assert "of it 4 oz seconds, 8 oz rain-soaked" in visitor.text
    (pick,) = entries(folder)
    ounce = 0.45359237 / 16
    assert (pick.second_kg, pick.lost_kg) == pytest.approx((4 * ounce, 8 * ounce))
    assert pick.cause == "rain-soaked"
    visitor.open("/record/pick")
    visitor.send(stack="A", large="2", second="4", cause="slugs")
    assert entries(folder)[-1].cause == ""


@pytest.mark.parametrize("kind", ["pins", "fruiting", "water", "pull", "soak"])
def test_what_was_seen_or_done_yesterday(visitor, folder, kind):
    visitor.open(f"/record/{kind}")
    visitor.send(stack="D" if kind == "pull" else "A", day=YESTERDAY.isoformat())
    (event,) = entries(folder)
    assert (event.kind, event.on) == (kind, YESTERDAY)


def test_another_day_is_a_date(visitor, folder):
    visitor.open("/record/pins")
    visitor.send(stack="A", day="other", other_day="2027-04-25")
    assert entries(folder)[0].on == date(2027, 4, 25)


def test_the_whole_yard_is_watered_with_one_entry(visitor, folder):
    visitor.open("/record/water")
    visitor.send(stack=["*", "A"], depth="1/2 in")
    (water,) = entries(folder)
    assert (water.stack, water.mm) == ("", pytest.approx(12.7))


def test_the_rain_gauge_may_say_none(visitor, folder):
    visitor.open("/record/rain")
    visitor.send(depth="0")
    assert entries(folder)[0].mm == 0.0


def test_a_part_of_a_stack_in_water(visitor, folder):
    visitor.open("/record/soak")
    visitor.send(stack="A", logs="12", hours="12.5")
    assert (entries(folder)[0].logs, entries(folder)[0].hours) == (12, 12.5)


def test_lots_and_their_stack_can_be_chosen(visitor, folder):
    visitor.open("/record/pick")
    for name in ("H", "H/1", "H/2"):
        assert f'value="{name}"' in visitor.html
    visitor.send(stack="H", large="1")
    assert entries(folder)[0].stack == "H"


def test_the_unlikely_is_asked_and_written_when_confirmed(visitor, folder):
    visitor.open("/record/pick")
    visitor.send(stack="A", large="30")
    assert "Is this right?" in visitor.text
    assert "30 lb in this flush from 24 logs is 1 lb 4 oz a log, very much" in visitor.text
    assert entries(folder) == []
    visitor.send("yes")
    assert entries(folder)[0].kg == pytest.approx(30 * 0.45359237)


def test_what_is_refused_needs_a_yes_and_names_everything_against_it(visitor, folder):
    visitor.open("/record/soak")
    visitor.send(stack="D", hours="200")
    assert "D is already in the tank" in visitor.text
    assert "200 hours is a very long soak" in visitor.text
    assert "--yes" not in visitor.text
    assert entries(folder) == []


def test_the_impossible_is_never_written(visitor, folder):
    visitor.open("/record/soak")
    visitor.send("yes", stack="A", logs="0")
    assert visitor.status == 422
    assert "A soak of 0 logs is no soak" in visitor.text
    assert entries(folder) == []


def test_something_can_be_changed_before_it_is_written(visitor, folder):
    visitor.open("/record/pick")
    visitor.send(stack="A", large="30", note="from the north end")
    visitor.send("change")
    assert visitor.status == 200
    assert 'value="from the north end"' in visitor.html
    visitor.send(large="3")
    assert entries(folder)[0].kg == pytest.approx(3 * 0.45359237)


@pytest.mark.parametrize(
    ("kind", "fields", "fault"),
    [
        ("pick", {"stack": "A"}, "What weight?"),
        ("pick", {"large": "2"}, "Which stack?"),
        ("pick", {"stack": "A", "large": "two"}, "'two' is not a number of lb"),
        ("pick", {"stack": "A", "large": "-2"}, "'-2' is not a number of lb"),
        ("pick", {"stack": "A", "large": "1e9"}, "'1e9' is not a number of lb"),
        ("pick", {"stack": "A", "large": "2", "day": "other"}, "Which day?"),
        ("pick", {"stack": "A", "large": "2", "day": "7/3/2027"}, "can be read as two different"),
        ("pick", {"stack": "A", "large": "2", "lost": "33"}, "are more than the kg picked"),
        ("pick", {"stack": "A", "large": "2", "second": "some"}, "'some' is not a number of oz"),
        ("sold", {"large": "2", "paid": "a lot"}, "'a lot' is no sum of money"),
        ("pick", {"stack": "Z", "large": "2"}, "There is no stack 'Z'"),
        ("pick", {"stack": ["A", "B"], "large": "2"}, "one stack at a time"),
        ("soak", {"stack": "A", "logs": "1.5"}, "'1.5' is not a number of logs"),
        ("soak", {"stack": "A", "hours": "0"}, "needs more than 0 hours"),
        ("rain", {"depth": ""}, "How much rain"),
        ("rain", {"depth": "lots"}, "is not a rain"),
        ("pins", {"stack": "A", "note": "x" * 2001}, "at most 2000 are kept"),
    ],
)
def test_what_is_wrong_stands_at_its_field_and_nothing_is_lost(
    visitor, folder, kind, fields, fault
):
    visitor.open(f"/record/{kind}")
    visitor.send(**fields)
    assert visitor.status == 422
    assert fault in visitor.text
    assert "Nothing was written yet." in visitor.text
    if fields.get("large") == "2" and fields.get("stack") == "A":
        assert 'id="large" name="large"' in visitor.html and 'value="2"' in visitor.html
    assert entries(folder) == []


def test_a_future_pick_is_refused_and_says_why(visitor, folder):
    visitor.open("/record/pick")
    visitor.send(stack="A", large="1", other_day="2027-05-09")
    assert "Sun 9 May 2027 is still to come" in visitor.text
    assert entries(folder) == []


def test_a_form_handed_in_twice_is_written_once(visitor, folder):
    visitor.open("/record/pick")
    form = visitor.page
    visitor.send(stack="A", large="2")
    visitor.page = form
    assert "Written down: Picked 2 lb" in visitor.send(stack="A", large="2")
    assert len(entries(folder)) == 1


def test_undo_and_back_again(visitor, folder):
    visitor.open("/record/pick")
    visitor.send(stack="A", large="2")
    assert "Cancelled: Picked 2 lb from A" in visitor.send(form=0)
    assert not any(event.kg for event in in_force(entries(folder)))
    assert "Put back: Picked 2 lb from A" in visitor.send(form=0)
    assert [event.kind for event in in_force(entries(folder))] == ["pick"]
    text = visitor.open("/diary")
    assert text.count("Picked 2 lb from A") == 1 and "Taken back: Picked" not in text


def test_undo_from_the_diary_s_page(visitor, folder):
    visitor.open("/diary")
    assert "Put all logs of D into the tank on Fri 30 Apr 2027, for 36 h." in visitor.text
    visitor.send(form=0)
    assert "Cancelled: Put all logs of D into the tank" in visitor.text
    # What was taken back is one card, with the button that puts it back.
    text = visitor.open("/diary")
    assert "Taken back: Put all logs of D" in text and "Cancelled:" not in text
    visitor.send(form=0)
    assert "Put back: Put all logs of D" in visitor.text
    assert "Taken back:" not in visitor.open("/diary")


def test_undo_twice_cancels_once(visitor, folder):
    visitor.open("/record/pick")
    visitor.send(stack="A", large="2")
    page = visitor.page
    for _ in range(2):
        visitor.page = page
        assert "Cancelled: Picked 2 lb" in visitor.send(form=0)
    assert [event.kind for event in entries(folder)] == ["pick", "undo"]


def test_undo_of_nothing_is_refused(visitor, folder):
    visitor.open("/diary")
    visitor.send(form=0, entry="6f0f3c1e-0000-4000-8000-000000000000")
    assert "There is no such entry" in visitor.text
    assert entries(folder) == []


def test_anything_else_in_words(visitor, folder):
    visitor.open("/record/words")
    visitor.send(words="sold 5 lb to the café fern yesterday")
    assert "were on hand on Sun 2 May 2027" in visitor.text
    assert entries(folder) == []
    visitor.send("yes")
    (sold,) = entries(folder)
    assert (sold.kind, sold.outlet, sold.on) == ("sold", "Café Fern", YESTERDAY)


def test_the_page_asks_about_words_as_the_terminal_does(visitor, folder):
    for words, asked in (
        ("retire A", "That takes all logs of A out for good"),
        ("pick A 20 kg", "a log, very much. Is it right?"),
        ("fruiting AB", "There is no stack 'AB'. Is B meant?"),
    ):
        visitor.open("/record/words")
        visitor.send(words=words)
        assert asked in visitor.text, words
    visitor.open("/record/words")
    visitor.send(words="pick A 500")
    assert visitor.status == 422 and "'500' of what?" in visitor.text
    assert entries(folder) == []


def test_words_for_two_stacks_are_written_once(visitor, folder):
    visitor.open("/record/words")
    page = visitor.page
    for _ in range(2):
        visitor.page = page
        visitor.send(words="pins on A and B")
    assert [(e.kind, e.stack) for e in entries(folder)] == [("pins", "A"), ("pins", "B")]


def test_words_that_are_not_understood_stay_to_be_mended(visitor, folder):
    visitor.open("/record/words")
    visitor.send(words="picked A a lot")
    assert visitor.status == 422
    assert "What weight?" in visitor.text
    assert 'value="picked A a lot"' in visitor.html
    assert entries(folder) == []


def test_doubtful_words_are_asked(visitor, folder):
    visitor.open("/record/words")
    visitor.send(words="soaked D 200 h")
    assert "D is already in the tank" in visitor.text
    assert entries(folder) == []
    visitor.send("yes")
    assert entries(folder)[0].hours == 200


def test_what_was_left_aside_is_asked_on_the_page_and_written_when_confirmed(visitor, folder):
    visitor.open("/record/words")
    visitor.send(words="Nobbut 2 lb off A this morning")
    assert "'Nobbut' was left aside" in visitor.text and "'pick A 2 lb'" in visitor.text
    assert visitor.text.count("Picked 2 lb from A") == 1
    assert entries(folder) == []
    visitor.send("yes")
    assert [(e.kind, e.stack, e.note) for e in entries(folder)] == [("pick", "A", "Nobbut")]


def test_ready_stacks_are_inspected_in_words(visitor, folder, now):
    now.later(days=48)
    visitor.open("/")
    visitor.open(link(visitor, "Spawn run done"))
    visitor.send()
    assert entries(folder)[0].findings == ("spawn run done",)


@pytest.mark.parametrize("kind", ["stock", "undo", "<script>", "%2e%2e", "words2"])
def test_other_kinds_have_no_form(visitor, kind):
    visitor.open(f"/record/{kind}")
    assert visitor.status == 404


def test_turning_covering_and_inoculating_are_ticked_where_they_stand(tmp_path):
    folder = write_site(tmp_path / "yard")
    care = [
        {"stack": "H", "ordinal": 0, "from": "2027-05-03", "to": "2027-05-09", "what": "inoculate"},
        {"stack": "H", "ordinal": 11, "from": "2027-05-03", "to": "2027-05-03", "what": "turn"},
    ]
    rain = {"job": "cover", "stack": "A", "on": "2027-05-03", "until": "2027-05-04", "reason": "r"}
    publish_site(folder, plan(care=care, jobs=[rain]))
    visitor = Visitor(make_app(folder))
    for button, said in (
        ("Turned", "Turned and restacked H on Mon 3 May 2027."),
        ("Covered", "Covered A on Mon 3 May 2027."),
    ):
        visitor.open("/")
        visitor.open(link(visitor, button))
        assert said in visitor.text
        assert f"Written down: {said}" in visitor.send("yes")
    visitor.open("/")
    visitor.open(link(visitor, "Inoculated"))
    assert "Written down: Inoculated H" in visitor.send()
    visitor.open("/")
    assert "Done: Covered A" in visitor.text and "Keep A covered" not in visitor.text
    assert [event.kind for event in entries(folder)] == ["turn", "cover", "inoculate"]


def test_the_same_watering_from_two_phones_is_asked_about(visitor, folder):
    for _ in range(2):
        visitor.open("/record/water")
        visitor.send(stack="B", depth="1")
    assert "that is in the diary already" in visitor.text
    assert len(entries(folder)) == 1


def test_after_logs_were_found_dead_the_page_tells_how_many_are_left(visitor, folder):
    visitor.open("/record/words?words=inspect+A+2+dead&check=1")
    visitor.send("yes")
    (found,) = entries(folder)
    assert found.logs == 2 and "A now has" in visitor.text
    visitor.open("/record/words?words=retire+A+2+logs&check=1")
    assert "Are these 2 other ones" in visitor.text


def test_examples_name_the_yards_own_stacks_and_outlet(visitor, tmp_path):
    text = visitor.open("/record/words")
    yard = read_yard(tmp_path / "yard")
    assert f"pick {yard.stacks[0].name} 2 lb 6 oz" in text
    assert f"sold 5 lb {yard.outlets[0].name}" in text and "Bull" not in text
