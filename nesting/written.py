"""What kerfwright wrote into a folder, and whether it still is as it was written.

Beside the files lies a small hidden one that lists them with their digests. A file that is not
listed, or is not as listed, is somebody else's: perhaps only their notes on our pages, but theirs.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from .errors import Fault, InputError

__all__ = ["ELSEWHERE", "RECORD_NAME", "own_files", "record_text", "refuse_foreign"]

RECORD_NAME = ".kerfwright"
ELSEWHERE = "choose another folder with --out"
FORMAT = "kerfwright-files"
VERSION = 1
# Only such names are ever removed, whatever a record says.
_OUR_NAME = re.compile(r"plan\.json|cuts\.csv|cut-sheets[\w-]*\.(pdf|png|svg)", re.ASCII)
_DIGEST = re.compile(r"sha256:[0-9a-f]{64}")


def record_text(folder: Path, names: Iterable[str]) -> str:
    """Return the record of the files `names` of `folder`; the same files give the same text."""
    return _rendered({name: _digest(folder / name) for name in names})


def _rendered(digests: Mapping[str, str]) -> str:
    held = {"format": FORMAT, "version": VERSION, "files": dict(sorted(digests.items()))}
    return json.dumps(held, indent=2) + "\n"


def _digest(path: Path) -> str:
    return f"sha256:{hashlib.sha256(path.read_bytes()).hexdigest()}"


def own_files(folder: Path) -> list[str]:
    """Return the names of what an earlier plan left in `folder` and nobody has changed since.

    The record itself comes last.

    Raises
    ------
    InputError
        If there is something under the record's name that is no record.
    """
    listed = _listed(folder)
    if listed is None:
        return []
    return [*(name for name in sorted(listed) if _is_as_listed(folder, name, listed)), RECORD_NAME]


def refuse_foreign(folder: Path, names: Iterable[str]) -> None:
    """See that nothing in `folder` under one of `names` is anything but what kerfwright wrote.

    Raises
    ------
    InputError
        With every file in the way, and what is the matter with it.
    """
    faults = tuple(_in_the_way(folder, names, _listed(folder)))
    if faults:
        raise InputError(faults)


def _in_the_way(
    folder: Path, names: Iterable[str], listed: Mapping[str, str] | None
) -> Iterator[Fault]:
    for name in names:
        path = folder / name
        if not os.path.lexists(path) or (listed and _is_as_listed(folder, name, listed)):
            continue
        if listed is None:
            problem = f"is in the way, and there is no record ({RECORD_NAME}) of who wrote it"
        elif name in listed:
            problem = "has been changed since kerfwright wrote it"
        else:
            problem = "is in the way, and kerfwright did not write it"
        yield Fault(str(path), "", "", problem, f"move it, or {ELSEWHERE}")


def _is_as_listed(folder: Path, name: str, listed: Mapping[str, str]) -> bool:
    path = folder / name
    if path.is_symlink() or not path.is_file():
        return False
    try:
        return _digest(path) == listed.get(name)
    except OSError:
        return False


def _listed(folder: Path) -> dict[str, str] | None:
    """Return the digests that the folder's record lists, or None where there is no record."""
    path = folder / RECORD_NAME
    if not os.path.lexists(path):
        return None
    listed = None if path.is_symlink() or not path.is_file() else _read(path)
    if listed is None:
        problem = "is in the way, and is not as kerfwright wrote it"
        fault = Fault(str(path), "", "", problem, f"move it, or {ELSEWHERE}")
        raise InputError((fault,))
    return listed


def _read(path: Path) -> dict[str, str] | None:
    """Return what a record lists, or None if it is not, to the letter, one that we could write."""
    try:
        text = path.read_text(encoding="utf-8")
        held = json.loads(text)
    except (OSError, ValueError, RecursionError):
        return None
    files = held.get("files") if isinstance(held, dict) else None
    if not isinstance(files, dict):
        return None
    usable = all(
        _OUR_NAME.fullmatch(name) and isinstance(digest, str) and _DIGEST.fullmatch(digest)
        for name, digest in files.items()
    )
    return files if usable and text == _rendered(files) else None
