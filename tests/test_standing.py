"""Layouts that stand already: kept unless cheaper ones are found, under the same bound."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

import kerfwright as kw
from kerfwright.packer.running import Budget, Stopped
from kerfwright.packer.solve import Packed, Stuck
from kerfwright.packer.solve import pack as real_pack
from kerfwright.plan.trees import CutNode, DraftLayout, PieceNode, WasteNode
from kerfwright.planning import Standing
from kerfwright.problem.instance import Instance

INCH = kw.Length.of(1, kw.Unit.INCH)
SHEET = kw.Source(kw.SourceKind.SHEET, None, 32, 40)


def _order(qty: int) -> kw.Order:
    sheets = (kw.SheetSize(kw.Size(INCH * 32, INCH * 40), Fraction(20)),)
    mat = kw.Piece("A", kw.PieceKind.MAT, qty, kw.Size(INCH * 16, INCH * 30), "rag")
    return kw.Order("rest", (mat,), (kw.Board("rag", sheets=sheets),))


def _one_a_sheet(copies: int) -> DraftLayout:
    """One 16 x 30 from the corner of a sheet, the rest left whole beside and below it."""
    piece = PieceNode("A", 0, 0, 16, 30, turned=False)
    strip = CutNode(kw.Axis.Y, 30, 0, 0, 16, 40, piece, WasteNode(0, 30, 16, 10))
    root = CutNode(kw.Axis.X, 16, 0, 0, 32, 40, strip, WasteNode(16, 0, 16, 40))
    return DraftLayout(SHEET, root, copies)


def test_layouts_that_cost_no_more_are_kept() -> None:
    """One 16 x 30 needs one sheet, so the layout that stands is kept, and is proved least."""
    plan = kw.make_plan(_order(1), standing=Standing(INCH, {"rag": (_one_a_sheet(1),)}))
    assert isinstance(plan, kw.Plan)
    (board,) = kw.audit_plan(plan).plan.boards
    assert (board.sheets, board.proved_least) == (1, True)
    (layout,) = board.layouts
    assert [(cut.axis, cut.at) for cut in layout.cuts] == [(kw.Axis.X, 16), (kw.Axis.Y, 30)]


def test_cheaper_layouts_take_their_place() -> None:
    """Two 16 x 30 fit one sheet side by side, so two sheets of one each do not stand."""
    plan = kw.make_plan(_order(2), standing=Standing(INCH, {"rag": (_one_a_sheet(2),)}))
    assert isinstance(plan, kw.Plan)
    (board,) = kw.audit_plan(plan).plan.boards
    assert (board.sheets, board.value, board.proved_least) == (1, Fraction(20), True)


def _packer_without(outcome: object) -> object:
    """Return a stand-in for the packer that finds nothing."""

    def pack(*_: object) -> object:
        if isinstance(outcome, Exception):
            raise outcome
        return outcome

    return pack


@pytest.mark.parametrize("outcome", [Stuck((0,)), Stopped()])
def test_layouts_that_stand_are_a_plan_where_the_packer_has_none(
    outcome: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The packer is stuck, or stopped too soon: what stands is kept, 40 against at least 20.

    Two 16 x 30 are 960 of the 1280 square inches of one sheet: by area one sheet is needed.
    """
    monkeypatch.setattr("kerfwright.packer.solve.pack", _packer_without(outcome))
    plan = kw.make_plan(_order(2), standing=Standing(INCH, {"rag": (_one_a_sheet(2),)}))
    assert isinstance(plan, kw.Plan)
    (board,) = kw.audit_plan(plan).plan.boards
    assert (board.sheets, board.value, board.value_lower_bound) == (2, Fraction(40), Fraction(20))
    assert not board.proved_least
    early = isinstance(outcome, Stopped)
    assert plan.stopped is (kw.Stop.INTERRUPTED if early else kw.Stop.DONE)


def test_layouts_that_stand_are_a_plan_where_the_packer_runs_short(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With one sheet the packer would want another; the layout that stands does with the one."""
    found: list[Packed] = []

    def pack(instance: Instance, budget: Budget) -> Packed:
        made = real_pack(instance, budget)
        assert isinstance(made, Packed)
        dear = replace(made, cost=made.cost * 100, short=(1,))
        found.append(dear)
        return dear

    monkeypatch.setattr("kerfwright.packer.solve.pack", pack)
    order = _order(1)
    (board,) = order.boards
    sheets = (replace(board.sheets[0], on_hand=1, buyable=False),)
    order = replace(order, boards=(replace(board, sheets=sheets),))
    plan = kw.make_plan(order, standing=Standing(INCH, {"rag": (_one_a_sheet(1),)}))
    assert isinstance(plan, kw.Plan)
    assert len(found) == 1
    (done,) = kw.audit_plan(plan).plan.boards
    assert (done.sheets, done.proved_least) == (1, True)


def test_a_sheet_for_what_went_wrong_is_cut_as_the_sheet_that_stands() -> None:
    """Of three sheets of four mats one is cut, one spoiled by its first cut: two alike are left."""
    sheets = (kw.SheetSize(kw.Size(INCH * 32, INCH * 40)),)
    mat = kw.Piece("A", kw.PieceKind.MAT, 12, kw.Size(INCH * 16, INCH * 20), "rag")
    plan = kw.make_plan(kw.Order("twelve", (mat,), (kw.Board("rag", sheets=sheets),)))
    assert isinstance(plan, kw.Plan)
    rest = kw.resume_plan(kw.audit_plan(plan), ["L1/1"], ["L1/2:1=14"]).plan
    assert isinstance(rest, kw.Plan)
    (board,) = kw.audit_plan(rest).plan.boards
    assert [(layout.copies, len(layout.pieces)) for layout in board.layouts] == [(2, 4)]
