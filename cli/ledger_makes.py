"""`kerfwright ledger makes`: what could still be cut from the offcuts alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

import kerfwright as kw

from .ledger_common import AsJson, LedgerFile, UnitOption, answer, ledger_at, parsed, unit_of

if TYPE_CHECKING:
    from kerfwright.makes import Group, Makes

app = typer.Typer()


@app.command("makes")
def makes_command(
    size: Annotated[
        list[str] | None, typer.Argument(metavar="SIZE", help="Otherwise the usual small ones.")
    ] = None,
    kerf: Annotated[str, typer.Option(metavar="LENGTH", help="What the tool removes.")] = "0",
    unit: UnitOption = None,
    ledger: LedgerFile = None,
    as_json: AsJson = False,
) -> None:
    """Say what the offcuts alone would make.

    Each line stands by itself: so many of this size, or so many of that. Offcuts of another
    grade, or known less well, are reckoned apart. Of a board with a direction nothing is turned,
    and the first number of a size lies along the sheet's first.
    """
    from kerfwright.ledger.exchange import exact_size
    from kerfwright.makes import METRIC_SIZES, SMALL_SIZES, what_they_make

    bare = unit_of(unit)
    usual = SMALL_SIZES if bare is kw.Unit.INCH else METRIC_SIZES
    sizes = [parsed(lambda text=text: kw.parse_size(text, bare)) for text in size or ()]  # type: ignore[misc]
    width = parsed(lambda: kw.parse_length(kerf, bare, "kerf", zero=True))
    lines: list[str] = []
    facts = []
    group: Group | None = None
    for one in what_they_make(ledger_at(ledger).state(), sizes, kerf=width, usual=usual):
        if one.group != group:
            group = one.group
            lines.append(_heading(group))
        lines.append(_line(one, bare))
        facts.append(
            {"board": group.board, "grade": None if group.grade is None else group.grade.value,
             "buffered": group.buffered, "kind": group.makes, "size": exact_size(one.size),
             "count": one.count, "no_turn": group.directed,
             "offcuts": [{"offcut": number, "count": count} for number, count in one.offcuts]}
        )  # fmt: skip
    answer(lines or ["Nothing of these sizes."], {"makes": facts}, as_json=as_json)


def _heading(group: Group) -> str:
    buffered = {True: ", buffered", False: ", not buffered", None: ""}[group.buffered]
    turned = "; none turned: the board has a direction" if group.directed else ""
    if group.grade is None:
        return f"{group.board}, grade unknown{buffered}: for the lowest grade only{turned}"
    return f"{group.board}, {group.grade}{buffered}{turned}"


def _line(one: Makes, bare: kw.Unit) -> str:
    many = "" if one.count == 1 else "s"
    size = kw.format_size(one.size, bare, with_unit=True)
    if len(one.offcuts) == 1:
        whence = f"offcut {one.offcuts[0][0]}"
    else:
        told = [
            f"{number} ({count})" if count > 1 else f"{number}" for number, count in one.offcuts
        ]
        whence = f"offcuts {', '.join(told)}"
    return f"{one.count:>5} {one.group.makes}{many}, {size}, from {whence}"
