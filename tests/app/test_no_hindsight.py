"""Nothing is known from after today, neither of weather nor of the diary."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from fruitcast.app.planning import plan_yard
from fruitcast.diary.book import Diary
from fruitcast.diary.events import Event
from fruitcast.weather.table import write_weather_csv
from tests.weather.invented import invented_weather, sample_weather
from tests.yards import write_yard

TODAY = date(2027, 5, 3)


def plan(folder: Path):
    document = plan_yard(folder, TODAY, weeks=8).document.plain()
    files = {path.name: path.read_bytes() for path in (folder / "out").iterdir()}
    return document, files


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory):
    """The plan from what is known on the day."""
    return plan(write_yard(tmp_path_factory.mktemp("known") / "yard"))


def test_weather_rows_after_today_change_nothing(known, tmp_path):
    folder = write_yard(tmp_path / "yard")
    longer = invented_weather(date(2006, 1, 1), date(2027, 12, 31), seed=2)
    assert (longer.cut(longer.start, TODAY).rain == sample_weather().rain).all()
    write_weather_csv(longer, folder / "weather.csv")
    document, files = plan(folder)
    notes = [note for note in document["warnings"] if "or later" in note]
    assert len(notes) == 1 and "left out" in notes[0]
    document["warnings"] = [note for note in document["warnings"] if note not in notes]
    assert document == known[0]
    for name in ("plan.csv", "calendar.ics"):
        assert files[name] == known[1][name]


def test_the_same_rows_marked_as_forecast_do_change_the_plan(known, tmp_path):
    """Or else the test above would show nothing."""
    folder = write_yard(tmp_path / "yard")
    text = (folder / "weather.csv").read_text(encoding="utf-8").splitlines()
    rows = [f"{text[0]},source", *(f"{row},observed" for row in text[1:])]
    rows += [f"2027-05-{day:02d},17,29,{30 if day == 6 else 0},forecast" for day in range(3, 15)]
    (folder / "weather.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    document, _ = plan(folder)
    assert document["soaks"] != known[0]["soaks"]


def test_diary_entries_dated_after_today_change_nothing(known, tmp_path):
    folder = write_yard(tmp_path / "yard")
    later = [
        Event("soak", date(2027, 5, 4), "B", hours=24.0),
        Event("pick", date(2027, 5, 9), "C", kg=3.0),
        Event("rain", date(2027, 5, 3), mm=40.0),
        Event("retire", date(2027, 6, 1), "A"),
    ]
    with Diary(folder / "diary.db") as diary:
        diary.add(later, datetime(2027, 6, 2, tzinfo=UTC))
        diary.save_document("plan", date(2027, 6, 2), '{"today": "2027-06-02", "soaks": []}')
    assert plan(folder) == known
