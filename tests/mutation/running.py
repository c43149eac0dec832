"""Run the tests that reach a damage, one forked process for each damage, all collected once."""

from __future__ import annotations

import contextlib
import json
import os
import resource
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from hypothesis import Phase, settings

from tests import worked_out
from tests.mutation.mutants import FOLDER, PACKAGES, Place, damaged
from tests.mutation.swapping import UnswappableError, swapped

TESTS = Path(__file__).parent.parent
PARTS = ("biology", "soaks", "reference", "forecast", "inoculation", "hindcast", "app")
"""Folders with tests that call the three packages in this process."""

MOST_SECONDS = 4.5
"""Processor time of the tests that one damage is put before, by the time each took with its lines
watched; about 3 s without. [s]"""
CUT_SECONDS = 20
"""Processor time after which a damage counts as an endless loop. [s]"""
WAIT_SECONDS = 180.0
"""The same by the clock, for one that waits. [s]"""


NOT_PUT = "not put in place"
"""What becomes of a damage that cannot be made in a running process; it counts as not killed."""


@dataclass(frozen=True)
class Reach:
    """What one test reaches by itself, and what it shares with others.

    Attributes
    ----------
    seconds : float
        Processor time with lines watched. [s]
    lines : dict of str to frozenset of int
        Lines of each module.
    shared : tuple of str
        What is made once for several tests: fixtures of a module, cached answers.
    """

    seconds: float
    lines: dict[str, frozenset[int]]
    shared: tuple[str, ...] = ()


@dataclass(frozen=True)
class Outcome:
    """What became of one damage.

    `verdict` is the test that killed it, or 'cut off', 'survived', 'not reached', `NOT_PUT`.
    """

    place: Place
    words: str
    verdict: str
    tests: int

    @property
    def killed(self) -> bool:
        return self.verdict not in ("survived", "not reached", NOT_PUT)


class Slow(BaseException):
    """A test took longer than any damage is given."""


class Watching:
    """Note the lines of the three packages that run."""

    def __init__(self) -> None:
        self.folders = tuple(str(FOLDER / name) + os.sep for name in PACKAGES)
        self.lines: dict[str, set[int]] = {}
        self.shared: dict[str, None] = {}

    def __call__(self, frame: FrameType, event: str, value: Any) -> Any:
        name = frame.f_code.co_filename
        if not name.startswith(self.folders):
            return None
        lines = self.lines.setdefault(name, set())

        def line(frame: FrameType, event: str, value: Any) -> Any:
            lines.add(frame.f_lineno)
            return line

        lines.add(frame.f_lineno)
        return line


class Running:
    """A pytest plugin: collects as ever, then does `work` in place of running the tests."""

    def __init__(self, work: Callable[[Running], None]) -> None:
        self.work = work
        self.items: dict[str, pytest.Item] = {}
        self.failed: list[str] = []
        self.found: dict[str, Reach] = {}
        self.inside = 0.0

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            raise session.Failed("the tests cannot be collected")
        self.items = {item.nodeid: item for item in session.items if "speed" not in item.nodeid}
        self.work(self)
        return True

    def run(self, names: Iterable[str]) -> str | None:
        """Run tests until one fails; returns the one that did."""
        chosen = [self.items[name] for name in names]
        for item, following in zip(chosen, [*chosen, None][1:], strict=True):
            self.failed.clear()
            item.ihook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.failed:
                return item.nodeid
        return None

    def reaches(self, names: Iterable[str]) -> dict[str, Reach]:
        """Run tests once and note what it reaches; those too slow or failing are left out.

        What tests share is in the answer too, under its own name.
        """

        def slow(number: int, frame: Any) -> None:
            raise Slow

        signal.signal(signal.SIGPROF, slow)
        self.share_caches()
        items = [self.items[name] for name in names]
        for item, following in zip(items, [*items, None][1:], strict=True):
            self.failed.clear()
            signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
            try:
                with self.watched(item.nodeid) as watching:
                    item.ihook.pytest_runtest_protocol(item=item, nextitem=following)
                    for name in fixtures_of(item):
                        if name in self.found:
                            watching.shared[name] = None
            except BaseException:
                self.failed.append(item.nodeid)
            finally:
                signal.setitimer(signal.ITIMER_PROF, 0)
            if self.failed:
                self.found.pop(item.nodeid, None)
        return self.found

    @contextlib.contextmanager
    def watched(self, name: str) -> Iterator[Watching]:
        """Note under a name what runs; what runs inside under another name is the other's."""
        watching, before, began = Watching(), sys.gettrace(), time.process_time()
        inside = self.inside
        self.inside = 0.0
        sys.settrace(watching)
        try:
            yield watching
        finally:
            sys.settrace(before)
            whole = time.process_time() - began
            own, self.inside = whole - self.inside, inside + whole
        lines = {path: frozenset(seen) for path, seen in watching.lines.items()}
        self.found[name] = Reach(own, lines, tuple(watching.shared))
        if isinstance(before, Watching):
            before.shared[name] = None

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: Any) -> Any:
        """Make what a module's tests share under its own name."""
        if fixturedef.scope == "function" or not isinstance(sys.gettrace(), Watching):
            return (yield)
        with self.watched(fixture_name(fixturedef)):
            return (yield)

    def share_caches(self) -> None:
        """Let the tests' own cached functions note that they are shared."""
        modules = [m for name, m in sys.modules.items() if name.startswith("tests.")]
        shared: dict[int, Any] = {}
        for module in modules:
            for name, value in list(vars(module).items()):
                if hasattr(value, "cache_info") and hasattr(value, "__wrapped__"):
                    if id(value) not in shared:
                        shared[id(value)] = self.sharing(value)
                    setattr(module, name, shared[id(value)])

    def sharing(self, function: Any) -> Any:
        def call(*args: Any, **options: Any) -> Any:
            name = f"{function.__module__}.{function.__qualname__}{args}{options}"
            if name in self.found:
                watching = sys.gettrace()
                if isinstance(watching, Watching):
                    watching.shared[name] = None
                return function(*args, **options)
            with self.watched(name):
                return function(*args, **options)

        return call

    def outcome(self, place: Place, reaches: dict[str, Reach]) -> Outcome:
        """Put one damage before the tests that reach it, in a process of its own."""
        names = reaching(place, reaches)

        def judge() -> dict[str, str | None]:
            resource.setrlimit(resource.RLIMIT_CPU, (CUT_SECONDS, CUT_SECONDS))
            try:
                with swapped(place) as words:
                    return {"words": words, "by": self.run(names)}
            except UnswappableError:
                return {"words": damaged(place)[1], "by": NOT_PUT}
            except Exception as error:
                return {"words": damaged(place)[1], "by": f"on import: {error!r}"}

        answer = forked(judge)
        if answer is None:
            return Outcome(place, "", "cut off", len(names))
        missed = "survived" if names else "not reached"
        return Outcome(place, answer["words"], answer["by"] or missed, len(names))


def reaching(place: Place, reaches: dict[str, Reach]) -> list[str]:
    """The tests that reach a damage, each kind in turn, quickest first, as the time allows."""
    path = str(place.path)
    wanted = set(range(place.first, place.last + 1))

    def touches(name: str) -> bool:
        lines = reaches[name].lines.get(path, frozenset())
        return bool(lines & wanted if place.function else lines)

    parts = {name: all_of(name, reaches) for name in reaches if "::test" in name}
    seconds = {name: sum(reaches[part].seconds for part in mine) for name, mine in parts.items()}
    able = [name for name, mine in parts.items() if any(map(touches, mine))]
    # Before a test has a second turn with other arguments every other one has had its first.
    turns: Counter[str] = Counter()
    order: list[tuple[int, float, str]] = []
    for name in sorted(able, key=lambda name: (seconds[name], name)):
        test = name.partition("[")[0]
        order.append((turns[test], seconds[name], name))
        turns[test] += 1
    taken: list[str] = []
    made: set[str] = set()
    spent = 0.0
    for _, _, name in sorted(order):
        more = sum(reaches[part].seconds for part in parts[name] - made)
        if spent + more <= MOST_SECONDS:
            spent += more
            taken.append(name)
            made |= parts[name]
    return taken


def all_of(name: str, reaches: dict[str, Reach]) -> set[str]:
    """A test and all that it shares, directly or not."""
    found, waiting = set(), [name]
    while waiting:
        one = waiting.pop()
        if one in reaches and one not in found:
            found.add(one)
            waiting += reaches[one].shared
    return found


def fixture_name(fixture: Any) -> str:
    return f"{fixture.baseid}:{fixture.argname}"


def fixtures_of(item: pytest.Item) -> list[str]:
    """The names of the fixtures that a test uses, its module's among them."""
    known = item._fixtureinfo.name2fixturedefs
    return [fixture_name(found[-1]) for found in known.values()]


def forked(work: Callable[[], Any], wait: float = WAIT_SECONDS) -> Any:
    """Return what a forked process makes of the work; None if it ends early or takes too long."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        hush()
        try:
            answer = json.dumps(work()).encode()
            with os.fdopen(writing, "wb") as pipe:
                pipe.write(answer)
        finally:
            os._exit(0)
    os.close(writing)
    alarm = signal.signal(signal.SIGALRM, lambda number, frame: os.kill(child, signal.SIGKILL))
    signal.setitimer(signal.ITIMER_REAL, wait)
    with os.fdopen(reading, "rb") as pipe:
        answer = pipe.read()
    os.waitpid(child, 0)
    signal.setitimer(signal.ITIMER_REAL, 0)
    signal.signal(signal.SIGALRM, alarm)
    return json.loads(answer) if answer else None


def hush() -> None:
    """Send what is printed nowhere."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)


def start(work: Callable[[Running], None]) -> None:
    """Collect the tests, then work with them."""
    worked_out.anew = True
    # The same examples each time, and none sought once one has failed.
    settings.register_profile(
        "mutation", deadline=None, derandomize=True, phases=[Phase.explicit, Phase.generate]
    )
    settings.load_profile("mutation")
    folders = [str(TESTS / name) for name in PARTS]
    options = ["-q", "-p", "no:cacheprovider", "--no-header", "--no-summary", "--capture=no"]
    with contextlib.redirect_stdout(sys.stderr):
        pytest.main([*options, *folders], plugins=[Running(work)])
