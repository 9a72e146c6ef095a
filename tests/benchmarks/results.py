"""What was measured, kept in one file so that sets can be run one at a time.

One line of JSON for each record and each answer of the naive reference, in an order of their names:
so a change of one is a change of one line, and the file is committed beside the page made of it.
"""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["Record", "Results"]

Record = dict[str, Any]
Kept = dict[str, dict[str, Record]]
# What goes without saying of most records: not written, and read as this.
UNSAID: Record = dict.fromkeys(("seconds", "published", "recalled", "computed", "outside")) | {
    "exhausted": False,
    "stopped": False,
}


class Results:
    """Records by set and instance, and the naive reference's beside them.

    Parameters
    ----------
    path
        Read if it is there; written after every change.

    Raises
    ------
    ValueError
        If a line of the file is not one that this class writes; it says which.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.records: Kept = {}
        self.naive: Kept = {}
        if path.exists():
            for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
                try:
                    self._take(json.loads(line))
                except (ValueError, KeyError, TypeError, AttributeError) as fault:
                    raise ValueError(f"{path}, line {number}: is no result: {line[:60]}") from fault

    def _take(self, line: Record) -> None:
        """Take what a line of the file says."""
        kept = {"record": self.records, "naive": self.naive}[line.pop("about")]
        unsaid = UNSAID if kept is self.records else {}
        kept.setdefault(line["set"], {})[line["id"]] = unsaid | line

    def add(self, record: Record) -> None:
        """Take one record in place of what was measured of its instance before, and save."""
        self.records.setdefault(record["set"], {})[record["id"]] = record
        self.save()

    def add_naive(self, name: str, instance: str, answer: Record) -> None:
        """Take what the naive reference made of an instance, and save."""
        self.naive.setdefault(name, {})[instance] = {"set": name, "id": instance, **answer}
        self.save()

    def fill_in(self, other: Results) -> None:
        """Take from another file what this one does not hold, or holds of an earlier run.

        Nothing is saved.
        """
        for mine, theirs in ((self.records, other.records), (self.naive, other.naive)):
            for name, records in theirs.items():
                here = mine.setdefault(name, {})
                here |= {key: one for key, one in records.items() if _is_newer(one, here.get(key))}

    def save(self) -> None:
        """Write the file, whole or not at all."""
        self.save_as(self.path)

    def save_as(self, path: Path) -> None:
        """Write another file of the same results, whole or not at all."""
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_suffix(".part")
        text = "".join(json.dumps(line, separators=(",", ":")) + "\n" for line in self._lines())
        beside.write_text(text, encoding="utf-8")
        beside.replace(path)

    def _lines(self) -> Iterator[Record]:
        for about, kept in (("record", self.records), ("naive", self.naive)):
            for name in sorted(kept):
                for instance in sorted(kept[name], key=_natural):
                    record = kept[name][instance]
                    said = {key for key, one in record.items() if UNSAID.get(key, ...) != one}
                    yield {"about": about} | {key: record[key] for key in sorted(said)}

    def of(self, name: str) -> list[Record]:
        """Return a set's records in the order of their names, the naive reference's beside them."""
        naive, records = self.naive.get(name, {}), self.records.get(name, {})
        return [
            records[one] | ({"naive": naive[one]} if one in naive else {})
            for one in sorted(records, key=_natural)
        ]


def _is_newer(one: Record, than: Record | None) -> bool:
    return than is None or one.get("at", "") > than.get("at", "")


def _natural(name: str) -> list[tuple[int, str]]:
    """Return a key by which numbers within names count as numbers."""
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", name)]
