"""Every exercise in its panel: opened, answered through its widgets, helped, kept, and told what went wrong."""

from __future__ import annotations

import base64
import contextlib
import html
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from ipywidgets.widgets import widget as widget_module
from parts import quick_named
from sentences import refused

from oilkit.exercises import all_exercises
from oilkit.exercises.exercise import DONE, MISTAKE, RIGHT, WRONG, Owner
from oilkit.exercises.progress import HINT, SOLUTION, Progress, mark_of
from oilkit.panels.framework.exercise import ExercisePanel, LearnerPanel
from oilkit.quantities.printed import text
from oilkit.quantities.units import use_units
from oilkit.storage import saving
from oilkit.storage.settings import load_owner

ANN = Owner("spring class", "Ann Other")
EXERCISES = all_exercises()


def right_answer(panel: ExercisePanel) -> str:
    made = panel.made
    if made.options:
        return made.options[made.right]
    if made.model:
        return made.model
    assert made.answer is not None
    assert made.kind is not None
    unit = "" if made.kind.us == "dimensionless" else made.kind.us
    return f"{float(made.answer.m_as(made.kind.us)):.6g} {unit}".strip()


def wrong_answer(panel: ExercisePanel) -> str:
    made = panel.made
    if made.options:
        return next(option for k, option in enumerate(made.options) if k != made.right)
    if made.model:
        return "Because that is so."
    assert made.answer is not None
    assert made.kind is not None
    unit = "" if made.kind.us == "dimensionless" else made.kind.us
    return f"{7.7 * float(made.answer.m_as(made.kind.us)):.6g} {unit}".strip()


FEW = list(EXERCISES)[::5]
"""Exercises that stand for the others in the README's test command."""


def marks(panel: ExercisePanel) -> list[str]:
    return [entry.mark for entry in panel.progress.entries()]


@pytest.mark.parametrize("key", quick_named(FEW, EXERCISES))
def test_an_exercise_from_opening_to_solution(tmp_path: Path, key: str) -> None:
    """As a learner would: a solution before a try (refused), a wrong answer, all hints, the solution, the right one."""
    panel = ExercisePanel(key, ANN, tmp_path)
    made = panel.made
    assert html.escape(made.question) in panel._ask.value
    assert made == panel.maker(ANN) or made.question == panel.maker(ANN).question
    panel.solution()
    assert "no try yet" in panel.trouble
    assert panel.help == ""
    assert panel.progress.entries() == [], "nothing was answered yet"

    assert panel.answer("" if not made.options else None) == ""  # type: ignore[arg-type]
    assert "Your answer: got" in panel.control.error
    assert panel.progress.entries() == []

    mark = panel.answer(wrong_answer(panel))
    assert mark in ((DONE,) if made.model else (WRONG, MISTAKE))
    assert panel.control.error == ""
    assert panel.trouble == ""
    assert panel.feedback
    assert marks(panel) == [mark]

    for k in range(len(made.hints)):
        panel.hint()
        assert panel.help.count("<li>") == k + 1
        assert html.escape(made.hints[k]) in panel.help
    panel.hint()  # one more than there are
    assert "No more hints" in panel.help
    assert marks(panel) == [mark, *[HINT] * len(made.hints)]

    panel.solution()
    assert panel.trouble == ""
    shown = [made.model] if made.model else [*made.steps, *([made.options[made.right]] if made.options else [])]
    assert all(html.escape(line) in panel.help for line in shown)
    assert marks(panel)[-1] == SOLUTION

    assert panel.answer(right_answer(panel)) == (DONE if made.model else RIGHT)
    assert "alert" not in panel.feedback
    assert [entry.answer for entry in panel.progress.entries() if entry.answer][-1] == right_answer(panel)
    assert panel.errors == []
    again = ExercisePanel(key, ANN, tmp_path)
    assert again.progress.entries() == panel.progress.entries()
    points = mark_of(again.progress.entries(), key).points
    assert points == (1.0 if made.model else 0.0), "an answer in words counts, a number after the solution does not"


@pytest.mark.parametrize("key", quick_named(FEW, EXERCISES))
def test_the_switch_of_units_changes_what_is_shown_and_not_what_is_right(tmp_path: Path, key: str) -> None:
    panel = ExercisePanel(key, ANN, tmp_path)
    kind = panel.made.kind
    before = bytes(panel._image.value) if panel.made.picture else b""
    label = panel.control._title.value
    assert panel.answer(right_answer(panel)) in (RIGHT, DONE)
    use_units("SI")
    if kind is not None and kind.us != kind.metric:
        assert panel.control._title.value != label
        assert html.escape(kind.label("SI")) in panel.control._title.value
        if panel.made.picture:
            assert bytes(panel._image.value) != before
    assert panel.answer(right_answer(panel)) in (RIGHT, DONE)
    assert panel.errors == []


def test_the_mistake_is_named_and_met_by_a_question(tmp_path: Path) -> None:
    panel = ExercisePanel("squeezed", ANN, tmp_path)
    mistake = panel.made.mistakes[0]
    assert panel.answer(text(mistake.answer).split(" (")[0]) == MISTAKE
    assert mistake.name in panel.feedback
    assert html.escape(mistake.repair, quote=False) in html.unescape(panel.feedback)
    (entry,) = panel.progress.entries()
    assert (entry.mark, entry.mistake) == (MISTAKE, mistake.name)


def test_an_exercise_that_is_not_there_is_refused_and_leaves_nothing_behind() -> None:
    before = len(widget_module._instances)
    refused("exercise", lambda: ExercisePanel("nothing", ANN))
    assert len(widget_module._instances) == before


def test_who_learns_alone_may_look_first(tmp_path: Path) -> None:
    panel = ExercisePanel("squeezed", ANN, tmp_path)
    panel._alone.value = True
    panel.solution()
    assert panel.trouble == ""
    assert html.escape(panel.made.steps[0]) in panel.help
    assert marks(panel) == [SOLUTION]


def test_a_folder_that_cannot_be_written_is_told_beside_the_verdict(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer is judged all the same; nothing is raised and nothing is swallowed."""
    panel = ExercisePanel("squeezed", ANN, tmp_path)

    def refuses(*args: Any, **kwargs: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkstemp", refuses)
    assert panel.answer(right_answer(panel)) == RIGHT
    assert "Right" in panel.feedback
    assert panel.trouble == "Your answer was judged but could not be kept (Permission denied)."
    panel.hint()
    assert "could not be kept" in panel.trouble
    assert html.escape(panel.made.hints[0]) in panel.help
    assert panel.errors == []
    monkeypatch.undo()
    assert panel.answer(right_answer(panel)) == RIGHT
    assert panel.trouble == ""
    assert marks(panel) == [RIGHT]


def test_a_full_disk_is_told_beside_the_verdict(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    panel = ExercisePanel("squeezed", ANN, tmp_path)
    panel.answer(wrong_answer(panel))
    before = panel.progress.path.read_bytes()

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert panel.answer(right_answer(panel)) == RIGHT
    assert "No space left on device" in panel.trouble
    assert panel.progress.path.read_bytes() == before


@pytest.mark.parametrize("where", ["instead of the folder", "instead of the file"])
def test_a_foreign_file_is_told_and_left_alone(tmp_path: Path, where: str) -> None:
    folder = tmp_path / "progress"
    panel = ExercisePanel("squeezed", ANN, folder)
    foreign = folder if where == "instead of the folder" else panel.progress.path
    foreign.parent.mkdir(exist_ok=True)
    foreign.write_text("shopping list", encoding="utf-8")
    assert panel.answer(right_answer(panel)) == RIGHT
    assert "progress file of this kit" in panel.trouble
    assert foreign.read_text(encoding="utf-8") == "shopping list"
    assert panel.errors == []


def test_a_lock_that_is_not_let_go_is_told_beside_the_verdict(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(saving, "WAIT", 0.2)
    panel = ExercisePanel("squeezed", ANN, tmp_path)
    with saving.alone(panel.progress.path):
        assert panel.answer(right_answer(panel)) == RIGHT
    assert "Right" in panel.feedback
    assert "could not be kept (another program has kept progress-" in panel.trouble
    assert panel.answer(right_answer(panel)) == RIGHT
    assert panel.trouble == ""
    assert marks(panel) == [RIGHT]


def test_a_folder_without_locks_is_told_and_the_answer_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    @contextlib.contextmanager
    def no_lock(path: Path) -> Iterator[str]:
        yield "The folder lets no program lock a file."

    monkeypatch.setattr("oilkit.exercises.progress.alone", no_lock)
    panel = ExercisePanel("squeezed", ANN, tmp_path)
    assert panel.answer(right_answer(panel)) == RIGHT
    assert panel.trouble == "The folder lets no program lock a file."
    assert marks(panel) == [RIGHT]


def test_an_answer_in_words_is_kept_whole_or_refused_and_left_in_the_box(tmp_path: Path) -> None:
    panel = ExercisePanel("why_slow", ANN, tmp_path)
    paragraph = "The gas has time to give its heat away. " * 40
    assert panel.answer(f"{paragraph}\n\n{paragraph}") == DONE
    (entry,) = panel.progress.entries()
    assert entry.answer == f"{paragraph}\n\n{paragraph}".strip()
    long = "word " * 2001
    assert panel.answer(long) == ""
    assert panel.control.error.startswith("Your answer: got 10005 letters; wanted up to 10000")
    assert panel.control.box.value == long
    assert panel.errors == []
    assert len(panel.progress.entries()) == 1


def test_a_damaged_settings_file_is_told_where_names_count(tmp_path: Path) -> None:
    Path(os.environ["OILKIT_SETTINGS"]).write_text("{", encoding="utf-8")
    for panel in (ExercisePanel("squeezed", folder=tmp_path), LearnerPanel()):
        assert "knows no name" in panel.trouble
    assert ExercisePanel("squeezed", ANN, tmp_path).trouble == ""
    panel = LearnerPanel()
    panel.learner.box.value = "Ann Other"
    panel._button.click()
    assert (panel.trouble, load_owner()) == ("", ("", "Ann Other"))
    beside = Path(os.environ["OILKIT_SETTINGS"]).with_name("settings_damaged.json")
    assert beside.read_text(encoding="utf-8") == "{"
    beside.unlink()


@pytest.mark.thorough
def test_what_stands_in_the_notebook_without_a_kernel(tmp_path: Path) -> None:
    """Question and choices in words, the picture as a picture; nothing that changes from run to run."""
    for key in EXERCISES:
        panel = ExercisePanel(key, folder=tmp_path)
        bundle = panel._repr_mimebundle_()
        data = bundle[0] if isinstance(bundle, tuple) else bundle
        words = "".join(data["text/plain"].split())  # lines may break at blanks and at hyphens
        assert "".join(panel.made.question.split()) in words
        assert all("".join(option.split()) in words for option in panel.made.options)
        assert ("image/png" in data) == (panel.made.picture is not None)
        if panel.made.picture:
            assert base64.b64decode(data["image/png"]).startswith(b"\x89PNG")
            assert panel._shim.alt == panel.made.picture_says
    assert list(tmp_path.iterdir()) == []


def test_names_are_text_and_never_html(tmp_path: Path) -> None:
    """Whatever is typed as an answer or a name is shown as typed, not run."""
    panel = ExercisePanel("why_slow", Owner("<b>", "<script>alert(1)</script>"), tmp_path)
    panel.answer("<script>alert(1)</script> is no answer at all")
    assert "<script" not in panel.feedback + panel.help
    number = ExercisePanel("squeezed", Owner("<b>", "x"), tmp_path)
    number.answer("<script>")
    assert "<script" not in number.control._error.value


def test_who_is_learning_is_remembered_and_gives_own_numbers() -> None:
    assert load_owner() == ("", "")
    everybody = ExercisePanel("squeezed").made.question
    panel = LearnerPanel()
    panel.group.box.value, panel.learner.box.value = " Spring  class ", "Ann Other"
    panel._button.click()
    assert "Remembered" in panel._told.value
    assert load_owner() == ("Spring class", "Ann Other")
    own = ExercisePanel("squeezed")
    assert own.owner == Owner("Spring class", "Ann Other")
    assert own.made.question == EXERCISES["squeezed"](ANN).question != everybody
    use_units("SI")  # the other thing in the same file
    assert load_owner() == ("Spring class", "Ann Other")
    later = LearnerPanel()
    assert (later.group.box.value, later.learner.box.value) == ("Spring class", "Ann Other")
    later.group.box.value = later.learner.box.value = ""
    later._button.click()
    assert ExercisePanel("squeezed").made.question == everybody


def test_names_that_cannot_be_remembered_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    monkeypatch.setenv("OILKIT_SETTINGS", str(tmp_path / "file" / "settings.json"))
    panel = LearnerPanel()
    panel.learner.box.value = "Ann Other"
    panel._button.click()
    assert "could not be remembered" in panel.trouble
    assert panel.errors == []
    monkeypatch.undo()
    panel._button.click()
    assert "Remembered" in panel._told.value
    monkeypatch.setenv("OILKIT_SETTINGS", str(tmp_path / "file" / "settings.json"))
    panel._button.click()
    assert "could not be remembered" in panel.trouble
    assert panel._told.value == ""


def test_no_two_progress_files_in_the_lessons_folder() -> None:
    """Without a folder of its own a panel keeps its answers in ``progress`` beside the notebook."""
    assert ExercisePanel("squeezed", ANN).progress.path.parent == Path("progress")
    assert Progress(ANN).path == ExercisePanel("squeezed", ANN).progress.path
