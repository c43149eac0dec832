"""Mushrooms on hand, sold, thrown away, eaten, dried and given away."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, ClassVar

from fruitcast.diary.entries.kind import (
    STACK,
    EntryKind,
    Form,
    Objection,
    Saying,
    impossible,
    question,
    said,
)
from fruitcast.diary.entries.picks import take_cause
from fruitcast.diary.events import PASSED_ON, Event, noted, put_to_use
from fruitcast.diary.pattern import pattern_of
from fruitcast.diary.phrases import MONEY, ONE_WEIGHT, WEIGHT, Phrase, paid_in, parse_day
from fruitcast.diary.plain_words import WAS_GIVEN
from fruitcast.errors import InputError
from fruitcast.units import parse_weight

if TYPE_CHECKING:
    from fruitcast.diary.limits import Limits, Say
    from fruitcast.diary.record_phrase import Given

_LABEL = pattern_of(r"(?:\blot\s+)?(?<!\S)(\S+)-(\d{4}-\d{2}-\d{2})(?!\S)")
_STORE = "(?:cold (?:store|room)|fridge|cooler|chiller|walk-?in|refrigerator)"
_COLD = f"(?:(?:in|from|out of) )?(?:the |our )?{_STORE}"
_PRICE = pattern_of(
    r"(?<![\w.,/-])\d{1,5}[.,]\d\d(?![\w.,/%-])(?!\s*(?:lb|oz|kg|g|pound|kilo|ounce))", 0
)
"""'7.50' beside a weight."""
_EACH = pattern_of(r"\b(?:each|apiece|(?:an?|per) (?:bag|box|punnet|tray|pack|crate|piece))\b")
_GRADE = pattern_of(r"\bgrade\s+\w+|\b(?:firsts|seconds|culls)\b")
_PACKS = pattern_of(
    r"(?<![\w.,/])\d+ (?:punnets|bags|boxes|trays|baskets|packs|crates|bunches)\b"
    r"(?! (?:at|for|@|of|each)\b),?"
)
_NO_STOCK = r"(?:none|nothing|empty|no (?:more )?(?:mushrooms|shiitakes?|stock))(?: left| at all)*"
_OF_GRADE = pattern_of(
    rf"(?:,|\band\b|\bplus\b|\+)?\s*({ONE_WEIGHT})\s+(?:of\s+)?(?:good\s+)?"
    r"(?:firsts|seconds|culls|good(?: ones)?)\b"
)
_SOURCE = pattern_of(r"\b(?:from|of)\s+(.+)$")
_TOO_BAD = pattern_of(r"\b(?:too|not|never|un\w+)\b[^,;.\d]*\bfor\b")
"""'Too old for the shop' names no buyer."""
_LEFT = r"(?:of )?the (?:rest|remainder|others)"
_THE_REST = pattern_of(
    r"\b(?:ate|eaten|dried|froze|frozen|cooked|gave(?: away)?|given(?: away)?|sold"
    rf"|threw(?: away| out)?|binned|tossed|composted)\s+(?:all )?{_LEFT}\b"
    rf"|\b{_LEFT} (?:(?:was|were|is|got|went) )?(?:all )?(?:eaten|dried|frozen|cooked"
    r"|given away|sold|thrown|binned|tossed|composted|in(?:to)? the bin)\b"
)
"""A second lot that left the cold store without its weight."""


class Stock(EntryKind):
    """Mushrooms on hand, counted."""

    how_to = "Write it like 'stock 5 lb|2 kg'"
    done = "Counted {kg} on hand"
    other_words = ("counted",)
    unless = ("pins", "sample", "stack -weight")
    sayings = said(
        rf"""
        (?:counted|weighed|checked) (?:the |our )?stock|stock(?: ?take)?|(?:stock|fridge
            |cooler|cold (?:store|room)) ?(?:check|count|tally) :: weight -tank
        counted :: weight cold -stack
        (?:the )?{_STORE} (?P<kept>now )?(?:holds|has|contains)|(?:left
            |still)(?: over)? in (?:the |our )?{_STORE} :: weight -stack
        (?:weighed |counted |have |got )?(?:what(?:ever)? )?(?:(?:we|i|still|have|got|is
            |was|left) )*on hand|in hand|in stock|inventory :: weight
        """
    )
    signs = (
        Saying(
            r"(?:(?:sitting|stored|left|kept|still) )?in (?:the |our )?"
            rf"{_STORE}|(?:the )?{_STORE}(?: is| has| had| holds)?",
            "-stack",
        ),
    )
    needs = ("kg",)
    says_source = True
    cold_store = "count"

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        note = phrase.take_note()
        if outlet := given.known_outlet():  # 'for the market', 'market leftovers'
            note = noted(f"for {outlet}", note)
        picked_on, on = given.picked_on(), given.day()
        if len(grades := [*_OF_GRADE.finditer(phrase.text)]) > 1:
            kg = sum(parse_weight(found[1]) for found in grades)
            phrase.text = _OF_GRADE.sub(" ", phrase.text).strip(" ,")
            note = noted(", ".join(found[0].strip(" ,") for found in grades), note)
        else:
            kg = 0.0 if phrase.take_words(_NO_STOCK) else given.weight()
            grade = phrase.take(_GRADE)
            note = noted(grade and grade[0].lower(), note)
        phrase.take_words("on hand", _COLD, r"(?:and|plus|\+)$")
        return Event(self.name, on, kg=kg, picked_on=picked_on, note=note)


class Discard(EntryKind):
    """Mushrooms thrown away, eaten, dried or given away: none of them is there to sell any more."""

    how_to = "Write it like 'discard 1 lb' or 'discard 300 g from A'"
    done: ClassVar[str] = "Threw away {kg}"
    other_words: ClassVar[tuple[str, ...]] = (
        *("discarded", "composted", "binned", "chucked", "waste", "wasted", "dumped", "tossed"),
    )
    sayings = said(
        rf"""
        (?:threw|thrown|throw|tossed|chucked) (?P<kept2>[^,;]*?)(?:away|out
            |in the bin) :: -logs -tank
        (?:had to |have )?(?:binned|bin|chucked|tossed|dumped|composted|wasted?|threw|thrown
            |compost(?:ing)?|ditched|discarded|scrapped|slung out
            |tipped(?: out)?|got rid of|writ(?:e|ten|ing) off|wrote off|(?:gone|went) (?:off
            |bad)|spoil(?:ed|t)(?! by\b)) :: weight -tank
        lost :: weight cold -stack
        (?P<kept5>stolen|nicked) :: weight
        (?<!.)(?P<kept4>ate|dried(?! (?:out|up)\b)) :: weight
        (?P<kept8>{WAS_GIVEN})(?=[^,;]*\d) :: weight -logs -tank -outlet -money
        (?<!.)(?P<kept6>gave away|given away) :: weight -logs -seller -outlet -money
        (?<!{STACK} )(?P<kept7>{PASSED_ON})(?=[^,;]*\d) :: weight -logs -tank -outlet -money
        (?P<kept>gave away|given away|gave(?! (?:us|me)\b)|ate|eaten
            |dried) :: weight -stack -logs -seller -outlet
        (?:(?:went|gone|goes|fed|given|gave|thrown|threw) )?(?:in|on|to|into
            |for) the (?P<kept3>bin|compost(?: heap)?|trash|rubbish|hens|chickens|pigs|goats|ducks
            |dog) :: weight -outlet
        """
    )
    unless = ("logs", "tank")
    is_paid: ClassVar[bool] = False
    needs = ("kg",)
    weight_above_zero = True
    says_source = True
    cold_store = "out"

    def read(self, given: Given) -> Event:
        phrase = given.phrase
        note, reason = phrase.take_note(), _TOO_BAD.search(phrase.text)
        if (outlet := given.known_outlet()) and reason and not self.is_paid:
            note, outlet = noted(outlet, note), ""
        stack, picked_on = "", given.picked_on()
        note = noted(phrase.take(_PACKS) if WEIGHT.search(phrase.text) else None, note)
        label = phrase.take(_LABEL)
        if label:
            stack, picked_on = given.guess(label[1]), parse_day(label[2], given.today)
        on = given.day()
        phrase.take_words(_COLD)
        if phrase.take_logs(bare=False) is not None:
            raise InputError("Logs that go are retired: write 'retire A 3 logs'.")
        money = [found[0].strip() for found in iter(lambda: phrase.take(MONEY), None)]
        cause = self.why(phrase)
        if len(money) > 1:  # 'at 1130 for $30': the hour of the sale is no price
            money = [each for each in money if not _HOUR_OF_SALE.fullmatch(each)]
        if self.is_paid and not money and WEIGHT.search(phrase.text):
            money = [f[0] for f in iter(lambda: phrase.take(_PRICE), None)]
        if money and (each := _EACH.search(phrase.text)):
            raise InputError(f"'{each[0]}': what was paid for all of it? Write it like '$24'.")
        written = phrase.text
        kg = given.weight()
        if not self.is_paid and (more := WEIGHT.search(phrase.text)):
            raise InputError(
                f"'{more[1].strip()}' too: how much of it is of each? Write one record for each, "
                "like 'gave away 8 oz|250 g from A'."
            )
        paid = _paid(money, kg, written, phrase.given) if self.is_paid else None
        if paid is None and money and self.is_paid:
            raise InputError(
                f"'{' '.join(money)}': what was paid for all of it? Write it like '$24'."
            )
        if money and paid is None:
            note = noted(" ".join(money), note)
        source = phrase.take(_SOURCE)
        if source:
            rest = Phrase(re.sub(r"^(?:the )?stack ", "", source[1], flags=re.IGNORECASE))
            stack = rest.take_name(given.stacks, at_start=True) or ""
            if stack:
                phrase.text = f"{phrase.text} {rest.text}".strip()
            elif re.match(r"(?:stack\s+)?(?-i:[A-Z0-9])", source[1]):
                stack = given.guess(source[1])
            else:  # 'of slimy ones'
                phrase.text = f"{phrase.text} {source[1]}".strip()
        stack = stack or given.stack_anywhere()
        outlet, note = self.what_is_left(given, outlet, note)
        return Event(
            self.name,
            on,
            stack,
            kg=kg,
            picked_on=picked_on,
            outlet=outlet,
            paid=paid,
            cause=cause,
            note=note,
        )

    def why(self, phrase: Phrase) -> str:
        """Take why it was thrown away."""
        return take_cause(phrase)

    def what_is_left(self, given: Given, outlet: str, note: str) -> tuple[str, str]:
        """Return outlet and note with what the words left over say."""
        written = given.phrase.text.strip(" ,")
        rest = given.rest_as_note(note)
        return outlet, written if written.lower() == "gave" and not rest else rest

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        if rest := _THE_REST.search(event.note):
            return impossible(
                f"'{rest[0]}': how much was that? Write each with its weight, like 'ate "
                "14 oz|400 g' and 'dried 2 lb|900 g'"
            )
        there = None if limits.on_hand is None else limits.on_hand(event.on)
        if there is None or (event.kg or 0.0) <= there + limits.numbers.diary.weighing_slack:
            return []
        say = limits.say
        return question(
            f"{say.weight(event.kg)}, and by the diary {say.weight(there)} were on hand on "
            f"{say.day(event.on)}. Is a pick missing, or the weight wrong?"
        )

    def deed(self, event: Event, say: Say) -> str:
        use = None if self.is_paid else put_to_use(event)[0]
        return f"{use.capitalize()}: {say.weight(event.kg)}" if use else super().deed(event, say)

    def note_told(self, event: Event) -> str:
        return event.note if self.is_paid else put_to_use(event)[1]


def _paid(money: list[str], kg: float, weight: str, words: str) -> float | None:
    """Return what was paid; a price beside the sum that it comes to is told twice."""
    whole = len(money) == 1 and _IN_ALL.search(words) is not None
    sums = [paid_in(each, kg, weight, whole=whole) for each in money]
    if not sums or sums[0] is None or any(other is None for other in sums):
        return None
    told = [each for each in sums if each is not None]
    return told[-1] if max(told) - min(told) <= 0.01 * max(told) else None


_HOUR_OF_SALE = pattern_of(r"(?:at|@)\s*(?:0\d|1\d|2[0-3])[0-5]\d")
_IN_ALL = pattern_of(r"\d (?:for )?(?:the (?:whole )?lot|in all|altogether)\b")


class Sold(Discard):
    """Mushrooms sold."""

    how_to = "Write it like 'sold 5 lb Saturday market' or 'sold 2 kg to Inn from A'"
    done = "Sold {kg}"
    other_words = ("sell", "sale", "sales", "selling", "delivered")
    is_paid = True
    sayings = said(
        r"""
        sold
        delivered|selling|sale|flogged :: weight
        (?P<kept5>invoiced?)|wholesale|billed|charged :: weight outlet money -stack
        (?:(?:'s )?order(?: of)?)?(?= .*\bwent out\b)|went out :: weight outlet -stack
        gave :: weight outlet money -stack
        (?:ran|drove|walked|cycled|popped|sent|posted|lugged|hauled|carted
            |wheeled)(?: (?P<kept>.*?)\s(?:down|over|round|across|up)(?= (?:to|on)\b))?
            |dropped off|dropped|shipped|supplied|let|brought(?! back)|carried
            |took(?!\s*[$€£]?\d+(?:[.,]\d+)?\s*$)|handed over|(?:went|gone
            |going) to :: weight outlet -stack -seller
        """
    )
    maybe = (
        Saying(
            "took|bought|had|got|purchased|collected|picked up|(?P<kept>paid)",
            "weight seller -stack",
        ),
        Saying("(?P<kept2>paid)", "weight seller money"),
        Saying("did|made|moved|shifted|took", "weight outlet -stack -tank"),
    )
    for_outlet = "to"
    form = Form("Sold", ("weight", "paid", "outlet"), stack=False, selling=True)

    def why(self, phrase: Phrase) -> str:
        """Return nothing: what is sold needs no reason."""
        return ""

    def what_is_left(self, given: Given, outlet: str, note: str) -> tuple[str, str]:
        """See `Discard.what_is_left`; here it is a buyer."""
        grade = given.phrase.take(_GRADE)
        note = noted(grade and grade[0].lower(), note)
        outlet = outlet or given.other_outlet()
        if given.outlets and not outlet:
            given.questions.append("To whom? It would be recorded without an outlet.")
        return outlet, note

    def objections(self, event: Event, limits: Limits) -> list[Objection]:
        found = super().objections(event, limits)
        before = limits.prices.get(event.outlet)
        if before and event.paid and event.kg:
            times = event.paid / event.kg / before
            if times >= limits.numbers.diary.odd_price:
                say = limits.say
                found += question(
                    f"{say.price(event.paid / event.kg)} is {times:.0f} times the most that "
                    f"{event.outlet or 'anybody'} has paid, {say.price(before)}. Is it right?"
                )
        return found
