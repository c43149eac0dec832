"""The diary on the command line: shown, taken out and in, restored, and its two tables."""

import csv
import io
from datetime import UTC, date, datetime

import pytest

from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from tests.cli.running import TODAY, Terminal, contents, done, run
from tests.yards import write_yard


def diary(yard, *words):
    return run("--yard", yard, "--today", TODAY, "diary", *words)


def rows(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_show_lists_the_last_entries_in_words(shared_demo):
    ran = diary(shared_demo.folder, "show", "--last", 5, "--json")
    assert len(ran.document["entries"]) == 5
    words = diary(shared_demo.folder, "show", "--last", 5).out.splitlines()
    assert [line.split()[0] for line in words] == [
        entry["uuid"][:8] for entry in ran.document["entries"]
    ]


def test_show_of_one_stack(shared_demo):
    document = diary(shared_demo.folder, "show", "--stack", "C", "--last", 1000, "--json").document
    assert document["entries"]
    assert {entry["stack"] for entry in document["entries"]} == {"C"}


def test_an_empty_diary_shows_that_it_is(yard):
    assert diary(yard, "show").out == "Nothing is written down yet.\n"
    assert not (yard / "diary.db").exists()


def test_entries_of_later_days_are_left_out_and_told_of(yard):
    with Diary(yard / "diary.db") as book:
        days = [date(2027, 6, 1), date(2027, 7, 2)]
        book.add([Event("note", on, note="seen") for on in days], datetime(2027, 7, 2, tzinfo=UTC))
    told = "Left out: 2 entries of later days, up to Fri 2 Jul 2027. --today 2027-07-02 shows them."
    assert diary(yard, "show").out == f"{told}\n"
    answer = diary(yard, "show", "--json").document
    assert (answer["entries"], answer["later"], answer["last_on"]) == ([], 2, "2027-07-02")
    between = run("--yard", yard, "--today", "2027-06-01", "diary", "show").out.splitlines()
    assert len(between) == 2 and between[1].startswith("Left out: 1 entry of later days")
    assert "Left out" not in run("--yard", yard, "--today", "2027-07-02", "diary", "show").out


def test_the_diary_goes_out_and_in_unchanged(shared_demo, tmp_path):
    file = tmp_path / "diary.csv"
    ran = diary(shared_demo.folder, "export", file, "--json")
    assert ran.document == {"file": str(file), "entries": len(rows(file.read_text("utf-8-sig")))}
    other = write_yard(tmp_path / "other", diary=False)
    assert diary(other, "import", file, "--json").document["entries"] == ran.document["entries"]
    again = tmp_path / "again.csv"
    diary(other, "export", again)
    assert again.read_bytes() == file.read_bytes()
    before = contents(other)
    twice = diary(other, "import", file)
    assert twice.code == 1 and "is in the diary already" in twice.err
    assert contents(other) == before


def test_the_diary_may_go_to_standard_output_but_not_beside_json(shared_demo, tmp_path):
    file = tmp_path / "diary.csv"
    diary(shared_demo.folder, "export", file)
    ran = diary(shared_demo.folder, "export", "-")
    assert ran.out == file.read_bytes().decode("utf-8-sig")
    assert diary(shared_demo.folder, "export", "-", "--json").code == 2


def test_a_file_that_is_no_diary_is_refused(demo, tmp_path):
    before = contents(demo)
    for file in (demo / "weather.csv", tmp_path / "none.csv"):
        ran = diary(demo, "import", file)
        assert ran.code == 1 and file.name in ran.err
    assert contents(demo) == before


def test_a_damaged_diary_names_the_command_that_restores_it(demo):
    done("--yard", demo, "--today", TODAY, "record", "note", "one more")
    (demo / "diary.db").write_bytes(b"not a database at all" * 100)
    for name in ("diary.db-wal", "diary.db-shm"):
        (demo / name).unlink(missing_ok=True)
    ran = run("--yard", demo, "--today", TODAY, "week")
    assert ran.code == 1 and "'fruitcast diary restore'" in ran.err
    restored = diary(demo, "restore", "--json")
    assert restored.code == 0, restored.err
    assert restored.document["set_aside"].endswith("diary.set-aside-1.db")
    assert diary(demo, "show").code == 0


def test_a_diary_that_is_whole_is_not_taken_back_without_a_question(demo):
    done("--yard", demo, "--today", TODAY, "record", "note", "one more")
    before = diary(demo, "show").out
    for stdin in (None, Terminal("n\n")):
        ran = run("--yard", demo, "--today", TODAY, "diary", "restore", stdin=stdin)
        assert ran.code == 1 and "diary.db is whole" in ran.err and "Nothing was changed" in ran.err
        assert ("--yes" in ran.err) == (stdin is None)
        assert diary(demo, "show").out == before
        assert not (demo / "diary.set-aside-1.db").exists()
    answered = run("--yard", demo, "--today", TODAY, "diary", "restore", stdin=Terminal("y\n"))
    assert answered.code == 0 and (demo / "diary.set-aside-1.db").exists()
    assert diary(demo, "restore", "--yes").code == 0


def test_sales_tell_which_pick_went_where(demo, tmp_path):
    for words in (["pick", "C", "3 lb"], ["sold", "2 lb", "Saturday market"]):
        done("--yard", demo, "--today", TODAY, "record", *words, "--yes")
    table = tmp_path / "sales.csv"
    ran = diary(demo, "sales", "--from", "2027-05-01", "--json", "-o", table)
    assert (ran.document["from"], ran.document["to"]) == ("2027-05-01", TODAY)
    sold = ran.document["sales"]
    assert sum(row["kg"] for row in sold) == 0.90718474 or len(sold) > 1
    assert all(row["outlet"] == "Saturday market" and row["label"] for row in sold)
    written = rows(table.read_text("utf-8-sig"))
    assert [row["label"] for row in written] == [row["label"] for row in sold]
    assert "Saturday market" in diary(demo, "sales").out
    assert diary(demo, "sales", "--outlet", "Inn", "--json").document["sales"] == []
    assert diary(demo, "sales", "--from", "2027-06-01", "--to", "2027-05-01").code == 1


def test_the_year_adds_up_in_every_grouping(shared_demo, tmp_path):
    table = tmp_path / "year.csv"
    document = diary(shared_demo.folder, "year", 2026, "--json", "-o", table).document
    assert document["year"] == 2026
    totals = {}
    for row in document["rows"]:
        totals[row["group"]] = totals.get(row["group"], 0.0) + row["kg"]
    assert set(totals) == {"stack", "strain class", "strain", "tree", "all"}
    assert max(totals.values()) - min(totals.values()) < 1e-9
    assert len(rows(table.read_text("utf-8-sig"))) == len(document["rows"])
    words = diary(shared_demo.folder, "year", 2026).out
    assert "By stack" in words and "By strain class" in words


def test_a_season_goes_out_without_names(shared_demo, tmp_path):
    file = tmp_path / "season.csv"
    ran = diary(shared_demo.folder, "export", file, "--without-names", "--year", 2026, "--json")
    written = rows(file.read_text("utf-8-sig"))
    assert ran.document == {"file": str(file), "entries": len(written)} and written
    assert {row["date"][:4] for row in written} == {"2026"}
    names = {entry["stack"] for entry in all_entries(shared_demo.folder)} - {""}
    assert not names & {row["stack"] for row in written}
    shown = diary(shared_demo.folder, "export", "-", "--without-names", "--year", 2026).out
    assert rows(shown) == written
    told = " ".join(diary(shared_demo.folder, "export", file, "--without-names").out.split())
    assert "of 2027 written to" in told and "Look it through before you send it." in told


def all_entries(folder):
    return diary(folder, "show", "--last", 1000, "--json").document["entries"]


def test_a_year_without_leaving_names_out_is_refused(shared_demo, tmp_path):
    ran = diary(shared_demo.folder, "export", tmp_path / "x.csv", "--year", 2026)
    assert ran.code == 2 and "--without-names" in ran.err and not (tmp_path / "x.csv").exists()


def recorded(yard, *entries):
    with Diary(yard / "diary.db") as written:
        written.add(entries, datetime(2027, 5, 4, 12, tzinfo=UTC))


def test_sales_tell_what_each_outlet_brought(demo):
    on = date.fromisoformat(TODAY)
    recorded(
        demo,
        Event("sold", on, kg=2.0, paid=44.0, outlet="Saturday market"),
        Event("sold", on, kg=1.0, outlet="Saturday market"),
    )
    ran = diary(demo, "sales", "--from", TODAY, "--json").document
    assert sum(row["paid"] or 0.0 for row in ran["sales"]) == pytest.approx(44.0)
    (brought,) = ran["takings"]
    assert (brought["kg"], brought["told_kg"], brought["paid"]) == (3.0, 2.0, 44.0)
    assert brought["price_per_kg"] == pytest.approx(22.0)
    words = " ".join(diary(demo, "sales", "--from", TODAY).out.split())
    assert "Takings" in words and "44.00 for 4 lb 6.5 oz of 6 lb 9.8 oz, 9.98 a lb" in words


def test_what_was_lost_is_said_of_stacks_and_year(demo):
    on = date.fromisoformat(TODAY)
    recorded(demo, Event("pick", on, "C", kg=2.0, lost_kg=1.0, cause="slugs"))
    said = "Of what you picked so far 50% was good (slugs 50%), so the plan counts on 80%"
    assert said in " ".join(diary(demo, "year").out.split())
    assert diary(demo, "year", "--json").document["losses"].startswith(said)
    shown = run("--yard", demo, "--today", TODAY, "stacks", "--json")
    assert shown.document["losses"].startswith(said)


def test_a_trace_sheet_follows_each_pick(demo, tmp_path):
    on = date.fromisoformat(TODAY)
    recorded(
        demo,
        Event("pick", on, "C", kg=2.0, second_kg=0.2, by="Wren"),
        Event("sold", on, kg=1.0, outlet="Inn", stack="C", picked_on=on),
    )
    file = tmp_path / "trace.csv"
    ran = diary(demo, "trace", "--from", TODAY, "-o", file, "--json").document
    written = rows(file.read_text("utf-8-sig"))
    assert len(written) == len(ran["picks"]) and "not proof" in ran["note"]
    mine = [row for row in written if row["stack"] == "C"]
    assert {row["picked_by"] for row in mine} == {"Wren"}
    assert {row["pick"] for row in mine} == {f"C-{TODAY}"}
    assert sum(float(row["kg"]) for row in mine) == pytest.approx(2.0)
    assert ("sold", "Inn") in {(row["went"], row["to"]) for row in mine}
    assert all(row["tree"] and row["inoculated"] and row["soaked_on"] for row in mine)
    page = tmp_path / "trace.html"
    diary(demo, "trace", "--from", TODAY, "-o", page)
    html = page.read_text("utf-8")
    assert html.startswith("<!DOCTYPE html>") and html.count("<tr>") == 1 + len(ran["picks"])
    assert f"C-{TODAY}" in html and "sold to Inn" in html and "not proof" in html
    told = " ".join(diary(demo, "trace", "--from", TODAY).out.split())
    assert "to Inn" in told and "not proof that they meet a rule" in told
    assert diary(demo, "trace", "--from", "2027-06-01", "--to", TODAY).code == 1
