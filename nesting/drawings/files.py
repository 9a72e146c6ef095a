"""The pages as files: whole or not there at all, and the same bytes every time."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ..audit.facts import AuditedPlan
from ..plan.model import Plan
from .pages import Job
from .paper import Paper
from .pdf import PdfFile

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["ImageKind", "draw_images", "draw_pdf", "drawn_our_way", "replacing"]

ImageKind = Literal["png", "svg"]
DOTS_PER_INCH = 150
STEM = "cut-sheets"


_OURS: Any = {  # keyed by names that matplotlib types one by one
    "pdf.fonttype": 42,
    # matplotlib 3.11 reads this one for PDF too, and else embeds each face twice.
    "ps.fonttype": 42,
    "svg.fonttype": "path",
    "svg.hashsalt": "kerfwright",
    "hatch.linewidth": 0.5,
    "text.hinting": "none",
    "path.simplify": False,
    "savefig.facecolor": "white",
}


@contextmanager
def drawn_our_way() -> Iterator[None]:
    """Set aside whatever a person's own matplotlib settings would change in a page."""
    import matplotlib as mpl

    with mpl.rc_context():
        for name, value in mpl.rcParamsDefault.items():
            if name not in _NOT_OF_A_PAGE and mpl.rcParams[name] != value:
                mpl.rcParams[name] = value
        mpl.rcParams.update(_OURS)
        yield


# Changing these does something at once, or is refused once anything is drawn.
_NOT_OF_A_PAGE = frozenset({"backend", "backend_fallback", "interactive", "timezone", "toolbar"})


def draw_pdf(
    audited: AuditedPlan,
    path: Path | str,
    paper: Paper | None = None,
    *,
    between: Callable[[], None] | None = None,
) -> Path:
    """Write the cut sheets as a PDF and return its path.

    The page is letter or A4; either prints whole and at full size on the other. The same plan
    gives the same bytes. An interrupted run leaves whatever stood at `path` untouched.

    Parameters
    ----------
    paper
        Given none, letter where the plan's lengths are in inches, else A4.
    between
        Called at each page; whatever it raises interrupts the run.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    path = Path(path)
    chosen = paper or Paper.usual(audited.plan.unit)
    job = Job(audited)
    file = PdfFile(
        chosen, landscape=job.landscape, title=_title(audited.plan), creator=_program(audited.plan)
    )
    for drawer in job.drawers():
        if between is not None:
            between()
        file.add(drawer)
    with replacing([path]) as (temporary,):
        temporary.write_bytes(file.whole())
    return path


def _heeding(between: Callable[[], None] | None, figures: Iterable[Figure]) -> Iterator[Figure]:
    for figure in figures:
        if between is not None:
            between()
        yield figure


def draw_images(
    audited: AuditedPlan,
    folder: Path | str,
    kind: ImageKind,
    paper: Paper | None = None,
    *,
    between: Callable[[], None] | None = None,
) -> tuple[Path, ...]:
    """Write each page as an image, ``cut-sheets-01.png`` and so on, and return their paths.

    All pages are written, or none; see `draw_pdf` for the rest.
    """
    from .canvas import draw_pages

    chosen = paper or Paper.usual(audited.plan.unit)
    with drawn_our_way():
        figures = list(_heeding(between, draw_pages(audited, chosen)))
        digits = max(2, len(str(len(figures))))
        paths = [Path(folder, f"{STEM}-{n:0{digits}d}.{kind}") for n in range(1, len(figures) + 1)]
        with replacing(paths) as temporaries:
            for figure, temporary in zip(_heeding(between, figures), temporaries, strict=True):
                _save_image(figure, temporary, kind, audited.plan)
    return tuple(paths)


def _save_image(figure: Figure, path: Path, kind: ImageKind, plan: Plan) -> None:
    metadata: dict[str, str | None] = {"Software": _program(plan)}
    if kind == "svg":
        metadata = {"Title": f"{_program(plan)}: {_title(plan)}", "Date": None, "Creator": None}
    figure.savefig(path, format=kind, dpi=DOTS_PER_INCH, metadata=metadata)


def _title(plan: Plan) -> str:
    """Return the job's name without what a file's metadata may not hold."""
    return "".join(sign for sign in " ".join(plan.order.split()) if sign.isprintable())


def _program(plan: Plan) -> str:
    """Return the plan's program; what it wrote is known again by the name at the beginning."""
    named = plan.program.startswith("kerfwright")
    return plan.program if named else f"kerfwright ({plan.program})"


@contextmanager
def replacing(paths: list[Path]) -> Iterator[list[Path]]:
    """Give a temporary file beside each path, and put them all in place at the end, or none."""
    temporaries: list[Path] = []
    try:
        for path in paths:
            handle, name = tempfile.mkstemp(prefix=".", suffix=path.suffix, dir=path.parent)
            os.close(handle)
            temporaries.append(Path(name))
        yield temporaries
        for temporary, path in zip(temporaries, paths, strict=True):
            temporary.chmod(0o666 & ~_umask())
            temporary.replace(path)
    finally:
        for temporary in temporaries:
            temporary.unlink(missing_ok=True)


def _umask() -> int:
    """Return what new files are denied; there is no way to ask but to set it and set it back."""
    denied = os.umask(0)
    os.umask(denied)
    return denied
