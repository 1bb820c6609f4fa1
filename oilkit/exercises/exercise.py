"""What an exercise is, how it gets its numbers, and how an answer is judged. No widgets here."""

from __future__ import annotations

import dataclasses
import hashlib
import math
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

import numpy as np

from oilkit.errors import InputError
from oilkit.quantities.kind import Kind
from oilkit.quantities.printed import kind_for
from oilkit.quantities.typed import bare_pressure, in_parts, parse
from oilkit.quantities.units import Q, Qty, unit_switch

Sort = Literal["predict", "compute", "read", "explain"]
SORTS: tuple[Sort, ...] = ("predict", "compute", "read", "explain")
WITHIN = 0.02
"""Relative tolerance of a computed answer: two or three figures of an engine's numbers are worth having, and rounding
the given numbers to what the text shows moves no answer by more."""
READ_WITHIN = 0.05
"""The same for a number read off a gauge or a graph: half a division of about twenty."""
APART = 2.2
"""Mistakes lie at least so many tolerances from the truth and from each other: then no two bands touch."""
T = TypeVar("T")


# ------------------------------------------------------------------------------------------------------ own numbers


@dataclass(frozen=True)
class Owner:
    """Whose numbers: a class and a learner, as typed; both may be empty. Upper and lower case are the same."""

    group: str = ""
    learner: str = ""

    def seed(self, key: str, attempt: int) -> int:
        """The same on every machine, for the same two names and the same exercise."""
        text = "\x1f".join([_plain(self.group), _plain(self.learner), key, str(attempt)])
        return int.from_bytes(hashlib.sha256(text.encode("utf-8")).digest()[:8], "big")

    @property
    def named(self) -> bool:
        return bool(_plain(self.group) or _plain(self.learner))


def _plain(name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


NOBODY = Owner()


class Sampler:
    """Hands out an exercise's numbers: the usual ones to nobody, round ones of a sensible range to a named learner."""

    def __init__(self, owner: Owner, key: str, attempt: int = 0) -> None:
        self._usual = not owner.named and attempt == 0
        self._dice = np.random.default_rng(owner.seed(key, attempt))
        self.drawn: list[str] = []
        """What was handed out, to all digits."""

    def between(self, low: float, high: float, step: float, usual: float, unit: str) -> Qty:
        """A quantity from low to high in whole steps; ``usual`` when nobody is named."""
        count = round((high - low) / step)
        number = low + step * int(self._dice.integers(count + 1))
        found = Q(float(f"{usual if self._usual else number:.10g}"), unit)
        self.drawn.append(repr(found))
        return found

    def one_of(self, things: Sequence[T], usual: int = 0) -> T:
        """One of several things; the one at ``usual`` when nobody is named."""
        drawn = int(self._dice.integers(len(things)))
        place = usual if self._usual else drawn
        self.drawn.append(str(place))
        return things[place]


# -------------------------------------------------------------------------------------------------------- exercises


@dataclass(frozen=True)
class Mistake:
    """A usual mistake: its name, the answer that it gives, computed, and the question that repairs it."""

    name: str
    """Nothing for one that a prediction recognises: there the sentence says it all."""
    answer: Qty
    repair: str

    @property
    def says(self) -> str:
        named = f"This is what comes out with a usual mistake: {self.name}. " if self.name else ""
        return f"{named}{self.repair}"


@dataclass(frozen=True)
class Picture:
    """A gauge or a graph to read."""

    draw: Callable[[Any], None]
    """Draws it on a matplotlib figure."""
    says: str
    """The same in words, without giving the answer away: scale, divisions and where the hand stands."""

    def __call__(self, figure: Any) -> None:
        self.draw(figure)


@dataclass(frozen=True)
class Exercise:
    """One exercise with its numbers. Either ``answer``, or ``options``, or ``model`` says what is right."""

    question: str
    hints: tuple[str, ...] = ()
    """From a nudge to nearly the way."""
    steps: tuple[str, ...] = ()
    """The worked solution, a line for each step, with units."""
    answer: Qty | None = None
    mistakes: tuple[Mistake, ...] = ()
    within: float = WITHIN
    options: tuple[str, ...] = ()
    right: int = 0
    replies: tuple[str, ...] = ()
    """For each option a sentence: why it is right, or which mistake leads there."""
    model: str = ""
    points: tuple[str, ...] = ()
    """What a good answer in words says: the learner marks these off."""
    picture: Picture | None = None
    why: str = ""
    """Of a prediction: the reason, told with the right answer after whatever was predicted."""
    drawn: tuple[str, ...] = ()
    """What was drawn for it, to all digits: learners with the same have the same exercise."""

    def __post_init__(self) -> None:
        if sum([self.answer is not None, bool(self.options), bool(self.model)]) != 1:
            raise ValueError(f"not one sort of answer: {self.question}")

    @property
    def picture_says(self) -> str:
        return self.picture.says if self.picture else ""

    @property
    def kind(self) -> Kind | None:
        found = kind_for(self.answer) if self.answer is not None else None
        return dataclasses.replace(found, low=-math.inf, high=math.inf) if found else None

    @property
    def about_which(self) -> bool:
        """Whether it is about gauge against absolute pressure: then a ``psi`` alone is asked back."""
        return self.kind is not None and self.kind.si == "Paa" and "absolute" in self.question


@dataclass(frozen=True)
class ExerciseTemplate:
    """An exercise before it has its numbers: see `exercise`."""

    key: str
    lesson: int
    sort: Sort
    aim: str
    """What it practises, in a few words: for lesson plan and mark book."""
    make: Callable[[Sampler], Exercise]
    misconception: str = ""
    """The likely misconception that it meets, for the teacher."""

    def __call__(self, owner: Owner = NOBODY) -> Exercise:
        """With an owner's numbers: the first draw in which every mistake can be told from the truth and the others.

        Raises `ArithmeticError` if there is none in a hundred.
        """
        for attempt in range(100):
            draw = Sampler(owner, self.key, attempt)
            made = self.make(draw)
            made = dataclasses.replace(made, mistakes=(*made.mistakes, *unit_mistakes(made)), drawn=tuple(draw.drawn))
            kept = told_apart(made)
            if kept is not None:
                return kept
        raise ArithmeticError(f"{self.key}: no numbers with which its mistakes can be told apart")


def told_apart(made: Exercise) -> Exercise | None:
    """The exercise if its own mistakes can be told apart; unit mistakes that fall on something else are left out."""
    if made.answer is None:
        return made
    unit = made.answer.units
    truth = float(made.answer.magnitude)
    taken = [truth]
    kept = []
    for mistake in made.mistakes:
        value = float(mistake.answer.m_as(unit))
        free = math.isfinite(value) and all(not near(value, other, APART * made.within) for other in taken)
        if free:
            taken.append(value)
            kept.append(mistake)
        elif not mistake.name.endswith(UNIT_MISTAKE):
            return None
    return dataclasses.replace(made, mistakes=tuple(kept))


UNIT_MISTAKE = "written with the wrong unit"
NO_UNIT = "no unit given"


def unit_mistakes(made: Exercise) -> list[Mistake]:
    """The right number in one system's unit, written with the other's: quarts for litres, psi for bar."""
    kind = made.kind
    if kind is None or made.answer is None or kind.us == kind.metric or kind.si == "K":
        return []
    si = float(made.answer.m_as(kind.si))
    found = []
    for right, typed in (("SI", "US"), ("US", "SI")):
        there, here = kind.label(right), kind.label(typed)
        answer = Q(float(Q(si, kind.si).m_as(kind.unit(right))), kind.unit(typed)).to(made.answer.units)
        found.append(Mistake(f"{there}, {UNIT_MISTAKE}", answer, _asked(f"Your number is right in {there}", here)))
    return found


def _asked(right: str, written: str) -> str:
    return f"{right}, and you wrote {written}. Which unit did you compute in?"


def _unit_mistake_says(kind: Kind, there: str, value: float, typed: str) -> str:
    """What to ask about a number that is right in another unit: of what was typed, not of what stands for it."""
    number, unit = in_parts(typed)
    system = "US" if there == kind.label("SI") else "SI"
    if near(number, float(kind.display(value, system)), 1e-9):
        return _asked(f"Your number is right in {there}", unit)
    is_right = f"{kind.number(value, system)} is right in {there}, and {typed.strip()} is {kind.text(value, system)}"
    return f"{is_right}. Which unit did you compute in?"


# --------------------------------------------------------------------------------------------------------- judging

RIGHT, ROUGH, MISTAKE, WRONG, DONE = "right", "nearly", "mistake", "wrong", "done"


@dataclass(frozen=True)
class Verdict:
    """What an answer is worth."""

    mark: str
    """`RIGHT`, `ROUGH` (right to one figure), `MISTAKE` (a usual one), `WRONG`, or `DONE` for an answer in words."""
    says: str
    """What the learner is told."""
    mistake: str = ""
    """Name of the mistake that was recognised."""


def near(value: float, target: float, within: float) -> bool:
    """Whether a number is as good as another one."""
    return abs(value - target) <= max(within * abs(target), 1e-12)


def _digits(typed: str) -> str:
    """The number at the head of an answer, without its sign: ``1.50`` of -1.50 qt."""
    match = re.match(r"\s*(?:±\s*|[-+−])?([\d.,]+)", typed)
    return match[1].replace(",", ".").rstrip(".") if match else ""


def figures(typed: str) -> int:
    """How many significant figures a typed number has: 1.50 has three, 60 has two, 0.02 one; 3/4 is three quarters."""
    if re.search(r"\d/\d", typed):
        return 3
    return len(_digits(typed).replace(".", "").lstrip("0")) or 1


MOST_LETTERS = 10_000
"""Of an answer: three pages."""


def check_length(argument: str, answer: str) -> None:
    """Raises `InputError` for an answer that is too long to be kept whole."""
    if len(answer) > MOST_LETTERS:
        raise InputError(argument, f"{len(answer)} letters", f"up to {MOST_LETTERS}, so shorten it where it stands")


def judge(made: Exercise, given: Any, called: str = "Your answer") -> Verdict:
    """Judge an answer: a text with a unit, the text of an option, or for an answer in words its text.

    Raises `InputError`, with the name by which the box is ``called``, for what is no answer: nothing, no number, a unit
    of another dimension, too long.
    """
    check_length(called, str(given))
    if made.answer is not None:
        return _judge_number(made, str(given), called)
    if made.options:
        return _judge_choice(made, given, called)
    if len(str(given).split()) < 3:
        raise InputError(called, "fewer than three words", "a sentence of your own")
    if is_nonsense(str(given)):
        return Verdict(WRONG, "That does not read like a sentence yet. Say it as you would to a friend: short is fine.")
    return Verdict(DONE, "Now compare it with the model answer, and mark off what yours says.")


def is_nonsense(text: str) -> bool:
    """Whether a text cannot be a sentence in any language: ``bla bla bla``, ``asdf jkl sdfg``, ``1 2 3``.

    Fewer than three different words, letters of fewer than five sorts, one word for most of it, or most words without
    a vowel.
    """
    words = [word for word in re.findall(r"[^\W\d_]+", text.casefold()) if len(word) > 1 or not word.isascii()]
    most = max(map(words.count, set(words)), default=0)
    mashed = [word for word in words if word.isascii() and not re.search("[aeiouy]", word)]
    few = len(set(words)) < 3 or len(set("".join(words))) < 5
    return few or 2 * most > len(words) or 2 * len(mashed) > len(words)


def _judge_choice(made: Exercise, given: Any, called: str) -> Verdict:
    if given not in made.options:
        raise InputError(called, "no choice yet" if given is None else repr(given), "one of the sentences above")
    k = made.options.index(given)
    if k == made.right:
        return Verdict(RIGHT, f"Right. {made.why or made.replies[k]}")
    if made.why:
        return Verdict(WRONG, f"No. The right one: {made.options[made.right]}. {made.why}")
    return Verdict(MISTAKE, f"Not so. {made.replies[k]}", given)


def _judge_number(made: Exercise, typed: str, called: str) -> Verdict:
    kind, answer = made.kind, made.answer
    assert kind is not None
    assert answer is not None
    value = parse(called, typed, kind)
    if made.about_which and (bare := bare_pressure(typed, kind)):
        came = f"“{typed.strip()}”, which could be gauge or absolute"
        raise InputError(called, came, f"{bare}g for what a gauge shows or {bare}a for the whole pressure")
    truth = float(answer.m_as(kind.si))
    if near(value, truth, made.within) or (made.why and _shown_alike(kind, value, truth)):
        many = "So many figures say more than the given numbers know: two or three will do."
        return Verdict(RIGHT, f"Right: {kind.both(truth)}. {made.why or (many if figures(typed) > 5 else '')}".strip())
    if not made.why and figures(typed) == 1 and _rounds_to(value, truth, typed):
        return Verdict(ROUGH, "Right to one figure. Give one or two more.")
    told = f" The kit's answer is {kind.both(truth)}. {made.why}" if made.why else ""
    alone, other = not in_parts(typed)[1], "SI" if unit_switch.system == "US" else "US"
    wrongs = [(float(mistake.answer.m_as(kind.si)), mistake) for mistake in made.mistakes]
    for wrong, mistake in sorted(wrongs, key=lambda one: abs(value - one[0])):  # a prediction's bands may overlap
        there = mistake.name.removesuffix(f", {UNIT_MISTAKE}")
        of_unit = there != mistake.name
        if (of_unit and alone) or not near(value, wrong, made.within):
            continue
        if of_unit:
            mistake = dataclasses.replace(mistake, repair=_unit_mistake_says(kind, there, value, typed))
        return Verdict(MISTAKE, f"{mistake.says}{told}", mistake.name)
    if alone and near(float(kind.from_display(kind.display(value), other)), truth, made.within):
        meant = f"{typed.strip()} {kind.label(other)}"
        says = f"{meant} is right, but a number alone is read in {kind.label()} here. Type the unit too."
        return Verdict(MISTAKE, says, NO_UNIT)
    return Verdict(WRONG, f"{kind.text(value)} is too {'high' if value > truth else 'low'}.{told}")


def _shown_alike(kind: Kind, value: float, truth: float) -> bool:
    """Whether two numbers read the same: nobody is told that 0.11 bar is too high, and the answer 0.11 bar."""
    return any(kind.text(value, system) == kind.text(truth, system) for system in unit_switch.systems)


def _rounds_to(value: float, truth: float, typed: str) -> bool:
    """Whether the truth, in the unit that was typed, rounds to the one figure that was given."""
    if value == 0.0:
        return False
    number = float(_digits(typed))
    step = 10.0 ** math.floor(math.log10(number))
    in_typed_unit = truth / value * number
    return abs(in_typed_unit - number) <= 0.5 * step and abs(in_typed_unit / number - 1.0) < 0.4
