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
    """Records by set and instance, the naive reference's, and the machine's, beside them.

    Parameters
    ----------
    path
        Read if it is there; written after every change.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.records: dict[str, dict[str, Record]] = {}
        self.naive: dict[str, dict[str, Record]] = {}
        self.references: dict[str, list[dict[str, float]]] = {}
        self.machine: dict[str, str] = {}
        if path.exists():
            data = json.loads(path.read_text(encoding="utf-8"))
            self.records = data["records"]
            self.naive = data.get("naive", {})
            self.references = data["references"]
            self.machine = data["machine"]

    def begin(self, name: str, machine: dict[str, str], ids: Iterable[str]) -> None:
        """Forget what was measured of these instances before.

        The references of a set are forgotten with the last of its records.
        """
        self.machine = machine
        kept = self.records.setdefault(name, {})
        for one in ids:
            kept.pop(one, None)
        if not kept:
            self.references[name] = []

    def add(self, record: Record, reference: dict[str, float] | None) -> None:
        """Take one record, and save."""
        self.records.setdefault(record["set"], {})[record["id"]] = record
        if reference is not None:
            self.references.setdefault(record["set"], []).append(reference)
        self.save()

    def add_naive(self, name: str, instance: str, answer: Record) -> None:
        """Take what the naive reference made of an instance, and save."""
        self.naive.setdefault(name, {})[instance] = answer
        self.save()

    def fill_in(self, other: Results) -> None:
        """Take from another file what this one does not hold; nothing is saved."""
        self.machine = self.machine or other.machine
        for name, records in other.records.items():
            mine = self.records.setdefault(name, {})
            new = {key: record for key, record in records.items() if key not in mine}
            mine |= new
            if new:
                self.references.setdefault(name, []).extend(other.references.get(name, []))
        for name, answers in other.naive.items():
            self.naive[name] = answers | self.naive.get(name, {})

    def save(self) -> None:
        """Write the file, whole or not at all."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        beside = self.path.with_suffix(".part")
        data = {
            "machine": self.machine,
            "references": self.references,
            "records": self.records,
            "naive": self.naive,
        }
        beside.write_text(json.dumps(data, indent=0), encoding="utf-8")
        beside.replace(self.path)

    def of(self, name: str) -> list[Record]:
        """Return a set's records, as they were measured, the naive reference's beside them."""
        naive = self.naive.get(name, {})
        return [
            record | ({"naive": naive[one]} if one in naive else {})
            for one, record in self.records.get(name, {}).items()
        ]
