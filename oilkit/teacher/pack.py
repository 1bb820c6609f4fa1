"""The whole pack: made in memory, then written into a folder of its own, never over anything else."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises import all_exercises
from oilkit.exercises.exercise import NOBODY, Owner
from oilkit.quantities.units import shown_in
from oilkit.shop.cards import CARDS
from oilkit.storage.saving import UNFINISHED, csv_text, write_safely
from oilkit.storage.textfile import LARGEST, read_text
from oilkit.teacher.course import course_pages
from oilkit.teacher.glossary import glossary_markdown, symbols_markdown
from oilkit.teacher.handouts import handout, handout_file, links_to
from oilkit.teacher.lesson import read_lessons
from oilkit.teacher.pages import filled, markdown
from oilkit.teacher.paper import Printer
from oilkit.teacher.plans import plans
from oilkit.teacher.sheets import Own, called, key, key_by_learner, key_file, worksheet, worksheet_file

CONTENTS = "contents.csv"
COLUMNS = ["file of this oilkit pack", "sha256"]


@dataclass(frozen=True)
class Pack:
    """Every file of a pack by its name, and what could not be made."""

    files: dict[str, bytes] = field(repr=False)
    told: tuple[str, ...]


def make_pack(
    owners: Sequence[Owner] = (NOBODY,),
    paper: str = "A4",
    notebooks: Path | str | None = None,
    units: str | None = None,
    lessons: Sequence[int] | None = None,
    with_pdf: bool = True,
) -> Pack:
    """Make a teacher's pack, in memory: course, plans, worksheets, keys, handouts, glossary, symbols, PDF files, index.

    owners: whose numbers; lessons: only these, and then no course;
    units: the gauges to read show US or SI, as the kit remembers if not said.
    Raises `InputError` if the lessons are not found, or the paper is neither A4 nor Letter.
    """
    printer = Printer(paper, with_pdf)
    found = read_lessons(notebooks)
    wanted = [one for one in found if lessons is None or one.number in lessons]
    numbers = {lesson.number for lesson in wanted}
    makers = [maker for maker in all_exercises().values() if maker.lesson in numbers]
    pages: dict[str, str] = {}

    def printed_too(name: str, text: str) -> None:
        pages[name] = text
        printer.take(name, text)

    with shown_in(units):
        printed_too("lesson-plans.html", plans(wanted, makers))
        exercises = {maker.key: [Own(maker, owner) for owner in owners] for maker in makers}
        printed_too("answer-key.html", key(wanted, exercises))
        for lesson in wanted:
            its = [exercises[maker.key] for maker in makers if maker.lesson == lesson.number]
            if its:
                rows = list(zip(*its, strict=True))
                printed_too(worksheet_file(lesson.number), worksheet(lesson, rows))
                printed_too(key_file(lesson.number), key_by_learner(lesson.title, rows))
        if lessons is None:
            for name, page in course_pages(found, owners).items():
                printed_too(name, page)
    printed_too("job-cards.html", filled("cards.html", "Job cards", cards=CARDS.values()))
    for lesson in wanted:
        printed_too(handout_file(lesson.number), handout(lesson, found))
    for title, source in (("Glossary", glossary_markdown(found)), ("Symbols", symbols_markdown(found))):
        printed_too(f"{title.lower()}.html", filled("page.html", title, body=markdown(source, links_to(found))))
    printed, told = printer.finish()
    pages["index.html"] = filled(
        "index.html",
        "Teacher's pack",
        lessons=wanted,
        names={*pages, *printed},
        groups=sorted({owner.group for owner in owners if owner.group}),
        learners=[called(owner) for owner in owners if owner.named],
        paper=paper,
        told=told,
    )
    files = {name: text.encode("utf-8") for name, text in pages.items()} | printed
    return Pack(dict(sorted(files.items())), tuple(told))


# ------------------------------------------------------------------------------------------------------------ writing


def write_pack(pack: Pack, folder: Path | str) -> None:
    """Write a pack into a folder that is new, empty, or holds an older pack.

    Files of the older pack are replaced, or taken away where the new one has none; any other file stays as it is.
    Raises `InputError`, before anything is written, if the folder holds something else, or a file of the older pack was
    changed by hand since; `OSError` if the folder cannot be written.
    """
    target = Path(folder)
    known = _known(target)
    for name in sorted({*pack.files, *known}):
        path = target / name
        if path.is_symlink() or (path.exists() and not path.is_file()):
            raise InputError("out", f"{name}, which is no plain file", "a folder that is new or holds a pack only")
        if path.exists() and _sum(path.read_bytes()) not in known.get(name, set()):
            what = "was changed since the pack was made" if name in known else "is not the pack's"
            raise InputError("out", f"{name}, which {what}", "another folder, or that file under another name")
    for folder in {(target / name).parent for name in (CONTENTS, *pack.files)}:
        folder.mkdir(parents=True, exist_ok=True)
    coming = {name: {_sum(content)} for name, content in pack.files.items()}
    # both sums while it is written: after a crash in between, the folder is still known for a pack
    write_safely(
        target / CONTENTS, _contents({n: coming.get(n, set()) | known.get(n, set()) for n in {*coming, *known}})
    )
    for name, content in pack.files.items():
        write_safely(target / name, content)
    for name in known.keys() - pack.files.keys():
        (target / name).unlink(missing_ok=True)
    write_safely(target / CONTENTS, _contents(coming))


def _known(target: Path) -> dict[str, set[str]]:
    """Files of the pack that a folder holds, with their checksums; none if it is new or empty."""
    if target.exists() and not target.is_dir():
        raise InputError("out", f"{target.name}, which is a file", "a folder")
    if not target.exists() or all(entry.match(UNFINISHED) for entry in target.iterdir()):
        return {}
    wanted = "a folder that is new or empty, or one with a pack of this kit"
    if not (target / CONTENTS).exists():
        raise InputError("out", f"{target.name}, which holds other files", wanted)
    try:
        rows = list(csv.reader(io.StringIO(read_text(target / CONTENTS, LARGEST, wanted)), strict=True))
    except (InputError, csv.Error):
        raise InputError("out", f"a {CONTENTS} that cannot be read", wanted) from None
    if not rows or rows[0] != COLUMNS or any(len(row) != 2 or not _inside(row[0]) for row in rows[1:]):
        raise InputError("out", f"a {CONTENTS} that is not a pack's", wanted)
    known: dict[str, set[str]] = {}
    for name, checksum in rows[1:]:
        known.setdefault(name, set()).add(checksum)
    return known


def _inside(name: str) -> bool:
    """Whether a name of the list is one that a pack could have written: nothing outside its folder."""
    return not Path(name).is_absolute() and ".." not in Path(name).parts and "\\" not in name and ":" not in name


def _contents(known: dict[str, set[str]]) -> str:
    return csv_text([COLUMNS, *([name, checksum] for name in sorted(known) for checksum in sorted(known[name]))])


def _sum(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
