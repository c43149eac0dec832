"""The diary on the command line: shown, taken out and in, restored, and its two tables."""

import csv
import io

from tests.cli.running import TODAY, contents, done, run, sample_yard


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


def test_the_diary_goes_out_and_in_unchanged(shared_demo, tmp_path):
    file = tmp_path / "diary.csv"
    ran = diary(shared_demo.folder, "export", file, "--json")
    assert ran.document == {"file": str(file), "entries": len(rows(file.read_text("utf-8-sig")))}
    other = sample_yard(tmp_path / "other")
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
