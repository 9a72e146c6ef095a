"""What the cuts leave: exactly the pieces ordered, and the leftovers listed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ..plan.model import OrderedPiece, PlacedPiece
from .case import Case, Part, Replay, part_of
from .findings import Finding

__all__ = ["check_pieces"]


def check_pieces(case: Case) -> Iterator[Finding]:
    """Yield where parts, pieces and order do not agree."""
    yield from _labels(case)
    lines = {piece.label: piece for piece in case.board.ordered}
    for done in case.replays:
        if done.finished:
            yield from _parts(done, case)
        for piece in done.layout.pieces:
            yield from _piece(piece, lines.get(piece.label), case, case.layout_name(done.layout))
    yield from _counts(case)


def _labels(case: Case) -> Iterator[Finding]:
    counted = Counter(piece.label for piece in case.board.ordered)
    for label, times in counted.items():
        if times > 1:
            yield Finding("label-twice", f"{case.name}: the order names {label!r} {times} times.")


def _parts(done: Replay, case: Case) -> Iterator[Finding]:
    """Yield every rectangle that is listed but not left, or left but not listed."""
    name, scale = case.layout_name(done.layout), case.scale
    left = Counter(done.parts)
    for piece in done.layout.pieces:
        if not _take(left, part_of(piece)):
            yield Finding(
                "piece-not-cut",
                f"{name}: piece {piece.label!r}, {scale.place(part_of(piece))}, is not a part"
                " that the cuts leave.",
            )
    for leftover in done.layout.leftovers:
        if not _take(left, part_of(leftover)):
            yield Finding(
                "leftover-not-left",
                f"{name}: the {leftover.kind} {scale.place(part_of(leftover))} is not a part that"
                " the cuts leave.",
            )
    for part in sorted(left.elements()):
        yield Finding(
            "part-not-listed",
            f"{name}: the cuts leave a part {scale.place(part)} that is neither a piece nor a"
            " leftover.",
        )


def _take(left: Counter[Part], part: Part) -> bool:
    if left[part] < 1:
        return False
    left[part] -= 1
    return True


def _piece(
    piece: PlacedPiece, line: OrderedPiece | None, case: Case, name: str
) -> Iterator[Finding]:
    scale = case.scale
    if line is None:
        yield Finding(
            "label-unknown", f"{name}: no piece labelled {piece.label!r} was ordered of this board."
        )
        return
    ordered = (line.height, line.width) if piece.turned else (line.width, line.height)
    if (piece.width, piece.height) != ordered:
        yield Finding(
            "wrong-size",
            f"{name}: piece {piece.label!r} is {scale.size(piece.width, piece.height)}, and"
            f" {'turned it is' if piece.turned else 'it was ordered as'} {scale.size(*ordered)}.",
        )
    if piece.turned and (case.board.no_turn or not line.turn):
        why = "the board has a direction" if case.board.no_turn else "the order says so"
        yield Finding("turned", f"{name}: piece {piece.label!r} may not be turned: {why}.")


def _counts(case: Case) -> Iterator[Finding]:
    made: Counter[str] = Counter()
    for done in case.replays:
        for piece in done.layout.pieces:
            made[piece.label] += done.layout.copies
    for line in case.board.ordered:
        if made[line.label] != line.qty:
            code = "too-few-pieces" if made[line.label] < line.qty else "too-many-pieces"
            yield Finding(
                code,
                f"{case.name}: {line.qty} of {line.label!r} were ordered, and the layouts make"
                f" {made[line.label]}.",
            )
