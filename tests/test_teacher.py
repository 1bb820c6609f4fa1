"""The teacher's pack: made from the lessons themselves, self-contained, printable, never written over other files."""

from __future__ import annotations

import html
import math
import re
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browser import chromium, find_chromium
from markupsafe import escape
from PIL import Image
from sentences import refused

from oilkit import Q, discharge, usual_installation
from oilkit.exercises import all_exercises
from oilkit.exercises.class_list import class_text, read_class
from oilkit.exercises.exercise import NOBODY, UNIT_MISTAKE, Owner, Sampler
from oilkit.panels.framework.exercise import ExercisePanel
from oilkit.panels.framework.learner import LearnerPanel
from oilkit.quantities.printed import text
from oilkit.quantities.units import shown_in, unit_switch, use_units
from oilkit.shop.cards import CARDS
from oilkit.storage.settings import load_owner
from oilkit.teacher import pack as packing
from oilkit.teacher.__main__ import main
from oilkit.teacher.glossary import (
    ASSUMPTIONS,
    GLOSSARY,
    MOST_WORDS,
    SYMBOLS,
    terms,
    tex,
    write_pages,
)
from oilkit.teacher.handouts import BEGINNING, LONGEST
from oilkit.teacher.lesson import DEEPER, EXERCISES, HOME_SECTIONS, read_lessons
from oilkit.teacher.pack import make_pack, write_pack
from oilkit.teacher.paddock import PADDOCK, answers
from oilkit.teacher.pages import formula, markdown, printed
from oilkit.teacher.paper import Printer, on_paper
from oilkit.teacher.paper import find_chromium as find_browser
from oilkit.teacher.plans import EXERCISE_MINUTES, SLOTS, class_steps, exercise_steps, fit
from oilkit.teacher.sheets import Own

ROOT = Path(__file__).resolve().parents[1]
NAMES = ["Ann Other", "Björn <b>&\"'", "=1+1 /../..\\"]
LONG = "Björn Long-Name the Third"
GROUP = "spring <class>"
LESSONS = read_lessons()
MAKERS = all_exercises()
CERTIFICATES = "course/certificates.html"
need_browser = pytest.mark.skipif(find_chromium() is None, reason="no Chromium or Chrome on the path")


class Page(HTMLParser):
    """What a page would fetch, where it leads, what its ids are, and its words."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.tags: list[str] = []
        self.words = ""
        self._styles = ""
        self.feed(source)
        self.fetched += re.findall(r"url\(\s*['\"]?([^)'\"]*)|@import\s+['\"]([^'\"]*)", self._styles)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            if name == "href" and tag == "a":
                self.links.append(value or "")
            elif name in ("src", "srcset", "href", "data", "poster", "action", "background", "xlink:href"):
                self.fetched.append(value or "")
            elif name == "id":
                self.ids.append(value or "")
            elif name.startswith("on"):
                self.fetched.append(f"script {name}")

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1] == "style":
            self._styles += data
        self.words += data


@pytest.fixture(scope="module")
def names(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("class") / "names.txt"
    path.write_text("# the class\n\n" + "\n".join(NAMES) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory, names: Path) -> Path:
    """The whole pack for three learners, as the command makes it, with PDF files where there is a browser."""
    folder = tmp_path_factory.mktemp("made") / "pack"
    began = time.perf_counter()
    use_units("US")
    assert main(["--class", GROUP, "--learners", str(names), "--out", str(folder), "--paper", "Letter"]) == 0
    print(f"\nthe whole pack for {len(NAMES)} learners took {time.perf_counter() - began:.0f} s")
    return folder


def pages(pack: Path) -> dict[str, str]:
    return {path.relative_to(pack).as_posix(): path.read_text("utf-8") for path in sorted(pack.rglob("*.html"))}


# ------------------------------------------------------------------------------------------------------- the whole pack


@pytest.mark.thorough
def test_the_pack_has_all_its_parts_and_the_index_names_each_file(pack: Path) -> None:
    files = {path.relative_to(pack).as_posix() for path in pack.rglob("*") if path.is_file()}
    with_exercises = {maker.lesson for maker in MAKERS.values()}
    wanted = {
        "index.html",
        "lesson-plans.html",
        "answer-key.html",
        "job-cards.html",
        "glossary.html",
        "symbols.html",
        "contents.csv",
    }
    wanted |= {f"handouts/lesson-{lesson.number:02d}.html" for lesson in LESSONS}
    wanted |= {f"{kind}/lesson-{number:02d}.html" for number in with_exercises for kind in ("worksheets", "keys")}
    course = ("six-weeks", "three-weeks", "end-test", "end-test-key", "practical", "certificates")
    wanted |= {f"course/{name}.html" for name in course}
    if find_browser():
        wanted |= {f"{name.removesuffix('.html')}.pdf" for name in wanted if name.endswith(".html")} - {"index.pdf"}
    assert files == wanted
    assert {*Page((pack / "index.html").read_text("utf-8")).links} == files - {"index.html", "contents.csv"}
    assert all(re.fullmatch(r"[a-z0-9/.-]+", name) for name in files), "no learner's name gets near the file system"


@pytest.mark.thorough
def test_no_page_fetches_anything_and_every_link_leads_somewhere(pack: Path) -> None:
    there = pages(pack)
    parsed = {name: Page(source) for name, source in there.items()}
    for name, found in parsed.items():
        assert all(address.startswith("data:image/png;base64,") for address in found.fetched), name
        assert not {"script", "link", "iframe", "object", "embed", "video", "audio"} & {*found.tags}, name
        for link in found.links:
            if link.startswith(("http://", "https://")):
                continue  # a reader may follow it; nothing is loaded
            file, _, part = link.partition("#")
            target = (pack / name).parent / file if file else pack / name
            assert target.is_file(), (name, link)
            if part and target.suffix == ".html":
                inner = parsed[target.resolve().relative_to(pack.resolve()).as_posix()]
                assert part in inner.ids, (name, link)


@pytest.mark.thorough
def test_names_are_words_on_every_page(pack: Path) -> None:
    """A name with signs of HTML in it is shown as typed and makes no tag."""
    for name in ("index.html", "answer-key.html", "worksheets/lesson-01.html", "keys/lesson-01.html", CERTIFICATES):
        source = (pack / name).read_text("utf-8")
        assert all(learner in Page(source).words for learner in NAMES), name
        assert "<class>" not in source
        assert "<b>&" not in source


def parts(pack: Path, name: str) -> list[str]:
    """A page of sheets or keys, cut by learners."""
    return re.split(r'<div[^>]* id="learner-\d+">', (pack / name).read_text("utf-8"))[1:]


@pytest.mark.thorough
def test_worksheets_and_keys_have_the_numbers_of_each_learners_panel(pack: Path, tmp_path: Path) -> None:
    """All three learners, all exercises: the question of the panel on the sheet; in the key by learner the numbers that
    stand on that sheet, the answer and the mistakes; in the key by exercise the answer and what to ask."""
    by_exercise = Page((pack / "answer-key.html").read_text("utf-8")).words
    numbers = {maker.lesson for maker in MAKERS.values()}
    sheets, keys = (
        {number: parts(pack, f"{kind}/lesson-{number:02d}.html") for number in numbers}
        for kind in ("worksheets", "keys")
    )
    read_sheets, read_keys = (
        {number: [Page(part).words for part in its] for number, its in all_of_them.items()}
        for all_of_them in (sheets, keys)
    )
    for k, learner in enumerate(NAMES):
        for exercise in MAKERS:
            panel = ExercisePanel(exercise, Owner(GROUP, learner), tmp_path)
            made, sheet = panel.made, sheets[panel.maker.lesson][k]
            words, key = read_sheets[panel.maker.lesson][k], read_keys[panel.maker.lesson][k]
            assert learner in words
            assert learner in key
            assert "oxygen" in words.lower(), "each sheet carries the lesson's cautions"
            assert made.question in words, (learner, exercise)
            assert all(option in words for option in made.options)
            if made.picture:
                assert f'alt="{escape(made.picture_says)}"' in sheet
            assert not any(hint in words for hint in made.hints if hint not in made.question)
            mine = Own(MAKERS[exercise], Owner(GROUP, learner))
            assert all(number in made.question and number in key for number in mine.numbers), (learner, exercise)
            if made.answer is not None:
                assert text(made.answer) in key, (learner, exercise)
                assert text(made.answer) in by_exercise
                mistakes = [m for m in made.mistakes if not m.name.endswith(UNIT_MISTAKE)]  # seen without a line
                assert all(f"{text(mistake.answer)}: {mistake.name}" in key for mistake in mistakes)
                assert all(mistake.name in by_exercise for mistake in mistakes)
            elif made.options:
                assert made.options[made.right] in key
                assert made.options[made.right] in by_exercise
            else:
                assert all(point in key for point in made.points)
            panel.close()


def test_the_key_shows_the_numbers_that_stand_on_the_sheet_and_differ() -> None:
    """Not what was drawn behind them: of the sealed bottle its two readings, not the altitude that nobody is told."""
    for key in ("air_from_a_bottle", "wider_line"):
        rows = [Own(MAKERS[key], Owner(GROUP, f"learner {k}")) for k in range(4)]
        assert all(number in row.made.question for row in rows for number in row.numbers)
        assert all(len(row.numbers) >= 2 for row in rows)
        assert len({row.numbers for row in rows}) > 1
    fixed = Own(MAKERS["air_from_a_bottle"], Owner(GROUP, "learner 1"))
    assert not any("ft" in number for number in fixed.numbers)
    assert "14.70 psia (1.013 bara)" in fixed.made.question
    assert "14.70 psia (1.013 bara)" not in fixed.numbers, "what everybody has is nobody's own number"


def test_noting_the_numbers_changes_none_of_them() -> None:
    """The draw that writes down hands out what the panel's draw does, and nothing is left out."""
    for maker in MAKERS.values():
        for owner in (NOBODY, Owner(GROUP, NAMES[0])):
            noted, plain = Own(maker, owner), maker(owner)
            assert (noted.made.question, noted.made.options, noted.made.right) == (
                plain.question,
                plain.options,
                plain.right,
            )
            if plain.answer is not None:
                assert noted.made.answer == plain.answer
    dice = Sampler(Owner(GROUP, NAMES[0]), "squeezed")
    mine = Own(MAKERS["squeezed"], Owner(GROUP, NAMES[0]))
    start, room, share = (
        dice.between(5, 15, 1, 10, "psig"), dice.between(2, 4, 0.25, 3, "qt"), dice.one_of((0.5, 0.6, 0.4)),
    )  # fmt: skip
    assert {text(start), text(room), text(room * share)} <= {*mine.numbers}
    assert mine.made.drawn == (repr(start), repr(room), str((0.5, 0.6, 0.4).index(share)))


def test_learners_with_the_same_draw_share_a_picture_and_others_do_not() -> None:
    owners = [Owner("spring class", f"learner {k}") for k in range(12)]
    for maker in MAKERS.values():
        if maker().picture is None:
            continue
        by_draw: dict[Any, set[str]] = {}
        for owner in owners:
            exercise = Own(maker, owner)
            by_draw.setdefault(exercise.made.drawn, set()).add(exercise.made.question + exercise.made.picture_says)
        assert all(len(shown) == 1 for shown in by_draw.values()), maker.key


# ------------------------------------------------------------------------------------------------------------- handouts


@pytest.mark.thorough
@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson.file)
def test_a_handout_has_the_whole_lesson_and_no_code(pack: Path, lesson: Any) -> None:
    source = (pack / f"handouts/lesson-{lesson.number:02d}.html").read_text("utf-8")
    words = re.sub(r"\W", "", html.unescape(Page(source).words))
    there = [section for section in lesson.sections if section.title != EXERCISES]
    cells = [cell for section in (lesson.opening, *there) for cell in section.cells]
    assert source.count("<img") == sum(bool(cell.png) for cell in cells if cell.sort != "learner")
    asked = [cell for cell in cells if cell.sort == "prediction"]
    front, rest = (re.sub(r"\W", "", Page(part).words) for part in re.split('<div class="new-page">', source))
    for cell in asked:
        question = re.sub(r"\W", "", cell.text.split("( )")[0].partition("\n")[2])
        assert question in front, "asked in front"
        assert question not in rest, "and not beside its answer"
    for cell in cells:
        if cell.sort == "prose":
            for line in cell.source.splitlines():
                if not re.search(r"[$|\\<\[`]", line):  # formulas are drawn; links, tables and code have other signs
                    assert re.sub(r"\W", "", re.sub(r"^\s*\d+\. ", "", line)) in words, line
        elif cell.sort in ("numbers", "panel"):
            shown = cell.text.rstrip().splitlines()
            shown = shown if len(shown) <= LONGEST else shown[:BEGINNING]
            assert re.sub(r"\W", "", "".join(shown)) in words, cell.source
        if cell.sort in ("panel", "prediction", "exercise", "learner"):
            assert cell.source.strip() not in html.unescape(source)
    assert "import " not in re.sub(r"<code>.*?</code>", "", source) or "import " in lesson.prose
    assert len(source) < 1_000_000


@pytest.mark.thorough
def test_every_formula_of_the_lessons_is_drawn(pack: Path) -> None:
    """None is left as TeX; each has its TeX as a text alternative."""
    count = 0
    for lesson in LESSONS:
        its = (lesson.opening, *(section for section in lesson.sections if section.title != EXERCISES))
        written = "\n\n".join(c.source for section in its for c in section.cells if c.sort == "prose")
        prose = re.sub(r"```.*?```|`[^`]*`", "", written, flags=re.DOTALL)
        inline = re.findall(r"\$\$.+?\$\$|\$[^$]+?\$", prose, re.DOTALL)
        source = (pack / f"handouts/lesson-{lesson.number:02d}.html").read_text("utf-8")
        assert source.count('<svg class="math"') == len(inline), lesson.file
        assert "\\frac" not in Page(source).words
        count += len(inline)
    assert count > 100


def test_formulas_that_matplotlib_lacks_are_put_in_its_words() -> None:
    for tex_ in (r"\tfrac12 U B", r"\frac BD", r"\mathbf r", r"a \xrightarrow{\;n = 1\;} b", "p_0"):
        assert formula(tex_).startswith('<svg class="math" role="img" aria-label="')
    with pytest.raises(ValueError, match="nonsense"):
        formula(r"\nonsense{")


def test_a_formula_that_cannot_be_drawn_is_shown_as_typed() -> None:
    assert markdown(r"so $\nonsense{<b>}$ it") == "<p>so <code>\\nonsense{&lt;b&gt;}</code> it</p>\n"


def test_html_in_a_lesson_stays_words() -> None:
    assert "<script" not in markdown("a <script>alert(1)</script> b\n\n<script>alert(2)</script>\n")
    assert "<a" not in markdown("[x](javascript:alert(1))")


# ---------------------------------------------------------------------------------------------------------------- plans


@pytest.mark.thorough
@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson.file)
def test_a_plan_has_goals_cautions_and_every_part_of_its_lesson(pack: Path, lesson: Any) -> None:
    source = (pack / "lesson-plans.html").read_text("utf-8")
    start = source.index(f'<h2 id="lesson-{lesson.number:02d}">')
    own_part = source[start : source.find("<h2 id=", start + 5)] if "<h2 id=" in source[start + 5 :] else source[start:]
    words = re.sub(r"\W", "", Page(own_part).words)
    assert len(lesson.goals) >= 3
    for goal in lesson.goals:
        assert re.sub(r"\W", "", goal) in words
    assert lesson.cautions or "never oxygen" in lesson.prose
    for caution in lesson.cautions:
        assert re.sub(r"\W", "", caution) in words
    for section in lesson.sections:
        if section.title != EXERCISES:
            assert re.sub(r"\W", "", section.title) in words
    makers = [maker for maker in MAKERS.values() if maker.lesson == lesson.number]
    for maker in makers:
        assert re.sub(r"\W", "", maker.aim) in words
        assert re.sub(r"\W", "", maker.misconception) in words


@pytest.mark.parametrize("slot", SLOTS)
@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson.file)
def test_what_goes_into_a_class_lesson_fits_and_nothing_is_lost(lesson: Any, slot: int) -> None:
    makers = [maker for maker in MAKERS.values() if maker.lesson == lesson.number]
    fitted = fit(lesson, makers, slot)
    for steps in fitted.lessons:
        assert sum(step.minutes for step in steps) <= slot
    planned = [step for steps in fitted.lessons for step in steps]
    everything = [*planned, *fitted.at_home]
    for step in exercise_steps(makers):
        assert everything.count(step) == 1
    for step in class_steps(lesson):
        pieces = [s for s in everything if s.title == step.title or s.title.startswith(f"{step.title} (")]
        assert sum(s.minutes for s in pieces) == step.minutes, step
    order = [step.title for step in planned if step in class_steps(lesson)]
    assert order == [step.title for step in class_steps(lesson) if step.title in order]
    left_out = [step for step in fitted.at_home if step not in exercise_steps(makers)]
    assert all(step.title == lesson.may_be_left_out for step in left_out)
    assert not any(step.title.startswith((DEEPER, *HOME_SECTIONS)) for step in everything)


def test_lesson_01_takes_45_minutes_or_less() -> None:
    """The plain path, computed from what stands there, and a class lesson of 45 minutes with all sorts of exercises."""
    lesson = next(lesson for lesson in LESSONS if lesson.number == 1)
    makers = [maker for maker in MAKERS.values() if maker.lesson == 1]
    assert sum(step.minutes for step in class_steps(lesson)) <= 45
    fitted = fit(lesson, makers, 45)
    assert len(fitted.lessons) == 1
    assert sum(step.minutes for step in fitted.lessons[0]) <= 45
    assert len({step.what for step in fitted.lessons[0] if step in exercise_steps(makers)}) == len(EXERCISE_MINUTES)


def test_more_to_read_and_do_takes_longer(tmp_path: Path) -> None:
    """Minutes come from what stands in a lesson: a hundred words more are a minute more, a task two and a half."""
    source = (ROOT / "notebooks" / "01_boyles_law.ipynb").read_text("utf-8")
    (tmp_path / "01_boyles_law.ipynb").write_text(source, encoding="utf-8")
    (tmp_path / "02_more.ipynb").write_text(
        source.replace(
            "## Part 1: your own cylinder", "## Part 1: your own cylinder\\n\\n" + "word " * 1000 + "**Do:** it."
        ),
        encoding="utf-8",
    )
    before, after = ([step.minutes for step in class_steps(lesson)] for lesson in read_lessons(tmp_path))
    assert after[1] - before[1] in (12, 13)
    assert after[2:] == before[2:]


# ------------------------------------------------------------------------------------------------------------- on paper

TOO_WIDE = """() => {
    const found = [];
    const width = document.documentElement.clientWidth;
    for (const it of document.querySelectorAll('body *')) {
        if (it.closest('svg') && it.tagName !== 'svg') continue;
        const inWide = it.closest('.wide') !== null;
        const room = inWide ? window.wideRoom : width;
        const box = it.getBoundingClientRect();
        if (box.right > room + 1 || box.left < -1) found.push(it.tagName + ' ' + it.textContent.slice(0, 60));
        const style = getComputedStyle(it);
        if (it.scrollWidth > it.clientWidth + 1 && it.clientWidth > 0 && style.display !== 'inline' && !inWide)
            found.push('scrolls: ' + it.tagName + ' ' + it.textContent.slice(0, 60));
        if (it.tagName === 'PRE' && inWide) {
            const range = document.createRange();
            range.selectNodeContents(it);
            if (range.getBoundingClientRect().width > window.wideRoom + 1)
                found.push('cut: PRE ' + it.textContent.slice(0, 60));
        }
    }
    for (const it of document.querySelectorAll('.sheet, .paper'))
        if (it.scrollHeight > it.clientHeight + 1) found.push('runs over: ' + it.textContent.slice(0, 60));
    for (const image of document.images) if (!image.complete || !image.naturalWidth) found.push('no picture');
    return found;
}"""
MM = 96.0 / 25.4
PAPER = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


@pytest.mark.thorough
@need_browser
@pytest.mark.parametrize("paper", PAPER)
def test_nothing_is_cut_at_the_edge_of_the_paper(pack: Path, paper: str) -> None:
    """Every page in print, as wide as the paper between its margins: no table, picture or line sticks out. And nothing
    is asked of the network."""
    short, long = PAPER[paper]
    asked: list[str] = []
    cut = '<pre style="width: 100mm">a</pre><table><tr><td style="min-width: 250mm">too wide</td></tr></table>'
    (pack.parent / "planted.html").write_text(f"<!DOCTYPE html><body>{cut}</body>", encoding="utf-8")
    with chromium() as browser:
        context = browser.new_context()
        tab = context.new_page()
        tab.on("request", lambda request: asked.append(request.url))
        for name, source in pages(pack).items():
            lying = '<body class="wide">' in source
            width = (long - 24.0) if lying else (short - 30.0)
            tab.set_viewport_size({"width": int(width * MM), "height": 1000})
            tab.emulate_media(media="print")
            tab.goto((pack / name).as_uri())
            tab.evaluate(f"() => {{ window.wideRoom = {int((long - 24.0) * MM)}; }}")
            assert tab.evaluate(TOO_WIDE) == [], (name, paper)
        tab.goto((pack.parent / "planted.html").as_uri())
        assert len(tab.evaluate(TOO_WIDE)) >= 1, "what sticks out must be seen"
    assert all(address.startswith(("file:", "data:")) for address in asked)


def boxes(pdf: bytes) -> set[tuple[int, int]]:
    """Sizes of a PDF's pages in mm."""
    found = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    return {(round(float(w) / 72 * 25.4), round(float(h) / 72 * 25.4)) for w, h in found}


@need_browser
@pytest.mark.thorough
def test_pdf_files_have_the_size_of_their_paper(pack: Path) -> None:
    """Letter as the command was told, A4 as nobody need say; lesson 01 alone shows the latter."""
    alone = make_pack([Owner("c", "Ann Other"), Owner("c", "Björn")], lessons=[1])
    assert alone.told == ()
    for made, paper in ((alone.files, "A4"), (contents_of(pack), "Letter")):
        upright = tuple(round(side) for side in PAPER[paper])
        assert boxes(made["worksheets/lesson-01.pdf"]) == {upright}
        assert boxes(made["lesson-plans.pdf"]) == {upright}
        assert boxes(made["keys/lesson-01.pdf"]) == {upright}
        assert len(re.findall(rb"/Type /Page\b(?!s)", made["job-cards.pdf"])) == len(CARDS), "each job on its own page"


def printed_pack(pack: Path, paper: str) -> dict[str, bytes]:
    """Its PDF files on a paper, one learner with a long name: printed here but for what the command did on Letter."""
    there = {path.relative_to(pack).as_posix(): path.read_bytes() for path in pack.rglob("*.pdf")}
    printer = Printer(paper)
    for name, source in pages(pack).items():
        if name != "index.html" and (paper != "Letter" or name.startswith("worksheets/")):
            printer.take(name, source.replace(NAMES[0], LONG))
    made, told = printer.finish()
    assert told == []
    assert made.keys() == {name for name in there if paper != "Letter" or name.startswith("worksheets/")}
    return dict(sorted({**there, **made}.items()))


def fills(pdf: bytes, folder: Path) -> list[float]:
    """How far down each page is filled, as a share of the room between its margins."""
    (folder / "it.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-gray", "-r", "40", "it.pdf", "it"], cwd=folder, check=True)
    found = []
    for path in sorted(folder.glob("it-*.pgm")):
        with Image.open(path) as page:
            dark = (np.asarray(page) < 200).any(axis=1)
        ink, margin = np.nonzero(dark)[0], 14.0 / 25.4 * 40.0
        found.append(float((ink[-1] + 1 - margin) / (len(dark) - 2 * margin)) if len(ink) else 0.0)
        path.unlink()
    return found


@pytest.mark.thorough
@pytest.mark.skipif(not (find_chromium() and shutil.which("pdftoppm")), reason="no browser, or no pdftoppm")
@pytest.mark.parametrize("paper", PAPER)
def test_sheets_have_two_pages_and_none_is_nearly_empty(pack: Path, tmp_path: Path, paper: str) -> None:
    """Worksheets: two pages for each learner. Keys, end test, practical check, certificates, plans: none under a third.
    The table is printed."""
    found = {name: fills(content, tmp_path) for name, content in printed_pack(pack, paper).items()}
    for name, filled in found.items():
        low = sum(fill < 1 / 3 for fill in filled)
        print(f"{paper:6s} {name:28s} {len(filled):3d} pages, {low} under a third, mean {np.mean(filled):.2f}")
        if name.startswith("worksheets/"):
            assert len(filled) == 2 * len(NAMES), name
        if name.startswith("keys/"):
            assert len(filled) <= len(NAMES), "a learner's key to a lesson is on one page"
        if name.startswith(("worksheets/", "keys/", "course/", "job")):
            assert low == 0, (name, filled)
        if name.startswith(("lesson-plans", "answer-key")):
            assert min(filled[:-1]) > 1 / 3, "one runs on from page to page; its end may fall anywhere"
        assert low <= 3, (name, filled)
        assert min(filled) > 0.0, (name, "an empty page")
    assert len(found["handouts/lesson-12.pdf"]) <= 17
    for which, meetings_held in (("six-weeks", 12), ("three-weeks", 6)):
        filled = found[f"course/{which}.pdf"]
        assert len(filled) <= 1 + 2 * meetings_held, "a calendar of one page, and two to start each meeting with"


def test_without_a_browser_the_pack_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OILKIT_CHROMIUM", "no-such-browser")
    made = make_pack(lessons=[1])
    assert not any(name.endswith(".pdf") for name in made.files)
    assert made.told == ("No PDF files: neither Chromium nor Chrome was found. Print the pages from any browser.",)
    assert made.told[0] in made.files["index.html"].decode()


def test_a_browser_that_prints_nothing_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OILKIT_CHROMIUM", sys.executable)  # it starts, and knows nothing of pages
    made = make_pack(lessons=[1])
    assert not any(name.endswith(".pdf") for name in made.files)
    assert "the browser did not print it" in made.told[0]
    assert "lesson-plans.html" in made.told[0]


def test_printed_tables_keep_their_lines_and_sentences_fold() -> None:
    size = re.compile(r"font-size: ([\d.]+)pt")
    assert float(size.search(printed("a  b\n1  2"))[1]) == 9.0  # type: ignore[index]
    narrow = printed("a  " + "b" * 117)
    assert 180 / 25.4 * 72 >= 120 * 0.602 * float(size.search(narrow)[1]) > 0.97 * 180 / 25.4 * 72  # type: ignore[index]
    assert 'class="wide"' not in narrow
    assert 'class="wide"' in printed("a  " + "b" * 180)
    assert 'class="wide"' not in printed("word " * 60)


def test_a_paper_that_nobody_has_is_refused() -> None:
    refused("paper", lambda: on_paper("", "A3"))
    refused("paper", lambda: make_pack(paper="A3"))


# -------------------------------------------------------------------------------------------------------------- writing


@pytest.fixture(scope="module")
def small() -> packing.Pack:
    return make_pack(lessons=[1], with_pdf=False)


def contents_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_made_again_it_replaces_its_own_files_and_only_those(tmp_path: Path, small: packing.Pack) -> None:
    folder = tmp_path / "pack"
    write_pack(small, folder)
    assert contents_of(folder).keys() == {*small.files, "contents.csv"}
    (folder / "my notes.txt").write_text("mine", encoding="utf-8")
    (folder / "worksheets" / "own.html").write_text("mine too", encoding="utf-8")
    smaller = packing.Pack(dict.fromkeys(list(small.files)[:3], b"new"), ())
    write_pack(smaller, folder)
    now = contents_of(folder)
    assert now.keys() == {*smaller.files, "contents.csv", "my notes.txt", "worksheets/own.html"}
    assert (now["my notes.txt"], now["worksheets/own.html"]) == (b"mine", b"mine too")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda folder: (folder / "contents.csv").unlink(), "holds other files"),
        (lambda folder: (folder / "contents.csv").write_text("a,b\n1,2\n"), "not a pack's"),
        (lambda folder: (folder / "contents.csv").write_bytes(b"\xff\xfe"), "cannot be read"),
        (lambda folder: (folder / "index.html").write_text("changed"), "was changed since"),
        (lambda folder: (folder / "extra.html").write_text("foreign"), "is not the pack's"),
        (lambda folder: (folder / "extra.html").mkdir(), "no plain file"),
        (
            lambda folder: (folder / "contents.csv").write_text(f"{','.join(packing.COLUMNS)}\n../names.txt,0\n"),
            "not a",
        ),
    ],
    ids=["no list", "other table", "no text", "changed by hand", "foreign file", "folder", "leads outside"],
)
def test_anything_else_is_refused_before_a_byte_is_written(
    tmp_path: Path, small: packing.Pack, spoil: Any, says: str
) -> None:
    folder = tmp_path / "pack"
    write_pack(small, folder)
    (tmp_path / "names.txt").write_text("Ann", encoding="utf-8")
    spoil(folder)
    before = contents_of(tmp_path)
    bigger = packing.Pack({**small.files, "extra.html": b"new", "index.html": b"newer"}, ())
    assert says in refused("out", lambda: write_pack(bigger, folder))
    assert contents_of(tmp_path) == before


def test_a_folder_with_something_else_or_a_file_is_refused(tmp_path: Path, small: packing.Pack) -> None:
    (tmp_path / "thesis.txt").write_text("mine", encoding="utf-8")
    refused("out", lambda: write_pack(small, tmp_path))
    refused("out", lambda: write_pack(small, tmp_path / "thesis.txt"))
    assert contents_of(tmp_path) == {"thesis.txt": b"mine"}


def test_after_a_crash_in_the_middle_it_can_be_made_again(
    tmp_path: Path, small: packing.Pack, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full after so many files: whatever stands there then is still known as the pack's."""
    folder = tmp_path / "pack"
    write_pack(small, folder)
    newer = packing.Pack({name: content + b"<!-- newer -->" for name, content in small.files.items()}, ())
    real = packing.write_safely
    for allowed in range(len(newer.files) + 2):
        left = [allowed]

        def failing(path: Path, content: Any, left: list[int] = left) -> None:
            if left[0] == 0:
                raise OSError(28, "No space left on device")
            left[0] -= 1
            real(path, content)

        monkeypatch.setattr(packing, "write_safely", failing)
        if allowed < len(newer.files) + 2:
            with pytest.raises(OSError, match="No space"):
                write_pack(newer, folder)
        monkeypatch.setattr(packing, "write_safely", real)
        write_pack(small, folder)
        assert contents_of(folder).keys() == {*small.files, "contents.csv"}


# ------------------------------------------------------------------------------------------- class lists and mark books


def test_a_class_list_is_read_as_teachers_write_it(tmp_path: Path) -> None:
    file = tmp_path / "names.txt"
    file.write_bytes("\ufeff# spring\r\n\r\n  Ann   Other \r\nBjörn\r\n🙂\r\n".encode())
    assert read_class(file, "c") == [Owner("c", "Ann Other"), Owner("c", "Björn"), Owner("c", "🙂")]


@pytest.mark.parametrize(
    "content", [None, b"", b"# nobody\n\n", "Björn\n".encode("latin-1"), b"Ann Other\nann  other\n"], ids=str
)
def test_class_lists_that_cannot_be_used(tmp_path: Path, content: bytes | None) -> None:
    if content is not None:
        (tmp_path / "names.txt").write_bytes(content)
    refused("learners", lambda: read_class(tmp_path / "names.txt", argument="learners"))
    assert main(["--learners", str(tmp_path / "names.txt"), "--out", str(tmp_path / "pack")]) == 2
    assert not (tmp_path / "pack").exists()


def test_two_names_of_one_file_are_refused(tmp_path: Path) -> None:
    """Names without a letter from A to Z leave five digits in a file's name: one class in hundreds has such a pair."""
    file = tmp_path / "names.txt"
    file.write_text("class: 班13\n王敏\n李敏\n", encoding="utf-8")
    told = refused("names.txt", lambda: read_class(file))
    assert "“王敏” and “李敏”, whose answers would go into one file" in told
    file.write_text("class: 班13\n王敏\n李敏 L\n", encoding="utf-8")
    assert [owner.learner for owner in read_class(file)] == ["王敏", "李敏 L"]


def test_a_class_list_is_of_one_class(tmp_path: Path) -> None:
    file = tmp_path / "names.txt"
    file.write_text("class: a\nAna\nclass: b\nBen\n", encoding="utf-8")
    assert "the classes “a” and “b” in one list" in refused("names.txt", lambda: read_class(file))
    both = [Owner("c", "Ana"), Owner("c", "Ben")]
    assert read_class(file, "c") == both, "the teacher has said which"
    file.write_text("class: c\nAna\nclass:\nClass:  C\nBen\n", encoding="utf-8")
    assert read_class(file) == both
    file.write_text(class_text([*both, Owner("d", "Cem")]), encoding="utf-8")
    assert read_class(file) == both


def test_a_class_list_is_opened_as_every_other_file(tmp_path: Path) -> None:
    """A folder is said to be one, and what is far too large for a list is not read."""
    assert "a folder" in refused("learners", lambda: read_class(tmp_path, argument="learners"))
    (tmp_path / "names.txt").write_text("Ann\n" * 300_000, encoding="utf-8")
    assert "more than 1 MB" in refused("learners", lambda: read_class(tmp_path / "names.txt", argument="learners"))
    assert "no such file" in refused("learners", lambda: read_class(tmp_path / "none.txt", argument="learners"))
    (tmp_path / "glossary.toml").mkdir()
    assert "a folder" in refused("glossary.toml", lambda: terms(tmp_path / "glossary.toml"))


def test_the_class_list_that_the_command_writes_is_the_one_that_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lessons, names = tmp_path / "lessons", tmp_path / "names.txt"
    names.write_text("# the class\n\n" + "\n".join(NAMES) + "\n", encoding="utf-8")
    lessons.mkdir()
    (lessons / "00_start_here.ipynb").write_text("{}", encoding="utf-8")
    command = ["class", "--class", GROUP, "--learners", str(names), "--notebooks", str(lessons)]
    assert main(command) == 0
    assert "3 learners. Copy it beside the lessons of each of them." in capsys.readouterr().out
    listed = [Owner(GROUP, name) for name in NAMES]
    assert read_class(lessons / "class.txt") == listed
    assert read_class(lessons / "class.txt", "another") == [Owner("another", name) for name in NAMES]
    panel = LearnerPanel(tmp_path, lessons / "class.txt")
    assert panel.list == listed
    panel.pick.box.value = NAMES[1]
    panel._button.click()
    assert Owner(*load_owner()) == listed[1]
    names.write_text("Zoë\n", encoding="utf-8")
    assert main(command) == 0
    assert "What was saved before is in class_earlier_1.txt." in capsys.readouterr().out
    assert main(["class", "--class", GROUP]) == 2
    assert "--learners" in capsys.readouterr().err


@pytest.mark.parametrize("what", ["pack", "marks"])
def test_no_folder_is_made_for_a_slip(tmp_path: Path, capsys: pytest.CaptureFixture[str], what: str) -> None:
    (tmp_path / "progress").mkdir()
    names = tmp_path / "progress" / "names.txt"
    names.write_text("Ana\n", encoding="utf-8")
    marks = [str(names.parent), "--learners", str(names)]
    arguments = marks if what == "marks" else ["--lessons", "1", "--no-pdf"]
    assert main([what, *arguments, "--out", str(tmp_path / "no such" / "place.csv")]) == 2
    assert "no such" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["progress"]


def test_a_pack_that_was_killed_at_its_first_file_can_be_made_again(tmp_path: Path, small: packing.Pack) -> None:
    folder = tmp_path / "pack"
    folder.mkdir()
    (folder / ".oilkit-dead.part").write_bytes(b"half")
    write_pack(small, folder)
    assert contents_of(folder).keys() == {*small.files, "contents.csv", ".oilkit-dead.part"}


def test_the_command_refuses_what_it_cannot_use(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pack", "somewhere"]) == 2
    assert main(["--notebooks", str(tmp_path), "--out", str(tmp_path / "pack")]) == 2
    (tmp_path / "07_broken.ipynb").write_text("{", encoding="utf-8")
    assert main(["--notebooks", str(tmp_path), "--out", str(tmp_path / "pack")]) == 2
    (tmp_path / "file").write_text("x", encoding="utf-8")
    assert main(["--lessons", "1", "--no-pdf", "--out", str(tmp_path / "file" / "pack")]) == 2
    assert all(line.strip() for line in capsys.readouterr().err.splitlines())
    assert (tmp_path / "file").read_text() == "x"


@pytest.mark.thorough
def test_it_runs_as_a_command(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "oilkit.teacher", "--lessons", "1", "--no-pdf", "--out", str(tmp_path / "pack")]
    run = subprocess.run(command, capture_output=True, text=True, timeout=300, cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "Open " in run.stdout
    assert (tmp_path / "pack" / "worksheets" / "lesson-01.html").is_file()


def test_units_of_the_pictures_are_chosen_without_being_remembered() -> None:
    us, si = (make_pack(lessons=[1], with_pdf=False, units=units) for units in ("US", "SI"))
    assert us.files["worksheets/lesson-01.html"] != si.files["worksheets/lesson-01.html"]
    assert us.files["answer-key.html"] == si.files["answer-key.html"]
    assert unit_switch.system == "US"
    with shown_in("SI"):
        assert unit_switch.system == "SI"
    assert unit_switch.system == "US"
    unit_switch.look_again()
    assert unit_switch.system == "US"


# ------------------------------------------------------------------------------------------------- glossary and symbols


def kept(name: str) -> str:
    return (ROOT / "notebooks" / name).read_text("utf-8")


def test_glossary_and_symbols_are_up_to_date(tmp_path: Path) -> None:
    """What stands beside the lessons is what the command writes from the one source."""
    for lesson in LESSONS:
        (tmp_path / lesson.file).write_bytes((ROOT / "notebooks" / lesson.file).read_bytes())
    assert [path.name for path in write_pages(tmp_path)] == [GLOSSARY, SYMBOLS, ASSUMPTIONS, PADDOCK]
    for name in GLOSSARY, SYMBOLS, ASSUMPTIONS, PADDOCK:
        made = (tmp_path / name).read_text("utf-8")
        assert kept(name) == made, f"run python -m oilkit.teacher glossary: {name} is old"


def test_every_assumption_is_on_the_page_with_its_mark() -> None:
    from oilkit.audit import constants, inputs, left_out

    page = kept(ASSUMPTIONS)
    rows = [line.split("|") for line in page.splitlines() if line.startswith("| ")]
    for given in inputs.INPUTS.values():
        (row,) = [r for r in rows if r[1].strip() == given.words]
        assert row[-2].strip() == given.why
        assert len(re.findall(r"[+-]\d+\.\d %", row[-3])) == 2, "its size, both ways"
    assert all(any(r[1].strip() == one.what for r in rows) for one in left_out.left_out())
    listed = {r[1].strip(" `"): r[-2].strip() for r in rows}
    marks = {one.name: one.basis or "chosen" for one in constants.constants().values() if one.named and one.meaning}
    assert len(marks) > 40
    assert all(listed[name] == basis for name, basis in marks.items())


def test_every_word_is_explained_plainly_and_stands_in_the_lesson_that_introduces_it() -> None:
    by_number = {lesson.number: lesson for lesson in LESSONS}
    found = terms()
    assert len(found) >= 50
    for term in found:
        assert len(term.says.split()) <= MOST_WORDS, term
        assert term.says.endswith(".")
        assert not term.says.lower().startswith((term.term.lower(), f"a {term.term.lower()} ")), "explained by itself"
        lesson = by_number[term.lesson]
        text_ = lesson.prose + " ".join(c.text for s in (lesson.opening, *lesson.sections) for c in s.cells)
        plain = " ".join(text_.replace("*", "").lower().split())
        assert (term.seen_as or term.term).lower() in plain, term
    letters = [len(re.sub(r"\W", "", word)) for term in found for word in term.says.split()]
    assert sum(letters) / len(letters) < 5.0, "plain words are short"
    sentences = [len(s.split()) for term in found for s in re.split(r"(?<=[.:;]) ", term.says)]
    assert sum(sentences) / len(sentences) < 15.0


def test_questions_from_the_paddock_have_numbers_or_say_why_not() -> None:
    """Each answer holds a number with a unit, or says why it has none; the numbers move as they should."""
    told = kept(PADDOCK).split("\n## ")[1:]
    assert len(told) >= 14
    for answer in told:
        assert re.search(r"\d ?(?:s|psi|psig|qt|gpm|%|°C)\b", answer) or "Not computed, because" in answer, answer[:60]
    found = answers()
    seconds = {name: float(str(found[name]).split()[0]) for name in ("narrow", "usual", "double", "far")}
    assert seconds["narrow"] < seconds["far"] <= seconds["usual"]
    assert seconds["double"] == pytest.approx(2.0 * seconds["usual"], rel=0.15)
    for rows, rising in (("sizes", True), ("leaks", False), ("charges", False)):
        times = [float(time.split()[0]) for _, time in found[rows]]
        assert times == sorted(times, reverse=not rising)
    by_hand = 15.0 + 14.696 * (1.0 - (1.0 - 2.25577e-5 * 2133.6) ** 5.25588)  # ISO 2533: a gauge in thinner air
    assert float(found["high"].split()[0]) == pytest.approx(by_hand, abs=0.06)
    rate = 1.5e-3**2 * math.pi / 4 * 0.62 * math.sqrt(2 * 40 * 6894.757 / 800.0)  # Bernoulli, oil of 800 kg/m³
    assert float(found["turbo"].split()[0]) == pytest.approx(rate * 60 / 3.785411784e-3, abs=0.02)
    built = usual_installation()
    holes = built.engine.lifters  # the feed's area given to them, which have no opening pressure either
    area = holes.count * holes.discharge_coefficient * holes.bore**2 + 0.62 * Q(1.5, "mm") ** 2
    wider = holes.changed(bore=(area / holes.count / holes.discharge_coefficient) ** 0.5)
    given = {"precharge": Q(15, "psig"), "pressure": Q(60, "psig"), "speed": Q(3000, "rpm"), "limit": Q(20, "psig")}
    fed = discharge(replace(built, engine=built.engine.changed(lifters=wider)), **given).protected_time.m_as("s")
    assert float(found["turbo_lasts"].split()[0]) == pytest.approx(fed, abs=0.06)
    assert f"gives {found['turbo_lasts']} in place of {found['usual']}" in " ".join(kept(PADDOCK).split())


def test_every_symbol_of_the_register_is_on_the_page() -> None:
    from oilkit.audit import register

    page = kept(SYMBOLS)
    used = {a.symbol for entry in register.register().values() for a in entry.arguments if a.symbol and a.kind}
    assert len(used) > 30
    for symbol in used:
        assert f"| ${tex(symbol)}$ |" in page, symbol
        assert formula(tex(symbol))
    assert (tex("nu_40"), tex("p0"), tex("dp"), tex("2 R_m")) == (r"\nu_{40}", "p_{0}", r"\Delta{}p", r"2\,R_{m}")


@pytest.mark.parametrize(
    "content",
    [
        "[[term]]\nterm = 'a'\nsays = 'b'\n",
        "[[term]]\nterm = 'a'\nsays = 'b'\nlesson = 1\ncolour = 'red'\n",
        "[[term]]\nterm = 'a'\nsays = '" + "word " * 26 + "'\nlesson = 1\n",
        "[[term]]\nterm = 'a'\nsays = 'b'\nlesson = 1\n[[term]]\nterm = 'A'\nsays = 'c'\nlesson = 2\n",
        "term = 3",
        "[[",
    ],
    ids=["no lesson", "a key too many", "too long", "twice", "no list", "no toml"],
)
def test_a_glossary_that_cannot_be_used_is_refused(tmp_path: Path, content: str) -> None:
    (tmp_path / "glossary.toml").write_text(content, encoding="utf-8")
    refused(None, lambda: terms(tmp_path / "glossary.toml"))


def test_every_lesson_links_to_the_glossary() -> None:
    for lesson in LESSONS:
        assert f"]({GLOSSARY})" in lesson.opening.cells[0].source, lesson.file
        assert f"]({SYMBOLS})" in lesson.opening.cells[0].source, lesson.file
