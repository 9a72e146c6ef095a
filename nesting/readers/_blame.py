"""Where in its file a length stands that is to blame for a grid too fine."""

from __future__ import annotations

from collections.abc import Mapping

from ..order import MOST_STEPS, NamedLength, TooFine
from ._records import Document, FaultList, Place, Record, shown

__all__ = ["blame"]

_MOST_TOLD = 5
_PROBLEM = f"would need, beside the other lengths, more than {MOST_STEPS:,} steps to a sheet's side"
_ACCEPTED = "round it to a mark of the rule"

_Owned = Mapping[tuple[str, ...], Record]


def blame(refusal: TooFine, documents: tuple[Document, ...], faults: FaultList) -> None:
    """Note each length to blame where its file writes it, and as; of very many, the first few."""
    owned = {
        owner: record for document in reversed(documents) for owner, record in _owned(document)
    }
    found = dict.fromkeys(_written(culprit, owned) for culprit in refusal.culprits)
    if None in found:  # no file says that length, so there is nowhere to point at
        faults.refuse(documents[0].top.place, refusal)
        return
    told = [one for one in found if one is not None]
    for place, field, value in told[:_MOST_TOLD]:
        faults.add(place, field, value, _PROBLEM, _ACCEPTED)
    if len(told) > _MOST_TOLD:
        problem = f"has {len(told) - _MOST_TOLD} more lengths like these"
        faults.add(documents[0].top.place, "", "", problem, "round them too")


def _owned(document: Document) -> list[tuple[tuple[str, ...], Record]]:
    """Return every table and row of a file by what it describes."""
    tables = (
        ("piece", document.pieces, ("label",)),
        ("board", document.boards, ("name",)),
        ("tool", document.tools, ("name",)),
        ("offcut", document.offcuts, ("board", "id")),
    )
    return [
        ((table, *(_name(record.values.get(key)) for key in keys)), record)
        for table, records, keys in tables
        for record in records
    ]


def _name(value: object) -> str:
    return " ".join(str(value).split())


def _written(culprit: NamedLength, owned: _Owned) -> tuple[Place, str, str] | None:
    """Return where a length stands, in which field, and what is written there."""
    record = owned.get(culprit.owner)
    if record is None:
        return None
    field, *within = map(str, culprit.field)
    if field == "size" and "size" not in record.values:
        (field,) = within
    if field not in record.values:
        return None
    return record.at(field), field, shown(_inside(record.values[field], within))


def _inside(value: object, within: list[str]) -> object:
    """Return the one sheet of a list, or the one edge of a table, that is meant."""
    if isinstance(value, list):
        value = value[int(within[0])]
        return value.get("size") if isinstance(value, Mapping) else value
    return value.get(*within) if isinstance(value, Mapping) else value
