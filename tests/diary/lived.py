"""A yard that planned, soaked and picked for some months, so that it can be told how well."""

from __future__ import annotations

import json
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from fruitcast.diary.book import Diary
from tests.diary.diary_samples import entry

ZONE = ZoneInfo("America/New_York")
FIRST = date(2026, 6, 1)


def live_through(folder: Path) -> Path:
    """Write six soaks of A, each told 12 and 3 days before its middle day.

    The last comes 3 days late.
    """
    with Diary(folder / "diary.db") as diary:
        for number in range(6):
            soak = FIRST + timedelta(days=40 * number)
            for ahead, kg in ((2, 4.0), (-7, 3.0)):
                made = soak - timedelta(days=ahead)
                middle = soak + timedelta(days=10)
                picks = [str(middle + timedelta(days=days)) for days in (-2, 0, 2)]
                plan = {
                    "today": str(made),
                    "promise": 0.8,
                    "soaks": [
                        {
                            "stack": "A",
                            "logs": 24,
                            "soak_on": str(soak),
                            "hours": 24.0,
                            "pull_on": str(soak + timedelta(days=1)),
                            "pick": dict(zip(("p10", "p50", "p90"), picks, strict=True)),
                            "expected_kg": kg,
                            "reasons": [],
                        }
                    ],
                }
                diary.save_document("plan", made, json.dumps(plan))
            now = datetime(2027, 3, 1, 12, tzinfo=ZONE)
            picked = soak + timedelta(days=13 if number == 5 else 10)
            diary.add(
                [
                    entry("soak", str(soak), "A", logs=24, hours=24.0),
                    entry("pull", str(soak + timedelta(days=1)), "A"),
                    entry("pick", str(picked), "A", kg=2.0),
                ],
                now,
            )
    return folder
