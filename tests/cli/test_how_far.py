"""What is told of work that takes long: how far it is, when it will be done, and only to who waits.

Documents on standard output stay whole whatever is told beside them.
"""

from __future__ import annotations

import pytest

from fruitcast.cli import session
from fruitcast.cli.session import HowFar, duration_words
from tests.cli.running import TODAY, Ran, done
from tests.inoculation.yards import few_scenarios
from tests.yards import small_yard


class Clock:
    """A clock that is put on by hand. [s]"""

    def __init__(self) -> None:
        self.seconds = 100.0

    def __call__(self) -> float:
        return self.seconds


@pytest.fixture
def clock() -> Clock:
    return Clock()


def test_time_left_is_what_the_rest_takes_at_the_pace_so_far(clock: Clock) -> None:
    shown = HowFar(clock=clock)
    shown("reading")
    assert shown.words() == "reading ..."
    shown("years", 0, 10)
    assert shown.words() == "years: 0 of 10"
    clock.seconds += 60
    shown("years", 2, 10)
    assert shown.words() == "years: 2 of 10, about 4 min left"  # 30 s each, 8 to go
    clock.seconds += 30
    assert shown.words() == "years: 2 of 10, about 4 min left"  # 210 s
    clock.seconds += 120
    assert shown.words() == "years: 2 of 10, about 2 min left"  # 90 s
    clock.seconds += 500
    assert shown.words() == "years: 2 of 10, about 5 s left"
    shown("years", 10, 10)
    assert shown.words() == "years: 10 of 10"


def test_what_was_kept_from_before_tells_nothing_of_the_pace(clock: Clock) -> None:
    shown = HowFar(clock=clock)
    shown("years", 0, 20)
    clock.seconds += 0.1
    shown("years", 15, 20)
    clock.seconds += 40
    shown("years", 16, 20)
    assert shown.words() == "years: 16 of 20, about 3 min left"


def test_another_piece_of_work_has_its_own_pace(clock: Clock) -> None:
    shown = HowFar(clock=clock)
    shown("soak days", 0, 3)
    clock.seconds += 300
    shown("soak days", 2, 3)
    shown("logs", 0, 3)
    assert shown.words() == "logs: 0 of 3"
    clock.seconds += 10
    shown("logs", 1, 3)
    assert shown.words() == "logs: 1 of 3, about 20 s left"


def test_where_no_line_can_be_written_over_one_comes_now_and_then(clock: Clock) -> None:
    lines: list[str] = []
    shown = HowFar(lines.append, clock)
    shown("searching")
    clock.seconds += 20
    shown("still searching")
    for second in range(41):
        shown("years", second, 50)
        clock.seconds += 1
    assert lines == [
        "years: 0 of 50",
        "years: 15 of 50, about 35 s left",
        "years: 30 of 50, about 20 s left",
    ]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (1, "5 s"),
        (42, "40 s"),
        (58, "1 min"),
        (150, "2 min"),
        (3500, "58 min"),
        (3590, "1 h"),
        (7900, "2 h 10 min"),
        (86400, "24 h"),
    ],
)
def test_a_guess_is_told_as_one(seconds: float, words: str) -> None:
    assert duration_words(seconds) == words


@pytest.fixture
def talkative(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session, "LINE_EVERY", 0.0)


LONG = {
    "hindcast": ["hindcast", "--years", "1", "--weeks", "4", "--processes", "1"],
    "worth": ["plan", "--worth", "--weeks", "6"],
    "inoculation": ["inoculation", "--years", "1", "--for", "Village shop=1 lb"],
}
TOLD = {
    "hindcast": ("seasons lived through, as the planner believes: 0 of 1", "1 of 1"),
    "worth": ("trying one more soak day: 0 of 5", "trying ten more logs of each kind: 0 of"),
    "inoculation": ("weighing logs against sales: 0 of 8", "weighing whole logs: 7 of 8"),
}


@pytest.mark.parametrize("name", LONG)
def test_a_long_command_tells_how_far_it_is_beside_its_document(name, tmp_path, talkative) -> None:
    with few_scenarios():
        ran: Ran = done(
            "--yard", small_yard(tmp_path / "y"), "--today", TODAY, *LONG[name], "--json"
        )
    assert ran.document
    assert all(words in ran.err for words in TOLD[name]), ran.err
