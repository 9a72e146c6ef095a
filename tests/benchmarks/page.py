"""The tables of a benchmark's results, as Markdown."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from cases import SETS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cases import BenchmarkSet
    from results import Record, Results

__all__ = ["Target", "each", "instances_page", "page", "summary"]

PLAN = "plan"
BEST = "best"
# The goals set for the whole set, with turns: sheets of classes 1 to 4, and the bound of all.
CLASS_GOALS = {"01": 980, "02": 124, "03": 690, "04": 124}
BULK_GROWTH = 1.5
MOST_MIB = 1024


@dataclass(frozen=True, slots=True)
class Target:
    """What the packer sets out to reach on one kind of job.

    Attributes
    ----------
    proved
        Share of boards.
    above
        Most sheets above the bound.
    median, worst
        Packer time, in seconds.
    """

    proved: float
    above: int
    median: float
    worst: float


TARGETS = {
    "home": Target(1.0, 0, 0.05, 1),
    "bench": Target(0.99, 1, 0.3, 10),
    "production": Target(0.98, 1, 3, 20),
    "bulk": Target(0.75, 1, 20, 60),
}

HEAD = """\
# Benchmarks

This page is made by `python tests/benchmarks/run.py --write docs/benchmarks.md` from what that
command measured; nothing on it is written by hand.
Every instance runs in a process of its own, with one worker.
*Time* is that process's CPU time inside the packer, imports apart; *peak* is the most memory the
process ever held, interpreter and imports included.
Every plan is recounted by the benchmark itself before it goes into a table: its layouts fit,
demands and stock are kept, costs add up.
A run may take only some instances of a set; the tables say how many they count.
Results are kept from run to run, and not everything is run again when the packer changes: a time
may be an older packer's, and so may a plan.
*Bound* is a cost that no plan can undercut, as the packer proves it; a plan that meets it is
*proved*.
*Naive* is a general-purpose library for packing rectangles, rectpack, in its guillotine modes: the
best of up to 32 of them, none begun after 10 s, in a process of its own. Kerf is added to pieces
and sheets for it, the limits of the bench are not asked of it, and where one piece of a board may
not turn, none does. Its plans are recounted too; one that no guillotine cuts take apart does not
count. Orders of more than 3,000 pieces are not given to it.
"""
NAIVE = ("naive reference (rectpack, guillotine modes)", "its time, median; worst")


def page(results: Results, singly: str, made_of: str) -> str:
    """Return the page of totals.

    Parameters
    ----------
    singly
        The file that has every instance.
    made_of
        The file of results.
    """
    parts = [
        HEAD + f"Every instance by itself is on [a page of its own]({singly}); both are made of "
        f"[these results]({made_of}), a line each.\n"
    ]
    parts += [_noise(results), _own(results)]
    parts += [_stock(results), _bins(results), _kinds_of_proof(results), _single(results)]
    parts += [_open(results, singly)]
    return "\n".join(part for part in parts if part)


def instances_page(results: Results, totals: str) -> str:
    """Return the page of every instance; `totals` is the file that has the totals."""
    parts = [
        "# Benchmarks, instance by instance\n\n"
        f"This page is made together with [the page of totals]({totals}), which says what the "
        "words mean.\n"
        "*Others' bound* came with the data: by area, or computed, or for cuts of any kind.\n"
        "*Recalled* values are said to be published, but were given from memory and not read "
        "again.\n"
        "A cost is told in sheets where all sheets cost the same.\n"
    ]
    for one in SETS:
        records = results.of(one.name)
        if records:
            parts.append(
                f"## {one.name}\n\n{one.source}. Counted in {one.unit}.\n\n"
                f"{_total(records)}\n\n{each(records)}"
            )
    return "\n".join(parts)


def _total(records: Sequence[Record]) -> str:
    """Return a set's totals as a sentence."""
    settled = sum(map(_is_settled, records))
    planned = _planned(records)
    if not planned:
        return f"Settled: {settled} of {len(records)}."
    return (
        f"Totals: ours {_amount(_sum(planned, 'ours'))}, our bound "
        f"{_amount(_sum(planned, 'bound'))}, {NAIVE[0]} {_naive(records)[0]}. "
        f"Settled: {settled} of {len(records)}."
    )


def summary(one: BenchmarkSet, records: Sequence[Record]) -> str:
    """Return one set's totals in a line, for the terminal."""
    if one.group == "single":
        return " | ".join(_single_row(one, records))
    planned = _planned(records)
    if not planned:
        return f"{one.name}: {len(records)} instances, no plan"
    return (
        f"{one.name}: {len(records)} instances, {_amount(_sum(planned, 'ours'))} {one.unit}, "
        f"bound {_amount(_sum(planned, 'bound'))}, proved {_proved(planned)} of {len(records)}, "
        f"most above the bound {_amount(max(map(_gap, planned)))}, median "
        f"{_seconds(_median(planned))}, worst {_seconds(_worst(planned))}, "
        f"peak {_peak(planned)} MiB"
    )


def each(records: Iterable[Record]) -> str:
    """Return a table of single instances, without the columns that none of them fills."""
    cells = [
        {
            "instance": record["id"],
            "ours": _own_value(record, "ours"),
            "our bound": _own_value(record, "bound"),
            "published": _plain(record, "published"),
            "recalled": _plain(record, "recalled"),
            "computed": _plain(record, "computed"),
            "others' bound": _outside(record),
            "naive": _naive_value(record),
            "naive time, s": _naive_time(record),
            "outcome": _outcome(record),
            "time, s": _seconds(record["cpu"]) if "cpu" in record else "",
            "peak, MiB": str(record.get("peak_mib", "")),
        }
        for record in records
    ]
    names = [name for name in cells[0] if any(row[name] for row in cells)] if cells else []
    return _table(names, [[row[name] for name in names] for row in cells])


def _naive_value(record: Record) -> str:
    answer = record.get("naive")
    if answer is None:
        return ""
    if answer["outcome"] != PLAN:
        return str(answer["outcome"])
    return _amount(int(answer["ours"]) // int(record["unit"]))


def _naive_time(record: Record) -> str:
    answer = record.get("naive", {})
    return _seconds(answer["cpu"]) if "cpu" in answer else ""


def _naive(records: Sequence[Record]) -> tuple[str, str]:
    """Return the naive reference's total and time; on part of a set, with ours for that part."""
    ran = [record for record in records if "naive" in record]
    both = [r for r in _planned(ran) if r["naive"]["outcome"] == PLAN]
    if not both:
        return ("no plan" if ran else "not run"), ""
    total = sum(int(record["naive"]["ours"]) // int(record["unit"]) for record in both)
    told = _amount(total)
    if len(both) < len(records):
        told += f" on {len(both)} of them; ours there {_amount(_sum(both, 'ours'))}"
    times = [float(record["naive"]["cpu"]) for record in both]
    return told, f"{_seconds(statistics.median(times))}; {_seconds(max(times))}"


def _noise(results: Results) -> str:
    rows, machines = [], set()
    for one in SETS:
        samples = [r["reference"] for r in results.of(one.name) if "reference" in r]
        machines |= {sample["machine"] for sample in samples}
        if samples:
            spread = [_spread([sample[kind] for sample in samples]) for kind in _KINDS]
            rows.append((one.name, str(len(samples)), *spread))
    if not rows:
        return ""
    return (
        "## The machine and its noise\n\n"
        "The reference is measured before every tenth instance, in the same run: a fixed set of "
        "array sums such as the packer makes, and importing ortools and matplotlib.\n"
        f"CPU seconds: least, median, most. {'; '.join(sorted(machines))}.\n\n"
        + _table(("set", "times", "array sums", "imports"), rows)
    )


_KINDS = ("sums", "imports")


def _spread(samples: Sequence[float]) -> str:
    return " / ".join(
        f"{one:.2f}" for one in (min(samples), statistics.median(samples), max(samples))
    )


def _own(results: Results) -> str:
    rows = []
    for name, target in TARGETS.items():
        records = results.of(name)
        planned = _planned(records)
        if planned:
            rows.append(_own_row(name, target, records, planned))
    if not rows:
        return ""
    names = (
        "kind", "boards", "sheets", "bound", "proved least", "most above", "time, median; worst",
        "wall, worst", "peak, MiB", *NAIVE, "targets",
    )  # fmt: skip
    return (
        "## Jobs of our own\n\n"
        "Drawn from a seed by `tests/benchmarks/generator.py`: standard frame sizes and odd ones "
        "to 1/16 in or 1 mm, sheets of 32 x 40, 40 x 60 and 48 x 96 in, 815 x 1120 and "
        "1000 x 1400 mm, kerf 0 or about 1/8 in, one board in ten not to be turned.\n"
        "A job's boards count one each.\n\n"
        + _table(names, rows)
        + _growth(results)
        + _own_table(results, "own-sizes", SOLD_IN_SIZES)
        + _own_table(results, "own-tool", WITH_A_TOOL)
    )


SOLD_IN_SIZES = (
    "\nThe same boards cut from all sizes of sheet that are sold, counted in cost.\n"
    "Half of them have prices, to five cents, by which the same area is cheaper or dearer in "
    "a larger sheet; the others are planned by area. Of some sizes a few sheets are on hand "
    "and none to be bought, and some racks hold up to four offcuts.\n\n"
)
WITH_A_TOOL = (
    "\nThe same boards cut with a tool that cannot rip a sheet along its longer side: its longest "
    "cut is 60 to 95 in 100 of that, but as long as the longest piece. About half of the tools "
    "take off or leave no strip under 1/2 in or 10 mm; the bound knows the longest cut, and "
    "without kerf the narrowest strip too.\n\n"
)


def _own_table(results: Results, group: str, told: str) -> str:
    """Return the table of the same boards under other conditions, which are told."""
    rows = []
    for one in SETS:
        records = results.of(one.name)
        planned = _planned(records)
        if one.group == group and planned:
            row = _stock_row(one, records, planned)
            rows.append((row[0], row[3], row[4], row[5], row[7], row[8], *row[10:]))
    if not rows:
        return ""
    names = (
        "kind", "boards", "ours", "our bound", "proved", "most above", "time, median; worst",
        "wall, worst", "peak, MiB", *NAIVE,
    )  # fmt: skip
    return told + _table(names, rows)


def _own_row(
    name: str, target: Target, records: Sequence[Record], planned: Sequence[Record]
) -> tuple[str, ...]:
    proved, above = _proved(planned) / len(records), max(map(_gap, planned))
    median, worst = _median(planned), _worst(planned)
    checks = (
        (proved >= target.proved, f"proved {target.proved:.0%}"),
        (above <= target.above, f"at most {target.above} above"),
        (median <= target.median, f"median {target.median:g} s"),
        (worst <= target.worst, f"worst {target.worst:g} s"),
        (_peak(planned) < MOST_MIB, f"under {MOST_MIB} MiB"),
        (len(planned) == len(records), "a plan for each"),
    )
    missed = [what for met, what in checks if not met]
    return (
        name,
        str(len(records)),
        _amount(_sum(planned, "ours")),
        _amount(_sum(planned, "bound")),
        f"{_proved(planned)} ({proved:.0%})",
        _amount(above),
        f"{_seconds(median)}; {_seconds(worst)}",
        _seconds(max(record.get("wall", 0.0) for record in planned)),
        str(_peak(planned)),
        *_naive(records),
        "met" if not missed else "missed: " + ", ".join(missed),
    )


def _growth(results: Results) -> str:
    small = {f"{record['id']}-x100": record for record in _planned(results.of("bulk"))}
    rows = []
    for record in _planned(results.of("bulk-x100")):
        before = small.get(record["id"])
        if before is not None:
            ratio = record["cpu"] / before["cpu"]
            rows.append(
                (
                    record["id"],
                    _own_value(record, "ours"),
                    _own_value(record, "bound"),
                    _seconds(before["cpu"]),
                    _seconds(record["cpu"]),
                    f"{ratio:.2f}",
                    "met" if ratio <= BULK_GROWTH else f"missed: {BULK_GROWTH:g}",
                )
            )
    if not rows:
        return ""
    names = ("board", "sheets", "bound", "time before", "time x 100", "ratio", "target")
    return "\nThe same bulk orders a hundred times over, 250,000 pieces each:\n\n" + _table(
        names, rows
    )


def _stock(results: Results) -> str:
    rows = []
    for one in SETS:
        records = results.of(one.name)
        planned = _planned(records)
        if one.group == "stock" and planned:
            rows.append(_stock_row(one, records, planned))
    if not rows:
        return ""
    names = (
        "set", "source of the data", "counted in", "instances", "ours", "our bound", "area bound",
        "proved", "most above", "two or more above", "time, median; worst", "wall, worst",
        "peak, MiB", *NAIVE,
    )  # fmt: skip
    return (
        "## Cutting stock\n\n"
        "Every piece must be cut; unlimited stages, no kerf.\n"
        "No published results could be read for these sets, so our plans are held against the "
        "bounds: our own, and that by area, which came with the data.\n"
        "*Most above* is the largest distance of a plan from our bound, in sheets or in per cent "
        "of the cost.\n"
        "The goal is that no plan lies two sheets above our bound; *two or more above* counts "
        "those that do.\n"
        "With several sizes of sheet, or few on hand, ours and the bound are costs; a sheet "
        "without a price costs its area.\n\n" + _table(names, rows)
    )


def _stock_row(
    one: BenchmarkSet, records: Sequence[Record], planned: Sequence[Record]
) -> tuple[str, ...]:
    area = [record["bound"] for record in planned if record.get("bound") is not None]
    outside = [record["outside"] for record in planned if record.get("outside") is not None]
    by_cost = one.unit == "cost"
    above = max(
        100 * (record["ours"] / record["bound"] - 1) if by_cost else _gap(record)
        for record in planned
    )
    return (
        one.name,
        one.source,
        one.unit,
        f"{len(planned)} of {len(records)}" if len(planned) < len(records) else str(len(records)),
        _amount(_sum(planned, "ours")),
        _amount(_sum(planned, "bound")),
        _amount(sum(outside)) if len(outside) == len(area) else "",
        f"{_proved(planned)} ({_proved(planned) / len(records):.0%})",
        f"{above:.2f} %" if by_cost else _amount(above),
        "" if by_cost else str(sum(_gap(record) > 1 for record in planned)),
        f"{_seconds(_median(planned))}; {_seconds(_worst(planned))}",
        _seconds(max(record.get("wall", 0.0) for record in planned)),
        str(_peak(planned)),
        *_naive(records),
    )


def _bins(results: Results) -> str:
    rows = []
    for way in ("turned", "oriented"):
        of_way = [
            one for one in SETS if one.group == f"bins-{way}" and _planned(results.of(one.name))
        ]
        rows += [_bins_row(one.name, results.of(one.name)) for one in of_way]
        classes = [one for one in of_way if one.name.startswith("bwmv")]
        every = [record for one in classes for record in results.of(one.name)]
        if every:
            rows.append(_bins_row(f"all classes, {way}", every))
    if not rows:
        return ""
    names = (
        "class", "instances", "sheets", "goal", "our bound", "computed bound",
        "better bound of both", "proved", "most above our bound", "time, median; worst",
        "peak, MiB", *NAIVE,
    )  # fmt: skip
    return (
        "## Bin packing\n\n"
        "Classes 1 to 6: Berkey & Wang 1987; 7 to 10: Martello & Vigo 1998; the set beng: "
        "Bengtsson 1982. At most 10 s each.\n"
        "No table of guillotine results could be read, and none of any kind for beng: the computed "
        "bound came with the data (for beng it is that by area), and the goals are our own.\n\n"
        + _table(names, rows)
    )


def _bins_row(name: str, records: Sequence[Record]) -> tuple[str, ...]:
    planned = _planned(records)
    ours = _sum(planned, "ours")
    number = name[4:6] if name.endswith("-turned") else ""
    goal = CLASS_GOALS.get(number) if len(planned) == 50 else None
    better = [max(_counted(record, "bound"), record["outside"] or 0) for record in planned]
    settled = sum(
        _counted(record, "ours") == bound for record, bound in zip(planned, better, strict=True)
    )
    return (
        name,
        str(len(records)) if len(planned) == len(records) else f"{len(planned)} of {len(records)}",
        _amount(ours),
        "" if goal is None else f"{goal}: {'met' if ours <= goal else 'missed'}",
        _amount(_sum(planned, "bound")),
        _amount(sum(record["outside"] for record in planned)),
        _amount(sum(better)),
        f"{_proved(planned)} (with the better bound {settled})",
        _amount(max(map(_gap, planned))),
        f"{_seconds(_median(planned))}; {_seconds(_worst(planned))}",
        str(_peak(planned)),
        *_naive(records),
    )


def _kinds_of_proof(results: Results) -> str:
    """Return how often which kind of proof was needed, set by set."""
    rows = []
    for one in SETS:
        planned = _planned(results.of(one.name))
        proved = [record for record in planned if record["ours"] == record["bound"]]
        if not proved:
            continue
        searched = sum(bool(record.get("exhausted")) for record in proved)
        rows.append(
            (
                one.name,
                str(len(planned)),
                str(len(proved) - searched),
                str(searched),
                str(len(planned) - len(proved)),
            )
        )
    if not rows:
        return ""
    names = ("set", "planned", "by piece values", "by a search", "not proved")
    return (
        "## How the plans were proved\n\n"
        "*By piece values*, those of areas among them: plan.json has the values as fractions, and "
        "anyone can recheck the sum; with several sizes of sheet it may take more than one set of "
        "values. *By a search*: layouts were listed, and CP-SAT found that no choice of them does; "
        "a rerun alone can show it again. [How the packer works](packer.md#what-each-bound-proves) "
        "says what each kind is.\n\n" + _table(names, rows)
    )


def _single(results: Results) -> str:
    rows = []
    for one in SETS:
        records = results.of(one.name)
        if one.group == "single" and records:
            rows.append(_single_row(one, records))
    if not rows:
        return ""
    names = (
        "set", "instances", "published values reached", "recalled values reached",
        "computed values reached", "proved best", "time, median; worst", "peak, MiB",
    )  # fmt: skip
    return (
        "## The best single sheet\n\n"
        "The most valuable layout of one sheet, from "
        + next(one.source for one in SETS if one.group == "single")
        + ".\n*Published* values were read in a publication; *recalled* ones are said to be "
        "published, but were given from memory and not read again; *computed* ones come from an "
        "exact search made by others for these data, and are not published.\n"
        "In the sets *copies* each type has a most number of copies; in *single* there is none.\n"
        "HZ2 is left out: its published value is not that of the data.\n"
        "The thirteen instances of Russo, Sforza & Sterle (LU, LW and LX) have hundreds of "
        "millions of part sizes, too many for a table within 1 GiB. Of these only the parts that "
        "may serve a better layout are looked at; where they are still too many, the parts of good "
        "layouts are combined anew, and the best one is left without a proof. A published value "
        "that is exceeded is not the best for these data: the layout's cuts are recounted, by a "
        "reading of their own, and fit the sheet.\n\n" + _table(names, rows)
    )


def _single_row(one: BenchmarkSet, records: Sequence[Record]) -> tuple[str, ...]:
    found = [record for record in records if record["outcome"] == BEST]
    cells = [one.name, str(len(records))]
    for key in ("published", "recalled", "computed"):
        known = [record for record in records if record.get(key) is not None]
        same = sum(record.get("ours") == record[key] for record in known)
        over = sum(record.get("ours", 0) > record[key] for record in known)
        cells.append(f"{same} of {len(known)}" + (f", {over} exceeded" if over else ""))
    cells += [
        f"{_proved(found)} of {len(records)}",
        f"{_seconds(_median(found))}; {_seconds(_worst(found))}" if found else "",
        str(_peak(found)) if found else "",
    ]
    return tuple(cells)


def _open(results: Results, singly: str) -> str:
    """Return what is not settled, counted by set, with the worst instances named."""
    rows = []
    for one in SETS:
        records = results.of(one.name)
        unsettled = [record for record in records if not _is_settled(record)]
        if unsettled:
            worst = sorted(unsettled, key=_shortfall, reverse=True)[:NAMED]
            named = ", ".join(f"{record['id']} ({_short(record)})" for record in worst)
            rest = len(unsettled) - len(worst)
            rows.append(
                (
                    one.name,
                    f"{len(unsettled)} of {len(records)}",
                    named + (f" and {rest} more" if rest else ""),
                )
            )
    if not rows:
        return ""
    return (
        "## What is not settled\n\n"
        "Plans above their bound, best sheets without a proof or other than a published or "
        f"computed value; the worst of each set by name, all of them [instance by "
        f"instance]({singly}).\n\n" + _table(("set", "not settled", "worst"), rows)
    )


NAMED = 6


def _shortfall(record: Record) -> float:
    """Return how far a record is from its bound, as a share; without an answer, further."""
    if "ours" not in record:
        return 2.0
    least, most = sorted((float(record["ours"]), float(record["bound"])))
    return 1 - least / max(1.0, most)


def _short(record: Record) -> str:
    if "ours" not in record:
        return str(record["outcome"])
    return f"{_own_value(record, 'ours')}, bound {_own_value(record, 'bound')}"


def _is_settled(record: Record) -> bool:
    if record["outcome"] == BEST:
        known = {record["published"], record["computed"]} - {None}
        return record["ours"] == record["bound"] and known <= {record["ours"]}
    return bool(record["outcome"] == PLAN and _gap(record) == 0)


def _planned(records: Iterable[Record]) -> list[Record]:
    return [record for record in records if record["outcome"] == PLAN]


def _counted(record: Record, key: str) -> int:
    """Return a value in the unit it is told in: sheets, where all cost the same."""
    return int(record[key]) // int(record["unit"])


def _gap(record: Record) -> int:
    return _counted(record, "ours") - _counted(record, "bound")


def _sum(records: Iterable[Record], key: str) -> int:
    return sum(_counted(record, key) for record in records)


def _proved(records: Iterable[Record]) -> int:
    return sum(record["ours"] == record["bound"] for record in records)


def _median(records: Iterable[Record]) -> float:
    return statistics.median(float(record["cpu"]) for record in records)


def _worst(records: Iterable[Record]) -> float:
    return max(float(record["cpu"]) for record in records)


def _peak(records: Iterable[Record]) -> int:
    return max(int(record["peak_mib"]) for record in records)


def _own_value(record: Record, key: str) -> str:
    return _amount(_counted(record, key)) if "ours" in record else ""


def _plain(record: Record, key: str) -> str:
    return "" if record.get(key) is None else _amount(record[key])


def _outside(record: Record) -> str:
    return _plain(record, "outside")


def _outcome(record: Record) -> str:
    if record["outcome"] not in (PLAN, BEST):
        return str(record["outcome"])
    if _gap(record) != 0:
        return "not proved"
    return "proved, by search" if record.get("exhausted") else "proved"


def _amount(number: int | float) -> str:
    return f"{number:,}"


def _seconds(seconds: float) -> str:
    return f"{seconds:.2f}" if seconds < 10 else f"{seconds:.0f}"


def _table(names: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    lines = ["| " + " | ".join(names) + " |", "|" + "---|" * len(names)]
    lines += ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"
