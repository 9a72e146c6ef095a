"""The public front: every name where it is said to be, and none loaded before its time."""

from __future__ import annotations

import ast
import importlib.metadata
import pkgutil
import subprocess
import sys

import pytest

import kerfwright as kw


def test_every_public_name_is_there() -> None:
    """Each name of __all__ can be had, and dir() shows it."""
    for name in kw.__all__:
        assert getattr(kw, name) is not None
    assert {*kw.__all__} <= {*dir(kw)}


def test_an_unknown_name_is_refused_as_usual() -> None:
    """A name that is not there raises AttributeError, so that hasattr() works."""
    assert not hasattr(kw, "make_coffee")
    with pytest.raises(AttributeError, match="no attribute 'make_coffee'"):
        _ = kw.make_coffee


def test_no_public_name_is_a_modules() -> None:
    """No function or class of the front shares its name with a module beside it."""
    modules = {module.name for module in pkgutil.iter_modules(kw.__path__)}
    assert not modules & {*kw.__all__}


def test_type_checkers_and_python_see_the_same_front() -> None:
    """What type checkers import is what __getattr__ finds, name by name and home by home."""
    assert kw.__file__ is not None
    with open(kw.__file__, encoding="utf-8") as file:  # noqa: PTH123
        tree = ast.parse(file.read())
    (block,) = (node for node in tree.body if isinstance(node, ast.If))
    typed = {
        alias.name: node.module
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert typed == kw._HOME
    assert {*kw.__all__} == {*typed, "__version__"}


def test_importing_loads_nothing_heavy() -> None:
    """``import kerfwright`` loads none of its own rooms and nothing that they need."""
    source = "import sys; import kerfwright; print(sorted(n for n in sys.modules if 'kerfw' in n))"
    ran = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=True)
    loaded = {name for name in ast.literal_eval(ran.stdout) if not name.startswith("__editable__")}
    assert loaded == {"kerfwright"}


def test_the_version_is_the_distributions() -> None:
    """__version__ and the installed distribution agree."""
    assert importlib.metadata.version("kerfwright") == kw.__version__
