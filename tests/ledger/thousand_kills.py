"""Kill a process that works on a ledger, a thousand times at random moments.

``python tests/ledger/thousand_kills.py [KILLS] [SEED]``. After each kill the ledger must be whole,
hold everything that was told as recorded, and nothing twice. The process moves, adds, measures,
counts and undoes, plans jobs, cuts and cancels them, goes on with jobs that are partly cut, and
cuts or cancels these; at every start it may also be the first to migrate.
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

import kerfwright as kw
from kerfwright.ledger import Ledger, book_cut, cancel_job, check_ledger, go_on, set_aside
from kerfwright.ledger.rack import Found, add_offcuts, add_sheets, correct, count_rack, move

TESTS = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(TESTS))


def work(path: str, seed: int) -> None:
    """Do one thing after another for ever, telling each once it is recorded."""
    from racks import mats, order

    ledger, chance, number = Ledger(path), random.Random(seed), 0  # noqa: S311  not for secrets
    # What planning loads is loaded first, or most kills would strike that and not the ledger.
    kw.make_plan(order(mats("A", 1, "15 x 19")))
    print("begun", flush=True)
    while True:
        number += 1
        name = f"{seed}.{number}"
        told = at_the_rack(ledger, f"token {name}", chance)
        if not told:
            without_a_token(ledger, f"job-{name}", chance)
        print(told, flush=True)


def at_the_rack(ledger: Ledger, token: str, chance: random.Random) -> str:
    """Do something that leaves a token in the ledger, and return it; or do nothing."""
    from racks import measured, size

    act = chance.randrange(12)
    free = [kept for kept in ledger.state().offcuts.values() if kept.state == "on the rack"]
    if act < 3 or (act < 5 and not free):
        add_offcuts(ledger, [measured("16 x 20", note=token), measured("17 x 21", note=token)])
        return token
    if act == 3:
        move(ledger, [free[0].number], token)
        return token
    if act == 4:
        wide = f"{chance.randrange(12, 30)} x 20"
        new = correct(ledger, free[0].number, size=size(wide), note=token).number
        return token if new else ""  # it measured that before, and nothing was recorded
    return ""


def without_a_token(ledger: Ledger, name: str, chance: random.Random) -> None:
    """Count, undo, or plan a job, go on with it or not, and cut or cancel it."""
    from racks import BOARD, booked, mats, order, size

    act = chance.randrange(7)
    if act == 0:
        add_sheets(ledger, BOARD, size("32 x 40"), 1)
    elif act == 1:
        ledger.undo()
    elif act == 2:
        there = [kept.number for kept in ledger.state().offcuts.values() if kept.here]
        count_rack(ledger, [Found(one) for one in there[1:]])
    elif act == 3:
        job = booked(ledger, order(mats("A", 1, "15 x 19")), f"/jobs/{name}").job.number
        (book_cut if chance.randrange(2) else cancel_job)(ledger, job)
    else:
        job = resumed(ledger, name)
        (book_cut if chance.randrange(2) else cancel_job)(ledger, job)


def resumed(ledger: Ledger, name: str) -> int:
    """Plan a job, make its last layout's first cut, and put the rest in its place."""
    from racks import mats, order, planned

    folder = ledger.path.with_name(name)
    folder.mkdir()
    offer, audited = planned(ledger, order(mats("A", 3, "15 x 19"), name=name), str(folder))
    file = folder / "plan.json"
    file.write_text(kw.plan_to_json(audited.plan), encoding="utf-8")
    set_aside(ledger, offer, audited)
    layout = audited.plan.boards[0].layouts[-1]
    sheet = f"{layout.id}/1" if layout.copies > 1 else layout.id
    before = kw.resumable(ledger, file, audited.plan)
    assert before is not None
    made = kw.resume_plan(audited, [f"{sheet}:1"], holdings=before.holdings)
    assert not isinstance(made.plan, kw.NoPlan)
    rest = None if made.plan is None else kw.audit_plan(made.plan)
    return go_on(
        ledger, before, made.so_far, made.step, rest, folder=folder.with_name(f"{name}-rest")
    ).job.number


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
        time.sleep(chance.random() * 0.4)
    else:
        time.sleep(chance.random() * 0.5)
    assert process.poll() is None, "it ended before it was killed"
    process.kill()
    process.wait()
    return told_by(process)


def resumes_of(path: Path) -> tuple[int, int]:
    """Return how many jobs of a ledger were gone on with, and how many of these were cancelled."""
    jobs = Ledger(path).state().jobs.values()
    rests = [job for job in jobs if job.plan.get("instead_of")]
    return len(rests), sum(job.state == "cancelled" for job in rests)


def main(kills: int, seed: int) -> None:
    """Kill, look, and go on from what is there."""
    from racks import small_ledger

    chance = random.Random(seed)  # noqa: S311  not for secrets
    saved = TESTS / "data" / "ledgers" / "schema-1.db"
    hot = told = migrations = 0
    went_on: dict[Path, int] = {}
    ended: dict[Path, int] = {}
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
            went_on[path], ended[path] = resumes_of(path)
            entries = {e.entry for e in Ledger(path).events()}
            assert entries == {*range(1, len(entries) + 1)}, number
            if (number + 1) % 100 == 0:
                print(f"{number + 1} kills, {told} entries told, {hot} journals left", flush=True)
    print(
        f"{kills} kills: nothing lost, nothing doubled; {told} entries with a token told, {hot} "
        f"kills left a journal to roll back, {migrations} ledgers migrated on the way; "
        f"{sum(went_on.values())} jobs were gone on with, {sum(ended.values())} of them cancelled "
        "when they were partly cut"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["work"]:
        work(sys.argv[2], int(sys.argv[3]))
    else:
        main(int((sys.argv[1:2] or ["1000"])[0]), int((sys.argv[2:3] or ["1"])[0]))
