"""The documents say what is so: help texts, links, commands and examples."""

from __future__ import annotations

import re
import runpy
import shlex
from pathlib import Path

import pytest
from conftest import Command

import kerfwright as kw

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *ROOT.glob("sample_jobs/*.md")])
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
CODE = re.compile(r"```.*?```|`[^`\n]*`", re.DOTALL)
HEADING = re.compile(r"^#+ +(.+)$", re.MULTILINE)
BLOCK = re.compile(r"```(?P<language>\w*)\n(?P<text>.*?)```", re.DOTALL)
LEDGER_COMMANDS = {
    f"ledger {path.stem.removeprefix('ledger_')}"
    for path in (ROOT / "cli").glob("ledger_*.py")
    if path.stem != "ledger_common"
}
TEST_COMMAND = (
    "python3 -m venv .venv && .venv/bin/pip install -q '.[test]' && .venv/bin/python -m pytest"
)


def named(path: Path) -> str:
    """Return a page's name for a test's own."""
    return str(path.relative_to(ROOT))


def anchors(page: Path) -> set[str]:
    """Return what the page's headings can be linked by."""
    headings = HEADING.findall(
        re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    )
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}


def fenced(path: Path, language: str | None = None) -> list[str]:
    """Return the code blocks of a page, those of one language if it is given."""
    blocks = BLOCK.finditer(path.read_text(encoding="utf-8"))
    return [b["text"] for b in blocks if language in (None, b["language"])]


def words(text: str) -> list[str]:
    """Return a help text as words, without the brackets that typer's versions differ in."""
    return re.sub(r"[\[\]{}<>]", " ", text).split()


def test_the_help_texts_are_the_live_ones() -> None:
    """The docs hold what --help prints; `python docs/refresh_help.py` brings it there."""
    refresh = runpy.run_path(str(ROOT / "docs" / "refresh_help.py"))
    pages = [path.read_text(encoding="utf-8") for path in refresh["PAGES"]]
    commands = {block["command"] for page in pages for block in refresh["BLOCK"].finditer(page)}
    assert commands == {"", "plan", "resume", "verify", "ledger", *LEDGER_COMMANDS}
    for page in pages:
        assert words(refresh["refreshed"](page)) == words(page)


@pytest.mark.parametrize("page", PAGES, ids=named)
def test_every_link_leads_somewhere(page: Path) -> None:
    """Every relative link names a file of the project, and a heading of it if it names one."""
    text = CODE.sub("", page.read_text(encoding="utf-8"))
    for target in LINK.findall(text):
        if re.match(r"[a-z]+:", target):
            continue
        name, _, anchor = target.partition("#")
        path = (page.parent / name).resolve() if name else page
        assert path.exists(), f"{named(page)} links to {target}"
        assert not anchor or anchor in anchors(path), f"{named(page)} links to {target}"


@pytest.mark.parametrize("page", PAGES, ids=named)
def test_every_sample_job_that_is_named_exists(page: Path) -> None:
    """Whatever a page says of a file in sample_jobs, the file is there."""
    for name in re.findall(
        r"sample_jobs/([\w.-]+\.(?:toml|csv|xlsx))", page.read_text(encoding="utf-8")
    ):
        assert (ROOT / "sample_jobs" / name).is_file(), f"{named(page)} names {name}"


def test_every_page_is_in_the_index() -> None:
    """docs/README.md links to every other page of docs/."""
    index = (ROOT / "docs" / "README.md").read_text(encoding="utf-8")
    linked = {target.partition("#")[0] for target in LINK.findall(index)}
    pages = {path.name for path in (ROOT / "docs").glob("*.md")} - {"README.md"}
    assert pages <= linked


def test_the_readme_has_one_command_that_plans() -> None:
    """It makes an environment, installs, and plans a sample job; one for Windows does the same."""
    lines = [line for block in fenced(ROOT / "README.md") for line in block.splitlines()]
    plans = [line for line in lines if "kerfwright plan" in line or "kerfwright.exe plan" in line]
    posix, windows = plans
    start = "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/kerfwright plan "
    assert posix.startswith(start)
    assert "py -m venv .venv" in windows
    assert posix.split("/")[-1] == windows.split("/")[-1].split("\\")[-1]


def test_the_gate_runs_the_readmes_test_command() -> None:
    """README.md has one command that sets up and tests, and .ci/run runs exactly that."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert readme.count(TEST_COMMAND + "\n") == 1
    assert TEST_COMMAND in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def kerfwright_lines() -> list[str]:
    """Return every command line that begins with `kerfwright` in a code block of the docs."""
    blocks = (block for page in PAGES for block in fenced(page))
    lines = (line for block in blocks for line in block.splitlines())
    return [
        line.partition("#")[0]
        for line in lines
        if re.match(r"kerfwright (plan|verify|ledger) ", line)
    ]


def test_the_command_lines_shown_use_options_that_exist() -> None:
    """Every option in an example command line of the docs stands in the help texts."""
    pages = [ROOT / "docs" / name for name in ("command.md", "ledger.md")]
    texts = " ".join(page.read_text(encoding="utf-8") for page in pages)
    known = set(re.findall(r"--[a-z0-9-]+", texts))
    assert len(kerfwright_lines()) > 3
    for line in kerfwright_lines():
        assert {word for word in shlex.split(line) if word.startswith("--")} <= known, line


def test_five_lines_in_a_notebook_do_what_the_command_does(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The Python example of docs/command.md runs, and leaves what the command leaves."""
    (example,) = fenced(ROOT / "docs" / "command.md", "python")
    (tmp_path / "sample_jobs").symlink_to(ROOT / "sample_jobs")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(compile(example, "docs/command.md", "exec"), names)  # noqa: S102  our own page
    assert isinstance(names["audited"], kw.AuditedPlan)
    made = {path.name for path in (tmp_path / "science-fair").iterdir()}
    assert made == {"plan.json", "cut-sheets.pdf", "cuts.csv", ".kerfwright"}


def test_getting_started_shows_what_the_command_prints(
    command: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The summary on the page is the one printed, to the letter."""
    name = "sample_jobs/04-science-fair.toml"
    (tmp_path / "sample_jobs").mkdir()
    (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    monkeypatch.chdir(tmp_path)
    shown, _ = fenced(ROOT / "docs" / "getting-started.md", "text")
    assert command("plan", name).out == shown


def test_getting_started_shows_a_message_as_it_is(
    command: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The table on the page can be planned; with two slips in it, it gives the messages shown."""
    (table,) = fenced(ROOT / "docs" / "getting-started.md", "csv")
    _, shown = fenced(ROOT / "docs" / "getting-started.md", "text")
    monkeypatch.chdir(tmp_path)
    Path("show.csv").write_text(table, encoding="utf-8")
    assert command("plan", "show.csv").status == 0
    slips = table.replace("backer,6,16 x 20", "backer,6,16 x").replace("mat,2,", "mat,two,")
    Path("show.csv").write_text(slips, encoding="utf-8")
    assert command("plan", "show.csv").err == shown


def test_the_changelog_knows_this_version() -> None:
    """CHANGELOG.md has a heading for the version in pyproject.toml, or one that is not out yet."""
    headings = HEADING.findall((ROOT / "CHANGELOG.md").read_text(encoding="utf-8"))
    assert any(kw.__version__ in heading for heading in headings)
