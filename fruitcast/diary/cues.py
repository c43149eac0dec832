"""Words that speak for a kind of record, and how much; what amounts a kind can have.

The strict reading knows what people mostly say. This table also holds what they may say, since what
is guessed by it is always asked about.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from fruitcast.diary.entries.kind import SHEET, STACK, THIEVES, THREW
from fruitcast.diary.marks import Parts
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import HOURS, WEIGHT, Phrase
from fruitcast.diary.plain_words import one_of
from fruitcast.diary.spoken_kind import LIGHTEST_LOG, heads_in, masked


class Frame(NamedTuple):
    """What a kind of record is made of."""

    # sure, maybe: tables of words that speak for it, three times and once
    sure: str
    maybe: str = ""
    # must, may: labels of the amounts that it must have, and can have
    must: str = ""
    may: str = ""


_TANK = r"(?:soak(?:ing)?|tank|water|bath|pond|trough|tub|barrel|vat|creek|basin|pool|drink)"
_SHEETS = rf"(?:{SHEET}|shade|jackets?|coats?|curtains?|duvets?|quilts?|roof)"
_AWAY = r"(?:off|away|gone(?! (?:over|on|across|round)\b)|withdrawn|removed|down(?! over)|stripped)"
_CAME = (
    r"(?:came|come|coming|taken|took|lift\w*|got|back|haul\w*|drag\w*|brought|had|fetch\w*|winch\w*"
    r"|hoist\w*)"
)

FRAMES = {
    "pick": Frame(
        r"""pick\w* | harvest\w* | cropp?\w* | gather\w* | cut\w* | clip\w* | snip\w* | pluck\w*
        twist\w* | reap\w* | yield\w*""",
        r"""flush\w* | gave | giv(?:es?|en|ing) | produc\w* | bore | made | handed | fill\w*
        basket\w* | crate\w* | trays? | trays' | punnets? | caps? | mushrooms? | shiitakes? | off
        from | got | had | took | take[ns]? | brought | fetch\w* | haul | bag\w* | collect\w*
        came | box\w* | bucket\w* | came to""",
        "weight",
        "grade outlet",
    ),
    "discard": Frame(
        rf"""{THREW} | lost | loss | ruin\w* | spoil\w* | waste\w* | compost\w* | rubbish
        mush\w? | slim\w+ | maggot\w* | worm\w* | squash\w* | trod\w* | rott?e\w* | mou?ld\w*
        destroy\w* | went (?:off|over|bad)(?! {STACK}| (?-i:[A-Z]))
        gone (?:off|over|bad)(?! {STACK}| (?-i:[A-Z])) | contaminat\w* | nibbl\w+ | hens
        chickens | (?:pig|hog|dog|sow|piglet)s? | heap | no good | writ\w+ off | wrote off
        waterlogged | out (?:it|they) went | ate | eaten
        (?!storm|wind|frost|hail|sun|heat){THIEVES}""",
        "bin | bucket | away | soft | brown",
        "weight",
    ),
    "sold": Frame(
        r"sold | sale | sell\w* | bought | buys? | paid | takings | turned over | invoic\w*",
        r"""took | take | had | deliver\w* | dropped | gave | money | cash | for | order\w*
        went to market | counter""",
        "weight outlet",
        "money grade",
    ),
    "weigh": Frame(
        r"""
        (?:sample|test|specimen|index|mark\w*|monitor\w*|tagged|reference|control|weighing) log
        sample | log\b.*\bweigh\w* | \w*weigh\w*\b.*\blogs? | log ?weight""",
        r"weigh\w* | scales? | log",
        "weight",
    ),
    "soak": Frame(
        rf"""(?:in|into|under|inside)\b[^,;]*\b{_TANK} | immers\w* | submerg\w*
        (?<!the )soak(?:ed|ing|s)? | dunk\w* | drown\w* | steep\w* | sunk | sank | sink\w*
        plung\w*""",
        r"in | dip\w* | bath\w* | tank | put | lowered | went | under",
        "",
        "hours logs",
    ),
    "pull": Frame(
        rf"""(?:out|up|from|left|vacated|over|off)\b[^,;]*\b{_TANK}
        {_TANK}\b[^,;]*\b(?:out|over|up) | {_CAME}(?: \S+){{0,4}} out | pulled | (?<!.)out
        drain\w* | drip(?:s|ping|ped)? dry | dripping on""",
        r"out | lift\w* | emptied | haul\w* | fish\w* | no longer",
        "",
        "hours logs",
    ),
    "water": Frame(
        r"""drip\w* (?:line|hose|tape) | irrigat\w* | water(?:ed|ing|s) | hos(?:e|ed|ing|epipe)
        (?<!the )(?<!tank )water(?! (?:tank|was|is)\b) | sprinkl\w+ | mist\w* | damp(?:ed|ened)
        spray\w* | rain\w* | drench\w* | rose | can(?:ful)?s? of water | out of the sky""",
        r"drink | wet\w* | damp\w* | shower\w* | tap | can | over | line | ran",
        "",
        "hours depth litres",
    ),
    "pins": Frame(
        r"pins? | pin ?heads? | pinning | knobs | bumps | nubs | buttons | primordi\w*",
        r"babies | poking | push\w* | show\w* | tiny | little",
        "",
        "logs",
    ),
    "nothing": Frame("bare | barren | blank"),
    "fruiting": Frame(r"fruiting | flushing", "flush | mushrooms", "", ""),
    "inspect": Frame(
        r"""bark\b(?! ?off\w) | mou?ld\w* | trich\w* | (?:log )?ends | mycelium | dead | died
        crack\w* | goners? | coloni[sz]\w+ | fung\w+ | rot | rotten | healthy
        (?:has|have) had it | white | contaminat\w* | condition
        (?:green|black|orange|grey) (?:stuff|fuzz|fur|patch\w*|spots?|slime|growth)""",
        r"inspect\w* | look\w* | check\w* | count\w* | found | saw | seen | had it | life",
        "",
        "logs",
    ),
    "retire": Frame(
        r"""fire ?wood | for good | bon ?fire | wood ?pile | fire | burn\w* | retire\w*
        scrap\w* | stove | pension\w* | withdrawn | written off | wrote off | struck off
        off the books | cull\w* | chipp(?:ed|er) | (?:for ?ever|permanently) | goodbye
        out of (?:use|service) | grate | hearth | log ?burner | discarded | thrown out
        threw out | took out of""",
        r"rotten | crumbl\w* | spent | dud\w* | tired | out of | away | dead | removed",
        "logs",
    ),
    "turn": Frame(
        r"""turn\w* | re-?(?:stack|pil|la[iy]|buil|mad|arrang|stood|set)\w* | top to bottom
        upside\W+down | end (?:over|for|to) end | other ends? | half turn | flip\w*
        (?:mov|shift|roll|rotat|shuffl|swapp|switch|wheel|spun|spin)\w*\b.*\b(?:about|a?round|over)
        (?:mov|shift|roll|rotat|swapp|switch)\w*\b.*\b(?:top|bottom|upside|ends?|under\w*|places)
        (?:buil|stack|pil|put|set|stood|stand)\w*\b.*\b(?:again|anew|afresh|a new) | half spin
        other way up | invert\w* | (?:buil|stack|put|set|stood)\w*\b.*\bback up""",
        r"stack\w* | spin | spun | rolled | moved | rails | crib | pallets",
        "",
        "logs",
    ),
    "uncover": Frame(
        rf"""{_SHEETS}\b.*\b{_AWAY} | {_AWAY}\b.*\b{_SHEETS} | uncover\w* | unwrap\w*
        (?:whip|whisk|peel|pull|took|strip)\w*\b.*\b{_SHEETS}(?! (?:over|on|back|across|round)\b)
        open to the air
        (?<!.)(?:the |an? |my )?(?:[a-z]+ ){{1,2}}(?:(?:is|are|came|come) )?off (?:of )?{STACK}""",
    ),
    "cover": Frame(
        rf"""(?<!took )(?<!took the ){_SHEETS}(?!.*\b(?:{_AWAY}|aff|blown?|blew)\b) | wrapp?\w*
        tuck\w* | back on | on again""",
        r"over | on | under",
    ),
    "hold": Frame(
        r"""(?<!the )rest | rested | resting | repos\w* | holiday | fallow | sabbatical
        breather
        (?:set|put|laid|left|lef|be|leav\w*|let)\b[^,;]*\b(?:aside|alone|idle|be|to one side)
        (?:set|put|laid)\b[^,;]{{1,12}}\bby\b(?! the\b) | stays? dry""",
        may="until hours",
    ),
    "inoculate": Frame(
        r"""plug\w* | inoculat\w* | spawn\w* | drill\w* | dowel\w* | wax\w*
        new(?:ly made)? logs""",
        r"hammer\w* | new | fresh | made",
        "logs",
    ),
}
"""What speaks for each kind; those that are not here are read strictly or not at all."""

COUNTING = frozenset(("inspect", "retire", "pins", "turn", "inoculate"))
MEASURED = frozenset(("weight", "hours", "logs", "money", "depth", "litres"))

_BEATS = {
    "retire": {"inspect", "fruiting", "pull"},
    "discard": {"pick", "inspect", "pins", "fruiting", "stock"},
    "pick": {"stock"},
    "sold": {"stock"},
    "weigh": {"pick"},
    "uncover": {"cover", "pull", "turn", "soak", "inspect"},
    "cover": {"soak", "turn"},
    "water": {"rain"},
    "pull": {"turn"},
    "pins": {"fruiting"},
    "turn": {"inspect", "soak"},
    "hold": {"soak", "pull", "turn"},
    "inoculate": {"retire"},
}
"""Which kind is meant where its sure words stand beside those of others."""

_OTHERS = frozenset(("promised", "fix", "release", "stock", "rain"))
"""Kinds that are never guessed: words of theirs speak against all others."""

_TABLES = {kind: (one_of(f.sure), one_of(f.maybe or "(?!)")) for kind, f in FRAMES.items()}
_NONE = pattern_of(r"\b(?:no(?! good\b)|not an?|not one|without|free of|despite|nothing)\b[^,;.]*")
_SIGHT = r"(?: \w+){0,3}? (?:pins?|pin ?heads?|pinning|mushrooms?|buttons?|thing|flush|life)\b"
_NO_SIGHT = rf"\b(?:no|nil|zero|none|nothing|nowt|not (?:a|one|any)(?: single)?){_SIGHT}"
_NO_MUSHROOM = pattern_of(rf"{_NO_SIGHT}(?!.*\byet\b)")
_NOTHING = pattern_of(r"(?:^|, )\W*(?:none|nothing|nowt|nil|zilch)\W*$")
NO_PINS = pattern_of(
    rf"(?:{_NO_SIGHT}|\b(?:none|nothing|nowt|nil|zero)\b|\bnor\b)"
    r"(?: (?:showing|there|to see|at all|whatever|on (?:it|them)))*(?!.*\byet\b)"
)
_SOAKED_OUT = pattern_of(r"\bsoak\w*\b.*\b(?:ended|finished|over|done|stopped)\b")
_MINUTES = pattern_of(r"\d ?min")
_SHORTEST_SOAK = 4.0
"""Hours beside a stack are a soak from here on where nothing else is said; shorter ones a watering.

[h]"""


def is_lost(text: str) -> bool:
    """Return whether words say that something was lost, and do not deny it."""
    return _TABLES["discard"][0].search(_NONE.sub(" ", text)) is not None


def is_denied(text: str) -> bool:
    """Return whether words begin with what was not there."""
    return _NONE.match(text) is not None


def kinds_said(text: str, parts: Parts) -> set[str]:
    """Return the kinds of which the strict reading knows words in a clause."""
    (heads,) = heads_in(text, masked(text, parts), [(0, len(text))], parts)
    return {head.kind for head in heads} - {"note"}


def scores_of(
    text: str, labels: Collection[str], said: Collection[str], parts: Parts
) -> dict[str, int]:
    """Return how much words speak for each kind of which they speak at all.

    `text` is a clause, or several that may be of one record, `labels` those of the marks in it,
    `said` the kinds that the strict reading finds in it; see `kinds_said`.
    """
    shown = masked(text, parts)
    found: dict[str, int] = {}
    for kind, (sure, maybe) in _TABLES.items():
        fits = (kind == "discard" and is_lost(shown)) or (kind != "discard" and sure.search(shown))
        found[kind] = 3 * bool(fits) + bool(maybe.search(shown))
    for kind in said:
        looked = kind in ("inspect", "weigh", "discard") and found[kind] < 3
        found[kind] = found.get(kind, 0) + (1 if looked else 4)
    if found["water"] >= 3 and found.pop("rain", 0):
        found["water"] += 1
    seen = max(found["pins"], found["fruiting"], found["nothing"]) >= 3
    none = max(found.values()) < 3 and _NOTHING.search(text)
    if none or _NO_MUSHROOM.search(text) or (seen and NO_PINS.search(text)):
        found["nothing"] = 9
        found["pins"] = found["fruiting"] = 0
    if _SOAKED_OUT.search(text):
        found["soak"], found["pull"] = 0, 9
    measured = MEASURED & {*labels}
    told = {kind for kind, points in found.items() if points >= 3}
    for kind, points in _of_amounts(text, labels, measured).items():
        if kind in told or not told - {"inspect"} or kind in ("sold", "pick"):
            found[kind] += points
    for kind, others in _BEATS.items():
        must = set() if kind in COUNTING and "number" in labels else must_have(kind)
        if found[kind] >= 3 and must <= {*labels} and measured <= allowed(kind):
            for other in others & found.keys():
                found[other] = 0
    return {
        kind: points
        for kind, points in found.items()
        if points and (kind in _OTHERS or (kind in FRAMES and measured <= allowed(kind)))
    }


def _of_amounts(text: str, labels: Collection[str], measured: Collection[str]) -> dict[str, int]:
    """Return how much the amounts alone speak for kinds."""
    if "money" in labels:
        return {"sold": 3}
    if "weight" in labels:
        kg = [Phrase(weight[0]).take_weight() or 0.0 for weight in WEIGHT.finditer(text)]
        if "stack" not in labels:
            return {"sold": 2} if "outlet" in labels else {}
        return {"pick": 1} if max(kg, default=0.0) < LIGHTEST_LOG else {}
    if not measured or "stack" not in labels:
        return {}
    if {*measured} <= {"depth", "litres"}:
        return {"water": 3}
    if {*measured} == {"hours"} and (found := HOURS.search(text)):
        short = Phrase(found[0]).take_hours(bare=False) or 0.0
        return {"water" if _MINUTES.search(text) or short < _SHORTEST_SOAK else "soak": 3}
    return {}


def must_have(kind: str) -> set[str]:
    """Return the labels of amounts that a kind must have."""
    return {*FRAMES[kind].must.split()} if kind in FRAMES else set()


def allowed(kind: str) -> set[str]:
    """Return the labels of amounts that a kind can have."""
    frame = FRAMES.get(kind)
    return {*frame.must.split(), *frame.may.split()} if frame else set()


def best_of(scores: dict[str, int]) -> str:
    """Return the kind that wins clearly; empty where none does, or one that is never guessed."""
    ranked = sorted(scores.items(), key=lambda item: -item[1])
    if not ranked or ranked[0][0] in _OTHERS:
        return ""
    (kind, points), *others = ranked
    clear = points >= (1 if kind == "pick" else 3)
    return kind if clear and (not others or points > others[0][1]) else ""


def agree(kinds: Collection[str], others: Collection[str]) -> bool:
    """Return whether two clauses may tell of one record."""
    if {*kinds} & {*others} or {"cover", "uncover"} == {*kinds, *others}:
        return bool({*kinds} & {*others})
    pairs = [(a, b) for a in kinds for b in others]
    return any(b in _BEATS.get(a, ()) or a in _BEATS.get(b, ()) for a, b in pairs)
