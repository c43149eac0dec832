"""Small damages to a module: every one that could be made, and a seeded choice of them."""

from __future__ import annotations

import ast
import copy
import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import fruitcast

FOLDER = Path(fruitcast.__file__).parent
PACKAGES = ("biology", "soaks", "inoculation", "hindcast")

COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
"""A comparison, and what it becomes: first the boundary moved, then the sense turned round."""

REPLACED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}

OPPOSITE = {
    "min": "max",
    "minimum": "maximum",
    "any": "all",
    "floor": "ceil",
    "argmin": "argmax",
    "cumsum": "cumprod",
}
OPPOSITE |= {there: here for here, there in OPPOSITE.items()}
"""Names of functions that are swapped when called."""


@dataclass(frozen=True)
class Place:
    """What one damage is: node number `node` of the module's tree, changed in way `way`.

    `first` and `last` are the lines of the statement it stands in; `function` says whether it runs
    when a function is called, rather than when the module is imported. `mark` names it by module,
    function, statement and change, so that it stays the same while other lines change.
    """

    path: Path
    node: int
    way: int
    kind: str
    line: int
    first: int
    last: int
    function: bool
    mark: str

    @property
    def module(self) -> str:
        parts = self.path.relative_to(FOLDER.parent).with_suffix("").parts
        return ".".join(parts)

    @property
    def package(self) -> str:
        return self.path.parent.name


def ways(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Every damage to one node: its kind, and the node that takes its place."""
    match node:
        case ast.Compare(ops=[op]):
            for number, other in enumerate(COMPARED[type(op)]):
                kind = "boundary" if number == 0 and len(COMPARED[type(op)]) == 2 else "comparison"
                yield kind, ast.Compare(node.left, [other()], node.comparators)
        case ast.Constant(value=bool(value)):
            yield "truth", ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield "integer", ast.Constant(value + 1)
            if value > 0:
                yield "integer", ast.Constant(value - 1)
        case ast.Constant(value=float(value)):
            yield "float", ast.Constant(value * 1.1 if value else 1.0)
        case ast.BinOp(op=op) if type(op) in REPLACED and not is_text(node):
            yield "arithmetic", ast.BinOp(node.left, REPLACED[type(op)](), node.right)
        case ast.UnaryOp(op=ast.Not() | ast.Invert() | ast.USub()):
            yield "dropped sign or not", node.operand
        case ast.BoolOp(op=op):
            yield (
                "and, or",
                ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), node.values),
            )
        case ast.AugAssign():
            yield "deleted", ast.Pass()
            if type(node.op) in REPLACED and not is_text(node.value):
                yield (
                    "arithmetic",
                    ast.AugAssign(node.target, REPLACED[type(node.op)](), node.value),
                )
        case ast.Call(func=ast.Name(id=name)) if name in OPPOSITE:
            yield (
                "opposite",
                ast.Call(ast.Name(OPPOSITE[name], ast.Load()), node.args, node.keywords),
            )
        case ast.Call(func=ast.Attribute(attr=name)) if name in OPPOSITE:
            func = ast.Attribute(node.func.value, OPPOSITE[name], ast.Load())
            yield "opposite", ast.Call(func, node.args, node.keywords)
        case ast.Break():
            yield "loop", ast.Continue()
        case ast.Continue():
            yield "loop", ast.Break()
        case ast.If(test=ast.Name() | ast.Attribute() | ast.Call()):
            turned = ast.UnaryOp(ast.Not(), node.test)
            yield "turned condition", ast.If(turned, node.body, node.orelse)
        case ast.IfExp(test=ast.Name() | ast.Attribute() | ast.Call()):
            turned = ast.UnaryOp(ast.Not(), node.test)
            yield "turned condition", ast.IfExp(turned, node.body, node.orelse)
        case ast.Return(value=ast.expr()) if hasattr(node, "scalar"):
            for constant in {"bool": (True, False), "int": (0,), "float": (0.0,)}[node.scalar]:
                if not (isinstance(node.value, ast.Constant) and node.value.value == constant):
                    yield "returned constant", ast.Return(ast.Constant(constant))


def is_text(node: ast.AST) -> bool:
    """Whether a text or a list takes part: its sum has no other operator to become."""
    kinds = (ast.JoinedStr, ast.List, ast.Tuple, ast.ListComp)
    return any(
        isinstance(part, kinds) or (isinstance(part, ast.Constant) and isinstance(part.value, str))
        for part in (node, getattr(node, "left", None), getattr(node, "right", None))
    )


def worked(node: ast.AST) -> Iterator[ast.AST]:
    """The parts of a node that do work: no type hints, decorators, messages or texts."""
    match node:
        case ast.Raise() | ast.JoinedStr() | ast.Import() | ast.ImportFrom() | ast.Assert():
            return
        case ast.AnnAssign():
            parts: list[ast.AST | None] = [node.target, node.value]
        case ast.FunctionDef():
            defaults = [*node.args.defaults, *node.args.kw_defaults]
            parts = [*defaults, *node.body]
        case ast.ClassDef():
            parts = list(node.body)
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            parts = list(node.orelse)
        case ast.Call(func=ast.Name(id=name)) if name.endswith(("Error", "Fault", "Warning")):
            return
        case _:
            parts = list(ast.iter_child_nodes(node))
    yield from (part for part in parts if part is not None)


@lru_cache
def places(path: Path) -> tuple[Place, ...]:
    """Every damage that could be made to a module, in the order of its text."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    numbers = {id(node): number for number, node in enumerate(ast.walk(tree))}
    mark_returns(tree)
    found: list[Place] = []
    times: Counter[str] = Counter()
    home = f"{path.parent.name}/{path.name}"

    def visit(
        node: ast.AST, first: int, last: int, function: bool, scope: str, statement: str
    ) -> None:
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None)
            first, last = node.lineno, node.end_lineno or node.lineno
            statement = ast.unparse(node)
            if isinstance(body, list) and body:
                last = max(first, body[0].lineno - 1)
                statement = statement.partition("\n")[0]
        for way, (kind, _) in enumerate(ways(node)):
            line = getattr(node, "lineno", first)
            mark = f"{home} {scope} {statement} {ast.unparse(node)} {kind} {way}"
            times[mark] += 1
            mark = f"{mark} {times[mark]}"
            found.append(
                Place(path, numbers[id(node)], way, kind, line, first, last, function, mark)
            )
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            scope = f"{scope}.{node.name}"
        inside = set(map(id, node.body)) if isinstance(node, ast.FunctionDef) else set()
        for part in worked(node):
            visit(part, first, last, function or id(part) in inside, scope, statement)

    visit(tree, 1, 1, False, "", "")
    return tuple(found)


def mark_returns(tree: ast.AST) -> None:
    """Write on each return what scalar its function gives, if it gives one."""
    for function in ast.walk(tree):
        match function:
            case ast.FunctionDef(returns=ast.Name(id="bool" | "int" | "float" as scalar)):
                for node in ast.walk(function):
                    if isinstance(node, ast.Return):
                        node.scalar = scalar  # type: ignore[attr-defined]


def damaged(place: Place) -> tuple[ast.Module, str]:
    """Return the module's tree with the damage in it, and the words 'before -> after'."""
    tree = ast.parse(place.path.read_text(encoding="utf-8"))
    mark_returns(tree)
    target = list(ast.walk(tree))[place.node]
    new = list(ways(target))[place.way][1]
    words = f"{shown(target)} -> {shown(new)}"
    tree = Replacing(target, new).visit(tree)
    return ast.fix_missing_locations(tree), words


def shown(node: ast.AST) -> str:
    """The first line of a node's text."""
    text = ast.unparse(ast.fix_missing_locations(copy.deepcopy(node))).splitlines()[0]
    return text if len(text) <= 90 else text[:87] + "..."


class Replacing(ast.NodeTransformer):
    """Put one node in the place of another."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        if node is self.old:
            return ast.copy_location(self.new, node)
        return super().visit(node)


def chosen(number: int, seed: int) -> list[Place]:
    """Choose damages by chance, for each package as many as its share of the lines.

    Each has a place in the queue of its own (a hash of the seed and its mark), so that a change to
    one function leaves the choice in all others as it was, but for a few at the end of the queue.
    """

    def turn(place: Place) -> bytes:
        return hashlib.sha256(f"{seed} {place.mark}".encode()).digest()

    files = {name: sorted((FOLDER / name).glob("*.py")) for name in PACKAGES}
    lines = {
        name: sum(len(path.read_text(encoding="utf-8").splitlines()) for path in paths)
        for name, paths in files.items()
    }
    total = sum(lines.values())
    wanted = {name: number * lines[name] // total for name in PACKAGES}
    wanted[PACKAGES[-1]] += number - sum(wanted.values())
    taken: list[Place] = []
    for name in PACKAGES:
        every = [place for path in files[name] for place in places(path)]
        taken += sorted(every, key=turn)[: wanted[name]]
    return taken
