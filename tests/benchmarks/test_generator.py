"""The benchmark's own jobs: the kinds that they claim to be, and the same every time."""

from __future__ import annotations

from dataclasses import replace

import pytest
from generator import (
    FRAMES_IN,
    FRAMES_MM,
    KINDS,
    SHEETS_IN,
    SHEETS_MM,
    SIXTEENTHS,
    Kind,
    boards,
    many_more,
    several_sizes,
    with_tool,
)

from kerfwright.packer.solve import unreachable
from kerfwright.problem.instance import Instance

STANDARD = {(w * SIXTEENTHS, h * SIXTEENTHS) for w, h in FRAMES_IN} | {*FRAMES_MM}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_job_is_of_its_kind(kind: Kind) -> None:
    """Numbers of sizes and pieces lie where the kind says, and every piece fits upright."""
    for board in boards(kind, 5):
        instance = board.instance
        assert kind.sizes[0] <= len(instance.pieces) <= kind.sizes[1]
        assert kind.pieces[0] <= sum(instance.demands) <= kind.pieces[1]
        assert len({(piece.width, piece.height) for piece in instance.pieces}) == len(
            instance.pieces
        )
        for piece in instance.pieces:
            assert piece.width <= instance.sources[0].width
            assert piece.height <= instance.sources[0].height


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_share_of_the_sizes_is_odd(kind: Kind) -> None:
    """At least the kind's share, to the nearest whole, are not frame sizes; at home none is."""
    for board in boards(kind, 5):
        odd = sum((p.width, p.height) not in STANDARD for p in board.instance.pieces)
        assert odd >= round(kind.odd * len(board.instance.pieces))
        assert odd == 0 or kind.name != "home"


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_boards_sold_in_several_sizes(kind: Kind) -> None:
    """The same pieces from every sheet sold, at a price above nothing; some size never runs out."""
    for board in boards(kind, 5):
        several = several_sizes(board)
        assert several == several_sizes(board)
        assert several.instance.pieces == board.instance.pieces
        sheets = [source for source in several.instance.sources if source.cost]
        sizes = {(sheet.width, sheet.height) for sheet in sheets}
        assert sizes in (
            {*SHEETS_MM},
            {(w * SIXTEENTHS, h * SIXTEENTHS) for w, h in SHEETS_IN},
        )
        endless = [sheet for sheet in sheets if sheet.available is None]
        assert any(
            all(p.width <= s.width and p.height <= s.height for p in several.instance.pieces)
            for s in endless
        )
        offcuts = [source for source in several.instance.sources if not source.cost]
        assert all(offcut.available == 1 for offcut in offcuts)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_boards_cut_with_a_tool(kind: Kind) -> None:
    """The same pieces and sheets; no cut runs along a sheet, and every piece can be cut."""
    for board in boards(kind, 5):
        limited = with_tool(board).instance
        sheet = limited.sources[0]
        assert limited.longest_cut is not None
        assert limited.longest_cut >= min(sheet.width, sheet.height)
        plain = replace(limited, longest_cut=None, narrowest_strip=0)
        assert plain == board.instance
        assert unreachable(limited) == ()


def test_jobs_come_from_their_seed_alone() -> None:
    """The same seed gives the same jobs, another seed others, and more jobs keep the first."""
    bench = KINDS[1]
    assert boards(bench, 3) == boards(bench, 3)
    assert boards(bench, 5)[: len(boards(bench, 3))] == boards(bench, 3)
    assert boards(bench, 3, seed=2) != boards(bench, 3)


def test_bench_jobs_have_one_to_three_boards_of_the_same_sizes() -> None:
    """Boards of one job ask for the same sizes, and all numbers of boards occur."""
    jobs: dict[str, list[Instance]] = {}
    for board in boards(KINDS[1], 30):
        jobs.setdefault(board.id.split(".")[0], []).append(board.instance)
    assert {len(of_job) for of_job in jobs.values()} == {1, 2, 3}
    for of_job in jobs.values():
        sizes = [[(p.width, p.height, p.demand) for p in one.pieces] for one in of_job]
        assert all(other == sizes[0] for other in sizes)


def test_a_hundredfold_order_asks_for_a_hundred_times_as_much() -> None:
    """Demands grow, sizes and sheets stay."""
    instance = boards(KINDS[3], 1)[0].instance
    larger = many_more(instance, 100)
    assert sum(larger.demands) == 250_000
    assert larger.sources == instance.sources
    assert [(p.width, p.height) for p in larger.pieces] == [
        (p.width, p.height) for p in instance.pieces
    ]
