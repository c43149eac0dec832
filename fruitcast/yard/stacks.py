"""Reads stacks.csv: one row a stack, every fault with its line; what names of trees mean."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import date
from difflib import get_close_matches
from typing import Any

from fruitcast.numbers import Numbers
from fruitcast.tables.faults import FaultsFound
from fruitcast.tables.sheet import SheetRow, read_sheet, too_many_cells
from fruitcast.tables.values import (
    WrongValueError,
    cell_number,
    choice,
    count,
    date_or_year,
    iso_date,
    name,
    number,
    shown,
    text,
)
from fruitcast.topics import OTHER_TREE, SPAWN_FORMS, STAND_INS, STRAIN_CLASSES, LogNumbers
from fruitcast.units import keys_of, si_from_key
from fruitcast.yard.model import SEPARATOR, Stack

# Names of trees: known ones, those that others stand in for, unknown and misspelt ones.

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


def meant_tree(tree: str, known: Collection[str]) -> str | None:
    """Return the known tree that a misspelt name is nearest to; None when it is well spelt.

    A name is misspelt when one of its words is no word of a tree's name, but one letter away
    from one, or two in a long word. A name of other words, such as a botanical one, is unknown
    and no slip.
    """
    words = tree.casefold().replace("-", " ").split()
    mended = [_mended(word) for word in words]
    if tree in known or tree in STAND_INS or mended == words:
        return None
    names = sorted({*known, *STAND_INS})
    right = " ".join(mended)
    return right if right in names else get_close_matches(right, names, n=1, cutoff=0.0)[0]


# Kept to names that mean a conifer wherever they are used; what a forester calls it in Latin and
# what it is called in German are written too.
_NAMES_OF_CONIFERS = """
arborvitae cedar conifer cryptomeria cypress fir hemlock hinoki juniper kauri larch pine redcedar
redwood sequoia softwood spruce sugi tamarack thuja yew
douglasie eibe fichte föhre kiefer lärche tanne thuje wacholder zeder zypresse
abies cedrus chamaecyparis cupressus juniperus larix metasequoia picea pinus pseudotsuga
sequoiadendron taxodium taxus tsuga
"""

_CONIFERS = frozenset(_NAMES_OF_CONIFERS.split())

_OF_CONIFERS = ("douglasie", "fichte", "kiefer", "lärche", "tanne", "wacholder")
"""What a German name in one word ends with: Waldkiefer, Weißtanne."""

_DOUBTFUL = re.compile(
    r"(?:spanish|cigar box|honduras|mexican|west indian|australian(?: red)?|chinese|pink|white)"
    r" cedar|(?:andaman|brazilian|indian) redwood|screw pine"
)
"""Names of hardwoods, or of a hardwood in one country and a conifer in another."""

_NOT_THE_NAME = frozenset(("tree", "trees", "wood", "log", "logs"))


def is_conifer(tree: str) -> bool:
    """Return whether a tree's name is surely that of a conifer, on which shiitake isn't grown.

    The last word tells what a tree is: 'Norway spruce', but 'sweetgum', 'tulip tree', 'she-oak'.
    """
    words = re.findall(r"\w+", re.split(r"[,;(/]", tree.casefold())[0])
    while words and words[-1] in _NOT_THE_NAME:
        del words[-1]
    if not words or _DOUBTFUL.fullmatch(" ".join(words)):
        return False
    ends = {words[-1], _mended(words[-1].removesuffix("s"))}
    genus_first = words[0] in _CONIFERS and words[0] not in _WORDS
    return bool(ends & _CONIFERS) or genus_first or words[-1].endswith(_OF_CONIFERS)


def tree_fault(tree: str, known: Collection[str]) -> tuple[str, str] | None:
    """Return what is wrong with a tree's name and what to do; None when it can be planned with."""
    if tree not in known and is_conifer(tree):
        return (
            f"tree {shown(tree)} is a conifer, and shiitake is grown on hardwoods",
            "Leave these logs out. If it is a hardwood after all, write its own name, like 'red "
            f"oak', or '{OTHER_TREE}'.",
        )
    if meant := meant_tree(tree, known):
        return (
            f"tree {shown(tree)} is misspelt",
            f"The nearest known one is '{meant}'. A tree that the model does not know is written "
            f"as '{OTHER_TREE}'.",
        )
    return None


def tree_notes(trees: Iterable[str], known: Collection[str]) -> tuple[str, ...]:
    """Return one note on all trees that go by the values of another, if there are any."""
    parts: dict[str, list[str]] = {}
    for tree in dict.fromkeys(trees):
        if tree in known or tree == OTHER_TREE:
            continue
        parts.setdefault(STAND_INS.get(tree, OTHER_TREE), []).append(tree)
    if not parts:
        return ()
    told = "; ".join(f"{', '.join(names)} by {own}" for own, names in parts.items())
    return (f"Trees that go by the values of another: {told}.",)


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


# Reads stacks.csv: one row a stack, every fault with its line and stack.

FILE = "stacks.csv"

REQUIRED = (
    ("stack",),
    ("strain_class",),
    ("tree",),
    ("logs",),
    keys_of("diameter"),
    keys_of("length"),
    ("inoculated",),
    ("spawn",),
)
OPTIONAL = ("strain", "bearing_since", "note")

MOST_LOGS = 100_000
_TOTAL = re.compile(r"(?:grand |sub)?totals?(?: logs)?:?|sum:?|all(?: stacks| logs)?:?|")


POSSIBLE = {"diameter": (0.02, 1.0), "length": (0.1, 5.0)}
"""Least and most that a log can have. [m]"""

_USUAL = {"diameter": "8 to 20 cm (3 to 8 in)", "length": "90 to 120 cm (35 to 47 in)"}
"""What it has by common practice."""


def parse_stacks(
    content: str, numbers: Numbers, today: date | None = None
) -> tuple[tuple[Stack, ...], FaultsFound]:
    """Return the stacks that could be read, and all that was found on the way.

    By the tree species that the numbers know and the sizes they doubt. Stacks inoculated after
    `today` are warned of; None warns of none.
    """
    found = FaultsFound()
    rows = list(read_sheet(content, FILE, REQUIRED, OPTIONAL, found))
    total = rows.pop() if rows and is_total(rows[-1]) else None
    stacks: list[Stack] = []
    lines: dict[str, int] = {}
    for row in rows:
        reader = _RowReader(row, found, numbers)
        stack = reader.read()
        _check_twice(reader, lines)
        if stack is None:
            continue
        stacks.append(stack)
        if today is not None and stack.inoculated > today:
            found.warn(
                reader.place,
                f"inoculated on {stack.inoculated}, still to come; planned as if it will be done.",
            )
        if today is not None and stack.bearing_since and stack.bearing_since > today:
            found.warn(
                reader.place,
                f"bearing_since {stack.bearing_since} is still to come; until then its spawn run "
                "is reckoned as without it.",
            )
    check_classes(stacks, found)
    if total is not None:
        _check_total(total, stacks, found)
    if not rows and not found.faults:
        found.fault(FILE, "names no stack", "Add one row for each stack.")
    return tuple(stacks), found


class _RowReader:
    """One row of stacks.csv, checked cell by cell; faults go to the findings."""

    def __init__(self, row: SheetRow, found: FaultsFound, numbers: Numbers) -> None:
        self._row = row
        self._log, self._trees = numbers.log, numbers.trees
        self._found = found
        self.name = " ".join(row.cells.get("stack", "").split())
        self.line = row.line
        self.place = f"{FILE} line {row.line}"
        if self.name:
            self.place += f", stack {shown(self.name)[1:-1]}"

    def fault(self, problem: str, remedy: str) -> None:
        """Note a fault of this row."""
        self._found.fault(self.place, problem, remedy)

    def read(self) -> Stack | None:
        """Return the stack, None when a cell is at fault or a column missing."""
        before = len(self._found.faults)
        stack = None if any(self._row.surplus) else self._read_cells()
        if stack is None and self._row.surplus:
            # Its cells have shifted, so what was found in them says nothing.
            del self._found.faults[before:]
            too_many_cells(self.place, self._found)
        return stack

    def _read_cells(self) -> Stack | None:
        if is_total(self._row):
            self.fault("looks like a row of totals", "Delete it; only the last row may be one.")
            return None
        cells: dict[str, Any] = {
            "name": self._cell("stack", _stack_name),
            "strain_class": self._cell("strain_class", lambda cell: choice(cell, STRAIN_CLASSES)),
            "strain": self._cell("strain", text, default=""),
            "tree": self._cell("tree", lambda cell: name(cell).lower(), default=OTHER_TREE),
            "logs": self._cell("logs", lambda cell: count(cell_number(cell), 1, MOST_LOGS, "logs")),
            "diameter": self._size("diameter", self._log),
            "length": self._size("length", self._log),
            "inoculated": self._cell("inoculated", iso_date),
            "spawn": self._cell("spawn", lambda cell: choice(cell, SPAWN_FORMS)),
            "note": self._cell("note", text, default=""),
        }
        if "tree" in self._row.cells and cells["tree"] is not None:
            self._check_tree(cells["tree"])
        since, sound = self._bearing_since(cells["inoculated"])
        if not sound or None in cells.values():
            return None
        return Stack(**cells, bearing_since=since)

    def _bearing_since(self, inoculated: date | None) -> tuple[date | None, bool]:
        """Return the day of the first mushrooms, None when not given, and whether it is sound."""
        if not self._row.cells.get("bearing_since"):
            return None, True
        given = self._cell("bearing_since", date_or_year)
        if not isinstance(given, tuple):
            return None, False
        since, year_alone = given
        if inoculated is None:
            return None, True
        if year_alone and since.year == inoculated.year:
            return inoculated, True
        if since < inoculated:
            self.fault(
                f"bearing_since {since} lies before the inoculation on {inoculated}",
                "Correct the one that is wrong: no log bears before it is inoculated.",
            )
            return None, False
        return since, True

    def _cell(
        self, column: str, check: Callable[[str], object], default: str | None = None
    ) -> object:
        """Return a checked cell; None when it is at fault or its column is missing."""
        cell = self._row.cells.get(column)
        if cell is None or (not cell and default is not None):
            return default
        try:
            if not cell:
                raise WrongValueError("is empty", "Fill it in.")
            return check(cell)
        except WrongValueError as error:
            self.fault(f"{column} {error.problem}", error.remedy)
            return None

    def _size(self, quantity: str, log: LogNumbers) -> float | None:
        """Return a log's diameter or length. [m]"""
        present = [key for key in keys_of(quantity) if key in self._row.cells]
        given = [key for key in present if self._row.cells[key]]
        if len(given) > 1:
            self.fault(f"gives both {' and '.join(given)}", "Keep one of them.")
            return None
        if not present:
            return None
        key = (given or present)[0]
        factor = si_from_key(key, 1.0)
        low, high = (round(metres / factor, 1) for metres in POSSIBLE[quantity])

        def check(cell: str) -> float:
            given = cell_number(cell)
            try:
                return number(given, low, high, key.rpartition("_")[2])
            except WrongValueError as error:
                hint = _millimetres(quantity, given, key, log)
                raise WrongValueError(error.problem, f"{error.remedy}{hint}") from error

        value = self._cell(key, check)
        if not isinstance(value, float):
            return None
        self._check_size(quantity, key, value, log)
        return value * factor

    def _check_size(self, quantity: str, key: str, value: float, log: LogNumbers) -> None:
        """Warn of a size that is possible but odd, with what it would be in the other unit."""
        low, high = log.usual(quantity)
        if low <= si_from_key(key, value) <= high:
            return
        other = next(known for known in keys_of(quantity) if known != key)
        doubt = f"{key} {value:g} is unusual for a log; {_USUAL[quantity]} is the rule."
        if low <= si_from_key(other, value) <= high:
            unit = "inches" if other.endswith("_in") else "centimetres"
            doubt += f" Are these {unit}? Then the column is {other}."
        else:
            doubt += _millimetres(quantity, value, key, log)
        self._found.warn(self.place, doubt)

    def _check_tree(self, tree: str) -> None:
        if not self._row.cells["tree"]:
            self._found.warn(self.place, f"no tree is given; it is reckoned as {OTHER_TREE}.")
        elif fault := tree_fault(tree, self._trees):
            self.fault(*fault)


def _millimetres(quantity: str, value: object, key: str, log: LogNumbers) -> str:
    """Return a hint when a size would be a log's if it were in millimetres."""
    if not isinstance(value, int | float):
        return ""
    low, high = log.usual(quantity)
    if not low <= value / 1000.0 <= high:
        return ""
    right = value / 1000.0 / si_from_key(key, 1.0)
    return f" Are these millimetres? Then it is {right:.3g} under {key}."


def check_classes(stacks: Sequence[Stack], found: FaultsFound) -> None:
    """Warn of a strain that goes by two classes, and of a name that speaks of another class."""
    classes: dict[str, dict[str, str]] = {}
    for stack in stacks:
        strain = " ".join(stack.strain.casefold().replace("-", " ").split())
        if not strain:
            continue
        classes.setdefault(strain, {}).setdefault(stack.strain_class, stack.name)
        named = [c for c in STRAIN_CLASSES if c.replace("-", " ") in strain]
        if named and stack.strain_class not in named:
            found.warn(
                f"{FILE}, stack {stack.name}",
                f"strain {shown(stack.strain)} speaks of {named[0]}, but its strain_class is "
                f"{stack.strain_class}. Correct the one that is wrong.",
            )
    for names in classes.values():
        if len(names) > 1:
            parts = " and ".join(f"{c} (stack {name})" for c, name in names.items())
            strain = next(s.strain for s in stacks if s.name in names.values())
            found.warn(
                FILE,
                f"strain {shown(strain)} stands under two classes: {parts}. A strain is of one; "
                "the spawn maker's label says which.",
            )


def _stack_name(cell: str) -> str:
    stack = name(cell)
    if SEPARATOR in stack:
        raise WrongValueError(
            f"{shown(stack)} holds '{SEPARATOR}', which is kept for lots",
            f"Write it like {shown(stack.replace(SEPARATOR, '-'))[1:-1]}.",
        )
    return stack


def _check_twice(reader: _RowReader, lines: dict[str, int]) -> None:
    """Note a stack whose name stands further up already."""
    key = reader.name.casefold()
    if not key:
        return
    if key in lines:
        reader.fault(
            f"this name stands in line {lines[key]} already",
            "Give each stack a name of its own; small and capital letters count as the same.",
        )
    lines.setdefault(key, reader.line)


def is_total(row: SheetRow) -> bool:
    """Return whether a row sums up others: no stack of its own, but a number of logs."""
    others = ("strain_class", "tree", "inoculated", "spawn")
    return (
        _TOTAL.fullmatch(row.cells.get("stack", "").casefold()) is not None
        and bool(row.cells.get("logs"))
        and not any(row.cells.get(column) for column in others)
    )


def _check_total(row: SheetRow, stacks: list[Stack], found: FaultsFound) -> None:
    """Say that the last row was taken as totals, and whether its logs add up."""
    said = row.cells["logs"]
    logs = sum(stack.logs for stack in stacks)
    try:
        agrees = cell_number(said) == logs
    except WrongValueError:
        agrees = False
    doubt = "" if agrees else f" It says {shown(said)} logs; the rows above add up to {logs}."
    found.warn(f"{FILE} line {row.line}", f"taken as a row of totals and left out.{doubt}")
