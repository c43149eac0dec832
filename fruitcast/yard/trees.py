"""Names of trees: known ones, those that others stand in for, unknown and misspelt ones."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from difflib import get_close_matches

from fruitcast.topics import OTHER_TREE, STAND_INS

_NAMES = """
acacia alder apple ash ashleaf aspen bald bamboo basswood bay beech big bigleaf bigtooth birch
bitternut black blackgum blackjack blackthorn blue box boxelder buckeye bur butternut camphor
carolina catalpa cedar cherry chestnut chinese chinkapin chinquapin coast common copper cork
cottonwood crab crack cucumber cypress dogwood douglas downy dwarf eastern elder elm english
eucalyptus european evergreen field fig fir flowering gambel giant ginkgo goat golden grand gray
great green grey gum hackberry hard hardwood hawthorn hazel hazelnut hickory holly holm honey
hophornbeam hornbeam horse ironwood italian japanese judas juniper katsura keyaki konara korean
kunugi larch large laurel leaf leaved lime linden live loblolly locust lombardy london madrone
magnolia maple mixed mockernut mongolian mountain mulberry musclewood northern norway nut oak
olive orange oregon oriental osage other overcup pacific paper pear pecan pedunculate persian
persimmon pignut pin pine pink plane planetree plum poplar post pubescent purple quaking red
redbud river robinia rock rowan sallow sassafras sawtooth scarlet service serviceberry sessile
shagbark shingle shumard siberian silver sitka slippery small smooth soft sourwood southern
spanish spindle spruce striped sugar sumac swamp sweet sweetgum sycamore tan tanoak thorn tree
trembling tulip tuliptree tupelo turkey turner tuscan upland walnut water wattle weeping western
white whitebeam wild willow winged wych yellow yew
"""

_WORDS = frozenset(_NAMES.split())
"""Words of which names of trees are made, known to the model or not."""


def known_tree(tree: str, known: Collection[str]) -> bool:
    """Return whether a tree has values of its own, or a named stand-in's."""
    return tree in known or tree in STAND_INS


def meant_tree(tree: str, known: Collection[str]) -> str | None:
    """Return the known tree that a misspelt name is nearest to; None when it is well spelt.

    A name is misspelt when one of its words is no word of a tree's name, but one letter away
    from one, or two in a long word. A name of other words, such as a botanical one, is unknown
    and no slip.
    """
    words = tree.casefold().replace("-", " ").split()
    mended = [_mended(word) for word in words]
    if known_tree(tree, known) or mended == words:
        return None
    names = sorted({*known, *STAND_INS})
    right = " ".join(mended)
    return right if right in names else get_close_matches(right, names, n=1, cutoff=0.0)[0]


def tree_notes(trees: Iterable[str], known: Collection[str]) -> tuple[str, ...]:
    """Return one note on all trees that go by the values of another, if there are any."""
    parts: dict[str, list[str]] = {}
    for tree in dict.fromkeys(trees):
        if tree in known or tree == OTHER_TREE:
            continue
        parts.setdefault(STAND_INS.get(tree, OTHER_TREE), []).append(tree)
    if not parts:
        return ()
    told = "; ".join(f"{', '.join(names)} by those of {own}" for own, names in parts.items())
    return (f"Trees without values of their own are reckoned by others: {told}.",)


def _mended(word: str) -> str:
    if word in _WORDS or len(word) < 3:
        return word
    near = [
        other
        for other in sorted(_WORDS)
        if _slips(word, other) <= (1 if min(len(word), len(other)) < 7 else 2)
    ]
    return min(near, key=lambda other: (_slips(word, other), other)) if near else word


def _slips(one: str, other: str) -> int:
    """Return how many letters are wrong, missing, too many or exchanged with the next."""
    if abs(len(one) - len(other)) > 2:
        return 3
    before: list[int] = []
    last = list(range(len(other) + 1))
    for row, letter in enumerate(one, 1):
        this = [row]
        for column, there in enumerate(other, 1):
            cost = min(last[column] + 1, this[column - 1] + 1, last[column - 1] + (letter != there))
            turned = (
                row > 1 and column > 1 and letter == other[column - 2] and one[row - 2] == there
            )
            if turned:
                cost = min(cost, before[column - 2] + 1)
            this.append(cost)
        before, last = last, this
    return last[-1]
