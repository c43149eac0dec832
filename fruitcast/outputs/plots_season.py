"""The season on one strip: stacks as rows, days across.

Every row is a lane of its own with the stack's name at its end. In its upper part stands what is
planned and done, in its lower part, from the lane's floor up, how likely a natural flush is.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.legend import Legend
from matplotlib.legend_handler import HandlerBase
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.transforms import Transform, blended_transform_factory

from fruitcast.outputs.plots import (
    EARTH,
    GRASS,
    INK,
    PALE,
    SKY,
    SOFT,
    STRAW,
    axes_of,
    in_style,
    mark_today,
    number,
    say_above,
    short_name,
    show_days,
)
from fruitcast.outputs.report_data import SpanKind, Strip, StripRow
from fruitcast.words import percent_words

_FILLS: dict[SpanKind, tuple[str, str]] = {
    "spawn run": ("white", "//////"),
    "first year": ("white", "xxxx"),
    "rest": (PALE, ""),
}
_STYLES: Any = {
    "soak": {"facecolor": SKY, "edgecolor": INK, "linewidth": 0.5},
    "first pick": {"facecolor": GRASS, "edgecolor": INK, "linewidth": 0.4},
    "natural flush": {"facecolor": STRAW, "edgecolor": EARTH, "linewidth": 0.5},
    "away": {"facecolor": "none", "edgecolor": SOFT, "hatch": "\\\\\\", "linewidth": 0},
    **{
        kind: {"facecolor": face, "edgecolor": SOFT, "hatch": hatch, "linewidth": 0.4}
        for kind, (face, hatch) in _FILLS.items()
    },
}
"""How each thing looks, on the strip and in its key."""
_BAND, _BAND_HIGH, _REST_HIGH = -0.24, 0.42, 0.16
"""Middle of a lane's upper part, heights of a soak and of a rest there, the lane being 1 high."""
_FLOOR, _SURE_HIGH = 0.46, 0.41
"""Floor of a lane, and how high a natural flush stands on it that is sure to come."""
_ROOM_ABOVE = 0.3
"""A chance up to this leaves room above its bar for the figure. [0..1]"""
_LANE = "#f7f4ec"

_DAY = timedelta(days=1)

_BROAD = 5.0
"""A figure as broad has room for names at both ends and for whole names of classes. [inch]"""
_POINTS_OF_A_LETTER, _FEW_LETTERS = 6.0, 6
_DAYS_OF_A_LABEL = 12.0
"""Room that a chance in figures takes on a broad strip of half a year. [day]"""


def strip_height(strip: Strip, row: float = 0.3) -> float:
    """Return the height of a figure whose rows are as high as wanted. [inch]"""
    return 0.75 + row * max(len(strip.rows), 3)


@in_style
def plot_season(strip: Strip, ax: Axes | None = None) -> Axes:
    """Draw every stack's season: spawn run, rest, soaks, pick windows, natural chance."""
    ax = axes_of(ax, height=strip_height(strip))
    rows, broad = strip.rows, _is_broad(ax)
    show_days(ax, strip.first, strip.last)
    ax.set_ylim(len(rows) - 0.5, -0.5)
    for lane in range(0, len(rows), 2):
        ax.axhspan(lane - 0.5, lane + 0.5, facecolor=_LANE, linewidth=0, zorder=0.1)
    _names(ax, rows, broad=broad)
    for first, past in strip.away:
        _away(ax, first, past, words=broad)
    for kind in _FILLS:
        _spans(ax, strip, kind)
    _soaks(ax, strip)
    _natural(ax, strip, broad=broad)
    picked = [(number(day) + 0.5, y + _BAND) for y, row in enumerate(rows) for day in row.picked]
    if picked:
        ax.plot(
            *zip(*picked, strict=True), "o", color=INK, markersize=2.6, label="picked", zorder=6
        )
    mark_today(ax, strip.today)
    _key(ax, columns=4 if broad else 2)
    return ax


def _is_broad(ax: Axes) -> bool:
    figure = ax.get_figure(root=True)
    assert figure is not None
    return bool(figure.get_figwidth() > _BROAD)


def _names(ax: Axes, rows: Sequence[StripRow], *, broad: bool) -> None:
    """Write whose each lane is: the stack, and small beside or under it its strain's class."""
    names = [short_name(row.stack) for row in rows]
    letters = max(map(len, names), default=0)
    ax.set_yticks(
        [y - (0.0 if broad else 0.14) for y in range(len(rows))],
        names,
        parse_math=False,
        weight="bold",
        fontsize=8.0 if broad or letters <= _FEW_LETTERS else 6.5,
    )
    ax.tick_params(axis="y", length=0)
    beside = -8.0 - _POINTS_OF_A_LETTER * letters
    for y, row in enumerate(rows):
        if broad:
            _beside(ax, 0.0, y, row.strain_class, beside, ha="right", fontsize=5.8)
            _beside(ax, 1.0, y, names[y], 3.5, ha="left", fontsize=7.0)
        else:
            said = row.strain_class.split("-")[0]
            _beside(ax, 0.0, y + 0.26, said, -3.5, ha="right", fontsize=5.8)


def _beside(ax: Axes, end: float, y: float, words: str, off: float, **style: Any) -> None:
    ax.annotate(
        words,
        (end, y),
        xycoords=("axes fraction", "data"),
        xytext=(off, 0),
        textcoords="offset points",
        va="center",
        color=SOFT,
        annotation_clip=False,
        parse_math=False,
        **style,
    )


def _away(ax: Axes, first: date, last: date, *, words: bool) -> None:
    begin, past = number(first), number(last) + 1
    ax.axvspan(begin, past, alpha=0.5, zorder=0.6, label="away", **_STYLES["away"])
    if words:
        say_above(ax, (begin + past) / 2, "away")


def _bars(
    ax: Axes, kind: str, places: Sequence[tuple[int, date, date]], high: float, zorder: float
) -> None:
    """Draw bars in the lanes, each from a day up to the day that is past it."""
    if places:
        ax.barh(
            [y + _BAND for y, _, _ in places],
            [number(past) - number(first) for _, first, past in places],
            high,
            [number(first) for _, first, _ in places],
            label=kind,
            zorder=zorder,
            **_STYLES[kind],
        )


def _spans(ax: Axes, strip: Strip, kind: SpanKind) -> None:
    places = [
        (y, span.first, span.past)
        for y, row in enumerate(strip.rows)
        for span in row.spans
        if span.kind == kind
    ]
    _bars(ax, kind, places, _REST_HIGH if kind == "rest" else _BAND_HIGH, 1)
    if places and kind == "spawn run":
        for y, row in enumerate(strip.rows):
            if row.ready is not None and row.ready[0] is not None:
                late = row.ready[2] or strip.last + _DAY
                ends = number(row.ready[0]), min(number(late), number(strip.last) + 1)
                ax.plot(ends, [y + _BAND] * 2, "-|", color=INK, linewidth=1.2, markersize=5)


def _soaks(ax: Axes, strip: Strip) -> None:
    soaks = [(y, soak) for y, row in enumerate(strip.rows) for soak in row.soaks]
    wet = [(y, s.on, max(s.pull_on, s.on + _DAY)) for y, s in soaks if s.on >= strip.first]
    _bars(ax, "soak", wet, _BAND_HIGH, 3)
    windows = [(y, soak.window) for y, soak in soaks if soak.window is not None]
    if windows:
        picks = [(y, first, last + _DAY) for y, (first, _, last) in windows]
        _bars(ax, "first pick", picks, _BAND_HIGH, 4)
        likely = [(number(middle) + 0.5, y + _BAND) for y, (_, middle, _) in windows]
        ax.plot(*zip(*likely, strict=True), "|", color="white", markersize=5, zorder=5)


def _natural(ax: Axes, strip: Strip, *, broad: bool) -> None:
    places = [(y, day, chance) for y, row in enumerate(strip.rows) for day, chance in row.natural]
    if not places:
        return
    high = [_SURE_HIGH * chance for _, _, chance in places]
    ax.bar(
        [number(day) for _, day, _ in places],
        high,
        7,
        [y + _FLOOR - rise for (y, _, _), rise in zip(places, high, strict=True)],
        align="edge",
        label="natural flush",
        zorder=2,
        **_STYLES["natural flush"],
    )
    if broad:
        for y, row in enumerate(strip.rows):
            _say_chances(ax, y, row, number(strip.last) + 1)


def _say_chances(ax: Axes, y: int, row: StripRow, end: int) -> None:
    """Write the highest chance of each run of weeks: over a low bar, behind a high one."""
    said = -_DAYS_OF_A_LABEL
    for run in _runs(row):
        monday, most = max(run, key=lambda week: week[1])
        over = most <= _ROOM_ABOVE
        at = number(monday) + 3.5 if over else number(run[-1][0]) + 12
        at = min(at, end - _DAYS_OF_A_LABEL / 2)
        if at - said < _DAYS_OF_A_LABEL:
            continue
        said = at
        ax.text(
            at,
            y + _FLOOR - (_SURE_HIGH * most if over else 0.0) - 0.05,
            percent_words(most),
            fontsize=5.8,
            ha="center",
            va="baseline",
            zorder=6,
        )


def _runs(row: StripRow) -> list[list[tuple[date, float]]]:
    """Return the weeks in which a flush may come, those that follow each other together."""
    found: list[list[tuple[date, float]]] = []
    for week in row.natural:
        if found and week[0] - found[-1][-1][0] <= timedelta(days=7):
            found[-1].append(week)
        else:
            found.append([week])
    return found


_SCALE = (0.1, 0.5, 1.0)
"""Chances of which the key shows how high they stand."""


class _Scale(HandlerBase):
    """Draws three chances side by side in the key, in the size that they have on the strip."""

    def __init__(self, points: float) -> None:
        super().__init__()
        self._points = points

    def create_artists(
        self,
        legend: Legend,
        orig_handle: Artist,
        xdescent: float,
        ydescent: float,
        width: float,
        height: float,
        fontsize: float,
        trans: Transform,
    ) -> list[Artist]:
        """Return the three bars."""
        wide = width / len(_SCALE)
        return [
            Rectangle(
                (place * wide - xdescent, -ydescent),
                wide,
                self._points * chance,
                transform=trans,
                **_STYLES["natural flush"],
            )
            for place, chance in enumerate(_SCALE)
        ]


def _key(ax: Axes, columns: int) -> None:
    handles: list[Patch | Line2D] = [
        Patch(label="soak", **_STYLES["soak"]),
        Patch(label="first pick, 8 of 10", **_STYLES["first pick"]),
        Line2D([], [], marker="o", color=INK, linestyle="", markersize=2.6, label="picked"),
    ]
    handles += [Patch(label=kind, **_STYLES[kind]) for kind in (*_FILLS, "away")]
    listed = ", ".join(f"{100 * chance:.0f}" for chance in _SCALE) + "%"
    natural = Patch(label=f"natural flush: {listed}", **_STYLES["natural flush"])
    figure = ax.get_figure(root=True)
    assert figure is not None
    # Long names leave the lanes too narrow for the key: it may stand over the names too.
    begin = min(ax.get_position().x0, 0.12)
    lane = ax.get_position().height * figure.get_figheight() * 72 / max(len(ax.get_yticks()), 1)
    ax.legend(
        handles=[*handles, natural],
        handler_map={natural: _Scale(lane * _SURE_HIGH)},
        ncols=columns,
        loc="lower left",
        bbox_to_anchor=(begin, 1.0),
        bbox_transform=blended_transform_factory(figure.transFigure, ax.transAxes),
        borderpad=1.6,
        columnspacing=0.8,
        handlelength=1.4,
        handletextpad=0.6,
    )
