"""Files are written whole or not at all, and over nobody else's."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest

import kerfwright as kw
import kerfwright.drawings
from kerfwright.outputs import check_folder, default_folder, write_outputs
from kerfwright.spreadsheet import cuts_csv
from kerfwright.written import RECORD_NAME

FOREIGN = "Grandmother's recipe for plum cake\n"
PDF = b"%PDF-1.4\n<< /Creator (kerfwright 0.1.0) >>\n%%EOF\n"
MARKS = {"png": b"\x89PNG Software\0kerfwright 0.1.0 ", "svg": b"<dc:title>kerfwright 0.1.0<"}


@pytest.fixture
def pages(monkeypatch: pytest.MonkeyPatch) -> list[bytes]:
    """Draw quickly: a marked PDF, and an image for each of the bytes in the list given."""
    images = [b"page one", b"page two"]

    def draw_pdf(_audited: kw.AuditedPlan, path: Path, **_: object) -> None:
        path.write_bytes(PDF)

    def draw_images(
        _audited: kw.AuditedPlan, folder: Path, kind: str, **_: object
    ) -> tuple[Path, ...]:
        paths = tuple(folder / f"cut-sheets-{n}.{kind}" for n in range(1, len(images) + 1))
        for path, image in zip(paths, images, strict=True):
            path.write_bytes(MARKS[kind] + image)
        return paths

    monkeypatch.setattr(kerfwright.drawings, "draw_pdf", draw_pdf, raising=False)
    monkeypatch.setattr(kerfwright.drawings, "draw_images", draw_images, raising=False)
    return images


def held(folder: Path) -> dict[str, bytes]:
    """Return everything under a folder, hidden files too."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def record(**files: bytes) -> bytes:
    """Return the record of files, by name in alphabetical order."""
    rows = (f'    "{name}": "sha256:{sha256(data).hexdigest()}"' for name, data in files.items())
    listed = ",\n".join(rows)
    head = '{\n  "format": "kerfwright-files",\n  "version": 1,\n  "files": {\n'
    return f"{head}{listed}\n  }}\n}}\n".encode()


def refusal(folder: Path) -> str:
    """Return what checking the folder says."""
    with pytest.raises(kw.InputError) as caught:
        check_folder(folder)
    return str(caught.value)


@pytest.mark.usefixtures("pages")
def test_a_new_folder_gets_the_plan_and_the_pages(
    small_audited: kw.AuditedPlan, tmp_path: Path
) -> None:
    """The folder and those above it are made, and hold the three files and the record of them."""
    folder = tmp_path / "jobs" / "2026" / "show"
    files = write_outputs(small_audited, folder)
    names = ("plan.json", "cut-sheets.pdf", "cuts.csv")
    assert files == tuple(folder / name for name in names)
    expected = kw.plan_to_json(small_audited.plan).encode()
    cuts = cuts_csv(small_audited).encode()
    listed = {"cut-sheets.pdf": PDF, "cuts.csv": cuts, "plan.json": expected}
    assert held(tmp_path) == {
        "jobs/2026/show/plan.json": expected,
        "jobs/2026/show/cut-sheets.pdf": PDF,
        "jobs/2026/show/cuts.csv": cuts,
        "jobs/2026/show/.kerfwright": record(**listed),
    }


@pytest.mark.usefixtures("pages")
def test_the_new_folder_is_open_to_whom_others_are(
    small_audited: kw.AuditedPlan, tmp_path: Path
) -> None:
    """The folder has the rights of any folder made there, not those of the hidden one."""
    (tmp_path / "usual").mkdir()
    write_outputs(small_audited, tmp_path / "show")
    assert (tmp_path / "show").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_a_second_plan_replaces_the_first_and_its_pages(
    small_audited: kw.AuditedPlan, tmp_path: Path, pages: list[bytes]
) -> None:
    """Pages that the second plan does not have are removed; other people's files stay."""
    folder = tmp_path / "show"
    write_outputs(small_audited, folder, ["png", "svg"])
    (folder / "cut-sheets-notes.pdf").write_text(FOREIGN)
    (folder / "invoice.pdf").write_text(FOREIGN)
    pages.pop()
    files = write_outputs(small_audited, folder, ["png"])
    names = ["plan.json", "cut-sheets.pdf", "cuts.csv", "cut-sheets-1.png"]
    assert [path.name for path in files] == names
    assert {*held(folder)} == {path.name for path in files} | {
        RECORD_NAME,
        "cut-sheets-notes.pdf",
        "invoice.pdf",
    }


@pytest.mark.usefixtures("pages")
def test_a_link_to_a_folder_is_followed(small_audited: kw.AuditedPlan, tmp_path: Path) -> None:
    """A symbolic link to a folder is written through and stays a link."""
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_outputs(small_audited, tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert {*held(tmp_path / "real")} == {"plan.json", "cut-sheets.pdf", "cuts.csv", RECORD_NAME}


@pytest.mark.parametrize("name", ["plan.json", "cut-sheets.pdf", "cuts.csv", "cut-sheets-2.png"])
@pytest.mark.usefixtures("pages")
def test_somebody_elses_file_is_not_written_over(
    small_audited: kw.AuditedPlan, tmp_path: Path, name: str
) -> None:
    """A file that kerfwright did not write is named, and it and the folder stay as they were."""
    (tmp_path / name).write_text(FOREIGN)
    with pytest.raises(kw.InputError) as caught:
        write_outputs(small_audited, tmp_path, ["png"])
    assert str(caught.value) == (
        f"{tmp_path / name}: is in the way, and there is no record (.kerfwright) of who wrote it;"
        " move it, or choose another folder with --out"
    )
    assert held(tmp_path) == {name: FOREIGN.encode()}


@pytest.mark.parametrize("name", ["plan.json", "cut-sheets.pdf", "cuts.csv", "cut-sheets-2.png"])
@pytest.mark.usefixtures("pages")
def test_what_has_been_changed_since_is_not_written_over(
    small_audited: kw.AuditedPlan, tmp_path: Path, name: str
) -> None:
    """A plan edited by hand, or pages saved with notes, keep every mark of ours and are theirs."""
    write_outputs(small_audited, tmp_path, ["png"])
    (tmp_path / name).write_bytes((tmp_path / name).read_bytes() + b"\n")
    before = held(tmp_path)
    with pytest.raises(kw.InputError) as caught:
        write_outputs(small_audited, tmp_path, ["png"])
    assert str(caught.value) == (
        f"{tmp_path / name}: has been changed since kerfwright wrote it;"
        " move it, or choose another folder with --out"
    )
    assert held(tmp_path) == before


@pytest.mark.usefixtures("pages")
def test_every_file_in_the_way_is_named(small_audited: kw.AuditedPlan, tmp_path: Path) -> None:
    """Two changed files are told together; moved away, nothing hinders a new plan."""
    files = write_outputs(small_audited, tmp_path)
    for path in files:
        path.write_text(FOREIGN)
    told = refusal(tmp_path).splitlines()
    assert [line.split(": ")[0] for line in told] == [str(path) for path in files]
    for path in files:
        path.rename(tmp_path / f"my {path.name}")
    write_outputs(small_audited, tmp_path)
    assert (tmp_path / "my plan.json").read_text() == FOREIGN


@pytest.mark.usefixtures("pages")
def test_a_file_that_was_never_ours_is_told_as_such(
    small_audited: kw.AuditedPlan, tmp_path: Path
) -> None:
    """In a folder with a record, a file that is not in it is in the way."""
    write_outputs(small_audited, tmp_path)
    (tmp_path / "cut-sheets-1.svg").write_text(FOREIGN)
    with pytest.raises(kw.InputError, match="way, and kerfwright did not write it; move it, or"):
        write_outputs(small_audited, tmp_path, ["svg"])


def test_a_changed_page_that_is_not_in_the_way_stays(
    small_audited: kw.AuditedPlan, tmp_path: Path, pages: list[bytes]
) -> None:
    """A page that the new plan does not have is removed as it was written, and kept with notes."""
    write_outputs(small_audited, tmp_path, ["png"])
    (tmp_path / "cut-sheets-2.png").write_text(FOREIGN)
    pages.pop()
    write_outputs(small_audited, tmp_path, ["png"])
    write_outputs(small_audited, tmp_path)
    names = {"plan.json", "cut-sheets.pdf", "cuts.csv", "cut-sheets-2.png"}
    assert {*held(tmp_path)} == {*names, RECORD_NAME}


@pytest.mark.usefixtures("pages")
def test_a_folder_without_a_record_is_left_alone(
    small_audited: kw.AuditedPlan, tmp_path: Path
) -> None:
    """Our own files without their record cannot be told from edited ones, so they are kept."""
    write_outputs(small_audited, tmp_path)
    (tmp_path / RECORD_NAME).unlink()
    before = held(tmp_path)
    told = refusal(tmp_path).splitlines()
    assert len(told) == 3
    assert all("no record (.kerfwright) of who wrote it; move it, or" in line for line in told)
    assert held(tmp_path) == before


@pytest.mark.parametrize(
    "text",
    [
        "a list of saw kerfs",
        "",
        "[" * 100_000,
        "[]",
        '{"files": 3}',
        record(**{"invoice.pdf": b"x"}).decode(),
        record(**{"../plan.json": b"x"}).decode(),
        record(**{"plan.json": b"x"}).decode() + "\n",
        record(**{"plan.json": b"x"}).decode().replace("sha256:", "sha1:"),
    ],
)
@pytest.mark.usefixtures("pages")
def test_a_record_that_is_none_is_somebody_elses(
    small_audited: kw.AuditedPlan, tmp_path: Path, text: str
) -> None:
    """Whatever lies under the record's name and is not to the letter one of ours stays.

    No record can have other files removed: it lists none but ours, and none elsewhere.
    """
    (tmp_path / RECORD_NAME).write_text(text, encoding="utf-8")
    before = held(tmp_path)
    said = f"{tmp_path / RECORD_NAME}: is in the way, and is not as kerfwright wrote it; move it"
    assert refusal(tmp_path).startswith(said)
    with pytest.raises(kw.InputError):
        write_outputs(small_audited, tmp_path)
    assert held(tmp_path) == before


@pytest.mark.usefixtures("pages")
def test_what_was_deleted_is_not_missed(small_audited: kw.AuditedPlan, tmp_path: Path) -> None:
    """A folder from which somebody took the PDF or the plan can be planned into again."""
    for name in ("plan.json", "cut-sheets.pdf", "cuts.csv"):
        files = write_outputs(small_audited, tmp_path)
        before = held(tmp_path)
        (tmp_path / name).unlink()
        assert write_outputs(small_audited, tmp_path) == files
        assert held(tmp_path) == before


def test_links_and_folders_in_the_way_are_somebody_elses(tmp_path: Path) -> None:
    """A link under the plan's name is not written through, nor a folder of that name replaced."""
    (tmp_path / "elsewhere.json").write_text('{"format": "kerfwright-plan"}')
    (tmp_path / "plan.json").symlink_to(tmp_path / "elsewhere.json")
    assert "plan.json: is in the way" in refusal(tmp_path)
    (tmp_path / "plan.json").unlink()
    (tmp_path / "plan.json").mkdir()
    assert "plan.json: is in the way" in refusal(tmp_path)


def test_a_path_that_is_no_folder_is_refused(tmp_path: Path) -> None:
    """A file, a path below a file, and a link to nothing are each refused by name."""
    (tmp_path / "file").write_text(FOREIGN)
    (tmp_path / "nothing").symlink_to(tmp_path / "gone")
    assert refusal(tmp_path / "file").endswith(
        "file: is not a folder; choose another folder with --out"
    )
    assert "file is not a folder" in refusal(tmp_path / "file" / "below")
    assert "nothing: is not a folder" in refusal(tmp_path / "nothing")


def test_a_folder_that_cannot_be_written_to_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder, or the one that it would be made in, is named before any planning."""
    # Faked, since whoever runs the tests may be allowed to write anywhere.
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert refusal(tmp_path).endswith(": cannot be written to; choose another folder with --out")
    assert f"{tmp_path} cannot be written to" in refusal(tmp_path / "a" / "b")


@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left on device")])
@pytest.mark.parametrize("exists", [True, False])
def test_a_full_disk_leaves_everything_as_it_was(
    small_audited: kw.AuditedPlan,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    error: OSError,
    exists: bool,
) -> None:
    """If the pages cannot be written, no file, folder or parent folder is left."""

    def draw_pdf(_audited: kw.AuditedPlan, path: Path, **_: object) -> None:
        path.write_bytes(PDF[:5])
        raise error

    monkeypatch.setattr(kerfwright.drawings, "draw_pdf", draw_pdf, raising=False)
    monkeypatch.setattr(kerfwright.drawings, "draw_images", draw_pdf, raising=False)
    folder = tmp_path if exists else tmp_path / "a" / "b"
    with pytest.raises(kw.InputError, match="cannot be written to: No space left on device"):
        write_outputs(small_audited, folder)
    assert [*tmp_path.rglob("*")] == []


def test_a_writing_that_is_ended_leaves_everything_as_it_was(
    small_audited: kw.AuditedPlan, tmp_path: Path
) -> None:
    """`between` is asked at each of four pages for the PDF, drawn and saved as images, and at last.

    Cover, layout, checklist and labels: 4 + 4 + 4 + 1 = 13 times; ended at any of them, no file,
    folder or parent folder is left.
    """
    for ending in range(13):
        calls = iter(range(13))

        def between(ending: int = ending, calls: Iterator[int] = calls) -> None:
            if next(calls) == ending:
                raise kw.Interrupted

        with pytest.raises(kw.Interrupted):
            write_outputs(small_audited, tmp_path / "a" / "b", ["png"], between=between)
        assert [*tmp_path.rglob("*")] == []
    asked: list[None] = []
    write_outputs(small_audited, tmp_path / "b", ["png"], between=lambda: asked.append(None))
    assert len(asked) == 13


@pytest.mark.parametrize("failing", range(10))
@pytest.mark.parametrize("error", [PermissionError("open in another program"), KeyboardInterrupt()])
def test_a_move_that_fails_is_undone(
    small_audited: kw.AuditedPlan,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    pages: list[bytes],
    failing: int,
    error: BaseException,
) -> None:
    """Whichever of the ten moves fails, five out and five in, the old files are all back."""
    write_outputs(small_audited, tmp_path, ["png"])
    pages[:] = [b"another page one", b"another page two"]
    before = held(tmp_path)
    calls = iter(range(100))
    replace = Path.replace

    def stumbling(source: Path, target: Path) -> Path:
        if next(calls) == failing:
            raise error
        return replace(source, target)

    monkeypatch.setattr(Path, "replace", stumbling)
    with pytest.raises((kw.InputError, KeyboardInterrupt)):
        write_outputs(small_audited, tmp_path, ["png"])
    assert held(tmp_path) == before
    monkeypatch.setattr(Path, "replace", replace)
    write_outputs(small_audited, tmp_path, ["png"])
    assert held(tmp_path) != before


def test_the_drawings_are_known_again(small_audited: kw.AuditedPlan, tmp_path: Path) -> None:
    """Real pages of every kind are recognised as ours, and replaced."""
    first = write_outputs(small_audited, tmp_path, ["png", "svg"])
    assert {path.suffix for path in first} == {".json", ".pdf", ".csv", ".png", ".svg"}
    before = held(tmp_path)
    assert write_outputs(small_audited, tmp_path, ["png", "svg"]) == first
    assert held(tmp_path) == before
    write_outputs(small_audited, tmp_path)
    assert {*held(tmp_path)} == {"plan.json", "cut-sheets.pdf", "cuts.csv", RECORD_NAME}


def test_the_usual_folder_is_named_after_the_order(tmp_path: Path) -> None:
    """The folder stands beside the order and has its name without the suffix."""
    assert default_folder(tmp_path / "show.toml") == tmp_path / "show"
    assert default_folder(Path("spring.show.csv")) == Path("spring.show")


def test_two_orders_of_one_name_have_a_folder_each(tmp_path: Path) -> None:
    """Beside an order of the same name, an order keeps its suffix in its folder's name."""
    (tmp_path / "show.toml").touch()
    assert default_folder(tmp_path / "show.toml") == tmp_path / "show"
    (tmp_path / "show.csv").touch()
    assert default_folder(tmp_path / "show.toml") == tmp_path / "show-toml"
    assert default_folder(tmp_path / "show.csv") == tmp_path / "show-csv"


def test_an_order_without_a_suffix_does_not_stand_in_its_own_way(tmp_path: Path) -> None:
    """The folder's name differs from the order's."""
    assert default_folder(tmp_path / "show") == tmp_path / "show-plan"
