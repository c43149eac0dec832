"""The notebooks: kept without outputs, and run from top to bottom in under four minutes."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest

from tests.requires import need

FOLDER = Path(__file__).parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_SECONDS = 240


def read(path: Path) -> dict[str, Any]:
    found = json.loads(path.read_text(encoding="utf-8"))
    assert isinstance(found, dict)
    return found


def test_there_is_one_for_each_subject():
    assert [path.stem for path in NOTEBOOKS] == [
        "1_first_plan",
        "2_how_the_model_works",
        "3_does_it_help",
        "4_five_years",
        "5_dry_summer_late_frost_heat_wave",
        "6_which_numbers_matter",
    ]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_nothing_that_was_run_is_kept(path: Path):
    notebook = read(path)
    assert notebook["metadata"].keys() == {"kernelspec", "language_info"}
    for cell in notebook["cells"]:
        assert cell["metadata"] == {}
        if cell["cell_type"] == "code":
            assert cell["outputs"] == [] and cell["execution_count"] is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_each_begins_with_its_title_and_explains_every_few_cells(path: Path):
    kinds = [cell["cell_type"] for cell in read(path)["cells"]]
    first = "".join(read(path)["cells"][0]["source"])
    assert kinds[0] == "markdown" and first.startswith("# ")
    assert "codecodecodecode" not in "".join(kinds)


@pytest.mark.long
def test_all_run_from_top_to_bottom_in_under_four_minutes():
    nbformat, nbclient = need("nbformat"), need("nbclient")
    need("ipykernel")
    seconds = {}
    for path in NOTEBOOKS:
        notebook = nbformat.read(path, as_version=4)
        begun = time.monotonic()
        nbclient.NotebookClient(notebook, timeout=MOST_SECONDS, kernel_name="python3").execute()
        seconds[path.stem] = time.monotonic() - begun
        drawn = [
            output
            for cell in notebook.cells
            for output in cell.get("outputs", ())
            if "image/png" in output.get("data", {})
        ]
        assert drawn, f"{path.name} shows no figure"
    print({name: round(taken) for name, taken in seconds.items()})
    assert sum(seconds.values()) < MOST_SECONDS, seconds
