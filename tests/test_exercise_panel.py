"""Every exercise in its panel: opened, answered through its widgets, helped, kept, and told what went wrong."""

from __future__ import annotations

import asyncio
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
from oilkit.exercises import progress as progress_module
from oilkit.exercises.class_list import class_text, together
from oilkit.exercises.exercise import DONE, MISTAKE, RIGHT, WRONG, Owner, Verdict
from oilkit.exercises.progress import HINT, SOLUTION, Progress, mark_of
from oilkit.panels.framework import question as question_module
from oilkit.panels.framework.exercise import ExercisePanel, PredictionPanel
from oilkit.panels.framework.instrument import OPEN
from oilkit.panels.framework.learner import CHOOSE, OTHER, LearnerPanel
from oilkit.quantities.printed import text
from oilkit.quantities.units import use_units
from oilkit.storage import saving
from oilkit.storage.settings import load_owner, save_owner

ANN = Owner("spring class", "Ann Other")
USUAL = progress_module.FOLDER
"""Where answers are kept but in a test."""
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
    mark = mark_of(again.progress.entries(), key)
    assert mark.points == 0.0, "a number after the solution does not count, nor words without their points"
    assert mark.done == (not made.model)
    if made.model:
        again.mark_points(*range(len(made.points)))
        mark = mark_of(again.progress.entries(), key)
        assert (mark.points, mark.done) == (1.0, True)


LESSON = [key for key, maker in EXERCISES.items() if maker.lesson == 1]


@pytest.mark.parametrize("key", quick_named([*FEW, *LESSON], EXERCISES))
def test_past_answers_come_back(tmp_path: Path, key: str) -> None:
    """Answer, sign, tries, hints, solution: opened again the panel says what the old one said."""
    first = ExercisePanel(key, ANN, tmp_path)
    assert "not tried yet" in first._state.value
    first.answer(wrong_answer(first))
    first.hint()
    for panel in (first, ExercisePanel(key, ANN, tmp_path)):
        assert panel.control.box.value == wrong_answer(first)
        assert panel.mark == first.mark
        assert ("✎ Kept" if first.made.model else "✘ Not right") in panel.feedback
        assert html.escape(first.made.hints[0]) in panel.help
        assert "1 try, 1 hint" in panel._state.value
        assert "✔ done" not in panel._state.value
    assert strip_roles(ExercisePanel(key, ANN, tmp_path).feedback) == strip_roles(first.feedback)
    again = ExercisePanel(key, ANN, tmp_path)
    again.solution()
    assert again.trouble == "", "the try of yesterday counts"
    again.answer(right_answer(again))
    last = ExercisePanel(key, ANN, tmp_path)
    assert last.help == again.help
    assert last.control.box.value == right_answer(last)
    assert ("✎ Kept" if last.made.model else "✔</b> Right") in last.feedback
    assert "2 tries, 1 hint" in last._state.value
    assert ("points not marked" if last.made.model else "✔ done") in last._state.value
    assert ExercisePanel(key, Owner("spring class", "Ben"), tmp_path).help == ""
    assert [panel.errors for panel in (first, again, last)] == [[], [], []]


def strip_roles(shown: str) -> str:
    return shown.replace('role="alert"', "").replace('role="status"', "")


def test_what_comes_back_is_not_spoken_as_an_alert(tmp_path: Path) -> None:
    ExercisePanel("squeezed", ANN, tmp_path).answer("1 psi")
    assert 'role="alert"' not in ExercisePanel("squeezed", ANN, tmp_path).feedback


def test_an_answer_to_other_numbers_keeps_what_it_was_worth(tmp_path: Path) -> None:
    """Such as one that was taken over; a text that fits no box any more; one in a unit that is not on display."""
    progress = Progress(ANN, tmp_path)
    progress.record(1, "squeezed", "1 psi", Verdict(RIGHT, ""))
    progress.record(1, "twice_the_gauge", "an option of long ago", Verdict(MISTAKE, "", "an option of long ago"))
    progress.record(1, "to_what_volume", "lots", Verdict(WRONG, ""))
    number, choice, refused_now = (ExercisePanel(k, ANN, tmp_path) for k in ("squeezed", *LESSON[:1], LESSON[2]))
    assert "✔" in number.feedback
    assert "as it was kept" in number.feedback
    assert choice.control.box.value is None
    assert "✘ Not right" in choice.feedback
    assert refused_now.control.box.value == "lots"
    assert "✘ Not right" in refused_now.feedback
    assert "1 of 7 done" in number._state.value


def test_marked_points_are_kept_and_make_a_text_count(tmp_path: Path) -> None:
    panel = ExercisePanel("why_slow", ANN, tmp_path)
    sibling = ExercisePanel("squeezed", ANN, tmp_path)
    assert panel._points.layout.display == "none"
    assert panel.answer("bla bla bla") == WRONG
    assert "does not read like a sentence yet" in panel.feedback
    assert panel._points.layout.display == "none"
    assert panel.answer("A gas that is squeezed fast gets warm.") == DONE
    assert panel._points.layout.display == ""
    assert "half of the points" in panel._count.value
    assert "0 of 7 done" in sibling._state.value
    panel.mark_points(0)
    assert mark_of(panel.progress.entries(), "why_slow").points == 0.0
    panel.mark_points(2)
    assert "Your answer counts" in panel._count.value
    assert mark_of(panel.progress.entries(), "why_slow").points == 1.0
    assert "✔ done" in panel._state.value
    assert "1 of 7 done" in sibling._state.value
    again = ExercisePanel("why_slow", ANN, tmp_path)
    assert [box.value for box in again._points.children] == [True, False, True]
    assert len(again.progress.entries()) == len(panel.progress.entries()), "to come back writes nothing"
    assert [entry.said for entry in again.progress.entries()] == ["", "none of 3", "1 of 3", "1 3 of 3"]
    assert again.answer("A gas that is squeezed fast gets warm, and time lets the heat go.") == DONE
    assert mark_of(again.progress.entries(), "why_slow").done, "a better text keeps the marked points"
    again._points.children[0].value = False
    assert mark_of(again.progress.entries(), "why_slow").points == 0.0
    assert "1 of 7" not in sibling._state.value


def test_points_after_the_solution_alone_are_no_answer(tmp_path: Path) -> None:
    panel = ExercisePanel("why_slow", ANN, tmp_path)
    panel._alone.value = True
    panel.solution()
    panel.mark_points(0, 1, 2)
    assert panel._count.value == ""
    mark = mark_of(panel.progress.entries(), "why_slow")
    assert (mark.points, mark.tries, mark.done) == (0.0, 0, False)


def test_right_and_wrong_differ_by_sign_word_and_color(tmp_path: Path) -> None:
    panel = ExercisePanel("squeezed", ANN, tmp_path)
    panel.answer(right_answer(panel))
    right = panel.feedback
    panel.answer(wrong_answer(panel))
    wrong = panel.feedback
    assert ("✔" in right, "Right" in right, "#0072b2" in right) == (True, True, True)
    assert ("✘" in wrong, "Not right" in wrong, "#b34700" in wrong) == (True, True, True)
    assert "✘" not in right
    assert "✔" not in wrong


def test_a_file_that_cannot_be_used_is_told_at_opening(tmp_path: Path) -> None:
    path = Progress(ANN, tmp_path).path
    path.write_text("shopping list", encoding="utf-8")
    panel = ExercisePanel("squeezed", ANN, tmp_path)
    assert "progress file of this kit" in panel.trouble
    assert panel.answer(right_answer(panel)) == RIGHT


PREDICTIONS = {"halve_the_volume": ("20 psi", "34.7 psi"), "straight_line": (0, None)}


@pytest.mark.parametrize("name", PREDICTIONS)
def test_a_prediction_comes_back_too(beside: Path, name: str) -> None:
    """With its reason, once for each answer however it was entered, and for the learner who gave it."""
    first = PredictionPanel(name)
    made = first.made
    wrong, right = PREDICTIONS[name] if made.answer is not None else (made.options[0], made.options[made.right])
    assert first.predict(wrong) != RIGHT
    assert first.predict(right) == RIGHT
    first._check.click()
    assert [entry.answer for entry in Progress(Owner()).entries()] == [wrong, right]
    assert {(entry.lesson, entry.exercise) for entry in Progress(Owner()).entries()} == {(1, name)}
    again, names = PredictionPanel(name), LearnerPanel()
    assert (again.control.box.value, again.verdict, again.feedback) == (right, RIGHT, first.feedback)
    assert len(Progress(Owner()).entries()) == 2
    sign_in(names, "spring class", "Ann Other")
    assert (again.control.box.value, again.verdict, again.feedback) == (None if made.options else "", "", "")
    assert again.predict(right) == RIGHT
    assert len(Progress(ANN).entries()) == 1
    save_owner("", "Ben")
    assert again.predict(wrong) != RIGHT
    assert len(Progress(ANN).entries()) == 1
    assert [entry.answer for entry in Progress(Owner("", "Ben")).entries()] == [wrong]
    assert [first.errors, again.errors, names.errors] == [[], [], []]


def test_a_prediction_that_cannot_be_kept_says_so(beside: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    panel = PredictionPanel("halve_the_volume")

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert panel.predict("34.7 psi") == RIGHT
    assert "No space left on device" in panel.trouble
    assert "Right" in panel.feedback


def test_one_exercise_of_a_lesson_is_open_at_a_time(tmp_path: Path) -> None:
    panels = [ExercisePanel(key, ANN, tmp_path) for key in LESSON]
    assert [panel.folded for panel in panels] == [False, *[True] * 6]
    assert [panel._fold.description for panel in panels[:2]] == ["Close exercise 1", "Open exercise 2"]
    panels[4]._fold.click()
    assert [panel.folded for panel in panels] == [True] * 4 + [False, True, True]
    assert panels[4]._next.layout.display == "none"
    panels[4].answer(right_answer(panels[4]))
    assert panels[4]._next.layout.display == ""
    panels[4]._next.click()
    assert [panel.folded for panel in panels] == [True] * 5 + [False, True]
    for panel in panels[5:]:
        panel.answer(right_answer(panel))
        panel.mark_points(0, 1)
    panels[6]._next.click()
    assert [panel.folded for panel in panels] == [False, *[True] * 6], "the first that is not done"
    panels[0]._fold.click()
    assert all(panel.folded for panel in panels)
    for panel in panels[:4]:
        panel.answer(right_answer(panel))
    assert all(panel._next.layout.display == "none" for panel in panels)
    assert all("7 of 7 done" in panel._state.value for panel in panels)
    for panel in panels:
        panel.close()
    again = [ExercisePanel(key, ANN, tmp_path) for key in LESSON]
    assert all(panel.folded for panel in again)


def test_opened_again_the_first_exercise_that_is_not_done_is_open(tmp_path: Path) -> None:
    for key in LESSON[:2]:
        panel = ExercisePanel(key, ANN, tmp_path)
        panel.answer(right_answer(panel))
        panel.close()
    panels = [ExercisePanel(key, ANN, tmp_path) for key in LESSON]
    assert [panel.folded for panel in panels] == [True, True, False, *[True] * 4]
    assert "2 of 7 done" in panels[0]._state.value


def test_a_number_alone_comes_back_with_the_unit_in_which_it_was_meant(beside: Path) -> None:
    """Typed in psi and read again in bar it would be another answer."""
    for panel, again in (
        (PredictionPanel("halve_the_volume"), lambda: PredictionPanel("halve_the_volume")),
        (ExercisePanel("gas_feels", ANN), lambda: ExercisePanel("gas_feels", ANN)),
    ):
        answer = right_answer(panel).split()[0]
        assert panel.answer(answer) == RIGHT
        says, unit = panel.feedback, panel.made.kind.label()
        panel._check.click()
        use_units("SI")
        back = again()
        assert back.control.box.value == f"{answer} {unit}"
        assert back.mark == RIGHT
        assert back.feedback == says
        use_units("US")
    lines = [entry.answer for entry in Progress(Owner(*load_owner())).entries()]
    assert len(lines) == 1, "entered, and then checked: one answer"


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


@pytest.fixture
def beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the lessons."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(progress_module, "FOLDER", USUAL)
    return tmp_path


def sign_in(panel: LearnerPanel, group: str, name: str) -> None:
    panel.group.box.value, panel.learner.box.value = group, name
    panel._button.click()


def test_a_shared_laptop_asks_who_it_is_in_any_lesson(beside: Path) -> None:
    one, other = ExercisePanel("squeezed"), ExercisePanel("why_slow")
    one.answer("12 psi")
    assert one._who.description == "Give your name"
    one._who.click()
    (asked,) = one._names.children
    sign_in(asked, "spring class", "Ann Other")
    assert "Are they yours, Ann Other" in asked._asked.value, "what was answered under no name is offered"
    asked._taken(None)
    assert len(Progress(ANN).entries()) == 1
    assert one._who.description == "Close"
    one._who.click()
    assert one._names.children == ()
    assert asked.closed
    assert one._who.description == other._who.description == "Not you?"
    assert "Ann Other" in other._state.value
    other._who.click()
    (asked,) = other._names.children
    other.close()
    assert asked.closed
    assert not one.errors + other.errors + asked.errors
    assert ExercisePanel("squeezed", owner=ANN)._who.layout.display == "none"
    assert one._who.layout.display == ""
    one._put_away(True)
    assert one._who.layout.display == "none", "a folded one asks nothing"


def test_a_new_name_changes_every_open_question_at_once(beside: Path) -> None:
    """Numbers, answers, the name in the head; and nothing that is typed by then lands under another name."""
    panel, names = ExercisePanel("squeezed"), LearnerPanel()
    choice, picture, words = (ExercisePanel(key) for key in ("twice_the_gauge", "read_dial", "why_slow"))
    everybody, seen = panel.made.question, bytes(picture._image.value)
    assert "no name given" in panel._state.value
    sign_in(names, "spring class", "Ann Other")
    assert panel.made == EXERCISES["squeezed"](ANN) or panel.made.question == EXERCISES["squeezed"](ANN).question
    assert html.escape(panel.made.question) in panel._ask.value
    assert panel.made.question != everybody
    for one in (panel, choice, picture, words):
        assert "Ann Other, spring class" in one._state.value
        assert one.owner == ANN
        assert one.answer(right_answer(one)) in (RIGHT, DONE)
    assert choice.control.box.options == choice.made.options
    assert bytes(picture._image.value) != seen
    assert Progress(Owner()).entries() == []
    assert len(Progress(ANN).entries()) == 4
    sign_in(names, "spring class", "Ben")
    assert all(one.control.box.value in ("", None) and one.feedback == "" for one in (panel, choice, picture, words))
    assert panel.answer(right_answer(panel)) == RIGHT
    names._switch.click()
    assert (names.owner, load_owner()) == (Owner(), ("", ""))
    assert names.group.box.value == "spring class", "the next learner is of the same class"
    assert panel.made.question == everybody
    assert "no name given" in panel._state.value
    sign_in(names, "spring class", "Ann Other")
    assert panel.control.box.value == right_answer(panel)
    assert "3 of 7 done" in panel._state.value
    assert [one.errors for one in (panel, choice, picture, words, names)] == [[]] * 5


def test_a_name_given_in_another_lesson_is_met_before_an_answer_is_kept(beside: Path) -> None:
    """Its kernel is another one: the settings file alone tells. What was pressed for the old numbers is not judged."""
    panel = ExercisePanel("squeezed")
    answer = right_answer(panel)
    assert save_owner("spring class", "Ann Other") == ""
    assert panel.answer(answer) == ""
    assert "Now Ann Other, spring class learns here" in panel.trouble
    for press in (panel.hint, panel.solution, lambda: panel.answer(answer)):
        save_owner("", f"name {press}")
        press()
        assert "learns here" in panel.trouble
    assert [path.name for path in beside.glob("progress/*.csv")] == []
    fixed = ExercisePanel("squeezed", ANN, beside)
    save_owner("", "somebody else")
    assert fixed.answer(right_answer(fixed)) == RIGHT
    assert (fixed.owner, panel.errors, fixed.errors) == (ANN, [], [])


def test_a_running_notebook_looks_for_a_name_by_itself(beside: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(question_module, "EVERY", 0.01)

    async def lesson() -> None:
        panel = ExercisePanel("squeezed")
        save_owner("spring class", "Ann Other")
        for _ in range(500):
            await asyncio.sleep(0.01)
            if panel.owner == ANN:
                break
        assert panel.owner == ANN
        assert "Ann Other" in panel._state.value
        panel.close()
        for _ in range(500):
            await asyncio.sleep(0.01)
            if not question_module._seen:
                break
        assert question_module._seen == [], "no question is open: nothing to look for"

    for panel in list(OPEN):
        panel.close()
    asyncio.run(lesson())


def test_answers_under_no_name_are_offered_and_taken_over_only_with_a_yes(beside: Path) -> None:
    panel, names = ExercisePanel("squeezed"), LearnerPanel()
    panel.hint()
    panel.answer(right_answer(panel))
    before = Progress(Owner()).entries()
    sign_in(names, "spring class", "Ann Other")
    assert "2 lines were kept here under no name" in names._asked.value
    assert names._offer.layout.display == ""
    assert "not tried yet" in panel._state.value
    no, yes = names._offer.children[1].children[::-1]
    no.click()
    assert names._offer.layout.display == "none"
    assert (Progress(Owner()).entries(), Progress(ANN).entries()) == (before, [])
    sign_in(names, "spring class", "Ann Other")
    yes.click()
    assert "Taken over: 2" in names._told.value
    assert (Progress(Owner()).entries(), Progress(ANN).entries()) == ([], before)
    assert "✔ done" in panel._state.value
    assert "✔" in panel.feedback
    assert "as it was kept" in panel.feedback, "the numbers are others now"
    sign_in(names, "spring class", "Ben")
    assert names._offer.layout.display == "none", "there is nothing left"
    assert [panel.errors, names.errors] == [[], []]


def test_answers_that_cannot_be_taken_over_stay_where_they_are(beside: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    panel, names = ExercisePanel("squeezed"), LearnerPanel()
    panel.answer(right_answer(panel))
    sign_in(names, "spring class", "Ann Other")
    Progress(ANN).path.write_text("shopping list", encoding="utf-8")
    names._offer.children[1].children[0].click()
    assert "progress file of this kit" in names.trouble
    assert len(Progress(Owner()).entries()) == 1
    Progress(ANN).path.unlink()
    sign_in(names, "spring class", "Ann Other")

    def full(number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    names._offer.children[1].children[0].click()
    assert "could not be taken over (No space left on device)" in names.trouble
    assert len(Progress(Owner()).entries()) == 1


def test_a_name_is_picked_from_the_class_list(beside: Path) -> None:
    owners = [Owner("spring class", name) for name in ("Cho", "Ann Other", "Ben")]
    (beside / "class.txt").write_text(class_text(owners), encoding="utf-8")
    names, panel = LearnerPanel(), ExercisePanel("squeezed")
    assert names.pick.box.options == (CHOOSE, "Cho", "Ann Other", "Ben", OTHER)
    assert names.learner.layout.display == "none"
    names._button.click()
    assert "Name: got no name yet" in names.pick.error
    assert load_owner() == ("", "")
    names.pick.box.value = "Ann Other"
    names._button.click()
    assert (names.pick.error, panel.owner) == ("", ANN)
    names.pick.box.value, names.partner.box.value = "Cho", "Ben"
    names._button.click()
    assert panel.owner == Owner("spring class", "Ben + Cho")
    again = LearnerPanel()
    assert {again.pick.box.value, again.partner.box.value} == {"Ben", "Cho"}
    names.partner.box.value = "Cho"  # with oneself: alone
    names.pick.box.value = "Cho"
    names._button.click()
    assert panel.owner == Owner("spring class", "Cho")
    names.pick.box.value = OTHER
    assert (names.learner.layout.display, names.group.box.value) == ("", "spring class")
    names.learner.box.value = "zoe+ben"
    names._button.click()
    assert panel.owner == Owner("spring class", "ben + zoe")
    assert LearnerPanel().pick.box.value == OTHER
    assert [names.errors, panel.errors] == [[], []]


def test_a_class_list_that_cannot_be_used_is_told_and_names_are_typed(beside: Path) -> None:
    (beside / "class.txt").write_text("class: spring class\n", encoding="utf-8")
    names = LearnerPanel()
    assert "class.txt without a name" in names.trouble
    assert "Type your name instead" in names.trouble
    sign_in(names, "spring class", "Ann Other")
    assert load_owner() == ("spring class", "Ann Other")


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Ana + Ben", "Ana + Ben"), ("Ben+Ana", "Ana + Ben"), (" ben  +  Ana ", "Ana + ben"), ("Ana + ana", "Ana"),
        ("Ana", "Ana"), ("Ana +", "Ana"), ("", ""), ("=1+1", "=1+1"), ("C++ 3", "C++ 3"),
        ("Émile + Zoë", "Zoë + Émile"),
    ],
)  # fmt: skip
def test_two_at_one_laptop_are_one_learner_whoever_is_named_first(typed: str, name: str) -> None:
    assert together(typed) == name
    assert together(together(typed)) == together(typed)


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
    assert Path("progress") == USUAL
    assert ExercisePanel("squeezed", ANN).progress.path.parent == progress_module.FOLDER
    assert Progress(ANN).path == ExercisePanel("squeezed", ANN).progress.path
