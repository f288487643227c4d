"""A job on the disk: whole or not at all, nothing of someone else's overwritten, and every refusal in words."""

from __future__ import annotations

import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from plumbend.errors import BadFile
from plumbend.job.new_job import new_job_text
from plumbend.job.writing import JobDocument
from support.documents import READING, SHEET, A, add, opened

JOB = "\ufeff# Größe\r\nunits = 'in'\r\n"


def test_bom_line_ends_mode_and_link_are_kept(tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    real.write_bytes(JOB.encode())
    real.chmod(0o640)
    (tmp_path / "job.toml").symlink_to(real)
    document = JobDocument.open(tmp_path / "job.toml")
    document.set_value(("title",), "½")
    document.save()
    assert real.read_bytes() == f'{JOB}title = "½"\r\n'.encode()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert (tmp_path / "job.toml").is_symlink()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.toml", "real.toml"]


def test_a_new_file_has_the_usual_mode(tmp_path: Path) -> None:
    usual = tmp_path / "usual"
    usual.touch()
    document = JobDocument.new(tmp_path / "job.toml", new_job_text(title="x", units="mm", od=1, tube="x"))
    assert not (tmp_path / "job.toml").exists()
    document.save()
    assert (tmp_path / "job.toml").stat().st_mode == usual.stat().st_mode


def test_nothing_is_written_where_nothing_changed(tmp_path: Path) -> None:
    document = opened(tmp_path, JOB)
    before = document.path.stat()
    document.save()
    assert document.path.stat() == before


def fail(*_: object, **__: object) -> None:
    raise OSError(28, "No space left on device")


@pytest.mark.parametrize("failing", ["os.fsync", "os.fdopen", "pathlib.Path.replace", "pathlib.Path.chmod"])
def test_a_disk_that_takes_nothing_leaves_the_file_whole(
    failing: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = opened(tmp_path, JOB)
    add(document)
    with monkeypatch.context() as patch:
        patch.setattr(failing, fail)
        with pytest.raises(BadFile) as told:
            document.save()
    assert str(told.value) == (
        f"{document.path}: the file cannot be written (No space left on device). Nothing of it was touched. Check "
        "that its disk has room and that you may write in its folder, then save."
    )
    assert document.path.read_bytes() == JOB.encode()
    assert list(tmp_path.iterdir()) == [document.path]
    document.save()
    assert JobDocument.open(document.path).data["readings"] == [A]


@pytest.mark.parametrize("moment", ["os.fsync", "pathlib.Path.chmod", "pathlib.Path.replace"])
def test_killed_at_any_moment_the_file_is_whole(moment: str, tmp_path: Path) -> None:
    document = opened(tmp_path, JOB)
    module, _, name = moment.rpartition(".")
    program = (
        "import os, pathlib, sys; from plumbend.job.writing import JobDocument\n"
        "document = JobDocument.open(sys.argv[1]); document.append_reading({'to': 'A'})\n"
        f"{module}.{name} = lambda *_, **__: os._exit(9)\n"
        "document.save()"
    )
    done = subprocess.run([sys.executable, "-c", program, str(document.path)], check=False)
    assert done.returncode == 9
    assert document.path.read_bytes() == JOB.encode()
    assert JobDocument.open(document.path).text() == document.text()


def vanish(path: Path) -> None:
    path.unlink()


def become_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize(
    ("happens", "told"),
    [
        pytest.param(
            lambda path: path.write_text("units = 'mm'"),
            "the file was changed by someone else since it was opened. Nothing was overwritten: open the file again, "
            "and make your last changes again.",
            id="changed",
        ),
        pytest.param(vanish, "the file is gone since it was opened. Put it back where it was, then save.", id="gone"),
        pytest.param(become_folder, "this is a folder, not a file. Name the file inside it.", id="a folder"),
        pytest.param(
            lambda path: path.chmod(0o444),
            "the file is read-only. Take the write protection off, or copy it under another name and go on with the "
            "copy.",
            id="read-only",
        ),
    ],
)
def test_what_happened_since_it_was_opened_is_told(happens: Callable[[Path], Any], told: str, tmp_path: Path) -> None:
    document = opened(tmp_path, JOB)
    add(document)
    happens(document.path)
    before = document.path.read_bytes() if document.path.is_file() else None
    with pytest.raises(BadFile) as fault:
        document.save()
    assert str(fault.value) == f"{document.path}: {told}"
    assert (document.path.read_bytes() if document.path.is_file() else None) == before
    assert document.data["readings"] == [A]


def test_no_file_is_written_where_one_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "tape.csv").write_text(SHEET, encoding="utf-8")
    document = opened(tmp_path, "readings = 'tape.csv'")
    document.append_reading(READING)
    document.set_value(("title",), "x")
    document.path.write_bytes(b"")
    with pytest.raises(BadFile, match="changed by someone else"):
        document.save()
    assert (tmp_path / "tape.csv").read_text(encoding="utf-8") == SHEET


def save_new(path: Path) -> None:
    JobDocument.new(path, new_job_text(title="x", units="mm", od=1, tube="x")).save()


@pytest.mark.parametrize(
    ("act", "told"),
    [
        pytest.param(
            lambda folder: save_new(folder / "there.toml"),
            "there.toml: there is a file or folder of this name already. Choose another name, or open that file and go "
            "on with it.",
            id="a new file that is there",
        ),
        pytest.param(
            lambda folder: save_new(folder / "no" / "job.toml"),
            "no/job.toml: the folder it should lie in is not there. Make that folder first.",
            id="a new file in no folder",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "none.toml"),
            "none.toml: there is no such file. Check the name and the folder that you are in.",
            id="no file",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "folder"),
            "folder: this is a folder, not a file. Name the file inside it.",
            id="a folder",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "latin.toml"),
            "latin.toml, line 2: a character here is not saved as UTF-8. Save the file again as UTF-8.",
            id="not UTF-8",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "broken.toml"),
            'broken.toml, line 2: "title =" has nothing after its equals sign. Type the value.',
            id="no TOML",
        ),
        pytest.param(
            lambda folder: opened(folder, "\nreadings = 3").append_reading(A),
            'job.toml, line 2: "readings" is no list of rows. Write a list of rows, a text block, or the name of a CSV '
            "file.",
            id="no rows",
        ),
        pytest.param(
            lambda folder: opened(folder, 'readings = """\nA \\\nB"""').append_reading("A"),
            "job.toml, line 1: lines of this text block are joined with backslashes. Take the backslashes at the ends "
            "of lines out.",
            id="joined lines",
        ),
        pytest.param(
            lambda folder: opened(folder, "readings = 'none.csv'").append_reading(READING),
            "none.csv: there is no such file. Check the name and the folder that you are in.",
            id="no spreadsheet",
        ),
        pytest.param(
            lambda folder: opened(folder, "readings = 'tape.csv'").append_reading({**READING, "touched": "top"}),
            'tape.csv, line 1: there is no column "touched". Add a heading "touched" at the end of its first row.',
            id="no such column",
        ),
        pytest.param(
            lambda folder: opened(folder, "readings = 'latin.csv'").append_reading({"point": "Ω"}),
            'latin.csv: the letter "Ω" cannot be saved in it. Save the file again as UTF-8.',
            id="no such letter",
        ),
    ],
)
def test_what_cannot_be_done_is_told(act: Callable[[Path], Any], told: str, tmp_path: Path) -> None:
    (tmp_path / "there.toml").touch()
    (tmp_path / "folder").mkdir()
    (tmp_path / "latin.toml").write_bytes(b"\n# Gr\xf6\xdfe")
    (tmp_path / "broken.toml").write_bytes(b"\r\ntitle =\r\n")
    (tmp_path / "tape.csv").write_text(SHEET, encoding="utf-8")
    (tmp_path / "latin.csv").write_bytes(b"point,note\n\xf6,\n")
    with pytest.raises(BadFile) as fault:
        act(tmp_path)
    assert str(fault.value) == f"{tmp_path}/{told}"
    assert (tmp_path / "there.toml").read_bytes() == b""
