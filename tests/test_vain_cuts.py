"""No cut is in vain: what holds no piece is not cut, and no scrap taken from beside leftovers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_bench import SIXTEENTH, bench_of, drafts

import kerfwright as kw
from kerfwright.bench.vain import without_vain_cuts
from kerfwright.plan.trees import CutNode, DraftLayout, PieceNode

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kerfwright.plan.trees import Node

SAMPLES = Path(__file__).parents[1] / "sample_jobs"
Box = tuple[int, int, int, int]  # left, top, right, bottom

# Found among random orders; invented. At a saw, whose strips must not be too narrow.
SAW = """
unit = "in"
[[tool]]
name = "saw"
kind = "table saw"
longest_cut = 60
[[board]]
name = "w"
tool = "saw"
trim = "1/4"
sheets = [{ size = "48 x 96" }]
"""
SAWN = ((6, "14 x 18"), (5, "9 x 11"), (7, "10 3/16 x 13 7/16"))
# The stop was once spared a setting here by taking slice after slice of waste off.
SLICED = ((2, "9 x 12"), (6, "30 x 2"), (1, "3 x 17"), (5, "20 x 24"))


def all_nodes(node: Node | None) -> Iterator[Node]:
    """Yield a tree's nodes."""
    if node is not None:
        yield node
    if isinstance(node, CutNode):
        yield from all_nodes(node.first)
        yield from all_nodes(node.second)


def box(node: Node) -> Box:
    """Return where a node lies."""
    return node.x, node.y, node.x + node.width, node.y + node.height


def pieces(node: Node | None) -> list[Box]:
    """Return where a tree's pieces lie."""
    return sorted(box(one) for one in all_nodes(node) if isinstance(one, PieceNode))


def cuts(root: Node) -> list[CutNode]:
    """Return a tree's cuts."""
    return [one for one in all_nodes(root) if isinstance(one, CutNode)]


def serves(axis: int, at: int, kerf: int, halves: tuple[list[Box], list[Box]]) -> bool:
    """Whether a cut has pieces on both sides, or sets the side of one."""
    first, second = halves
    if first and second:
        return True
    return any(one[axis + 2] == at for one in first) or any(
        one[axis] == at + kerf for one in second
    )


@settings(max_examples=1000, deadline=None)
@given(drafts())
def test_every_cut_that_stays_serves_a_piece(drawn: tuple[list[DraftLayout], int]) -> None:
    """Of trees whose leftovers are all scrap; the pieces lie where they lay."""
    layouts, kerf = drawn
    bench = bench_of(kerf, None, SIXTEENTH)
    for draft in layouts:
        spared = without_vain_cuts(draft, bench, lambda _w, _h: kw.LeftoverKind.SCRAP).root
        assert pieces(spared) == pieces(draft.root)
        assert box(spared) == box(draft.root)
        for cut in cuts(spared):
            axis = 0 if cut.axis is kw.Axis.X else 1
            assert serves(axis, cut.at, kerf, (pieces(cut.first), pieces(cut.second)))
        if all(serves(int(c.axis is kw.Axis.Y), c.at, kerf, (pieces(c.first), pieces(c.second)))
               for c in cuts(draft.root)):  # fmt: skip
            assert spared == draft.root


@settings(max_examples=1000, deadline=None)
@given(drafts())
def test_no_limit_of_the_tool_is_broken(drawn: tuple[list[DraftLayout], int]) -> None:
    """Each cut is at most as long, each strip at least as wide, as those of the tree before."""
    layouts, kerf = drawn
    for draft in layouts:
        longest, narrowest = limits(draft.root, kerf)
        bench = bench_of(kerf, None, SIXTEENTH)
        tool = replace(bench.tool, longest_cut=longest, narrowest_strip=narrowest)
        bench = replace(bench, tool=tool)
        spared = without_vain_cuts(draft, bench, lambda _w, _h: kw.LeftoverKind.SCRAP).root
        assert len(cuts(spared)) <= len(cuts(draft.root))
        found = limits(spared, kerf)
        assert found[0] <= longest
        assert found[1] >= narrowest or not cuts(spared)


def limits(root: Node, kerf: int) -> tuple[int, int]:
    """Return the longest of a tree's cuts, and the narrowest of its strips."""
    lengths, strips = [1], [100]
    for cut in cuts(root):
        begins, size, length = (
            (cut.x, cut.width, cut.height)
            if cut.axis is kw.Axis.X
            else (cut.y, cut.height, cut.width)
        )
        lengths.append(length)
        strips.append(cut.at - begins)
        if begins + size - cut.at - kerf > 0:
            strips.append(begins + size - cut.at - kerf)
    return max(lengths), min(strips)


@settings(max_examples=500, deadline=None)
@given(drafts(), st.integers(1, 40))
def test_strips_of_use_are_still_cut_off(drawn: tuple[list[DraftLayout], int], least: int) -> None:
    """No leftover of so many squares gets smaller, or goes, but into a larger one."""
    layouts, kerf = drawn

    def kind_of(width: int, height: int) -> kw.LeftoverKind:
        return kw.LeftoverKind.OFFCUT if width * height >= least else kw.LeftoverKind.SCRAP

    for draft in layouts:
        spared = without_vain_cuts(draft, bench_of(kerf, None, SIXTEENTH), kind_of).root
        wastes = [box(one) for one in all_nodes(spared) if not isinstance(one, CutNode)]
        for one in all_nodes(draft.root):
            if not isinstance(one, CutNode) and kind_of(one.width, one.height) != "scrap":
                assert any(within(box(one), other) for other in wastes)


def within(inner: Box, outer: Box) -> bool:
    """Whether one box lies in another."""
    return all(inner[n] >= outer[n] and inner[n + 2] <= outer[n + 2] for n in (0, 1))


def vain(board: kw.BoardPlan) -> list[tuple[str, int]]:
    """Return the cuts of a plan that serve nothing, replayed; trims apart."""
    kerf, found = board.tool.kerf, []
    for layout in board.layouts:
        whole = [(p.x, p.y, p.x + p.width, p.y + p.height) for p in layout.pieces]
        left = [(o.x, o.y, o.x + o.width, o.y + o.height, o.kind) for o in layout.leftovers]
        parts: list[Box] = [(0, 0, layout.source.width, layout.source.height)]
        for cut in layout.cuts:
            axis = 0 if cut.axis is kw.Axis.X else 1
            part = next(
                one
                for one in parts
                if one[axis] <= cut.at < one[axis + 2]
                and (one[1 - axis], one[3 - axis]) == (cut.start, cut.end)
            )
            parts.remove(part)
            halves = list(part), list(part)
            halves[0][axis + 2], halves[1][axis] = cut.at, cut.at + kerf
            near, far = (tuple(half) for half in halves)
            parts += [near, far]  # type: ignore[list-item]  # each is a box
            held = [[one for one in whole if within(one, half)] for half in (near, far)]  # type: ignore[arg-type]
            kinds = [{one[4] for one in left if within(one[:4], half)} for half in (near, far)]  # type: ignore[arg-type]
            for mine, kind in zip(held, kinds, strict=True):
                if not mine and kind <= {kw.LeftoverKind.SCRAP}:
                    if not serves(axis, cut.at, kerf, (held[0], held[1])):
                        found.append((layout.id, cut.number))
                    break
            if not held[0] and not held[1] and not any({"trim"} & k for k in kinds):
                found.append((layout.id, cut.number))
    return found


def order_of(head: str, rows: tuple[tuple[int, str], ...]) -> str:
    """Return an order of mats, in inches."""
    mats = (
        f'[[mat]]\nlabel = "P{number}"\nqty = {often}\nsize = "{size}"\nboard = "w"\n'
        for number, (often, size) in enumerate(rows)
    )
    return head + "".join(mats)


@pytest.mark.parametrize("name", ["saw", "sliced", "backs"])
def test_plans_have_no_cut_in_vain(name: str, tmp_path: Path) -> None:
    """Each cut serves a piece, or takes off what is of use."""
    order = tmp_path / "order.toml"
    text = {
        "saw": order_of(SAW, SAWN),
        "sliced": order_of('unit = "in"\n', SLICED),
        "backs": (SAMPLES / "09-hardboard-backs.toml").read_text(encoding="utf-8"),
    }[name]
    order.write_text(text, encoding="utf-8")
    plan = kw.make_plan(kw.load_order(order))
    assert isinstance(plan, kw.Plan)
    kw.audit_plan(plan)
    assert [vain(board) for board in plan.boards] == [[] for _ in plan.boards]
