"""The feed read over HTTP by calendar programs that others wrote: what they show is the plan."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fruitcast.diary.plan import Plan
from fruitcast.diary.state_from_diary import read_yard_state
from fruitcast.outputs.reminder import Reminder
from fruitcast.outputs.reminders import reminders
from fruitcast.web.access import AccessFile
from fruitcast.yard.reading import read_yard
from tests.outputs.sample_plan import TODAY, document, plan
from tests.requires import need, need_node_module, need_program
from tests.web.serving import Serving
from tests.web.sites import make_app, publish_site, write_site

ZONE = ZoneInfo("America/New_York")

Seen = tuple[str, str, str, tuple[str, ...]]
"""Summary, start, end and alarms, in UTC or as days."""


@pytest.fixture
def site(tmp_path) -> Iterator[tuple[Path, str]]:
    folder = write_site(tmp_path / "yard", note='"Çà et là; über the wall, \N{MUSHROOM}"')
    publish_site(folder, plan())
    server = Serving(make_app(folder))
    yield folder, f"{server.page}/feed/{AccessFile(folder).read().feed}.ics"
    server.close()


def planned(folder: Path, shown: Plan | None = None) -> set[Seen]:
    """Return what the plan and the diary want in the calendar."""
    yard = read_yard(folder)
    wanted = reminders(shown or plan(), yard, read_yard_state(yard, TODAY))
    oldest = TODAY - timedelta(days=400)
    return {_seen(reminder) for reminder in wanted if reminder.last_day >= oldest}


def _seen(reminder: Reminder) -> Seen:
    alarms = tuple(sorted(_moment(alarm) for alarm in reminder.alarms))
    return (reminder.summary, _moment(reminder.start), _moment(reminder.end), alarms)


def _moment(value: date) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return value.isoformat()


BY_NODE_ICAL = """
const ical = require(process.argv[2]);
const stamp = t => t.toISOString().replace(".000Z", "Z");
const day = t => [t.getFullYear(), t.getMonth() + 1, t.getDate()]
    .map(n => String(n).padStart(2, "0")).join("-");
const seconds = text => {
    const [, sign, d, h, m, s] = /^([+-]?)P(?:(\\d+)D)?(?:T(?:(\\d+)H)?(?:(\\d+)M)?(?:(\\d+)S)?)?$/
        .exec(text);
    const total = ((+(d || 0) * 24 + +(h || 0)) * 60 + +(m || 0)) * 60 + +(s || 0);
    return sign === "-" ? -total : total;
};
ical.async.fromURL(process.argv[3]).then(found => {
    const events = Object.values(found).filter(e => e.type === "VEVENT");
    console.log(JSON.stringify(events.map(e => [
        e.summary,
        ...[e.start, e.end].map(t => e.datetype === "date" ? day(t) : stamp(t)),
        (e.alarms || []).map(a => a.trigger.val || a.trigger)
            .map(trigger => stamp(new Date(+e.start + 1000 * seconds(trigger)))),
        e.status,
    ])));
}).catch(error => { console.error(error); process.exit(1); });
"""

BY_ICAL_JS = """
const { default: ICAL } = await import(process.argv[2]);
const text = await (await fetch(process.argv[3])).text();
const calendar = new ICAL.Component(ICAL.parse(text));
calendar.getAllSubcomponents("vtimezone").forEach(z => ICAL.TimezoneService.register(z));
const show = t => t.isDate ? t.toString() : t.toJSDate().toISOString().replace(".000Z", "Z");
console.log(JSON.stringify(calendar.getAllSubcomponents("vevent").map(component => {
    const event = new ICAL.Event(component);
    const alarms = component.getAllSubcomponents("valarm").map(alarm => {
        const at = event.startDate.convertToZone(ICAL.Timezone.utcTimezone);
        at.addDuration(alarm.getFirstPropertyValue("trigger"));
        return show(at);
    });
    const status = component.getFirstPropertyValue("status");
    return [event.summary, show(event.startDate), show(event.endDate), alarms, status];
})));
"""


def by_node(script: str, module: Path, address: str, *flags: str) -> set[Seen]:
    """Return what a program in JavaScript sees, cancelled events left out."""
    done = subprocess.run(
        [need_program("node"), *flags, "-", str(module), address],
        input=script,
        capture_output=True,
        text=True,
        timeout=60,
        # Days are told by the machine's zone: the yard's, so that they are the yard's days.
        env={**os.environ, "TZ": ZONE.key},
    )
    assert done.returncode == 0, done.stderr
    return {
        (summary, start, end, tuple(sorted(alarms)))
        for summary, start, end, alarms, status in json.loads(done.stdout)
        if status != "CANCELLED"
    }


def test_node_ical_sees_the_plan_with_its_alarms(site):
    folder, address = site
    module = need_node_module("node-ical")
    assert by_node(BY_NODE_ICAL, module, address) == planned(folder)


def test_ical_js_sees_the_plan_with_its_alarms_and_what_changes(site):
    folder, address = site
    module = need_node_module("ical.js") / "dist" / "ical.js"
    flags = ("--input-type=module",)
    assert by_node(BY_ICAL_JS, module, address, *flags) == planned(folder)
    soaks = document()["soaks"]
    soaks[0]["soak_on"], soaks[0]["pull_on"] = "2027-05-07", "2027-05-08"
    changed = plan(soaks=[soaks[0], *soaks[2:]])
    publish_site(folder, changed)
    assert by_node(BY_ICAL_JS, module, address, *flags) == planned(folder, changed)


VDIRSYNCER = """
[general]
status_path = "{root}/status/"
[pair yard]
a = "feed"
b = "phone"
collections = null
[storage feed]
type = "http"
url = "{address}"
[storage phone]
type = "filesystem"
path = "{root}/calendar/"
fileext = ".ics"
"""

KHAL = """
[calendars]
[[yard]]
path = {root}/calendar/
[locale]
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M
local_timezone = America/New_York
default_timezone = America/New_York
[sqlite]
path = {root}/khal.db
"""


def test_khal_lists_what_vdirsyncer_has_fetched(site, tmp_path):
    need("khal")
    need("vdirsyncer")
    folder, address = site
    (tmp_path / "calendar").mkdir()
    for name, text in (("vdirsyncer", VDIRSYNCER), ("khal", KHAL)):
        (tmp_path / name).write_text(text.format(root=tmp_path, address=address))
    for step in ("discover", "sync"):
        _run("vdirsyncer", "-c", str(tmp_path / "vdirsyncer"), step)
    listed = _run(
        "khal", "-c", str(tmp_path / "khal"), "list", "--day-format", "",
        "--format", "{start}|{end}|{title}|{alarm-symbol}", "2026-01-01", "800d",
    )  # fmt: skip
    seen = {tuple(part.strip() for part in line.split("|")) for line in listed.splitlines() if line}
    wanted = {
        (_shown(r.start), _shown_end(r), r.summary, "⏰" if r.alarms else "")
        for r in _reminders(folder)
    }
    assert seen == wanted


def _reminders(folder: Path) -> list[Reminder]:
    yard = read_yard(folder)
    oldest = TODAY - timedelta(days=400)
    found = reminders(plan(), yard, read_yard_state(yard, TODAY))
    return [reminder for reminder in found if reminder.last_day >= oldest]


def _shown(value: date) -> str:
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    return value.isoformat()


def _shown_end(reminder: Reminder) -> str:
    """Of what lasts whole days this program shows the last day, not the one after it."""
    end = reminder.end
    return _shown(end if isinstance(end, datetime) else reminder.last_day)


def _run(module: str, *arguments: str) -> str:
    from shutil import which
    from sys import executable

    program = which(module, path=f"{Path(executable).parent}:{os.environ['PATH']}")
    assert program, f"{module} is installed but its command is not"
    done = subprocess.run(
        [program, *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "LC_ALL": "C.UTF-8", "LANG": "C.UTF-8"},
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout
