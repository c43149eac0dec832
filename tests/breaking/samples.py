"""Valid files to be damaged: small, of invented yards and weather."""

from __future__ import annotations

from datetime import UTC, date, datetime

from fruitcast.diary.events import Event
from fruitcast.diary.tables import export_csv

TODAY = date(2027, 5, 3)
NOW = datetime(2027, 5, 3, 16, tzinfo=UTC)

_DAYS = [date(2027, 4, day) for day in range(1, 31)]


def _weather(titles: str, row: str, mark: str = ",") -> bytes:
    rows = [
        row.format(
            on=on, low=on.day % 7 - 1.5, high=on.day % 9 + 9.5, mean=6.0, rain=on.day**2 % 11 * 0.7
        )
        for on in _DAYS
    ]
    return ("\n".join([titles, *rows]) + "\n").replace(",", mark).encode()


WEATHER = (
    _weather("date,tmin,tmax,rain", "{on},{low},{high},{rain:.1f}"),
    _weather(
        "date,tmin,tmax,tmean,rain,rh,source", "{on},{low},{high},{mean},{rain:.1f},70,observed"
    ),
    _weather(
        "day,month,year,tmin_c,tmax_c,rain_mm", "{on.day},{on.month},{on.year},{low},{high},0"
    ),
    _weather("date,tmin,tmax,rain", "{on:%d/%m/%Y},{low},{high},{rain:.1f}", ";"),
    _weather(
        '"STATION","NAME","DATE","PRCP","PRCP_ATTRIBUTES","TMAX","TMIN"',
        '"USC00300000","HILL, XX","{on}",{rain:.2f},",,7,0700",{high},{low}',
    ),
    b"# attribution: invented\n\nAn invented hill,320 m\n"
    + _weather(
        "time,temperature_2m_max (C),temperature_2m_min (C),precipitation_sum (mm)",
        "{on},{high},{low},{rain:.1f}",
    ),
    _weather("date,tmin,tmax,rain,rain_source", "{on},{low},{high},{rain:.1f},metno_forecast"),
    (
        "".join(
            f"USC00300000,{on:%Y%m%d},{name},{value},,,7,0700\n"
            for on in _DAYS[:12]
            for name, value in (("TMIN", 21 - on.day), ("TMAX", 155 + on.day), ("PRCP", 13))
        )
    ).encode(),
    (
        "".join(
            f"USC00300000202704{name}"
            + "".join(f"{value + day * change + day**2 % 11 * rain:5d}  7" for day in range(30))
            + "-9999   \n"
            for name, value, change, rain in (
                ("TMIN", 21, -1, 0),
                ("TMAX", 155, 1, 0),
                ("PRCP", 0, 0, 13),
            )
        )
    ).encode(),
)

STACKS = (
    b"stack,strain_class,strain,tree,logs,diameter_cm,length_cm,inoculated,spawn,note\n"
    b"A,wide-range,,red oak,24,12.7,102,2025-04-12,sawdust,north wall\n"
    b"B,warm-weather,early,sugar maple,20,12,102,2025-04-19,plug,\n"
    b'C,cold-weather,,white oak,30,13.5,100,2025-03-22,thimble,"by the wall, low"\n'
    b"D,wide-range,,red maple,24,11,102,2024-04-06,sawdust,\n",
    "stack;strain_class;tree;logs;diameter_in;length_in;inoculated;spawn\n"
    "Nord 1;wide-range;red oak;24;5,5;40;2025-04-12;plug\n"
    "H\u00f6he;cold-weather;beech;72;4,5;40;2026-05-02;sawdust\n"
    "Total;;;96;;;;\n".encode(),
)

SETTINGS = (
    b"""\
# An invented yard.
name = "Larkspur Hollow"
units = "us"
promise = 0.8

[site]
latitude = 42.4
longitude = -76.6
elevation_m = 320
timezone = "America/New_York"
shade = 0.8

[weather]
file = "weather.csv"
years = 30

[soaking]
days = ["Tue", "Fri"]
tank_logs = 60
start = "08:00"
first = "04-15"
last = "10-20"
hours_a_day = 3

[watering]
keep_above = 0.35

[cold_store]
days = 10

[picking]
saleable = 0.85

[[outlet]]
name = "Saturday market"
day = "Sat"
target_lb = 14
from = 2027-05-01
to = 2027-10-30
price_per_lb = 14
weight = 1

[[outlet]]
name = "Shop"
day = "Wed"
target_kg = 2
from = "05-19"
to = "10-27"

[[order]]
outlet = "Wedding"
on = 2027-06-19
target_lb = 9

[[away]]
from = 2027-07-04
to = 2027-07-10

[[closed]]
outlet = "Saturday market"
on = 2027-07-03

[costs]
log = 1.5
wage_per_hour = 18

[[wood]]
tree = "red oak"
diameter_in = 5
length_in = 40
logs_a_year = 80
spawn = "plug"

[numbers]
"yard.cold_store_days" = 9
schedule.change_price = 0.2
""",
)

PLAIN_STACKS, PLAIN_SETTINGS = STACKS[0], SETTINGS[0]

ENTRIES = tuple(
    Event(
        kind,
        date(2027, 4, 1 + number),
        uuid=f"00000000-0000-4000-8000-{number:012d}",
        recorded_at=datetime(2027, 4, 1 + number, 18, tzinfo=UTC),
        **fields,
    )
    for number, (kind, fields) in enumerate(
        [
            ("inspect", {"stack": "A", "findings": ("spawn run done",)}),
            ("weigh", {"stack": "A", "kg": 13.0, "start_kg": 13.0, "moisture_wet": 0.43}),
            ("soak", {"stack": "A", "logs": 12, "hours": 24.0, "note": "warm day"}),
            ("pull", {"stack": "A"}),
            ("pins", {"stack": "A"}),
            ("pick", {"stack": "A", "kg": 1.4, "grade": "first", "outlet": "Shop"}),
            ("water", {"mm": 12.0}),
            ("rain", {"mm": 4.5}),
            ("split", {"stack": "B", "logs": 5, "into": "B2"}),
            ("merge", {"stack": "B2", "into": "A"}),
            ("stock", {"kg": 1.0, "picked_on": date(2027, 4, 6)}),
            ("sold", {"kg": 0.5, "outlet": "Shop", "stack": "A"}),
            ("retire", {"stack": "C", "logs": 3}),
            ("note", {"note": "=tank cleaned"}),
            ("undo", {"cancels": "00000000-0000-4000-8000-000000000007"}),
        ]
    )
)

DIARY = (export_csv(ENTRIES), export_csv(ENTRIES[:4]).replace(b",", b";"))

RECORDS = tuple(
    words.encode()
    for words in (
        "soak A 24 h", "soak A 12 logs overnight", "pull A yesterday", "pick A 2 lb 6 oz",
        "pick A 1.1 kg grade 2 for Saturday market (wet caps)", "pins A", "fruiting A last Fri",
        "pins A about 15 a log", "nothing A yesterday",
        "water A 1 in", "water all 20 mm", "water A 400 litres", "rain 0.6 in yesterday",
        "rain none 2 May", "weigh A 29 lb", "weigh A 35 lb at 42 %",
        "weigh A 29 lb start 35 lb at 42 % sample 2", "inspect A white ends, 2 dead",
        "stock 5 lb picked Fri", "sold 5 lb Saturday market", "sold 2 kg to Inn from A",
        "discard 300 g from A", "sold 1 lb A-2027-04-06", "split A 10 logs into K",
        "merge B into A", "move A to the north bank", "retire A 3 logs", "note A bark peels",
        "3 May 2027:\npicked A 2 lb\nsoaked B 24 h\n\n# a remark\nlast Tue\nrain 12 mm\n",
    )
)  # fmt: skip


def station_year(days: int = 40) -> bytes:
    """Return one year of one station as plain CSV, the last days a forecast."""
    columns = ["temp", "tmin", "tmax", "rhum", "prcp", "wspd"]
    lines = [",".join(["year", "month", "day", *columns, *(f"{c}_source" for c in columns)])]
    for number in range(days):
        on = date.fromordinal(date(2027, 4, 1).toordinal() + number)
        values = [on.day % 7 + 5.5, on.day % 7, on.day % 7 + 11, 70, on.day % 4 * 1.5, 9.0]
        source = "dwd_poi metno_forecast" if on >= TODAY else "ghcnd"
        lines.append(",".join(map(str, [on.year, on.month, on.day, *values, *[source] * 6])))
    return ("\n".join(lines) + "\n").encode()
