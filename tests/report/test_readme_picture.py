"""The picture at the README's top is what the code draws today."""

from pathlib import Path

import numpy as np
from matplotlib.image import imread

from fruitcast.outputs.report_parts import ReportData
from tests.report.readme_picture import PICTURE, save

MOST_DIFFERENT = 0.04
"""Share of points that may differ: other versions of fonts and libraries move edges a little."""


def test_the_readmes_picture_is_made_by_the_code(data: ReportData, tmp_path: Path):
    readme = (PICTURE.parents[1] / "README.md").read_text(encoding="utf-8")
    assert f"]({PICTURE.parent.name}/{PICTURE.name})" in readme[:1000]
    save(data, tmp_path / "anew.png")
    kept, anew = imread(PICTURE), imread(tmp_path / "anew.png")
    again = "'python -m tests.report.readme_picture' makes it anew"
    assert kept.shape == anew.shape, again
    different = np.abs(kept[..., :3] - anew[..., :3]).max(axis=2) > 0.25
    assert different.mean() < MOST_DIFFERENT, again


def test_the_picture_is_small_enough_to_be_fetched_with_the_page():
    assert PICTURE.stat().st_size < 250_000
