"""Words of a record taken apart: days, amounts, names; and days and amounts put into words."""

from __future__ import annotations

import math
import re
from calendar import isleap, monthrange
from collections.abc import Iterable
from datetime import date, timedelta
from difflib import get_close_matches

from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.plain_words import CURRENCY, CURRENCY_CODE, plainly
from fruitcast.errors import InputError
from fruitcast.tables.values import WEEKDAYS
from fruitcast.units import Units, parse_rain, parse_weight

MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
DAY_EXAMPLES = "'today', 'yesterday', 'last Fri', '3 days ago', '4 May' or '2027-05-04'"

LITRES_PER_GALLON = 3.785411784
"""US liquid gallon, exact by definition (231 cubic inches)."""

SAMPLE_NAMES = r"(?:test|marked|index|monitor(?:ing)?|check|control|reference|weighing|tagged)"
"""What a sample log is called beside 'sample'."""

_NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?\s*[¼½¾⅓⅔⅛]?|[.,]\d+|[¼½¾⅓⅔⅛])"
_WEIGHT_UNIT = (
    r"(?:kgs?|kilos?|kilograms?|g|gr|grams?|lbs?|pounds?|oz|ounces?)(?![a-z])\.?|#(?=\s|$)"
)
UNIT_OF_WEIGHT = pattern_of(rf"(?<![\w])(?:{_WEIGHT_UNIT})")
_RAIN_UNIT = r"(?:mm|millimetres?|millimeters?|cm|centimetres?|centimeters?|inch(?:es)?|in|\"|'')"
_END = r"(?![\w/])"

_SUM = r"\d{1,9}(?:[.,]\d{1,9})?(?!\d)"
_FOR_EACH = r"(?:\s*(?:/|per|an?|the)\s*(?:kg|kilo|lb|pound)s?\b)"
MONEY = pattern_of(
    r"(?<![\d.,])(?:(?:for|at|@|took|made|got|earned|total(?:ling)?|came to)\s*)?"
    rf"(?:(?:[$€£]|\b{CURRENCY_CODE})\s*{_SUM}(?:{_FOR_EACH}|\s*(?:cash|paid)\b)?"
    rf"|(?<![\d.,]){_SUM}\s*(?:{CURRENCY}|paid|(?:in )?cash"
    rf"|taken(?=\s*$)|in the (?:tin|till|cash ?box))(?!\w){_FOR_EACH}?)"
    rf"|(?<![\d.,/]){_SUM}{_FOR_EACH}|\bgot\s+{_SUM}(?=\s+for (?:it|them|that)\b)"
    rf"|(?:for|at|@|paid|took|made|earned|fetched|takings)\s*{_SUM}(?:\s*\$|{_FOR_EACH}|(?=$|\s*[,.]?$|\s*,|\s+(?:to|at|and|cash|for)\b))"
    rf"|for\s+{_SUM}(?=\s+(?:yesterday|today|this|last|total|all in)\b)"
)
"""What was paid."""

_METRIC = pattern_of(r"\d\s*(?:k|g)")
_POUNDS = pattern_of(r"[\d¼½¾⅓⅔⅛]\s*(?:lb|pound|oz|ounce|#)")


def _weight(joint: str) -> str:
    """Return the pattern of a weight; a second unit is the smaller one of the first."""
    ounces = rf"(?:lbs?|pounds?|\#)(?![a-z])\.?{joint}{_NUMBER}\s*(?:oz|ounces?)(?![a-z])\.?"
    grams = rf"(?:kgs?|kilos?|kilograms?)(?![a-z])\.?{joint}{_NUMBER}\s*(?:gr?|grams?)(?![a-z])\.?"
    return rf"{_NUMBER}\s*(?:{ounces}|{grams}|{_WEIGHT_UNIT})"


_WEIGHT, _CLOSE_WEIGHT = _weight(r"\s*(?:and|,)?\s*"), _weight(r"\s*")
WEIGHT = pattern_of(rf"(?<![\w.,])(-?{_WEIGHT})")
ONE_WEIGHT = rf"(?<![\w.,]){_CLOSE_WEIGHT}"
"""Pattern of a weight without a comma or 'and' in it."""

DEPTH = pattern_of(rf"(?<![\w.,])(-?{_NUMBER}\s*{_RAIN_UNIT}){_END}")
LITRES = pattern_of(rf"(?<![\w.,])({_NUMBER})\s*(litres?|liters?|l|gallons?|gal){_END}\.?")
HOURS = pattern_of(
    rf"(?<![\w.,])(-?{_NUMBER})\s*(?:hours?|hrs?|h|(?P<minutes>minutes?|mins?)){_END}\.?"
)
_HOW_MANY = rf"(?P<days>an?|one|two|{_NUMBER}|the|)\s*(?:whole|full|good)?\s*days?\b"
DAYS_LONG = pattern_of(
    r"\b(?:for|(?:leaving|leave|left) (?:them|it)(?: in)?(?: for)?)\s+" + _HOW_MANY
)
LASTED = pattern_of(f"{HOURS.pattern}|{DAYS_LONG.pattern}")
"""How long something lasted, in hours or days."""
_DAYS = pattern_of(rf"(?<![\w/.,]){_HOW_MANY}(?! \w)")
LOGS = pattern_of(
    r"(?<![\w.,/])(-?\d+)\s*(?:of\s+(?:the|them|those)\s+)?"
    rf"(?P<kept>(?:(?!of\b|in\b|from\b|and\b|for\b|{_WEIGHT_UNIT}|(?:h|hrs?|hours?|mins?|mm|in)\b)[a-z]+\s+){{0,2}})"
    r"(?:logs?|(?<!\d)ones)(?!\w)"
)
_DEAD = pattern_of(
    r"(?<![\w.,])(?P<before>-?\d+|no|none|nothing)\s*(?:of\s+the\s+)?(?:logs?\s*)?(?:,?\s*(?:(?:they|all)(?:'re)?\s+)?(?:are|were|have|look|is|has|was)?\s*)?"
    r"(?:(?:proper|quite|completely|stone|definitely|properly)\s+)?(?:dead(?:\s+(?:logs?|ones?))?|died)(?!\w)"
    r"|(?<!\w)dead(?:\s+(?:logs?|ones?))?\s*:?\s*"
    r"(?P<after>\d+|(?<=: )(?:none|zero|no))(?:\s*logs?)?(?![\w.,])"
)
_PERCENT = pattern_of(rf"(?:at\s+)?(?<![\w.,])({_NUMBER})\s*(?:%|percent|per cent)")
_OF_ANOTHER_KIND = (
    r"(?!\s*(?:hours?|hrs?|h|minutes?|mins?|litres?|liters?|gallons?|gal|" r"mm|cm|%)(?!\w))"
)
_BARE = pattern_of(rf"(?<![\w.,/-])(-?{_NUMBER})(?![\w/.,%-]){_OF_ANOTHER_KIND}")
_THOUSANDS = pattern_of(r"(?<![\d.,])([1-9]\d{0,2}),(\d{3})(?!\d)", 0)
NO_BANKNOTE = r"(?<!pound)(?<!quid)(?<!dollar)(?<!euro)"
"""What does not stand before the word for what is noted."""

_NOTE = pattern_of(
    rf"\(([^()]*)\)|(?:^|{NO_BANKNOTE}\s)note\b\s*:?\s*(.*)$", re.IGNORECASE | re.DOTALL
)

_SMALL = ("a", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_SMALL_VALUE = {word: max(1, number) for number, word in enumerate(_SMALL)} | {"an": 1}
_ROUND = r"flush|pick(?:ing)?|harvest|round|crop|log(?!s)|lot|soak"
_SUN = "".join(
    f"(?<!{word} )"
    for word in ("cos", "when", "much", "the", "full", "hot", "in", "of", "more", "no", "strong")
)
"""'Too much sun' is no Sunday, 'sat in the rain' no Saturday."""
_WEEKDAY = (
    "|".join(rf"{name[:3]}(?:{name[3:]})?" for name in WEEKDAYS[:5])
    + rf"|saturday|sat(?!\s+(?:in|there|down|under|by|around|out)\b)|sunday"
    rf"|{_SUN}sun(?!'s|\s+(?:finally|was|is|came|out|shone|shining|at last|[a-z]+ed)\b)"
    + "|tues|wednes|thurs?"
)
_MONTH = "|".join(rf"{name[:3]}(?:{name[3:]})?" for name in MONTHS) + "|sept"
_HOUR = r"(?:morning|afternoon|evening|night|lunchtime|noon|midday|[ap]m|arvo|eve)"
_DAY_NUMBER, _MONTH_NUMBER = r"(?:1[3-9]|2\d|3[01])", r"(?:0?[1-9]|1[0-2])"
_NO_FRACTION = r"(?!\s*(?:[a-z]{0,2}(?:in|inch(?:es)?|lbs?|oz|kg|pounds?)\b|[\"/']))"
DAY = pattern_of(
    r"(?<![\w-])(?:(?:on|since)\s+)?(?:(?:early|earlier|late|first\s+thing)\s+)?(?:"
    rf"(?:(?P<named>{_WEEKDAY})\b\.?,?\s+)?(?:"
    r"(?P<iso>\d{4}-\d{1,2}-\d{1,2})"
    rf"|(?:the\s+)?(?P<day>\d{{1,2}})(?:st|nd|rd|th)?(?:\.?\s+(?:of\s+)?|-)(?P<month>{_MONTH})\b\.?"
    r"(?:,?\s+(?P<year>\d{4}))?"
    rf"|\b(?P<month2>{_MONTH})\.?\s+(?P<day2>\d{{1,2}})(?:st|nd|rd|th)?\b"
    r"(?:,?\s+(?P<year2>\d{4}))?"
    rf"|(?:the\s+)?(?P<ordinal>\d{{1,2}})(?:st|nd|rd|th)(?!\s+(?:{_ROUND}|grade|time|one|year|row)))"
    rf"|last\s+week(?:'s)?\s+(?:on\s+)?(?P<week>{_WEEKDAY})\b|(?P<week2>{_WEEKDAY})\b\s+last\s+week"
    r"|(?P<slashed>\d{1,4}[/.]\d{1,2}[/.]\d{2,4}"
    rf"|(?:{_DAY_NUMBER}/{_MONTH_NUMBER}|{_MONTH_NUMBER}/{_DAY_NUMBER}){_NO_FRACTION})"
    rf"|(?P<before>(?:the\s+)?day\s+before\s+yesterday(?:\s+{_HOUR})?)"
    rf"|(?P<near>(?:today|yesterday|tomorrow)(?:\s+(?:early\s+|late\s+)?{_HOUR})?|now"
    rf"|this\s+{_HOUR}|tonight|last\s+(?:night|evening|eve))"
    rf"|(?P<count>\d+|{'|'.join(_SMALL)}|an)\s+(?P<unit>day|night|week)s?\s+(?:ago|back)"
    rf"|(?P<which>last|this|this\s+past|past|next)?\s*\b(?P<weekday>{_WEEKDAY})\b\.?"
    rf"(?:\s+(?:early\s+|late\s+)?{_HOUR})?(?:\s+(?:just\s+)?gone)?"
    r")(?![\w-])"
)
_NEAR = {"yesterday": -1, "last night": -1, "last evening": -1, "last eve": -1, "tomorrow": 1}


_VAGUE_DAY = pattern_of(
    r"(?<!day )\b(?:last|this|past|all|earlier in the|earlier this) (?:week|month|weekend|season"
    r"|spring|summer|autumn|fall|winter|year)\b(?!(?:'s)? (?:on )?(?:mon|tue|wed|thu|fri|sat)\w*)"
    r"|\bthe other (?:day|morning|night|evening)\b"
    r"|\b(?:over|at|on|before|during) the week(?:end)?\b"
    r"|\b(?:a )?(?:few|several|couple|some) (?:of )?(?:days|weeks|nights) (?:ago|back)\b"
    r"|\brecently\b|\blately\b|\b(?:a )?while (?:ago|back)\b|\b(?:ages|some time) ago\b"
    r"|\b(?:every|each) (?!today|yesterday)\w*(?:day|week|morning)s?\b|\b(?:daily|weekly"
    r"|(?<!a )(?<!one )(?<!\d )fortnights?|before last)\b"
    r"|\bthat was (?:in|back|the (?:year|summer|spring|autumn|winter|time|week|month))\b"
    r"|(?<!for )(?<!, )\bone day\b(?! each)|\bone of these days\b|\bweek (?:before|gone|past)\b"
    r"|(?<!this )(?<!last )(?<!day )(?<!in the )\b(?:night|day|morning|evening) before\b(?! yest)"
    r"|\bthe (?:following|next) (?:day|morning)\b"
)

_OF_SEASON = pattern_of(
    r"\b(?:first|second|third|best|biggest|last|only|\d(?:st|nd|rd|th))\b[^,;.\d]{0,30}?"
    r"\b(?:this|of the) (?:year|season|spring|summer|autumn|fall)\b"
    r"|(?:^|(?<=[,;] ))(?:it|they|she|he|we)(?:'s|'ve| has| have)\b[^,;.\d]*"
    r"\b(?:this|all) (?:year|season|spring|summer|autumn|fall)\b"
)
"""'The first pick this year' is of no other day, nor is '..., it has given plenty this year'."""


def vague_day(text: str) -> str:
    """Return words that name a day too loosely: 'last week'; else nothing."""
    found = _VAGUE_DAY.search(_OF_SEASON.sub(" ", text))
    return found[0] if found else ""


def joined(*kept: str) -> str:
    """Return what is left of words when others were taken out; amounts stay two: '2 lb; 3 oz'."""
    parts = [" ".join(part.split()) for part in kept]
    text = ""
    for part in filter(None, parts):
        apart = part[0].isdigit() and UNIT_OF_WEIGHT.search(text[-9:].split(" ")[-1]) is not None
        text = f"{text}{'; ' if apart else ' ' if text else ''}{part}"
    return text


class Phrase:
    """A record's words as typed; each `take_...` removes what it has read."""

    def __init__(self, words: str) -> None:
        self.given = " ".join(words.split())
        self.text = plainly(self.given)
        self.took_bare = False

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Remove and return the first match of a pattern."""
        found = pattern.search(self.text)
        if found:
            self._cut(found)
        return found

    def _cut(self, found: re.Match[str]) -> None:
        self.text = joined(self.text[: found.start()], self.text[found.end() :])

    def _take_bare(self) -> re.Match[str] | None:
        """Remove and return a number without a unit; the 4 of '4 May' is none."""
        days = [day.span() for day in DAY.finditer(self.text)]
        for found in _BARE.finditer(self.text):
            if not any(start <= found.start(1) < end for start, end in days):
                self._cut(found)
                self.took_bare = True
                return found
        return None

    def take_words(self, *alternatives: str) -> bool:
        """Remove one of several wordings (patterns), and say whether any was there."""
        return (
            self.take(re.compile(rf"(?<!\w)(?:{'|'.join(alternatives)})(?!\w)", re.I)) is not None
        )

    def take_name(self, names: Iterable[str], *, at_start: bool) -> str | None:
        """Remove the longest of the known names, whatever its capitals, and return it."""
        for name in sorted(names, key=len, reverse=True):
            pattern = rf"(?<![\w/]){re.escape(name)}(?![\w/])"
            found = re.search(("^" if at_start else "") + pattern, self.text, re.IGNORECASE)
            if found:
                self._cut(found)
                self.text = self.text.lstrip(":, ")
                return name
        return None

    def take_note(self) -> str:
        """Remove what stands in brackets or after 'note', and return it."""
        found = self.take(_NOTE)
        return (found[1] or found[2] or "").strip() if found else ""

    def take_day(self, today: date) -> date | None:
        """Remove the first day named and return it."""
        if len(found := [*DAY.finditer(self.text)]) > 1 and found[0][0].strip().lower() == "now":
            self._cut(found[0])  # 'now two lots, done yesterday'
        told = self.take(DAY)
        return _day_of(told, today) if told else None

    def take_weight(self, bare: Units | None = None, most: float = math.inf) -> float | None:
        """Remove a weight and return it. [kg]

        With `bare` also a number without a unit, up to `most`: above, the small unit may be meant.
        """
        if found := WEIGHT.search(self.text):
            _refuse_odd(found[1])
            another = re.compile(rf"\s*{WEIGHT.pattern}", re.IGNORECASE)
            beside = another.match(self.text, found.end())
            written = self.text[found.start() : beside.end() if beside else found.end()].strip()
            if _METRIC.search(written) and _POUNDS.search(written):
                raise InputError(f"'{written}' is not one weight. Give it in one unit.")
            self._cut(found)
            return parse_weight(written)
        found = self._take_bare() if bare else None
        if not found:
            return None
        _refuse_odd(found[1])
        if number_of(found[1]) > most:
            text, units = found[1].strip(), ("lb", "oz") if bare == "us" else ("kg", "g")
            raise InputError(f"'{text}' of what? Write '{text} {units[0]}' or '{text} {units[1]}'.")
        return parse_weight(found[1], bare)

    def take_depth(self, bare: Units | None = None) -> float | None:
        """Remove a depth of water and return it; with `bare` also a number alone. [mm]"""
        found = self.take(DEPTH) or (self._take_bare() if bare else None)
        if not found:
            return None
        _refuse_odd(found[1])
        return parse_rain(found[1], bare)

    def take_litres(self) -> float | None:
        """Remove a volume of water and return it. [l]"""
        found = self.take(LITRES)
        if not found:
            return None
        factor = LITRES_PER_GALLON if found[2].lower().startswith("gal") else 1.0
        return number_of(found[1]) * factor

    def take_hours(self, *, bare: bool) -> float | None:
        """Remove a number of hours and return it; with `bare` also a number alone. [h]"""
        found = self.take(HOURS) or (self._take_bare() if bare else None)
        if not found:
            return None
        _refuse_odd(found[1])
        return number_of(found[1]) / (60.0 if found.groupdict().get("minutes") else 1.0)

    def take_days_long(self) -> float | None:
        """Remove a number of whole days that something lasted and return it. [h]"""
        found = self.take(DAYS_LONG) or self.take(_DAYS)
        if not found:
            return None
        many = found["days"].strip().lower()
        return 24.0 * (_SMALL_VALUE.get(many) or (1 if many in ("", "the") else number_of(many)))

    def take_logs(self, *, bare: bool) -> int | None:
        """Remove a number of logs and return it; with `bare` also a number alone."""
        found = self.take(LOGS)
        if found and (kept := found["kept"].strip()):  # '3 rotten logs': why is a remark
            self.text = f"{self.text} {kept}".strip()
        found = found or (self._take_bare() if bare else None)
        if not found:
            return None
        _refuse_odd(found[1])
        number = number_of(found[1])
        if number != int(number):
            raise InputError(f"'{found[1]}' is not a number of logs. Give a whole number.")
        return int(number)

    def take_dead(self) -> int | None:
        """Remove a number of dead logs ('2 dead') and return it."""
        found = self.take(_DEAD)
        if not found:
            return None
        number = found["before"] or found["after"]
        _refuse_odd(number)
        return int(number) if number.isdigit() else 0

    def take_share(self) -> float | None:
        """Remove a percentage and return it as a share of one."""
        found = self.take(_PERCENT)
        return number_of(found[1]) / 100.0 if found else None


def parse_day(text: str, today: date) -> date:
    """Return the day that words name, a day in the past where the words leave it open.

    'Fri' is the last Friday, today included; 'last Fri' is before today. A day and month
    without a year are the last such day. Raises InputError if the words name no day, or can be read
    two ways.
    """
    found = DAY.fullmatch(" ".join(text.split()))
    if not found:
        raise InputError(f"'{text}' is not a day. Write {DAY_EXAMPLES}.")
    return _day_of(found, today)


def _day_of(found: re.Match[str], today: date) -> date:
    part = found.groupdict()
    try:
        if part["slashed"]:
            return _of_numbers(part["slashed"], today)
        if part["iso"]:
            return _checked(date(*(int(n) for n in part["iso"].split("-"))), part["named"])
        if week := part["week"] or part["week2"]:
            if (weekday := _index(WEEKDAYS, week)) == 6:
                raise InputError(
                    f"'{week}' of last week: does the week begin with it? Write the day."
                )
            return today - timedelta(days=today.weekday() + 7 - weekday)
        if part["before"]:
            return today - timedelta(days=2)
        if part["near"]:
            near = re.sub(r"(?<=day|row) .*", "", " ".join(part["near"].lower().split()))
            return today + timedelta(days=_NEAR.get(near, 0))
        if part["count"]:
            count = part["count"].lower()
            days = 7 if part["unit"].lower() == "week" else 1
            return today - timedelta(days=days * int(_SMALL_VALUE.get(count, 0) or count))
        if part["weekday"]:
            return _weekday_near(part["weekday"], (part["which"] or "").lower(), today)
        if part["ordinal"]:
            day = int(part["ordinal"])  # of this month, or of the one before
            month_of = today if day <= today.day else today.replace(day=1) - timedelta(days=1)
            return _checked(month_of.replace(day=day), part["named"])
        month = _index(MONTHS, part["month"] or part["month2"]) + 1
        day = int(part["day"] or part["day2"])
        year = part["year"] or part["year2"]
        found_day = date(int(year), month, day) if year else _last_such_day(month, day, today)
        return _checked(found_day, part["named"])
    except InputError:
        raise
    except (ValueError, OverflowError) as error:
        raise InputError(
            f"'{found[0].strip()}' is not a day of the calendar{_beyond_month(part)}. Write "
            f"{DAY_EXAMPLES}."
        ) from error


def _beyond_month(part: dict[str, str | None]) -> str:
    """Return ': June ends on the 30th' for a day that its month does not have, else nothing."""
    if part["iso"]:
        year, month, day = (int(number) for number in part["iso"].split("-"))
    elif named := part["month"] or part["month2"]:
        year, month = int(part["year"] or part["year2"] or 0), _index(MONTHS, named) + 1
        day = int(part["day"] or part["day2"] or 0)
    else:
        return ""
    if not 1 <= month <= len(MONTHS) or day <= (last := monthrange(year or 2001, month)[1]):
        return ""
    ends = f"{MONTHS[month - 1]}{f' {year}' if year else ''} ends on the {last}{_ORDINAL[last]}"
    leap = ", in leap years on the 29th" if month == 2 and not year else ""
    return f": {ends}{leap}"


_ORDINAL = {28: "th", 29: "th", 30: "th", 31: "st"}


def _of_numbers(text: str, today: date) -> date:
    """Return the day of '6/15/2027' or '2027/06/15', where only one reading is a day."""
    numbers = [int(part) for part in re.split(r"[/.]", text)]
    if numbers[0] > 31:
        return date(*numbers)
    years = [numbers[2] + (2000 if numbers[2] < 100 else 0)] if len(numbers) > 2 else []
    readings = set()
    for month, day in (numbers[:2], numbers[1::-1]):
        try:
            readings.add(date(years[0], month, day) if years else _last_such_day(month, day, today))
        except ValueError:
            continue
    if len(readings) == 1:
        return readings.pop()
    if not readings:
        raise ValueError("no month has that number")
    raise InputError(
        f"'{text}' can be read as two different days. Write it like '4 May 2027' or '2027-05-04'."
    )


def _checked(day: date, weekday: str | None) -> date:
    if weekday and _index(WEEKDAYS, weekday) != day.weekday():
        raise InputError(
            f"{day.isoformat()} is a {WEEKDAYS[day.weekday()]}, not '{weekday}'. "
            "Give one of the two."
        )
    return day


def _weekday_near(name: str, which: str, today: date) -> date:
    back = (today.weekday() - _index(WEEKDAYS, name)) % 7
    if which == "next":
        return today + timedelta(days=7 - back)
    if which == "last" and back == 0:
        back = 7
    return today - timedelta(days=back)


def _last_such_day(month: int, day: int, today: date) -> date:
    year = today.year if (month, day) <= (today.month, today.day) else today.year - 1
    if (month, day) == (2, 29):
        while not isleap(year):
            year -= 1
    return date(year, month, day)


def _index(names: tuple[str, ...], start: str) -> int:
    return next(i for i, name in enumerate(names) if name[:3].lower() == start[:3].lower())


def paid_in(text: str, kg: float, weight: str, *, whole: bool = False) -> float | None:
    """Return what was paid by words like 'for 26.40', 'at 12 a lb' or '$30'; None if unclear.

    The text is what `MONEY` found, `kg` what was sold, `weight` the same in the words that were
    written: a bare 'at 12' is for its unit, kg or lb, if it isn't `whole`: 'at 26 the lot'.
    """
    sums = re.findall(_SUM, text)
    if len(sums) != 1:
        return None
    amount = float(sums[0].replace(",", "."))
    each = re.search(_FOR_EACH, text, re.IGNORECASE)
    if each:
        return amount * kg / parse_weight(f"1 {each[0].split()[-1].strip('/')}")
    if re.match(r"\s*(?:at|@)", text, re.IGNORECASE) and not whole:
        return amount * kg / parse_weight("1 lb" if _POUNDS.search(weight) else "1 kg")
    return amount


def number_of(text: str) -> float:
    """Return a number like '24', '1,5', '1/2', '2 1/2' or '2½'."""
    # A weight in kilograms is a number with a unit of one: the same reading everywhere.
    return parse_weight(text, "metric")


def _refuse_odd(text: str) -> None:
    if text.startswith("-"):
        raise InputError(f"'{text.strip()}' is below 0. Write the amount without the minus.")
    # 1,250 g is a kilogram and a quarter to one grower, a gram and a quarter to another.
    if two_ways := _THOUSANDS.search(text):
        whole, part = two_ways[1], two_ways[2]
        raise InputError(
            f"'{text.strip()}' can be read as {whole}{part} and as {whole}.{part}. Write the one "
            "that is meant, without a comma."
        )


def nearest(name: str, names: Iterable[str], how_near: float = 0.5) -> str | None:
    """Return the known name nearest to one that is not known, if any is near."""
    known = {candidate.lower(): candidate for candidate in names}
    near = get_close_matches(name.lower(), known, n=1, cutoff=how_near)
    return known[near[0]] if near else None


def day_in_words(day: date) -> str:
    """Return a day for people: 'Tue 4 May 2027'."""
    return f"{WEEKDAYS[day.weekday()][:3]} {day.day} {MONTHS[day.month - 1][:3]} {day.year}"
