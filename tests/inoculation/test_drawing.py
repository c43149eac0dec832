"""The drilling pattern's drawing, read back as XML and measured."""

import re
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest

from fruitcast.inoculation.materials import drill
from fruitcast.outputs.drilling_drawing import draw_pattern, end_scale_of, scale_of

SVG = "{http://www.w3.org/2000/svg}"
INCH = 0.0254


def pattern(diameter=0.127, length=1.02, between=0.075):
    return drill(diameter, length, along=0.15, between=between, end_distance=0.05)


def drawn(one, bit=0.012, depth=0.025, units="metric", title=""):
    return ElementTree.fromstring(draw_pattern(one, bit, depth, units, title))


def holes(root):
    found = [c for c in root.iter(f"{SVG}circle") if c.get("class") == "hole"]
    return np.array([[float(c.get("cx")), float(c.get("cy"))] for c in found])


def words(root):
    return " ".join("".join(text.itertext()) for text in root.iter(f"{SVG}text"))


def box(root, name):
    return next(r for r in root.iter(f"{SVG}rect") if r.get("class") == name)


@pytest.mark.parametrize("diameter", [0.06, 0.1, 0.127, 0.16, 0.3])
@pytest.mark.parametrize("length", [0.5, 1.02, 2.4])
def test_the_count_printed_is_the_holes_drawn_to_scale_inside_the_bark(diameter, length):
    one = pattern(diameter, length)
    root = drawn(one)
    places = holes(root)
    assert len(places) == one.holes
    assert f"{one.holes} holes a log" in words(root)
    bark, scale = box(root, "bark"), scale_of(one)
    left, top, wide, high = (float(bark.get(k)) for k in ("x", "y", "width", "height"))
    assert wide == pytest.approx(length * 1000 / scale, abs=0.01)
    assert high == pytest.approx(np.pi * diameter * 1000 / scale, abs=0.01)
    assert places[:, 0] == pytest.approx(left + one.along * 1000 / scale, abs=0.01)
    assert places[:, 1] == pytest.approx(top + one.around * 1000 / scale, abs=0.01)
    assert (places > [left, top]).all() and (places < [left + wide, top + high]).all()
    page = [float(x) for x in root.get("viewBox").split()]
    assert root.get("width") == f"{page[2]:g}mm"  # a unit of the drawing is a millimetre of paper
    assert left + wide < page[2] and top + high < page[3]
    assert f"1 to {scale:g}" in words(root)


def test_the_seam_of_an_odd_number_of_rows_is_shown():
    odd, even = pattern(between=0.075), pattern(between=0.05)
    assert (odd.rows % 2, even.rows % 2) == (1, 0)
    seams = [
        [line.get("class") for line in drawn(one).iter(f"{SVG}line") if line.get("class")]
        for one in (odd, even)
    ]
    assert seams == [["seam odd"] * 2, ["seam"] * 2]
    assert "Rows 5 and 1 meet here without being set off" in words(drawn(odd))
    assert "without being set off" not in words(drawn(even))


@pytest.mark.parametrize(("units", "bar"), [("metric", 100.0), ("us", 101.6)])
def test_bit_depth_and_bar_are_in_their_own_size(units, bar):
    root = drawn(pattern(), 0.008, 0.03, units)
    bit = box(root, "bit")
    assert (float(bit.get("width")), float(bit.get("height"))) == (8.0, 30.0)
    assert float(box(root, "bar").get("width")) == bar
    told = words(root)
    assert "Bit 8 mm" in told
    assert ("depth stop at 30 mm" if units == "metric" else "depth stop at 1.2 in") in told


@pytest.mark.parametrize("diameter", [0.06, 0.1, 0.127, 0.16, 0.3])
def test_the_logs_end_has_every_row_at_its_place_round_the_log(diameter):
    one = pattern(diameter)
    root = drawn(one)
    end = next(c for c in root.iter(f"{SVG}circle") if c.get("class") == "end")
    x, y, radius = (float(end.get(key)) for key in ("cx", "cy", "r"))
    assert 2 * radius == pytest.approx(diameter * 1000 / end_scale_of(one), abs=0.01)
    rows = [c for c in root.iter(f"{SVG}circle") if c.get("class") == "row"]
    places = np.array([[float(c.get("cx")) - x, float(c.get("cy")) - y] for c in rows])
    assert np.hypot(*places.T) == pytest.approx(np.full(one.rows, radius), abs=0.01)
    # Clockwise from the seam at the top, as far as the bark unrolled has it.
    turned = np.arctan2(places[:, 0], -places[:, 1]) % (2 * np.pi)
    first_of_rows = np.unique(np.round(one.around, 9))
    assert turned * diameter / 2 == pytest.approx(first_of_rows, abs=1e-3)
    # What is set off is hollow here as on the bark.
    hollow = [c.get("fill") == "white" for c in rows]
    assert hollow == [row % 2 == 1 for row in range(one.rows)]
    on_bark = [c.get("fill") for c in root.iter(f"{SVG}circle") if c.get("class") == "hole"]
    assert on_bark.count("white") == sum(one.holes_by_row[1::2])


@pytest.mark.parametrize(("diameter", "length"), [(0.06, 0.5), (0.127, 1.02), (0.3, 2.4)])
def test_the_strips_have_the_holes_in_their_own_size_and_lie_on_the_paper(diameter, length):
    one = pattern(diameter, length)
    root = drawn(one)
    page = [float(x) for x in root.get("viewBox").split()]
    tips = [
        [float(number) for number in re.match(r"M([\d.]+) ([\d.]+)l", path.get("d")).groups()]
        for path in root.iter(f"{SVG}path")
        if path.get("class") == "mark"
    ]
    found = {}
    for name in ("along", "round"):
        strip = box(root, f"strip {name}")
        left, top, wide, high = (float(strip.get(k)) for k in ("x", "y", "width", "height"))
        assert left + wide < page[2] and top + high < page[3]
        found[name] = [
            sorted(x - left for x, y in tips if y == pytest.approx(edge, abs=0.01))
            for edge in (top, top + high)
        ]
    long = float(box(root, "strip along").get("width"))
    for row, marks in enumerate(found["along"]):
        holes_of_row = 1000 * one.along[np.isclose(one.around, (row + 0.5) * one.row_distance)]
        shown = holes_of_row[holes_of_row <= long]
        assert marks[: len(shown)] == pytest.approx(shown, abs=0.01)
    rows = sorted(found["round"][0] + found["round"][1])
    assert rows[0] == 0 and np.diff(rows) == pytest.approx(
        np.full(len(rows) - 1, 1000 * one.row_distance), abs=0.01
    )


def test_any_title_is_text_and_nothing_else():
    root = drawn(pattern(), title='<script>alert("x")</script> & Sons\n\u202e')
    assert 'Holes: <script>alert("x")</script> & Sons' in words(root)
    assert not list(root.iter(f"{SVG}script"))


def test_the_same_pattern_gives_the_same_bytes():
    assert draw_pattern(pattern(), 0.012, 0.025, "us", "R") == draw_pattern(
        pattern(), 0.012, 0.025, "us", "R"
    )


def test_inches_where_people_see_inches():
    one = drill(5 * INCH, 40 * INCH, along=6 * INCH, between=3 * INCH, end_distance=2 * INCH)
    told = words(drawn(one, units="us"))
    assert "33 holes a log: 5 rows of 7 and 6 in turn" in told
    assert "Hole to hole 6 in" in told
    assert "First hole 2 in from the end, in the next row 5 in" in told
