"""The same drawing cut by other cuts: settings left out, and what that may cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import kerfwright as kw
from kerfwright.bench import order_of_cuts

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

# Found among random orders; invented. How many, and of what size in inches.
WORTH_IT = ((2, 9, 12), (6, 30, 2), (1, 3, 17), (5, 20, 24))
CRUMBS = ((3, 30, 2), (2, 20, 30), (8, 20, 24))


def asked(folder: Path, pieces: Sequence[tuple[int, int, int]]) -> tuple[int, int]:
    """Return how often the stop is set, and how many cuts are made, from sheets of 32 x 40."""
    order = folder / "order.toml"
    rows = [
        f'[[mat]]\nlabel = "P{number}"\nqty = {often}\nsize = "{wide} x {high}"\nboard = "w"\n'
        for number, (often, wide, high) in enumerate(pieces)
    ]
    order.write_text('unit = "in"\n' + "".join(rows), encoding="utf-8")
    plan = kw.make_plan(kw.load_order(order))
    assert isinstance(plan, kw.Plan)
    cutting = plan.boards[0].cutting
    assert cutting is not None
    cuts = sum(len(layout.cuts) * layout.copies for layout in plan.boards[0].layouts)
    return cutting.settings, cuts


def test_a_setting_left_out_may_take_some_cuts_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Other cuts of the same drawing spare settings, at no more than so many cuts for each."""
    settings, cuts = asked(tmp_path, WORTH_IT)
    monkeypatch.setattr(order_of_cuts, "MOST_ORDERS", 0)
    before = asked(tmp_path, WORTH_IT)
    spared = before[0] - settings
    assert spared > 0
    assert 0 < cuts - before[1] <= order_of_cuts.CUTS_A_SETTING * spared


def test_scrap_is_not_cut_to_crumbs_to_spare_a_setting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A setting could be left out here, at a dozen cuts more; it is not."""
    plain = asked(tmp_path, CRUMBS)
    monkeypatch.setattr(order_of_cuts, "CUTS_A_SETTING", 1_000)
    settings, cuts = asked(tmp_path, CRUMBS)
    assert settings < plain[0]
    assert cuts - plain[1] > 8
