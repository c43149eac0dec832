"""Holes of a log against the usual figures, and the rules that a staggered pattern keeps."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fruitcast.errors import InputError
from fruitcast.inoculation.materials import drill, holes_by_area, row_count

INCH = 0.0254

# Holes of a 40 in log at 6 in along the row, by inches between rows and inches of diameter:
# rows times length over spacing, rounded.
USUAL = {
    (2, 4): 40,
    (2, 5): 53,
    (2, 6): 60,
    (3, 4): 27,
    (3, 5): 33,
    (3, 6): 40,
    (4, 4): 20,
    (4, 5): 27,
    (4, 6): 33,
}


def inches(diameter, length, along=6, between=2, end=2):
    return drill(
        diameter * INCH,
        length * INCH,
        along=along * INCH,
        between=between * INCH,
        end_distance=end * INCH,
    )


@pytest.mark.parametrize(("between", "diameter"), list(USUAL))
def test_the_usual_figures_of_a_40_inch_log(between, diameter):
    by_area = holes_by_area(diameter * INCH, 40 * INCH, 6 * INCH, between * INCH)
    assert round(float(by_area)) == USUAL[between, diameter]
    pattern = inches(diameter, 40, between=between)
    assert abs(pattern.holes - USUAL[between, diameter]) <= 2
    assert pattern.spacing == pytest.approx(6 * INCH)
    assert set(pattern.holes_by_row) == {7, 6}  # rows of seven and six in turn


@pytest.mark.parametrize("diameter", [4, 5, 6])
def test_the_trial_s_standard_of_15_by_5_cm(diameter):
    by_area = round(float(holes_by_area(diameter * INCH, 40 * INCH, 0.15, 0.05)))
    pattern = drill(diameter * INCH, 40 * INCH, along=0.15, between=0.05, end_distance=0.05)
    assert abs(pattern.holes - by_area) <= 2
    assert pattern.spacing == pytest.approx(0.15, rel=0.07)


def test_a_5_by_48_inch_log_has_35_to_40_holes():
    # Univ. of Maryland RES-11, read in quotation.
    assert 35 <= inches(5, 48, between=3).holes <= 40


def test_rows_are_set_off_by_half_a_step_and_only_an_odd_number_breaks_that_at_the_seam():
    odd, even = inches(5, 40, between=3), inches(4, 40, between=3)
    assert (odd.rows, even.rows) == (5, 4)
    assert odd.seam_breaks_stagger
    assert not even.seam_breaks_stagger
    for pattern in (odd, even):
        rows = np.split(pattern.along, np.cumsum(pattern.holes_by_row)[:-1])
        for row, following in pairwise(rows):
            assert abs(row[0] - following[0]) == pytest.approx(pattern.spacing / 2)
        same = rows[0][0] == pytest.approx(rows[-1][0])
        assert same == pattern.seam_breaks_stagger


sizes = st.fixed_dictionaries(
    {
        "diameter": st.floats(0.05, 0.35),
        "length": st.floats(0.3, 2.5),
        "along": st.floats(0.08, 0.3),
        "between": st.floats(0.03, 0.15),
        "end_distance": st.floats(0.02, 0.1),
    }
)


@given(sizes)
def test_any_pattern_stays_on_the_log_fills_it_and_keeps_near_the_usual_figure(size):
    pattern = drill(
        size["diameter"],
        size["length"],
        along=size["along"],
        between=size["between"],
        end_distance=size["end_distance"],
    )
    assert pattern.holes == sum(pattern.holes_by_row) == len(pattern.around)
    ends = pattern.along.min(), size["length"] - pattern.along.max()
    assert min(ends) >= size["end_distance"] - 1e-9
    assert (pattern.around > 0).all() and (pattern.around < pattern.circumference).all()
    by_area = float(holes_by_area(*(size[k] for k in ("diameter", "length", "along", "between"))))
    # Half a hole for each two rows, and one for a row without partner.
    assert abs(pattern.holes - by_area) <= pattern.rows / 4 + 1
    places = np.column_stack([pattern.along, pattern.around])
    assert len(np.unique(places.round(6), axis=0)) == pattern.holes


def test_a_log_too_short_for_a_hole_is_refused_with_a_remedy():
    with pytest.raises(InputError, match=r"log of 9 cm leaves no place .* longer logs"):
        drill(0.12, 0.09, along=0.15, between=0.05, end_distance=0.05)


def test_a_log_with_room_for_one_hole_a_row_has_it_in_the_middle():
    pattern = drill(0.12, 0.1, along=0.15, between=0.05, end_distance=0.05)
    assert set(pattern.holes_by_row) == {1}
    assert pattern.along == pytest.approx(np.full(pattern.holes, 0.05))


def test_the_thinnest_stick_has_one_row():
    assert row_count([0.005, 0.02, 0.16], 0.05).tolist() == [1, 1, 10]


def test_a_single_row_has_no_neighbour_across_the_seam():
    stick = drill(0.02, 1.0, along=0.2, between=0.05, end_distance=0.05)
    assert stick.rows == 1
    assert not stick.seam_breaks_stagger
    # Ten holes for two rows: nine half steps over 90 cm, every second of them in this row.
    assert stick.along == pytest.approx([0.05, 0.25, 0.45, 0.65, 0.85])
    assert stick.spacing == pytest.approx(0.2)
    assert stick.around == pytest.approx(np.full(5, np.pi * 0.02 / 2))


def test_every_place_of_a_small_pattern_by_hand():
    # 16 cm around is three rows of 5.3 cm; twice 60 cm at 20 cm are six holes for two rows, five
    # half steps over the 50 cm between the ends: three holes in each row, set off by 10 cm.
    pattern = drill(0.16 / np.pi, 0.6, along=0.2, between=0.05, end_distance=0.05)
    assert pattern.rows == 3
    assert pattern.row_distance == pytest.approx(0.16 / 3)
    assert pattern.circumference == pytest.approx(0.16)
    even, odd = [0.05, 0.25, 0.45], [0.15, 0.35, 0.55]
    assert pattern.along == pytest.approx([*even, *odd, *even])
    assert pattern.around == pytest.approx(np.repeat([0.5, 1.5, 2.5], 3) * 0.16 / 3)
    assert pattern.holes_by_row == (3, 3, 3)
    assert (pattern.end_distance, pattern.spacing) == (0.05, pytest.approx(0.2))
    # A log with room for exactly its two ends is long enough.
    assert drill(0.05, 0.1, along=0.2, between=0.2, end_distance=0.05).holes == 1
    assert holes_by_area(0.16 / np.pi, 0.6, 0.2, 0.05) == pytest.approx(3 * 0.6 / 0.2)
    # Half a row more is one more.
    assert row_count([0.174 / np.pi, 0.176 / np.pi], 0.05).tolist() == [3, 4]


def test_half_a_hole_more_is_one_more():
    # Twice 62.5 cm at 50 cm are two and a half holes for two rows: three, two of them in the first.
    stick = drill(0.02, 0.625, along=0.5, between=0.1, end_distance=0.0625)
    assert stick.along == pytest.approx([0.0625, 0.5625])
