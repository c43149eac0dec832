"""Which mushrooms went where, and the year in one table."""

from __future__ import annotations

import csv
import io

import pytest

from fruitcast.diary.events import Event
from fruitcast.diary.sales import COLUMNS, label, traces
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.diary.tables import documents_csv, year_end
from tests.diary.diary_samples import TODAY, day, entry, stack, yard

PICKS = (
    entry("pick", "05-03", "A", kg=2.0),
    entry("pick", "05-04", "H/1", kg=1.0, outlet="Inn"),
    entry("pick", "05-05", "B", kg=2.0),
)


def traced(*events: Event, first: str = "05-01", last: str = "05-31", outlet: str | None = None):
    return [
        (t.on.isoformat()[5:], t.outlet, round(t.kg, 6), label(t.stack, t.picked_on), t.by)
        if t.picked_on
        else (t.on.isoformat()[5:], t.outlet, round(t.kg, 6), "", t.by)
        for t in traces(yard(saleable=1.0), {}, events, day(first), day(last), outlet)
    ]


def test_a_label_names_stack_and_day():
    assert label("H/1", day("05-04")) == "H/1-2027-05-04"


def test_a_sale_takes_the_oldest_but_not_what_was_picked_for_another():
    assert traced(*PICKS, entry("sold", "05-08", kg=3.0, outlet="Saturday market")) == [
        ("05-04", "Inn", 1.0, "H/1-2027-05-04", "picked for"),
        ("05-08", "Saturday market", 2.0, "A-2027-05-03", "oldest first"),
        ("05-08", "Saturday market", 1.0, "B-2027-05-05", "oldest first"),
    ]


def test_an_outlet_gets_first_what_was_picked_for_it():
    assert traced(*PICKS, entry("sold", "05-05", kg=1.5, outlet="Inn")) == [
        ("05-05", "Inn", 0.5, "A-2027-05-03", "oldest first"),
        ("05-05", "Inn", 1.0, "H/1-2027-05-04", "oldest first"),
    ]


def test_a_named_pick_is_taken_first():
    sale = entry("sold", "05-08", "B", kg=2.5, outlet="Inn", picked_on=day("05-05"))
    assert traced(*PICKS, sale, outlet="Inn") == [
        ("05-08", "Inn", 0.5, "H/1-2027-05-04", "oldest first"),
        ("05-08", "Inn", 2.0, "B-2027-05-05", "named"),
    ]


def test_more_sold_than_picked_shows_as_unknown():
    assert traced(entry("sold", "05-08", kg=0.4, outlet="Inn")) == [
        ("05-08", "Inn", 0.4, "", "oldest first")
    ]


def test_only_the_days_and_the_outlet_asked_for():
    events = (*PICKS, entry("sold", "05-08", kg=1.0, outlet="Saturday market"))
    assert len(traced(*events)) == 2
    assert len(traced(*events, first="05-05")) == 1
    assert len(traced(*events, last="05-07")) == 1
    assert traced(*events, outlet="Nobody") == []


def test_the_table_names_strain_and_tree():
    sale = entry("sold", "05-08", kg=1.0, outlet="=Inn")
    here = yard(saleable=1.0)
    lot_of = yard_state(here, PICKS, TODAY).lot_of
    text = documents_csv(COLUMNS, traces(here, lot_of, (*PICKS, sale), day("05-08"), day("05-08")))
    (row,) = csv.DictReader(io.StringIO(text.decode("utf-8-sig")))
    assert tuple(row) == COLUMNS
    assert row == {
        "date": "2027-05-08",
        "outlet": "'=Inn",
        "kg": "1.000",
        "label": "A-2027-05-03",
        "stack": "A",
        "picked_on": "2027-05-03",
        "strain_class": "wide-range",
        "strain": "all-round",
        "tree": "red oak",
        "by": "oldest first",
        "grade": "",
        "paid": "",
    }


YEAR = (
    entry("pick", "2026-10-01", "A", kg=9.0),  # another year
    entry("soak", "04-01", "A", hours=24.0),
    entry("pull", "04-02", "A"),
    entry("pick", "04-14", "A", kg=2.0),  # 12 days
    entry("pick", "04-16", "A", kg=1.0),
    entry("soak", "06-01", "A", hours=24.0),
    entry("pull", "06-02", "A"),
    entry("pick", "06-10", "A", kg=3.0),  # 8 days
    entry("soak", "09-01", "A", hours=24.0),  # bore nothing
    entry("pull", "09-02", "A"),
    entry("retire", "10-01", "A", logs=4),
    entry("pick", "10-20", "A", kg=0.6),  # by itself
    entry("pick", "05-20", "C", kg=1.2),
    entry("soak", "05-01", "H"),
    entry("pull", "05-02", "H"),
    entry("pick", "05-12", "H/1", kg=5.0),  # 10 days, the other lot bore nothing
)


def rows(*events: Event, **changes):
    here = yard(stacks=(stack("A"), stack("C", 12, tree="red maple"), stack("H", 100)), **changes)
    return {(row.group, row.name): row for row in year_end(here, events, 2027)}


def test_the_year_by_stack_class_strain_and_tree():
    table = rows(*YEAR)
    a = table["stack", "A"]
    assert (a.logs, a.soaks, a.soaks_picked) == (24, 3, 2)
    assert (a.forced_kg, a.natural_kg) == pytest.approx((6.0, 0.6))
    assert a.kg_per_log == pytest.approx(6.6 / 24)
    assert a.days_to_pick == 10.0
    h = table["stack", "H"]
    assert (h.logs, h.soaks, h.kg, h.days_to_pick) == (100, 2, 5.0, 10.0)
    oak = table["tree", "red oak"]
    assert (oak.logs, oak.kg) == (124, pytest.approx(11.6))
    assert oak.days_to_pick == pytest.approx((12 + 8 + 10) / 3)
    assert table["tree", "red maple"].natural_kg == 1.2
    assert table["tree", "red maple"].days_to_pick is None
    everything = table["all", "all"]
    for group in ("strain class", "strain"):
        (row,) = (row for (g, _), row in table.items() if g == group)
        assert (row.logs, row.kg) == (everything.logs, everything.kg) == (136, pytest.approx(12.8))


def test_a_split_stack_counts_logs_and_weight_once():
    table = rows(*YEAR, entry("split", "11-01", "A", logs=5, into="K"))
    assert table["stack", "A"].logs == 19
    assert table["stack", "K"].logs == 5
    assert table["stack", "K"].kg_per_log == pytest.approx(6.6 / 20)
    assert table["all", "all"].logs == 136
    assert table["all", "all"].kg == pytest.approx(12.8)


def test_a_year_without_anything_has_the_living_stacks_only():
    here = yard(stacks=(stack("A"), stack("Z", inoculated=day("2028-03-01"))))
    gone = entry("retire", "2026-05-01", "A")
    assert [row.name for row in year_end(here, (), 2027) if row.group == "stack"] == ["A"]
    assert year_end(here, (gone,), 2027) == []


def test_a_year_under_way_is_read_to_today():
    here = yard(stacks=(stack("A"),))
    table = {row.group: row for row in year_end(here, YEAR, 2027, today=day("05-01"))}
    assert table["stack"].kg == pytest.approx(3.0)
