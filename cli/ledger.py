"""`kerfwright ledger`: joins the commands of the ledger, each in a file of its own."""

from __future__ import annotations

import typer

from . import (
    ledger_add,
    ledger_begin,
    ledger_board,
    ledger_cancel,
    ledger_check,
    ledger_correct,
    ledger_count,
    ledger_cut,
    ledger_export,
    ledger_import,
    ledger_jobs,
    ledger_labels,
    ledger_list,
    ledger_makes,
    ledger_move,
    ledger_show,
    ledger_slips,
    ledger_summary,
    ledger_take,
    ledger_undo,
)

__all__ = ["app"]

app = typer.Typer(
    help="Keep the rack: every offcut, sheet and slip sheet, and what became of it.",
    no_args_is_help=True,
)
for command in (
    ledger_begin, ledger_add, ledger_import, ledger_list, ledger_show, ledger_move, ledger_correct,
    ledger_take, ledger_count, ledger_jobs, ledger_cut, ledger_cancel, ledger_makes, ledger_labels,
    ledger_board, ledger_slips, ledger_summary, ledger_export, ledger_check, ledger_undo,
):  # fmt: skip
    app.add_typer(command.app)
