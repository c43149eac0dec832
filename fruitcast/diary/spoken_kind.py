"""Which kind of record words speak of: by a verb, by what stands beside it, by what is seen.

'Picked' and 'dunked' mean one thing wherever they stand. 'Took' is a pick beside a weight of
mushrooms and a pull beside the tank. 'Mould on two logs' has no verb at all.
"""

from __future__ import annotations

import re
from collections.abc import Sequence, Set
from functools import cache, lru_cache
from itertools import chain
from typing import NamedTuple

from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.entries.kind import ASIDE, NOTABLE, SHEET, STACK, THIEVES
from fruitcast.diary.entries.picks import PART, SPOILED
from fruitcast.diary.marks import Mark, Parts, covered, marks_in, outlets_in, stacks_in
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import (
    DAY,
    DEPTH,
    HOURS,
    MONEY,
    SAMPLE_NAMES,
    UNIT_OF_WEIGHT,
    WEIGHT,
    Phrase,
    nearest,
)
from fruitcast.diary.plain_words import (
    CURRENCY,
    DESCRIBING,
    KEPT,
    NUMBERS,
    QUANTITY,
    UNKNOWN_NAME,
    VOCABULARY,
    WEEKDAY,
    left_words,
    one_of,
    without_ends,
)
from fruitcast.diary.record_phrase import Given
from fruitcast.errors import InputError

OTHER_WORDS = {word: kind for kind in KINDS for word in kind_named(kind).other_words}
"""Other first words for the kinds of record."""

LONGEST_KIND = 40
"""Longest first word that is looked at, and repeated in a message. [characters]"""

LIGHTEST_LOG = 3.0
"""A weight beside a stack may be that of a sample log from here on; no log is lighter. [kg]"""

RAW = frozenset(("note", "move", "split", "merge", "lots", "fix", "hold", "release", "promised"))
"""Kinds of which the words are read as they stand."""

TOLD_WHOLE = frozenset((*RAW - {"move", "merge"}, "inspect"))
"""Kinds that keep what they don't read themselves."""

FOUND = frozenset(("pins", "fruiting"))
"""What may be found on looking, and is more than an inspection."""

CIRCUMSTANCE = pattern_of(
    r"(?:(?<=^)|(?<=[,;.] )|(?<=and )|(?<=but ))(?:it (?:rained|poured|drizzled|snowed|hailed|blew)"
    r"|(?:the )?rain (?:came|stopped|started|held off|set in))\b"
    rf"[^,;.\d{STACK}]*(?=$|[,;.])(?!.*(?:\bmm\b|\binch|gauge))|"
    r"(?<!\d )\b(?:after|before|without|since|from|following|with|despite|thanks to|in)\s+"
    r"(?:(?:a|any|all|the|its|that|this|their|last|no|some|more)\s+|last night's\s+)*"
    r"(?:(?!(?:was|were|is|had|has|it|we|i|to|out|for|with|from|off)\b)[a-z]+(?:'s)?\s+){0,2}?"
    r"(?:soak(?:ing)?|rains?|storm|watering|frost)\b"
    r"(?!\s+(?:in|on)\s+(?:the\s+)?(?:tank|scale|gauge)|\s*(?:gauge|tank|cans?\b))"
    r"(?<!\bin soak)(?<!\bfrom soak)(?<!\bin the soak)(?<!\bfrom the soak)"
    r"|\b(?:that's |which is )?the (?:most|best|least|first) (?:it|they|i|we)(?:'s|'ve| has| have)?"
    r" ever \w+"
    r"|\btook (?:me |us |him |her )?(?:about |over |nearly )?(?:\d+|an?|half|ages|all)\b"
    r"[\w ]{0,12}?\b(?:hours?|minutes?|mins|morning|afternoon|day|ages)\b"
    r"|\b\d+ (?:days?|weeks?|hours?) (?:after|before|since) (?:the |that |its )?(?:[a-z]+ )?"
    r"(?:rains?|soak|storm)\b"
    r"|(?<!out )\bof (?:the|that|its|last) soak(?:ing)?\b|\bunsoaked$"
    r"|\b(?:no(?: more)?|(?:long )?enough) soak(?:ing)?\b"
    r"|\b(?:the )?rest (?:(?:is|are|all|look|looks) )*(?:sound|fine|ok(?:ay)?|good|healthy|clean)\b"
    r"|\b(?:when|while|on) (?:(?:i|we) (?:was|were) )?(?:water|check|turn|pick|walk|pass)ing"
    r"(?: (?:it|them|by|past|round))?\b"
    r"|\b(?:before|after|since|until|as soon as|when|while) (?:it|they|i|we|the logs)"
    r"(?: (?:was|were|had|have|has|all|just))* (?:went|gone|came|come|got|put|been|soaked|dunked"
    rf"|taken|started|began|stopped|moved|turned|rained|finished)\b[^,;.\d{STACK}]*?"
    r"(?=$|[,;.]|\s(?:and|but)\b)"
    r"|\bon (?:my|our|the) (?:rounds?|way)\b"
    r"|\b(?:for|against|ahead of|because of|due to|to beat|beating) (?:the |more |heavy )?"
    r"(?:rain|storm|frost|hail|heat|wind)\b"
    r"|\bfor the (?:first|second|third|fourth|last) time(?: this (?:flush|year|season|week))?\b"
    r"|\bafter (?:its|their|the|a) (?:[a-z]+ )?(?:night|day|spell|stay|stint|time)"
    r" (?:under ?water|in (?:the )?(?:tank|water|soak|bath))\b"
    r"|\b(?:both |all )?(?:well|fully|nicely|thoroughly|properly) soaked\b"
    r"|\b(?:finished|done with|ended) (?:the|its|their) soak(?:ing)?(?: (?:on|of)\b)?"
    r"|\b(?:(?:has|have|is|are) )?(?:finished|done) soaking\b|\bsoaked through\b"
    r"|\bready (?:to|for) (?:be )?(?:soak\w*|forc\w*|(?:the )?tank)\b"
    r"|\b(?:without (?:being )?|never )(?:forc(?:ed|ing)|soaked(?: it)?)\b"
    r"|\bafter (?:the )?market\b|\bafter (?:(?:a|its|their|"
    r"the) )?(?:full )?(?:\d+ ?(?:h|hrs?|hours?|"
    r"days?|weeks?)|day|night|week)(?: soak)?\b"
)
"""'After the rain' and the like: no record of its own, kept as the grower's words."""

_DAILY = (
    "lunch|breakfast|supper|dinner|tea|coffee|dawn|dusk|daybreak|sunrise|sunset|sun-?up|sundown"
    "|first light|nightfall|noon|midday|midnight"
)
CLOCK = pattern_of(
    r"(?<![/.,])\b(?:(?:as of|just|at|about|around|by|since|from|till|until|before|after)\s+)*(?:"
    r"\d{1,2}(?:[:.]\d\d)?\s*(?:am|pm|o'clock)|\d{1,2}:\d\d"
    r"|(?<=at )(?:0\d|[1-9])[0-5]\d(?: ?(?:h|hrs|hours))?(?! ?(?:h|g|kg|lbs?|oz|ml|mm|l)\b)"
    rf"(?! ?{CURRENCY})"
    r"|half \d{1,2} ?[ap]m"
    r"|(?:[01]\d|2[0-3])[0-5]\d ?(?:hrs|hours)|gone by \d{1,2}"
    r"|(?:half|quarter|(?<=at )\d+) (?:past|to) (?:\d{1,2}|one)"
    r"|(?:(?:a (?:little|bit)|just|soon|shortly|well|not long) )(?:before|after|past"
    r"|gone) (?:\d{1,2}|one)(?! ?(?:h|hours?|hrs|days?|weeks?|logs?)\b)"
    rf"|(?<=at )half \d{{1,2}}|(?:{_DAILY})(?: ?time)?|first thing"
    r"|last thing(?: at night|(?=\s*(?:$|[,;.]|yesterday|today|last)))"
    r"|(?<=before )dark|(?<=before )(?:work|school|church|chores|bed)(?:time)?"
    r"|(?<=after )(?:work|school|church|chores|dark)"
    r"|(?:(?:an?|half an|[1-5]) hours?|(?:an?|\d{1,2}) min(?:ute)?s?)(?: or so)? ago"
    r"|(?:a (?:moment|minute|while ago today))(?: ago)?"
    r"|(?:as of|right|just)(?= now))(?!\w)"
)

CLOCK_BEFORE_DAY = pattern_of(
    r"(?<![\w.,/-])(?:[01]\d|2[0-3])[0-5]\d(?= (?:yesterday|today|this|last|on)\b)"
)
"""'1730 yesterday' beside a weight."""

CLOCK_OF_TANK = pattern_of(
    r"(?<![\w.,/-])(?:(?:[01]?\d|2[0-3])[.:][0-5]\d|0\d[0-5]\d|1[0-8][0-5]\d"
    r"|(?:(?<=at )|(?=\d{4} ?h))(?:19|2[0-3])[0-5]\d)(?:\s?(?:hrs|hours|h))?"
    r"(?![\w.,/-]\w|\w| ?(?:lbs?|oz|kgs?|kilos?|g|grams?|pounds?|mm|logs?|h|hrs|hours)\b)"
)
"""'0730', '7.45': of logs that go in or come out."""

HOUR = pattern_of(
    r"\b(?:at|as of|since|around|about|by|before|after|till|from(?= \d\d? this\b))"
    r"\s+(?:[1-9]|1\d|2[0-3]|one)(?:[ .:][0-5]\d)?"
    r"(?=$|\s*[,;.)](?!\d)|\s+(?:sharp|today|yesterday|this|last|on|and|then|in the|for|from|off"
    rf"|with|{WEEKDAY}))"
)
"""'At 8' is a time of day, but for what is sold or weighed."""

_BUYS = pattern_of(
    r"(?:'s)?(?:\s+(?:people|folks?|couple|man|lady|guys?|chef|owner))?"
    r"\s+(?:has |have )?(?:took|taken|bought|had|got|purchased|collected|picked up|paid)\b"
)


_COUNTED = re.compile(r"(?<![\w/.,])\d+(?![\w/.,]\w)")

HINTS = {
    "new": "A new stack is a row of stacks.csv; 'fruitcast inoculation --help' shows the ways.",
    "ate eaten gift gifted dried": "What is no longer for sale: write 'gave away 8 oz|250 g' "
    "or 'ate 8 oz|250 g from A'.",
    "gave": "Off the logs: write 'pick A 2 lb|1 kg'. To somebody: write 'gave away 8 oz|250 g from "
    "A'. One record for each stack.",
    "emptied drained lifted": "Write 'pull A', or 'pull everything' for all that is in the tank.",
    "took take taken got get brought cut pull pulled": "Out of the tank: write 'pull A'. Off the "
    "logs: write 'pick A 2 lb|1 kg'. To somebody: write 'gave away 8 oz|250 g'.",
    "lost": "Write 'inspect A 3 dead' or 'retire A 3 logs'.",
}
"""First words that are no record, and what to write instead."""

_SIGHTS = {
    "weight": WEIGHT,
    "money": MONEY,
    "depth": DEPTH,
    "minutes": pattern_of(r"\d ?min(?:ute)?s?\b"),
    "logs": pattern_of(
        rf"\b\d+\s*(?!{UNIT_OF_WEIGHT.pattern})(?:[\w-]+\s+){{0,3}}(?:logs?|ones)\b"
    ),
    "lots": pattern_of(
        r"(?<!\binto )(?<!\bto )(?<!\bas )(?-i:\b[A-Z]\w*)/[2-9]\b"
        r"|\b(?:two|three|four|[2-9]) (?:equal )?(?:lots|parts|halves|batches)\b"
        r"|\bin(?:to)? (?:half|halves|lots)\b"
    ),
    "lots-of": pattern_of(r"^lots (?:of|[a-z]+ing)\b"),
} | {
    name: one_of(table)
    for name, table in {
        "tank": """
            (?<!next to the )(?<!near the )(?<!nearer the )(?<!beside the )(?<!by the )tank
            bath | trough | tub | barrel | vat
            (?:in|into|in to|out|out of|from) (?:the |a )?(?:water|pond|creek|river|stream|soak)""",
        "cold": """fridge | cooler | cold (?:store|room) | chiller | walk-?in | refrigerator
            on hand | in stock | stock""",
        "sample": rf"""sample | monitor | {SAMPLE_NAMES} log
            logs?\b[^,;]*?\bon(?:to)? (?:the|my|our) (?:\w+ )?(?:scales?|balance)""",
        "gauge": r"(?:rain\s*)?gauge",
        "delivered": "delivered | sold",
        "sheet": SHEET,
        "made": "split | made up",
        "moved": "moved | carried | shifted",
        "crop": """mushrooms? | shiitakes? | shrooms | crop | harvest | picking | pick
            basket | crate | tray | came off | firsts | seconds | slugs? | snails?""",
        "pins": "pins? | pinning | pinheads? | buttons",
        "off": "off",
        "unpinned": "(?:no|not|without|zero)\\b[^,;]*\\b(?:pins?|pinning|pinheads?|buttons)",
        "gone": """rotted | for (?:good|ever) | out of use | worn[- ]out
            rotten | dead | spent | dud | finished | done for | past it | crumbl\\w+
            f[ea]ll(?:en)? (?:apart|to bits) | firewood | bonfire | on the fire | burn(?:ed|t)
            (?:wood|burn|brush|scrap) ?(?:pile|heap)""",
        "well": f"nothing {NOTABLE}",
        "ill": "mou?ld\\w* | trich\\w* | rot | rotten | fungus | dead | bark",
        "new": r"(?:new|separate) stack | (?:made|make|start(?:ed)?|began) (?:a )?(?:\w+ )?stack",
        "hours": HOURS.pattern.replace("?P<minutes>", "?:"),
        "burnt": "firewood | bonfire | wood ?pile | burn(?:ed|t) | burn ?pile",
        "lost": "lost",
        "hose": "hose(?:pipe)?|drip (?:line|tape|hose) | sprinklers? | irrigation | ground | soil",
        "place": """to | into | under | behind | beside | inside | outside | indoors | outdoors
            near | against | next to | in | by | over | down | up | between | along""",
    }.items()
}
"""What may stand beside an ambiguous verb and decides what it means."""


class Head(NamedTuple):
    """Words that say what kind of record it is, and where they stand."""

    kind: str
    start: int
    end: int
    kept: str
    stays: bool = False


def kind_of_run(kinds: Sequence[str], text: str) -> str:
    """Return the kind of pieces that belong together: 'checked A, pins on it' is pins."""
    told = list(dict.fromkeys(kind for kind in kinds if kind))
    signs = any(p.search(text) for p, _ in _patterns("inspect", "signs"))
    if told[0] == "inspect" and len(told) == 2 and told[1] in FOUND and not signs:
        return told[1]
    return told[0]


@lru_cache(maxsize=KEPT)
def masked(text: str, parts: Parts) -> str:
    """Return a sentence of the same length in which names and circumstances say no kind."""
    names = [mark for mark in marks_in(text, parts) if mark.label in ("stack", "outlet")]
    plain = covered(text, names, lambda name: STACK if name.label == "stack" else "\u00b7")
    lost = PART.finditer(text) if WEIGHT.search(PART.sub(" ", text)) else ()
    spoiled = len(WEIGHT.findall(plain)) == 1 and _SPOILED.search(plain)
    stolen = () if spoiled else (_STOLEN,)
    asides = (p.finditer(plain) for p in (CIRCUMSTANCE, CLOCK, _BESIDE_IN, *stolen, _YARDS))
    beside = (Mark("aside", f.start(), f.end(), "") for f in chain(*asides, lost))
    return covered(plain, beside, lambda mark: ASIDE)


_SPOILED = pattern_of(SPOILED)
_STOLEN = pattern_of(
    rf"\b{THIEVES} (?:(?:had|has|have) )?(?:had|got|took|taken|cut)\b(?=[^,;.]*\d)"
)
_YARDS = pattern_of(
    r"\b(?:fruiting|laying|soaking|picking|spawn) (?:yard|area|house|shed|tunnel|rack|room)\b"
)
_BESIDE_IN = pattern_of(
    rf"(?:(?<={STACK} in )|(?<={STACK} out ))\d{{1,2}}\.[0-5]\d(?! ?(?:lb|oz|kg|g)\b)"
)


@lru_cache(maxsize=KEPT)
def sights_of(text: str, parts: Parts) -> Set[str]:
    """Return what stands in words and decides what an ambiguous verb means."""
    stacks, outlets = stacks_in(text, parts.stacks), outlets_in(text, parts.outlets)
    seen = text if outlets else HOUR.sub(" ", text)
    sights = {name for name, pattern in _SIGHTS.items() if pattern.search(seen)}
    if stacks:
        sights.add("stack")
    weights = [Phrase(found[1]).take_weight() for found in WEIGHT.finditer(text)]
    if weights and all(kg is not None and kg < LIGHTEST_LOG for kg in weights):
        sights.add("light")
    if outlets:
        sights.add("outlet")
    if any(_BUYS.match(text, mark.end) for mark in outlets):
        sights.add("seller")
    return sights


def _fits(when: str, sights: Set[str], own: Set[str]) -> bool:
    if not when:
        return True
    wanted, unwanted = _conditions(when)
    return wanted <= sights and unwanted.isdisjoint(own)


@cache
def _conditions(when: str) -> tuple[frozenset[str], frozenset[str]]:
    """Return what must stand beside words, and what must not."""
    words = when.split()
    unwanted = frozenset(word[1:] for word in words if word.startswith("-"))
    return frozenset(word for word in words if not word.startswith("-")), unwanted


def heads_in(
    text: str, shown: str, pieces: Sequence[tuple[int, int]], parts: Parts
) -> list[list[Head]]:
    """Return for each piece the words in it that say a kind, the surest that are there."""
    all_sights = sights_of(text, parts)
    piece_sights = [sights_of(text[slice(*piece)], parts) for piece in pieces]
    strong = [
        _said_in(text, shown, piece, all_sights, "sayings", _own(n, piece_sights))
        for n, piece in enumerate(pieces)
    ]
    start = pieces[0][0] + day_before_kind(text)
    first, _ = first_word(text[start:])
    if (kind := known_kind(first)) and not any(
        _fits(when, all_sights, all_sights) for when in kind_named(kind).unless
    ):
        whole = Head(kind, start, start + len(first), "")
        alike = {kind, "nothing"} if kind == "soak" else {kind}  # 'soak of A gave nothing'
        strong[0] = [whole, *(head for head in strong[0] if head.kind in alike)]
    if any(strong):
        seen = []
        for own, piece, sights in zip(strong, pieces, piece_sights, strict=True):
            maybe = _said_in(text, shown, piece, sights, "maybe")
            sold = {head.kind for head in own} == {"sold"}
            more = [head for head in maybe if sold and head.kind == "sold"]
            seen.append([*own, *more] or maybe or _seen_beside(text, shown, piece))
        return seen
    for table in ("maybe", "signs"):
        found = [_said_in(text, shown, piece, all_sights, table) for piece in pieces]
        if any(found):
            return found
    return [[] for _ in pieces]


def _own(number: int, sights: Sequence[Set[str]]) -> set[str] | None:
    """Return what stands in a piece and in those behind it that name no stack; None: too little."""
    own = set(sights[number])
    if not own & {"stack", "cold"}:
        return None
    for more in sights[number + 1 :]:
        if "stack" in more or "stack" not in own:
            break
        own |= more
    return own


def _seen_beside(text: str, shown: str, piece: tuple[int, int]) -> list[Head]:
    """Return that logs were inspected, where some were counted: 'and 2 logs are dead'."""
    counted = _COUNTED.search(text, *piece)
    seen = _said_in(text, shown, piece, set(), "signs") if counted else []
    return [head for head in seen if head.kind == "inspect"]


def _said_in(
    text: str,
    shown: str,
    piece: tuple[int, int],
    sights: Set[str],
    table: str,
    own: Set[str] | None = None,
) -> list[Head]:
    """Return what is said in a piece; what must not stand beside it is looked for in `own`."""
    found = []
    for kind, match, when in _matches(shown, piece, table):
        if _fits(when, sights, own or sights):
            kept = [text[slice(*match.span(g))] for g in match.groupdict() if match[g]]
            stays = table == "signs" and kind in TOLD_WHOLE
            found.append(Head(kind, *match.span(), " ".join(kept), stays))
    return [
        head
        for head in found
        if not any(
            other.start <= head.start
            and head.end <= other.end
            and (other.end - other.start) > (head.end - head.start)
            for other in found
        )
    ]


@lru_cache(maxsize=KEPT)
def _matches(
    shown: str, piece: tuple[int, int], table: str
) -> tuple[tuple[str, re.Match[str], str], ...]:
    """Return where words of a kind stand in a piece, whatever stands beside them."""
    return tuple(
        (kind, match, when)
        for kind in KINDS
        if _any_of(kind, table).search(shown, *piece)
        for pattern, when in _patterns(kind, table)
        for match in pattern.finditer(shown, *piece)
    )


def speaks_of_deed(words: str, parts: Parts) -> bool:
    """Return whether words say a kind of record, with what stands beside them."""
    shown, sights = masked(words, parts), sights_of(words, parts)
    return any(
        _fits(when, sights, sights) and pattern.search(shown)
        for kind in KINDS
        for pattern, when in _patterns(kind, "sayings")
    )


@cache
def _any_of(kind: str, table: str) -> re.Pattern[str]:
    """Return one pattern of all words of a kind: few kinds are in a sentence."""
    sayings = (s[0] if isinstance(s, tuple) else s for s in getattr(kind_named(kind), table))
    told = "|".join(re.sub(r"\?P<\w+>", "?:", saying) for saying in sayings) or "(?!)"
    return re.compile(rf"(?<![\w-])(?:{told})(?![\w-])", re.IGNORECASE)


@cache
def _patterns(kind: str, table: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    sayings = (s if isinstance(s, tuple) else (s, "") for s in getattr(kind_named(kind), table))
    return tuple(
        (re.compile(rf"(?<![\w-])(?:{pattern})(?![\w-])", re.IGNORECASE), when)
        for pattern, when in sayings
    )


def kind_of_piece(text: str, heads: Sequence[Head]) -> str:
    """Return the one kind that a piece speaks of."""
    kinds = list(dict.fromkeys(head.kind for head in heads))
    if len(kinds) > 1 and "inspect" in kinds:  # 'found slugs and mould': the note is in it
        kinds = [kind for kind in kinds if kind != "note"]
    if {*kinds} == {"soak", "nothing"}:  # 'soaked A for nothing'
        kinds = ["nothing"]
    if len(kinds) > 1:
        raise two_kinds(text, kinds)
    return kinds[0] if kinds else ""


def two_kinds(text: str, kinds: Sequence[str]) -> InputError:
    """Return what to say of words that may be of several kinds."""
    kinds = list(dict.fromkeys(kinds))
    return InputError(
        f"'{text[:200]}': is it {' or '.join(kinds)}? Write one record for each, like "
        f"'{kinds[0]} ...'."
    )


def unknown_kind(word: str) -> str:
    """Return what to say of a first word that is no kind of record."""
    if len(word) > LONGEST_KIND:
        return f"'{word[:LONGEST_KIND]}...' is not a kind of record. Known are: {', '.join(KINDS)}."
    near = nearest(word, KINDS, 0.65)
    hint = f"Did you mean '{near}'?" if near else f"Known are: {', '.join(KINDS)}."
    hint = next((other for words, other in HINTS.items() if word.lower() in words.split()), hint)
    return f"'{word}' is not a kind of record. {hint}"


def day_before_kind(text: str) -> int:
    """Return where a sentence goes on after a day that it begins with, if a kind comes there."""
    dated = DAY.match(text)
    if not dated:
        return 0
    after = re.compile(r"[\s,:-]*(?:(?:i|we)\s+)?", re.IGNORECASE).match(text, dated.end())
    place = after.end() if after else dated.end()
    return place if known_kind(first_word(text[place:])[0]) else 0


def first_word(text: str) -> tuple[str, str]:
    """Return the first word of a sentence, and the others."""
    first, _, rest = text.partition(" ")
    return first.rstrip(":,"), rest


def speaks_of_kind(word: str) -> bool:
    """Return whether a word, in small letters, may begin a record or a wrong one."""
    return bool(known_kind(word)) or any(word in words.split() for words in HINTS)


def known_kind(word: str) -> str:
    """Return the kind of which a word may be the first, else nothing."""
    word = word.lower()
    kind = OTHER_WORDS.get(word, word)
    return kind if kind in KINDS else ""


_DAYS_JOINED = pattern_of(rf"\b{WEEKDAY}\w*[-/]")
_SLIPS_OF = ("seconds", "firsts", "culls", "january", "april", "june", "july")


def left_remark(given: Given, kind: str = "") -> str:
    """Take what is left over where it can be nothing but the grower's remark.

    A number, a day, a stack or a word of records among it may have changed the record: it
    stays, and is refused. So does a single word that may be a name or a slip for one.
    """
    left = given.phrase.text.strip(" ,;.:-")
    if DAY.search(left) or _DAYS_JOINED.search(left):  # a second day, or two at once
        return ""
    words = left_words(left)
    if not words:
        given.phrase.text = ""
        return ""
    if UNIT_OF_WEIGHT.search(left):  # 'two hundred grams' is an amount that was not understood
        return ""
    alone = len(words) == 1 and words[0] not in DESCRIBING
    near = (*given.stacks, *given.outlets, *VOCABULARY, *_SLIPS_OF)
    if (
        UNKNOWN_NAME.search(left)
        or NUMBERS & set(words)
        or any(
            speaks_of_kind(word)
            for word in words
            if word not in ("lots", "split")
            and known_kind(word) not in (kind, "pins" if kind == "fruiting" else kind)
        )
        or (alone and (given.phrase.took_bare or not without_ends(left).islower()))
        or (alone and (nearest(words[0], near, 0.75) or words[0]) != words[0])
        or marks_in(left, Parts(given.stacks, given.outlets))
        or any(VOCABULARY.get(word, kind) != kind for word in words)
        or (given.whole and QUANTITY & set(left_words(re.sub(r"\bon top\b", " ", left))))
    ):
        return ""
    given.phrase.text = ""
    return without_ends(left)
