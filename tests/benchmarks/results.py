"""What was measured, kept in one JSON file so that sets can be run one at a time."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

__all__ = ["Record", "Results"]

Record = dict[str, Any]


class Results:
    """Records by set and instance, and the references measured beside them.

    Parameters
    ----------
    path
        Read if it is there; written after every change.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.records: dict[str, dict[str, Record]] = {}
        self.references: dict[str, list[dict[str, float]]] = {}
        self.machine: dict[str, str] = {}
        if path.exists():
            data = json.loads(path.read_text(encoding="utf-8"))
            self.records = data["records"]
            self.references = data["references"]
            self.machine = data["machine"]

    def begin(self, name: str, machine: dict[str, str], ids: Iterable[str]) -> None:
        """Forget what was measured of these instances before, and the set's old references."""
        self.machine = machine
        self.references[name] = []
        kept = self.records.setdefault(name, {})
        for one in ids:
            kept.pop(one, None)

    def add(self, record: Record, reference: dict[str, float] | None) -> None:
        """Take one record, and save."""
        self.records.setdefault(record["set"], {})[record["id"]] = record
        if reference is not None:
            self.references.setdefault(record["set"], []).append(reference)
        self.save()

    def save(self) -> None:
        """Write the file, whole or not at all."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        beside = self.path.with_suffix(".part")
        data = {
            "machine": self.machine,
            "references": self.references,
            "records": self.records,
        }
        beside.write_text(json.dumps(data, indent=0), encoding="utf-8")
        beside.replace(self.path)

    def of(self, name: str) -> list[Record]:
        """Return a set's records, as they were measured."""
        return [*self.records.get(name, {}).values()]
