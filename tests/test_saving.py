"""What is saved survives kills, full disks, two kernels at once, folders without locks; names of files are judged."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from randomly import examples
from sentences import check_sentence, refused

from oilkit.errors import InputError
from oilkit.exercises.exercise import DONE, NOBODY, Verdict
from oilkit.exercises.progress import Progress
from oilkit.storage import saving
from oilkit.storage.saving import alone, named_file, write_keeping_earlier, write_safely

CRASHES = int(os.environ.get("OILKIT_CRASHES", "3"))
forks = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to start and kill many writers")


def crash(tmp_path: Path, what: str, times: int, writers: int, count: int, kills: int, locks: str = "yes") -> list[int]:
    """Run it in a process of its own; the sums of what it counted."""
    numbers = map(str, (times, writers, count, kills, 7))
    run = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("crashes.py")), what, str(tmp_path), *numbers, locks],
        capture_output=True,
        text=True,
        timeout=590,
    )
    assert run.returncode == 0, run.stderr[-3000:]
    return [int(number) for number in run.stdout.split()]


# ------------------------------------------------------------------------------------------- kills and races, short


@forks
def test_three_kernels_on_one_file_lose_no_answer(tmp_path: Path) -> None:
    told, killed, late, _ = crash(tmp_path, "answers", 1, 3, 20, 0)
    assert (told, killed, late) == (60, 0, 0)


@forks
def test_without_the_systems_locks_they_lose_none_either(tmp_path: Path) -> None:
    """As on some network folders: a marker file stands for the lock."""
    told, killed, late, _ = crash(tmp_path, "answers", 1, 3, 20, 0, "no")
    assert (told, killed, late) == (60, 0, 0)


@forks
def test_units_and_name_chosen_at_once_do_not_undo_each_other(tmp_path: Path) -> None:
    crash(tmp_path, "choices", 1, 3, 20, 0)


@forks
def test_a_kill_while_saving_leaves_the_good_file_at_its_name(tmp_path: Path) -> None:
    _, killed, _ = crash(tmp_path, "generations", 1, 1, 1, 6)
    assert killed == 6


# -------------------------------------------------------------------------------------------- kills and races, long


@forks
@pytest.mark.thorough
@pytest.mark.timeout(0)
@pytest.mark.parametrize("which", range(CRASHES))
def test_eight_kernels_some_killed_lose_nothing_that_was_confirmed(tmp_path: Path, which: int) -> None:
    told, killed, late, _ = crash(tmp_path, "answers", 1, 8, 100, 6)
    assert (told, killed) == (800, 6)
    assert late <= 6


@forks
@pytest.mark.thorough
def test_killed_kernels_in_a_folder_without_locks(tmp_path: Path) -> None:
    told, killed, _, _ = crash(tmp_path, "answers", CRASHES, 3, 20, 1, "no")
    assert (told, killed) == (60 * CRASHES, CRASHES)


@forks
@pytest.mark.thorough
def test_choices_of_killed_kernels_are_whole(tmp_path: Path) -> None:
    killed, _ = crash(tmp_path, "choices", CRASHES, 3, 40, 4)
    assert killed == 4 * CRASHES


@forks
@pytest.mark.thorough
def test_savings_that_are_killed_again_and_again(tmp_path: Path) -> None:
    versions, killed, unfinished = crash(tmp_path, "generations", CRASHES, 1, 1, 10)
    assert killed == 10 * CRASHES
    assert versions >= killed
    assert unfinished > 0, "no kill fell into a write: the test would show nothing"


# -------------------------------------------------------------------------------------------------- earlier versions


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_five_earlier_versions_are_kept_the_newest_first(tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    assert write_keeping_earlier(path, "0\n") == ""
    assert write_keeping_earlier(path, "0\n") == "", "nothing has changed"
    assert names(tmp_path) == ["readings.csv"]
    for k in range(1, 9):
        assert write_keeping_earlier(path, f"{k}\n") == " What was saved before is in readings_earlier_1.csv."
    kept = [(tmp_path / f"readings_earlier_{k}.csv").read_text() for k in range(1, 6)]
    assert (path.read_text(), kept) == ("8\n", ["7\n", "6\n", "5\n", "4\n", "3\n"])
    assert len(names(tmp_path)) == 6


def moves(monkeypatch: pytest.MonkeyPatch, stop_at: int) -> list[tuple[str, str]]:
    """Let the move with this number, and all after it, fail. Returns the list of all that are made."""
    made: list[tuple[str, str]] = []
    real = Path.replace

    def replace(self: Path, target: Path) -> Path:
        if len(made) == stop_at:
            raise OSError(errno.EIO, "Input/output error")
        made.append((self.name, Path(target).name))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    return made


@pytest.mark.parametrize("stop_at", range(7))
def test_stopped_at_any_step_nothing_but_the_oldest_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop_at: int
) -> None:
    path = tmp_path / "readings.csv"
    for k in range(7):
        write_keeping_earlier(path, f"{k}\n")
    with monkeypatch.context() as patch:
        made = moves(patch, stop_at)
        if stop_at < 6:
            with pytest.raises(OSError, match="Input/output"):
                write_keeping_earlier(path, "7\n")
            assert path.read_text() == "6\n"
        else:
            write_keeping_earlier(path, "7\n")
            assert path.read_text() == "7\n"
    assert len(made) == stop_at
    write_keeping_earlier(path, "8\n")
    kept = [(tmp_path / f"readings_earlier_{k}.csv").read_text() for k in range(1, 6)]
    assert path.read_text() == "8\n"
    before = ["7\n", "6\n", "5\n", "4\n", "3\n"] if stop_at == 6 else ["6\n", "5\n", "4\n", "3\n", "2\n"]
    if 0 < stop_at < 6:
        assert kept == before, "a gap is filled before anything is given up"
    else:
        assert kept == before if stop_at else kept[:4] == before[:4]
    assert len(names(tmp_path)) == 6


def test_a_full_disk_gives_up_no_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "readings.csv"
    for k in range(7):
        write_keeping_earlier(path, f"{k}\n")
    before = {place.name: place.read_text() for place in tmp_path.iterdir()}

    def full(number: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for _ in range(3):
        with pytest.raises(OSError, match="No space"):
            write_keeping_earlier(path, "7\n")
    assert {place.name: place.read_text() for place in tmp_path.iterdir()} == before


def test_a_reader_on_windows_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real, refusals = Path.replace, [3]

    def replace(self: Path, target: Path) -> Path:
        if refusals[0]:
            refusals[0] -= 1
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    monkeypatch.setattr(saving, "TRIES", 4)
    write_safely(tmp_path / "a.txt", "new")
    assert (tmp_path / "a.txt").read_text() == "new"
    refusals[0] = 4
    with pytest.raises(PermissionError):
        write_safely(tmp_path / "a.txt", "newer")
    assert names(tmp_path) == ["a.txt"]
    assert (tmp_path / "a.txt").read_text() == "new"


@pytest.mark.skipif(os.name == "nt", reason="links need a right of their own on Windows")
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has other rights")
@pytest.mark.parametrize("mask", [0o022, 0o027, 0o077])
def test_a_new_file_has_the_rights_of_any_other_and_an_old_one_keeps_its_own(tmp_path: Path, mask: int) -> None:
    def rights() -> set[int]:
        return {stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()}

    before = os.umask(mask)
    try:
        write_safely(tmp_path / "a.txt", "1\n")
        write_keeping_earlier(tmp_path / "b.txt", "1\n")
        assert rights() == {0o666 & ~mask}
        for path in tmp_path.iterdir():
            path.chmod(0o640)
        write_safely(tmp_path / "a.txt", "2\n")
        write_keeping_earlier(tmp_path / "b.txt", "2\n")
        assert (len(names(tmp_path)), rights()) == (3, {0o640})
        for path in tmp_path.iterdir():
            path.unlink()
        for k in range(3):
            write_keeping_earlier(tmp_path / "b.txt", f"{k}\n", private=True)
        assert (len(names(tmp_path)), rights()) == (3, {0o600})
        assert os.umask(mask) == mask
    finally:
        os.umask(before)


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "cloud").mkdir()
    (tmp_path / "mine.csv").symlink_to(tmp_path / "cloud" / "mine.csv")
    write_keeping_earlier(tmp_path / "mine.csv", "1\n")
    write_keeping_earlier(tmp_path / "mine.csv", "2\n")
    assert (tmp_path / "mine.csv").is_symlink()
    assert (tmp_path / "cloud" / "mine.csv").read_text() == "2\n"
    assert (tmp_path / "cloud" / "mine_earlier_1.csv").read_text() == "1\n"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a pipe with a name")
def test_what_is_no_file_is_not_replaced_by_one(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "folder.csv").mkdir()
    for name in ("pipe.csv", "folder.csv"):
        for write in (write_safely, write_keeping_earlier):
            with pytest.raises(OSError, match="no file"):
                write(tmp_path / name, "x")
    assert (tmp_path / "pipe.csv").is_fifo()
    assert names(tmp_path) == ["folder.csv", "pipe.csv"]


# ------------------------------------------------------------------------------------------------- unfinished files


def test_what_killed_writers_left_is_swept_and_nothing_else(tmp_path: Path) -> None:
    an_hour_ago = time.time() - 3600.0
    for name, old in ((".oilkit-dead.part", True), (".oilkit-live.part", False), ("download.part", True)):
        (tmp_path / name).write_text("half")
        if old:
            os.utime(tmp_path / name, (an_hour_ago, an_hour_ago))
    write_safely(tmp_path / "a.txt", "whole")
    assert names(tmp_path) == [".oilkit-live.part", "a.txt", "download.part"]


# -------------------------------------------------------------------------------------------------------------- locks


def test_a_lock_that_is_not_let_go_is_told_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(saving, "WAIT", 0.2)
    progress = Progress(NOBODY, tmp_path)
    progress.record(1, "squeezed", "1 psi", Verdict("wrong", ""))
    with alone(progress.path), pytest.raises(TimeoutError, match=r"another program has kept progress\.csv"):
        progress.record(1, "squeezed", "2 psi", Verdict("wrong", ""))
    progress.record(1, "squeezed", "3 psi", Verdict("wrong", ""))
    assert [entry.answer for entry in progress.entries()] == ["1 psi", "3 psi"]


def no_locks(monkeypatch: pytest.MonkeyPatch, *which: str) -> None:
    import filelock

    def refuse(*args: Any, **kwargs: Any) -> Any:
        raise OSError(errno.ENOLCK, "No locks available")

    for name in which:
        monkeypatch.setattr(getattr(filelock, name), "acquire", refuse)


def test_where_the_system_has_no_locks_a_marker_does(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    no_locks(monkeypatch, "FileLock")
    monkeypatch.setattr(saving, "WAIT", 0.2)
    with alone(tmp_path / "a") as told:
        assert told == ""
        assert names(tmp_path) == [".a.held"]
        with pytest.raises(TimeoutError), alone(tmp_path / "a"):
            pass
    assert names(tmp_path) == []


def test_a_marker_of_a_stopped_program_is_taken_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    no_locks(monkeypatch, "FileLock")
    monkeypatch.setattr(saving, "WAIT", 0.2)
    marker = tmp_path / ".a.held"
    marker.write_text("")
    with pytest.raises(TimeoutError), alone(tmp_path / "a"):
        pass
    long_ago = time.time() - 2.0 * saving.HELD
    os.utime(marker, (long_ago, long_ago))
    with alone(tmp_path / "a") as told:
        assert told == ""


def test_without_any_lock_the_work_goes_on_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    no_locks(monkeypatch, "FileLock", "SoftFileLock")
    progress = Progress(NOBODY, tmp_path)
    progress.record(1, "squeezed", "1 psi", Verdict("wrong", ""))
    assert "lets no program lock a file" in progress.told
    assert len(progress.entries()) == 1
    assert write_keeping_earlier(tmp_path / "a.csv", "1") == (
        " The folder of a.csv lets no program lock a file: have one lesson open at a time."
    )


# --------------------------------------------------------------------------------------------------- names of files


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        ("", "no name"),
        ("   ", "no name"),
        (".", "no name"),
        ("/", "no name"),
        ("x" * 300 + ".toml", "a name of 305 letters"),
        ("ü" * 125 + ".toml", "a name of 255 letters"),
        ("a\0b.toml", "no name of a file"),
        ("a\nb.toml", "no name of a file"),
        ("a\ud800.toml", "no name of a file"),
        ("notes.txt", "ending with .toml"),
        ("toml", "ending with .toml"),
        ("cars/blue/x.toml", "there is no folder “cars”"),
        ("there/blue/x.toml", f"there is no folder “{Path('there', 'blue')}”"),
        ("a file/x.toml", "“a file” is a file, no folder"),
        ("~nobody-of-that-name/x.toml", "no home folder"),
    ],
)
def test_a_name_that_cannot_be_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: str, part: str) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there").mkdir()
    (tmp_path / "a file").write_text("x")
    with pytest.raises(InputError) as problem:
        named_file(typed, ".toml", argument="File")
    assert part in str(problem.value)
    check_sentence(str(problem.value), "File")
    assert names(tmp_path) == ["a file", "there"], "no folder is made for a slip"


def test_names_that_are_good(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    for typed, file in (
        ("x.toml", Path("x.toml")),
        (" x.TOML ", Path("x.TOML")),
        ("~/x.toml", tmp_path / "x.toml"),
        ("~x.toml", Path("~x.toml")),
        ("Größe 3.toml", Path("Größe 3.toml")),
        (str(tmp_path / "x.toml"), tmp_path / "x.toml"),
    ):
        assert named_file(typed, ".toml") == file


@examples(300)
@given(st.text(max_size=300))
def test_any_name_is_taken_or_refused_in_a_sentence(typed: str) -> None:
    try:
        named_file(typed, argument="File")
    except InputError as problem:
        sentence = str(problem)
        assert sentence.startswith("File: got ")
        assert sentence.isprintable(), "one line, whatever was typed"
        assert len(sentence) < 300


# ------------------------------------------------------------------------------------------- names typed in the panels


@pytest.fixture
def form(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    from oilkit import panels

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    return panels.your_engine()


def test_what_is_saved_under_a_name_loads_under_that_name(form: Any, tmp_path: Path) -> None:
    for typed in ("x.TOML", "~/y.toml"):
        form._file.value = typed
        form._save.click()
        assert (form.errors, form.trouble) == ([], "")
        assert "Saved" in form._note.value
        form._load.click()
        assert (form.errors, form.trouble) == ([], "")
        assert "Loaded from" in form._note.value
    assert names(tmp_path) == ["x.TOML", "y.toml"]
    assert str(tmp_path / "y.toml") in form._note.value or "y.toml" in form._note.value


@pytest.mark.parametrize("typed", ["x" * 300 + ".toml", "cars/x.toml", "~nobody-of-that-name/x.toml", "", "a\0.toml"])
def test_every_button_refuses_such_a_name_in_a_sentence(form: Any, tmp_path: Path, typed: str) -> None:
    for button in (form._load, form._save, form._html, form._pdf):
        form.show_message("")
        form._file.value = typed
        button.click()
        check_sentence(form.trouble, "File")
    assert form.errors == []
    assert names(tmp_path) == []


def test_a_set_up_saved_over_another_keeps_that_one(form: Any, tmp_path: Path) -> None:
    form._save.click()
    assert "beside this lesson in my_set_up.toml" in form._note.value
    first = (tmp_path / "my_set_up.toml").read_text(encoding="utf-8")
    form.controls["precharge"].slider.value = 21.5
    assert form._note.value == ""
    form._save.click()
    assert "my_set_up_earlier_1.toml" in form._note.value
    assert (tmp_path / "my_set_up_earlier_1.toml").read_text(encoding="utf-8") == first


def test_a_log_with_a_name_that_is_none() -> None:
    from oilkit import panels

    panel = panels.own_log()
    box = panel.controls["log"]
    box.area.value = box.value.replace("lap.csv", "x" * 300)
    assert "a name of 300 letters" in box.error, box.error
    assert panel.errors == []


# ------------------------------------------------------------------------------------------------------- stale notes


@pytest.mark.parametrize("name", ["class_readings", "bench_fit", "your_engine"])
def test_saved_is_not_said_any_more_when_the_next_thing_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    from oilkit import panels

    monkeypatch.chdir(tmp_path)
    panel = getattr(panels, name)()

    def full(number: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    def saved() -> None:
        panel._save.click()
        assert "Saved" in panel._note.value
        assert panel.trouble == ""

    saved()
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        panel._save.click()
        assert "No space left" in panel.trouble
        assert panel._note.value == ""
    saved()
    for path in tmp_path.iterdir():
        path.unlink()
    panel._load.click()
    assert panel.trouble
    assert panel._note.value == ""
    saved()
    amount = next(c for c in panel.controls.values() if getattr(c, "box", None) is not None)
    amount.box.value = "rubbish"
    assert amount.error
    assert panel._note.value == ""
    panel.reset()
    saved()
    monkeypatch.setattr(panel, "update_artists", lambda state: 1 / 0)
    panel.reset()
    assert "ZeroDivisionError" in panel.trouble
    assert panel._note.value == ""


# ----------------------------------------------------------------------------------------------------- answers in words


@examples(200)
@given(st.text(max_size=200))
def test_any_answer_comes_back_whole(tmp_path_factory: pytest.TempPathFactory, typed: str) -> None:
    progress = Progress(NOBODY, tmp_path_factory.mktemp("answers"))
    progress.record(1, "why_slow", typed, Verdict(DONE, ""))
    (entry,) = progress.entries()
    assert entry.answer == typed.replace("\r\n", "\n").replace("\r", "\n").strip()


def test_a_longer_answer_is_refused_and_nothing_is_lost(tmp_path: Path) -> None:
    progress = Progress(NOBODY, tmp_path)
    progress.record(1, "why_slow", "x" * 10_000, Verdict(DONE, ""))
    before = progress.path.read_bytes()
    sentence = refused("answer", lambda: progress.record(1, "why_slow", "x" * 10_001, Verdict(DONE, "")))
    assert "10001 letters" in sentence
    assert progress.path.read_bytes() == before
    assert len(progress.entries()[0].answer) == 10_000
