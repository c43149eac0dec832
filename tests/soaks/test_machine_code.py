"""The search's machine code: compiled once, kept, taken up without the compiler."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from fruitcast.soaks import machine_code
from fruitcast.soaks.search import MENDING, Search
from tests.soaks.instances import small_problem

SEARCHED = """
import sys
from pathlib import Path
from fruitcast.soaks import machine_code
from fruitcast.soaks.search import QUICK, Search
from tests.soaks.instances import small_problem

machine_code._SOURCE = Path(sys.argv[1]) / "annealing.py"
told = []
plan = Search(small_problem(5), QUICK, progress=told.append).run()
print(plan)
print(machine_code.PREPARING in told, "numba" in sys.modules, len(machine_code.complaints()))
"""


def searched(package: Path, cache: Path) -> list[str]:
    """Return the plan and how it came about, in a process of its own."""
    source = Path(machine_code.__file__).with_name("annealing.py").read_bytes()
    package.mkdir(exist_ok=True)
    (package / "annealing.py").write_bytes(source)
    places = {"XDG_CACHE_HOME": str(cache), "FRUITCAST_CACHE": ""}
    ran = subprocess.run(
        [sys.executable, "-c", SEARCHED, str(package)],
        env={**os.environ, **places},
        capture_output=True,
        text=True,
        check=True,
    )
    return ran.stdout.splitlines()


@pytest.mark.long  # the search is compiled anew
def test_what_was_compiled_is_taken_up_without_the_compiler(tmp_path: Path) -> None:
    first = searched(tmp_path / "package", tmp_path / "cache")
    assert first[1] == "True True 0"
    again = searched(tmp_path / "package", tmp_path / "cache")
    assert again == [first[0], "False False 0"]
    assert len(list((tmp_path / "package" / "__pycache__").iterdir())) == 1


@pytest.mark.long
def test_with_no_place_to_keep_it_the_plan_is_made_and_it_is_said(tmp_path: Path) -> None:
    """A file stands where each folder would be: nobody can write there, not even root."""
    (tmp_path / "package").mkdir()
    (tmp_path / "package" / "__pycache__").touch()
    (tmp_path / "cache").touch()
    plan, told = searched(tmp_path / "package", tmp_path / "cache")
    assert told == "True True 1"
    assert plan.startswith("((")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FRUITCAST_CACHE", str(tmp_path / "named"))
    return tmp_path / "named"


def test_the_folder_named_is_the_first(folder: Path) -> None:
    machine_code._keep("a" * 64, b"code")
    assert [file.parent for file in folder.iterdir()] == [folder]
    assert machine_code._kept("a" * 64) == b"code"


@pytest.mark.parametrize(
    "damage", [lambda held: held[:-1], lambda held: b"", lambda held: held[1:]]
)
def test_a_file_that_is_not_whole_is_not_taken_up(folder: Path, damage) -> None:  # type: ignore[no-untyped-def]
    machine_code._keep("a" * 64, b"code")
    (file,) = folder.iterdir()
    file.write_bytes(damage(file.read_bytes()))
    assert machine_code._kept("a" * 64) is None


def test_a_file_of_another_make_is_not_taken_up(folder: Path) -> None:
    machine_code._keep("a" * 64, b"code")
    assert machine_code._kept("a" * 16 + "b" * 48) is None


def test_of_two_that_want_it_at_once_one_compiles(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(machine_code, "_taken_up", {})
    plan = Search(small_problem(5), MENDING).run()
    (key,) = machine_code._taken_up
    code = machine_code._kept(key)
    compiled, both_want_it = [], threading.Barrier(2, timeout=30)

    def compile_slowly(given: Any) -> bytes | None:
        compiled.append(given)
        time.sleep(0.1)
        return code

    monkeypatch.setattr(machine_code, "_compiled", compile_slowly)
    monkeypatch.setattr(machine_code, "_folders", lambda: [tmp_path / "cache"])
    machine_code._taken_up.clear()

    def want(_: int) -> object:
        def told(words: str) -> None:
            if words == machine_code.PREPARING:
                both_want_it.wait()

        return Search(small_problem(5), MENDING, progress=told).run()

    take_up = machine_code._take_up

    def take_up_slowly(code: bytes) -> tuple[int, Any]:
        taken_up = take_up(code)
        both_want_it.wait()
        return taken_up

    class Once(dict[str, Any]):
        def __setitem__(self, key: str, taken_up: Any) -> None:
            assert key not in self, "what one thread calls was taken away by the other"
            super().__setitem__(key, taken_up)

    monkeypatch.setattr(machine_code, "_take_up", take_up_slowly)
    monkeypatch.setattr(machine_code, "_taken_up", Once())
    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(want, range(2))) == [plan, plan]
    assert len(compiled) == 1
    assert [file.suffix for file in (tmp_path / "cache").iterdir()] == [".o"]
