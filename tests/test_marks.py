"""The mark book: what is forged, damaged, doubled or misnamed is found and named, and none of it stops the book."""

from __future__ import annotations

import csv
import io
import locale
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sentences import refused

from oilkit.exercises import all_exercises
from oilkit.exercises.exercise import NOBODY, Owner, Verdict, judge
from oilkit.exercises.judged_again import judged_again
from oilkit.exercises.progress import COLUMNS, Entry, Progress, file_name, safe_for_a_spreadsheet
from oilkit.quantities.units import unit_switch, use_units
from oilkit.teacher.__main__ import main
from oilkit.teacher.collect import gather
from oilkit.teacher.marks import Book, mark_book, one_line
from oilkit.teacher.marks_files import (
    EXERCISES,
    MISTAKES,
    SEPARATORS,
    WORDS,
    read_by_hand,
    region_separator,
    tables,
    write_marks,
)

GROUP = "spring class"
MAKERS = all_exercises()
KEYS = ("squeezed", "to_what_volume", "read_dial", "gas_feels", "set_for_the_track", "twice_the_gauge", "why_slow")
"""What the invented learners answer: numbers, a choice, words."""
WORDY = "The heat has time to leave while the piston moves.\nSo the gas stays as warm as before."


def right(owner: Owner, key: str) -> str:
    """The right answer of a learner, as typed."""
    made = MAKERS[key](owner)
    if made.answer is not None:
        return f"{float(made.answer.magnitude):.6g} {made.answer.units:~}"
    return made.options[made.right] if made.options else WORDY


def entries(owner: Owner, number: int = 0, keys: tuple[str, ...] = KEYS) -> list[Entry]:
    """An honest learner's lines, all right, each at a time of its own."""
    found = []
    for k, key in enumerate(keys):
        answer = right(owner, key)
        verdict = judge(MAKERS[key](owner), answer)
        said = "1 2 of 3" if MAKERS[key].sort == "explain" else ""
        time = f"2026-03-01 {8 + number // 3600:02d}:{number // 60 % 60:02d}:{number % 60:02d}"
        found.append(
            Entry(f"{time[:-2]}{(number + k) % 60:02d}", MAKERS[key].lesson, key, answer, verdict.mark, "", said)
        )
    return found


def write(path: Path, lines: list[Entry]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file)
        out.writerow(COLUMNS)
        for e in lines:
            cells = map(safe_for_a_spreadsheet, (e.answer, e.mark, e.mistake, e.said))
            out.writerow([e.time, e.lesson, e.exercise, *cells])


def changed(line: Entry, **new: Any) -> Entry:
    return Entry(**{**vars(line), **new})


# Each spoils what an honest learner has handed in: it takes folder, learner, neighbor and honest lines, and returns the
# words by which the book must name it.


def forged(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """A wrong number with the mark of a right one."""
    write(folder / file_name(me), [changed(lines[0], answer="3.21 psi gauge"), *lines[1:]])
    return f"{me.learner}, judged again: “3.21 psi gauge” to “Boyle's law for pressure” (lesson 01) is wrong, not right"


def of_another(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """Another learner's file under the own name."""
    write(folder / file_name(me), [changed(e, time=mine.time) for e, mine in zip(entries(other), lines, strict=True)])
    return f"They fit the numbers of {other.learner}."


def copied(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """The same, with the other's times."""
    shutil.copy(folder / file_name(other), folder / file_name(me))
    return f"{me.learner} and {other.learner} have|{other.learner} and {me.learner} have"


def misnamed(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """The own file under another name."""
    write(folder / f"homework of {me.learner}.csv", lines)
    return f"homework of {me.learner}.csv counts for {me.learner}: 7 of its 7 lines are new."


def renamed(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """The own file under a name that says nothing."""
    write(folder / f"answers {me.learner[-2:].strip()}.csv", lines)
    return f"renamed?), or of several. Its answers fit the numbers of {me.learner}."


def misspelled(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """A class typed otherwise: other numbers, another file."""
    wrong = Owner("sprign class", me.learner)
    write(folder / file_name(wrong), entries(wrong))
    return f"{file_name(wrong)}: of nobody on the list (a class or name typed otherwise, or renamed?), or of several."


def unknown_exercise(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    write(folder / file_name(me), [*lines, changed(lines[0], exercise="extra_credit", lesson=99)])
    return f"{me.learner}, judged again: there is no exercise “extra_credit” in lesson 99"


def unknown_lesson(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    write(folder / file_name(me), [changed(lines[0], lesson=44), *lines[1:]])
    return f"{me.learner}, judged again: “squeezed” is of lesson 01, not 44"


def no_answer(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    write(folder / file_name(me), [changed(lines[0], answer="all of it"), *lines[1:]])
    return f"{me.learner}, judged again: “all of it” is no answer to “squeezed”"


def too_many_points(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    write(folder / file_name(me), [*lines[:-1], changed(lines[-1], said="1 2 3 4 5 6 7 of 7")])
    return f"{me.learner}, judged again: points “1 2 3 4 5 6 7 of 7” of a model answer that has 3"


def no_time(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """As when a spreadsheet has saved it: told, and counted."""
    write(folder / file_name(me), [changed(lines[0], time="yesterday"), *lines[1:]])
    return f"{me.learner}, judged again: “yesterday” is no time as the kit writes it"


def picture(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    (folder / file_name(me)).write_bytes(b"\x89PNG\r\n\xff")
    return f"{file_name(me)}: got "


def cut_short(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    write(folder / file_name(me), lines)
    path = folder / file_name(me)
    path.write_bytes(path.read_bytes().rpartition(b",right")[0])
    return f"{file_name(me)}, line"


def a_folder(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    (folder / file_name(me)).mkdir()
    return f"{file_name(me)}: got a folder"


def twice(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """Two files, each with one half and one line of both."""
    write(folder / file_name(me), lines[:4])
    write(folder / f"Copy of {file_name(me).removesuffix('.csv')} (1).csv", lines[3:])
    return f"(1).csv counts for {me.learner}: 3 of its 4 lines are new."


def in_two_folders(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    write(folder / "home" / file_name(me), lines[:4])
    write(folder / "school" / file_name(me), lines[3:])
    return f"school/{file_name(me)} counts for {me.learner}: 3 of its 4 lines are new."


def endless_lesson(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    """A number that Python refuses to read."""
    write(folder / file_name(me), [changed(lines[0], lesson="9" * 5000), *lines[1:]])
    return f"{file_name(me)}, line 2: got "


def nothing(folder: Path, me: Owner, other: Owner, lines: list[Entry]) -> str:
    return me.learner


Spoil = Callable[[Path, Owner, Owner, list[Entry]], str]
SPOILED: dict[Spoil, float] = {
    forged: 6.0, of_another: 0.0, copied: 0.0, misnamed: 7.0, renamed: 0.0, misspelled: 0.0, unknown_exercise: 7.0,
    unknown_lesson: 6.0, no_answer: 6.0, too_many_points: 6.0, no_time: 7.0, picture: 0.0, cut_short: 0.0,
    a_folder: 0.0, endless_lesson: 0.0, twice: 7.0, in_two_folders: 7.0, nothing: 0.0,
}  # fmt: skip
"""What is done, and the points that are then left of seven; of another's answers, what is right `right_for_both`."""
COMPLETE = (unknown_exercise, no_time, twice, in_two_folders, misnamed)
DAMAGED = (picture, cut_short, a_folder, endless_lesson)
LEFT_OUT = (*DAMAGED, renamed, misspelled)


def right_for_both(owner: Owner, other: Owner) -> int:
    """Of another's answers those that are right with the own numbers, too."""
    marks = [judged_again(owner, [line]) for line in entries(other)]
    return sum(bool(kept) and kept[0].mark in ("right", "done") for kept, _ in marks)


def spoiled_class(folder: Path, each: int) -> tuple[list[Owner], dict[Owner, Spoil], dict[Owner, str]]:
    """A class with an honest learner before each one whose file is spoiled, each way so many times."""
    folder.mkdir()
    ways = [way for way in SPOILED for _ in range(each)]
    owners = [Owner(GROUP, f"{'Honest' if k % 2 == 0 else 'Odd'} no {k}") for k in range(2 * len(ways))]
    words = {}
    for k, way in enumerate(ways):
        honest, odd = owners[2 * k : 2 * k + 2]
        write(folder / file_name(honest), entries(honest, 20 * k))
        words[odd] = way(folder, odd, honest, entries(odd, 20 * k + 10))
    return owners, dict(zip(owners[1::2], ways, strict=True)), words


def check_spoiled(book: Book, owners: list[Owner], ways: dict[Owner, Spoil], words: dict[Owner, str]) -> None:
    told = [*book.told, *book.left_out]
    for owner, word in words.items():
        assert any(one in sentence for sentence in told for one in word.split("|")), (ways[owner].__name__, word)
    honest = [owner for owner in owners if owner not in ways]
    for k, owner in enumerate(honest):
        (odd, way) = [*ways.items()][k]
        withheld = right_for_both(odd, owner) if way is copied else 0
        assert book.sum(owner) == len(KEYS) - withheld, (
            "the others are marked in full, but for what a copy makes unclear"
        )
    named = [sentence for sentence in told for owner in honest if sentence.startswith(f"{owner.learner}, judged")]
    assert named == [], "nobody honest is accused"
    for k, (owner, way) in enumerate(ways.items()):
        left = right_for_both(owner, owners[2 * k]) if way is of_another else SPOILED[way]
        assert book.sum(owner) == left < len(KEYS) + (way in COMPLETE), (way.__name__, owner)
    assert len(book.left_out) == sum(way in LEFT_OUT for way in ways.values())
    assert book.unread == {owner for owner, way in ways.items() if way in DAMAGED}


def test_a_handful_of_spoiled_files_is_found_and_named(tmp_path: Path) -> None:
    owners, ways, words = spoiled_class(tmp_path / "collected", 1)
    check_spoiled(mark_book(gather(owners, tmp_path / "collected")), owners, ways, words)


@pytest.mark.thorough
def test_two_hundred_spoiled_files_are_found_and_none_stops_the_book(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, out, names = tmp_path / "collected", tmp_path / "marks.csv", tmp_path / "names.txt"
    owners, ways, words = spoiled_class(folder, 13)
    assert len(ways) >= 200
    check_spoiled(mark_book(gather(owners, folder)), owners, ways, words)
    names.write_text("\n".join(owner.learner for owner in owners), encoding="utf-8")
    assert main(["marks", str(folder), "--class", GROUP, "--learners", str(names), "--out", str(out)]) == 1
    said = capsys.readouterr()
    assert len(said.err.splitlines()) == sum(way in LEFT_OUT for way in ways.values())
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8-sig"))))
    assert len(rows) == len(owners) + 1
    page = out.with_suffix(".html").read_text("utf-8")
    assert all(owner.learner in page for owner in owners)


# ------------------------------------------------------------------------------------------------------- judging again


def test_an_honest_number_alone_stands_in_either_system(tmp_path: Path) -> None:
    """It was read in the units on display, which no file keeps."""
    owner = Owner(GROUP, "Ana")
    answer = MAKERS["squeezed"](owner).answer
    assert answer is not None
    for system, unit in (("US", "psig"), ("SI", "barg")):
        use_units(system)
        typed = f"{answer.m_as(unit):.4g}"
        line = Entry("2026-03-01 08:00:00", 1, "squeezed", typed, judge(MAKERS["squeezed"](owner), typed).mark)
        assert line.mark == "right"
        for shown in ("US", "SI"):
            use_units(shown)
            assert judged_again(owner, [line]) == ([line], [])
    use_units("US")
    assert unit_switch.system == "US"


def test_a_forged_number_with_a_comma_behind_it_stops_no_book(tmp_path: Path) -> None:
    """Right to one figure, and marked right; the next line counts."""
    lines = entries(NOBODY, keys=("to_what_volume", "squeezed"))
    write(tmp_path / file_name(NOBODY), [changed(lines[0], answer="0.9, qt"), lines[1]])
    book = mark_book(gather([NOBODY], tmp_path))
    assert book.sum(NOBODY) == 1.0
    assert any("“0.9, qt”" in sentence and "is nearly right, not right" in sentence for sentence in book.told)


def test_a_wrong_mark_is_put_right_whichever_way(tmp_path: Path) -> None:
    owner = Owner(GROUP, "Ana")
    (line,) = entries(owner, keys=("squeezed",))
    (kept,), (odd,) = judged_again(owner, [changed(line, mark="wrong")])
    assert (kept.mark, odd.forged) == ("right", False)
    (kept,), (odd,) = judged_again(owner, [changed(line, answer="1 psig")])
    assert (kept.mark, odd.forged) == ("wrong", True)
    (words,) = entries(owner, keys=("why_slow",))
    (kept,), _ = judged_again(owner, [changed(words, mark="right", said="")])
    assert (kept.mark, kept.said) == ("done", "none of 3"), "it does not count until its points are marked"


def test_what_two_answered_together_counts_for_both(tmp_path: Path) -> None:
    owners = [Owner("c", name) for name in ("Zoë", "Ana", "Ben", "Cho + Dan")]
    pair = Owner("c", "Ana + Zoë")
    write(tmp_path / file_name(pair), entries(pair, keys=("squeezed",)))
    write(tmp_path / file_name(owners[0]), entries(owners[0], keys=("read_dial",)))
    write(tmp_path / file_name(owners[3]), entries(owners[3], keys=("why_slow",)))
    nobody = Owner("c", "Ana + Nobody")
    write(tmp_path / file_name(nobody), entries(nobody))
    book = mark_book(gather(owners, tmp_path))
    assert [book.sum(owner) for owner in owners] == [2.0, 1.0, 0.0, 1.0]
    assert "No file yet: Ben." in book.told
    assert [told.partition(" (")[0] for told in book.left_out] == [f"{file_name(nobody)}: of nobody on the list"]
    (tmp_path / file_name(pair)).write_text("shopping list", encoding="utf-8")
    book = mark_book(gather(owners, tmp_path))
    assert book.unread == {*owners[:2]}
    assert [book.sum(owner) for owner in owners] == [1.0, 0.0, 0.0, 1.0]


# ------------------------------------------------------------------------------------------------------------ the book


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three learners: two take the gauge for absolute, one answers in words as a spreadsheet would not like it."""
    for name in ("Ana", "Ben"):
        owner = Owner(GROUP, name)
        made = MAKERS["squeezed"](owner)
        wrong = next(mistake for mistake in made.mistakes if "gauge" in mistake.name)
        Progress(owner, tmp_path / "in").record_help(1, "squeezed", "hint")
        for value in (wrong.answer, made.answer):
            assert value is not None
            typed = f"{float(value.magnitude):.6g} {value.units:~}"
            Progress(owner, tmp_path / "in").record(1, "squeezed", typed, judge(made, typed))
    said = '=HYPERLINK("x")\nbecause the heat; =1+1 has time to go\t@x'
    Progress(Owner(GROUP, "=1+1;=2"), tmp_path / "in").record(1, "why_slow", said, Verdict("done", ""), "1 of 3")
    return tmp_path / "in"


OWNERS = [Owner(GROUP, name) for name in ("Ana", "Ben", "=1+1;=2")]


def rows_of(text: str, separator: str = ",") -> list[list[str]]:
    return list(csv.reader(io.StringIO(text.removeprefix("\ufeff")), delimiter=separator))


def test_the_tables_have_what_a_teacher_reads(folder: Path) -> None:
    made = tables(mark_book(gather(OWNERS, folder)))
    sums, each, mistakes, words = (rows_of(made[which]) for which in ("", "-exercises", "-mistakes", "-words"))
    assert sums[0][:4] == ["class", "learner", "lesson 00 (of 7)", "lesson 01 (of 7)"]
    assert [row[3] for row in sums[1:]] == ["0.5", "0.5", "0", "1"]
    assert sums[0][-3:] == ["sum of lessons held (01)", "of", "file"]
    assert [row[-3:-1] for row in sums[1:]] == [["0.5", "7"], ["0.5", "7"], ["0", "7"], ["1", "21"]]
    assert tuple(each[0]) == EXERCISES
    assert each[1][2:8] == ["1", "Boyle's law for pressure", "0.5", "1", "2", "1"]
    assert tuple(mistakes[0]) == MISTAKES
    assert mistakes[1][:4] == ["2", "2", "1", "Boyle's law for pressure"]
    assert "gauge" in mistakes[1][4]
    assert mistakes[1][5].endswith("?")
    assert mistakes[1][6] == "Ana, Ben"
    assert tuple(words[0]) == WORDS
    assert words[1][5] == "1 of 3 (too few)"


@pytest.mark.parametrize("separator", SEPARATORS)
def test_no_cell_is_a_formula_whatever_a_spreadsheet_takes_for_a_separator(folder: Path, separator: str) -> None:
    made = tables(mark_book(gather(OWNERS, folder)), separator)
    for text in made.values():
        for sign in SEPARATORS.values():
            for line in text.splitlines():
                for cell in line.split(sign):
                    assert not cell.strip().strip('"').lstrip().startswith(("=", "+", "@")), (separator, sign, line)
        rows = rows_of(text, SEPARATORS[separator])
        assert len({len(row) for row in rows}) == 1
    numbers = rows_of(made[""], SEPARATORS[separator])[1]
    assert numbers[3] == ("0,5" if separator == "semicolon" else "0.5")


def test_the_page_is_self_contained_and_names_are_words(folder: Path, tmp_path: Path) -> None:
    owners = [*OWNERS, Owner(GROUP, "<script>alert(1)</script>")]
    write_marks(mark_book(gather(owners, folder)), tmp_path / "marks.csv")
    page = (tmp_path / "marks.html").read_text("utf-8")
    assert "<script" not in page
    assert "src=" not in page
    assert "href=" not in page
    assert "2 of 2" in page
    assert page.count("rgba(0, 114, 178") == 3, "the picture of the class: a shade for each lesson in which one worked"


def test_what_was_marked_by_hand_counts_and_is_kept(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "marks.csv"

    def book() -> Book:
        return mark_book(gather(OWNERS, folder), read_by_hand(out))

    assert book().sum(OWNERS[2]) == 0.0
    assert write_marks(book(), out) == ""
    words = tmp_path / "marks-words.csv"
    lines = rows_of(words.read_text("utf-8"))
    lines[1][6:] = ["0,5", "say which heat: grüße"]
    for sign, code in ((";", "cp1252"), ("\t", "utf-8"), (",", "utf-8-sig")):  # as three spreadsheets save it
        with words.open("w", newline="", encoding=code) as file:
            csv.writer(file, delimiter=sign).writerows(lines)
        assert book().sum(OWNERS[2]) == 0.5
        assert write_marks(book(), out) != "", "the older one is kept beside it"
        assert rows_of(words.read_text("utf-8"))[1][6:] == ["0,5", "say which heat: grüße"]
    assert not any("changed an answer" in told for told in book().told)
    Progress(OWNERS[2], folder).record(1, "why_slow", "The heat goes away slowly.", Verdict("done", ""), "1 of 3")
    assert any("=1+1;=2 changed an answer" in told for told in book().told)
    Progress(OWNERS[2], folder).path.unlink()
    assert any("no longer there" in told for told in book().told)
    write_marks(book(), out)
    assert rows_of(words.read_text("utf-8"))[1][6:] == ["0,5", "say which heat: grüße"], "and still not lost"
    lines[1][6] = "seven"
    words.write_text("\n".join(",".join(f'"{cell}"' for cell in line) for line in lines), encoding="utf-8")
    assert "row 2" in refused("marks-words.csv, row 2", lambda: read_by_hand(out))
    words.write_text("a,b\n", encoding="utf-8")
    refused("marks-words.csv", lambda: read_by_hand(out))
    for lesson in ("²", "9" * 5000, "seven"):
        lines[1][2], lines[1][6] = lesson, "1"
        words.write_text("\n".join(",".join(f'"{cell}"' for cell in line) for line in lines), encoding="utf-8")
        assert "as a lesson" in refused("marks-words.csv, row 2", lambda: read_by_hand(out))
    words.write_text(",".join(WORDS) + '\n"' + 20_000 * "an unclosed quote\n", encoding="utf-8")
    assert "not a table" in refused("marks-words.csv", lambda: read_by_hand(out))


def test_no_other_file_is_written_over(folder: Path, tmp_path: Path) -> None:
    book = mark_book(gather(OWNERS, folder))
    for name in ("marks.csv", "marks-mistakes.csv", "marks.html"):
        (tmp_path / name).write_text("my own\n", encoding="utf-8")
        refused("out", lambda: write_marks(book, tmp_path / "marks.csv"))
        assert [path.name for path in tmp_path.glob("marks*")] == [name]
        (tmp_path / name).unlink()
    refused("folder", lambda: gather(OWNERS, tmp_path / "nowhere"))


def test_the_command_says_what_to_look_at_and_fails_for_a_damaged_file(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names, out = tmp_path / "names.txt", tmp_path / "marks.csv"
    names.write_text("Ana\nBen\nCarla\n", encoding="utf-8")
    command = ["marks", str(folder), "--class", GROUP, "--learners", str(names), "--out", str(out)]
    assert main(command) == 1
    said = capsys.readouterr()
    assert "No file yet: Carla." in said.out
    assert "Left out: progress-spring-class-1-1-2-" in said.err
    assert "of nobody on the list" in said.err
    Progress(OWNERS[2], folder).path.unlink()
    assert main(command) == 0
    assert main(["marks", str(folder), "--out", str(out)]) == 2
    assert "learners: got no names; wanted a text file with one name in a line" in capsys.readouterr().err
    Progress(Owner(GROUP, "Carla"), folder).path.write_bytes(b"\x89PNG")
    assert main([*command, "--separator", "semicolon"]) == 1
    said = capsys.readouterr()
    assert "Left out: progress-spring-class-carla-" in said.err
    assert "No file yet" not in said.out, "there is one"
    assert out.read_bytes().startswith(b"\xef\xbb\xbfclass;learner;lesson 00")
    assert rows_of(out.read_text("utf-8-sig"), ";")[3][-1] == "a file cannot be read"


def test_sums_are_over_lessons_held_so_far(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Those that half of the class has begun; or as the teacher says, or the course's calendar."""
    keys = {
        "Ana": ("gas_feels", "squeezed"),
        "Ben": ("gas_feels", "squeezed"),
        "Cem": ("gas_feels", "set_for_the_track"),
    }
    owners = [Owner(GROUP, name) for name in (*keys, "Dan")]
    for k, owner in enumerate(owners[:3]):
        write(tmp_path / "in" / file_name(owner), entries(owner, 20 * k, keys[owner.learner]))
    found = gather(owners, tmp_path / "in")
    book = mark_book(found)
    assert book.held == (0, 1)
    assert [book.sum(owner) for owner in owners] == [2.0, 2.0, 1.0, 0.0], "who is ahead gains nothing yet"
    assert book.whole == book.of[0] + book.of[1]
    assert book.points(owners[2], 2) == 1.0, "and it is shown"
    write_marks(book, tmp_path / "marks.csv")
    page = (tmp_path / "marks.html").read_text("utf-8")
    assert "00, 01 (where half of all who answered have done something" in page
    assert "(02)" in page
    assert mark_book(found, held=[2]).sum(owners[2]) == 1.0
    refused("lessons", lambda: mark_book(found, held=[0, 77]))
    assert mark_book(gather([owners[3]], tmp_path / "in")).whole == 0
    names, out = tmp_path / "names.txt", str(tmp_path / "marks.csv")
    names.write_text("Ana\nBen\nCem\nDan\n", encoding="utf-8")
    command = ["marks", str(tmp_path / "in"), "--class", GROUP, "--learners", str(names), "--out", out]
    for options, held in (
        (["--lessons", "0", "1", "2"], "00, 01, 02 (as you said)"),
        (["--meeting", "2"], "00, 01, 02 (up to meeting 2 of the course “Six weeks"),
        (["--meeting", "9"], "00, 01, 02, 03, 04, 05, 06, 07, 08 (up to"),
        (["--meeting", "5", "--course", "three-weeks"], "00, 01, 02, 03, 04, 06 (up to meeting 5"),
    ):
        assert main([*command, *options]) == 0
        assert f"Sums are over the lessons held so far: {held}" in capsys.readouterr().out
    assert main([*command, "--meeting", "13"]) == 2
    assert "wanted one from 1 to 12" in capsys.readouterr().err


# --------------------------------------------------------------------------------------------------- answers in common


def test_what_is_right_for_both_waits_for_the_teacher_and_own_numbers_do_not(tmp_path: Path) -> None:
    ana, ben, cem = owners = [Owner(GROUP, name) for name in ("Ana", "Ben", "Cem")]
    write(tmp_path / "in" / file_name(ana), entries(ana))
    shutil.copy(tmp_path / "in" / file_name(ana), tmp_path / "in" / file_name(ben))
    write(tmp_path / "in" / file_name(cem), entries(cem, 30))
    out = tmp_path / "marks.csv"

    def book() -> Book:
        return mark_book(gather(owners, tmp_path / "in"), read_by_hand(out))

    unclear = right_for_both(ben, ana)
    assert 1 <= unclear < 7, "words at the least; and never the numbers that differ"
    made = book()
    assert [made.sum(owner) for owner in owners] == [7.0 - unclear, 0.0, 7.0]
    assert made.rows[ana]["squeezed"].points == 1.0, "a number of her own is hers"
    assert made.rows[ben]["squeezed"].points == 0.0
    (told,) = [one for one in made.told if "in common" in one]
    assert told.startswith(
        "Ana and Ben have 7 answers in common to the second: a file that was copied, or work done tog"
    )
    assert f"Ana {unclear}, Ben {unclear}" in told
    write_marks(made, out)
    page = out.with_suffix(".html").read_text("utf-8")
    assert "withheld until you decide" in page
    words = tmp_path / "marks-words.csv"
    lines = rows_of(words.read_text("utf-8"))
    assert [row[:4] for row in lines[1:3]] == [
        [GROUP, "Ana", "", "in common with Ben"],
        [GROUP, "Ben", "", "in common with Ana"],
    ]
    for given, sums in (
        (("1", "0"), [7.0, 0.0, 7.0]),
        (("1", "1"), [7.0, unclear, 7.0]),
        (("", "1"), [7.0 - unclear, unclear, 7.0]),
    ):
        for row, points in zip(lines[1:3], given, strict=True):
            row[6] = points
        with words.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(lines)
        assert [book().sum(owner) for owner in owners] == sums
        write_marks(book(), out)
        assert [row[6] for row in rows_of(words.read_text("utf-8"))[1:3]] == [*given], "it is kept"
        decided = any("what counts of them is marked by hand" in told for told in book().told)
        assert decided == all(given)


def test_who_answers_again_alone_has_these_points_and_a_pair_is_no_copy(tmp_path: Path) -> None:
    ana, ben, cem = owners = [Owner(GROUP, name) for name in ("Ana", "Ben", "Cem")]
    write(tmp_path / file_name(ana), entries(ana))
    again = [changed(entry, time=f"2027{entry.time[4:]}") for entry in entries(ben, keys=("why_slow",))]
    write(tmp_path / file_name(ben), [*entries(ana), *again])
    book = mark_book(gather(owners, tmp_path))
    assert book.rows[ben]["why_slow"].points == 1.0
    assert book.rows[ana]["why_slow"].points == 0.0
    pair = Owner(GROUP, "Ana + Cem")
    write(tmp_path / file_name(pair), entries(pair, 40))
    write(tmp_path / file_name(cem), entries(pair, 40))
    (tmp_path / file_name(ben)).unlink()
    book = mark_book(gather(owners, tmp_path))
    assert not any("in common" in told for told in book.told)
    assert [book.sum(owner) for owner in owners] == [7.0, 0.0, 7.0]
    write(tmp_path / file_name(ben), entries(pair, 40))
    book = mark_book(gather(owners, tmp_path))
    assert {(one.owner, one.other.learner) for one in book.alike} >= {(ana, "Ben"), (cem, "Ben"), (ben, "Ana + Cem")}
    assert book.sum(ana) == 7.0, "she has answered all of it herself"


def test_the_separator_is_the_regions(monkeypatch: pytest.MonkeyPatch) -> None:
    before = locale.setlocale(locale.LC_NUMERIC)
    monkeypatch.setattr(locale, "localeconv", lambda: {"decimal_point": ","})
    assert region_separator() == "semicolon"
    monkeypatch.setattr(locale, "localeconv", lambda: {"decimal_point": "."})
    assert region_separator() == "comma"
    assert locale.setlocale(locale.LC_NUMERIC) == before


def test_a_name_that_no_screen_can_show_stops_nothing(folder: Path, tmp_path: Path) -> None:
    """Bytes that are no letters, and what a Mac lays beside a copied file."""
    strange = folder / "progress \udcff.csv"
    try:
        strange.write_bytes(b"x")
    except OSError:
        pytest.skip("this file system has no such names")
    (folder / f"._{file_name(OWNERS[0])}").write_bytes(b"\x00\x05\x16\x07")
    book = mark_book(gather(OWNERS, folder))
    (sentence,) = book.left_out
    assert sentence.startswith("progress ?.csv: got ")
    assert write_marks(book, tmp_path / "marks.csv") == ""


def test_answers_without_a_name_are_a_class_of_one(tmp_path: Path) -> None:
    write(tmp_path / file_name(NOBODY), entries(NOBODY))
    book = mark_book(gather([NOBODY], tmp_path))
    assert (book.sum(NOBODY), book.told) == (7.0, ())
    assert one_line(" a \n\n b ") == "a / b"
    other = mark_book(gather([Owner(GROUP, "Ana")], tmp_path))
    assert "Its answers fit the numbers of everybody" in other.left_out[0]
