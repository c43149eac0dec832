"""The season on one strip: stacks as rows, days across."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from fruitcast.publish.plots import (
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
    short_name,
    show_days,
)
from fruitcast.publish.report_season import SpanKind, Strip

_FILLS: dict[SpanKind, tuple[str, str]] = {
    "spawn run": ("white", "//////"),
    "first year": ("white", "xxxx"),
    "rest": (PALE, ""),
}
_BAND, _BAND_HIGH = 0.18, 0.54
"""Middle and height of a row's band, the row being 1 high; the chances hang below it."""


def strip_height(strip: Strip, row: float = 0.22) -> float:
    """Return the height of a figure whose rows are as high as wanted. [inch]"""
    return 0.75 + row * max(len(strip.rows), 3)


@in_style
def plot_season(strip: Strip, ax: Axes | None = None, *, key: bool = True) -> Axes:
    """Draw every stack's season: spawn run, rest, soaks, pick windows, natural chance.

    Parameters
    ----------
    strip : Strip
        The season of each stack.
    ax : Axes, optional
        Where to draw; a new figure otherwise.
    key : bool
        Whether to explain the fills and marks above the strip.
    """
    ax = axes_of(ax, height=strip_height(strip))
    rows = strip.rows
    show_days(ax, strip.first, strip.last)
    ax.set_ylim(len(rows) - 0.5, -0.5)
    names = [short_name(row.stack) for row in rows]
    ax.set_yticks([y - _BAND for y in range(len(rows))], names, parse_math=False)
    ax.tick_params(axis="y", length=0)
    for line in range(1, len(rows)):
        ax.axhline(line - 0.5, color=PALE, linewidth=0.6, zorder=0.5)
    for first, last in strip.away:
        ax.axvspan(
            number(first),
            number(last) + 1,
            facecolor="none",
            edgecolor=SOFT,
            hatch="\\\\\\",
            linewidth=0,
            alpha=0.5,
            zorder=0.6,
            label="away",
        )
    for kind in _FILLS:
        _spans(ax, strip, kind)
    _soaks(ax, strip)
    _windows(ax, strip)
    _natural(ax, strip)
    picked = [(number(day) + 0.5, y - _BAND) for y, row in enumerate(rows) for day in row.picked]
    _marks(ax, picked, "o", INK, 2.6, "picked")
    mark_today(ax, strip.today)
    if key:
        _key(ax)
    return ax


def _spans(ax: Axes, strip: Strip, kind: SpanKind) -> None:
    places = [
        (y, span) for y, row in enumerate(strip.rows) for span in row.spans if span.kind == kind
    ]
    if not places:
        return
    face, hatch = _FILLS[kind]
    ax.barh(
        [y - _BAND for y, _ in places],
        [number(span.past) - number(span.first) for _, span in places],
        _BAND_HIGH,
        [number(span.first) for _, span in places],
        facecolor=face,
        edgecolor=SOFT,
        hatch=hatch,
        linewidth=0.4,
        label=kind,
        zorder=1,
    )
    if kind == "spawn run":
        for y, row in enumerate(strip.rows):
            if row.ready is not None and row.ready[0] is not None:
                late = row.ready[2] or strip.last + timedelta(days=1)
                ends = number(row.ready[0]), min(number(late), number(strip.last) + 1)
                ax.plot(ends, [y - _BAND] * 2, "-|", color=INK, linewidth=1.2, markersize=5)


def _soaks(ax: Axes, strip: Strip) -> None:
    first = number(strip.first)
    places = [
        (y, soak)
        for y, row in enumerate(strip.rows)
        for soak in row.soaks
        if number(soak.on) >= first
    ]
    if not places:
        return
    ax.barh(
        [y - _BAND for y, _ in places],
        [max(number(soak.pull_on) - number(soak.on), 1) for _, soak in places],
        _BAND_HIGH,
        [number(soak.on) for _, soak in places],
        facecolor=SKY,
        edgecolor=INK,
        linewidth=0.5,
        label="soak",
        zorder=3,
    )


def _windows(ax: Axes, strip: Strip) -> None:
    places = [
        (y, soak.window)
        for y, row in enumerate(strip.rows)
        for soak in row.soaks
        if soak.window is not None
    ]
    if not places:
        return
    ax.barh(
        [y - _BAND for y, _ in places],
        [number(window[2]) + 1 - number(window[0]) for _, window in places],
        0.34,
        [number(window[0]) for _, window in places],
        facecolor=GRASS,
        edgecolor=INK,
        linewidth=0.4,
        label="first pick",
        zorder=4,
    )
    likely = [(number(window[1]) + 0.5, y - _BAND) for y, window in places]
    ax.plot(*zip(*likely, strict=True), "|", color="white", markersize=5, zorder=5)


def _natural(ax: Axes, strip: Strip) -> None:
    places = [(y, day, chance) for y, row in enumerate(strip.rows) for day, chance in row.natural]
    if not places:
        return
    # They hang from their own stack's band: standing, a low one would seem the next stack's.
    top = [y - _BAND + _BAND_HIGH / 2 + 0.02 for y, _, _ in places]
    high = np.array([0.36 * chance for _, _, chance in places])
    ax.bar(
        [number(day) for _, day, _ in places],
        high,
        7,
        top,
        align="edge",
        facecolor=STRAW,
        edgecolor=EARTH,
        linewidth=0.7,
        label="natural flush",
        zorder=2,
    )


def _marks(
    ax: Axes,
    places: Sequence[tuple[float, float]],
    marker: str,
    color: str,
    size: float,
    label: str,
) -> None:
    if places:
        x, y = zip(*places, strict=True)
        ax.plot(x, y, marker, color=color, markersize=size, label=label, zorder=6)


def _key(ax: Axes) -> None:
    handles: list[Patch | Line2D] = [
        Patch(facecolor=face, edgecolor=SOFT, hatch=hatch, linewidth=0.4, label=kind)
        for kind, (face, hatch) in _FILLS.items()
    ]
    handles += [
        Patch(facecolor=SKY, edgecolor=INK, linewidth=0.5, label="soak"),
        Patch(facecolor=GRASS, edgecolor=INK, linewidth=0.4, label="first pick, 8 of 10"),
        Patch(facecolor=STRAW, edgecolor=EARTH, linewidth=0.7, label="natural flush: chance"),
        Line2D([], [], marker="o", color=INK, linestyle="", markersize=2.6, label="picked"),
        Patch(facecolor="none", edgecolor=SOFT, hatch="\\\\\\", linewidth=0, label="away"),
    ]
    figure = ax.get_figure(root=True)
    assert figure is not None
    columns = 4 if figure.get_figwidth() > 5 else 2
    ax.legend(
        handles=handles,
        ncols=columns,
        loc="lower left",
        bbox_to_anchor=(0, 1.0),
        borderpad=1.6,
        columnspacing=1.0,
    )
