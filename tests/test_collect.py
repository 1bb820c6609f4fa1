"""Answers brought together: copies, other names, homes of a class server; nothing lost, nothing a neighbor's."""

from __future__ import annotations

import os
import random
import shutil
import sys
from collections import Counter
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from oilkit.errors import InputError
from oilkit.exercises.class_list import pairs, together
from oilkit.exercises.exercise import Owner, Verdict
from oilkit.exercises.progress import Entry, Progress, file_name
from oilkit.storage.saving import write_safely
from oilkit.storage.users import read_learners
from oilkit.teacher.__main__ import main
from oilkit.teacher.collect import Found, gather
from oilkit.teacher.collect import collect as store
from oilkit.teacher.server import write_server

GROUP = "spring class"
ANA, BEN, MAX = (Owner(GROUP, name) for name in ("Ana", "Ben", "Ben Max"))
CLASS = [ANA, BEN, MAX]
PAIR = Owner(GROUP, together("Ana", "Ben"))
RIGHT = Verdict("right", "")


def collect(owners: list[Owner], source: Path, target: Path) -> Found:
    """Found, and stored."""
    found = gather(owners, source, target)
    files = store(found, target)
    assert files == {owner: target / file_name(owner) for owner in found.lines}
    return found


def answered(owner: Owner, folder: Path, *answers: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    progress = Progress(owner, folder)
    for answer in answers:
        progress.record(2, "read_rule", answer, RIGHT)
    return progress.path


def lines(owner: Owner, folder: Path) -> list[str]:
    return [entry.answer for entry in Progress(owner, folder).entries()]


def test_each_learner_s_file_is_found_and_a_second_time_nothing_changes(tmp_path: Path) -> None:
    inbox, out = tmp_path / "inbox", tmp_path / "out"
    answered(ANA, inbox, "1", "2")
    answered(BEN, inbox / "mail" / "from Ben", "3")
    found = collect(CLASS, inbox, out)
    assert list(found.lines) == [ANA, BEN]
    assert (lines(ANA, out), lines(BEN, out)) == (["1", "2"], ["3"])
    assert found.told == ["No file yet: Ben Max."]
    assert found.left_out == []
    before = (out / file_name(ANA)).read_bytes()
    assert collect(CLASS, inbox, out) == found
    assert (out / file_name(ANA)).read_bytes() == before == (inbox / file_name(ANA)).read_bytes()


def test_copies_and_older_ones_count_once_and_are_listed(tmp_path: Path) -> None:
    inbox, out = tmp_path / "inbox", tmp_path / "out"
    path = answered(ANA, inbox, "1", "2")
    for name in ("{} (1)", "{} - Copy", "{} copy 2", "{}(2)", "{}_1", "{} (1) (1)"):
        shutil.copy(path, inbox / f"{name.format(path.stem)}.csv")
    answered(ANA, inbox, "3")
    found = collect([ANA], inbox, out)
    assert lines(ANA, out) == ["1", "2", "3"]
    assert len(found.told) == 6
    assert all("counts for Ana: 0 of its 2 lines are new." in sentence for sentence in found.told)


def test_the_shorter_copy_first_and_the_longer_one_later(tmp_path: Path) -> None:
    inbox, out = tmp_path / "inbox", tmp_path / "out"
    answered(ANA, inbox, "1")
    collect([ANA], inbox, out)
    answered(ANA, inbox, "2")
    collect([ANA], inbox, out)
    assert lines(ANA, out) == ["1", "2"]
    (inbox / file_name(ANA)).unlink()
    answered(ANA, inbox)
    collect([ANA], inbox, out)
    assert lines(ANA, out) == ["1", "2"], "a lost file takes nothing away"


def test_two_computers_of_one_learner_are_united_by_time(tmp_path: Path) -> None:
    def entry(minute: int, answer: str) -> Entry:
        return Entry(f"2030-01-01 10:{minute:02d}:00", 2, "read_rule", answer, "right")

    school, at_home = [entry(k, f"{k}") for k in (1, 4, 4)], [entry(k, f"{k}") for k in (1, 2, 4, 9)]
    for seed in range(6):
        out = Progress(ANA, tmp_path / f"{seed}")
        order = [school, at_home, school]
        random.Random(seed).shuffle(order)
        for one in order:
            out.add_missing(one)
        assert [one.answer for one in out.entries()] == ["1", "2", "4", "4", "9"]


@pytest.mark.parametrize(
    ("name", "owner"),
    [
        ("Ana.csv", ANA), ("answers of ana, week 2.csv", ANA), ("ben_max.csv", MAX), ("progress Ben.csv", BEN),
        ("Ben/progress.csv", BEN), ("Ben Max/my answers.csv", MAX), ("week 2/Ana/progress.csv", ANA),
    ],
)  # fmt: skip
def test_files_of_other_names_count_for_whom_name_or_folder_says(tmp_path: Path, name: str, owner: Owner) -> None:
    inbox = tmp_path / "inbox"
    (inbox / name).parent.mkdir(parents=True)
    shutil.move(answered(owner, tmp_path / "made", "1"), inbox / name)
    found = collect(CLASS, inbox, tmp_path / "out")
    assert list(found.lines) == [owner]
    assert "counts for" in found.told[0]


@pytest.mark.parametrize(
    "name", ["progress.csv", "anabel.csv", "Ana and Ben.csv", "progress-spring-class-cem-00001.csv"]
)
def test_what_belongs_to_nobody_or_to_several_is_left_out_and_listed(tmp_path: Path, name: str) -> None:
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    shutil.move(answered(ANA, tmp_path / "made", "1"), inbox / name)
    found = collect(CLASS, inbox, tmp_path / "out")
    assert found.lines == {}
    assert found.left_out[0].startswith(f"{name}: of nobody on the list")
    assert not list((tmp_path / "out").glob("*.csv"))


def test_what_two_answered_together_counts_for_both(tmp_path: Path) -> None:
    answered(PAIR, tmp_path / "inbox", "1")
    found = collect(CLASS, tmp_path / "inbox", tmp_path / "out")
    assert list(found.lines) == [PAIR]
    assert found.told == ["No file yet: Ben Max."]


def test_a_file_whose_name_two_pairs_share_is_nobody_s_and_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a letter from A to Z the names of files are five digits, and pairs are many."""
    owners = [Owner("班", chr(0x4E00 + k)) for k in range(60)]
    both = pairs(owners)
    often = Counter(map(file_name, both))
    one = next(pair for pair in both if often[file_name(pair)] == 2)
    other = next(pair for pair in both if pair != one and file_name(pair) == file_name(one))
    alone = next(pair for pair in both if often[file_name(pair)] == 1)
    answered(one, tmp_path, "1")
    answered(alone, tmp_path, "2")
    found = gather(owners, tmp_path)
    assert list(found.lines) == [alone]
    assert found.left_out[0].startswith(f"{file_name(one)}: of nobody on the list")
    home = tmp_path / "home"
    answered(other, home, "3")
    monkeypatch.setattr("oilkit.teacher.collect._homes", lambda users: [(home, both[other][0])])
    write_server(owners, tmp_path / "server")
    assert list(gather([], tmp_path / "server").lines) == [other], "in a home it is known which pair"


def test_damaged_files_are_listed_and_other_tables_are_not(tmp_path: Path) -> None:
    inbox = tmp_path / "inbox"
    path = answered(ANA, inbox, "1")
    path.with_name(file_name(BEN)).write_text("time,lesson\n1,2\n")
    (inbox / "bench_readings.csv").write_text("pressure,oil\n1,2\n")
    (inbox / "progress.bin.csv").write_bytes(b"\xff\xfe\x00")
    found = collect(CLASS, inbox, tmp_path / "out")
    assert list(found.lines) == [ANA]
    assert len(found.left_out) == 2
    assert not any("bench_readings" in sentence for sentence in found.left_out)


def closes(monkeypatch: pytest.MonkeyPatch, *closed: Path) -> None:
    """Let these folders be such that cannot be listed, for root too."""
    listed = os.scandir

    def scandir(path: str) -> Any:
        if Path(path) in closed:
            raise PermissionError(13, "Permission denied", path)
        return listed(path)

    monkeypatch.setattr(os, "scandir", scandir)


def test_a_folder_that_cannot_be_read_is_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    inbox = tmp_path / "inbox"
    answered(ANA, inbox, "1")
    answered(BEN, inbox / "Ben", "2")
    answered(BEN, inbox / ".trash", "3")
    closes(monkeypatch, inbox / "Ben", inbox / ".trash")
    (tmp_path / "names.txt").write_text("class: spring class\nAna\nBen\n")
    asked = ["collect", str(inbox), "--learners", str(tmp_path / "names.txt"), "--out", str(tmp_path / "out")]
    assert main(asked) == 1
    assert capsys.readouterr().err == "Left out: inbox/Ben: a folder that cannot be read (Permission denied).\n"
    closes(monkeypatch, inbox)
    assert gather([ANA], inbox).left_out == ["inbox: a folder that cannot be read (Permission denied)."]


def test_where_they_are_collected_may_lie_among_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answered(ANA, tmp_path, "1")
    for _ in range(2):
        found = collect([ANA], tmp_path, tmp_path / "answers")
        assert (found.told, lines(ANA, tmp_path / "answers")) == ([], ["1"])
    assert main(["collect", str(tmp_path), "--out", str(tmp_path)]) == 2
    assert "another folder" in capsys.readouterr().err
    with pytest.raises(InputError, match="the folder of a class server"):
        collect([ANA], tmp_path / "none", tmp_path / "out")
    with pytest.raises(InputError, match="learners"):
        collect([], tmp_path, tmp_path / "out")


def test_a_write_that_fails_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from oilkit.exercises import progress

    inbox, out = tmp_path / "inbox", tmp_path / "out"
    answered(ANA, inbox, "1")
    collect([ANA], inbox, out)
    answered(ANA, inbox, "2")

    def full(path: Path, content: str) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(progress, "write_safely", full)
    with pytest.raises(OSError, match="No space"):
        collect([ANA], inbox, out)
    monkeypatch.setattr(progress, "write_safely", write_safely)
    assert lines(ANA, out) == ["1"]
    collect([ANA], inbox, out)
    assert lines(ANA, out) == ["1", "2"]


# ------------------------------------------------------------------------------------------------------ a class server


@pytest.fixture
def homes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A class server's folder, and homes of the accounts that it would have made; Ben Max has never signed in."""
    pwd = pytest.importorskip("pwd")
    write_server(CLASS, tmp_path / "server", homes=tmp_path / "homes")
    made = {"oil-ana": tmp_path / "homes" / "oil-ana", "oil-ben": tmp_path / "homes" / "oil-ben"}
    for home in made.values():
        (home / "oilkit-lessons" / "progress").mkdir(parents=True)
    monkeypatch.setattr(pwd, "getpwnam", lambda name: SimpleNamespace(pw_dir=str(made[name])))
    return tmp_path / "homes"


def kept_by(homes: Path, name: str) -> Path:
    return homes / f"oil-{name}" / "oilkit-lessons" / "progress"


def test_homes_of_a_class_server_are_collected_without_a_list(
    homes: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answered(ANA, kept_by(homes, "ana"), "1")
    answered(Owner(), kept_by(homes, "ana"), "2")  # before a name was given
    answered(PAIR, kept_by(homes, "ben"), "3")
    answered(BEN, homes / "oil-ben" / ".local" / "progress", "hidden")
    (homes / "oil-ben" / "oilkit-lessons" / "bench_readings.csv").write_text("pressure,oil\n1,2\n")
    out = tmp_path / "answers"
    assert main(["collect", str(tmp_path / "server"), "--out", str(out)]) == 0
    assert sorted(lines(ANA, out)) == ["1", "2"]
    assert lines(PAIR, out) == ["3"]
    said = capsys.readouterr().out
    assert "No file yet: Ben Max." in said
    assert str(out) in said
    list_file = str(tmp_path / "server" / "class.txt")
    assert main(["marks", str(out), "--learners", list_file, "--out", str(tmp_path / "marks.csv")]) == 0
    assert main(["marks", str(tmp_path / "server"), "--out", str(tmp_path / "from homes.csv")]) == 0
    assert (tmp_path / "from homes.csv").read_bytes() == (tmp_path / "marks.csv").read_bytes()


def test_a_home_that_cannot_be_read_is_not_one_without_a_file(
    homes: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answered(ANA, kept_by(homes, "ana"), "1")
    closes(monkeypatch, homes / "oil-ben")
    found = gather([], tmp_path / "server")
    assert found.left_out == ["oil-ben: a folder that cannot be read (Permission denied)."]
    assert (found.unread, found.told) == ({BEN}, ["No file yet: Ben Max."])


def test_in_a_home_nothing_counts_for_a_neighbor(
    homes: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answered(BEN, kept_by(homes, "ben"), "mine")
    answered(BEN, kept_by(homes, "ana"), "not mine")
    assert main(["collect", str(tmp_path / "server"), "--out", str(tmp_path / "answers")]) == 1
    assert lines(BEN, tmp_path / "answers") == ["mine"]
    assert f"oil-ana/oilkit-lessons/progress/{file_name(BEN)}" in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="Windows lets few make a link")
def test_links_and_pipes_in_a_home_are_not_followed(homes: Path, tmp_path: Path) -> None:
    theirs = answered(BEN, kept_by(homes, "ben"), "theirs")
    folder = kept_by(homes, "ana")
    (folder / "progress.csv").symlink_to(theirs)
    (folder / "more").symlink_to(theirs.parent)
    os.mkfifo(folder / "progress-pipe.csv")
    found = collect([], tmp_path / "server", tmp_path / "answers")
    assert list(found.lines) == [BEN]
    assert len(found.left_out) == 2


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() != 0, reason="only root gives files away")
def test_a_folder_of_another_s_is_not_this_learner_s(homes: Path, tmp_path: Path) -> None:
    """A hard link to a neighbor's file, where the system allows one, is still the neighbor's."""
    path = answered(Owner(), kept_by(homes, "ana"), "theirs")
    os.chown(kept_by(homes, "ana"), 12345, 12345)
    os.chown(path, 12346, 12346)
    found = collect([], tmp_path / "server", tmp_path / "answers")
    assert found.lines == {}
    assert "folder's owner" in found.left_out[0]
    assert len(read_learners(tmp_path / "server" / "learners.csv")) == 4
