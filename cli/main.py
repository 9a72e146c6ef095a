"""The command `kerfwright`: joins the commands, and turns every failure into one message."""

from __future__ import annotations

import os
import traceback
from collections.abc import Sequence
from contextlib import suppress
from typing import Annotated

import typer

import kerfwright

from . import ledger, plan, resume, verify
from .interrupts import Ended
from .outcomes import Failure, failure_of
from .terminal import CannotPrint, complain, prepare, say

__all__ = ["app", "run"]

app = typer.Typer(
    name="kerfwright",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)
app.add_typer(plan.app)
app.add_typer(resume.app)
app.add_typer(verify.app)
app.add_typer(ledger.app, name="ledger")


def _show_version(wanted: bool) -> None:
    if wanted:
        say(f"kerfwright {kerfwright.__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def kerfwright_command(
    context: typer.Context,
    version: Annotated[  # noqa: ARG001  its callback acts
        bool,
        typer.Option("--version", help="Show the version.", is_eager=True, callback=_show_version),
    ] = False,
) -> None:
    """Plan how full sheets of board become the mats and backers of an order."""
    if context.invoked_subcommand is None:
        say(context.get_help().rstrip())


def run(arguments: Sequence[str]) -> int:
    """Run one command line and return its exit status; every failure is told here.

    On failure standard error has the message, and with ``--json`` standard output has the same
    for a program.
    """
    prepare()
    try:
        status = app(args=list(arguments), prog_name="kerfwright", standalone_mode=False)
    except Exception as error:
        if os.environ.get("KERFWRIGHT_TRACEBACK"):
            traceback.print_exc()
        return _tell(failure_of(error), as_json="--json" in arguments)
    if status:  # typer makes one of a KeyboardInterrupt, and of nothing else
        return _tell(failure_of(Ended()), as_json="--json" in arguments)
    return 0


def _tell(failure: Failure, *, as_json: bool) -> int:
    lines = failure.messages
    if failure.heading:
        lines = (failure.heading, *(f"  {message}" for message in failure.messages))
    complain("\n".join(lines))
    if as_json:
        _say_json(failure)
    return failure.status


def _say_json(failure: Failure) -> None:
    import json

    told: dict[str, object] = {
        "exit_status": failure.status,
        "failure": failure.kind,
        "messages": list(failure.messages),
    }
    if failure.proved is not None:
        told["proved"] = failure.proved
    with suppress(CannotPrint):
        say(json.dumps(told, indent=2))
