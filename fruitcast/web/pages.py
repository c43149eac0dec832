"""The pages that show: today, stacks, supply, diary, lots, lists to be searched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

from flask import Flask, redirect, render_template, request, url_for
from flask import Response as FlaskResponse
from werkzeug.wrappers import Response

from fruitcast.app.diary_tables import (
    NOTHING_PICKED,
    NOTHING_SOLD,
    PartOfPick,
    Sold,
    outlet_takings,
    trace_page,
    trace_table,
    traceability,
)
from fruitcast.app.publication import foretelling
from fruitcast.app.serving import (
    Clock,
    Situation,
    diary_entries,
    inputs_of,
    logs_now,
    lot_entry,
    lots_open,
    search_entries,
    write_entries,
)
from fruitcast.diary.plan import Sale, StackToPart
from fruitcast.diary.sales import NO_PROOF
from fruitcast.errors import InputError
from fruitcast.outputs.evidence_words import foretold_table
from fruitcast.outputs.listing import Column, Listing, parts_of, table
from fruitcast.outputs.lots_words import part_words, why_words
from fruitcast.outputs.plan_words import (
    learned_change_words,
    model_change_lines,
    table_words,
    yield_words,
)
from fruitcast.outputs.week import Glance, glance, sale_cells, totals, work_lines
from fruitcast.progress import Progress
from fruitcast.units import Units, format_weight
from fruitcast.weather.stations import Fetching
from fruitcast.web.context import WRONG_INPUT, Answer, Context
from fruitcast.web.pictures import supply_picture
from fruitcast.web.records import form_uuid
from fruitcast.web.trial import Trials, add_trials
from fruitcast.web.words import change_words, stack_rows, sure_words, week_days, yes_link
from fruitcast.words import count_words, dated_words, day_words, span_words

if TYPE_CHECKING:
    from fruitcast.app.reporting import ReportWritten

LAST_ENTRIES = 40
"""Entries of the diary on its page."""

FIRST_CHANGES = 3
"""Changes of the plan that stand open on the first page."""

MOST_MESSAGES = 20
"""Entries whose writing one message confirms."""


def add_pages(app: Flask, context: Context) -> None:
    """Add the pages to an application."""

    @app.get("/")
    def today() -> str:
        now = context.situation()
        written = diary_entries(now, uuids=request.args.getlist("written")[:MOST_MESSAGES])
        return render_template(
            "today.html",
            now=now,
            days=week_days(now),
            seen=_seen(now),
            lots=[each.stack for each in lots_open(now)],
            work=work_lines(now.plan, now.today) if now.plan else (),
            written=written,
            left=logs_now(now, written),
            changes=change_words(context.progress().changes),
            first_changes=FIRST_CHANGES,
            release=lambda stack: yes_link(f"release {stack}"),
            old_plan=_old_plan(now),
            seen_up_to=_seen_up_to(now),
            bears=yield_words(*now.plan.yield_beside_table()) if now.plan else "",
            learned=learned_change_words(now.plan.learned_change, now.today) if now.plan else "",
            changed=model_change_lines(now.plan, now.yard.units) if now.plan else (),
        )

    @app.get("/stacks")
    def stacks() -> str:
        now = context.situation()
        return render_template("stacks.html", now=now, rows=stack_rows(now))

    @app.get("/supply")
    def supply() -> str:
        now = context.situation()
        return render_template(
            "supply.html",
            now=now,
            outlets=_outlets(now),
            sure=sure_words(now.plan, now.yard.units) if now.plan and now.yard.sells else [],
            told=table_words(now.plan, now.yard) if now.plan and not now.yard.sells else (),
        )

    @app.get("/diary")
    def diary() -> str:
        now = context.situation()
        words = request.args.get("find", "").strip()[:100]
        if words:
            entries, count = search_entries(now, words, LAST_ENTRIES)
        else:
            entries, count = diary_entries(now, LAST_ENTRIES), 0
        return render_template(
            "diary.html", now=now, entries=entries, words=words, more=count - len(entries)
        )

    @app.get("/more")
    def more() -> str:
        return render_template("more.html", now=context.situation())

    @app.get("/about")
    def about() -> str:
        now = context.situation()
        return render_template(
            "about.html", now=now, rests_on=_rests_on(now, context.clock), old_plan=_old_plan(now)
        )

    @app.post("/plan")
    def plan() -> Response:
        context.replan()
        return redirect(url_for("today"), 303)

    @app.get("/status")
    def status() -> dict[str, object]:
        progress = context.progress()
        return {"busy": progress.busy, "behind": progress.behind}


def _seen(now: Situation) -> Glance | None:
    """Return the answer in short, to stand before the jobs."""
    if now.plan is None or now.week is None:
        return None
    return glance(now.plan, now.week, now.yard.units, now.today)


def _old_plan(now: Situation) -> str:
    """Return which day's plan is shown when it is not today's."""
    if now.plan is None or now.plan.today == now.today:
        return ""
    return day_words(now.plan.today, now.today)


def _outlets(now: Situation) -> list[dict[str, object]]:
    """Return each outlet with its picture and the rows of its table."""
    if now.plan is None:
        return []
    units = now.yard.units
    by_name: dict[str, list[Sale]] = {}
    for sale in now.plan.outlets:
        by_name.setdefault(sale.outlet, []).append(sale)
    found: list[dict[str, object]] = []
    for name, sales in by_name.items():
        wanted, expected, _ = totals(sales, units)
        title = (
            f"{name}, {count_words(len(sales), 'day')} from "
            f"{span_words(sales[0].on, sales[-1].on)}: {wanted} wanted, "
            f"{expected} expected. The table below has every day."
        )
        short = {entry.on: entry.reason for entry in now.plan.short if entry.outlet == name}
        found.append(
            {
                "name": name,
                "picture": supply_picture(sales, title, units),
                "rows": [
                    {**sale_cells(sale, units)._asdict(), "short": short.get(sale.on, "")}
                    for sale in sales
                ],
                "short": bool(short),
                "given": any(sale.given_kg for sale in sales),
            }
        )
    return found


def _rests_on(now: Situation, clock: Clock) -> Sequence[tuple[str, str]]:
    """Return what the page rests on and how old it is, each with its name."""
    zone = now.yard.site.timezone
    rows = [("This page", f"made {clock.now().astimezone(zone):%H:%M} on {day_words(now.today)}")]
    if now.plan is not None:
        made = now.background.plan_made_at
        at = f"{made.astimezone(zone):%H:%M} on " if made else ""
        rows.append(("Plan", f"made {at}{day_words(now.plan.today, now.today)}"))
    weather = now.background.weather
    if weather:
        rows.append(("Weather from", weather.origin))
        rows.append(("Weather seen up to", _seen_up_to(now)))
        if weather.forecast_to:
            rows.append(("Forecast up to", dated_words(weather.forecast_to)))
    years = now.background.years
    if years:
        rows.append(("Weather years", f"{len(years)}, {years[0]} to {years[-1]}"))
    entries = diary_entries(now, 1)
    if entries:
        event = entries[0].event
        at = f"{event.recorded_at.astimezone(zone):%H:%M, }" if event.recorded_at else ""
        day = event.recorded_at.astimezone(zone).date() if event.recorded_at else event.on
        rows.append(("Last entry in the diary", f"{at}{dated_words(day)}"))
    return rows


def _seen_up_to(now: Situation) -> str:
    """Return the last day of observed weather, and how many days are missing since."""
    weather = now.background.weather
    if not weather:
        return ""
    behind = (now.today - weather.observed_to).days - 1
    old = f"; {count_words(behind, 'day')} since are missing" if behind > 0 else ""
    return f"{dated_words(weather.observed_to)}{old}"


# How good the forecasts were, and the report to print.

REPORT, REPORT_FILE = "/report", "report.html"


def add_evidence(app: Flask, context: Context) -> None:
    """Add the pages to an application."""
    trials: Trials[date | None, ReportWritten] = add_trials(app, REPORT, None)

    @app.get("/foretold")
    def foretold() -> str:
        now = context.situation()
        found = foretold_table(foretelling(now.yard, now.today, now.plan), now.yard.units)
        return render_template("foretold.html", now=now, parts=parts_of(found))

    @app.get(REPORT)
    def report() -> str:
        now, trial = context.situation(), trials.trial
        there = (now.yard.out_folder / REPORT_FILE).is_file()
        old = trial.is_old(inputs_of(now))
        return render_template("report.html", now=now, trial=trial, there=there, old=old)

    @app.post(REPORT)
    def make_report() -> Response:
        now = context.situation()
        write = partial(_report, context.folder, now.today, context.fetching())
        trials.start(now.today, inputs_of(now), write)
        return redirect(REPORT, 303)

    @app.get(f"{REPORT}/print")
    def report_to_print() -> Response:
        try:
            page = (context.situation().yard.out_folder / REPORT_FILE).read_bytes()
        except OSError:
            return redirect(REPORT, 303)
        return FlaskResponse(page, mimetype="text/html")


def _report(folder: Path, today: date, fetching: Fetching, *, progress: Progress) -> ReportWritten:
    """Write the report; what it draws takes too long to load for the pages."""
    from fruitcast.app.reporting import write_report

    return write_report(folder, today, fetching=fetching, progress=progress).document()


# The page on which lots for stacks that bear too much at once are shown and taken.


GONE_BY = "These lots are not proposed any more. Look at what stands here now."


def add_lots(app: Flask, context: Context) -> None:
    """Add the page to an application."""

    @app.get("/lots")
    def lots() -> str:
        return _show(context.situation())

    @app.post("/lots")
    def take_lots() -> Answer:
        now, given = context.situation(), request.form.getlist("lots")
        still_open = {_told(each): each for each in lots_open(now)}
        taken = [still_open[told] for told in given if told in still_open]
        try:
            uuids = [form_uuid(request.form.get("uuid", ""), n) for n in range(max(len(given), 1))]
        except InputError as error:
            return _show(now, str(error)), WRONG_INPUT
        if not diary_entries(now, uuids=uuids):  # else it was handed in before
            if not taken or len(taken) < len(given):
                return _show(now, GONE_BY), WRONG_INPUT
            pairs = zip(taken, uuids, strict=True)
            entries = [replace(lot_entry(each, now.today), uuid=uuid) for each, uuid in pairs]
            write_entries(now, entries, context.clock.now())
            context.replan()
        return redirect(url_for("today", written=uuids), 303)


def _show(now: Situation, fault: str = "") -> str:
    found: Sequence[StackToPart] = lots_open(now)
    week_kg = now.plan.usual_week_kg if now.plan else None
    return render_template(
        "lots.html",
        now=now,
        fault=fault,
        proposed=[(_told(each), part_words(each, now.yard.units)) for each in found],
        why=why_words(week_kg, now.yard.units) if found and week_kg is not None else "",
        uuid=str(uuid4()),
    )


def _told(each: StackToPart) -> str:
    """Return a stack and its lots as the form hands them in."""
    return f"{len(each.lots)} {each.stack}"


# Pages that list what was sold and picked, with what it brought and where it came from.


def add_lists(app: Flask, context: Context) -> None:
    """Add the pages to an application."""

    @app.get("/sales")
    def sales() -> Answer:
        now = context.situation()
        first, last, fault = days = _span(now.today)
        found = traceability(context.folder, now.today, first, last)
        if "csv" in request.args and not fault:
            return _file(found.csv, f"sales-{first}-{last}.csv")
        brought = outlet_takings(context.folder, now.today, first, last)
        return _listed(
            days,
            now=now,
            title="Sales",
            path="/sales",
            add=("Write down a sale", "/record/sold"),
            listing=_sold(found.rows, now.yard.units),
            told=[each.words for each in brought if each.words],
            empty=NOTHING_SOLD,
        )

    @app.get("/trace")
    def trace() -> Answer:
        now = context.situation()
        first, last, fault = days = _span(now.today)
        found = trace_table(context.folder, now.today, first, last)
        if "csv" in request.args and not fault:
            return _file(found.csv, f"trace-{first}-{last}.csv")
        return _listed(
            days,
            now=now,
            title="Where each pick came from and went",
            path="/trace",
            add=("Write down a pick", "/record/pick"),
            listing=_picked(found.rows, now.yard.units),
            empty=NOTHING_PICKED,
            note=NO_PROOF,
            to_print="/trace/print",
        )

    @app.get("/trace/print")
    def trace_to_print() -> FlaskResponse:
        now = context.situation()
        first, last, _ = _span(now.today)
        found = trace_table(context.folder, now.today, first, last)
        return FlaskResponse(trace_page(found, first, last), mimetype="text/html")


def _listed(days: tuple[date, date, str], **shown: object) -> Answer:
    first, last, fault = days
    often = {"told": (), "note": "", "to_print": ""}
    page = render_template("list.html", first=first, last=last, fault=fault, **(often | shown))
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


def _sold(rows: Sequence[Sold], units: Units) -> Listing:
    return table(
        rows,
        (Column("Day"), lambda row: dated_words(row.on)),
        (Column("Outlet"), lambda row: row.outlet or "not named"),
        (Column("Weight"), lambda row: format_weight(row.kg, units)),
        (Column("Pick"), lambda row: row.label or "not known"),
        (Column("Taken"), lambda row: row.by),
        (Column("Grade"), lambda row: row.grade),
        (Column("Paid"), lambda row: "" if row.paid is None else f"{row.paid:.2f}"),
    )


def _picked(rows: Sequence[PartOfPick], units: Units) -> Listing:
    return table(
        rows,
        (Column("Pick"), lambda row: row.pick),
        (Column("Weight"), lambda row: format_weight(row.kg, units)),
        (Column("Went"), lambda row: row.went_words),
        (Column("On"), lambda row: row.on.isoformat() if row.on else ""),
        (Column("Tree"), lambda row: row.tree or ""),
        (
            Column("Soaked"),
            lambda row: ", ".join(day.isoformat() for day in row.soaked_on) or "came by itself",
        ),
        (Column("Picked by"), lambda row: row.picked_by),
    )


def _file(data: bytes, name: str) -> FlaskResponse:
    return FlaskResponse(
        data, mimetype="text/csv", headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
