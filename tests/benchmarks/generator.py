"""Jobs of four kinds, drawn from a seed: what a bench at home, a shop and a factory ask for.

Sizes are those that frames are sold in and, for the rest, odd ones to 1/16 in or 1 mm. Sheets are
those that mat board and backing are sold in. Which sizes are usual is common practice, no source.
`several_sizes` lets the boards of a kind be cut from all of these sheets, at prices or by area;
`with_tool` gives the tool that cuts them a longest cut and a narrowest strip.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from kerfwright.problem.instance import Instance, PieceType, SourceType

__all__ = ["KINDS", "GeneratedBoard", "Kind", "boards", "many_more", "several_sizes", "with_tool"]

SIXTEENTHS = 16
FRAMES_IN = (
    (5, 7), (8, 10), (9, 12), (11, 14), (12, 16), (14, 18), (16, 20), (18, 24), (20, 24),
    (22, 28), (24, 30), (24, 36),
)  # fmt: skip
FRAMES_MM = (
    (130, 180), (150, 200), (180, 240), (200, 300), (240, 300), (280, 350), (300, 400),
    (400, 500), (500, 600), (500, 700), (600, 800), (700, 1000),
)  # fmt: skip
SHEETS_IN = ((32, 40), (40, 60), (48, 96))
SHEETS_MM = ((815, 1120), (1000, 1400))
ODD_SIDES_IN = (4 * SIXTEENTHS, 30 * SIXTEENTHS)
ODD_SIDES_MM = (100, 760)
LONGEST_TO_SHORTEST = 3
SAW_KERF_SIXTEENTHS = 2
SAW_KERF_MM = 3
NO_TURN_SHARE = 0.1
# Of boards sold in several sizes. The price of the smallest sheet, in steps of five cents, and how
# much more or less the same area costs in a larger one.
PRICED_SHARE, LIMITED_SHARE, OFFCUTS_SHARE = 0.5, 0.3, 0.4
PRICES_IN_STEPS, CENTS_A_STEP, DEARER = (120, 500), 5, (0.85, 1.35)
# Of tools with limits: their longest cut, as a share of the sheet's longer side, and the narrowest
# strip, in sixteenths and mm, of half of them.
LONGEST_SHARES, STRIP_SHARE, STRIP_SIXTEENTHS, STRIP_MM = (0.6, 0.95), 0.5, 8, 10
MOST_ON_HAND, MOST_OFFCUTS, OFFCUT_SHARES = 6, 4, (0.25, 0.9)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of job: how many sizes and pieces, how odd, and on how many boards.

    Attributes
    ----------
    odd
        The share of the sizes that no frame is sold in.
    large_sheets
        Whether the larger sheets are used too, not only the commonest.
    """

    name: str
    sizes: tuple[int, int]
    pieces: tuple[int, int]
    odd: float
    boards: tuple[int, int]
    large_sheets: bool


KINDS = (
    Kind("home", (2, 6), (5, 30), 0.0, (1, 1), large_sheets=False),
    Kind("bench", (5, 15), (30, 150), 1 / 3, (1, 3), large_sheets=True),
    Kind("production", (20, 40), (200, 600), 0.8, (1, 1), large_sheets=True),
    Kind("bulk", (60, 60), (2500, 2500), 0.8, (1, 1), large_sheets=True),
)


@dataclass(frozen=True, slots=True)
class GeneratedBoard:
    """One board of one job, ready for the packer."""

    id: str
    instance: Instance


def boards(kind: Kind, jobs: int, seed: int = 1) -> tuple[GeneratedBoard, ...]:
    """Return the boards of `jobs` jobs of one kind; the same for the same seed, always.

    A job's boards ask for the same sizes, as mats and their backers do, of different sheets.
    """
    found: list[GeneratedBoard] = []
    for number in range(jobs):
        # Each job has its own stream, so that more jobs never change the first ones.
        chance = random.Random(f"{kind.name} {seed} {number}")  # noqa: S311 - no secrets here
        metric = chance.random() < 0.5
        wanted = chance.randint(*kind.boards)
        tight = _sheet(chance, kind, metric=metric)
        pieces = _pieces(chance, kind, tight, metric=metric)
        for board in range(wanted):
            sheet = tight if board == 0 else _sheet(chance, kind, metric=metric, least=tight)
            instance = _board(chance, pieces, sheet, metric=metric)
            found.append(GeneratedBoard(f"{kind.name}-{number + 1}.{board + 1}", instance))
    return tuple(found)


def several_sizes(board: GeneratedBoard) -> GeneratedBoard:
    """Return the board cut from every sheet sold; the same for the same board, always.

    Half of such boards have a price for each size, to five cents; the others are planned by area.
    Of some sizes a few sheets are on hand and none to be bought, and some racks hold offcuts.
    """
    chance = random.Random(f"sizes {board.id}")  # noqa: S311 - no secrets here
    instance = board.instance
    first = instance.sources[0]
    metric = (first.width, first.height) in SHEETS_MM
    sold = SHEETS_MM if metric else tuple((w * SIXTEENTHS, h * SIXTEENTHS) for w, h in SHEETS_IN)
    endless = chance.choice([one for one in sold if one[0] >= first.width])
    prices = _prices(chance, sold) if chance.random() < PRICED_SHARE else None
    sheets = tuple(
        SourceType(
            *size,
            size[0] * size[1] if prices is None else prices[size],
            chance.randint(1, MOST_ON_HAND)
            if size != endless and chance.random() < LIMITED_SHARE
            else None,
        )
        for size in sold
    )
    offcuts = _offcuts(chance, sold[0]) if chance.random() < OFFCUTS_SHARE else ()
    return replace(board, instance=replace(instance, sources=(*sheets, *offcuts)))


def with_tool(board: GeneratedBoard) -> GeneratedBoard:
    """Return the board cut with a tool that cannot rip a sheet along its longer side.

    It can cut a sheet across, and along the longest piece. Half of the boards are cut with one that
    cannot take off or leave strips under 1/2 in or 10 mm, where that lets every piece be cut.
    """
    chance = random.Random(f"tool {board.id}")  # noqa: S311 - no secrets here
    instance = board.instance
    sheet = instance.sources[0]
    shorter, longer = sorted((sheet.width, sheet.height))
    most = max(max(piece.width, piece.height) for piece in instance.pieces)
    longest = max(shorter, most, round(chance.uniform(*LONGEST_SHARES) * longer))
    metric = (sheet.width, sheet.height) in SHEETS_MM
    strip = STRIP_MM if metric else STRIP_SIXTEENTHS
    beside = {
        full - side
        for piece in instance.pieces
        for sides in piece.orientations()
        for full, side in zip((sheet.width, sheet.height), sides, strict=True)
    }
    if chance.random() >= STRIP_SHARE or any(0 < rest < strip for rest in beside):
        strip = 0
    return replace(board, instance=replace(instance, longest_cut=longest, narrowest_strip=strip))


def _prices(chance: random.Random, sold: tuple[tuple[int, int], ...]) -> dict[tuple[int, int], int]:
    """Return a price in cents for each size; the smallest sheet's sets the rate by area."""
    steps, least = chance.randint(*PRICES_IN_STEPS), sold[0][0] * sold[0][1]
    found = {}
    for size in sold:
        dearer = 1.0 if size == sold[0] else chance.uniform(*DEARER)
        found[size] = CENTS_A_STEP * round(steps * size[0] * size[1] / least * dearer)
    return found


def _offcuts(chance: random.Random, sheet: tuple[int, int]) -> tuple[SourceType, ...]:
    sizes = {
        (round(chance.uniform(*OFFCUT_SHARES) * sheet[0]),
         round(chance.uniform(*OFFCUT_SHARES) * sheet[1]))
        for _ in range(chance.randint(1, MOST_OFFCUTS))
    }  # fmt: skip
    return tuple(SourceType(width, height, 0, 1) for width, height in sorted(sizes))


def many_more(instance: Instance, times: int) -> Instance:
    """Return the instance with every demand multiplied."""
    more = (replace(piece, demand=piece.demand * times) for piece in instance.pieces)
    return replace(instance, pieces=tuple(more))


def _sheet(
    chance: random.Random,
    kind: Kind,
    *,
    metric: bool,
    least: tuple[int, int] = (0, 0),
) -> tuple[int, int]:
    sold = SHEETS_MM if metric else tuple((w * SIXTEENTHS, h * SIXTEENTHS) for w, h in SHEETS_IN)
    if not kind.large_sheets:
        return sold[0]
    return chance.choice([one for one in sold if one[0] >= least[0] and one[1] >= least[1]])


def _pieces(
    chance: random.Random, kind: Kind, sheet: tuple[int, int], *, metric: bool
) -> tuple[tuple[int, int, int], ...]:
    """Return widths, heights and demands; each piece fits the sheet upright."""
    number = chance.randint(*kind.sizes)
    frames = FRAMES_MM if metric else tuple((w * SIXTEENTHS, h * SIXTEENTHS) for w, h in FRAMES_IN)
    standard = [size for size in frames if _fits(size, sheet)]
    odd = round(kind.odd * number)
    # There are only so many standard sizes; the rest of a long list is odd.
    sizes = chance.sample(standard, min(number - odd, len(standard)))
    while len(sizes) < number:
        size = _odd_size(chance, metric=metric)
        if _fits(size, sheet) and size not in sizes:
            sizes.append(size)
    total = chance.randint(max(kind.pieces[0], number), kind.pieces[1])
    return tuple(
        (*size, demand) for size, demand in zip(sizes, _shared(chance, total, number), strict=True)
    )


def _odd_size(chance: random.Random, *, metric: bool) -> tuple[int, int]:
    low, high = ODD_SIDES_MM if metric else ODD_SIDES_IN
    short = chance.randint(low, high)
    return short, chance.randint(short, min(high, LONGEST_TO_SHORTEST * short))


def _fits(size: tuple[int, int], sheet: tuple[int, int]) -> bool:
    return size[0] <= sheet[0] and size[1] <= sheet[1]


def _shared(chance: random.Random, total: int, among: int) -> list[int]:
    """Return `among` positive numbers that add up to `total`, uneven as orders are."""
    weights = [chance.expovariate(1) + 0.1 for _ in range(among)]
    spare, whole = total - among, sum(weights)
    shares = [1 + int(spare * weight / whole) for weight in weights]
    for number in range(total - sum(shares)):
        shares[number % among] += 1
    return shares


def _board(
    chance: random.Random,
    pieces: tuple[tuple[int, int, int], ...],
    sheet: tuple[int, int],
    *,
    metric: bool,
) -> Instance:
    saw = SAW_KERF_MM if metric else SAW_KERF_SIXTEENTHS
    kerf = chance.choice((0, saw))
    may_turn = chance.random() >= NO_TURN_SHARE
    width, height = sheet
    return Instance(
        tuple(PieceType(w, h, demand, may_turn and w != h) for w, h, demand in pieces),
        (SourceType(width, height, width * height, None),),
        kerf=kerf,
    )
