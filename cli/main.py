"""The command `kerfwright`: joins the commands, and turns every failure into one message."""

from __future__ import annotations

import os
import signal
import sys
import threading
import traceback
from collections.abc import Sequence
from contextlib import suppress
from types import FrameType
from typing import Annotated

import typer

import kerfwright

from . import plan, verify
from .outcomes import INTERRUPTED, Failure, failure_of
from .terminal import CannotPrint, complain, prepare, say

__all__ = ["app", "main", "run"]

app = typer.Typer(
    name="kerfwright",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)
app.add_typer(plan.app)
app.add_typer(verify.app)


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
    if status == INTERRUPTED.status:  # typer makes this of a KeyboardInterrupt
        return _tell(INTERRUPTED, as_json="--json" in arguments)
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

    told = {
        "exit_status": failure.status,
        "failure": failure.kind,
        "messages": list(failure.messages),
    }
    with suppress(CannotPrint):
        say(json.dumps(told, indent=2))


def _end(number: int, frame: FrameType | None) -> None:  # noqa: ARG001  a signal handler's
    raise SystemExit(128 + number)


def _end_cleanly_when_told() -> None:
    """Let a request to end unwind what is being done, so that nothing is left half-written."""
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _end)


def main() -> None:
    """Run the command line of this process."""
    _end_cleanly_when_told()
    try:
        status = run(sys.argv[1:])
    except KeyboardInterrupt:
        status = INTERRUPTED.status
    except SystemExit as ending:
        status = ending.code if isinstance(ending.code, int) else 1
    if threading.active_count() > 1:
        os._exit(status)  # a solver given up in its thread cannot be ended otherwise
    sys.exit(status)
