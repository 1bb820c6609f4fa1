"""Every exercise, with nobody's numbers and with a class's: right answers, usual mistakes by name, and wrong ones."""

from __future__ import annotations

import math
import re
from collections import Counter
from contextlib import suppress
from importlib import import_module
from inspect import isfunction
from itertools import product
from pathlib import Path
from string import Formatter
from types import ModuleType
from typing import Any

import hypothesis
import numpy as np
import pytest
from hypothesis import strategies as st
from parts import quick
from randomly import examples
from sentences import refused

from oilkit.errors import InputError
from oilkit.exercises import all_exercises, all_predictions, find, find_prediction, lessons, predictions
from oilkit.exercises.exercise import (
    APART,
    DONE,
    MISTAKE,
    NOBODY,
    READ_WITHIN,
    RIGHT,
    ROUGH,
    SORTS,
    WITHIN,
    WRONG,
    Exercise,
    ExerciseTemplate,
    Owner,
    Sampler,
    Verdict,
    figures,
    is_nonsense,
    judge,
    near,
)
from oilkit.exercises.lessons import LESSONS
from oilkit.exercises.tables import given, tables_of
from oilkit.quantities.records import values_in
from oilkit.quantities.units import Q, unit_switch, use_units

SMALL_DIFFERENCES = ("how_much_leaked",)
"""What is computed as a small difference of two amounts, and moves by more than `WITHIN` where these are rounded."""
CLASS = [NOBODY, *(Owner("spring class", f"learner {k}") for k in range(20))]
EXERCISES = all_exercises()
NUMERIC = [key for key, maker in EXERCISES.items() if maker().answer is not None]
UNITS = {
    "Pag": ("psig", "barg", "kPag"),
    "Paa": ("psia", "bara", "kPaa"),
    "Pa": ("psi", "bar", "kPa"),
    "m**3": ("qt", "L", "gal"),
    "m**3/s": ("gpm", "Lpm", "L/s"),
    "m": ("in", "mm", "ft"),
    "s": ("s", "ms", "min"),
    "K": ("degC", "degF", "K"),
    "delta_degC": ("delta_degC", "delta_degF", "K"),
    "dimensionless": ("", "percent", "dimensionless"),
    "rev/s": ("rpm", "rev/s", "rev/min"),
    "m/s": ("m/s", "ft/s", "km/h"),
    "m/s**2": ("g_0", "m/s**2", "ft/s**2"),
    "m**2": ("in**2", "cm**2", "mm**2"),
    "V": ("V", "mV", "kV"),
    "A": ("A", "mA", "kA"),
    "ohm": ("ohm", "milliohm", "kiloohm"),
    "W": ("W", "kW", "hp"),
    "Pa*s": ("cP", "Pa*s", "mPa*s"),
    "m**2/s": ("cSt", "mm**2/s", "m**2/s"),
    "kg/m**3": ("kg/m**3", "lb/gal", "g/cm**3"),
    "m**3/rev": ("in**3/rev", "cm**3/rev", "L/rev"),
}
"""Three ways to write each sort of answer."""


def typed(made: Exercise, si: float, unit: str) -> str:
    assert made.kind is not None
    return f"{float(Q(si, made.kind.si).m_as(unit or 'dimensionless')):.6g} {unit}".strip()


@pytest.mark.parametrize(("learners", "wrongs"), quick(1, [(2, 60), (20, 1000)]))
@pytest.mark.parametrize("key", NUMERIC)
def test_answers(key: str, learners: int, wrongs: int) -> None:
    """For nobody and some learners: right in three units; to three figures; each mistake recognised by its name;
    random wrong answers never right. Tolerance: `WITHIN` for what is computed, `READ_WITHIN` at the most for what
    is read and for `SMALL_DIFFERENCES`; no mistake may lie nearer to the truth than `APART` tolerances."""
    maker = EXERCISES[key]
    dice = np.random.default_rng(7)
    for owner in CLASS[: 1 + learners]:
        made = maker(owner)
        assert made.answer is not None
        assert made.kind is not None, "an answer of a kind that the kit does not know"
        assert made.within <= (WITHIN if maker.sort == "compute" and key not in SMALL_DIFFERENCES else READ_WITHIN)
        truth = float(made.answer.m_as(made.kind.si))
        assert math.isfinite(truth)
        assert abs(truth) > 0.0
        for unit in UNITS[made.kind.si]:
            assert judge(made, typed(made, truth, unit)).mark == RIGHT, (owner, unit)
        three = f"{float(made.kind.display(truth, 'US')):.3g} {made.kind.us if made.kind.us != 'dimensionless' else ''}"
        assert judge(made, three.strip()).mark == RIGHT, (owner, three)
        unit = UNITS[made.kind.si][0]
        for mistake in made.mistakes:
            value = float(mistake.answer.m_as(made.kind.si))
            verdict = judge(made, typed(made, value, unit))
            if verdict.mark != ROUGH:  # a mistake may happen to be the truth to one figure
                assert (verdict.mark, verdict.mistake) == (MISTAKE, mistake.name), (owner, mistake.name, verdict)
            assert mistake.repair.strip()[-1] in "?.", mistake
            assert abs(value - truth) > APART * made.within * abs(truth)
    made = maker()
    truth = float(made.answer.m_as(made.kind.si))  # type: ignore[union-attr]
    for factor in np.concatenate([dice.uniform(-3.0, 5.0, wrongs // 2), np.exp(dice.normal(0.0, 0.5, wrongs // 2))]):
        wrong = truth * float(factor)
        if not near(wrong, truth, made.within * 1.001):
            assert judge(made, f"{typed(made, wrong, UNITS[made.kind.si][0])}").mark != RIGHT  # type: ignore[union-attr]


def test_a_small_difference_of_printed_amounts_is_right_in_liters() -> None:
    """By hand from the numbers in brackets, to 0.01 L; within `WITHIN` it would be wrong for one in twelve."""
    for k in range(100):
        made = find("how_much_leaked")(Owner("spring class", f"learner {k}"))
        room, _, tight, charge, shown, warm, cold = (
            number
            for unit in ("L", "barg", "°C")
            for number in (float(one) for one in re.findall(rf"\(([-\d.]+) {unit}\)", made.question))
        )
        left = room * (1.0 - (charge + 1.013) * (cold + 273.15) / (warm + 273.15) / (shown + 1.013))
        assert judge(made, f"{tight - left:.2f} L").mark == RIGHT, made.question


@pytest.mark.parametrize("key", [key for key in EXERCISES if key not in NUMERIC])
def test_choices_and_sentences(key: str) -> None:
    for owner in CLASS:
        made = EXERCISES[key](owner)
        if made.options:
            assert len(set(made.options)) == len(made.options) >= 2
            assert len(made.replies) == len(made.options)
            marks = [judge(made, option).mark for option in made.options]
            assert marks == [RIGHT if k == made.right else MISTAKE for k in range(len(marks))]
            refused("Your answer", lambda m=made: judge(m, None))  # type: ignore[misc]
        else:
            assert judge(made, "A sentence of four words and more.").mark == DONE
            assert len(made.points) >= 2
            assert made.model.endswith(".")
            refused("Your answer", lambda m=made: judge(m, "no"))  # type: ignore[misc]


@pytest.mark.parametrize("lesson", LESSONS)
def test_each_lesson_has_all_four_sorts_and_six_in_all(lesson: int) -> None:
    own = [maker for maker in EXERCISES.values() if maker.lesson == lesson]
    assert len(own) >= 6
    assert {maker.sort for maker in own} == set(SORTS)


@pytest.mark.parametrize("key", EXERCISES)
def test_texts(key: str) -> None:
    """Plain and complete: hints, steps, and for a teacher what it is good for. Sentences of 30 words at the most."""
    import re

    maker = EXERCISES[key]
    made = maker()
    assert maker.aim
    assert maker.misconception
    assert made.hints
    assert made.steps
    for sentence in re.split(r"(?<=[.?!]) ", made.question):
        assert len(sentence.split()) <= 40, sentence
    if maker.sort == "read":
        assert made.picture is not None
        assert made.picture_says
    if maker.sort in ("compute", "read"):
        assert made.answer is not None
        assert len([m for m in made.mistakes if "wrong unit" not in m.name]) >= 1


@pytest.mark.parametrize("key", quick(6, [key for key, maker in EXERCISES.items() if maker().picture]))
def test_pictures_draw_in_both_systems(key: str) -> None:
    from matplotlib.figure import Figure

    from oilkit.exercises.gauges import still

    made = EXERCISES[key]()
    pictures = set()
    before = unit_switch.system
    try:
        for system in unit_switch.systems:
            use_units(system)
            figure = Figure(figsize=(4.6, 3.2))
            assert made.picture is not None
            made.picture(figure)
            pictures.add(still(figure))
    finally:
        use_units(before)
    assert all(len(picture) > 3000 for picture in pictures)
    if made.kind is not None and made.kind.us != made.kind.metric:
        assert len(pictures) == 2


def test_own_numbers_are_the_same_everywhere_and_differ_between_learners() -> None:
    """Names as a class writes them: case and blanks do not matter. The numbers below were drawn once: a machine that
    draws others would give teacher and learner different ones."""
    one, same = Owner("Spring class", "Ann  Other"), Owner("spring  class", " ann other")
    for maker in EXERCISES.values():
        assert maker(one).question == maker(same).question
    squeezed = [find("squeezed")(owner).question for owner in CLASS]
    assert len(set(squeezed)) > 12
    assert Sampler(Owner("a", "b"), "key").between(1, 100, 1, 5, "psig") == Sampler(Owner("A", "B"), "key").between(
        1, 100, 1, 5, "psig"
    )
    assert Owner("a", "b").seed("key", 0) != Owner("ab", "").seed("key", 0)


@pytest.mark.parametrize("key", ["capped_up_there", "twice_the_gauge", "up_the_mountain", "stronger_spring"])
def test_the_first_exercise_has_not_one_right_answer_for_all(key: str) -> None:
    """Who copies it from a neighbor is often wrong; nobody's is the usual one."""
    rights = [find(key)(Owner("spring class", f"learner {k}")) for k in range(40)]
    count = Counter(made.options[made.right] for made in rights)
    assert max(count.values()) <= 30, count
    usual = find(key)()
    assert usual.options[usual.right] in count


def test_significant_figures() -> None:
    assert [figures(t) for t in ("1.50 qt", "60", "0.02", "-3.4 psi", "1e3", "0 1/2 in")] == [3, 2, 1, 2, 1, 3]
    assert figures("±0.30 psi") == 2
    made = find("to_what_volume")()
    assert made.answer is not None
    assert "two or three" in judge(made, f"{made.answer.m:.8f} qt").says
    assert judge(made, "0.9 qt").mark == ROUGH  # 0.87 to one figure
    assert judge(made, "0.8 qt").mark in (WRONG, MISTAKE)
    assert judge(made, "0 3/4 qt").mark == WRONG


@pytest.mark.parametrize(("key", "begins", "unit"), [("to_what_volume", "0.9", "qt"), ("trips_of_the_wave", "6", "")])
def test_stray_signs_behind_a_number_are_judged_or_refused(key: str, begins: str, unit: str) -> None:
    """Right to one figure is ``6.`` and ``6..``, and nothing that was typed stops judging."""
    made, marks = find(key)(), []
    for count in range(4):
        for signs in product(".,;-( e0", repeat=count):
            with suppress(InputError):
                marks.append(judge(made, f"{begins}{''.join(signs)} {unit}").mark)
    assert marks.count(ROUGH) > 10
    assert judge(made, f"{begins}, {unit}" if unit else f"{begins}..").mark == ROUGH


def test_a_prediction_is_an_exercise_that_tells_the_reason_at_once() -> None:
    """By the same judge and under the name of its own box; never right to one figure only, for the answer is told."""
    made = find_prediction("halve_the_volume")
    assert made.why
    assert judge(made, "34.7 psi").says == f"Right: 34.7 psig (2.39 barg). {made.why}"
    told = f" The kit's answer is 34.7 psig (2.39 barg). {made.why}"
    assert judge(made, "20 psi") == Verdict(MISTAKE, made.mistakes[0].repair + told)
    assert judge(made, "30 psi") == Verdict(WRONG, f"30.0 psig is too low.{told}")
    for answer in ("", "lots", "3 qt"):
        refused("Your prediction", lambda a=answer: judge(made, a, "Your prediction"))  # type: ignore[misc]
    choice = find_prediction("straight_line")
    right = choice.options[choice.right]
    assert judge(choice, right) == Verdict(RIGHT, f"Right. {choice.why}")
    assert judge(choice, choice.options[0]) == Verdict(WRONG, f"No. The right one: {right}. {choice.why}")
    refused("Your prediction", lambda: judge(choice, None, "Your prediction"))


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        ("time_until_empty", "9.6 s", "You took the middle between first and last flow."),
        ("time_until_empty", "9 s", "That empties the whole vessel"),
        ("mean_flow", "3.75 gpm", "You took the middle between first and last flow."),
    ],
)
def test_of_two_usual_mistakes_the_nearer_one_is_named(name: str, typed: str, says: str) -> None:
    assert judge(find_prediction(name), typed).says.startswith(says)


@pytest.mark.parametrize("folder", [predictions, lessons])
@pytest.mark.parametrize("lesson", LESSONS)
def test_each_number_that_is_worked_out_is_named_in_its_table(folder: ModuleType, lesson: int) -> None:
    """And each function has a table. That each name in a table has its number, the making of it says."""
    module = import_module(f"{folder.__name__}.lesson_{lesson:02d}")
    tables = tables_of(Path(str(module.__file__)))
    for name, work_out in vars(module).items():
        if isfunction(work_out) and name in tables:
            where, told = tables[name]
            sentences = [words for _, words in values_in("", told) if isinstance(words, str)]
            named = {place for words in sentences for _, place, _, _ in Formatter().parse(words)}
            start = given(where, told)
            found = work_out(**start) if folder is predictions else work_out(Sampler(NOBODY, name))
            assert start.keys() | found <= named | told.get("mistakes", {}).keys() | {"answer", "right"}
        else:
            own = isfunction(work_out) and work_out.__module__ == module.__name__
            assert not own or name.startswith("_") or name in OTHERS, name


OTHERS = {"installation_of_the_lesson", "planned_set_up"}
"""Public functions of the lessons' modules that make what several questions are about."""


@pytest.mark.parametrize(
    ("told", "missing"),
    [
        ({"question": "At {height}?", "why": ""}, "'height'"),
        ({"question": "At {charge:heigth}?", "why": ""}, "'HEIGTH'"),
        ({"question": "?", "why": "", "mistakes": {"gauge": "?"}}, "'gauge'"),
        ({"question": "?", "why": "", "right": "c", "options": {"a": "x", "b": "y"}}, "'c'"),
        ({"question": "?", "why": "", "options": {"a": "x", "b": "y"}}, "'right'"),
        ({"question": "?"}, "no why"),
        ({"question": "?", "why": "", "hint": "?"}, "unknown key hint"),
        ({"question": "?", "why": "", "numbers": {"room": "3 quarz"}}, "'3 quarz'"),
        ({"question": "?", "why": "", "numbers": {"room": "three qt"}}, "'three qt'"),
    ],
)
def test_what_is_wrong_in_a_table_is_named(told: dict[str, Any], missing: str) -> None:
    with pytest.raises(InputError, match=rf"file, \[name\].*: got .*{missing}"):
        predictions.prediction("file, [name]", told, lambda **_: {"charge": Q(1, "psig")})


def test_what_is_wrong_in_a_table_of_an_exercise_in_words_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    told = dict.fromkeys(("aim", "misconception", "question"), "?")
    monkeypatch.setattr(lessons, "tables_of", lambda _: {"name": ("file, [name]", told)})
    with pytest.raises(InputError, match=r"file, \[name\]: got no hints; wanted .* and model and points"):
        list(lessons._in(import_module(f"{lessons.__name__}.lesson_00"), 0))
    told |= {"hints": ["{charge}"], "model": "?", "points": []}
    made = list(lessons._in(import_module(f"{lessons.__name__}.lesson_00"), 0))[-1]
    with pytest.raises(InputError, match=r"file, \[name\]: got the name 'charge', which is not there"):
        made()


@pytest.mark.parametrize("name", all_predictions())
def test_what_is_shown_as_the_predicted_number_is_right(name: str) -> None:
    """Nobody is told that 0.05 s is too high and the answer 0.05 s: the tolerance is wider than what is rounded."""
    made = find_prediction(name)
    if made.answer is None:
        return
    assert made.kind is not None
    truth = float(made.answer.m_as(made.kind.si))
    for system in unit_switch.systems:
        shown = round(float(made.kind.display(truth, system)), made.kind.digits(system))
        for end in (-0.49, 0.49):
            number = shown + end * 10.0 ** -made.kind.digits(system)
            assert judge(made, f"{number:.6f} {made.kind.label(system)}").mark == RIGHT, number


def test_bad_answers_are_refused_in_one_sentence() -> None:
    made = find("to_what_volume")()
    for text in ("", "much", "3 psi", "3 qt qt", "1,500 qt", "nan", "inf qt"):
        refused("Your answer", lambda t=text: judge(made, t))  # type: ignore[misc]
    refused("exercise", lambda: find("nothing"))


def test_a_number_without_unit_is_read_in_the_units_on_display() -> None:
    made = find("to_what_volume")()
    assert made.answer is not None
    assert judge(made, f"{made.answer.m:.3g}").mark == RIGHT  # US on display


@pytest.mark.parametrize(
    "text",
    [
        "bla bla bla", "Bla, bla. BLA!", "bla bla bla bla blub bla", "asdf jkl sdfg", "1 2 3 4", ". . . .", "a b c d",
        "no no no", "xxx yyy zzz", "aaa bbb ccc", "abc abc abc", "??? !!! ...", "qwrt pdfg zxcv bnm",
    ],
)  # fmt: skip
def test_nonsense_gets_a_friendly_sentence_and_no_point(text: str) -> None:
    verdict = judge(find("why_slow")(), text)
    assert (verdict.mark, "a friend" in verdict.says) == (WRONG, True)


@pytest.mark.parametrize(
    "text",
    [
        "Because that is so.", "It gets warm.", "Gas gets warm", "pV is constant", "the air is hot, hot air presses",
        "Weil sie sich erwärmt.", "Потому что газ нагревается", "The gas has time to give its heat away. " * 40,
    ],
)  # fmt: skip
def test_a_short_or_foreign_sentence_is_one(text: str) -> None:
    assert judge(find("why_slow")(), text).mark == DONE


def test_every_model_answer_and_point_is_a_sentence() -> None:
    for key, maker in EXERCISES.items():
        for owner in CLASS[:2]:
            made = maker(owner)
            assert not made.model or not is_nonsense(made.model), key
            assert [point for point in made.points if len(point.split()) > 2 and is_nonsense(point)] == []


@examples(300)
@hypothesis.given(st.text(max_size=60), st.integers(3, 40))
def test_one_word_again_and_again_is_no_sentence(word: str, times: int) -> None:
    """And whatever is typed is judged: nothing breaks it."""
    is_nonsense(word)
    assert is_nonsense(" ".join([word.replace(" ", "")] * times)) or len(word.split()) > 1 or not word.isalpha()


def test_which_questions_ask_a_psi_alone_back() -> None:
    """Those for an absolute pressure by that word; a gauge's reading and the air's pressure are what they are."""
    about = [key for key, maker in EXERCISES.items() if maker().about_which]
    assert about == ["gas_feels", "read_dial"]
    assert [name for name in all_predictions() if find_prediction(name).about_which] == ["open_dial"]


@pytest.mark.parametrize("key", ["gas_feels", "read_dial"])
def test_a_bare_psi_is_asked_back_where_gauge_or_absolute_is_the_question(key: str) -> None:
    """Right or wrong: else the asking would tell. A number alone counts as the box says."""
    made = find(key)()
    assert made.answer is not None
    truth = made.answer.m_as("psia")
    for number in (truth, truth - 14.7, 3.0):
        for unit in ("psi", "psis", "PSI"):
            sentence = refused("Your answer", lambda t=f"{number:.1f} {unit}": judge(made, t))  # type: ignore[misc]
            assert "could be gauge or absolute; wanted psig for what a gauge shows or psia" in sentence
    assert "barg for what" in refused("Your answer", lambda: judge(made, "3 bars"))
    assert judge(made, f"{truth:.1f} psia").mark == RIGHT
    assert judge(made, f"{truth:.1f} psi abs").mark == RIGHT
    assert judge(made, f"{truth:.1f}").mark == RIGHT


def test_elsewhere_a_bare_psi_is_what_the_question_means() -> None:
    for key in ("squeezed", "air_from_a_bottle"):
        made = find(key)()
        assert made.answer is not None
        number = made.answer.m_as(made.kind.us)  # type: ignore[union-attr]
        assert judge(made, f"{number:.2f} psi").mark == RIGHT
        assert judge(made, f"{number * 0.0689476:.3f} bars").mark == RIGHT
        assert judge(made, f"{number * 6.89476:.1f} kPa").mark == RIGHT
        assert judge(made, f"{number * 0.00689476:.5f} MPa").mark == RIGHT
        assert "did you mean psi?" in refused("Your answer", lambda m=made: judge(m, "50 lbs"))  # type: ignore[misc]


@pytest.mark.parametrize("owner", CLASS[:4])
@pytest.mark.parametrize("key", [key for key in NUMERIC if EXERCISES[key]().kind.si in ("m**3", "Pag")])  # type: ignore[union-attr]
def test_nobody_is_told_to_have_written_what_was_not_written(key: str, owner: Owner) -> None:
    """The right number of the other system: alone, with that system's own unit, and in another unit of the trade."""
    made = EXERCISES[key](owner)
    assert made.answer is not None
    assert made.kind is not None
    us, si = (float(made.kind.display(float(made.answer.m_as(made.kind.si)), system)) for system in ("US", "SI"))
    if not any(mistake.name == f"{made.kind.label('US')}, written with the wrong unit" for mistake in made.mistakes):
        return  # it falls together with another mistake
    alone = judge(made, f"{si:.4g}")
    if alone.mistake == "no unit given":
        assert f"{si:.4g} {made.kind.label('SI')} is right" in alone.says
    assert "you wrote" not in alone.says
    own, other, thousand = ("L", "liters", "ml") if made.kind.si == "m**3" else ("bar", "bars", "mbar")
    for unit in (own, other):
        assert f"and you wrote {unit}. Which unit" in judge(made, f"{us:.4g} {unit}").says
    if thousand == "ml":
        says = judge(made, f"{1000 * us:.0f} ml").says
        assert "you wrote" not in says
        assert f"and {1000 * us:.0f} ml is {us:.2f} L. Which unit" in says
        assert judge(made, f"{1000 * si:.0f} ml").mark == RIGHT


def test_a_maker_whose_mistakes_cannot_be_told_apart_says_so() -> None:
    def hopeless(draw: Sampler) -> Exercise:
        from oilkit.exercises.exercise import Mistake

        return Exercise("How much?", ("h",), ("s",), answer=Q(2, "qt"), mistakes=(Mistake("same", Q(2.01, "qt"), "?"),))

    with pytest.raises(ArithmeticError, match="told apart"):
        ExerciseTemplate("hopeless", 1, "compute", "", hopeless)()


def test_an_exercise_has_one_sort_of_answer() -> None:
    fields: dict[str, Any] = {"question": "?", "hints": (), "steps": ()}
    for wrong in ({}, {"answer": Q(1, "qt"), "model": "x"}):
        with pytest.raises(ValueError, match="not one sort"):
            Exercise(**fields, **wrong)


def test_what_is_said_stands_in_the_units_on_display_whichever_were_first() -> None:
    said = {}
    for system in ("US", "SI", "US"):
        use_units(system)
        said[system] = " ".join(find("line_that_is_read")(NOBODY).replies)
    assert " psig" in said["US"]
    assert " barg" in said["SI"]
    assert " barg" not in said["US"]
