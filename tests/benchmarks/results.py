"""What was measured, kept in one file so that sets can be run one at a time.

One line of JSON for each record, answer of the naive reference, and measurement of the machine: so
a change of one is a change of one line, and the file can be committed beside the page made of it.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

__all__ = ["Record", "Results"]

Record = dict[str, Any]
# What a record says nothing of where nothing is known: not written, and read as None.
UNKNOWN: Record = dict.fromkeys(("seconds", "published", "recalled", "computed", "outside"))


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
            for line in path.read_text(encoding="utf-8").splitlines():
                self._take(json.loads(line))

    def _take(self, line: dict[str, Any]) -> None:
        """Take what a line of the file says."""
        about, name = line.pop("about"), line.pop("set", "")
        if about == "machine":
            self.machine = line
        elif about == "reference":
            self.references.setdefault(name, []).append(line)
        elif about == "naive":
            self.naive.setdefault(name, {})[line.pop("id")] = line
        else:
            self.records.setdefault(name, {})[line["id"]] = UNKNOWN | {"set": name} | line

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
        """Take from another file what this one does not hold; nothing is saved.

        The references of a set of which anything is taken are taken with it, each once.
        """
        self.machine = self.machine or other.machine
        for name, records in other.records.items():
            mine = self.records.setdefault(name, {})
            new = {key: record for key, record in records.items() if key not in mine}
            mine |= new
            if new:
                here = self.references.setdefault(name, [])
                here += [one for one in other.references.get(name, []) if one not in here]
        for name, answers in other.naive.items():
            self.naive[name] = answers | self.naive.get(name, {})

    def save(self) -> None:
        """Write the file, whole or not at all."""
        self.save_as(self.path)

    def save_as(self, path: Path) -> None:
        """Write another file of the same results, whole or not at all."""
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_suffix(".part")
        lines = [json.dumps(line, separators=(",", ":")) for line in self._lines()]
        beside.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
        beside.replace(path)

    def _lines(self) -> Iterator[dict[str, Any]]:
        yield {"about": "machine", **self.machine}
        for name, samples in self.references.items():
            for sample in samples:
                yield {"about": "reference", "set": name, **sample}
        for records in self.records.values():
            for record in records.values():
                known = {
                    key: one for key, one in record.items() if key not in UNKNOWN or one is not None
                }
                yield {"about": "record", **known}
        for name, answers in self.naive.items():
            for instance, answer in answers.items():
                yield {"about": "naive", "set": name, "id": instance, **answer}

    def of(self, name: str) -> list[Record]:
        """Return a set's records, as they were measured, the naive reference's beside them."""
        naive = self.naive.get(name, {})
        return [
            record | ({"naive": naive[one]} if one in naive else {})
            for one, record in self.records.get(name, {}).items()
        ]
