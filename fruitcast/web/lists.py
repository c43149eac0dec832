"""Pages that list what was sold and picked, with what it brought and where it came from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from flask import Flask, Response, render_template, request

from fruitcast.app.diary_tables import (
    PartOfPick,
    Sold,
    outlet_takings,
    trace_table,
    traceability,
)
from fruitcast.diary.traceability import NO_PROOF
from fruitcast.errors import InputError
from fruitcast.units import Units, format_weight
from fruitcast.web.context import Context
from fruitcast.words import day_words

WRONG_INPUT = 422
"""Status of a span of days that can't be read."""


def add_lists(app: Flask, context: Context) -> None:
    """Add the pages to an application."""

    @app.get("/sales")
    def sales() -> str | tuple[str, int] | Response:
        now = context.situation()
        first, last, fault = _span(now.today)
        table = traceability(context.folder, now.today, first, last)
        if "csv" in request.args and not fault:
            return _file(table.csv, f"sales-{first}-{last}.csv")
        brought = outlet_takings(context.folder, now.today, first, last)
        page = render_template(
            "list.html",
            now=now,
            title="Sales",
            path="/sales",
            first=first,
            last=last,
            fault=fault,
            columns=("Day", "Outlet", "Weight", "Pick", "Grade", "Paid"),
            rows=_sold_rows(table.rows, now.yard.units),
            told=[each.words for each in brought if each.words],
            empty="Nothing was sold or picked for an outlet in these days.",
            note="",
        )
        return (page, WRONG_INPUT) if fault else page

    @app.get("/trace")
    def trace() -> str | tuple[str, int] | Response:
        now = context.situation()
        first, last, fault = _span(now.today)
        table = trace_table(context.folder, now.today, first, last)
        if "csv" in request.args and not fault:
            return _file(table.csv, f"trace-{first}-{last}.csv")
        page = render_template(
            "list.html",
            now=now,
            title="Where each pick came from and went",
            path="/trace",
            first=first,
            last=last,
            fault=fault,
            columns=("Pick", "Weight", "Went", "On", "Tree", "Soaked", "Picked by"),
            rows=_pick_rows(table.rows, now.yard.units),
            told=(),
            empty="Nothing was picked in these days.",
            note=NO_PROOF,
        )
        return (page, WRONG_INPUT) if fault else page


def _span(today: date) -> tuple[date, date, str]:
    """Return the days asked for, this year up to today where they can't be read, and why."""
    given = [request.args.get(end, "").strip() for end in ("from", "to")]
    usual = date(today.year, 1, 1), today
    try:
        first, last = (
            date.fromisoformat(text) if text else day
            for text, day in zip(given, usual, strict=True)
        )
        if first > last:
            raise InputError(f"From {first} to {last} is no span of days.")
    except ValueError as error:
        told = str(error) if isinstance(error, InputError) else "Write both days like 2027-05-03."
        return *usual, told
    return first, last, ""


def _sold_rows(rows: Sequence[Sold], units: Units) -> list[tuple[str, ...]]:
    return [
        (
            f"{day_words(row.on)} {row.on.year}",
            row.outlet or "not named",
            format_weight(row.kg, units),
            row.label or "not known",
            row.grade,
            "" if row.paid is None else f"{row.paid:.2f}",
        )
        for row in rows
    ]


def _pick_rows(rows: Sequence[PartOfPick], units: Units) -> list[tuple[str, ...]]:
    return [
        (
            row.pick,
            format_weight(row.kg, units),
            f"{row.went}: {row.to}" if row.to else row.went,
            row.on.isoformat() if row.on else "",
            row.tree or "",
            ", ".join(day.isoformat() for day in row.soaked_on) or "by itself",
            row.picked_by,
        )
        for row in rows
    ]


def _file(data: bytes, name: str) -> Response:
    return Response(
        data,
        mimetype="text/csv",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
