"""The words a learner reads: phrases of the trade in US spelling, short sentences, something to do, words explained."""

from __future__ import annotations

import ast
import functools
import itertools
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from oilkit.exercises import all_exercises, all_predictions
from oilkit.exercises.exercise import Exercise
from oilkit.teacher.glossary import GLOSSARY, terms
from oilkit.teacher.lesson import HOME_SECTIONS, STEP, Lesson, read_lessons

ROOT = Path(__file__).resolve().parents[1]
LESSONS = read_lessons(ROOT / "notebooks")


def told(lesson: Lesson) -> str:
    """Its prose, and what its panels ask to be done."""
    cells = [cell for section in (lesson.opening, *lesson.sections) for cell in section.cells if cell.sort == "panel"]
    return "\n\n".join([lesson.prose, *(step for cell in cells for step in STEP.findall(cell.text))])


# ------------------------------------------------------------------------------------------------------------- phrases

UNWANTED = {
    r"\b(?:has|have) (?:the shop's )?[-−]?\d+(?:\.\d+)? ?(?:°[CF]|cP|psi|bar)\b": "is at",
    r"\bhas \{\w+:temperature\}": "is at",
    r"\b(?:hang|hangs|hung|hanging) on\b": "depends on",
    r"\bhang together\b": "are linked",
    r"\bparts? the (?:likel\w+ )?faults?\b|\bwould part\b|\bfaults to part\b|\bwhat they part\b": "tells apart",
    r"\bgauges? for differences\b": "differential pressure gauge",
    r"\bdear(?:er|est)?\b": "expensive",
    r"\bnought\b": "zero",
    r"\bshall have\b": "should have",
    r"\bin the mean\b": "on average",
    r"\bwhich it may burn\b": "it can burn you",
    r"what nobody knows exactly included": "including what nobody knows exactly",
    r"\bstands it\b": "copes with it",
    r"\bpoisonous for water\b": "harmful to waterways",
    r"\blet (?:all|the) pressure off\b": "release all pressure",
    r"\bgive or take\b": "uncertainty",
    r"\b(?:made it|be(?:en)? made) up\b": "invented",
    r"\bholds? gas and oil apart\b": "keeps gas and oil pressure apart",
    r"\bpull (?:elsewhere|apart)\b": "pull in other directions",
    r"\breckons? (?:with|the)\b": "allows for, works out",
    r"\bto lend it\b": "to spare it",
    r"more or less than right": "against the right amount",
    r"\blead the \w+(?:'s own)? exhaust outside\b|\bgas led away\b": "duct it outdoors",
    r"\b(?:drinks?|drinking|thirst|thirsty)\b": "takes oil, oil demand",
    r"\bhad to hurry\b": "time did not matter",
    r"\bfoams and tears\b": "gas and vapor bubbles form",
    r"\btake the air out of\b": "reduce the air",
    r"\bhighest lowest\b": "highest minimum",
    r"\bdraws protected\b": "simulated cases protected",
    r"\bleft of hot idle\b": "below the hot-idle line",
    r"\bat last change\b": "last, change",
    r"\bby shrinking\b": "as the oil cools",
    r"\bno leg is near\b": "nobody's legs are near",
    r"\bwere mixed up\b": "were misidentified",
    r"\bdoubter\b": "someone who doubts it",
    r"\bfarthest (?:reading|of those)\b": "largest deviation",
    r"\bclass mates?\b": "classmate",
    r"\bmend(?:s|ed|ing)?\b": "correct",
}
BRITISH = {
    r"\baluminium\b": "aluminum",
    r"\b(?:\w*[a-z])?metres?\b": "meter",
    r"\b(?:\w*[a-z])?litres?\b": "liter",
    r"\b\w*colour\w*\b": "color",
    r"\bvapour\w*\b": "vapor",
    r"\bbehaviour\w*\b": "behavior",
    r"\bneighbour\w*\b": "neighbor",
    r"\b(?:fav|lab|hon|harb|rum|flav)our\w*\b": "-or",
    r"\bcentre[sd]?\b": "center",
    r"\bfibres?\b": "fiber",
    r"\bgrey\w*\b": "gray",
    r"\blicence[sd]?\b": "license",
    r"\boffences?\b|\bdefences?\b(?! of the Doctrine)": "-ense",
    r"\bpractis\w+\b": "practice",
    r"\btyres?\b": "tire",
    r"\bkerbs?\b": "curb",
    r"\bpetrol\b": "gasoline",
    r"\bspanners?\b": "wrench",
    r"\bbonnet\b": "hood",
    r"\bboot\b": "trunk",
    r"\b(?:windscreen|motorway|lorry|whilst|learnt|burnt|spelt|leant)\b": "windshield, truck, while, learned",
    r"\b(?:recogn|organ|normal|standard|general|minim|maxim|optim|special|summar)is(?:e|es|ed|ing|ation)\b": "-ize",
    r"\banalys(?:e|es|ed|ing)\b": "analyze",
    r"\b(?:model|travel|label|cancel|level|signal|total|channel)l(?:ed|ing|er)\b": "one l",
    r"\bcatalogues?\b": "catalog",
    r"\bprogrammes?\b": "program",
    r"\bper cent\b": "percent",
    r"\b(?:artefact|ageing|mould|plough|draught|sceptic\w*|fulfil|tonne|cheque|judgement)\b": "US spelling",
}
STILL_THERE = {
    "oilkit/shop/as_built.py": 1,
    "oilkit/shop/as_built.toml": 5,
    "oilkit/shop/faults.toml": 1,
    "oilkit/shop/procedures/charge.toml": 2,
}
"""How many such places a file still has. The numbers only go down."""


def strings(source: str) -> Iterator[str]:
    """Every string of Python source that is not a docstring, an f-string with … for what it fills in."""
    tree = ast.parse(source)
    alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    inner = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "…" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone | inner:
            yield node.value


@functools.cache
def said_by_exercises() -> dict[str, list[str]]:
    """What each exercise and prediction may say, with nobody's numbers."""
    makers: dict[str, Callable[[], Exercise]] = {**all_exercises(), **all_predictions()}
    found = {}
    for key, make in makers.items():
        made = make()
        lists = (made.hints, made.steps, made.options, made.replies, made.points, [m.repair for m in made.mistakes])
        found[key] = [made.question, made.model, made.why, *itertools.chain(*lists)]
    return found


@functools.cache
def read_by_learners() -> dict[str, str]:
    """All that a learner may read, by the place it stands in."""
    found = {}
    for lesson in LESSONS:
        sections = (lesson.opening, *lesson.sections)
        cells = [cell for section in sections for cell in section.cells]
        found[lesson.file] = "\n\n".join(
            cell.source if cell.sort == "prose" else " ¶ ".join(strings(cell.source)) for cell in cells
        )
    for path in sorted((ROOT / "oilkit").rglob("*.py")):
        found[path.relative_to(ROOT).as_posix()] = " ¶ ".join(strings(path.read_text("utf-8")))
    found |= {f"exercise {key}": " ¶ ".join(said) for key, said in said_by_exercises().items()}
    folder, kit = ROOT / "data", ROOT / "oilkit"
    beside = [*folder.glob("*.toml"), *kit.rglob("*.toml"), *kit.rglob("templates/*.*"), ROOT / "README.md"]
    beside += (ROOT / "notebooks").glob("*.md")
    for path in beside:
        found[path.relative_to(ROOT).as_posix()] = re.sub(r"{[{%].*?[%}]}", "", path.read_text("utf-8"), flags=re.S)
    return found


def places(patterns: dict[str, str]) -> dict[str, list[str]]:
    """For each file with more such places than it still has: what stands there and what is better."""
    found: dict[str, list[str]] = {}
    for name, text in read_by_learners().items():
        plain = re.sub(r"\s+", " ", re.sub(r"\*+", "", text))
        for pattern, better in patterns.items():
            for match in re.finditer(pattern, plain, re.IGNORECASE):
                around = plain[max(0, match.start() - 30) : match.end() + 20]
                found.setdefault(name, []).append(f"{name}: “{around}”: better: {better}")
    return {name: said for name, said in found.items() if len(said) > STILL_THERE.get(name, 0)}


def test_no_phrase_that_a_native_reader_stumbles_over() -> None:
    assert not (found := places(UNWANTED)), "\n".join(line for said in found.values() for line in said)


def test_us_spelling() -> None:
    assert not (found := places(BRITISH)), "\n".join(line for said in found.values() for line in said)


# ----------------------------------------------------------------------------------------------------------- sentences

MOST_WORDS, MOST_IN_A_ROW = 30, 200
ABBREVIATION = re.compile(r"(?:(?<!\d )(?<!°)\b[A-Z]|\b(?:Dyn|Sys|Meas|Chem|Eng|Mech|Int|al|No))\.$")
SECOND_UNIT = re.compile(r"\((?:[-−+±]?\d[^()]{0,40}?)(?:bar|psi|mm|cm|m|L|qt|in|ft|°[CF]|gpm|L/min|kg|lb|g)\.?\)")
SOURCE_MARK = re.compile(r"\((?:[^()]{0,12})?(?:common practice, no source|from memory|(?:an )?estimate, no source)\)")


def bare(markdown: str) -> list[str]:
    """The prose of some markdown, block by block: no code, formulas, tables, links, second units, marks of a source."""
    text = re.sub(r"```.*?```", "\n\n", markdown, flags=re.S)
    text = re.sub(r"\$\$.*?\$\$", " ¤ ", text, flags=re.S)
    text = re.sub(r"(?m)^\s*\|.*$", "\n", text)
    text = re.sub(r"(?m)^#+ .*$", lambda found: f"\n{found[0]}\n", text)
    text = re.sub(r"\[[^\]]*\]\([^)]*\)|`[^`]*`|\$[^$]*\$", "¤", text)
    text = re.sub(r"(?m)^> ?", "", text)
    text = re.sub(r"(?m)^\s*(?:[-*]|\d+\.) +", "\n\n", text)
    blocks = [re.sub(r"\s+", " ", re.sub(r"[*#]+", "", block)).strip() for block in re.split(r"\n\s*\n", text)]
    return [SOURCE_MARK.sub("", SECOND_UNIT.sub("", block)) for block in blocks if block]


def sentences(block: str) -> list[str]:
    """A block cut behind each full stop, question mark or exclamation mark that ends a sentence."""
    found = [""]
    for piece in re.split(r"(?<=[.!?])(?=[)”\"']*\s)", block):
        if found[-1] and not ABBREVIATION.search(found[-1]) and re.match(r"[)”\"']*\s+[\[(“\"'¤A-Z0-9]", piece):
            found.append("")
        found[-1] += piece
    return [sentence.strip() for sentence in found if sentence.strip()]


def words(text: str) -> int:
    """Words of prose in it: what holds a letter or a digit."""
    return sum(bool(re.search(r"\w", piece)) for piece in text.split())


@pytest.mark.parametrize(
    ("block", "counts"),
    [
        ("One two three. Four five?", [3, 2]),
        ("It is 34.7 psi (2.39 bar) there. (Not here.) So", [5, 2, 1]),
        ("After P. Otis, J. Dyn. Sys. 112 (1990), measured. Then", [9, 1]),
        ("See `a b c` and $x + y$ and [a link](b.md) too.", [4]),
        ("| a | b |\n|---|---|\n\n- one two\n- three", [2, 1]),
        ("So it is (common practice, no source): yes.", [4]),
        ("First the air e.g. comes out; then oil: more of it.", [11]),
    ],
)
def test_words_are_counted_as_a_reader_does(block: str, counts: list[int]) -> None:
    assert [words(sentence) for found in bare(block) for sentence in sentences(found)] == counts


def test_no_sentence_is_too_long() -> None:
    """In the lessons' prose and in the exercises; but what the kit says of a bad file is one sentence, however long."""
    texts = {f"lesson {lesson.number:02}": [told(lesson)] for lesson in LESSONS} | said_by_exercises()
    found = [(name, s) for name, said in texts.items() for one in said for block in bare(one) for s in sentences(block)]
    long = [f"{name}, {words(s)} words: {s}" for name, s in found if words(s) > MOST_WORDS and ": got " not in s]
    assert not long, "\n".join(long)


# ------------------------------------------------------------------------------------------------- numbers in two units

UNIT = r"(?:psi[ga]?|bar[ga]?|qt|L|gpm|L/min|in|mm|ft|m|thou|gal|lb|kg)"
NUMBER = r"(\d+(?:\.\d+)?)(?:(?: to |, | and )(\d+(?:\.\d+)?))?"
TWICE = re.compile(rf"{NUMBER}[ -](?P<unit>{UNIT})(?: \(|; ){NUMBER} {UNIT}[;,)]")


def figures(*numbers: str | None) -> int:
    """Significant figures of the most exact of some numbers; zeros at the end of a whole one do not count."""
    whole = [number if "." in number else number.rstrip("0") for number in numbers if number]
    return max(len(number.replace(".", "").lstrip("0")) for number in whole)


def test_a_second_unit_is_not_more_exact_than_the_first() -> None:
    """Two figures are always allowed: 3 qt is 2.8 L. Beside psi with a decimal stands bar with two."""
    wrong, seen = [], 0
    for lesson in LESSONS:
        for found in TWICE.finditer(" ".join(told(lesson).replace("*", "").split())):
            first, second = found.group(1, 2), found.group(4, 5)
            seen += 1
            coarse = found["unit"].startswith("psi") and found[4].count(".") and len(found[4].split(".")[1]) < 2
            if figures(*second) > max(2, figures(*first)) or (coarse and re.fullmatch(r"[1-9]\d*\.\d", found[1])):
                wrong.append(f"{lesson.number:02}: {found[0]}")
    assert seen > 80
    assert not wrong, "\n".join(wrong)


# -------------------------------------------------------------------------------------------------- something to do

ACTS = ("panel", "prediction", "exercise", "learner", "numbers")
TASK = re.compile(r"\*\*(?:Do|Question|Say|Look|You are done with the plain path|Run ▸ Run All Cells)\b|^1\. ")


def rows_of_prose(lesson: Lesson) -> Iterator[tuple[str, int]]:
    """How many words stand in a row with nothing to do: their first words, and their number.

    Cautions are never cut short for a count, and nobody reads *What we left out* and *Sources* from top to bottom.
    """
    first, count = "", 0
    for section in (lesson.opening, *lesson.sections):
        for cell in section.cells:
            if cell.sort in ACTS:
                yield first, count
                first, count = "", 0
            if cell.sort != "prose" or section.title in HOME_SECTIONS:
                continue
            for block in re.split(r"\n\s*\n", cell.source):
                if block.startswith(">"):
                    continue
                if TASK.search(block):
                    yield first, count
                    first, count = "", 0
                else:
                    first, count = first or block[:60], count + sum(map(words, bare(block)))
    yield first, count


def test_no_long_stretch_of_prose_without_something_to_do() -> None:
    rows = [(lesson.number, *row) for lesson in LESSONS for row in rows_of_prose(lesson)]
    long = [f"{number:02} {count} words from “{first}”" for number, first, count in rows if count > MOST_IN_A_ROW]
    assert not long, "\n".join(long)


# --------------------------------------------------------------------------------------------------- words explained

HARD = {
    "bearing": r"bearings?",
    "gallery": r"galler(?:y|ies)",
    "relief valve": r"relief valves?",
    "crank": r"crank(?:s|ed|ing)?",
    "pick-up": r"pick-ups?",
    "windage height": r"windage heights?",
    "sump": r"sumps?",
    "mains": r"mains|main bearings?",
    "rods": r"rod bearings?|rods",
    "lifters": r"lifters?",
    "standard error": r"standard errors?",
    "residual": r"residuals?",
    "standard deviation": r"standard deviations?",
    "restrictor": r"restrictors?",
    "tee": r"tees?",
    "hot idle": r"hot idle",
    "settled": r"settled",
}
"""Words that a reader from another trade, or another language, does not know, and how they are found."""


@pytest.mark.parametrize("word", HARD)
def test_a_hard_word_is_explained_or_linked_where_it_first_stands(word: str) -> None:
    """At its first use it is bold, for it is explained there, or a link to the glossary; and the glossary has it."""
    assert word in [term.term for term in terms()], "not in the glossary"
    for lesson in LESSONS:
        for cell in (cell for section in (lesson.opening, *lesson.sections) for cell in section.cells):
            kept = re.sub(r"(?m)`[^`]*`|\]\((?!glossary)[^)]*\)|^#.*$", "]", cell.source)
            prose = " ".join(kept.split()) if cell.sort == "prose" else ""
            first = re.search(rf"\b(?:{HARD[word]})\b", prose, re.I)
            if first:
                marked = [*re.finditer(r"\*\*[^*]+\*\*", prose), *re.finditer(rf"\[[^\]]*\]\({GLOSSARY}\)", prose)]
                inside = [m for m in marked if m.start() <= first.start() and first.end() <= m.end()]
                assert inside, f"lesson {lesson.number:02}: {prose[max(0, first.start() - 60) : first.end() + 40]!r}"
                return
    raise AssertionError("stands in no lesson")
