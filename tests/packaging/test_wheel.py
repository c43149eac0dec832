"""The wheel holds the package and the sample yard, all of them, and nothing else."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from email import message_from_bytes
from pathlib import Path
from zipfile import ZipFile

import pytest

from fruitcast import __version__
from tests.requires import need

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
METADATA = f"fruitcast-{__version__}.dist-info"
NEEDED = {
    "fruitcast/numbers.toml",
    "fruitcast/outputs/templates/report.html",
    "fruitcast/outputs/templates/report.css",
    "fruitcast/web/templates/today.html",
    "fruitcast/web/static/style.css",
    "fruitcast/web/static/page.js",
    "fruitcast/web/static/worker.js",
    "fruitcast/web/static/icon-192.png",
    "fruitcast/sample_data/yard.toml",
    "fruitcast/sample_data/stacks.csv",
    "fruitcast/sample_data/weather.csv",
    "fruitcast/sample_data/diary.csv",
}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> dict[str, bytes]:
    """The wheel's files by name, built without the network."""
    need("hatchling")
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True, timeout=120)
    (file,) = folder.iterdir()
    with ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def sources() -> dict[str, bytes]:
    """Return what belongs into it, by its name there."""
    found = {}
    for folder, under in (("fruitcast", "fruitcast"), ("sample_data", "fruitcast/sample_data")):
        for file in (ROOT / folder).rglob("*"):
            if file.is_file() and "__pycache__" not in file.parts:
                name = f"{under}/{file.relative_to(ROOT / folder).as_posix()}"
                found[name] = file.read_bytes()
    return found


def test_it_holds_every_file_of_package_and_sample_as_it_is_and_no_other(wheel):
    expected = sources()
    held = {name: data for name, data in wheel.items() if not name.startswith(f"{METADATA}/")}
    assert sorted(held) == sorted(expected)
    assert [name for name, data in held.items() if data != expected[name]] == []
    assert NEEDED - held.keys() == set()


def test_nothing_but_code_and_known_kinds_of_data_slips_in(wheel):
    endings = {Path(name).suffix for name in wheel if not name.startswith(f"{METADATA}/")}
    assert endings == {".py", ".toml", ".html", ".css", ".js", ".json", ".svg", ".png", ".csv"}
    tests = [name for name in wheel if "test" in name or "conftest" in name]
    assert tests == []
    assert sum(map(len, wheel.values())) < 4_000_000


def test_what_it_says_of_itself_is_what_the_project_says(wheel):
    said = message_from_bytes(wheel[f"{METADATA}/METADATA"])
    assert said["Name"] == "fruitcast" and said["Version"] == __version__
    assert said["Requires-Python"] == PROJECT["requires-python"]
    needs = [line for line in said.get_all("Requires-Dist", []) if "extra ==" not in line]
    assert len(needs) == len(PROJECT["dependencies"])
    assert b"fruitcast = fruitcast.cli:main" in wheel[f"{METADATA}/entry_points.txt"]
    assert sorted(name for name in wheel if name.startswith(METADATA)) == [
        f"{METADATA}/{name}" for name in ("METADATA", "RECORD", "WHEEL", "entry_points.txt")
    ]
