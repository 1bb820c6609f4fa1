"""Progress files and the mark book: nothing that was recorded is lost, and no file of somebody else is touched."""

from __future__ import annotations

import csv
import io
import os
import re
import subprocess
import sys
from pathlib import Path

import hypothesis
import numpy as np
import pytest
from hypothesis import strategies as st
from randomly import tried
from sentences import refused

from oilkit.exercises import all_exercises
from oilkit.exercises import progress as progress_module
from oilkit.exercises.exercise import (
    DONE,
    MISTAKE,
    NOBODY,
    RIGHT,
    ROUGH,
    WRONG,
    Exercise,
    ExerciseTemplate,
    Owner,
    Verdict,
    judge,
)
from oilkit.exercises.progress import (
    COLUMNS,
    HINT,
    SOLUTION,
    Entry,
    Mark,
    Progress,
    file_name,
    mark_of,
    read_entries,
    said_of,
)
from oilkit.teacher.collect import gather
from oilkit.teacher.marks import mark_book

ODD_NAMES = [
    "Ann Other",
    "Ann/Other",
    "Ann\\Other",
    "../../Ann Other",
    "C:Ann Other",
    "Ännchen Öther",
    "Annchen Other",
    "安",
    "安 安",
    "Аня",
    "🙂",
    "🙃",
    "con",
    "nul.txt",
    "a" * 300,
    "a" * 299 + "b",
    "=1+1",
    "-",
    "'",
    ".",
]
"""Names that a file system, a spreadsheet or a folder above could choke on; no two may share a file."""


def files(folder: Path) -> list[str]:
    """What is in a folder, but for the empty files by which kernels keep each other away (Windows leaves none)."""
    return sorted(
        path.name
        for path in folder.iterdir()
        if not (path.name.startswith(".progress") and path.suffix == ".lock" and path.stat().st_size == 0)
    )


def test_round_trip(tmp_path: Path) -> None:
    """Every sort of answer comes back as it was typed, also what a spreadsheet would take for a formula."""
    progress = Progress(Owner("Spring class", "Ann Other"), tmp_path)
    assert progress.entries() == []
    answers = ["1.5 qt", "-3.4 psi", "=cmd()", "@x", "+1", "'quoted", 'a "b", c', "zwölf Liter 🙂", "−3", "'-3"]
    made = [progress.record(1, "squeezed", answer, Verdict(WRONG, "")) for answer in answers]
    made.append(progress.record(1, "squeezed", "2 qt", Verdict(MISTAKE, "", "gauge, for “absolute”")))
    made.append(progress.record_help(1, "squeezed", HINT))
    assert Progress(Owner("spring class", "ann  other"), tmp_path).entries() == made
    assert [entry.answer for entry in made[:-2]] == answers
    assert made[-2].mistake == "gauge, for “absolute”"
    for row in csv.reader(io.StringIO(progress.path.read_text(encoding="utf-8"))):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)
    assert files(tmp_path) == [progress.path.name]


def test_long_answers_keep_their_paragraphs(tmp_path: Path) -> None:
    progress = Progress(NOBODY, tmp_path)
    answer = "a\n\nb  b\r\n=c " + "x" * 5000
    progress.record(1, "why_slow", answer, Verdict(DONE, ""))
    progress.record(1, "why_slow", "short", Verdict(DONE, ""))
    long, short = progress.entries()
    assert long.answer == answer.replace("\r", "")
    assert short.answer == "short"
    progress.path.write_bytes(progress.path.read_bytes().replace(b"\n", b"\r\n"))  # as a spreadsheet writes it
    assert progress.entries() == [long, short]
    with progress.path.open("a", encoding="utf-8") as file:
        file.write('2026-01-01 10:00:00,1,why_slow,"a\nb",brilliant,\n')
    assert "line 8" in refused(None, progress.entries), "lines as an editor counts them"


def test_what_was_written_before_is_still_read(tmp_path: Path) -> None:
    """A file as an older kit wrote it, one line for each answer; the next answer goes below."""
    progress = Progress(NOBODY, tmp_path)
    old = f"{','.join(COLUMNS)}\n2026-01-01 10:00:00,1,squeezed,'=1,wrong,\n2026-01-01 10:01:00,1,squeezed,,hint,\n"
    progress.path.write_text(old, encoding="utf-8")
    assert [entry.answer for entry in progress.entries()] == ["=1", ""]
    progress.record(1, "why_slow", "a\nb", Verdict(DONE, ""))
    lines = progress.path.read_text(encoding="utf-8").splitlines()
    assert [line.rstrip(",") for line in lines[:3]] == [line.rstrip(",") for line in old.splitlines()]
    assert [entry.answer for entry in progress.entries()] == ["=1", "", "a\nb"]


def test_a_spreadsheet_may_have_saved_it_again(tmp_path: Path) -> None:
    """With the mark of UTF-8 in front and with the line ends of Windows, it is read all the same, and goes on."""
    progress = Progress(NOBODY, tmp_path)
    before = [progress.record(1, "squeezed", answer, Verdict(RIGHT, "")) for answer in ("35 psi", "=2")]
    progress.path.write_bytes(b"\xef\xbb\xbf" + progress.path.read_bytes().replace(b"\n", b"\r\n"))
    assert progress.entries() == before
    progress.record(1, "squeezed", "36 psi", Verdict(RIGHT, ""))
    assert [entry.answer for entry in progress.entries()] == ["35 psi", "=2", "36 psi"]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"name,mark\nAnn,1\n",
        b"\x89PNG\r\n\x1a\n\xff\xfe",
        b"time,lesson,exercise,answer,mark\n",
        f"{','.join(COLUMNS)}\n2026-01-01 10:00:00,1,squeezed,35 psi,brilliant,\n".encode(),
        f"{','.join(COLUMNS)}\n2026-01-01 10:00:00,one,squeezed,35 psi,right,\n".encode(),
        f"{','.join(COLUMNS)}\n2026-01-01 10:00:00,1,squeezed\n".encode(),
        f'{",".join(COLUMNS)}\n2026-01-01 10:00:00,1,squeezed,"35 psi\n'.encode(),
        "zeit;übung\n".encode("latin-1"),
    ],
    ids=["empty", "other columns", "picture", "a column less", "mark", "lesson", "short line", "open quote", "latin 1"],
)
def test_foreign_files_are_refused_and_untouched(tmp_path: Path, content: bytes) -> None:
    progress = Progress(Owner("spring class", "Ann Other"), tmp_path)
    progress.path.write_bytes(content)
    refused(None, progress.entries)
    refused(None, lambda: progress.record(1, "squeezed", "35 psi", Verdict(RIGHT, "")))
    refused(None, lambda: progress.record_help(1, "squeezed", HINT))
    refused(None, lambda: read_entries(progress.path))
    assert progress.path.read_bytes() == content
    assert files(tmp_path) == [progress.path.name]


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    """A file stands where the folder should be: nobody, not even root, can write into that."""
    (tmp_path / "progress").write_text("not a folder", encoding="utf-8")
    progress = Progress(NOBODY, tmp_path / "progress")
    with pytest.raises((OSError, ValueError)):
        progress.record(1, "squeezed", "35 psi", Verdict(RIGHT, ""))
    assert (tmp_path / "progress").read_text(encoding="utf-8") == "not a folder"


def test_a_full_disk_leaves_the_old_lines(tmp_path: Path) -> None:
    """The system itself lets no file grow beyond a limit, in the middle of a write; then there is room again."""
    resource = pytest.importorskip("resource")
    progress = Progress(NOBODY, tmp_path)
    kept = [progress.record(1, "squeezed", f"{k} psi", Verdict(WRONG, "")) for k in range(30)]
    before = progress.path.read_bytes()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) - 100, hard))
    try:
        with pytest.raises(OSError, match="too large"):
            progress.record(1, "squeezed", "35 psi", Verdict(RIGHT, ""))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert progress.path.read_bytes() == before
    assert files(tmp_path) == [progress.path.name], "no half file is left"
    kept.append(progress.record(1, "squeezed", "35 psi", Verdict(RIGHT, "")))
    assert progress.entries() == kept


KILLED = """
import os, random, signal, sys, time
from pathlib import Path
from oilkit.exercises.exercise import Owner, Verdict
from oilkit.exercises.progress import Progress

folder, times = Path(sys.argv[1]), int(sys.argv[2])
dice = random.Random(5)
progress = Progress(Owner("spring class", "killed often"), folder)
acknowledged, unfinished, extra = [], 0, 0
for round in range(times):
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        for k in range(100_000):
            answer = f"{round}.{k} psi x" + "x" * random.randrange(300)
            Progress(progress.owner, folder).record(1, "squeezed", answer, Verdict("wrong", "", ""))
            os.write(write, (answer + "\\n").encode())  # only now has the learner been told
        os._exit(1)
    os.close(write)
    first = os.read(read, 1)  # it is writing
    time.sleep(dice.uniform(0.0, 0.012))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    told = first
    while more := os.read(read, 65536):
        told += more
    os.close(read)
    acknowledged += told.decode().splitlines()
    kept = [entry.answer for entry in progress.entries()]  # raises if the file is broken
    missing = [answer for answer in acknowledged if answer not in set(kept)]
    assert not missing, (round, missing)
    # at most the one answer that was on its way is there without having been told
    assert len(kept) <= len(acknowledged) + 1, (round, len(kept), len(acknowledged))
    extra += len(kept) - len(acknowledged)
    acknowledged = kept
    unfinished = len(list(folder.glob("*.part")))
print(times, len(acknowledged), extra, unfinished)
"""


@pytest.mark.thorough
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to kill 200 writers in reasonable time")
def test_kill_9_while_writing_loses_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """200 writers, each killed at a random moment in the middle of writing answers as fast as it can."""
    run = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), "200"], capture_output=True, text=True, timeout=500
    )
    assert run.returncode == 0, run.stderr[-2000:]
    times, recorded, late, unfinished = map(int, run.stdout.split())
    with capsys.disabled():
        print(
            f"\n{times} kills: {recorded} answers, {late} on the disk but not told, {unfinished} unfinished neighbours"
        )
    assert times == 200
    assert recorded >= 200
    assert late + unfinished > 0, "no kill fell into a write: the test would show nothing"
    progress = Progress(Owner("spring class", "killed often"), tmp_path)
    for left in tmp_path.glob("*.part"):  # a kill leaves them beside the file; an hour later they are swept away
        os.utime(left, (left.stat().st_atime, left.stat().st_mtime - 3600.0))
    progress.record(1, "squeezed", "35 psi", Verdict(RIGHT, ""))
    assert len(progress.entries()) == recorded + 1
    assert files(tmp_path) == [progress.path.name]
    assert mark_of(progress.entries(), "squeezed").points == 0.5


def test_two_owners_never_share_a_file(tmp_path: Path) -> None:
    """Odd names as learner and as class; upper and lower case and blanks alone make no difference."""
    owners = [Owner("spring class", name) for name in ODD_NAMES] + [Owner(name, "") for name in ODD_NAMES] + [NOBODY]
    owners += [Owner("", name) for name in ODD_NAMES if name != "Ann Other"] + [Owner("a", "b"), Owner("ab", "")]
    names = [file_name(owner) for owner in owners]
    assert len({name.lower() for name in names}) == len(owners)
    for owner, name in zip(owners, names, strict=True):
        assert Path(name).name == name
        assert name.isascii()
        assert name.startswith("progress")
        assert name.endswith(".csv")
        assert len(name) < 120
        Progress(owner, tmp_path).record(1, "squeezed", f"{owner}", Verdict(RIGHT, ""))
    assert len(files(tmp_path)) == len(owners)
    for owner in owners:
        (entry,) = Progress(owner, tmp_path).entries()
        assert entry.answer == " ".join(f"{owner}".split())[:500]
    assert file_name(Owner("Spring  Class", "ann other")) == file_name(Owner("spring class", "ANN OTHER "))


# --------------------------------------------------------------------------------------------------- a scripted class

CLASS = [Owner("spring class", f"learner {k}") for k in range(20)]

SCRIPT = {
    "right at once": (["right"], 1.0),
    "wrong, then right": (["wrong", "right"], 1.0),
    "a usual mistake, then right": (["mistake", "right"], 1.0),
    "three tries": (["wrong", "mistake", "right"], 0.5),
    "hint, then right": (["hint", "right"], 0.5),
    "wrong, two hints, right": (["wrong", "hint", "hint", "right"], 0.5),
    "gave up": (["wrong", "wrong", "solution"], 0.0),
    "right after the solution": (["mistake", "solution", "right"], 0.0),
    "never right": (["wrong"], 0.0),
    "only a hint": (["hint"], 0.0),
    "right, and looked afterwards": (["right", "hint", "solution"], 1.0),
    "right, and tried on": (["right", "wrong", "mistake"], 1.0),
    "not tried": ([], None),
}
"""What a learner does on an exercise, and the points for it: 1 by the second try, 0.5 later or with a hint, else 0."""


def given(made: Exercise, maker: ExerciseTemplate, step: str, dice: np.random.Generator) -> str:
    """The text that a learner types for a right answer, a usual mistake or nonsense."""
    if made.options:
        wrong = [option for k, option in enumerate(made.options) if k != made.right]
        return made.options[made.right] if step == "right" else wrong[int(dice.integers(len(wrong)))]
    if made.model:
        return made.model
    assert made.answer is not None
    assert made.kind is not None
    if step == "mistake":
        quantity = made.mistakes[int(dice.integers(len(made.mistakes)))].answer
    else:
        quantity = made.answer if step == "right" else made.answer * 7.7
    number = f"{float(quantity.m_as(made.kind.us)):.6g}"
    return f"{number} {'' if made.kind.us == 'dimensionless' else made.kind.us}".strip()


def points_in_words(script: str) -> float | None:
    """For an answer in words every try counts as an answer: there is no wrong one to be told."""
    steps, _ = SCRIPT[script]
    answers = [k for k, step in enumerate(steps) if step in ("right", "wrong", "mistake")]
    if not steps:
        return None
    if not answers or "solution" in steps[: answers[0]]:
        return 0.0
    return 0.5 if "hint" in steps[: answers[0]] else 1.0


@pytest.mark.thorough
def test_a_scripted_class_gets_the_marks_that_it_should(tmp_path: Path) -> None:
    """All exercises of all lessons, every answer judged and recorded; the expected mark book is worked out from the
    script alone."""
    makers = all_exercises()
    dice = np.random.default_rng(11)
    expected: dict[Owner, list[float | None]] = {}
    happened: dict[str, int] = dict.fromkeys(SCRIPT, 0)
    mistakes: dict[tuple[str, str], list[str]] = {}
    for owner in CLASS:
        progress, points = Progress(owner, tmp_path), []
        for key, maker in makers.items():
            made = maker(owner)
            script = list(SCRIPT)[int(dice.integers(len(SCRIPT)))]
            happened[script] += 1
            for step in SCRIPT[script][0]:
                if step in ("hint", "solution"):
                    progress.record_help(maker.lesson, key, {"hint": HINT, "solution": SOLUTION}[step])
                    continue
                answer = given(made, maker, step, dice)
                verdict = judge(made, answer)
                if made.model:
                    assert verdict.mark == DONE
                elif step == "right":
                    assert verdict.mark == RIGHT, (key, owner, answer)
                else:
                    assert verdict.mark in (WRONG, MISTAKE, ROUGH), (key, owner, answer)
                    if step == "mistake" and verdict.mark != ROUGH:
                        assert verdict.mistake, (key, owner, answer)
                        mistakes.setdefault((owner.learner, key), []).append(verdict.mistake)
                progress.record(maker.lesson, key, answer, verdict)
            points.append(points_in_words(script) if made.model else SCRIPT[script][1])
        expected[owner] = points
        text = progress.path.read_text(encoding="utf-8")  # all answer within a few seconds: each in a year of theirs
        progress.path.write_text(re.sub(r"^\d{4}", f"{2000 + len(expected)}", text, flags=re.M), encoding="utf-8")
    assert all(happened.values()), "every script happened"
    book = mark_book(gather(CLASS, tmp_path))
    assert not book.told
    assert not book.left_out
    for owner, points in expected.items():
        got = [book.rows[owner][key].points if key in book.rows[owner] else None for key in makers]
        assert got == points, owner
        assert book.sum(owner) == sum(p or 0.0 for p in points)
    for (learner, key), names in mistakes.items():
        mark = mark_of(Progress(Owner("spring class", learner), tmp_path).entries(), key)
        assert set(names) <= set(mark.mistakes)
    assert len(files(tmp_path)) == len(CLASS)


def test_a_file_of_the_first_version_is_read_and_written_on(tmp_path: Path) -> None:
    """It has no column for marked points: its answers in words count as they did."""
    progress = Progress(Owner("spring class", "Ann Other"), tmp_path)
    lines = [",".join(COLUMNS[:-1]), "2026-01-01 10:00:00,1,why_slow,It gets warm.,done,"]
    progress.path.write_text(
        "\n".join([*lines, "2026-01-01 10:01:00,1,squeezed,35 psi,right,"]) + "\n", encoding="utf-8"
    )
    before = progress.entries()
    assert [entry.said for entry in before] == ["", ""]
    assert mark_of(before, "why_slow") == Mark(1.0, 1, 0, (), done=True)
    progress.record_points(1, "why_slow", said_of([0, 2], 3))
    assert progress.path.read_text(encoding="utf-8").splitlines()[0] == ",".join(COLUMNS)
    assert progress.entries()[:2] == before
    assert progress.entries()[2].said == "1 3 of 3"
    assert progress.entries()[2].points == (0, 2)


@pytest.mark.parametrize("said", ["1 of", "of 3", "1,2 of 3", "all of 3", "1 2 3", "=1 of 3", "none", "1  2 of 3"])
def test_points_that_cannot_be_are_refused(tmp_path: Path, said: str) -> None:
    progress = Progress(NOBODY, tmp_path)
    row = ["2026-01-01 10:00:00", "1", "why_slow", "", "ticked", "", said]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([COLUMNS, row])
    progress.path.write_text(out.getvalue(), encoding="utf-8")
    assert "line 2" in refused(None, progress.entries)


@tried
@hypothesis.given(st.sets(st.integers(0, 8)), st.integers(9, 12))
def test_marked_points_come_back(tmp_path_factory: pytest.TempPathFactory, points: set[int], of: int) -> None:
    progress = Progress(NOBODY, tmp_path_factory.mktemp("points"))
    progress.record(1, "why_slow", "It gets warm.", Verdict(DONE, ""), said_of([], of))
    assert not mark_of(progress.entries(), "why_slow").done
    progress.record_points(1, "why_slow", said_of(sorted(points), of))
    (_, entry) = progress.entries()
    assert entry.points == tuple(sorted(points))
    mark = mark_of(progress.entries(), "why_slow")
    assert (mark.points, mark.done, mark.tries) == (float(2 * len(points) >= of), 2 * len(points) >= of, 1)


def test_lines_are_moved_to_another_learner_by_their_time(tmp_path: Path) -> None:
    nobody, ann = Progress(NOBODY, tmp_path / "progress"), Progress(Owner("c", "Ann"), tmp_path / "progress")
    assert ann.take_over(nobody) == 0
    assert not (tmp_path / "progress").exists()
    kept = []
    for k, progress in enumerate([nobody, ann, nobody]):
        kept.append(progress.record(1, "squeezed", f"{k} psi", Verdict(WRONG, "")))
        late = [Entry(f"2026-01-0{k + 1}", *list(vars(entry).values())[1:]) for entry in [kept[-1]]]
        kept[-1] = late[0]
        progress._keep(lambda before, late=late: [*before[:-1], *late])  # type: ignore[misc]
    assert ann.take_over(nobody) == 2
    assert (ann.entries(), nobody.entries()) == (kept, [])
    assert ann.take_over(nobody) == 0
    nobody.path.write_text("shopping list", encoding="utf-8")
    refused(None, lambda: ann.take_over(nobody))
    assert ann.entries() == kept


def test_stopped_in_the_middle_of_a_move_no_line_is_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    nobody, ann = Progress(NOBODY, tmp_path), Progress(Owner("c", "Ann"), tmp_path)
    entry = nobody.record(1, "squeezed", "1 psi", Verdict(WRONG, ""))
    real, written = progress_module.write_safely, []

    def second_fails(path: Path, content: str) -> None:
        written.append(path)
        if len(written) == 2:
            raise OSError(28, "No space left on device")
        real(path, content)

    monkeypatch.setattr(progress_module, "write_safely", second_fails)
    with pytest.raises(OSError, match="No space"):
        ann.take_over(nobody)
    assert (ann.entries(), nobody.entries()) == ([entry], [entry])
    assert ann.take_over(nobody) == 1, "and the second time"
    assert (ann.entries(), nobody.entries()) == ([entry], [])


def test_mark_of_counts_tries_and_hints() -> None:
    lines = [
        ("a", HINT, ""),
        ("b", WRONG, ""),
        ("a", MISTAKE, "gauge for absolute"),
        ("a", RIGHT, ""),
        ("a", SOLUTION, ""),
    ]
    entries = [Entry("", 1, key, "", mark, mistake) for key, mark, mistake in lines]
    assert mark_of(entries, "a") == Mark(0.5, 2, 1, ("gauge for absolute",), done=True)
    assert mark_of(entries, "b") == Mark(0.0, 1, 0, ())
    assert mark_of(entries, "c") == Mark(0.0, 0, 0, ())
