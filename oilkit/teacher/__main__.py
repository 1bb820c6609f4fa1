"""The command: ``python -m oilkit.teacher`` makes the pack, ``… marks`` the mark book, ``… class`` the class list from
which learners pick their names, ``… glossary`` two pages; ``… server`` the folder of a class server, ``… stick`` one
for laptops without internet, ``… collect`` brings learners' answers together."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from oilkit.errors import InputError
from oilkit.exercises.class_list import class_text, read_class
from oilkit.exercises.exercise import NOBODY, Owner
from oilkit.storage.lessons import notebooks_folder
from oilkit.storage.saving import named_file, write_keeping_earlier
from oilkit.storage.users import CLASS_LIST, LEARNERS
from oilkit.teacher.collect import collect, gather
from oilkit.teacher.course import CALENDARS, TOLD, held_by
from oilkit.teacher.glossary import write_pages
from oilkit.teacher.lesson import read_lessons
from oilkit.teacher.marks import mark_book
from oilkit.teacher.marks_files import SEPARATORS, read_by_hand, region_separator, write_marks
from oilkit.teacher.pack import make_pack, write_pack
from oilkit.teacher.paper import PAPERS
from oilkit.teacher.server import HERE, write_server
from oilkit.teacher.stick import SYSTEMS, USUAL, write_stick


def parser() -> argparse.ArgumentParser:
    made = argparse.ArgumentParser(
        prog="python -m oilkit.teacher",
        description="Make the teacher's pack: lesson plans, worksheets, answer key, handouts, glossary, symbols.",
    )
    made.add_argument("what", nargs="?", choices=tuple(ACTS), default="pack")
    made.add_argument(
        "folder", nargs="?", help="for marks and collect: with the learners' progress files; server, stick: to be made"
    )
    made.add_argument("--class", dest="group", default="", help="the class, as learners type it")
    made.add_argument("--learners", metavar="FILE", help="a text file with one name in a line")
    made.add_argument("--paper", choices=tuple(PAPERS), default="A4", help="paper of the PDF files")
    made.add_argument(
        "--units", choices=("US", "SI"), help="of gauges and graphs on worksheets; as remembered if not given"
    )
    made.add_argument(
        "--separator", choices=tuple(SEPARATORS), help="of the mark book's tables; as this computer's region has it"
    )
    made.add_argument(
        "--lessons", metavar="N", type=int, nargs="+", help="only these lessons; of the mark book, those held so far"
    )
    made.add_argument("--meeting", metavar="N", type=int, help="of the course: the mark book's sums go up to it")
    courses = [which.replace("_", "-") for which in CALENDARS]
    made.add_argument("--course", choices=courses, default=courses[0], help="whose meeting it is")
    made.add_argument("--notebooks", metavar="FOLDER", help="where the lessons are, if not beside the kit")
    made.add_argument("--no-pdf", action="store_true", help="pages only")
    made.add_argument(
        "--address", default=HERE, help="of the class server in the class's network, such as 192.168.1.10"
    )
    made.add_argument("--kubernetes", metavar="IMAGE", default="", help="also what a cluster needs, with this image")
    made.add_argument("--python", metavar="3.N", nargs="+", default=["3.12", "3.13"], help="of the laptops (stick)")
    made.add_argument("--systems", nargs="+", choices=tuple(SYSTEMS), default=USUAL, help="of the laptops (stick)")
    made.add_argument(
        "--out", help="folder of the pack or of what was collected (answers), file of the mark book or class list"
    )
    return made


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns 0, or after a sentence that says why: 1 if a file was left out, 2 for nothing."""
    given = parser().parse_args(arguments)
    try:
        return ACTS[given.what](given)
    except InputError as problem:
        print(problem, file=sys.stderr)
        return 2
    except OSError as problem:
        print(f"It could not be written or read: {problem.strerror or type(problem).__name__}.", file=sys.stderr)
        return 2


def _owners(given: argparse.Namespace) -> list[Owner]:
    return _listed(given) or ([Owner(given.group)] if given.group else [NOBODY])


def _pack(given: argparse.Namespace) -> int:
    began = time.perf_counter()
    if given.folder:
        raise InputError("folder", repr(given.folder), "it with marks only; a pack's folder is given with --out")
    pack = make_pack(_owners(given), given.paper, given.notebooks, given.units, given.lessons, not given.no_pdf)
    out = named_file(given.out or "pack", argument="out")
    write_pack(pack, out)
    for sentence in pack.told:
        print(sentence)
    print(f"{len(pack.files)} files in {time.perf_counter() - began:.0f} s. Open {out / 'index.html'}")
    return 0


def _listed(given: argparse.Namespace) -> list[Owner]:
    """The class list; none for a class server, which has its own."""
    return read_class(given.learners, given.group, "learners") if given.learners else []


def _marks(given: argparse.Namespace) -> int:
    found = gather(_listed(given), given.folder or "progress")
    out = named_file(given.out or "marks.csv", ".csv", argument="out")
    held, by = given.lessons, "as you said"
    if given.meeting is not None:
        which = given.course.replace("-", "_")
        held = held_by(which, given.meeting, read_lessons(given.notebooks))
        by = f"up to meeting {given.meeting} of the course “{TOLD[which]['title']}”"
    book = mark_book(found, read_by_hand(out), held, by)
    earlier = write_marks(book, out, given.separator or region_separator())
    print(*book.told, sep="\n", end="\n" if book.told else "")
    for usual in [one for one in book.mistakes if len(one.learners) > 1][:3]:
        print(f"{usual.says}. Ask: {usual.ask}")
    print(f"Sums are over the lessons held so far: {book.held_says}.")
    print(f"{out}: {len(book.rows)} learners. The class at a glance: {out.with_suffix('.html')}{earlier}")
    return _left_out(book.left_out)


def _left_out(sentences: Sequence[str]) -> int:
    for sentence in sentences:
        print(f"Left out: {sentence}", file=sys.stderr)
    return 1 if sentences else 0


def _class(given: argparse.Namespace) -> int:
    owners = _owners(given)
    if not given.learners:
        raise InputError("learners", "no file", "a text file with one name in a line, given with --learners")
    out = named_file(given.out, argument="out") if given.out else notebooks_folder(given.notebooks) / CLASS_LIST
    earlier = write_keeping_earlier(out, class_text(owners))
    print(f"{out}: {len(owners)} learners. Copy it beside the lessons of each of them.{earlier}")
    return 0


def _glossary(given: argparse.Namespace) -> int:
    for path in write_pages(notebooks_folder(given.notebooks)):
        print(path.name)
    return 0


def _server(given: argparse.Namespace) -> int:
    folder = named_file(given.folder or "class-server", argument="folder")
    for sentence in write_server(_owners(given), folder, given.address, given.kubernetes):
        print(sentence)
    print(f"What to type next stands in {folder / 'README.md'}; user names and passwords in {folder / LEARNERS}.")
    return 0


def _stick(given: argparse.Namespace) -> int:
    folder = named_file(given.folder or "stick", argument="folder")
    missing = write_stick(folder, given.python, given.systems)
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file()) / 1e6
    print(f"{folder}: {size:.0f} MB. Copy it onto a stick; its README.txt is for learners.")
    for sentence in missing:
        print(sentence, file=sys.stderr)
    return 1 if missing else 0


def _collect(given: argparse.Namespace) -> int:
    source, out = Path(given.folder or "inbox"), named_file(given.out or "answers", argument="out")
    if source.resolve() == out.resolve():
        raise InputError("out", repr(out.name), "another folder than the one with the files")
    found = gather(_listed(given), source, out)
    files = collect(found, out)
    print(*found.told, f"{out}: files of {len(files)} learners.", sep="\n")
    return _left_out(found.left_out)


ACTS = {
    "pack": _pack,
    "marks": _marks,
    "class": _class,
    "glossary": _glossary,
    "server": _server,
    "collect": _collect,
    "stick": _stick,
}

if __name__ == "__main__":
    sys.exit(main())
