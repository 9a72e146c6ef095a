"""Eight processes plan with the same offcut, and set it aside at the same moment.

``python tests/ledger/eight_at_once.py [ROUNDS]``: in each round one wins, and seven are told.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from kerfwright.errors import LedgerError
from kerfwright.ledger import Ledger, check_ledger, set_aside

TESTS = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(TESTS))
EIGHT = 8


def race(path: str, folder: str) -> None:
    """Plan, wait for the word, and set aside."""
    from racks import mats, order, planned

    ledger = Ledger(path)
    plan = planned(ledger, order(mats("A", 1, "16 x 20")), folder)
    print("ready", flush=True)
    sys.stdin.readline()
    try:
        print("won: job", set_aside(ledger, *plan).job.number)
    except LedgerError as error:
        print("told:", error)


def round_of(path: Path) -> list[str]:
    """Return what each of the eight said."""
    racers = [
        subprocess.Popen(
            [sys.executable, __file__, "race", str(path), f"/jobs/{number}"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for number in range(EIGHT)
    ]
    for racer in racers:
        assert racer.stdout is not None
        assert racer.stdout.readline() == "ready\n"
    for racer in racers:
        assert racer.stdin is not None
        racer.stdin.write("\n")
        racer.stdin.flush()
    return [racer.communicate()[0].strip() for racer in racers]


def main(rounds: int) -> None:
    """Race on a fresh ledger each time."""
    from racks import small_ledger

    for number in range(rounds):
        with tempfile.TemporaryDirectory() as folder:
            ledger = small_ledger(Path(folder) / "ledger.db")
            said = round_of(ledger.path)
            won = [line for line in said if line.startswith("won")]
            told = [line for line in said if "offcut 2: no longer to be had" in line]
            assert (len(won), len(told)) == (1, EIGHT - 1), said
            assert check_ledger(ledger).faults == ()
            assert len(ledger.state().jobs) == 1
            print(f"round {number + 1}: {won[0]}; {len(told)} told: {told[0]}", flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["race"]:
        race(sys.argv[2], sys.argv[3])
    else:
        main(int((sys.argv[1:2] or ["5"])[0]))
