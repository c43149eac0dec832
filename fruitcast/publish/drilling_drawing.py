"""The hole pattern as a drawing to print and tape to the bench: the bark unrolled, to scale.

Sizes in the file are millimetres of paper, so that it prints true at 100%. Bit and depth are
drawn in their own size, with a bar to check the print against.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from fruitcast.logs.drilling import HolePattern
from fruitcast.publish.words import clean_line, count_words
from fruitcast.units import M_PER_IN, Units, format_length

_PAGE = (277.0, 190.0)
"""What both A4 and letter paper leave inside their margins, across. [mm]"""

_BARK_TOP, _BARK_LEFT = 34.0, 22.0
_BARK_ROOM = (225.0, 92.0)
_SCALES = (1, 2, 2.5, 3, 4, 5, 6, 8, 10, 12.5, 15, 20, 25, 30, 40, 50)
_LEAST_HOLE = 0.7  # mm radius, so that a small hole still shows
_DETAIL_TOP = 152.0
_BAR = 100.0


def scale_of(pattern: HolePattern) -> float:
    """Return how many times smaller than the log the drawing is."""
    wide = pattern.length * 1000 / _BARK_ROOM[0]
    high = pattern.circumference * 1000 / _BARK_ROOM[1]
    return next((s for s in _SCALES if s >= max(wide, high)), max(wide, high))


def draw_pattern(
    pattern: HolePattern, bit: float, depth: float, units: Units, title: str = ""
) -> str:
    """Return the drawing as SVG.

    Parameters
    ----------
    pattern : HolePattern
        Where to drill.
    bit, depth : float
        Drill bit, and depth at which to set the stop. [m]
    units : {'us', 'metric'}
        What people see.
    title : str
        The batch's name and kind.
    """
    scale = scale_of(pattern)
    parts = [
        *_heading(pattern, scale, bit, depth, units, title),
        *_bark(pattern, scale, bit),
        *_seam(pattern, scale),
        *_measures(pattern, scale, units),
        *_details(bit, depth, units),
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
            f"Bit {_bit(bit, units)}, depth stop at {_small(depth, units)}.",
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
        drawn.append(
            f'<circle class="hole" cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}" fill="black" '
            'stroke="none"/>'
        )
    return drawn


def _seam(pattern: HolePattern, scale: float) -> list[str]:
    wide, high = pattern.length * 1000 / scale, pattern.circumference * 1000 / scale
    dash = ' class="seam" stroke-dasharray="4 1.5"'
    words = "Seam: upper and lower edge are the same line along the log."
    if pattern.seam_breaks_stagger:
        words += f" Rows {pattern.rows} and 1 meet here without being set off: their number is odd."
        dash = ' class="seam odd" stroke="#b00000" stroke-width="0.5" stroke-dasharray="4 1.5"'
    return [
        _line(_BARK_LEFT, _BARK_TOP, _BARK_LEFT + wide, _BARK_TOP, dash),
        _line(_BARK_LEFT, _BARK_TOP + high, _BARK_LEFT + wide, _BARK_TOP + high, dash),
        _text(_BARK_LEFT, _BARK_TOP - 2, words, font_size=3.2),
    ]


def _measures(pattern: HolePattern, scale: float, units: Units) -> list[str]:
    y = _BARK_TOP + pattern.circumference * 1000 / scale + 6
    told = [
        f"Hole to hole {format_length(pattern.spacing, units)}",
        f"row to row {format_length(pattern.row_distance, units)}",
        f"first hole {format_length(pattern.end_distance, units)} from the end, in the next row "
        f"{format_length(pattern.end_distance + pattern.spacing / 2, units)}",
        f"around the log {format_length(pattern.circumference, units)}",
    ]
    first = pattern.along[: pattern.holes_by_row[0]]
    drawn = [_text(_BARK_LEFT, y + 8, ", ".join(told) + ".")]
    if len(first) > 1:
        x1, x2 = (_BARK_LEFT + float(x) * 1000 / scale for x in first[:2])
        drawn += [
            _line(x1, y, x2, y),
            _line(x1, y - 1.5, x1, y + 1.5),
            _line(x2, y - 1.5, x2, y + 1.5),
            _text(x2 + 2, y + 1.2, format_length(pattern.spacing, units)),
        ]
    return drawn


def _details(bit: float, depth: float, units: Units) -> list[str]:
    """Draw bit and depth in their own size, and a bar that shows whether the print is true."""
    wide, deep = bit * 1000, depth * 1000
    x, y = _BARK_LEFT + 20, _DETAIL_TOP
    bar, said = (_BAR, "100 mm") if units == "metric" else (4 * M_PER_IN * 1000, "4 in")
    bar_x = _BARK_LEFT + 110
    return [
        _text(_BARK_LEFT, y - 4, "In its own size:", font_weight="bold"),
        _line(_BARK_LEFT, y, x + wide + 20, y),
        _text(_BARK_LEFT, y + 4.5, "bark"),
        f'<rect class="bit" x="{x:.3f}" y="{y:.3f}" width="{wide:.3f}" height="{deep:.3f}" '
        'fill="#dddddd"/>',
        _text(x + wide + 3, y + deep / 2, f"{_bit(bit, units)} bit, {_small(depth, units)} deep"),
        f'<rect class="bar" x="{bar_x:.3f}" y="{y:.3f}" width="{bar:.3f}" height="3" '
        'fill="black"/>',
        _text(bar_x, y + 8, f"This bar must measure {said}: print at 100%."),
    ]


def _bit(metres: float, units: Units) -> str:
    """Return a drill bit: bits for spawn are sold in millimetres everywhere."""
    if units == "us":
        return f"{metres * 1000:g} mm ({metres / M_PER_IN:.2f} in)"
    return f"{metres * 1000:g} mm"


def _small(metres: float, units: Units) -> str:
    """Return a depth: '25 mm', '1 in'."""
    if units == "us":
        return f"{metres / M_PER_IN:.1f}".removesuffix(".0") + " in"
    return f"{metres * 1000:g} mm"
