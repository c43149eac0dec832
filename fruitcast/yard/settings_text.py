"""Edits the text of yard.toml: one statement changes, all others stay as the grower wrote them.

A text is parted into statements: a header, a key with its value, or a line of comment. Only the
one that is meant is written anew, by a library that keeps its layout and comments. What was
written is read again, and refused if it says anything else than what was meant.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from fruitcast.errors import InputError
from fruitcast.yard.keys import FILE

if TYPE_CHECKING:
    from tomlkit.items import InlineTable

Plain = str | int | float | bool | date
Value = Plain | list[str] | dict[str, float]
"""What a key of yard.toml may be given."""

Way = tuple[str | int, ...]
"""From the outermost table to a value: names, and the number of a repeated table from 0."""

_COMMENT = re.compile(
    r'"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|(#[^\n]*)', re.DOTALL
)


@dataclass(frozen=True)
class _Statement:
    """Some whole lines of the file."""

    text: str  # the lines, with their ends
    section: Way  # way of the table that it stands in; of a header, the table that begins
    header: bool  # whether it begins a table
    ways: tuple[Way, ...]  # ways from its section to all that it gives; none of a header or comment

    @property
    def blank(self) -> bool:
        """Whether it is an empty line."""
        return not self.text.strip()

    @property
    def gives(self) -> bool:
        """Whether it gives a value."""
        return bool(self.ways)


def set_value(text: str, way: Way, value: Value | None) -> str:
    """Return the text of yard.toml with one value set, or unset when it is None.

    A way is ('soaking', 'tank_logs'), ('name',) or ('outlet', 0, 'target_kg'). A line like
    '#years = 30' in its table is taken for the new one's place; a line that is unset becomes such
    a line. Raises InputError if the file is laid out so that this can't be done; it is to be
    changed by hand.
    """
    meant = {each: told for each, told in leaves(tomllib.loads(text)) if not _within(each, way)}
    if value is not None:
        meant |= {(*_flat(way), *_flat(rest)): told for rest, told in leaves(value)}
    ways: list[Callable[[], str]] = [lambda: _changed(text, way, value)]
    if value is not None:
        ways += [
            lambda: _taken_up(text, way, value),
            lambda: _added(text, way, value),
            lambda: _added_with_table(text, way, value),
        ]
    return _first_that_means(ways, meant, _by_hand(way, value))


def add_table(text: str, name: str, values: Mapping[str, Value]) -> str:
    """Return the text with one more [[name]], after those that are there.

    Raises InputError if the file is laid out so that this can't be done; it is to be changed by
    hand.
    """
    raw = tomllib.loads(text)
    there = raw.get(name, [])
    number = len(there) if isinstance(there, list) else 0
    meant = dict(leaves(raw)) | {(name, number, *rest): told for rest, told in leaves(dict(values))}
    block = _block(name, values)
    ways: Sequence[Callable[[], str]] = (
        lambda: _with_list(text, name, lambda rows: rows.append(_inline(values))),
        lambda: _with_block(text, name, block),
        lambda: f"{text.rstrip(chr(10))}\n\n{block}",
    )
    return _first_that_means(ways, meant, f"Add this by hand: {block.replace(chr(10), '; ')}")


def remove_table(text: str, name: str, number: int) -> str:
    """Return the text without one of the [[name]]; what it says in comments stays.

    Raises InputError if the file is laid out so that this can't be done; it is to be changed by
    hand.
    """
    raw = tomllib.loads(text)
    meant = {
        (way if way[0] != name or int(way[1]) < number else (name, int(way[1]) - 1, *way[2:])): told
        for way, told in leaves(raw)
        if way[:2] != (name, number)
    }
    ways: Sequence[Callable[[], str]] = (
        lambda: _without_block(text, name, number),
        lambda: _with_list(text, name, lambda rows: rows.pop(number)),
    )
    return _first_that_means(ways, meant, f"Take no. {number + 1} of [[{name}]] out by hand.")


def leaves(value: object, way: Way = ()) -> Iterator[tuple[Way, object]]:
    """Yield every single value of a table with its flat way: 'a.b' and {a: {b: ...}} are one."""
    if isinstance(value, dict):
        for key, part in value.items():
            yield from leaves(part, (*way, *_flat((key,))))
    elif isinstance(value, list) and value and all(isinstance(part, dict) for part in value):
        for number, part in enumerate(value):
            yield from leaves(part, (*way, number))
    else:
        yield way, value


def toml_words(value: Value) -> str:
    """Return a value as TOML writes it."""
    import tomlkit

    return (_inline(value) if isinstance(value, dict) else tomlkit.item(value)).as_string()


def _inline(values: Mapping[str, Value]) -> InlineTable:
    """Return a table that stands in one line."""
    import tomlkit

    table = tomlkit.inline_table()
    table.update(dict(values))
    return table


def _flat(way: Way) -> Way:
    return tuple(
        part for each in way for part in (each.split(".") if isinstance(each, str) else (each,))
    )


def _within(way: Way, outer: Way) -> bool:
    outer = _flat(outer)
    return _flat(way)[: len(outer)] == outer


class _NotThisWayError(Exception):
    """The file is not laid out so that a change can be made in this way."""


def _first_that_means(
    ways: Sequence[Callable[[], str]], meant: Mapping[Way, object], by_hand: str
) -> str:
    """Return the first text that reads back as it is meant."""
    for make in ways:
        try:
            new = make()
            if dict(leaves(tomllib.loads(new))) == meant:
                return new
        except (_NotThisWayError, tomllib.TOMLDecodeError):
            continue
    raise InputError(f"{FILE} is laid out so that this can't be changed here. {by_hand}")


def _by_hand(way: Way, value: Value | None) -> str:
    names = [str(part) for part in way if isinstance(part, str)]
    if value is None:
        return f"Take {names[-1]} out by hand."
    where = f" under [{'.'.join(names[:-1])}]" if names[:-1] else ""
    return f"Write this{where} by hand: {_key(names[-1])} = {toml_words(value)}"


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_words(name)


def _statements(text: str) -> list[_Statement]:
    lines = re.findall(r"[^\n]*\n|[^\n]+\Z", text)
    found: list[_Statement] = []
    section: Way = ()
    counted: dict[Way, int] = {}
    at = 0
    while at < len(lines):
        chunk, values, upto = _one(lines, at)
        at = upto
        if chunk.lstrip().startswith("["):
            names = _names(values)
            if chunk.lstrip().startswith("[["):
                counted[names] = counted.get(names, -1) + 1
                section = (*names, counted[names])
            else:
                section = names
            found.append(_Statement(chunk, section, True, ()))
        else:
            found.append(_Statement(chunk, section, False, tuple(_ways(values))))
    return found


def _one(lines: Sequence[str], at: int) -> tuple[str, dict[str, object], int]:
    """Return the statement that begins in a line, what it says, and where the next begins."""
    chunk = ""
    for end in range(at, len(lines)):
        chunk += lines[end]
        try:
            return chunk, tomllib.loads(chunk), end + 1
        except tomllib.TOMLDecodeError:
            continue
    raise _NotThisWayError


def _names(values: object) -> Way:
    """Return the way that a header's table, with nothing in it, shows."""
    names: list[str] = []
    while isinstance(values, dict) and values:
        name, values = next(iter(values.items()))
        names.append(name)
        if isinstance(values, list):
            break
    return tuple(names)


def _ways(value: object, way: Way = ()) -> Iterator[Way]:
    """Yield the ways to all tables and values in a statement, its outermost key first."""
    if way:
        yield way
    if isinstance(value, dict):
        for key, part in value.items():
            yield from _ways(part, (*way, key))
    elif isinstance(value, list) and value and all(isinstance(part, dict) for part in value):
        for number, part in enumerate(value):
            yield from _ways(part, (*way, number))


def _find(statements: Sequence[_Statement], way: Way) -> tuple[int, Way] | None:
    """Return the statement that gives a value, and the value's way within it."""
    wanted = _flat(way)
    for at, statement in enumerate(statements):
        for inner in statement.ways:
            if _flat((*statement.section, *inner)) == wanted:
                return at, inner
    return None


def _joined(statements: Sequence[_Statement]) -> str:
    return "".join(each.text for each in statements)


def _with_text(statements: Sequence[_Statement], at: int, text: str) -> str:
    return _joined([*statements[:at], replace(statements[at], text=text), *statements[at + 1 :]])


def _changed(text: str, way: Way, value: Value | None) -> str:
    """Change the statement that gives a value now."""
    statements = _statements(text)
    found = _find(statements, way)
    if found is None:
        raise _NotThisWayError
    at, inner = found
    old = statements[at].text
    if (
        value is None
        and len(statements[at].ways) == len(inner)
        and all(isinstance(part, str) for part in inner)
    ):
        return _with_text(statements, at, re.sub(r"(?m)^(?=.)", "#", old))
    return _with_text(statements, at, _rewritten(old, inner, value))


def _rewritten(statement: str, inner: Way, value: Value | None) -> str:
    """Return a statement with one value of it changed; a comment that got lost goes above it."""
    import tomlkit

    document = tomlkit.parse(statement)
    holder: object = document
    for part in inner[:-1]:
        holder = holder[part]  # type: ignore[index]
    if value is None:
        del holder[inner[-1]]  # type: ignore[attr-defined]
    else:
        held = _inline(value) if isinstance(value, dict) else value
        holder[inner[-1]] = held  # type: ignore[index]
    return _keeping_comments(statement, tomlkit.dumps(document))


def _comments(statement: str) -> list[str]:
    return [found[1].rstrip() for found in _COMMENT.finditer(statement) if found[1]]


def _keeping_comments(before: str, after: str) -> str:
    left = _comments(after)
    lost = []
    for comment in _comments(before):
        if comment in left:
            left.remove(comment)
        else:
            lost.append(f"{comment}\n")
    if after and not after.endswith("\n") and before.endswith("\n"):
        after += "\n"
    return "".join(lost) + after


def _taken_up(text: str, way: Way, value: Value) -> str:
    """Take the '#' from a line that shows the key as an example, and give it the value."""
    statements = _statements(text)
    section, key = way[:-1], str(way[-1])
    example = re.compile(rf"#[ \t]?(?P<line>{re.escape(_key(key))}[ \t]*=.*\n?)")
    for at, statement in enumerate(statements):
        found = example.fullmatch(statement.text)
        if statement.section == section and found:
            try:
                tomllib.loads(found["line"])
            except tomllib.TOMLDecodeError:
                continue
            return _with_text(statements, at, _rewritten(found["line"], (key,), value))
    raise _NotThisWayError


def _added(text: str, way: Way, value: Value) -> str:
    """Add a key to a table that is there."""
    statements = _statements(text)
    section, key = way[:-1], str(way[-1])
    line = f"{_key(key)} = {toml_words(value)}\n"
    own = _of_table(statements, section)
    if own or not section:
        return _inserted(statements, own[-1] + 1 if own else 0, line)
    found = _find(statements, section)
    if found is None:
        raise _NotThisWayError
    at, inner = found
    dotted = [n for n, each in enumerate(statements) if section in each.ways and len(each.ways) > 1]
    if dotted and "{" not in statements[dotted[-1]].text:
        name = ".".join(_key(str(part)) for part in section)
        return _inserted(statements, dotted[-1] + 1, f"{name}.{line}")
    return _with_text(statements, at, _rewritten(statements[at].text, (*inner, key), value))


def _of_table(statements: Sequence[_Statement], section: Way) -> list[int]:
    """Return the statements of a table: its header, and what gives its values."""
    of = [at for at, each in enumerate(statements) if each.section == section]
    return [at for at in of if statements[at].header or statements[at].gives]


def _inserted(statements: Sequence[_Statement], at: int, lines: str) -> str:
    """Return the text with lines put before a statement."""
    head = _joined(statements[:at])
    if head and not head.endswith("\n"):
        head += "\n"
    return head + lines + _joined(statements[at:])


def _added_with_table(text: str, way: Way, value: Value) -> str:
    """Add a key with its table: where the file shows the table as an example, else at the end."""
    if len(way) < 2:
        raise _NotThisWayError
    names = [_key(str(part)) for part in way[:-1]]
    header = f"[{'.'.join(names)}]"
    statements = _statements(text)
    for at, statement in enumerate(statements):
        if re.fullmatch(rf"#[ \t]?{re.escape(header)}[ \t]*\n?", statement.text):
            below = statements[at + 1 :]
            upto = next((n for n, each in enumerate(below) if each.header), len(below))
            if not any(each.gives for each in below[:upto]):
                opened = _with_text(statements, at, f"{header}\n")
                try:
                    return _taken_up(opened, way, value)
                except _NotThisWayError:
                    return _added(opened, way, value)
    line = f"{_key(str(way[-1]))} = {toml_words(value)}\n"
    return text.rstrip("\n") + f"\n\n{header}\n{line}"


def _block(name: str, values: Mapping[str, Value]) -> str:
    lines = [f"{_key(key)} = {toml_words(value)}" for key, value in values.items()]
    return "\n".join([f"[[{name}]]", *lines, ""])


def _with_block(text: str, name: str, block: str) -> str:
    """Put a table after the last of its name, or after the lines that show one as an example."""
    statements = _statements(text)
    own = [
        at
        for at, each in enumerate(statements)
        if each.section[:1] == (name,) and len(each.section) == 2 and (each.header or each.gives)
    ]
    if not own:
        shown = re.compile(rf"#[ \t]?\[\[{name}\]\][ \t]*\n?")
        own = [at for at, each in enumerate(statements) if shown.fullmatch(each.text)]
    if not own:
        raise _NotThisWayError
    at = own[-1] + 1
    while at < len(statements) and statements[at].text.lstrip().startswith("#"):
        at += 1
    after = "" if at == len(statements) or statements[at].blank else "\n"
    return _inserted(statements, at, f"\n{block}{after}")


def _without_block(text: str, name: str, number: int) -> str:
    statements = _statements(text)
    own = _of_table(statements, (name, number))
    if not own:
        raise _NotThisWayError
    kept = [
        replace(each, text="".join(f"{comment}\n" for comment in _comments(each.text)))
        if at in own
        else each
        for at, each in enumerate(statements)
    ]
    first = own[0]
    if first and statements[first - 1].blank and not kept[first].text:
        kept[first - 1] = replace(kept[first - 1], text="")
    return _joined(kept)


def _with_list(text: str, name: str, change: Callable[[list[object]], object]) -> str:
    """Change the tables of a name where they stand in a list: name = [{...}, {...}]."""
    import tomlkit

    statements = _statements(text)
    found = _find(statements, (name,))
    if found is None or found[1] != (name,):
        raise _NotThisWayError
    old = statements[found[0]].text
    document = tomlkit.parse(old)
    change(document[name])
    new = _keeping_comments(old, tomlkit.dumps(document))
    return _with_text(statements, found[0], new)
