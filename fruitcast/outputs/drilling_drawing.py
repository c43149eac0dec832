"""The hole pattern as a drawing to print and tape to the bench.

The bark is drawn unrolled and the log seen from its end, to scale; bit, depth and two strips to cut
out and lay on the log are in their own size, with a bar to check the print against. Sizes in the
file are millimetres of paper, so that it prints true at 100%. Every second row is set off by half:
its holes are hollow everywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, pi, sin
from xml.sax.saxutils import escape, quoteattr

from fruitcast.inoculation.materials import HolePattern
from fruitcast.units import M_PER_IN, Units, format_length
from fruitcast.words import clean_line, count_words

_PAGE = (277.0, 190.0)
"""What both A4 and letter paper leave inside their margins, across. [mm]"""

_BARK_TOP, _BARK_LEFT = 34.0, 22.0
_BARK_ROOM = (160.0, 80.0)
_SCALES = (1, 2, 2.5, 3, 4, 5, 6, 8, 10, 12.5, 15, 20, 25, 30, 40, 50)
_LEAST_HOLE = 0.7  # mm radius, so that a small hole still shows
_END_MIDDLE, _END_ROOM = (238.0, 62.0), 44.0
"""Middle of the log's end and the room that it has. [mm]"""
_BIT_PLACE = (212.0, 100.0)
_STRIPS_TOP, _STRIP_HIGH, _STRIP_STEP = 143.0, 11.0, 15.5
_STRIP_LEFT, _STRIP_LONG = 11.0, 255.0
_BAR, _BAR_TOP = 100.0, 176.0


def scale_of(pattern: HolePattern) -> float:
    """Return how many times smaller than the log the drawing is."""
    wide = pattern.length * 1000 / _BARK_ROOM[0]
    high = pattern.circumference * 1000 / _BARK_ROOM[1]
    return _round_scale(max(wide, high))


def end_scale_of(pattern: HolePattern) -> float:
    """Return how many times smaller than the log its end is drawn."""
    return _round_scale(pattern.diameter * 1000 / _END_ROOM)


def _round_scale(least: float) -> float:
    return next((s for s in _SCALES if s >= least), least)


def draw_pattern(
    pattern: HolePattern, bit: float, depth: float, units: Units, title: str = ""
) -> str:
    """Return the drawing as SVG.

    Bit and depth, at which to set the stop, are in metres; the title is the batch's name and kind.
    """
    scale = scale_of(pattern)
    parts = [
        *_heading(pattern, scale, bit, depth, units, title),
        *_bark(pattern, scale, bit),
        *_seam(pattern, scale),
        *_measures(pattern, scale, units),
        *_end(pattern, depth),
        *_bit_itself(bit, depth, units),
        *_strips(pattern),
        *_bar(units),
    ]
    wide, high = _PAGE
    label = quoteattr(
        f"Drilling pattern: {count_words(pattern.holes, 'hole')} in {pattern.rows} rows"
    )
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
            f'viewBox="0 0 {wide:g} {high:g}" role="img" aria-label={label} '
            'font-family="sans-serif" font-size="3.6" fill="none" stroke="black" '
            'stroke-width="0.25">',
            f'<rect width="{wide:g}" height="{high:g}" fill="white" stroke="none"/>',
            *parts,
            "</svg>\n",
        ]
    )


def _text(x: float, y: float, words: str, **style: object) -> str:
    given = {"fill": "black", "stroke": "none", **style}
    marks = " ".join(f"{key.replace('_', '-')}={quoteattr(str(v))}" for key, v in given.items())
    return f'<text x="{x:.2f}" y="{y:.2f}" {marks}>{escape(clean_line(words))}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, more: str = "") -> str:
    return f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}"{more}/>'


def _heading(
    pattern: HolePattern, scale: float, bit: float, depth: float, units: Units, title: str
) -> list[str]:
    rows = sorted(set(pattern.holes_by_row), reverse=True)
    in_turn = " and ".join(str(count) for count in rows)
    return [
        _text(10, 11, f"Holes{': ' + title if title else ''}", font_size=5.5, font_weight="bold"),
        _text(
            10,
            18,
            f"{count_words(pattern.holes, 'hole')} a log: "
            f"{pattern.rows} rows of {in_turn}"
            f"{' in turn' if len(rows) > 1 else ''}, every second row set off by half. "
            f"Bit {bit_words(bit, units)}, depth stop at {depth_words(depth, units)}.",
        ),
        _text(
            10,
            24,
            f"Log {format_length(pattern.diameter, units)} thick, "
            f"{format_length(pattern.length, units)} long. The bark is drawn unrolled, "
            f"1 to {scale:g}.",
        ),
    ]


def _bark(pattern: HolePattern, scale: float, bit: float) -> list[str]:
    wide, high = pattern.length * 1000 / scale, pattern.circumference * 1000 / scale
    radius = max(bit * 1000 / 2 / scale, _LEAST_HOLE)
    drawn = [
        f'<rect class="bark" x="{_BARK_LEFT:g}" y="{_BARK_TOP:g}" width="{wide:.3f}" '
        f'height="{high:.3f}" fill="#f4efe6" stroke="none"/>',
        _line(_BARK_LEFT, _BARK_TOP, _BARK_LEFT, _BARK_TOP + high),
        _line(_BARK_LEFT + wide, _BARK_TOP, _BARK_LEFT + wide, _BARK_TOP + high),
    ]
    for row, count in enumerate(pattern.holes_by_row):
        y = _BARK_TOP + (row + 0.5) * pattern.row_distance * 1000 / scale
        drawn += [
            _line(
                _BARK_LEFT,
                y,
                _BARK_LEFT + wide,
                y,
                ' stroke="#999999" stroke-width="0.1" stroke-dasharray="1 1"',
            ),
            _text(_BARK_LEFT - 2, y + 1.2, f"row {row + 1}", text_anchor="end"),
            _text(_BARK_LEFT + wide + 2, y + 1.2, str(count)),
        ]
    for along, around in zip(pattern.along.tolist(), pattern.around.tolist(), strict=True):
        x, y = _BARK_LEFT + along * 1000 / scale, _BARK_TOP + around * 1000 / scale
        row = round(around / pattern.row_distance - 0.5)
        drawn.append(
            f'<circle class="hole" cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}" fill="{_fill(row)}"/>'
        )
    return drawn


def _fill(row: int) -> str:
    """Return the inside of a row's holes: black, or white where they are set off by half."""
    return "white" if row % 2 else "black"


def _seam(pattern: HolePattern, scale: float) -> list[str]:
    wide, high = pattern.length * 1000 / scale, pattern.circumference * 1000 / scale
    dash = ' class="seam" stroke-dasharray="4 1.5"'
    words, odd = "Seam: upper and lower edge are the same line along the log.", []
    if pattern.seam_breaks_stagger:
        said = f"Rows {pattern.rows} and 1 meet here without being set off: their number is odd."
        odd = [_text(_BARK_LEFT, _BARK_TOP + high + 4.2, said, font_size=3.2)]
        dash = ' class="seam odd" stroke="#b00000" stroke-width="0.5" stroke-dasharray="4 1.5"'
    return [
        _line(_BARK_LEFT, _BARK_TOP, _BARK_LEFT + wide, _BARK_TOP, dash),
        _line(_BARK_LEFT, _BARK_TOP + high, _BARK_LEFT + wide, _BARK_TOP + high, dash),
        _text(_BARK_LEFT, _BARK_TOP - 2, words, font_size=3.2),
        *odd,
    ]


def _measures(pattern: HolePattern, scale: float, units: Units) -> list[str]:
    y = _BARK_TOP + pattern.circumference * 1000 / scale + 8
    told = [
        f"Hole to hole {format_length(pattern.spacing, units)}, "
        f"row to row {format_length(pattern.row_distance, units)}, "
        f"around the log {format_length(pattern.circumference, units)}.",
        f"First hole {format_length(pattern.end_distance, units)} from the end, in the next row "
        f"{format_length(pattern.end_distance + pattern.spacing / 2, units)}.",
    ]
    first = pattern.along[: pattern.holes_by_row[0]]
    drawn = [_text(_BARK_LEFT, y + 6.5 + 5 * line, words) for line, words in enumerate(told)]
    if len(first) > 1:
        x1, x2 = (_BARK_LEFT + float(x) * 1000 / scale for x in first[:2])
        drawn += [
            _line(x1, y, x2, y),
            _line(x1, y - 1.5, x1, y + 1.5),
            _line(x2, y - 1.5, x2, y + 1.5),
            _text(x2 + 2, y + 1.2, format_length(pattern.spacing, units)),
        ]
    return drawn


def _end(pattern: HolePattern, depth: float) -> list[str]:
    """Draw the log from its end: where the rows are round it, and how deep the holes go."""
    scale = end_scale_of(pattern)
    (x, y), radius = _END_MIDDLE, pattern.diameter * 500 / scale
    drawn = [
        _text(x, y - _END_ROOM / 2 - 8, f"The log's end, 1 to {scale:g}", text_anchor="middle"),
        f'<circle class="end" cx="{x:g}" cy="{y:g}" r="{radius:.3f}" fill="#f4efe6"/>',
    ]
    for row in range(pattern.rows):
        turn = 2 * pi * (row + 0.5) / pattern.rows
        right, down = sin(turn), -cos(turn)
        inside, outside = radius - min(depth * 1000 / scale, radius), radius + 3.6
        drawn += [
            _line(x + inside * right, y + inside * down, x + radius * right, y + radius * down),
            f'<circle class="row" cx="{x + radius * right:.3f}" cy="{y + radius * down:.3f}" '
            f'r="1.1" fill="{_fill(row)}"/>',
            _text(
                x + outside * right,
                y + outside * down + 1.1,
                str(row + 1),
                text_anchor="middle",
                font_size=3,
            ),
        ]
    seam = y - radius
    drawn.append(_line(x, seam - 2, x, seam + 2, ' stroke-dasharray="1.2 0.6"'))
    return drawn


def _bit_itself(bit: float, depth: float, units: Units) -> list[str]:
    """Draw the hole in its own size."""
    (x, y), wide, deep = _BIT_PLACE, bit * 1000, depth * 1000
    return [
        _text(x, y - 3, "The hole in its own size", font_weight="bold"),
        _line(x, y, x + wide + 24, y),
        f'<rect class="bit" x="{x + 12:.3f}" y="{y:.3f}" width="{wide:.3f}" height="{deep:.3f}" '
        'fill="#dddddd"/>',
        _text(x, y + 4.5, "bark"),
        _text(x + wide + 15, y + 8, f"{bit_words(bit, units)} bit,"),
        _text(x + wide + 15, y + 12.5, f"{depth_words(depth, units)} deep"),
    ]


def _strips(pattern: HolePattern) -> Iterator[str]:
    """Draw what to cut out: one strip for along the log, one for round it, in their own size."""
    first, spacing = pattern.end_distance * 1000, pattern.spacing * 1000
    along = [(0, first, "first hole")]
    if pattern.rows > 1 and max(pattern.holes_by_row) > 1:
        along.append((1, first + spacing / 2, "in the next row"))
    marks = [
        (row, begin + step * spacing, "" if step else words)
        for row, begin, words in along
        for step in range(min(int((_STRIP_LONG - begin) // spacing) + 1, pattern.holes_by_row[row]))
    ]
    yield _text(
        _STRIP_LEFT,
        _STRIPS_TOP - 2.5,
        "Cut out. Along the log, this end flush with the log's end; further on, its first mark "
        "on the last hole of the row:",
        font_size=3.2,
    )
    yield from _strip(_STRIPS_TOP, "along", marks)
    apart = pattern.row_distance * 1000
    rows = min(int(_STRIP_LONG // apart) + 1, pattern.rows)
    round_it = [(row, row * apart, f"row {row + 1}") for row in range(rows)]
    yield from _strip(_STRIPS_TOP + _STRIP_STEP, "round", round_it)
    again = rows if rows % 2 else rows - 1
    on = f"; further on, this end on row {again}" if 1 < again < pattern.rows else ""
    yield _text(
        _STRIP_LEFT,
        _STRIPS_TOP + _STRIP_STEP + _STRIP_HIGH + 4,
        f"Round the log, from row to row{on}.",
        font_size=3.2,
    )


def _strip(top: float, name: str, marks: list[tuple[int, float, str]]) -> Iterator[str]:
    yield (
        f'<rect class="strip {name}" x="{_STRIP_LEFT:g}" y="{top:g}" width="{_STRIP_LONG:g}" '
        f'height="{_STRIP_HIGH:g}" stroke-dasharray="2 1"/>'
    )
    for row, place, words in marks:
        x, y = _STRIP_LEFT + place, top + (_STRIP_HIGH if row % 2 else 0.0)
        inward = -3.2 if row % 2 else 3.2
        yield (f'<path class="mark" d="M{x:.3f} {y:g}l-1.5 {inward:g}h3z" fill="{_fill(row)}"/>')
        yield _text(x + 2.5, y + (-1.2 if row % 2 else 3.4), words, font_size=2.8)


def _bar(units: Units) -> list[str]:
    """Draw a bar that shows whether the print is true."""
    bar, said = (_BAR, "100 mm") if units == "metric" else (4 * M_PER_IN * 1000, "4 in")
    return [
        f'<rect class="bar" x="{_STRIP_LEFT:g}" y="{_BAR_TOP + 2:g}" width="{bar:.3f}" height="3" '
        'fill="black"/>',
        _text(
            _STRIP_LEFT + bar + 4,
            _BAR_TOP + 4.8,
            f"This bar must measure {said}: print at 100%, or the strips are wrong.",
        ),
    ]


def bit_words(metres: float, units: Units) -> str:
    """Return a drill bit: bits for spawn are sold in millimetres everywhere."""
    if units == "us":
        return f"{metres * 1000:g} mm ({metres / M_PER_IN:.2f} in)"
    return f"{metres * 1000:g} mm"


def depth_words(metres: float, units: Units) -> str:
    """Return a depth: '25 mm', '1 in'."""
    if units == "us":
        return f"{metres / M_PER_IN:.1f}".removesuffix(".0") + " in"
    return f"{metres * 1000:g} mm"
