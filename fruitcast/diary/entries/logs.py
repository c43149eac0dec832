"""Logs looked over, watered, rained on and weighed."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import TYPE_CHECKING

from fruitcast.diary.entries.kind import (
    STACK,
    EntryKind,
    Form,
    Objection,
    OfStacks,
    Saying,
    impossible,
    logs_in_words,
    question,
    refused,
    said,
)
from fruitcast.diary.events import (
    COMPETITOR_MOULDS,
    DEAD_LOGS,
    FINDINGS,
    HEALTHY,
    LOOSE_BARK,
    PINS,
    SPAWN_RUN_DONE,
    WHITE_ENDS,
    Event,
    in_force,
    noted,
)
from fruitcast.diary.history import StackHistory, dry_basis_moisture, shared
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import HOURS, SAMPLE_NAMES, WEIGHT, Phrase
from fruitcast.errors import InputError
from fruitcast.units import format_rain

if TYPE_CHECKING:
    from fruitcast.diary.history import YardHistory
    from fruitcast.diary.limits import Limits, Say
    from fruitcast.diary.record_phrase import Given


_BARK = "bark(?:'s)? (?:is |gone |going )?"
_FINDING_WORDS = {
    SPAWN_RUN_DONE: (
        "(?:the )?(?:spawn[- ])?run (?:in|on|of) (?:\u00a7+ )?(?:is |has )?(?:now )?"
        "(?:complete|finished|done|over)"
        "|(?:the )?(?:spawn|mycelium) (?:(?:has|is|now|run|right|all the way|fully|grown) )*"
        "through|spawn has run|(?:spawn[- ])?run (?:is )?(?:complete|finished|done|over)"
        "|(?:is |has |have |are )?(?:finished|completed|done with|through with|over with)"
        " (?:its|their|the) (?:spawn[- ])?run(?:ning)?|(?:has |have )?finished (?:spawn )?running"
        "|run right through|fully run|(?:fully |completely )?coloni[sz]ed"
        "|white ends all over"
    ),
    WHITE_ENDS: (
        "white (?:fuzz |growth |mycelium |fungus |fluff |fur )?(?:showing )?"
        "(?:(?:on|at) )?(?:the |both )?ends?"
        "|ends?(?: of (?:the |some |most |all )*logs)?(?: (?:in|of|on) (?:stack )?\u00a7+)?"
        "(?: logs)?"
        "(?: (?:are|is|have|has|now|all|show|showing|going|gone|turning|turned|nice|lovely|some"
        "|a bit|quite|and|&))*"
        " white(?: (?:patches|spots|fuzz|fluff|fur|growth|mycelium))?"
        "|(?:mycelium|spawn) (?:is )?(?:showing |seen )?(?:at|on) (?:the )?ends?"
    ),
    COMPETITOR_MOULDS: (
        "(?:some |a bit of )?(?:(?:competitor|green|black|blue|grey|gray|orange|pink)[- /]?)*"
        "mou?ld(?:s|y)?|trich(?:oderma)?|(?:green|black|blue|grey|gray|orange|pink)"
        " (?:fuzz|fur|fluff)"
    ),
    LOOSE_BARK: (
        rf"{_BARK}(?:starting|beginning) to (?:come|fall|lift|peel|flake)(?: off| away| loose)?"
        rf"|(?:loose|peeling) bark|{_BARK}(?:loose|peels|peeling|slipping)"
        rf"|{_BARK}(?:coming|falling|lifting|hanging|dropping)(?: off| loose)?"
        rf"|{_BARK}(?:has |had )?(?:come |came )?(?:off|away)"
        "|bark (?:(?:in|on|of) (?:stack )?\u00a7+ )?(?:is )?slipping|no bark left"
        "|lost (?:its|their|all the) bark"
    ),
    HEALTHY: (
        "(?:looks? |is )?healthy|look(?:s|ing|ed)? (?:good|fine|ok|great|well)"
        "|all (?:well|good|fine|ok)|ok|fine"
    ),
}

_OF_STACK = r"(?: (?:of|on|in) (?:\d+ logs? (?:of|in) )?(?:the )?(?:stack )?\u00a7+)?(?: logs?)?"
"""Whose bark or ends are seen."""

_DENIABLE = (
    r"(?:white ends?|(?:green |black )?mou?lds?|pins?|"
    r"(?:loose|peeling) bark|bark loose|healthy|ok|fine|spawn[- ]run done)\b"
)
_DENIED = pattern_of(
    r"\b(?:no|not|without|(?:clear|free|clean) (?:of|from))\s+"
    r"(?:any\s+|all\s+|yet\s+|signs? of\s+)?"
    rf"{_DENIABLE}(?:\s+(?:or|nor|and no|and not)\s+(?:any\s+|signs? of\s+)?{_DENIABLE})*"
    r"(?:\s+yet)?"
)
_KEPT = "\ue000"
"""Stands in the place of what was denied while findings are looked for."""

_OVER = pattern_of(
    r"^(?:(?:look(?:ed)?|went|gone|going)\s+)?(?:it |them )?over\b[\s,;:.-]*"
    r"|[\s,;]*\b(?:it|them) over\s*$"
)
"""What is left of 'looked A over' and 'fine, checked it over'."""

_BORE = pattern_of(r"^(?:has|have|had|shows?|lost)\b[\s,]*(?=[^\s,])")
"""What is left of 'A has mould, moved it away'."""

_LOST = pattern_of(r"\blost\b|\b\d+ (?:of the )?logs? (?:to rot\b|gone\b)")

_GROWN_THROUGH = (
    pattern_of(r"(?<!not )(?<!less )\bspringy\b"),
    pattern_of(r"(?<!not )(?<!no )\bdull\b"),
)
"""Signs that beside white ends tell of a finished spawn run (common practice)."""

_ON_LOGS = pattern_of(
    r"(?:\b(?:on|in|at|off|with)\s+)?\b(\d+)\s*(?:of\s+(?:the|them|those)\s*)?(?:old\s+)?(?:logs?|ones|)(?!\w|\s*%|\s+per)"
    r"(?:\s+(?:with|have|has|got)\b)?"
)
"""On how many logs something was found."""

_PINS = pattern_of(r"^(?:pins?|pinning)$")
_ELSEWHERE = (
    (WEIGHT, "weigh {} 26 lb|12 kg"),
    (HOURS, "soak {} 24 h"),
    (pattern_of(r"\d\s*%", 0), "weigh {} 26 lb|12 kg at 42 %"),
    (pattern_of(r"\bpins?\b"), "pins {}"),
    (pattern_of(r"\bdead\b|\bdied\b"), "inspect {} 2 dead"),
)
"""What an inspection would only keep as words, and the record that counts."""


class Inspect(OfStacks):
    """Signs of the spawn run, enemies and deaths."""

    how_to = "Write it like 'inspect A white ends' or 'inspect A 2 dead, loose bark'"
    done = "Inspected {stack}"
    other_words = ("inspected", "checked", "check", "looked")
    unless = ("gauge", "cold weight", "sample")
    many = True
    sayings = (
        Saying(
            r"inspected|(?:checked|looked)(?: (?:at|over|in|on|through))*|examined|inspection"
            r"|went (?:over|through)|(?:had|took) (?:a|another) (?:\w+ )?look(?: (?:at|over))?",
            "-gauge -cold -sample",
        ),
    )
    signs = (
        *_FINDING_WORDS.values(),
        "nothing (?:dead|wrong|unusual|to report)",
        rf"ends?(?: of the logs)?{_OF_STACK}(?: (?:are|is|have|has|gone|all|very|too|dry|and))*"
        " (?:dry|cracked|cracking|split|splitting)|cracks? in (?:the )?ends?",
        "no (?:signs? of )?pins|mycelium|dead|died|rot|(?:crust|bracket) fung(?:us|i)|rotting",
        rf"bark(?:'s)?{_OF_STACK} (?:(?:is|gone|going|nice|still|good|all) (?:and )?)*(?:tight"
        "|sound|intact|soft|springy|cracked|cracking|split|splitting|hard|firm)",
        Saying("fung(?:us|i)|conks?", "stack -weight"),
    )
    twice_is_odd = True
    needs = ("stack",)
    counts_dead = True
    takes_logs = True

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start() or given.stack_anywhere(), phrase.take_note()
        on = given.day()
        phrase.take(_OVER)
        words, denied = phrase.text, _DENIED.findall(phrase.text)
        phrase.text = _DENIED.sub(_KEPT, words)
        dead = phrase.take_dead()
        if dead is None and (lost := _LOST.search(phrase.text)):
            raise InputError(
                f"'{lost[0]}': dead and still there, or taken out? Write 'inspect A 3 dead' or "
                "'retire A 3 logs'."
            )
        found = [finding for finding, words in _FINDING_WORDS.items() if phrase.take_words(words)]
        counts = re.findall(r"(?<!\w)\d+", phrase.text)
        elsewhere = re.search(r"\bon (?:one|another|others?)\b", phrase.text, re.IGNORECASE)
        if len(counts) > 1 or (
            counts and (len(found) > 1 or elsewhere)
        ):  # which is whose, the words say
            phrase.text, denied, counts = words, [], []
        alone = len(found) == 1 and not WEIGHT.search(words) and not HOURS.search(words)
        counted = phrase.take(_ON_LOGS) if alone and counts else None
        if counted:
            what = "mould" if found[0] == COMPETITOR_MOULDS else found[0]
            note = noted(f"{what} on {logs_in_words(int(counted[1]))}", note)
        if dead:
            found.append(DEAD_LOGS)
        phrase.text = _BORE.sub("", phrase.text.strip(" ,;."))
        stack = given.stack_or_guess(stack)
        if _PINS.match(phrase.text) and not found:
            phrase.text = ""
            return Event(PINS, on, stack, note=note)
        for pattern, other in _ELSEWHERE:
            if pattern.search(phrase.text):
                raise InputError(
                    f"'{phrase.text}': an inspection would keep that as words only. Write "
                    f"'{other.format(stack)}'."
                )
        for denial in denied:
            phrase.text = phrase.text.replace(_KEPT, denial, 1)
        note = given.rest_as_note(note, counts=True)
        if found == [WHITE_ENDS] and not counted:
            signs = sum(bool(sign.search(note)) for sign in _GROWN_THROUGH)
            if signs == len(_GROWN_THROUGH):  # all that the jobs ask to look for
                found.append(SPAWN_RUN_DONE)
            elif signs:
                given.hints.append(
                    f"If the spawn run is done, write 'inspect {stack} spawn run done'."
                )
        ordered = tuple(finding for finding in FINDINGS if finding in found)
        return Event(self.name, on, stack, logs=dead, findings=ordered, note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        alive = limits.alive
        if (event.logs or 0) > alive:
            return impossible(
                f"{event.stack} has {alive} living logs, {event.logs} can't have died. Check "
                "the number"
            )
        if event.logs and event.logs * 2 > alive:
            return question(f"{event.logs} of {alive} logs dead. Is it right?")
        return []

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        for history, dead in zip(histories, shared(event.logs or 0, histories), strict=True):
            history.inspect(event.on, event.findings, dead)


# Watering, rain and weighed sample logs.

_START = pattern_of(r"\b(?:start(?:ing)?(?:\s+weight)?|from)\s*:?\s*(?=[\d.,¼½¾])")
_SAMPLE = pattern_of(
    rf"\b(?:sample|{SAMPLE_NAMES}(?=\s+log))\s+(?:log\s+)?(?:no\.?\s*|number\s+)?(?!\d+(?:lbs?|kgs?|oz|g)\b)(\w*\d\w*)\b(?![.,/]\d|\s*(?:lbs?|kgs?|kilos?|oz|ounces?|pounds?|g|grams?)\b)"
    rf"|\b(?:sample(?:\s+logs?)?|{SAMPLE_NAMES}\s+log)\b(?:\s+(?:in|of|from)\b)?"
)


_CANS = pattern_of(
    r"\b(?:(?:a|few|some|with|\d+|several) )+(?:watering )?(?:cans?|buckets?)(?:fuls?)?\b"
    r"(?: of water)?"
)


def _too_deep(event: Event, limits: Limits) -> list[Objection]:
    mm = event.mm or 0.0
    if mm > limits.numbers.diary.impossible_rain:
        return refused(f"{limits.say.rain(mm)} in a day can't be. Check it")
    if mm > limits.numbers.diary.unlikely_rain:
        return question(f"{limits.say.rain(mm)} in a day? Is it right?")
    return []


class Water(OfStacks):
    """Logs watered."""

    how_to = "Write it like 'water A', 'water A 1 in', 'water all 20 mm' or 'water A 400 litres'"
    other_words = (
        *("watered", "watering", "sprinkled", "sprinkler", "sprinkle", "drenched", "drench"),
        *("irrigated", "irrigate", "irrigation", "hosed", "misted", "mist"),
    )
    many = True
    sayings = said(
        rf"""
        (?:applied|administered) :: depth stack -weight
        water (?:was )?(?:put|went|got|run)(?= (?:on|to|over)\b) :: depth stack -weight
        wet (?P<kept4>{STACK}+) down|wet down|watered|irrigation|irrigated|hosed(?: down)?|misted
            |drenched|sprayed|doused|wetted|sprinkled|splashed|overhead irrigation|(?:gave|had
            |got) (?P<kept2>.*?)\b(?:a |an )(?P<kept3>(?:[\w-]+ ){{0,3}}?)(?:drink|hosing|squirt
                |splash|dousing|rinse
            |watering|sprinkling?
            |spray(?:ing)?|wetting|drenching|showering|misting|soaking(?= with the hose))
        (?:ran|put|had|turned|left) (?:the )?(?:drip (?:line|tape|hose)|soaker hose
            |sprinklers?|hose(?:pipe)?|misters?
            |irrigation)(?: running| going)?
        (?:(?:soaker )?hose|sprinklers?)(?= (?:on|for|an?|\d+)\b)|(?:the )?(?:soaker hose
            |sprinkler) (?:was )?(?:ran )?
        got|had :: depth stack hose
        (?:got|had) (?P<kept5>\d+ ?(?:mm|in|inch(?:es)?)) of water :: -weight -gauge
        soused|(?:with|from) (?:the|a|my) (?:watering|rose) can :: stack -weight
        sprinkle|(?:got|had|has had) (?:(?:some|its|their) )?water :: stack -weight -tank
        soaked(?: the ground(?: around)?)?|soaking :: hose stack -weight
        gave(?= .*\d ?(?:litres|liters|l|gallons|gal|mm|in|inch|inches|\")(?!\w))
        (?:of )?water(?= (?:on|to)\b) :: -weight -tank -gauge
        gave(?= .*\b(?:drink|watering|sprinkle|spray|water)\b)
        (?:gave|got|had)(?= .*\b(?:sprinkler|hose(?:pipe)?)\b) :: hours -weight -tank
        """
    )
    signs = (
        Saying("water", "stack minutes -weight"),
        Saying("(?:soaker )?hose(?: ran| on)*|sprinklers?|misters?", "stack -tank -weight"),
        Saying(
            "(?:the )?drip(?:[- ](?:line|tape|hose))?(?: ran| on)*", "stack hours -tank -weight"
        ),
    )
    unless = ("gauge",)
    whole = True
    twice_is_odd = True
    says_depth = True
    form = Form("Watered", ("depth",), yard=True)

    def read(self, given: Given) -> Event:
        phrase, stack, note, on = given.opened()
        litres = phrase.take_litres()
        if litres and re.search(r"\b(?:each|every|per)\b", phrase.text):
            raise InputError(
                "How much on all the logs together? Write it like 'water A 10 gal|40 litres'."
            )
        mm = phrase.take_depth() if litres is None else None
        hours = phrase.take_hours(bare=False) if litres is None else None
        if hours is not None:
            if mm is None:
                rate = given.numbers.watering.sprinkler_rate
                mm = hours * rate
                shown = format_rain(rate, given.units)
                given.hints.append(f"That is reckoned at {shown} an hour, as a sprinkler gives.")
            length = f"{hours:.3g} h" if hours >= 1 else f"{60 * hours:.0f} min"
            note = noted(f"water for {length}", note)
        note = noted(phrase.take(_CANS), note)
        phrase.take_words("(?:some |a )?(?:good )?(?:water|drink)")
        phrase.take_words("(?:with|via|by|from) (?:the |a )?(?:sprinkler|hose|(?:watering )?can)s?")
        while phrase.take_words("down", "with", "of(?: water)?", "for", "on(?= (?:all|the|every))"):
            pass
        everywhere = phrase.take_words(
            "(?:the )?whole (?:yard|place)",
            "(?:over )?all(?: of)? (?:it|them)",
            "everywhere",
            "all(?:(?: the)? stacks)?",
            "everything",
            "yard",
            "(?:the )?(?:whole )?lot",
        )
        phrase.text = phrase.text.strip(" ,")
        if phrase.text or not (stack or everywhere):
            if re.fullmatch(r"\d+(?:[.,]\d+)?", phrase.text):
                raise InputError(
                    f"'{phrase.text}' of what? Write '{phrase.text} mm', '{phrase.text} litres' "
                    f"or '{phrase.text} gal'."
                )
            if phrase.text and not stack:
                stack = given.stack_or_guess(stack)
        return Event(self.name, on, stack, mm=mm, litres=litres, note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        return _too_deep(event, limits)

    def deed(self, event: Event, say: Say) -> str:
        return f"Watered {event.stack or 'the whole yard'}"

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        mm = event.mm
        if mm is None and event.litres is not None:
            area = sum(history.logs * history.area_per_log for history in histories)
            mm = event.litres / area if area else 0.0
        if mm is None:
            mm = yard.numbers.diary.usual_watering
        for history in histories:
            history.watered.append((event.on, mm))


class Rain(EntryKind):
    """The yard's own rain gauge."""

    how_to = "Write it like 'rain 0.6 in yesterday' or 'rain 15 mm'"
    other_words = ("rained", "rainfall", "gauge")
    sayings = said(
        r"""
        (?:it |we |there )?(?:has |was |had |got )?rain(?:ed|fall)?(?! (?:ruined|spoil
            |soaked))
        (?:it )?(?:poured|drizzled?|bucketed)(?: down)?|downpour|(?:thunder)?storms?|showers?
            |sprinkle|(?:came|come) down|fell|overnight|measured|collected|got|had
            |since yesterday(?: morning)? :: depth -stack -hose
        (?:emptied |checked |read )?(?:the |my |our )?(?:rain ?)?gauge(?: (?:read|reads|said|says
            |shows|showed|had|has|was|is|at|stood|stands|held|holds|caught|collected))?
        """
    )
    twice_is_odd = True
    once_more = "The gauge of a day counts once. Write it once more?"
    needs = ("mm",)
    form = Form("Rain gauge", ("depth",), stack=False, depth="Rain")

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        note = phrase.take_note()
        phrase.take_words(r"since (?:yesterday(?: \w+ing)?|last (?:night|evening))\b")
        since = re.search(r"\bsince\b", phrase.text, re.IGNORECASE)
        on = given.day()
        if since and on != given.today:
            raise InputError("Rain of several days: write each, like 'rain 0.2 in|5 mm Sun'.")
        phrase.take_words("emptied|tipped(?: out)?|measured|out of(?= the|$)")
        phrase.take_words("over ?night", "all (?:day|night|morning|afternoon)")
        phrase.take_words("(?:(?:in|on) )?(?:the )?(?:rain ?)?gauge(?: read| reads)?")
        phrase.take_words("(?<=mm) in$", "in(?= (?:the )?$)")
        mm = None
        while phrase.take_words("none|no(?: rain)?|nothing(?: in)?|zero|nil|dry|empty"):
            mm = 0.0
        if mm is None or re.search(r"\d", phrase.text):
            mm = phrase.take_depth(given.units)
        if mm is None:
            raise InputError(f"How much rain? {self.how_to}.")
        if stacks := [*iter(given.stack_anywhere, "")]:
            given.questions.append(
                f"Rain is kept for the whole yard, not for {' and '.join(stacks)} alone. Is it "
                "right?"
            )
            phrase.take_words("fell(?: on)?", "of", "on", "both")
        return Event(self.name, on, mm=mm, note=note)

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = _too_deep(event, limits)
        of_day = [e for e in limits.known if e.kind == self.name and e.on == event.on]
        there = [
            e
            for e in (in_force(limits.known) if of_day else ())
            if e in of_day and (not event.uuid or e.uuid != event.uuid)
        ]
        if there and there[-1].mm != event.mm:
            say = limits.say
            found += question(
                f"{self.deed(event, say)} on {say.day(event.on)}: the diary has "
                f"{say.rain(there[-1].mm or 0.0)} for that day, and the later one counts alone. "
                "Is it to count instead?"
            )
        return found

    def deed(self, event: Event, say: Say) -> str:
        return f"Rain gauge {'' if event.mm is None else say.rain(event.mm)}"

    def enter(self, event: Event, yard: YardHistory) -> None:
        yard.rain_gauge[event.on] = event.mm or 0.0


_ONE_LOG = rf"(?:put |hung )?(?:(?:1|one|a|the) )?(?:of )?(?P<kept2>{STACK}*)(?:'s)? ?logs?"
_SCALES = r"\bon(?:to)? (?:the|my|our) (?:\w+ )?(?:scales?|balance)\b"


_ONE = pattern_of(r"\b1 (?:of (?:the|its|their) )?logs?\b,?")


class Weigh(OfStacks):
    """A sample log weighed."""

    how_to = "Write it like 'weigh A 29 lb|13 kg', the first time 'weigh A 35 lb|16 kg at 42 %'"
    other_words = ("weighed", "weight")
    unless = ("cold", "crop -sample")
    sayings = said(
        rf"""
        (?:(?:re-?)?weighed |put |hung |weighing )?(?:the )?(?P<kept>sample(?: logs?)?|monitor
            |{SAMPLE_NAMES} log)(?: (?:of|from|in))?(?: weighed| weighs)? :: weight
        (?:re-?)?weighed(?: in at)? :: weight stack -cold -crop -light
        {_ONE_LOG}(?= .*{_SCALES}) :: weight stack sample -light
        weighs(?: in at)? :: weight stack -cold -crop -light
        (?:(?:1|one|a|the) )?(?:of the )?logs? (?:from|of|in)(?= (?:the )?{STACK}+ (?:weighed|is|was
            |came to)\b) :: weight stack -light
        """
    )
    needs = ("stack", "kg")
    weight_above_zero = True

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note = given.stack_at_start(), phrase.take_note()
        sample = phrase.take(_SAMPLE)
        on = given.day()
        phrase.take(_ONE)
        moisture = phrase.take_share()
        start_kg = None
        start = _START.search(phrase.text)
        if start:
            rest = Phrase(phrase.text[start.end() :])
            start_kg = rest.take_weight()
            phrase.text = f"{phrase.text[: start.start()]} {rest.text}".strip()
        kg = phrase.take_weight(given.units)
        kg = start_kg if kg is None else kg
        if kg is None:
            raise InputError(f"What does the sample log weigh? {self.how_to}.")
        if moisture is not None and start_kg is None:
            start_kg = kg
        if start_kg is not None and moisture is None:
            raise InputError(
                "A starting weight needs the moisture the log had then, wet basis. Write it like "
                f"'weigh {stack or 'A'} 35 lb|16 kg at 42 %'."
            )
        phrase.take_words(SAMPLE_NAMES)
        phrase.take_words("moisture", "wet", "wet basis", "now", "log")
        return Event(
            self.name,
            on,
            given.stack_or_guess(stack),
            kg=kg,
            start_kg=start_kg,
            moisture_wet=moisture,
            sample=(sample[1] or "") if sample else "",
            note=note,
        )

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        say, kg = limits.say, event.kg or 0.0
        start_kg, moisture_wet, since = event.start_kg, event.moisture_wet, event.on
        if start_kg is None:
            logs = [log for state in limits.concerned for log in state.sample_logs]
            known = [log for log in logs if log.sample == event.sample]
            if not known:
                which = f"sample log {event.sample} of " if event.sample else ""
                return impossible(
                    f"No starting weight of {which}{event.stack} is known, so a weight alone "
                    f"says nothing. Give it once, like 'weigh {event.stack} 29 lb start 35 lb "
                    "at 42 %'"
                )
            start_kg, moisture_wet, since = known[0].start_kg, known[0].moisture_wet, known[0].since
        moisture = dry_basis_moisture(kg, start_kg, moisture_wet or 0.0)
        wet = moisture / (1.0 + moisture) if moisture > 0 else 0.0
        if moisture <= 0:
            return impossible(
                f"{say.weight(kg)} is less than the dry wood of a log that weighed "
                f"{say.weight(start_kg)} at {moisture_wet:.0%} moisture. Check the weights, "
                "or give a new starting weight and moisture"
            )
        found = []
        if wet > limits.numbers.diary.unlikely_moisture:
            found += question(f"That makes {wet:.0%} moisture, very wet. Is the weight right?")
        if event.on - since > timedelta(days=limits.numbers.diary.rebase_days):
            found += question(
                f"The starting weight is of {say.day(since)}; decay has made the log lighter "
                "since. Record it all the same? A new starting weight and moisture is better"
            )
        return found

    def deed(self, event: Event, say: Say) -> str:
        sample = f"{event.sample} " if event.sample else ""
        return f"Weighed sample log {sample}of {event.stack}: {say.weight(event.kg)}"

    def change_one(self, event: Event, history: StackHistory) -> None:
        history.weigh(event.on, event.sample, event.kg or 0.0, event.start_kg, event.moisture_wet)
