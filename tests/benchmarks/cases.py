"""What is measured: one case an instance, with what is known about its answer.

The published sets are not part of the project. They are read from a folder given on the command
line or in ``KERFWRIGHT_BENCHMARKS``, one JSON file a set: a list of ``instances`` with ``sheets``
``[width, height, stock, cost]`` and ``items`` ``[width, height, quantity, value]``.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from kerfwright.problem.instance import Instance, PieceType, SourceType

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

import generator

__all__ = ["SETS", "BenchmarkSet", "Case", "Known"]

# Jobs of each kind; enough that a share of 98 or 99 in a hundred can be told.
GENERATED = {"home": 30, "bench": 30, "production": 50, "bulk": 4}
SEVERAL = {"home": 30, "bench": 30, "production": 12}
TIMES = 100


@dataclass(frozen=True, slots=True)
class Known:
    """What others say about one answer, each kept apart from the rest.

    Attributes
    ----------
    published
        The value read in a publication.
    recalled
        A value said to be published, but given from memory and not read again.
    computed
        An optimum that a separate exact search found; not published.
    bound
        The best valid bound that came with the data, of whatever source.
    """

    published: int | None = None
    recalled: int | None = None
    computed: int | None = None
    bound: int | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """One instance to measure.

    Attributes
    ----------
    task
        ``plan`` to cover all demands at least cost, or ``best`` for the most valuable single
        sheet.
    values
        Of one piece of each type, for ``best``.
    limits
        Most copies of each type, for ``best``; None for no limit.
    """

    set: str
    id: str
    task: str
    instance: Instance
    known: Known = Known()
    values: tuple[int, ...] = ()
    limits: tuple[int | None, ...] = ()


@dataclass(frozen=True, slots=True)
class BenchmarkSet:
    """A set of cases.

    Attributes
    ----------
    unit
        What plans are counted in: ``sheets``, ``cost`` or ``value``.
    source
        Where its data come from, for the page.
    seconds
        The time that each case gets where nothing else is asked; None for the packer's own.
    """

    name: str
    group: str
    unit: str
    source: str
    load: Callable[[Path], Iterator[Case]]
    seconds: float | None = None
    needs_data: bool = True


def _generated(kind: generator.Kind) -> Callable[[Path], Iterator[Case]]:
    def load(_: Path) -> Iterator[Case]:
        for board in generator.boards(kind, GENERATED[kind.name]):
            yield Case(kind.name, board.id, "plan", board.instance)

    return load


def _otherwise(
    kind: generator.Kind,
    name: str,
    change: Callable[[generator.GeneratedBoard], generator.GeneratedBoard],
) -> Callable[[Path], Iterator[Case]]:
    """Return what loads the boards of a kind under other conditions."""

    def load(_: Path) -> Iterator[Case]:
        for board in generator.boards(kind, SEVERAL[kind.name]):
            yield Case(name, board.id, "plan", change(board).instance)

    return load


def _growth(_: Path) -> Iterator[Case]:
    bulk = next(kind for kind in generator.KINDS if kind.name == "bulk")
    for board in generator.boards(bulk, GENERATED["bulk"]):
        larger = generator.many_more(board.instance, TIMES)
        yield Case("bulk-x100", f"{board.id}-x{TIMES}", "plan", larger)


@cache
def _read(path: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return data


@cache
def _rows(path: Path) -> tuple[dict[str, str], ...]:
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def _number(text: str) -> int | None:
    return int(float(text)) if text else None


def _problem(entry: dict[str, Any], *, turn: bool) -> Instance:
    """Return the instance of an entry; a sheet without a cost costs its area."""
    pieces: dict[tuple[int, int], int] = {}
    for width, height, demand, _ in entry["items"]:
        turned = turn and width != height
        size = (min(width, height), max(width, height)) if turned else (width, height)
        pieces[size] = pieces.get(size, 0) + int(demand)
    sources = tuple(
        SourceType(
            width,
            height,
            width * height if cost is None else int(cost),
            None if stock is None else int(stock),
        )
        for width, height, stock, cost in entry["sheets"]
    )
    return Instance(
        tuple(
            PieceType(width, height, demand, turn and width != height)
            for (width, height), demand in pieces.items()
        ),
        sources,
    )


def _stock(
    name: str, files: tuple[str, ...], *, turn: bool, several: bool = False
) -> Callable[[Path], Iterator[Case]]:
    """Return a loader of cutting-stock files, with the area bounds that came with them.

    With `several`, of the instances with more than one size of sheet; else of the others.
    """

    def load(folder: Path) -> Iterator[Case]:
        bounds = {
            (row["file"], row["id"]): _number(row["sheet_count_area_bound"])
            for row in _rows(folder / "cutting_stock" / "area_bounds.csv")
        }
        for file in files:
            data = _read(folder / "cutting_stock" / file)
            for entry in data["instances"]:
                if (len(entry["sheets"]) > 1) is not several:
                    continue
                label = f"{data['set']}/{entry['id']}" if len(files) > 1 else entry["id"]
                bound = None if several else bounds.get((file, entry["id"]))
                yield Case(name, label, "plan", _problem(entry, turn=turn), Known(bound=bound))

    return load


def _variable(name: str, *, turn: bool) -> Callable[[Path], Iterator[Case]]:
    def load(folder: Path) -> Iterator[Case]:
        data = _read(folder / "bin_packing" / "ps_variable" / "ps_variable.json")
        for entry in data["instances"]:
            yield Case(name, entry["id"], "plan", _problem(entry, turn=turn))

    return load


def _bins(name: str, number: int, *, turn: bool) -> Callable[[Path], Iterator[Case]]:
    """Return a loader of one class of bin packing, with the bounds computed for it."""

    def load(folder: Path) -> Iterator[Case]:
        bins = folder / "bin_packing" / "bwmv"
        column = "lb_rotatable_computed" if turn else "lb_oriented_computed"
        bounds = {row["id"]: _number(row[column]) for row in _rows(bins / "bounds.csv")}
        for entry in _read(bins / f"class{number:02}.json")["instances"]:
            known = Known(bound=bounds[entry["id"]])
            yield Case(name, entry["id"], "plan", _problem(entry, turn=turn), known)

    return load


def _bengtsson(name: str, *, turn: bool) -> Callable[[Path], Iterator[Case]]:
    """Return a loader of Bengtsson's bins, with the area bounds that came with them."""

    def load(folder: Path) -> Iterator[Case]:
        bins = folder / "bin_packing"
        bounds = {
            row["id"]: _number(row["area_bound_sheets"])
            for row in _rows(bins / "area_bounds_other.csv")
            if row["set"] == "beng"
        }
        for entry in _read(bins / "beng" / "beng.json")["instances"]:
            known = Known(bound=bounds[entry["id"]])
            yield Case(name, entry["id"], "plan", _problem(entry, turn=turn), known)

    return load


def _single(name: str, *, turn: bool, limited: bool) -> Callable[[Path], Iterator[Case]]:
    """Return a loader of the single sheets with a known best value, from every file there is."""

    def load(folder: Path) -> Iterator[Case]:
        rows = _rows(folder / "knapsack" / "known_values.csv")
        orientation = "rotatable" if turn else "oriented"
        quantities = "qty_limited" if limited else "unlimited"
        entries = _entries(folder)
        for row in rows:
            asked = (row["orientation"], row["quantities"], row["cut"])
            # HZ2 is left out: its published value is not that of the data, as SOURCES.md says.
            if asked != (orientation, quantities, "guillotine") or row["id"] == "HZ2":
                continue
            # A value for cuts of any kind is a bound on guillotine cuts, and no more.
            free = [_number(one["published_value"]) for one in rows if _is_free(one, row)]
            bounds = [_number(row["computed_upper_bound"]), *free]
            read = row["published_source"].startswith("READ")
            value = _number(row["published_value"])
            known = Known(
                value if read else None,
                None if read else value,
                _number(row["computed_optimum"]),
                min((bound for bound in bounds if bound is not None), default=None),
            )
            key = (row["set_folder"], row["id"])
            yield _single_case(name, key, entries[key], known, turn=turn, limited=limited)

    return load


def _is_free(one: dict[str, str], row: dict[str, str]) -> bool:
    """Return whether a row tells of the same problem as another, but for cuts of any kind."""
    same = ("set_folder", "id", "orientation", "quantities")
    return one["cut"] == "any_cut" and all(one[key] == row[key] for key in same)


def _entries(folder: Path) -> dict[tuple[str, str], dict[str, Any]]:
    return {
        (path.parent.name, entry["id"]): entry
        for path in sorted((folder / "knapsack").glob("*/*.json"))
        for entry in _read(path)["instances"]
    }


def _single_case(
    name: str, key: tuple[str, str], entry: dict[str, Any], known: Known, *,
    turn: bool, limited: bool,
) -> Case:  # fmt: skip
    width, height = entry["sheets"][0][:2]
    items = entry["items"]
    instance = Instance(
        tuple(PieceType(w, h, 1, turn and w != h) for w, h, _, _ in items),
        (SourceType(width, height, width * height, None),),
    )
    values = tuple(w * h if value is None else int(value) for w, h, _, value in items)
    limits = tuple(int(most) if limited and most is not None else None for _, _, most, _ in items)
    return Case(name, "/".join(key), "best", instance, known, values, limits)


INDUSTRIAL = tuple(
    f"industrial/{name}.json"
    for name in (
        "aa", "cz", "is", "ma_furniture", "mg_hardboard", "ss_panel", "test1_multistock",
        "test2_multistock",
    )
)  # fmt: skip
PS = "Pisinger & Sigurd 2005 (every other instance)"
INDUSTRIAL_PAPERS = (
    "Adamowicz & Albano 1976; Israni & Sanders 1982; Morabito & Garcia 1998; "
    "Morabito & Arenales 2000; Cui & Zhao 2013"
)
SIZES_PAPERS = "Skalbeck & Schultz 1976; Yanasse, Zinober & Harris 1991; Morabito & Arenales 2000"
SINGLE_PAPERS = (
    "classic single-sheet sets, 1972 to 2014, among them Herz 1972, Christofides & Whitlock 1977, "
    "Beasley 1985, Fayard, Hifi & Zissimopoulos 1998, Cung, Hifi & Le Cun 2000, "
    "Russo, Sforza & Sterle 2014"
)
SILVA = "Silva, Alvelos & Valério de Carvalho 2010"

SETS: tuple[BenchmarkSet, ...] = (
    *(
        BenchmarkSet(
            kind.name, "own", "sheets", "own generator", _generated(kind), needs_data=False
        )
        for kind in generator.KINDS
    ),
    *(
        BenchmarkSet(
            f"{kind.name}-sizes", "own-sizes", "cost", "own generator",
            _otherwise(kind, f"{kind.name}-sizes", generator.several_sizes), needs_data=False,
        )
        for kind in generator.KINDS[:3]
    ),
    *(
        BenchmarkSet(
            f"{kind.name}-tool", "own-tool", "sheets", "own generator",
            _otherwise(kind, f"{kind.name}-tool", generator.with_tool), needs_data=False,
        )
        for kind in generator.KINDS[:3]
    ),
    BenchmarkSet("bulk-x100", "own", "sheets", "own generator", _growth, needs_data=False),
    BenchmarkSet(
        "mb2d", "stock", "sheets", "Mack & Bortfeldt 2012 (every third instance)",
        _stock("mb2d", ("mb2d/mb2d.json",), turn=True),
    ),
    BenchmarkSet(
        "silva2010-oriented", "stock", "sheets", SILVA,
        _stock("silva2010-oriented", ("silva2010/silva2010.json",), turn=False),
    ),
    BenchmarkSet(
        "silva2010-turned", "stock", "sheets", SILVA,
        _stock("silva2010-turned", ("silva2010/silva2010.json",), turn=True),
    ),
    BenchmarkSet(
        "iyuai", "stock", "sheets", "Imahori, Yagiura, Umetani, Adachi & Ibaraki 2005",
        _stock("iyuai", ("iyuai/iyuai.json",), turn=True),
    ),
    BenchmarkSet(
        "industrial", "stock", "sheets", INDUSTRIAL_PAPERS,
        _stock("industrial", INDUSTRIAL, turn=True),
    ),
    BenchmarkSet(
        "industrial-sizes", "stock", "cost", SIZES_PAPERS,
        _stock("industrial-sizes", INDUSTRIAL, turn=True, several=True),
    ),
    BenchmarkSet(
        "ps_variable-oriented", "stock", "cost", PS, _variable("ps_variable-oriented", turn=False)
    ),
    BenchmarkSet(
        "ps_variable-turned", "stock", "cost", PS, _variable("ps_variable-turned", turn=True)
    ),
    *(
        BenchmarkSet(
            f"bwmv{number:02}-{way}", f"bins-{way}", "sheets",
            "Berkey & Wang 1987" if number <= 6 else "Martello & Vigo 1998",
            _bins(f"bwmv{number:02}-{way}", number, turn=way == "turned"), seconds=10,
        )
        for way in ("turned", "oriented")
        for number in range(1, 11)
    ),
    *(
        BenchmarkSet(
            f"beng-{way}", f"bins-{way}", "sheets", "Bengtsson 1982",
            _bengtsson(f"beng-{way}", turn=way == "turned"), seconds=10,
        )
        for way in ("turned", "oriented")
    ),
    BenchmarkSet(
        "single-oriented", "single", "value", SINGLE_PAPERS,
        _single("single-oriented", turn=False, limited=False),
    ),
    BenchmarkSet(
        "single-turned", "single", "value", SINGLE_PAPERS,
        _single("single-turned", turn=True, limited=False),
    ),
    BenchmarkSet(
        "copies-oriented", "single", "value", SINGLE_PAPERS,
        _single("copies-oriented", turn=False, limited=True), seconds=60,
    ),
    BenchmarkSet(
        "copies-turned", "single", "value", SINGLE_PAPERS,
        _single("copies-turned", turn=True, limited=True), seconds=60,
    ),
)  # fmt: skip
