"""The pages that change yard.toml and stacks.csv: what was written by hand stays as it was."""

from __future__ import annotations

import csv
import random
import re
import threading
import tomllib
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

from fruitcast.app.change_fields import SECTIONS, in_units, numbers_section, shown_values
from fruitcast.app.checking import check_yard
from fruitcast.cli import main
from fruitcast.yard.reading import read_yard
from tests.web.sites import DIARY, Visitor, forms_of, make_app

TODAY = date(2027, 5, 3)

PLAIN = """\
# Larkspur Hollow, kept by Ann since 2019
name = "Larkspur Hollow"   # the old name was longer
units = "metric"
#promise = 0.8

[site]
latitude = 42.4
longitude = -76.6  # by the map
elevation_m = 320
timezone = "America/New_York"

[weather]
file = "weather.csv"
#years = 30

[soaking]
# the long bath leaks
days = [
  "Tue",  # before work
  "fri",
]
tank_logs = 60
start = "08:30"
# rest_days = 70  # uncle's advice
hours_a_day = { Tue = 3, other = 1 } # with help

[[outlet]]
name = "Saturday market"
day = "saturday"
target_kg = 6.35 # never more
from = "05-15"
to = "10-30"

# the café pays late
[[outlet]]
name = "Café Fern"
day = "Thu"
target_kg = 2

[[closed]]
outlet = "Café Fern"
on = 2027-07-01   # wedding

[[away]]
from = 2027-07-04
to = 2027-07-10

#[costs]
# what Bill takes
#log = 2

[numbers]
"work.soak_hours_per_log" = 0.04
"""

DENSE = """\
name='Larkspur Hollow'\r
units = 'us'\r
site = {latitude=42.4, longitude=-76.6, elevation_ft=1050, timezone="America/New_York"} # hill\r
weather.file="weather.csv"\r
weather.years = 12 # since the station moved\r
outlet = [\r
  {name="Saturday market", day="Sat", target_lb=14}, # the big one\r
  # and the small one\r
  {name="Fern", day="Thu", target_lb=4.5},\r
]\r
[soaking]\r
days = "Tue, Fri"    # ours\r
tank_logs=60\r
[numbers.work]\r
soak_hours_per_log = 0.04 # timed\r
"""

STACKS = """\
# Ann's list
stack , strain_class,strain,tree,logs,diameter_cm,length_cm,inoculated,spawn,Row by,note
A,  wide-range ,,red oak, 24,12.7,102,2025-04-12,sawdust,Ann,"north, shady"
B,warm-weather,,sugar maple,20,12.7,102,2025-04-19,sawdust,Bill,
# C came from the ridge
C,cold-weather,,white oak,30,12.7,102,2025-03-22,sawdust,"Ann",
D,wide-range,,red maple,24,12.7,102,2024-04-06,sawdust,,

Total,,,,98,,,,,,
"""

SEMICOLONS = """\
sep=;\r
stack;logs;strain_class;tree;diameter_in;length_in;inoculated;spawn;bearing_since;Reihe;note\r
A;24;wide-range;red oak;5;40;2025-04-12;sawdust;;1;"a ""good"" one"\r
B;20;warm-weather;sugar maple;"4,5";40;2025-04-19;plug;2026;2;\r
C;30;cold-weather;white oak;5;40;2025-03-22;sawdust;;3\r
D;24;wide-range;red maple;5;40;2024-04-06;sawdust;;4;Stra\xdfe\r
"""

YARDS = {
    "plain": (PLAIN.encode(), STACKS.encode()),
    "dense, windows": (b"\xef\xbb\xbf" + DENSE.encode(), SEMICOLONS.encode("windows-1252")),
    "mixed line ends": (
        PLAIN.replace("\n\n", "\r\n\r\n").encode(),
        STACKS.replace("sawdust,Ann", "sawdust,Zoé").replace("\nB", "\r\nB").encode("windows-1252"),
    ),
}


def write_yard(folder: Path, which: str) -> Path:
    from fruitcast.diary.book import Diary
    from tests.web.sites import NOON

    folder.mkdir()
    settings, stacks = YARDS[which]
    (folder / "yard.toml").write_bytes(settings)
    (folder / "stacks.csv").write_bytes(stacks)
    (folder / "weather.csv").write_text("date,tmin,tmax,rain\n2027-05-02,8,18,0\n")
    with Diary(folder / "diary.db") as diary:
        diary.add(DIARY, NOON - timedelta(days=2))
    return folder


@pytest.fixture(params=YARDS)
def by_hand(request, tmp_path) -> Path:
    return write_yard(tmp_path / "yard", request.param)


@pytest.fixture
def plain(tmp_path) -> Path:
    return write_yard(tmp_path / "yard", "plain")


def lines_of(data: bytes) -> list[bytes]:
    return re.findall(rb"[^\r\n]*(?:\r\n|\n|\r)|[^\r\n]+$", data)


def comments_of(data: bytes) -> Counter[str]:
    """Return the comments of a TOML or CSV text; none of the texts here has '#' in a value."""
    text = data.decode("utf-8", errors="replace")
    return Counter(found.strip() for found in re.findall(r"#[^\r\n]*", text))


def gone(before: bytes, after: bytes) -> list[bytes]:
    """Return the lines, with their ends, that are there no more."""
    left = Counter(lines_of(after))
    found = []
    for line in lines_of(before):
        if left[line]:
            left[line] -= 1
        else:
            found.append(line)
    return found


NUMBERS = {
    "site.latitude": (40, 45),
    "site.longitude": (-78, -74),
    "site.shade": (0.5, 0.9),
    "cold_store.days": (4, 14),
    "watering.keep_above": (0.31, 0.4),
    "picking.saleable": (0.6, 1),
    "promise": (0.6, 0.9),
    "soaking.rest_days": (49, 90),
    "weather.years": (5, 40),
    "weight": (1, 3),
}


def drawn(name: str, kind: str, options: tuple[str, ...], draw: random.Random) -> str:
    """Return something that may stand in a field."""
    if kind in ("choice", "yes or no"):
        return draw.choice([*options, *(("yes", "no") if kind != "choice" else ())])
    if kind == "days":
        return ",".join(draw.sample(["Mon", "Tue", "Wed", "Thu", "Fri"], draw.randint(1, 4)))
    if kind == "weekday":
        return draw.choice(["Mon", "Wed", "Sat"])
    if kind == "hours":
        return draw.choice(["2.5", "4", "Mon 2, other 1,5"])
    if kind == "lots":
        return draw.choice(["12", "whole"])
    if kind == "span":
        return f"{draw.randint(3, 6):02}-{draw.randint(1, 28):02}"
    if name == "soaking.start":
        return draw.choice(["07:15", "09:00"])
    if name in ("soaking.first", "soaking.last"):
        return draw.choice(["03-15", "11-01"])
    low, high = NUMBERS.get(name, (1, 60))
    whole = name.rpartition(".")[2] in ("tank_logs", "days", "years", "places", "rest_days")
    return str(draw.randint(int(low), int(high)) if whole else round(draw.uniform(low, high), 2))


SKIPPED = {"name", "site.timezone", "weather.file", "weather.station", "units", "weather.contact"}
"""Fields for which a drawn value would mean another yard, or two sources of weather."""
NEEDED = {"site.latitude", "site.longitude", "soaking.days", "soaking.tank_logs", "day"}


def edit_settings(visitor: Visitor, folder: Path, draw: random.Random) -> None:
    """Change one field of one form, and look that nothing else has changed."""
    before = (folder / "yard.toml").read_bytes()
    raw = tomllib.loads(before.decode("utf-8-sig"))
    section = draw.choice((*SECTIONS[:6], numbers_section()))
    path, row = f"/change/{section.name}", raw
    if section.repeated:
        at = draw.randrange(len(raw[section.name]))
        path, row = f"{path}/{at}", raw[section.name][at]
    fields = in_units(section, row, raw["units"]).fields
    field = draw.choice([each for each in fields if each.name not in SKIPPED])
    visitor.open(path)
    if section.name == "numbers":
        found = re.search(r"Ours is ([\d.]+)", field.hint)
        value = f"{float(found[1]) * 1.01:.4g}" if found else ""
    else:
        value = drawn(field.name, field.kind, field.options, draw)
    if draw.random() < 0.25 and field.name not in NEEDED and "target" not in field.name:
        value = ""
    other = {"from": "to", "to": "from"}.get(field.name)
    given = {field.name: value.split(",") if field.kind == "days" else value}
    if other and not shown_values(section, row)[other]:
        other = None
    visitor.send(**given)
    assert visitor.status == 200, (field.name, value, visitor.text[:400])
    after = (folder / "yard.toml").read_bytes()
    key = (field.name.removeprefix("numbers.")).rpartition(".")[2]
    own = [line for line in gone(before, after) if key.encode() not in line]
    if "." in field.name:  # a table in one line
        own = [
            line for line in own if not line.startswith(f"{field.name.split('.')[0]} = {{".encode())
        ]
    if field.kind == "days":  # an array of several lines
        own = [line for line in own if not re.search(rb'"(Tue|fri)"|^\]', line)]
    header = rf"#\s?\[{section.name if '.' not in field.name else field.name.split('.')[0]}\]"
    assert [line for line in own if not re.match(header.encode(), line)] == []
    # A line that is unset is a comment now, and its own comment the end of that.
    lost = [c for c in comments_of(before) - comments_of(after) if c.encode() not in after]
    example = rf"#\s?{key}\s*=.*|{header}"
    assert [comment for comment in lost if not re.fullmatch(example, comment)] == []
    # The page shows what was given, and what the terminal reads is the same.
    visitor.open(path)
    said = tomllib.loads(after.decode("utf-8-sig"))
    there = said[section.name][at] if section.repeated else said
    shown = shown_values(in_units(section, there, raw["units"]), there)
    wanted = ",".join(sorted(value.split(","), key=["Mon", "Tue", "Wed", "Thu", "Fri"].index)) if (
        field.kind == "days"
    ) else value.replace("1,5", "1.5")  # fmt: skip
    assert shown[field.name] == (wanted.removesuffix(".0") if field.kind == "number" else wanted)
    sent = dict(forms_of(visitor.html)[-1][1])
    assert sent[f"was.{field.name}"] == shown[field.name]


def add_and_remove(visitor: Visitor, folder: Path, draw: random.Random) -> None:
    """Add days away and take them out again."""
    before = (folder / "yard.toml").read_bytes()
    first = TODAY + timedelta(days=draw.randint(10, 300))
    days = {"from": str(first), "to": str(first + timedelta(days=draw.randint(0, 9)))}
    visitor.open("/change/away/new")
    visitor.send(**days)
    between = (folder / "yard.toml").read_bytes()
    away = read_yard(folder).away
    number = next(at for at, each in enumerate(away) if str(each.first) == days["from"])
    assert (str(away[number].first), str(away[number].last)) == (days["from"], days["to"])
    assert gone(before, between) == [] and comments_of(before) == comments_of(between)
    if draw.random() < 0.5:
        visitor.open(f"/change/away/{number}")
        visitor.send("remove")
        after = (folder / "yard.toml").read_bytes()
        assert len(read_yard(folder).away) == len(away) - 1
        assert gone(before, after) == [] and comments_of(before) == comments_of(after)


def edit_stack(visitor: Visitor, folder: Path, draw: random.Random) -> None:
    """Change one cell of one stack, and look that no other has changed."""
    before = (folder / "stacks.csv").read_bytes()
    stack = draw.choice([each.name for each in read_yard(folder).stacks])
    column, value = draw.choice(
        [
            ("logs", str(draw.randint(1, 90))),
            ("note", draw.choice(["moved, once", "", 'the "old" ones', "plain"])),
            ("spawn", draw.choice(["plug", "thimble", "sawdust"])),
            ("tree", draw.choice(["white oak", "red oak", "beech"])),
            ("inoculated", f"2025-04-{draw.randint(1, 28):02}"),
        ]
    )
    visitor.open(f"/change/stack?name={stack}")
    visitor.send(**{column: value})
    assert visitor.status == 200, visitor.text[:400]
    after = (folder / "stacks.csv").read_bytes()
    lost = gone(before, after)
    assert len(lost) <= 1 and all(line.startswith(stack.encode()) for line in lost)
    assert len(lines_of(before)) == len(lines_of(after))
    read = next(each for each in read_yard(folder).stacks if each.name == stack)
    assert str(getattr(read, column)) == value
    assert foreign_cells(before) == foreign_cells(after)


def foreign_cells(data: bytes) -> list[str]:
    """Return what stands in the grower's own column."""
    text = data.decode("windows-1252")
    rows = [line for line in text.splitlines() if not line.startswith(("#", "sep=")) and line]
    table = list(csv.reader(rows, delimiter=";" if ";" in rows[0] else ","))
    own = next(at for at, name in enumerate(table[0]) if name in ("Row by", "Reihe"))
    return [row[own] if own < len(row) else "" for row in table]


def add_stack(visitor: Visitor, folder: Path, draw: random.Random) -> None:
    before = (folder / "stacks.csv").read_bytes()
    name = f"N{draw.randint(1, 10**6)}"
    visitor.open("/change/stack")
    size = "cm" if b"_cm" in before else "in"
    cells = {"stack": name, "strain_class": "wide-range", "tree": "red oak", "logs": "12"}
    cells |= {f"diameter_{size}": "12" if size == "cm" else "5", "inoculated": "2026-04-01"}
    visitor.send(**cells, **{f"length_{size}": "100" if size == "cm" else "40"}, spawn="plug")
    assert visitor.status == 200, visitor.text[:400]
    after = (folder / "stacks.csv").read_bytes()
    assert gone(before, after) == [] and len(lines_of(after)) == len(lines_of(before)) + 1
    assert read_yard(folder).stacks[-1].name == name


EDITS: tuple[Callable[[Visitor, Path, random.Random], None], ...] = (
    *(edit_settings, edit_settings, edit_settings),
    *(add_and_remove, edit_stack, edit_stack, add_stack),
)


@pytest.mark.parametrize(
    "seed", [0, *(pytest.param(n, marks=pytest.mark.long) for n in range(1, 10))]
)
def test_random_edits_leave_all_else_as_it_was_written(by_hand, seed):
    draw = random.Random(seed)
    visitor = Visitor(make_app(by_hand))
    for _ in range(7):  # in 3 yards: 21 edits, in the long tests 210
        draw.choice(EDITS)(visitor, by_hand, draw)
    checked = check_yard(by_hand, TODAY)
    assert checked.faults == []


def test_a_slip_is_told_beside_its_field_and_nothing_is_written(plain):
    visitor, before = Visitor(make_app(plain)), (plain / "yard.toml").read_bytes()
    visitor.open("/change/soaking")
    visitor.send(**{"soaking.tank_logs": "sixty", "soaking.rest_days": "20"})
    assert visitor.status == 422
    assert "'sixty' is not a number" in visitor.text
    visitor.send(**{"soaking.tank_logs": "60", "soaking.rest_days": "20"})
    assert re.search(
        r'id="soaking.rest_days"[^>]*aria-invalid="true"[^>]*fault-soaking.rest_days', visitor.html
    )
    assert "20 is out of range. Give a number from 49 to 200 days." in visitor.text
    assert (plain / "yard.toml").read_bytes() == before and not (plain / "earlier").exists()


def test_a_form_handed_in_twice_changes_once(plain):
    visitor = Visitor(make_app(plain))
    for path, fields in (
        ("/change/away/new", {"from": "2027-08-01", "to": "2027-08-09"}),
        ("/change/outlet/new", {"name": "Stall", "day": "Wed", "target_kg": "3"}),
    ):
        visitor.open(path)
        action, given = forms_of(visitor.html)[-1]
        given = [(name, value) for name, value in given if name not in fields] + list(
            fields.items()
        )
        visitor.post(action, given)
        visitor.post(action, given)
        assert visitor.status == 200 and "nothing had to change" in visitor.text
    yard = read_yard(plain)
    assert len(yard.away) == 2 and [each.name for each in yard.outlets].count("Stall") == 1


def test_of_two_at_once_the_later_sees_what_the_earlier_changed(plain):
    ann, bill = Visitor(make_app(plain)), Visitor(make_app(plain))
    ann.open("/change/soaking")
    bill.open("/change/soaking")
    ann.send(**{"soaking.tank_logs": "50", "soaking.days": ["Mon"]})
    text = bill.send(**{"soaking.tank_logs": "70", "soaking.start": "07:00"})
    assert bill.status == 422
    assert "Somebody else has changed this meanwhile: it says 50 now." in text
    assert "it says Mon now" in text
    assert read_yard(plain).soaking.tank_logs == 50
    # What he wrote is still in the form, what he left alone is hers; a second time it is written.
    shown = dict(forms_of(bill.html)[-1][1])
    assert (shown["soaking.tank_logs"], shown["soaking.start"]) == ("70", "07:00")
    assert shown["soaking.days"] == "Mon"
    bill.send()
    soaking = read_yard(plain).soaking
    assert (soaking.tank_logs, soaking.days, str(soaking.start)) == (70, (0,), "07:00:00")
    # Other fields of the same file are nobody's concern: both stand.
    ann.open("/change/care")
    bill.open("/change/soaking")
    ann.send(**{"cold_store.days": "8"})
    bill.send(**{"soaking.tank_logs": "65"})
    assert (read_yard(plain).soaking.tank_logs, read_yard(plain).cold_store_days) == (65, 8)


def test_two_at_one_stack_and_a_market_taken_out_meanwhile(plain):
    ann, bill = Visitor(make_app(plain)), Visitor(make_app(plain))
    ann.open("/change/stack?name=B")
    bill.open("/change/stack?name=B")
    ann.send(logs="18")
    assert "it says 18 now" in bill.send(logs="19", note="counted")
    bill.send()
    stack = next(each for each in read_yard(plain).stacks if each.name == "B")
    assert (stack.logs, stack.note) == (19, "counted")
    # The first market goes while the second is being changed: its change finds it all the same.
    ann.open("/change/outlet/0")
    bill.open("/change/outlet/1")
    ann.send("remove")
    bill.send(target_kg="3")
    assert [(each.name, each.target_kg) for each in read_yard(plain).outlets] == [("Café Fern", 3)]
    # One that is gone can't be changed any more.
    ann.open("/change/away/0")
    bill.open("/change/away/0")
    ann.send("remove")
    assert "not there any more" in bill.send(to="2027-07-12") and bill.status == 422
    assert read_yard(plain).away == ()


def test_the_version_before_is_put_back_byte_for_byte(by_hand):
    visitor, before = Visitor(make_app(by_hand)), (by_hand / "yard.toml").read_bytes()
    visitor.open("/change/soaking")
    visitor.send(**{"soaking.tank_logs": "44"})
    changed = (by_hand / "yard.toml").read_bytes()
    assert "Changed." in visitor.text and changed != before
    visitor.send(form=0)
    assert (by_hand / "yard.toml").read_bytes() == before
    visitor.open("/change/earlier")
    assert visitor.html.count("Take this change back") == 2
    visitor.send(form=0)
    assert (by_hand / "yard.toml").read_bytes() == changed


def test_one_change_is_taken_back_and_what_came_later_stays(plain):
    visitor = Visitor(make_app(plain))
    visitor.open("/change/outlet/0")
    visitor.send(target_kg="9")
    visitor.open("/change/away/new")
    visitor.send(**{"from": "2027-07-15", "to": "2027-07-20"})
    visitor.open("/change/care")
    visitor.send(**{"cold_store.days": "8"})
    target = read_yard(plain).outlets[0].target_kg
    visitor.open("/change/earlier")
    visitor.send(form=2)
    yard = read_yard(plain)
    assert target == 9 and yard.outlets[0].target_kg != 9
    assert yard.away[-1].last == date(2027, 7, 20) and yard.cold_store_days == 8
    assert "was 9" in visitor.text and "away" not in visitor.text.split("Put it back")[0].lower()


def test_a_change_under_a_later_one_is_left_and_said(plain):
    visitor = Visitor(make_app(plain))
    for logs in ("44", "50"):
        visitor.open("/change/soaking")
        visitor.send(**{"soaking.tank_logs": logs})
    visitor.open("/change/earlier")
    assert "changed later stands in the same place" in visitor.send(form=1)
    assert visitor.status == 422 and read_yard(plain).soaking.tank_logs == 50
    visitor.open("/change/earlier")
    visitor.send(form=0)
    visitor.open("/change/earlier")
    visitor.send(form=2)
    assert read_yard(plain).soaking.tank_logs == 60


def test_putting_back_overwrites_nothing_that_came_after(plain):
    ann, bill = Visitor(make_app(plain)), Visitor(make_app(plain))
    ann.open("/change/soaking")
    ann.send(**{"soaking.tank_logs": "44"})
    bill.open("/change/care")
    bill.send(**{"cold_store.days": "8"})
    assert "Somebody has changed the yard since you opened this page" in ann.send(form=0)
    assert read_yard(plain).cold_store_days == 8


@pytest.mark.parametrize(
    "file", ["../secret.csv", "/etc/passwd", ".serve.json", "C:x.csv", "link.csv", "a\\b.csv", ".."]
)
def test_no_file_outside_the_yard_can_be_named(plain, file):
    (plain.parent / "secret.csv").write_text("date,tmin,tmax,rain\n2027-05-02,1,2,3\n")
    (plain / "link.csv").symlink_to(plain.parent / "secret.csv")
    visitor, before = Visitor(make_app(plain)), (plain / "yard.toml").read_bytes()
    visitor.open("/change/weather")
    visitor.send(**{"weather.file": file})
    assert visitor.status == 422 and "only a file in the yard's own folder" in visitor.text.lower()
    assert (plain / "yard.toml").read_bytes() == before


@pytest.mark.parametrize("version", ["", "../yard.toml", "20270503-160000-diary.db", "x"])
def test_only_versions_that_are_kept_are_put_back(plain, version):
    visitor = Visitor(make_app(plain))
    visitor.open("/change/care")
    visitor.send(**{"cold_store.days": "8"})
    visitor.send(form=0, version=version)
    assert visitor.status == 422 and "not kept any more" in visitor.text
    assert read_yard(plain).cold_store_days == 8


def test_a_stack_that_the_diary_knows_keeps_name_and_row(plain):
    visitor, before = Visitor(make_app(plain)), (plain / "stacks.csv").read_bytes()
    visitor.open("/change/stack?name=A")
    assert "Take it out" not in visitor.text and "retire" in visitor.html
    visitor.send(stack="Z")
    assert visitor.status == 422 and "so it keeps its name" in visitor.text
    visitor.open("/change/stack?name=A")
    visitor.send("remove")
    assert visitor.status == 422 and "Retire it in the diary" in visitor.text
    assert (plain / "stacks.csv").read_bytes() == before
    visitor.open("/change/stack?name=C")
    visitor.send("remove")
    assert [each.name for each in read_yard(plain).stacks] == ["A", "B", "D"]
    assert "# C came from the ridge" in (plain / "stacks.csv").read_text()


def test_a_stack_of_conifers_is_refused_on_the_page(plain):
    visitor, before = Visitor(make_app(plain)), (plain / "stacks.csv").read_bytes()
    visitor.open("/change/stack?name=C")
    visitor.send(tree="Norway spruce")
    assert visitor.status == 422 and "is a conifer, and shiitake is grown on" in visitor.text
    assert (plain / "stacks.csv").read_bytes() == before


def test_a_yard_with_a_fault_can_be_mended_on_the_page(plain):
    settings = plain / "yard.toml"
    settings.write_text(settings.read_text().replace("tank_logs = 60", "tank_logs = 0"))
    visitor = Visitor(make_app(plain))
    assert "No plan can be made until this is mended" in visitor.open("/change")
    visitor.open("/change/soaking")
    visitor.send(**{"soaking.tank_logs": "62"})
    assert visitor.status == 200 and read_yard(plain).soaking.tank_logs == 62


def test_a_file_that_is_no_toml_any_more_is_put_back(plain):
    visitor, settings = Visitor(make_app(plain)), plain / "yard.toml"
    visitor.open("/change/soaking")
    visitor.send(**{"soaking.tank_logs": "62"})
    settings.write_text(settings.read_text() + "oh no\n")
    assert "Mend it on the page" in visitor.open("/")
    assert "Put an earlier version back" in visitor.open("/change")
    visitor.open("/change/earlier")
    visitor.send(form=0)
    assert read_yard(plain).soaking.tank_logs == 60
    assert "This week" in visitor.open("/")


def test_what_a_check_doubts_is_shown_after_saving(plain):
    visitor = Visitor(make_app(plain))
    visitor.open("/change/stack?name=B")
    visitor.send(diameter_cm="45")
    assert "diameter_cm 45 is unusual for a log" in visitor.text
    assert "diameter_cm 45 is unusual for a log" in " ".join(check_yard(plain, TODAY).warnings)


@pytest.mark.parametrize(
    "path", ["/change/nothing", "/change/outlet", "/change/outlet/9", "/change/outlet/x",
             "/change/soaking/0", "/change/outlet/-1", "/change/outlet/99999999999"],
)  # fmt: skip
def test_there_is_no_page_for_what_is_not_there(plain, path):
    visitor = Visitor(make_app(plain))
    visitor.open(path)
    assert visitor.status == 404


NASTY = (
    '"]\n[[outlet]]\nname = "x',
    "a\r\nunits = 'us'",
    '"""',
    "'''",
    "\\u0041 \\",
    "<script>alert(1)</script>",
    "{{ 7 * 7 }}",
    "# no comment",
    "=1+1",
    "é 木 🍄",
)


# How a file is written and what is typed hang together in quotes, line ends and letters alone.
TYPED = [
    pytest.param(
        *(which, text),
        marks=[] if which == "plain" or text in (*NASTY[:2], NASTY[-1]) else pytest.mark.long,
    )
    for which in YARDS
    for text in NASTY
]


@pytest.mark.parametrize(("by_hand", "text"), TYPED, indirect=["by_hand"])
def test_whatever_is_typed_stays_one_value(by_hand, text):
    visitor = Visitor(make_app(by_hand))
    visitor.open("/change/yard")
    visitor.send(name=text)
    assert visitor.status == 200, visitor.text
    yard = read_yard(by_hand)
    assert yard.name == " ".join(text.split()) and len(yard.outlets) == 2
    assert "<script>alert" not in visitor.html and "49" not in visitor.text
    visitor.open("/change/stack?name=B")
    visitor.send(note=text)
    told = {each.name: each.note for each in read_yard(by_hand).stacks}
    # A file that is not in UTF-8 has no sign for some letters: that is told, and nothing written.
    if visitor.status == 422:
        assert "not in UTF-8" in visitor.text and told["B"] == ""
    else:
        assert told["B"] == " ".join(text.split()) and list(told) == ["A", "B", "C", "D"]


def test_many_saving_at_once_lose_nothing(plain):
    fields = {
        "/change/soaking": "soaking.tank_logs",
        "/change/care": "cold_store.days",
        "/change/numbers": "numbers.yield.rest_time",
    }
    app = make_app(plain)
    failed = []

    def keep_saving(path: str, field: str) -> None:
        visitor = Visitor(app)
        for value in range(23, 27):
            visitor.open(path)
            visitor.send(**{field: str(value)})
            if visitor.status != 200:
                failed.append(visitor.text)

    threads = [threading.Thread(target=keep_saving, args=each) for each in fields.items()]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    yard = read_yard(plain)
    assert (yard.soaking.tank_logs, yard.cold_store_days) == (26, 26)
    assert yard.numbers["yield.rest_time"] == 26
    assert len(list((plain / "earlier").iterdir())) == 12


def test_what_was_changed_is_said_as_one_would_say_it(plain):
    visitor = Visitor(make_app(plain))
    visitor.open("/change/stack?name=A")
    visitor.send(logs="20")
    assert "Changed. A: 20 logs, was 24." in visitor.text
    visitor.open("/change/soaking")
    visitor.send(**{"soaking.tank_logs": "44"})
    assert "Logs that fit the tank at one time: 44, was 60." in visitor.text
    visitor.open("/change/away/new")
    visitor.send(**{"from": "2027-05-15", "to": "2027-05-20"})
    assert "Days away, new: 15 to 20 May 2027." in visitor.text
    visitor.open("/change/away/1")
    visitor.send(to="2027-05-21")
    assert "2027-05-15: last day 2027-05-21, was 2027-05-20." in visitor.text
    visitor.open("/change/away/1")
    visitor.send("remove")
    assert "Days away, taken out: 15 to 21 May 2027." in visitor.text
    text = visitor.open("/change/earlier")
    assert "A: 20 logs, was 24." in text
    assert not re.search(r"\b(Out|In): |stacks\.csv|\[\[", text)


def test_one_day_away_is_given_once_and_dates_have_their_picker(plain):
    visitor = Visitor(make_app(plain))
    visitor.open("/change/away/new")
    assert visitor.html.count('type="date"') == 2
    visitor.send(**{"from": "2027-05-24"})
    away = read_yard(plain).away[-1]
    assert (away.first, away.last) == (date(2027, 5, 24), date(2027, 5, 24))
    visitor.open("/change/away/new")
    text = visitor.send(**{"from": "2027-05-24", "to": "2027-05-17"})
    assert "2027-05-24 lies after the last day, 2027-05-17" in text


def test_why_a_stack_can_not_be_taken_out_is_said(plain):
    visitor = Visitor(make_app(plain))
    assert "Take it out" in visitor.open("/change/stack?name=C")
    text = visitor.open("/change/stack?name=A")
    assert "Take it out" not in text and "so it can't be taken out" in text


def test_what_a_row_does_not_say_of_its_logs_stands_on_the_page(plain):
    rows = (plain / "stacks.csv").read_text(encoding="utf-8")
    names = [stack.name for stack in read_yard(plain).stacks]
    visitor = Visitor(make_app(plain))
    visitor.open("/change")
    assert "live by the diary" not in visitor.text and "fit the tank at once" not in visitor.text
    tank = min(stack.logs for stack in read_yard(plain).stacks) - 1
    visitor.open("/change/soaking")
    visitor.send(**{"soaking.tank_logs": str(tank)})
    visitor.open("/change")
    assert f"{names[0]}: " in visitor.text and "are more than fit the tank at once" in visitor.text
    assert f"{names[0]}/1 and {names[0]}/2" in visitor.text
    logs = read_yard(plain).stacks[0].logs
    day = ["--today", TODAY.isoformat()]
    assert (
        main(["--yard", str(plain), *day, "record", "inspect", names[0], "2", "dead", "--yes"]) == 0
    )
    visitor.open("/change")
    assert f"{names[0]}: {logs} logs stand here, of which {logs - 2} live" in visitor.text
    assert (plain / "stacks.csv").read_text(encoding="utf-8") == rows
