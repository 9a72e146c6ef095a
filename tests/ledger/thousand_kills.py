"""Kill a process that works on a ledger, a thousand times at random moments.

``python tests/ledger/thousand_kills.py [KILLS] [SEED]``. After each kill the ledger must be whole,
hold everything that was told as recorded, and nothing twice. The process moves, adds, measures and
undoes, plans jobs, cuts and cancels them; at every start it may also be the first to migrate.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from kerfwright.ledger import Ledger, book_cut, cancel_job, check_ledger
from kerfwright.ledger.rack import add_offcuts, add_sheets, correct, move

TESTS = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(TESTS))


def work(path: str, seed: int) -> None:
    """Do one thing after another for ever, telling each once it is recorded."""
    from racks import BOARD, booked, mats, measured, order, size

    ledger, chance, number = Ledger(path), random.Random(seed), 0  # noqa: S311  not for secrets
    print("begun", flush=True)
    while True:
        number += 1
        token = f"token {seed}.{number}"
        act = chance.randrange(8)
        if act < 3:
            add_offcuts(ledger, [measured("16 x 20", note=token), measured("17 x 21", note=token)])
        elif act == 3:
            first = next(kept for kept in ledger.state().offcuts.values() if kept.here)
            move(ledger, [first.number], token)
        elif act == 4:
            first = next(k for k in ledger.state().offcuts.values() if k.state == "on the rack")
            wide = f"{chance.randrange(12, 30)} x 20"
            if not correct(ledger, first.number, size=size(wide), note=token).number:
                token = ""  # it measured that before, and nothing was recorded
        elif act == 5:
            add_sheets(ledger, BOARD, size("32 x 40"), 1)
            token = ""
        elif act == 6:
            ledger.undo()
            token = ""
        else:
            job = booked(ledger, order(mats("A", 1, "15 x 19")), f"/jobs/{token}").job
            (book_cut if chance.randrange(2) else cancel_job)(ledger, job.number)
            token = ""
        print(token, flush=True)


def told_by(process: subprocess.Popen[str]) -> list[str]:
    """Return the tokens that a killed process told, whole lines only."""
    assert process.stdout is not None
    text = process.stdout.read()
    return [line for line in text[: text.rfind("\n") + 1].splitlines() if line.startswith("token")]


def kill(path: Path, seed: int, chance: random.Random) -> list[str]:
    """Let a process work for a moment, kill it, and return what it told."""
    line = [sys.executable, __file__, "work", str(path), str(seed)]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
    if chance.random() < 0.95:  # else at any moment from its start
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(chance.random() * 0.12)
    else:
        time.sleep(chance.random() * 0.5)
    process.kill()
    process.wait()
    return told_by(process)


def main(kills: int, seed: int) -> None:
    """Kill, look, and go on from what is there."""
    from racks import small_ledger

    chance = random.Random(seed)  # noqa: S311  not for secrets
    saved = TESTS / "data" / "ledgers" / "schema-1.db"
    hot = told = migrations = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ledger.db"
        small_ledger(path)
        for number in range(kills):
            if number % 40 == 0:  # a fresh one, now and then one that must be migrated
                path = Path(folder) / f"ledger-{number}.db"
                if number % 80:
                    migrations += 1
                    shutil.copy(saved, path)
                else:
                    small_ledger(path)
            tokens = kill(path, number, chance)
            hot += Path(f"{path}-journal").exists()
            told += len(tokens)
            checked = check_ledger(Ledger(path))
            assert checked.faults == (), (number, checked.faults)
            notes = Counter(
                (event.note or event.place)
                for event in Ledger(path).events()
                if (event.note or event.place or "").startswith("token")
            )
            for token in tokens:
                assert notes[token] in {1, 2}, (number, token, notes[token])
            entries = {e.entry for e in Ledger(path).events()}
            assert entries == {*range(1, len(entries) + 1)}, number
            if (number + 1) % 100 == 0:
                print(f"{number + 1} kills, {told} entries told, {hot} journals left", flush=True)
    print(
        f"{kills} kills: nothing lost, nothing doubled; {told} entries with a token told, {hot} "
        f"kills left a journal to roll back, {migrations} ledgers migrated on the way"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["work"]:
        work(sys.argv[2], int(sys.argv[3]))
    else:
        main(int((sys.argv[1:2] or ["1000"])[0]), int((sys.argv[2:3] or ["1"])[0]))
