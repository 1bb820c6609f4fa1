"""The command `oilkit`: lessons laid into a learner's folder, brought up to date, opened where one left off."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilkit.__main__ import main
from oilkit.errors import InputError
from oilkit.storage import lessons
from oilkit.storage.lessons import lay_out, where_left_off
from oilkit.storage.settings import load_folder

ROOT = Path(__file__).resolve().parents[1]
FIRST, SECOND = "00_start_here.ipynb", "02_filling_the_vessel.ipynb"


@pytest.fixture
def kit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A kit of two lessons whose next version a test may write."""
    made = tmp_path / "kit"
    (made / "notebooks" / "pictures").mkdir(parents=True)
    for name in (FIRST, SECOND, "glossary.md", "pictures/cylinder.png"):
        shutil.copy(ROOT / "notebooks" / name, made / "notebooks" / name)
    monkeypatch.setattr(lessons, "PACKAGE", made / "oilkit")
    return made / "notebooks"


def change(path: Path, act: Callable[[Any], None]) -> None:
    notebook = json.loads(path.read_text(encoding="utf-8"))
    act(notebook["cells"])
    path.write_text(json.dumps(notebook), encoding="utf-8")


def run(cells: Any) -> None:
    for cell in cells:
        if cell["cell_type"] == "code":
            cell["execution_count"] = 99
            cell["outputs"] = []


def add(cells: Any) -> None:
    cells.append({"cell_type": "markdown", "metadata": {}, "id": "mine", "source": "my notes"})


def new_version(cells: Any) -> None:
    cells[0]["source"] = "# A better title"


def test_everything_that_a_lesson_shows_is_laid(tmp_path: Path) -> None:
    done = lay_out(tmp_path / "mine")
    kit = ROOT / "notebooks"
    for path in [*kit.glob("*.ipynb"), *kit.glob("*.md"), *kit.glob("pictures/*.png")]:
        name = path.relative_to(kit)
        assert (tmp_path / "mine" / name).read_bytes() == path.read_bytes()
        assert name.as_posix() in done.fresh
    assert done.beside == ()
    assert lay_out(tmp_path / "mine") == lessons.LaidOut((), ())


@pytest.mark.parametrize("lesson", sorted((ROOT / "notebooks").glob(lessons.LESSON)), ids=lambda path: path.stem)
def test_a_lesson_opens_no_file_that_is_not_laid(lesson: Path) -> None:
    cells = json.loads(lesson.read_text(encoding="utf-8"))["cells"]
    code = "".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
    assert "../" not in code
    assert not re.search(r"""["']data/""", code), "a learner's folder has no data/: use data_file"


def test_a_lesson_that_was_only_run_follows_the_kit(kit: Path, tmp_path: Path) -> None:
    lay_out(tmp_path / "mine")
    change(tmp_path / "mine" / SECOND, run)
    assert lay_out(tmp_path / "mine").fresh == ()
    change(kit / SECOND, new_version)
    assert lay_out(tmp_path / "mine").fresh == (SECOND,)
    assert (tmp_path / "mine" / SECOND).read_bytes() == (kit / SECOND).read_bytes()


def test_what_the_learner_changed_stays(kit: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    lay_out(mine)
    change(mine / SECOND, add)
    own = (mine / SECOND).read_bytes()
    for k, name in enumerate(("02_filling_the_vessel (new).ipynb", "02_filling_the_vessel (new 2).ipynb")):
        change(kit / SECOND, lambda cells, k=k: cells[0].update(source=f"# Version {k}"))
        assert lay_out(mine) == lessons.LaidOut((), (name,))
        assert (mine / SECOND).read_bytes() == own
        assert (mine / name).read_bytes() == (kit / SECOND).read_bytes()
        assert lay_out(mine) == lessons.LaidOut((), ())


@pytest.mark.parametrize("content", ["", "no notebook", "[]", '{"cells": 3}'])
def test_a_file_of_the_learner_s_with_a_lesson_s_name_stays(kit: Path, tmp_path: Path, content: str) -> None:
    (tmp_path / SECOND).write_text(content, encoding="utf-8")
    assert lay_out(tmp_path).beside == ("02_filling_the_vessel (new).ipynb",)
    assert (tmp_path / SECOND).read_text(encoding="utf-8") == content


@pytest.mark.parametrize("record", ["", "{", "[1]", '{"02_filling_the_vessel.ipynb": 7}'])
def test_a_damaged_record_costs_no_file(kit: Path, tmp_path: Path, record: str) -> None:
    lay_out(tmp_path)
    change(tmp_path / SECOND, add)
    own = (tmp_path / SECOND).read_bytes()
    (tmp_path / lessons.LAID).write_text(record, encoding="utf-8")
    change(kit / SECOND, new_version)
    lay_out(tmp_path)
    assert (tmp_path / SECOND).read_bytes() == own


def test_it_opens_where_one_left_off(kit: Path, tmp_path: Path) -> None:
    lay_out(tmp_path)
    assert where_left_off(tmp_path).name == FIRST
    change(tmp_path / SECOND, run)
    assert where_left_off(tmp_path).name == SECOND
    change(tmp_path / FIRST, run)
    os.utime(tmp_path / FIRST, (1, 1))
    assert where_left_off(tmp_path).name == SECOND


def test_after_an_update_it_still_opens_where_one_left_off(kit: Path, tmp_path: Path) -> None:
    third = "03_choosing_precharge.ipynb"
    shutil.copy(ROOT / "notebooks" / third, kit / third)
    lay_out(tmp_path)

    def update(words: str) -> None:
        for name in (FIRST, SECOND, third):
            change(kit / name, lambda cells: cells[0].update(source=words))
        assert lay_out(tmp_path).fresh == (FIRST, SECOND, third)

    update("# Nothing has been run yet")
    assert where_left_off(tmp_path).name == FIRST
    change(tmp_path / third, run)
    os.utime(tmp_path / third, (2e9, 2e9))
    change(tmp_path / SECOND, run)
    os.utime(tmp_path / SECOND, (3e9, 3e9))
    for words in ("# The second was run last", "# And nothing since"):
        update(words)
        for _ in range(2):
            assert where_left_off(tmp_path).name == SECOND
            assert lay_out(tmp_path).fresh == ()
    change(tmp_path / third, run)
    os.utime(tmp_path / third, (4e9, 4e9))
    assert where_left_off(tmp_path).name == third


def test_the_command_lays_out_remembers_the_folder_and_opens(
    kit: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from jupyterlab.labapp import LabApp

    opened: list[list[str]] = []
    prepared: list[list[str]] = []
    monkeypatch.setattr("subprocess.Popen", lambda command, **where: prepared.append(command))
    monkeypatch.setattr(LabApp, "launch_instance", classmethod(lambda cls, argv: opened.append(argv)))
    monkeypatch.setattr(Path, "home", classmethod(lambda cls: tmp_path / "home"))
    assert main([]) == 0
    usual = (tmp_path / "home" / "oilkit-lessons").resolve()
    assert opened.pop() == [f"--ServerApp.root_dir={usual}", str(usual / FIRST)]
    assert prepared == [[sys.executable, "-m", "oilkit", "--prepare"]]
    mine = tmp_path / "school work"
    assert main([str(mine), "--no-lab"]) == 0
    assert Path(load_folder()) == mine.resolve()
    change(mine / SECOND, run)
    assert main([]) == 0
    assert opened == [[f"--ServerApp.root_dir={mine.resolve()}", str(mine.resolve() / SECOND)]]
    assert str(mine.resolve()) in capsys.readouterr().out


def test_preparing_leaves_nothing_to_be_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    from oilkit.physics.dynamics import run

    assert main(["--prepare"]) == 0
    compiled = {name: one for name, one in vars(run).items() if hasattr(one, "signatures")}
    assert any(one.signatures for one in compiled.values())


def test_a_folder_that_is_a_file_is_refused(kit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"folder: got a file, notes\.txt"):
        lay_out(tmp_path / "notes.txt")
    assert main([str(tmp_path / "notes.txt"), "--no-lab"]) == 2
    assert "notes.txt" in capsys.readouterr().err
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_a_folder_that_cannot_be_written_is_named(
    kit: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(path: Path, content: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(lessons, "write_safely", full)
    assert main([str(tmp_path / "mine"), "--no-lab"]) == 2
    assert "No space left on device" in capsys.readouterr().err
