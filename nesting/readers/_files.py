"""A file's bytes and text, or one fault that says why there are none."""

from __future__ import annotations

from pathlib import Path

from ._records import FaultList, Place

__all__ = ["decode", "read_bytes"]

LARGEST_BYTES = 32 * 2**20
_WORKBOOK = b"PK\x03\x04"
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"


def read_bytes(path: Path, faults: FaultList, accepted: str) -> bytes | None:
    """Return what `path` holds, or None after noting why it cannot be read."""
    try:
        if path.is_dir():
            problem = "is a folder"
        elif not path.exists():
            problem = "does not exist"
        elif path.stat().st_size > LARGEST_BYTES:
            problem = "is over 32 MB, too large for an order"
        else:
            return path.read_bytes()
    except (OSError, ValueError) as error:
        problem = f"cannot be read: {getattr(error, 'strerror', None) or error}"
    faults.add(Place(str(path)), "", "", problem, accepted)
    return None


def decode(data: bytes, path: Path, faults: FaultList, noun: str) -> str | None:
    """Return `data` as text, or None after noting why it is none.

    Parameters
    ----------
    noun
        What a line of the file is called: ``"line"`` or ``"row"``.
    """
    place = Place(path.name)
    problem = _not_text(data)
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        faults.add(place, "", "", "is empty", "an order has at least one mat or backer")
        return None
    if problem:
        faults.add(place, "", "", problem, f"save it as {path.suffix.upper()[1:]}, in UTF-8")
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        faults.add(
            Place(path.name, line, noun), "", "", "is not UTF-8 text", "save the file as UTF-8"
        )
        return None


def _not_text(data: bytes) -> str:
    """Return why `data` cannot be text, or nothing."""
    if data.startswith(_WORKBOOK):
        return "is a workbook or a zip file, whatever its name says"
    if data.startswith(_OLD_WORKBOOK):
        return "is an old workbook, whatever its name says"
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "is UTF-16 text"
    return "is not text but something binary" if b"\0" in data else ""
