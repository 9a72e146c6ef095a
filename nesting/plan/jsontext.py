"""JSON as plan.json is written and read: one row a line out, nothing doubtful in.

The standard library reads JSON generously: the last of two equal keys wins, NaN is a number, and
``1.0`` becomes a float. Here each of these is kept as a `Doubtful`, or noted on its `JsonObject`,
so that whoever knows the field can say where it stands and what would do.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ..errors import Fault, InputError

__all__ = ["Doubtful", "JsonObject", "parse", "read_text", "render"]

LINE_WIDTH = 140
LONGEST_NUMBER = 60
LARGEST_FILE = 100_000_000


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A number that plan.json may not hold, as it was written."""

    written: str
    problem: str


class JsonObject(dict[str, object]):
    """An object of the file, and the keys that it gives more than once."""

    repeated: tuple[str, ...] = ()


def _object(pairs: list[tuple[str, object]]) -> JsonObject:
    made = JsonObject(pairs)
    if len(made) < len(pairs):
        names = [name for name, _ in pairs]
        made.repeated = tuple(name for name in made if names.count(name) > 1)
    return made


def _whole(written: str) -> int | Doubtful:
    if len(written) > LONGEST_NUMBER:
        return Doubtful(f"{written[:12]}…", "is far too large")
    return int(written)


def _broken(written: str) -> Doubtful:
    return Doubtful(written, "is not a whole number")


def _constant(written: str) -> Doubtful:
    return Doubtful(written, "is not a number")


def refuse(where: str, problem: str, accepted: str) -> InputError:
    """Return the error that the file as a whole cannot be used."""
    return InputError((Fault(where, "", "", problem, accepted),))


def read_text(path: Path) -> str:
    """Return the text of the file at `path`.

    Raises
    ------
    InputError
        If it cannot be read, is no file, is over 100 MB or is not UTF-8.
    """
    where = str(path)
    try:
        if path.is_dir():
            raise refuse(where, "is a folder", "name the plan.json in it")
        if path.stat().st_size > LARGEST_FILE:
            raise refuse(where, "is over 100 MB", "name a plan.json")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        problem = f"is not UTF-8 text (byte {error.start + 1})"
        raise refuse(where, problem, "name a plan.json as kerfwright wrote it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise refuse(where, f"cannot be read: {reason}", "name a plan.json") from None


def parse(text: str, where: str) -> object:
    """Return what the JSON `text` holds, with every doubtful number marked.

    Raises
    ------
    InputError
        If it is not JSON, or is nested absurdly deep.
    """
    try:
        return json.loads(
            text,
            object_pairs_hook=_object,
            parse_int=_whole,
            parse_float=_broken,
            parse_constant=_constant,
        )
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise refuse(
            f"{where}, {place}", f"is not JSON: {error.msg}", "name a plan.json as it was written"
        ) from None
    except RecursionError:
        raise refuse(
            where, "is nested far too deep", "name a plan.json as it was written"
        ) from None


def render(value: object, margin: int = 0) -> str:
    """Return `value` as JSON text: what fits on a line without holding rows stands on one."""
    flat = json.dumps(value, ensure_ascii=False)
    if not _holds_rows(value) and (len(flat) <= LINE_WIDTH or not _is_container(value)):
        return flat
    inner = " " * (margin + 2)
    if isinstance(value, Mapping):
        return _bracket("{}", _members(value, margin + 2), inner, margin)
    assert isinstance(value, list)
    return _bracket("[]", (render(item, margin + 2) for item in value), inner, margin)


def _members(value: Mapping[str, object], margin: int) -> Iterable[str]:
    for name, member in value.items():
        yield f"{json.dumps(name, ensure_ascii=False)}: {render(member, margin)}"


def _bracket(pair: str, lines: Iterable[str], inner: str, margin: int) -> str:
    body = ",\n".join(f"{inner}{line}" for line in lines)
    return f"{pair[0]}\n{body}\n{' ' * margin}{pair[1]}"


def _is_container(value: object) -> bool:
    return isinstance(value, (Mapping, list))


def _holds_rows(value: object) -> bool:
    """Whether a list of objects lies anywhere inside; such a list has one object a line."""
    if isinstance(value, Mapping):
        return any(_holds_rows(member) for member in value.values())
    return isinstance(value, list) and any(_is_container(item) for item in value)
