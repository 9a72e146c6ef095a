"""The house keeps its order: which rooms exist, who may know whom, and what lies about."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LIBRARY = ROOT / "nesting"
COMMAND = ROOT / "cli"

BASE = {"errors", "lengths", "order", "stock"}
# What each room may import of the others. Data flows one way: no room is to its own left.
MAY_KNOW: dict[str, set[str]] = {
    "errors": set(),
    "lengths": {"errors"},
    "stock": {"errors", "lengths"},
    "order": {"errors", "lengths", "stock"},
    "readers": BASE,
    "watching": set(),
    "problem": BASE,
    "packer": {"errors", "problem"},
    "plan": BASE | {"problem", "packer", "watching"},
    "bench": BASE | {"plan"},
    "planning": BASE | {"problem", "packer", "plan", "bench", "watching"},
    "audit": BASE | {"plan"},
    "telling": BASE | {"plan", "audit"},
    "instructions": BASE | {"plan", "audit"},
    "aftermath": BASE | {"plan", "planning", "audit", "watching", "instructions"},
    "cells": set(),
    "spreadsheet": BASE | {"plan", "audit", "instructions", "telling", "cells"},
    "drawings": BASE | {"plan", "audit", "telling", "instructions"},
    "written": BASE,
    "staging": set(),
    "outputs": BASE | {"plan", "audit", "drawings", "spreadsheet", "written", "staging"},
    "ledger": BASE | {"plan", "audit", "cells", "staging"},
    "makes": BASE | {"problem", "packer", "ledger"},
}
# The only rooms that may import each of the heavy packages.
MAY_IMPORT = {
    "ortools": {"packer"},
    "shapely": {"audit"},
    "matplotlib": {"drawings"},
    "openpyxl": {"readers"},
    "sqlite3": {"ledger"},
    "platformdirs": {"ledger"},
    "segno": {"drawings"},
    "numpy": {"packer", "audit", "drawings"},
    "typer": set[str](),
    "rich": set[str](),
}
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml",
    "nesting", "cli", "tests", "sample_jobs", "docs",
}  # fmt: skip
# What tools leave behind, as .gitignore lists it.
LEFT_BY_TOOLS = {"build", "dist"}


def room_of(path: Path) -> str:
    """Return the room that a file of the library lies in."""
    return named_room(".".join(path.relative_to(LIBRARY).with_suffix("").parts))


def named_room(module: str) -> str:
    """Return the room of a module named from the library's root."""
    return module.split(".")[0]


def library_files() -> list[Path]:
    """Return every file of the library but the front, which shows what all rooms offer."""
    return [path for path in sorted(LIBRARY.rglob("*.py")) if path != LIBRARY / "__init__.py"]


def imports_of(path: Path) -> Iterator[tuple[int, str]]:
    """Yield the level and the dotted module of every import in a file, wherever it stands."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((0, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.level, node.module
        elif isinstance(node, ast.ImportFrom):
            yield from ((node.level, alias.name) for alias in node.names)


def rooms_known_to(path: Path) -> set[str]:
    """Return the other rooms that a file of the library imports, by relative import."""
    depth = len(path.relative_to(LIBRARY).parts)
    known = {named_room(module) for level, module in imports_of(path) if level == depth}
    known |= {
        named_room(f"{path.parent.name}.{module}")
        for level, module in imports_of(path)
        if level == depth - 1 > 0
    }
    return known - {room_of(path), "__version__"}


def packages_known_to(path: Path) -> set[str]:
    """Return the top-level names that a file imports absolutely."""
    return {module.split(".")[0] for level, module in imports_of(path) if level == 0}


def test_the_checks_read_imports_as_they_stand(tmp_path: Path) -> None:
    """Imports inside functions, of several names, and of a package itself are all seen."""
    source = "import a.b, c\ndef f():\n    from ..d import e\n    from .. import g\n"
    (tmp_path / "file.py").write_text(source)
    found = sorted(imports_of(tmp_path / "file.py"))
    assert found == [(0, "a.b"), (0, "c"), (2, "d"), (2, "g")]


def test_every_room_has_a_place_in_the_order() -> None:
    """No room stands in the library that the table above does not know."""
    assert {room_of(path) for path in library_files()} <= {*MAY_KNOW}


def test_the_order_of_rooms_has_no_circle() -> None:
    """Taking away, again and again, the rooms that know none of the rest leaves nothing."""
    left = dict(MAY_KNOW)
    while free := [room for room, known in left.items() if not known & {*left}]:
        for room in free:
            del left[room]
    assert left == {}


@pytest.mark.parametrize("path", library_files(), ids=lambda p: str(p.relative_to(LIBRARY)))
def test_a_file_imports_only_rooms_to_its_left(path: Path) -> None:
    """A file of the library imports no room but those that its own may know."""
    assert rooms_known_to(path) <= MAY_KNOW[room_of(path)]


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_a_heavy_package_has_its_room(package: str) -> None:
    """A package with a room of its own is imported nowhere else in the library."""
    importing = {room_of(p) for p in library_files() if package in packages_known_to(p)}
    assert importing <= MAY_IMPORT[package]


def test_the_library_imports_itself_relatively() -> None:
    """No file of the library names `kerfwright`, `nesting` or `cli` in an import."""
    for path in [*library_files(), LIBRARY / "__init__.py"]:
        assert not packages_known_to(path) & {"kerfwright", "nesting", "cli"}, path


def test_the_wheel_holds_every_room_and_one_name() -> None:
    """pyproject.toml lists each folder of the library as a package, and claims one name."""
    setuptools = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]
    folders = {path.parent for path in LIBRARY.rglob("__init__.py")}
    rooms = {".".join(("kerfwright", *path.relative_to(LIBRARY).parts)) for path in folders}
    assert set(setuptools["packages"]) == rooms | {"kerfwright.cli"}
    assert setuptools["package-dir"] == {"kerfwright": "nesting", "kerfwright.cli": "cli"}
    assert {name.split(".")[0] for name in setuptools["packages"]} == {"kerfwright"}


def test_nothing_else_stands_at_the_top() -> None:
    """The top level holds what the design names, and dotfiles."""
    found = {path.name for path in ROOT.iterdir()}
    others = {name for name in found - TOP_LEVEL - LEFT_BY_TOOLS if not name.startswith(".")}
    assert {name for name in others if not name.endswith(".egg-info")} == set()


def text_files() -> Iterator[Path]:
    """Yield every text file that is part of the project."""
    yield from (ROOT / name for name in sorted(TOP_LEVEL) if (ROOT / name).is_file())
    yield from (path for path in (ROOT / ".ci").glob("*") if path.is_file())
    for folder in ("nesting", "cli", "tests", "docs", "sample_jobs"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in {".py", ".md", ".toml", ".csv"} and path.is_file():
                yield path


def test_no_file_names_a_package_registry() -> None:
    """Where packages come from is the installer's business: no file names a registry's host."""
    hosts = re.compile(
        rb"py" + rb"pi\.|python" + rb"hosted|files\.pythonh" + rb"osted|ana" + rb"conda\."
    )
    named = [
        str(path.relative_to(ROOT)) for path in text_files() if hosts.search(path.read_bytes())
    ]
    assert named == []


def test_functions_stay_small() -> None:
    """No function of the library or the command is over 60 lines, its docstring apart."""
    files = [*LIBRARY.rglob("*.py"), *COMMAND.glob("*.py")]
    long = [
        f"{path.relative_to(ROOT)}: {node.name}"
        for path in files
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and body_lines(node) > 60
    ]
    assert long == []


def body_lines(function: ast.FunctionDef) -> int:
    """Return the lines of a function's body without its docstring."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
