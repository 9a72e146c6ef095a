"""Write a plan's files into a folder: all of them or none, and over nobody else's.

Every file is made in a hidden folder on the same disk first. Where the target folder is new,
that folder is then renamed into place, which either happens or does not; where it exists, the
files are moved in one by one, and moved back if one of them cannot be.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from .audit import AuditedPlan
from .errors import Fault, InputError
from .staging import clear_dead, staging
from .written import ELSEWHERE, RECORD_NAME, own_files, record_text, refuse_foreign

__all__ = [
    "CUTS_NAME",
    "PDF_NAME",
    "PLAN_NAME",
    "Drawing",
    "check_folder",
    "default_folder",
    "write_outputs",
]

PLAN_NAME = "plan.json"
PDF_NAME = "cut-sheets.pdf"
CUTS_NAME = "cuts.csv"
ORDER_SUFFIXES = (".toml", ".csv", ".xlsx")

Drawing = Literal["png", "svg"]
_IMAGES: tuple[Drawing, ...] = ("png", "svg")


def default_folder(order: Path) -> Path:
    """Return the folder beside `order` named after it: ``show.toml`` gives ``show``.

    Where another order file shares its name but for the suffix, as ``show.toml`` and
    ``show.csv`` do, each keeps its suffix: ``show-toml`` and ``show-csv``. So does a file whose
    name has no suffix, since the folder would have the file's own name.
    """
    suffix = order.suffix
    if not suffix:
        return order.with_name(f"{order.name}-plan")
    others = (order.with_suffix(other) for other in ORDER_SUFFIXES if other != suffix.lower())
    if any(other.exists() for other in others):
        return order.with_name(f"{order.stem}-{suffix[1:].lower()}")
    return order.with_suffix("")


def check_folder(folder: Path) -> None:
    """See that `folder` can take a plan, before the work of making one; nothing is written.

    Raises
    ------
    InputError
        If it is no folder, cannot be written to, or holds under the name of a file that would
        be written anything but what kerfwright wrote there.
    """
    if not folder.is_dir():
        _check_new(folder)
        return
    if not os.access(folder, os.W_OK | os.X_OK):
        raise _refusal(folder, "cannot be written to", ELSEWHERE)
    refuse_foreign(folder, (PLAN_NAME, PDF_NAME, CUTS_NAME))


def _check_new(folder: Path) -> None:
    if os.path.lexists(folder):
        raise _refusal(folder, "is not a folder", ELSEWHERE)
    above = next((path for path in folder.absolute().parents if os.path.lexists(path)), folder)
    if not above.is_dir():
        raise _refusal(folder, f"cannot be made: {above} is not a folder", ELSEWHERE)
    if not os.access(above, os.W_OK | os.X_OK):
        raise _refusal(folder, f"cannot be made: {above} cannot be written to", ELSEWHERE)


def _refusal(path: Path, problem: str, accepted: str) -> InputError:
    return InputError((Fault(str(path), "", "", problem, accepted),))


def write_outputs(
    audited: AuditedPlan,
    folder: Path | str,
    draw: Sequence[Drawing] = (),
    *,
    between: Callable[[], None] | None = None,
) -> tuple[Path, ...]:
    """Write ``plan.json``, ``cut-sheets.pdf``, ``cuts.csv`` and what else is to be drawn.

    The folder, and those above it, are made if need be. Files that an earlier plan left there
    are replaced, and those of its pages that this plan does not have are removed, unless
    somebody has changed them since: a hidden file ``.kerfwright`` holds a digest of each. What
    a process that was killed while it wrote there left behind is cleared away, too.

    Parameters
    ----------
    draw
        Images wanted besides the PDF: ``png``, ``svg`` or both, one file a page.
    between
        Called at each page, and a last time before anything is put in place. Whatever it
        raises ends the writing, and everything is as it was.

    Returns
    -------
    tuple of Path
        The files written, ``plan.json`` first, the PDF, ``cuts.csv``, then the images page by page.

    Raises
    ------
    InputError
        If the folder cannot be written to, or a file in the way was not written by kerfwright
        or has been changed since. Then everything is as it was.
    """
    folder = Path(folder)
    check_folder(folder)
    try:
        with _made_parents(folder), _staging(folder) as stage:
            names = _make_files(audited, stage / "new", draw, between)
            if between is not None:
                between()
            _put_in_place(stage, names, folder)
        # Only now: what was killed while it replaced these very files may hold the last copies.
        clear_dead((folder, folder.absolute().parent))
    except OSError as error:
        problem = f"cannot be written to: {error.strerror or error}"
        raise _refusal(folder, problem, ELSEWHERE) from error
    return tuple(folder / name for name in names)


@contextmanager
def _made_parents(folder: Path) -> Iterator[None]:
    """Make the folders above `folder`, and take them away again if what follows fails."""
    missing = [path for path in folder.absolute().parents if not path.exists()]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        for path in missing:
            _remove_if_empty(path)
        raise


def _remove_if_empty(path: Path) -> None:
    try:
        path.rmdir()
    except OSError:
        return  # somebody else has put something there since


@contextmanager
def _staging(folder: Path) -> Iterator[Path]:
    """Give a hidden folder on the disk of `folder`, and clear it away in the end."""
    beside = folder if folder.is_dir() else folder.parent
    with staging(beside) as stage:
        for part in ("new", "old"):
            (stage / part).mkdir()
        yield stage


def _make_files(
    audited: AuditedPlan,
    stage: Path,
    draw: Sequence[Drawing],
    between: Callable[[], None] | None,
) -> tuple[str, ...]:
    from .drawings import draw_images, draw_pdf
    from .plan.files import plan_to_json
    from .spreadsheet import cuts_csv

    text = plan_to_json(audited.plan)
    (stage / PLAN_NAME).write_text(text, encoding="utf-8", newline="\n")
    (stage / CUTS_NAME).write_text(cuts_csv(audited), encoding="utf-8", newline="")
    draw_pdf(audited, stage / PDF_NAME, between=between)
    pages: list[str] = []
    for kind in _IMAGES:
        if kind in draw:
            pages += (path.name for path in draw_images(audited, stage, kind, between=between))
    names = (PLAN_NAME, PDF_NAME, CUTS_NAME, *pages)
    record = record_text(stage, names)
    (stage / RECORD_NAME).write_text(record, encoding="utf-8", newline="\n")
    for name in (RECORD_NAME, *names):
        _settle(stage / name)
    return names


def _settle(path: Path) -> None:
    """Have the disk hold the file before its name does, lest a power cut leave it empty."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _put_in_place(stage: Path, names: tuple[str, ...], folder: Path) -> None:
    if folder.is_dir():
        refuse_foreign(folder, names)
        _replace(stage, names, folder)
    else:
        (stage / "new").rename(folder)


def _replace(stage: Path, names: tuple[str, ...], folder: Path) -> None:
    """Move the old files out and the new ones in; all of them, or none.

    Drawings go first and come last, so that a power cut between two moves cannot leave pages
    beside a plan that they do not show; the record goes after them all and comes before.
    """
    new, old = stage / "new", stage / "old"
    last = {PLAN_NAME: 1, RECORD_NAME: 2}
    leaving = sorted(own_files(folder), key=lambda name: last.get(name, 0))
    moves = [(folder / name, old / name) for name in leaving]
    moves += [(new / name, folder / name) for name in (RECORD_NAME, *names)]
    try:
        for source, target in moves:
            source.replace(target)
    except BaseException:
        _undo(moves)
        raise


def _undo(moves: Sequence[tuple[Path, Path]]) -> None:
    for source, target in reversed(moves):
        if target.exists() and not source.exists():
            target.replace(source)
