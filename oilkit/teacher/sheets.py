"""Worksheets on paper, and the key to them: each learner's own numbers, answers, and the answers of usual mistakes.

Both are made from the exercises themselves, with the same draw of numbers as a learner's panel.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from pint.facets.plain import PlainQuantity

from oilkit.exercises import Exercise, ExerciseTemplate, Owner
from oilkit.exercises.exercise import UNIT_MISTAKE, Sampler, label
from oilkit.panels.framework.exercise import TITLES
from oilkit.quantities.printed import text
from oilkit.quantities.units import Qty
from oilkit.teacher.lesson import Lesson
from oilkit.teacher.pages import drawn, e, page, picture, table

T = TypeVar("T")
LINES = {"predict": 1, "compute": 4, "read": 2, "explain": 4}
"""Lines to write on, by sort."""


@dataclass(frozen=True)
class Own:
    """An exercise as one learner has it."""

    owner: Owner
    maker: ExerciseTemplate
    made: Exercise
    numbers: tuple[str, ...]
    """What was drawn for this learner, in the order of the draw."""
    drawn: tuple[str, ...] = ()
    """The same to all digits: learners with the same have the same exercise."""


class _Noting(Sampler):
    """Hands out what another draw hands out, and writes it down."""

    def __init__(self, draw: Sampler) -> None:
        self._draw = draw
        self.noted: list[str] = []
        self.exactly: list[str] = []

    def between(self, low: float, high: float, step: float, usual: float, unit: str) -> Qty:
        number = self._draw.between(low, high, step, usual, unit)
        self.noted.append(text(number))
        self.exactly.append(repr(number))
        return number

    def one_of(self, things: Sequence[T], usual: int = 0) -> T:
        thing = self._draw.one_of(things, usual)
        if isinstance(thing, str | int | float | PlainQuantity):
            self.noted.append(text(thing))
        self.exactly.append(str(next(k for k, one in enumerate(things) if one is thing)))
        return thing


def own(maker: ExerciseTemplate, owner: Owner) -> Own:
    """An exercise with a learner's numbers, and these numbers."""
    noted: list[_Noting] = []

    def make(draw: Sampler) -> Exercise:
        noted.append(_Noting(draw))
        return maker.make(noted[-1])

    made = dataclasses.replace(maker, make=make)(owner)
    return Own(owner, maker, made, tuple(noted[-1].noted), tuple(noted[-1].exactly))


def worksheet_file(number: int) -> str:
    return f"worksheets/lesson-{number:02d}.html"


def called(owner: Owner) -> str:
    """Whose sheet it is."""
    return owner.learner or owner.group or "everybody"


# --------------------------------------------------------------------------------------------------------- worksheets


def worksheet(lesson: Lesson, rows: Sequence[Sequence[Own]]) -> str:
    """The worksheets of one lesson, a new page for each learner; ``rows`` has a learner's exercises in each row."""
    sheets = []
    pictures: dict[tuple[str, ...], str] = {}
    for exercise in (one for exercises in rows for one in exercises):
        same = (exercise.maker.key, *exercise.drawn)
        if exercise.made.picture is not None and same not in pictures:
            pictures[same] = drawn(exercise.made.picture)
    for k, exercises in enumerate(rows):
        owner = exercises[0].owner
        who = "".join(
            f"<span>{title}: {e(given)}</span>"
            for title, given in (("Name", owner.learner), ("Class", owner.group), ("Date", ""))
        )
        body = "\n".join(_question(n, exercise, pictures) for n, exercise in enumerate(exercises, 1))
        new = ' class="new-page"' if k else ""
        sheets.append(
            f'<div{new} id="learner-{k + 1}"><h1>{e(lesson.title)}</h1><div class="who">{who}</div>\n{body}</div>'
        )
    return page(f"Worksheet: {lesson.title}", "\n".join(sheets))


def _question(number: int, exercise: Own, pictures: dict[tuple[str, ...], str]) -> str:
    made, maker = exercise.made, exercise.maker
    parts = [f"<h3>{number}. {TITLES[maker.sort]}: {e(maker.aim)}</h3><p>{e(made.question)}</p>"]
    if made.picture is not None:
        parts.append(picture(pictures[(maker.key, *exercise.drawn)], made.picture_says, "95mm"))
    if made.options:
        parts.append(f'<ul class="options">{"".join(f"<li>{e(option)}</li>" for option in made.options)}</ul>')
    else:
        parts.append(f'<div class="lines">{"<div></div>" * LINES[maker.sort]}</div>')
    if made.answer is not None and made.kind is not None:
        us, metric = label(made.kind.us), label(made.kind.metric)
        unit = " or ".join(dict.fromkeys(u for u in (us, metric) if u))
        parts.append(f"<p>Answer: ______________________ {e(f'({unit})' if unit else '')}</p>")
    return f'<div class="keep">{"".join(parts)}</div>'


# ---------------------------------------------------------------------------------------------------------------- key


def key(lessons: Sequence[Lesson], exercises: dict[str, list[Own]]) -> str:
    """The answer key to all worksheets as one page; ``exercises`` has each exercise as each learner has it."""
    parts = [
        "<h1>Answer key</h1>",
        "<p>Each learner's own numbers, the right answer, and what comes out with each usual mistake: find the number "
        "that a learner wrote, and the head of its column names the mistake. Unlike panels, paper does not judge: a "
        "number counts as right as far off as stated above its table. The number in brackets with the other unit is "
        "the right one, written with the wrong unit.</p>",
    ]
    for lesson in lessons:
        there = [rows for rows in exercises.values() if rows[0].maker.lesson == lesson.number]
        if not there:
            continue
        parts.append(f'<div class="new-page"><h2 id="lesson-{lesson.number:02d}">{e(lesson.title)}</h2>')
        parts += [_answers(number, rows) for number, rows in enumerate(there, 1)]
        parts.append("</div>")
    return page("Answer key", "\n".join(parts), wide=True)


def _answers(number: int, rows: list[Own]) -> str:
    maker, first = rows[0].maker, rows[0].made
    head = f"<h3>{number}. {TITLES[maker.sort]}: {e(maker.aim)}</h3>"
    head += f"<p><b>Misconception:</b> {e(maker.misconception)}</p>" if maker.misconception else ""
    if first.answer is not None:
        return head + _numbers(rows)
    if first.options:
        return head + _choices(rows)
    return head + "".join(
        f"{_for(group, rows)}<p><b>Model answer:</b> {e(group[0].made.model)}</p>"
        f"<p><b>It says:</b></p><ul>{''.join(f'<li>{e(point)}</li>' for point in group[0].made.points)}</ul>"
        for group in _alike(rows, lambda row: (row.made.model, row.made.points))
    )


def _numbers(rows: list[Own]) -> str:
    """One row for each learner, a column for each mistake; the worked solution of the first learner below."""
    made = rows[0].made
    repairs = {m.name: m.repair for row in rows for m in row.made.mistakes if not m.name.endswith(UNIT_MISTAKE)}
    cells = []
    for row in rows:
        answers = {mistake.name: text(mistake.answer) for mistake in row.made.mistakes}
        assert row.made.answer is not None
        cells.append(
            (
                e(called(row.owner)),
                _listed(row.numbers),
                f"<b>{e(text(row.made.answer))}</b>",
                *(e(answers.get(name, "–")) for name in repairs),
            )
        )
    asked = "".join(f"<li><b>{e(name)}:</b> {e(repair)}</li>" for name, repair in repairs.items())
    steps = "".join(f"<li>{e(step)}</li>" for step in made.steps)
    return (
        f"<p>{e(made.question)} <i>(as {e(called(rows[0].owner))} has it; right within {100 * made.within:g} %)</i></p>"
        + table(("learner", "own numbers", "right", *map(e, repairs)), cells)
        + f'<div class="keep"><p><b>Worked, for {e(called(rows[0].owner))}:</b></p><ol>{steps}</ol></div>'
        + (f'<div class="keep"><p><b>Ask, after a mistake:</b></p><ul>{asked}</ul></div>' if asked else "")
    )


def _listed(numbers: Sequence[str]) -> str:
    return f'<span class="whole">{"<br>".join(map(e, numbers))}</span>'


def _choices(rows: list[Own]) -> str:
    """The choices with what to say to each, as the first learner has them; then what is right for whom."""
    made = rows[0].made
    replies = made.replies or ("",) * len(made.options)
    cells = [
        (f"<b>right: {e(option)}</b>" if k == made.right else e(option), e(reply))
        for k, (option, reply) in enumerate(zip(made.options, replies, strict=True))
    ]
    shown = f"<p>{e(made.question)} <i>(as {e(called(rows[0].owner))} has it)</i></p>" + table(("choice", "say"), cells)
    if len(_alike(rows, lambda row: (row.made.question, row.made.options, row.made.right))) == 1:
        return shown
    own_rows = [
        (e(called(row.owner)), _listed(row.numbers), f"<b>{e(row.made.options[row.made.right])}</b>") for row in rows
    ]
    return shown + table(("learner", "own numbers", "right"), own_rows)


def _for(group: list[Own], rows: list[Own]) -> str:
    """Whom an answer is for, where not everybody has the same."""
    return "" if len(group) == len(rows) else f"<p><b>{e(', '.join(called(row.owner) for row in group))}:</b></p>"


def _alike(rows: list[Own], by: Any) -> list[list[Own]]:
    """Learners whose exercise is the same, together."""
    groups: dict[Any, list[Own]] = {}
    for row in rows:
        groups.setdefault(by(row), []).append(row)
    return list(groups.values())
