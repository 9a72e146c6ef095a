"""What several tests share: the worked example of the plan format, made, audited and run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest
from racks import SMALL_ORDER, small_ledger

import kerfwright as kw
from kerfwright.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Ran:
    """How a command line ended."""

    status: int
    out: str
    err: str


Command = Callable[..., Ran]


@pytest.fixture(autouse=True)
def _no_ledger_of_ones_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Keep the tests from the ledger of whoever runs them."""
    monkeypatch.delenv("KERFWRIGHT_LEDGER", raising=False)
    nowhere = tmp_path_factory.getbasetemp() / "nobody"
    for name in ("XDG_DATA_HOME", "LOCALAPPDATA", "HOME"):
        monkeypatch.setenv(name, str(nowhere))


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str]) -> Command:
    """Run a command line in this process, as the installed command would."""
    from kerfwright.cli.main import run

    def ran(*arguments: object) -> Ran:
        capsys.readouterr()
        status = run([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Ran(status, captured.out, captured.err)

    return ran


@pytest.fixture
def rack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ledger:
    """Give a ledger named by the environment, with an order beside it; the folder is the own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KERFWRIGHT_LEDGER", str(tmp_path / "rack.db"))
    (tmp_path / "show.toml").write_text(SMALL_ORDER)
    return small_ledger(tmp_path / "rack.db")


@pytest.fixture
def small_plan() -> kw.Plan:
    """Three 16 x 20 mats from one 32 x 40 sheet at 21.50, in steps of 4 in.

    The sheet is 8 x 10 steps, a mat 4 x 5: two cuts across a first one leave the four quarters,
    three of them mats and one an offcut of 16 x 20 in. One sheet is the least, by the piece
    value 43/8 = 5.375: 3 x 5.375 = 16.125, and no total of sheets at 21.50 lies between that
    and 21.50.
    """
    sheet = kw.Source(kw.SourceKind.SHEET, None, 8, 10)
    quarters = ((0, 0), (0, 5), (4, 0))
    layout = kw.Layout(
        id="L1",
        copies=1,
        source=sheet,
        pieces=tuple(kw.PlacedPiece("A", x, y, 4, 5, turned=False) for x, y in quarters),
        leftovers=(kw.Leftover(kw.LeftoverKind.OFFCUT, 4, 5, 4, 5),),
        cuts=(
            kw.Cut(1, kw.Axis.X, 4, 0, 10, 4, kw.Edge.LEFT),
            kw.Cut(2, kw.Axis.Y, 5, 0, 4, 5, kw.Edge.TOP),
            kw.Cut(3, kw.Axis.Y, 5, 4, 8, 5, kw.Edge.TOP),
        ),
    )
    board = kw.BoardPlan(
        board="warm white rag 4-ply",
        no_turn=False,
        tool=kw.PlanTool("knife", 0, 10, 0),
        trim=kw.PlanTrim(0, 0, 0, 0),
        ordered=(kw.OrderedPiece("A", kw.PieceKind.MAT, 3, 4, 5, turn=True),),
        stock=(kw.StockItem(sheet, Fraction("21.50"), None),),
        sheets=1,
        sheets_lower_bound=1,
        aim=kw.Aim.COST,
        value=Fraction("21.50"),
        value_lower_bound=Fraction("21.50"),
        proved_least=True,
        certificate=kw.Certificate(kw.CertificateKind.PIECE_VALUES, {"A": Fraction(43, 8)}),
        layouts=(layout,),
    )
    return kw.Plan(
        program="kerfwright 0.1.0",
        order="Harbour school summer show",
        order_digest="sha256:" + "0" * 64,
        step=kw.Length.of(4, kw.Unit.INCH),
        unit=kw.Unit.INCH,
        rule=kw.Length.of(Fraction(1, 16), kw.Unit.INCH),
        boards=(board,),
        notes=("The tool was taken to be a knife.",),
    )


@pytest.fixture
def small_audited(small_plan: kw.Plan) -> kw.AuditedPlan:
    """Give the worked example, audited."""
    return kw.audit_plan(small_plan)
