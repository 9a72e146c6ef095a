"""What an entry did, and what an event changed, in words for a person."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..lengths import Length, Unit, format_length
from .events import Event, read_exact

__all__ = ["changes", "edge_words", "edges_told", "entry_words"]

_BORN = {"added", "made", "drop-out"}
_OF_OFFCUTS = {
    "added": "added",
    "drop-out": "put on the rack as a drop-out",
    "measured": "measured",
    "corrected": "corrected",
    "used": "used",
    "given away": "given away",
    "spoiled": "spoiled",
    "lost": "lost",
    "found": "found again",
}
_OF_COUNTS = {
    "sheets in": "full sheet{s} of {board} added",
    "sheets out": "full sheet{s} of {board} taken",
    "slips in": "slip sheet{s} of {board} added",
    "slips retired": "slip sheet{s} of {board} retired",
}
FEW = 6  # numbers that are named one by one
_EDGES = ("left", "right", "top", "bottom")


def entry_words(events: Sequence[Event]) -> str:
    """Return what an entry did: ``offcuts 3, 4 added``, ``job 1 cut``."""
    kinds = {event.event for event in events}
    for what in ("cut", "planned", "cancelled"):
        if f"job {what}" in kinds:
            job = next(event.job for event in events if event.event == f"job {what}")
            return f"job {job} {what}"
    if "seen" in kinds or any("was counted" in (event.note or "") for event in events):
        return "the rack counted"
    told = [*_offcuts(events), *_counts(events)]
    return "; ".join(dict.fromkeys(told)) or ", ".join(dict.fromkeys(e.event for e in events))


def _offcuts(events: Sequence[Event]) -> Iterator[str]:
    for what, word in _OF_OFFCUTS.items():
        numbers = list(dict.fromkeys(e.offcut for e in events if e.event == what))
        if numbers:
            yield f"{_named(numbers)} {word}"
    for place in dict.fromkeys(e.place for e in events if e.event == "moved"):
        numbers = [e.offcut for e in events if e.event == "moved" and e.place == place]
        yield f"{_named(numbers)} moved to {place}"


def _named(numbers: Sequence[int | None]) -> str:
    """Return some offcuts by number, in no more than a line."""
    if len(numbers) == 1:
        return f"offcut {numbers[0]}"
    first, last = numbers[0] or 0, numbers[-1] or 0
    if len(numbers) > FEW and list(numbers) == [*range(first, last + 1)]:
        return f"offcuts {first} to {last}"
    more = f" and {len(numbers) - FEW} more" if len(numbers) > FEW else ""
    return f"offcuts {', '.join(map(str, numbers[:FEW]))}{more}"


def _counts(events: Sequence[Event]) -> Iterator[str]:
    for event in events:
        if event.event in _OF_COUNTS:
            words = _OF_COUNTS[event.event].format(
                s="" if event.count == 1 else "s", board=event.board
            )
            yield f"{event.count} {words}"
        elif event.event in {"sheets counted", "slips counted"}:
            what = "full" if event.event == "sheets counted" else "slip"
            yield f"the {what} sheets of {event.board} counted"
        elif event.event == "board described" and len(events) == 1:
            yield f"what the board {event.board} is"
        elif event.event == "slips set":
            yield f"the windows that a slip sheet serves set to {event.count}"
        elif event.event == "undone":
            yield f"entry {event.undoes} taken back"


def _simpler(*lengths: Length) -> Unit:
    inches = max(length.in_unit(Unit.INCH).denominator for length in lengths)
    plain = inches <= max(length.mm.denominator for length in lengths)
    return Unit.INCH if plain else Unit.MILLIMETRE


def changes(events: Iterable[Event], event: Event) -> tuple[str, ...]:
    """Return what an event changed of its offcut, from what to what, a phrase each.

    Parameters
    ----------
    events
        The whole ledger; what was undone by the time of the event does not count.
    """
    if event.event in _BORN:
        return ()
    earlier = [one for one in events if one.seq < event.seq]
    undone = {one.undoes for one in earlier if one.undoes is not None}
    life = [one for one in earlier if one.offcut == event.offcut and one.entry not in undone]
    return tuple(_changes(life, event))


def _before(life: Sequence[Event], column: str) -> str | None:
    told = (getattr(one, column) for one in reversed(life))
    return next((value for value in told if value is not None), None)


def _changes(life: Sequence[Event], event: Event) -> Iterator[str]:
    if event.width is not None and event.height is not None:
        sized = next((one for one in reversed(life) if one.width is not None), None)
        if sized is not None and sized.size != event.size:
            yield f"size {event.size}, was {sized.size}"
    for column in ("board", "grade", "buffered", "direction"):
        now, was = getattr(event, column), _before(life, column)
        if now is not None and was is not None and now != was:
            yield f"{column} {now}, was {was}"
    if event.edges is not None:
        was = edges_told(_before(life, "edges"))
        if edges_told(event.edges) != was:
            yield f"bad edges {edges_told(event.edges)}, were {was}"
    if event.place is not None:
        was = _before(life, "place") or "not said"
        if (event.place or "not said") != was:
            yield f"place {event.place or 'not said'}, was {was}"


def edges_told(text: str | None) -> str:
    """Return in words what an event says that bad edges lose."""
    return edge_words([Length(read_exact(part)) for part in (text or "").split()])


def edge_words(lengths: Sequence[Length]) -> str:
    """Return what bad edges lose, left, right, top and bottom: ``left 1/4 in``; or ``none``."""
    if not any(lengths):
        return "none"
    unit = _simpler(*lengths)
    told = [
        f"{name} {format_length(length, unit, with_unit=True)}"
        for name, length in zip(_EDGES, lengths, strict=True)
        if length
    ]
    return ", ".join(told) or "none"
