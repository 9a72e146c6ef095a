"""On which line of a TOML text each table and key stands, which tomllib does not tell."""

from __future__ import annotations

import re
from bisect import bisect
from collections.abc import Iterator
from dataclasses import dataclass, field

__all__ = ["Lines", "TableLines", "find_lines"]


@dataclass(slots=True)
class TableLines:
    """The lines of one ``[[table]]``: its header's, and each key's."""

    header: int
    keys: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class Lines:
    """The lines of a whole text; `tables` has the repetitions of each name in file order."""

    top: TableLines
    tables: dict[str, list[TableLines]] = field(default_factory=dict)

    def of(self, name: str, index: int) -> TableLines:
        """Return the lines of the table `name` numbered `index` from 0.

        A table written inline, as in ``mat = [ { … } ]``, stands on the line of its key.
        """
        found = self.tables.get(name, [])
        return found[index] if index < len(found) else TableLines(self.top.keys.get(name, 0))


_SKIPPED = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'  # the closing quotes may follow one or two that are text
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|\#[^\n]*"
    r"|[\[\]{}\n]"
    r"|[^\[\]{}\"'\#\n]+",
    re.DOTALL,
)
_HEADER = re.compile(r"\[\[?\s*([^\[\]]+?)\s*\]")
_KEY = re.compile(r"""("[^"\n]*"|'[^'\n]*'|[A-Za-z0-9_-]+)""")


def find_lines(text: str) -> Lines:
    """Return where the tables and keys of `text`, which must be valid TOML, stand."""
    newlines = [match.start() for match in re.finditer("\n", text)]
    lines = Lines(TableLines(0))
    current = lines.top
    for start, statement in _statements(text):
        line = bisect(newlines, start) + 1
        if statement.startswith("["):
            current = _open_table(lines, statement, line)
        else:
            current.keys.setdefault(_first_key(statement), line)
    return lines


def _open_table(lines: Lines, statement: str, line: int) -> TableLines:
    """Return where to put the keys under a header; a nested table counts as its parent's key."""
    match = _HEADER.match(statement)
    name, *rest = [part.strip(" \t\"'") for part in (match[1] if match else "").split(".")]
    opened = TableLines(line)
    if rest and lines.tables.get(name):
        lines.tables[name][-1].keys.setdefault(rest[0], line)
    else:
        lines.tables.setdefault(name, []).append(opened)
    return opened


def _first_key(statement: str) -> str:
    match = _KEY.match(statement)
    return match[1].strip("\"'") if match else ""


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Yield where each header or key begins, and its text up to the end of its value."""
    position = 0
    while True:
        skipped = _SKIPPED.match(text, position)
        position = skipped.end() if skipped else position
        if position >= len(text):
            return
        end = _statement_end(text, position)
        yield position, text[position:end]
        position = end


def _statement_end(text: str, position: int) -> int:
    depth = 0
    for token in _TOKEN.finditer(text, position):
        if token[0] in "[{":
            depth += 1
        elif token[0] in "]}":
            depth -= 1
        elif token[0] == "\n" and depth <= 0:
            return token.end()
    return len(text)
