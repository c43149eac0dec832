"""Mushrooms picked, and what a pick's words say of its parts: seconds, losses and why."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import TYPE_CHECKING, NamedTuple

from fruitcast.diary.entries.kind import (
    STACK,
    THIEVES,
    THREW,
    Form,
    Objection,
    OfStacks,
    logs_in_words,
    question,
    refused,
    said,
    too_young,
)
from fruitcast.diary.events import DRIED_OUT, OTHER_CAUSE, RAIN_SOAKED, SLUGS, Event, noted
from fruitcast.diary.history import StackHistory
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import ONE_WEIGHT, WEIGHT, Phrase
from fruitcast.diary.plain_words import PEOPLE, UNKNOWN_NAME
from fruitcast.errors import InputError
from fruitcast.units import parse_weight

if TYPE_CHECKING:
    from fruitcast.diary.history import YardHistory
    from fruitcast.diary.limits import Limits
    from fruitcast.diary.record_phrase import Given
    from fruitcast.diary.state import Pick as Picked


# What words say of a part of a pick: seconds, and what was lost and to what.

_CAUSE = (
    r"(?P<slugs>slugs?(?:[- ](?:eaten|bitten|damaged?))?|snails?)"
    r"|(?P<rain>rain[- ]?(?:soaked|logged|damaged)|rain|waterlogged|soggy)"
    r"|(?P<dry>dried[- ](?:out|up)|dry|sun|wind)"
    r"|(?P<other>lost|spoil(?:ed|t)|wasted|rotten|mouldy|moldy|unsaleable|no good"
    r"|(?:too )?far gone|gone (?:black|brown|over)|squirrels?"
    r"|deer|mice|birds?|beetles?|worms?|maggots?|bugs?|rats?|chipmunks?|rabbits?|frost(?:ed)?)"
    r"(?:[- ](?:eaten|bitten|chewed|damaged?|nibbled|holes))?"
)
SPOILED = (
    rf"(?P<eaters>{THIEVES}|(?:heavy |the )?rain|damp|mould|mold|rot)(?: (?:last night|\w+day))?"
    r" (?:(?:had|have|has|must have) )?(?:had|got|gone|eat(?:en)?|ate|ruin(?:ed|s)|spoil(?:ed|t)"
    r"|chewed|nibbled|blackened|scorched|wrecked|destroyed|been|finished)(?: (?:at|into|to"
    r"|through|for|off))?"
)
"""Pattern of who or what took mushrooms before they were picked."""

_SPOILED = SPOILED.replace("?P<eaters>", "?:")
_SECONDS = r"(?P<seconds>(?:as |of )?(?:seconds?(?: grade)?|grade (?:2|two)|culls?))"
_JOINT = (
    r"(?P<joint>(?:[,;+&]|\b(?:and|plus|another|with|but|of (?:it|that|which|them|these|those)"
    r"|incl(?:uding)?)\b\.?)\s*)*"
    rf"(?:(?:{THREW}|left(?: behind)?|lost)\s+(?:(?:another|a further)\s+)?)?"
)
_GONE = (
    r"(?:\s+(?:had |have |has )?(?:got|eaten|spoil(?:ed|t)|ruined|taken|chewed|been at))?"
    rf"(?:,? (?:and |so )?(?:{THREW}|left behind))?"
)
_COMMA = r"(?:,(?=\s+\w+[- ](?:eaten|bitten|chewed|damaged?|nibbled|soaked|logged)\b))?"
_MORE = (
    r"(?:slugs?|snails?|(?P<wet>rain)) (?:had |got |ate |took |ruined |spoil(?:ed|t) )?"
    rf"(?:another (?P<more>{ONE_WEIGHT})|(?P<more2>{ONE_WEIGHT}) more)(?!\w)"
)
PART = pattern_of(
    rf"{_JOINT}(?:lost\s+)?(?:{_MORE}|(?:{SPOILED} |(?P<eaters2>slugs?|snails?|beetles?|deer) )"
    rf"(?P<eaten>{ONE_WEIGHT})(?!\w)"
    rf"|(?P<label>seconds|culls):?\s+(?P<after>{ONE_WEIGHT})"
    rf"|(?P<weight>{ONE_WEIGHT}){_COMMA}\s+(?P<more3>more )?(?:of (?:it|that|them|those|which)\s+)?"
    r"(?:(?:that|which)\s+)?(?:(?:was|were|is|are|went|had been|had|has|have)\s+)?(?:(?:to|by"
    r"|with|for)\s+)?"
    r"(?:the\s+)?"
    r"(?:(?:lost|gone|eaten|spoil(?:ed|t)|ruined|chewed|damaged)\s+)?(?:(?:to|by|with|for)\s+)?"
    r"(?:the\s+)?"
    rf"(?:{_SECONDS}|(?:{_CAUSE}|(?P<bad>bad|maggoty|wormy|buggy|slimy|mushy)){_GONE})(?!\w))"
)
"""A weight that is a part of a pick."""

FIRSTS = pattern_of(
    rf"[,;]?\s*(?:(?P<weight>{ONE_WEIGHT})\s+(?:of (?:it |that |them |which )?)?"
    r"(?:(?:was|were) )?(?:firsts"
    r"|good(?:\s+ones|(?=\s*(?:[,;&+]|(?:off|from|out|on|and|but)\b))))"
    rf"|firsts:?\s+(?P<after>{ONE_WEIGHT}))(?!\w)"
)
"""What is left of it without seconds and losses."""
_CAUSES = {"slugs": SLUGS, "rain": RAIN_SOAKED, "dry": DRIED_OUT, "other": OTHER_CAUSE}
_ALONE = pattern_of(rf"(?<!\w)(?:{_CAUSE})(?!\w)")
_LOST = pattern_of(r"\b(?:lost|(?:went|gone) to waste)\b")
_NO_MORE = pattern_of(
    r"\bnothing (?:left|worth|fit)(?: (?:to|for))?(?: (?:pick|keep)(?:ing)?)?\b"
    r"|\b(?:the )?(?:whole|entire) (?:lot|flush|crop)\b(?: of)?|\ball of it\b"
)
"""Beside what was lost: it was all that came."""

_ON_TOP = pattern_of(r"\b(?:and|plus|another)\b|[+&]")


_BY = pattern_of(r"\bby\b")


class PickParts(NamedTuple):
    """What a pick's words say of its parts; None where nothing was said. [kg]"""

    second_kg: float | None = None
    lost_kg: float | None = None
    cause: str = ""
    on_top_kg: float = 0.0


_TAKEN = (
    r"(?:ate|eaten|got|had|took|taken|stole|chewed|nibbled|been at)(?: (?:at|to|into|through))?"
    r" (?:it|them|those|the lot|all of (?:it|them))(?=\s*(?:$|[,;.]))"
)
_LOST_OFF = rf"^lost ({ONE_WEIGHT}) (?:off|from) ([^,;.\d]{{1,20}}?(?:[/ ]\d)?)"
_LOST_TO = pattern_of(
    rf"{_LOST_OFF}(?:,| as| because| when)? (?:the |some )?({THIEVES})"
    rf" (?:(?:had|have|has) )?{_TAKEN}"
)
_LOST_THEN_THREW = pattern_of(rf"{_LOST_OFF}(?=,.*\b{THREW} (?:it|them|those|the lot)\b)")


def with_thief_first(text: str) -> str:
    """Return 'lost 1 lb off B, deer ate them' as 'deer ate 1 lb off B', and so what was binned."""
    text = _LOST_TO.sub(r"\3 ate \1 off \2", text)
    return _LOST_THEN_THREW.sub(r"threw away \1 from \2", text)


def take_parts(phrase: Phrase) -> PickParts:
    """Take the seconds and losses of a pick off its words; its own weight is left.

    'A 1.2 kg, 200 g seconds' has the seconds in its weight, 'A 1.2 kg and 200 g seconds' on top.
    Raises InputError if two causes are given: an entry holds one.
    """
    second: float | None = None
    lost: float | None = None
    cause, on_top, whole = "", 0.0, True
    firsts = FIRSTS.search(phrase.text)
    if firsts and len(WEIGHT.findall(phrase.text)) == 1:
        firsts = None  # all of it is
    if firsts:
        phrase.text = f"{phrase.text[: firsts.start()]} {phrase.text[firsts.end() :]}".strip()
        whole = WEIGHT.search(PART.sub(" ", phrase.text)) is not None
        if not whole:
            phrase.text += f"; {firsts['weight'] or firsts['after']}"
    while found := PART.search(phrase.text):
        rest = f"{phrase.text[: found.start()]} {phrase.text[found.end() :]}"
        if not WEIGHT.search(rest):
            all_lost = _LOST.search(phrase.text) and _NO_MORE.search(phrase.text)
            if found["eaters"] or _BY.search(found[0]) or (all_lost and not found["seconds"]):
                written = found["weight"] or found["after"] or found["eaten"]
                lost = parse_weight(written)
                named = (value for name, value in _CAUSES.items() if found[name])
                cause = next(named, _cause_of(found) if found["eaten"] else OTHER_CAUSE)
                phrase.text = f"{_NO_MORE.sub(' ', _LOST.sub(' ', rest))}; {written}"
            break  # it is the whole pick that is of second grade
        if found.start() and not (found["joint"] or firsts or " of " in found[0]):
            raise InputError(f"'{found[0].strip()}': of the weight before, or more? Use a comma.")
        phrase.text = rest.strip()
        more = found["more"] or found["more2"]
        kg = parse_weight(more or found["weight"] or found["after"] or found["eaten"])
        joint = found["joint"] or ""
        beside = more or found["more3"] or (firsts and not whole)
        if beside or (_ON_TOP.search(joint) and "of" not in joint and not (firsts and whole)):
            on_top += kg
        if found["seconds"] or found["label"]:
            second = (second or 0.0) + kg
            continue
        named = (value for name, value in _CAUSES.items() if found[name])
        other = OTHER_CAUSE if found["bad"] else _cause_of(found)
        why = RAIN_SOAKED if found["wet"] else next(named, other)
        if cause and why != cause:
            raise InputError(f"Lost to {cause} and to {why}: write two picks, each with its own.")
        lost, cause = (lost or 0.0) + kg, why
    if firsts and whole:
        _refuse_other_sum(phrase.text, firsts, (second or 0.0) + (lost or 0.0))
    return PickParts(second, lost, cause, on_top)


def _all_lost(phrase: Phrase) -> PickParts:
    """Return a weight that was lost whole, and why; it is left in the words."""
    weight = WEIGHT.search(phrase.text)
    thief = re.search(rf"\b(?:(?:to|by) )?(?:the )?({THIEVES})\b", phrase.text, re.IGNORECASE)
    cause = OTHER_CAUSE
    if thief and thief[1].lower().startswith(("slug", "snail")):
        cause = SLUGS
    elif thief and (named := take_cause(phrase)):
        cause = named
    phrase.text = re.sub(
        rf"\b(?:lost|(?:to|by) (?:the |some )?{THIEVES}\b)", " ", phrase.text, flags=re.IGNORECASE
    )
    return PickParts(lost_kg=parse_weight(weight[1]) if weight else None, cause=cause)


def _cause_of(found: re.Match[str]) -> str:
    """Return the cause of a loss by what took it."""
    eaters = (found["eaters"] or found["eaters2"] or "slug").lower()
    if eaters.startswith(("slug", "snail")):
        return SLUGS
    return RAIN_SOAKED if eaters.endswith("rain") else OTHER_CAUSE


def _refuse_other_sum(words: str, firsts: re.Match[str], others_kg: float) -> None:
    given = WEIGHT.search(words)
    kg = parse_weight(given[1]) if given else 0.0
    parts_kg = parse_weight(firsts["weight"] or firsts["after"]) + others_kg
    if abs(kg - parts_kg) > 0.02 * kg:
        raise InputError(f"'{firsts[0].strip(' ,;')}': the parts don't make {given and given[1]}.")


def take_cause(phrase: Phrase) -> str:
    """Take why all of something was thrown away; empty where the words don't say."""
    found = phrase.take(_ALONE)
    return next((value for name, value in _CAUSES.items() if found[name]), "") if found else ""


# Picks.

CONFIRMED = "confirmed"
"""A pick whose note has this word is right, however odd it looks."""

CRATE = "one crate of"
"""A pick whose note has these words is a part of a crate from several stacks."""

_SHARE = pattern_of(r"\b(?:(?:the )?(?:other )?half|most|some|(?:the )?rest|part)\b(?! a\b)")
_SOME_SECONDS = pattern_of(
    r"\b(?:half|some|mostly|most|part\w*|few|third|quarter)\b[\w ]{0,12}\b(?:seconds|culls)\b"
)
_CAPS = pattern_of(r"(?<![\w.,/])\d+ (?:big |small |large |nice )?(?:caps|mushrooms|shiitakes?)\b")
_ROUND = r"(?:flush|pick(?:ing)?|harvest|round|crop)"
_GRADE = pattern_of(r"\bgrade\s+([^\s,;.]+)|\b(firsts|seconds|culls)\b")
_WHICH_ROUND = pattern_of(
    rf"\b(?:first|second|third|fourth|last|\d(?:st|nd|rd|th))\s+{_ROUND}\b"
    r"(?:\s+(?:of|this)\s+(?:(?:the|this)\s+)?(?:flush|season|year))?"
)
_NO_MUSHROOMS = pattern_of(
    r"^up(?! with\b)\b|\b(?:oysters?|chanterelles?|morels?|maitake|nameko|enoki|lion's mane"
    r"|spawn|sawdust|wax|plugs?|dowels?|straw|chips|leaves|sticks"
    r"|firewood|litter|bait)\b"
)
_HANDFUL = pattern_of(
    r"\b(?:(?:a|an|few|\d+|just|full|small|good) )*(?:handfuls?|baskets?|crates?|trays?|buckets?"
    r"|box(?:es)?|punnets?)\b"
)
_REMARK = pattern_of(r",\s*([^\d,]{3,})$", 0)
_PICKER = pattern_of(rf",?\s*\bby ({PEOPLE})(?=$|[,;:.]|\s\d)", 0)


_UNCLEAR = (
    (_NO_MUSHROOMS, "is it a pick of mushrooms? Write it like 'pick A 2 lb|1 kg'"),
    (
        pattern_of(rf"(?<![\w.,/])\d+ (?:\w+ )?{THIEVES}\b"),
        "were those picked? Write mushrooms with their weight, like 'pick A 2 lb|1 kg'",
    ),
    (_SOME_SECONDS, "how much of it? Write it like '6 oz|200 g seconds'"),
    (
        pattern_of(r"\b(?:each|every|per|a) log\b"),
        "what do all of them weigh? Write it like 'pick A 2 lb|1 kg'",
    ),
)


class Pick(OfStacks):
    """Mushrooms picked."""

    how_to = "Write it like 'pick A 2 lb 6 oz' or 'pick A 1.1 kg grade 2 for Saturday market'"
    done = "Picked {kg} from {stack}"
    other_words = (
        *("picked", "picking", "harvest", "harvested", "harvesting"),
        *("gathered", "collected"),
    )
    unless = ("tank -weight",)
    sayings = said(
        rf"""
        picked(?: and weighed)?(?! up)|harvest(?:ed|ing)?(?: day)?|gathered
        (?:(?:picked|taken) )?(?:what )?came off :: weight stack -tank
        (?P<kept>(?:first|second|third|last) pick(?:ing)?)
        (?P<kept3>{_SPOILED})(?= [^,;.]*\d) :: weight stack -tank -cold -logs
        (?P<kept2>(?:went|gone) to waste) :: weight stack -tank -cold
        (?P<kept4>(?:ruined|spoil(?:ed|t)|eaten|chewed|nibbled|damaged|wrecked) by
            | (?:the )?{THIEVES}) :: weight stack -tank -cold -logs
        picking|pick :: -pins
        collected :: weight stack
        """
    )
    maybe = said(
        rf"""
        took|taken|take|pulled|pull|cut|kept|saved|salvaged
            |got|had|grabbed|snipped|stripped|cleaned(?: off| up)?|emptied|cleared
            |finished|fetched|hauled
            |plucked|trimmed|dug|cropped|reaped|lopped|managed|scored|bagged|landed|lifted
            |netted|nabbed|gleaned|(?:opened|started|closed) the flush
            |(?:brought|bring|carried|hauled) (?P<kept>.*?)\s*in|brought|came
            |come :: weight stack -tank -seller -money
        (?P<kept>{STACK}.*?) (?:gave|yielded|produced|bore|made|did|returned|netted|turned out|paid
            |managed|threw(?: up)?|coughed up|handed us
            |tipped the scales? at|(?:came|weighed)(?: to| in(?: at)?| out(?: at)?))(?: us
            | me)? :: weight stack -tank -sample
        (?P<kept2>lost) :: weight stack -tank -cold -logs -sample
        (?:fresh )?(?:mushrooms|shiitakes?)(?= (?:from|off)\b) :: weight stack -tank -cold -logs
        haul|yield|harvest|crop|take|(?:filled|got) (?P<kept3>(?:\d+|a|an|the) (?:baskets?
            |crates?|trays?|buckets?|box(?:es)?
            |punnets?)) :: weight stack -tank -cold -money -sample
        weighed(?: in)?(?: the)? (?:basket|crate|tray|bag)(?: from)? :: weight stack -cold
        """
    )
    twice_is_odd = True
    needs = ("stack", "kg")
    weight_above_zero = True
    cold_store = "in"
    form = Form("Picked", ("weight", "losses", "outlet"), first=True)

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        stack, note, outlet = given.stack_at_start(), phrase.take_note(), given.known_outlet()
        measured = WEIGHT.search(phrase.text) and phrase.take(_HANDFUL)
        if phrase.take_words("handfuls?", "few handfuls", "nothing(?! (?:left|worth|fit))", "none"):
            raise InputError("A pick needs a weight, or write 'nothing A' when nothing came.")
        for pattern, asked in _UNCLEAR:
            if found := pattern.search(phrase.text):
                raise InputError(f"'{found[0]}': {asked}.")
        share = phrase.take(_SHARE)
        logs, caps = phrase.take_logs(bare=False), phrase.take(_CAPS)
        which, parts = phrase.take(_WHICH_ROUND), take_parts(phrase)
        lost = None if parts.lost_kg else _LOST.search(phrase.text)
        if lost and len(WEIGHT.findall(phrase.text)) == 1:  # all that there was
            parts = _all_lost(phrase)
        elif lost:
            raise InputError(
                f"'{lost[0]}': of what was picked? Write 'pick A 2 lb, 6 oz|1 kg, 200 g eaten by "
                "slugs'."
            )
        grade, on, by = phrase.take(_GRADE), given.day(), phrase.take(_PICKER)
        kg = given.weight() + parts.on_top_kg
        if parts.lost_kg and parts.lost_kg > kg:  # no part of it: 'lost a pound, picked 8 oz'
            kg += parts.lost_kg
        outlet = outlet or given.other_outlet(of_pick=True)
        remark = None if UNKNOWN_NAME.search(phrase.text) else phrase.take(_REMARK)
        counted = logs_in_words(logs) if logs else ""
        note = noted(share, which, counted, caps, measured, remark and remark[1].strip(), note)
        return Event(
            self.name,
            on,
            given.stack_or_guess(stack),
            kg=kg,
            grade=(grade[1] or grade[2]).lower() if grade else "",
            outlet=outlet,
            second_kg=parts.second_kg,
            lost_kg=parts.lost_kg,
            cause=parts.cause,
            by=by[1] if by else "",
            note=note,
        )

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = []
        logs = limits.alive
        if not logs:
            found += question(f"{event.stack} has no logs left. Is it the right stack?")
        found += too_young(event, limits, limits.numbers.diary.first_bearing_days, "bear")
        bearing = logs
        window = timedelta(days=limits.numbers.diary.flush_days)
        near: list[Picked] = []  # of the same flush, as far as soaks tell
        for state in limits.concerned:
            pulled = [s for s in state.soaks if s.pulled_on and s.pulled_on <= event.on]
            later = [s.on for s in state.soaks if not s.pulled_on or s.pulled_on > event.on]
            since, until = event.on - window, event.on + window
            if pulled:
                bearing -= max(0, state.logs - pulled[-1].logs)
                # A soak between two picks begins another flush.
                since = max(since, pulled[-1].on + timedelta(days=1))
            if later:
                until = min(until, max(event.on, min(later)))
            near += [pick for pick in state.picks if since <= pick.on <= until]
            if any(
                s.on < event.on and (s.pulled_on is None or event.on < s.pulled_on)
                for s in state.soaks
            ):
                found += question(f"{state.name} is in the tank. Was it picked all the same?")
        # Whichever is written down first, the picks of one window are held against the same.
        ends = {event.on, *(pick.on for pick in near if pick.on > event.on)}
        flush_kg = (event.kg or 0.0) + max(
            sum(pick.kg for pick in near if end - window <= pick.on <= end) for end in ends
        )
        if bearing > 0:
            say, per_log = limits.say, flush_kg / bearing
            amount = (
                f"{say.weight(flush_kg)} in this flush from {bearing} logs is "
                f"{say.weight(per_log)} a log"
            )
            if per_log > limits.numbers.diary.impossible_yield:
                most = say.weight(limits.numbers.diary.impossible_yield)
                too_much = f"{amount}, and no log bears more than {most}. Check weight and stack"
                found += refused(too_much)
            elif per_log > limits.numbers.yields.most_a_flush:
                found += question(f"{amount}, very much. Is it right?")
            else:
                found += _far_above_all_others(event.kg or 0.0, bearing, limits)
        return found

    def change(self, event: Event, histories: list[StackHistory], yard: YardHistory) -> None:
        kg = event.kg or 0.0
        # Written for the whole stack, it comes from the lots that are in flush.
        histories = [history for history in histories if history.in_flush(event.on)] or histories
        logs = sum(history.logs for history in histories)
        confirmed = CONFIRMED in re.findall(r"\w+", event.note.casefold())
        for history in histories:
            share = history.logs / logs if logs else 1 / len(histories)
            history.pick(event.on, kg * share, confirmed=confirmed, shared=CRATE in event.note)


def _far_above_all_others(kg: float, logs: int, limits: Limits) -> list[Objection]:
    """Ask about a pick far above the largest that a log of this yard has given: a tenth's slip."""
    given = [
        pick.kg / state.logs
        for state in limits.stacks.values()
        for pick in state.picks
        if state.logs and not pick.confirmed
    ]
    diary = limits.numbers.diary
    if len(given) < diary.fewest_picks or kg / logs <= diary.odd_pick * max(given):
        return []
    say = limits.say
    return question(
        f"{say.weight(kg)} from {logs} logs is {kg / logs / max(given):.0f} times the largest "
        "pick so far, log for log. Is it right?"
    )
