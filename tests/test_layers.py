"""The layout shows the way of the data: a module imports only from above itself."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "fruitcast"

# Each layer may import itself, the base and the layers named.
BELOW: dict[str, set[str]] = {
    "tables": set(),
    "weather": {"tables"},
    "yard": {"tables"},
    "diary": {"tables", "yard"},
    "biology": set(),
    "forecast": {"weather", "yard", "diary", "biology"},
    "soaks": {"weather", "yard", "diary", "biology", "forecast"},
    "inoculation": {"weather", "yard", "diary", "biology", "forecast", "soaks"},
    "hindcast": {"weather", "yard", "diary", "biology", "forecast", "soaks"},
    "outputs": {
        "weather",
        "yard",
        "diary",
        "biology",
        "forecast",
        "soaks",
        "inoculation",
        "hindcast",
        "group",
    },
    "app": {
        "tables",
        "weather",
        "yard",
        "diary",
        "biology",
        "forecast",
        "soaks",
        "inoculation",
        "hindcast",
        "outputs",
        "group",
    },
    # The command line knows of the page only that it can be started.
    "cli": {"app", "outputs", "diary", "yard", "weather", "tables", "web", "group"},
    "web": {"app", "outputs", "diary", "yard", "weather", "tables"},
    "group": {
        "tables",
        "weather",
        "yard",
        "diary",
        "biology",
        "forecast",
        "soaks",
        "inoculation",
        "hindcast",
    },
}
BASE = {
    "arrays",
    "atomic",
    "document",
    "errors",
    "numbers",
    "progress",
    "topics",
    "units",
    "words",
}


@cache
def import_lines(path: Path) -> list[ast.Import | ast.ImportFrom]:
    """Return the statements of a module that import, wherever in it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]


def imports(path: Path) -> set[str]:
    """Return the parts of the package that a module imports, wherever in it."""
    found = set()
    for node in import_lines(path):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            names = [node.module]
            if node.module == "fruitcast":
                names = [f"fruitcast.{alias.name}" for alias in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("fruitcast.")}
    return found


def modules(layer: str) -> list[Path]:
    return sorted((PACKAGE / layer).rglob("*.py"))


@pytest.mark.parametrize("layer", BELOW)
def test_a_layer_imports_only_from_above_itself(layer: str) -> None:
    allowed = BELOW[layer] | BASE | {layer, "__version__"}
    assert modules(layer)
    wrong = {
        f"{path.relative_to(PACKAGE)}: {name}"
        for path in modules(layer)
        for name in imports(path) - allowed
    }
    assert not wrong


def test_only_the_command_that_starts_the_page_knows_it() -> None:
    knows = {path.name for path in modules("cli") if "web" in imports(path)}
    assert knows == {"serve.py"}


def test_the_base_imports_only_the_base() -> None:
    for name in BASE:
        assert imports(PACKAGE / f"{name}.py") <= BASE, name


def test_every_part_of_the_package_is_a_layer_or_the_base() -> None:
    parts = {path.stem for path in PACKAGE.glob("*.py")} | {
        path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()
    }
    assert parts == set(BELOW) | BASE | {"__init__", "__main__"}


def imported(path: Path) -> set[Path]:
    """Return our modules that one names in any import, for types and within functions too."""
    found = set()
    for node in import_lines(path):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("fruitcast"):
            place = PACKAGE.joinpath(*str(node.module).split(".")[1:])
            for alias in node.names:
                inner = place / f"{alias.name}.py", place.with_suffix(".py"), place / "__init__.py"
                found |= {file for file in inner[:1] if file.exists()} or {
                    file for file in inner[1:] if file.exists()
                }
    return found - {path}


def test_no_modules_import_each_other_in_a_circle() -> None:
    left = {path: imported(path) for path in PACKAGE.rglob("*.py")}
    while free := {path for path, names in left.items() if not names & left.keys()}:
        left = {path: names for path, names in left.items() if path not in free}
    assert sorted(str(path.relative_to(PACKAGE)) for path in left) == []


def test_no_module_is_longer_than_six_hundred_lines() -> None:
    long = {
        str(path.relative_to(PACKAGE)): lines
        for path in PACKAGE.rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 600
    }
    assert not long


MAPPINGS = {"dict", "Mapping", "MutableMapping"}


def loose(path: Path) -> list[int]:
    """Return the lines with a table of anything: `dict[str, Any]`, `Mapping[str, Any]`, `dict`.

    Every one counts, also within another type or in an alias, and an annotation with no more than
    `dict` too. What is an `object` has to be looked at before it is used, so that one doesn't.
    """
    text = path.read_text(encoding="utf-8")
    found: list[int] = []
    if not re.search(rf"\b({'|'.join(MAPPINGS)})\b", text):
        return found
    for node in ast.walk(ast.parse(text)):
        match node:
            case ast.Subscript(
                value=ast.Name(id=name), slice=ast.Tuple(elts=[_, ast.Name(id="Any")])
            ) if name in MAPPINGS:
                found.append(node.lineno)
            case (
                ast.arg(annotation=ast.Name(id=name))
                | ast.FunctionDef(returns=ast.Name(id=name))
                | ast.AnnAssign(annotation=ast.Name(id=name))
            ) if name in MAPPINGS:
                found.append(node.lineno)
    return found


def test_what_is_passed_about_has_a_type() -> None:
    """Few tables of anything are left: where TOML or JSON is read, before it has a class."""
    places = {
        str(path.relative_to(PACKAGE)): lines
        for path in sorted(PACKAGE.rglob("*.py"))
        if (lines := loose(path))
    }
    assert sum(map(len, places.values())) <= 30, places


def test_a_loose_table_is_noticed_wherever_it_stands(tmp_path: Path) -> None:
    module = tmp_path / "module.py"
    module.write_text(
        "Row = dict[str, Any]\n"
        "def read(raw: Mapping[str, Any], days: dict[str, int]) -> list[dict[str, Any]]:\n"
        "    found: dict = {}\n",
        encoding="utf-8",
    )
    assert sorted(loose(module)) == [1, 2, 2, 3]
