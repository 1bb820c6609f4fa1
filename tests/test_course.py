"""The course: calendars that fit, starter pages from the lessons, end test, practical check, certificate."""

from __future__ import annotations

import html
import re
from itertools import pairwise

import pytest

from oilkit.exercises import all_exercises, find_prediction
from oilkit.exercises.exercise import Owner
from oilkit.quantities.printed import text
from oilkit.shop.cards import CARDS
from oilkit.teacher.course import (
    CALENDARS,
    TOLD,
    VERSIONS,
    asked_at_end,
    calendar,
    certificate,
    course_pages,
    end_test,
    meetings,
    minutes_at_end,
    practical,
    timetable,
)
from oilkit.teacher.lesson import read_lessons
from oilkit.teacher.plans import class_path
from oilkit.teacher.sheets import Own

LESSONS = read_lessons()


def words(page: str) -> str:
    return html.unescape(re.sub("<[^>]+>", "", page))


@pytest.mark.parametrize(("which", "count"), [("six_weeks", 12), ("three_weeks", 6)])
def test_every_meeting_fits_into_its_minutes_and_no_part_is_lost(which: str, count: int) -> None:
    """What a calendar holds, sends home or leaves out is every part of every lesson; nothing is held twice."""
    held = meetings(which, LESSONS)
    assert len(held) == count
    for one in held:
        assert 60 <= one.minutes <= TOLD["minutes"], (one.title, one.minutes)
        assert one.clock[0][0] == 0
        assert one.clock[-1][0] + one.steps[-1].minutes == one.minutes
    parts = [section for one in held for section in one.sections]
    assert len(parts) == len({id(section) for section in parts}), "nothing is held twice"
    met = {lesson.number for one in held for lesson in one.lessons}
    out = [name for one in held for name in one.left_out]
    for lesson in LESSONS:
        if lesson.number not in met:
            assert lesson.title in words(calendar(which, LESSONS)), "named among those that are not held"
            continue
        for section, _ in class_path(lesson):
            name = f"{lesson.number:02d} {section.title}"
            assert (section in parts) != (name in out), name
    assert not met & {int(number) for number in TOLD[which]["not_held"]}
    assert held[-1].test


@pytest.mark.parametrize("which", CALENDARS)
def test_names_of_parts_in_the_calendar_are_those_of_the_lessons(which: str) -> None:
    """A part that a lesson renames would silently be held or left out."""
    names = [f"{lesson.number:02d} {section.title}" for lesson in LESSONS for section, _ in class_path(lesson)]
    for one in TOLD[which]["meeting"]:
        for begin in [*one.get("only", ()), *one.get("leave_out", ()), *one.get("home", ())]:
            assert sum(name.startswith(begin) for name in names) == 1, begin
        assert one["pair"] in TOLD["pairs"]


@pytest.mark.parametrize("which", [pytest.param("six_weeks", marks=pytest.mark.thorough), "three_weeks"])
def test_a_starter_page_has_what_a_substitute_needs(which: str) -> None:
    page = calendar(which, LESSONS)
    pages = re.split(r'id="meeting-\d+"', page)[1:]
    for one, source in zip(meetings(which, LESSONS), pages, strict=True):
        said = words(source)
        assert TOLD["pairs"][one.told["pair"]] in said
        for cell in (cell for section in one.sections for cell in section.cells):
            if cell.sort == "prediction":
                made = find_prediction(re.findall(r'predict\("(\w+)"', cell.source)[0])
                right = made.options[made.right] if made.answer is None else text(made.answer)
                assert made.question in said
                assert right in said
                assert made.why in said
            elif cell.sort == "panel" and cell.png:
                assert cell.text.strip().partition("\n")[0] in said
        for lesson in one.lessons:
            assert source.count("<blockquote>") >= len(lesson.cautions)
        if not one.test:
            assert one.closing is not None
            assert one.closing.question in said
            assert all(point in said for point in one.closing.points)


def test_without_all_lessons_there_is_no_calendar() -> None:
    assert not {"course/six-weeks.html", "course/three-weeks.html"} & course_pages(LESSONS[:3], [Owner()]).keys()


def test_the_end_test_has_two_versions_with_their_own_numbers_and_a_key() -> None:
    test, key = map(words, end_test("spring class"))
    versions = [[Own(maker, Owner("spring class end test", name)) for maker in asked_at_end()] for name in VERSIONS]
    assert {maker.lesson for maker in asked_at_end()} >= {*range(11)}
    assert minutes_at_end() <= 60
    differ = [a.made.question != b.made.question for a, b in zip(*versions, strict=True) if a.numbers]
    assert all(differ)
    assert len(differ) >= 12
    for version in versions:
        for one in version:
            assert one.made.question in test
            assert all(number in key for number in one.numbers)
            if one.made.answer is not None:
                assert one.right in key
                assert one.right not in test or one.right in one.made.question
    assert not any(maker.aim in test for maker in asked_at_end()), "an aim would give the way away"
    own_page, _ = end_test("autumn class")
    assert words(own_page) != test, "another class has other numbers"
    assert all(key in all_exercises() for key in TOLD["test"]["exercises"])


def test_the_practical_check_has_every_act_of_its_job_cards() -> None:
    said = words(practical())
    for job in TOLD["six_weeks"]["jobs"]:
        for act in CARDS[job].acts.values():
            assert all(one in said for one in (act.title, act.caution, act.number, act.stop))
    for word in ("acceptance", "one fault", "licensed practice", "oxygen", "never oxygen"):
        assert word in said
    assert said.count("Teacher:") == 4


@pytest.mark.parametrize("which", CALENDARS)
def test_the_practical_check_of_a_whole_class_fits_into_its_meetings(which: str) -> None:
    """Every group does every job once, never two at a time, while the class works alone; with as few stations as do."""
    held = {one.number: one for one in meetings(which, LESSONS)}
    jobs = [CARDS[key].title for key in TOLD[which]["jobs"]]
    for learners in (1, 4, 5, 12, 13, 20, 30, 40):
        made = timetable(which, list(held.values()), learners)
        turns = [(job, k) for _, _, groups in made.rounds for job, k in zip(made.stations, groups, strict=True) if k]
        assert sorted(turns) == sorted((job, k) for k in range(1, -(-learners // 4) + 1) for job in jobs)
        for number, begins, groups in made.rounds:
            there = [k for k in groups if k]
            assert len(there) == len(set(there)) > 0, "nobody is at two stations"
            ends = begins + made.minutes
            assert any(a <= begins and ends <= b for a, b in held[number].alone)
            assert ends <= held[number].minutes <= TOLD["minutes"]
            test = [(at, at + step.minutes) for at, step in held[number].clock if "End test" in step.title]
            assert not any(a < ends and begins < b for a, b in test), "nobody is at the bench during the test"
        starts = [(number, begins) for number, begins, _ in made.rounds]
        assert all(m != n or b - a >= made.minutes for (m, a), (n, b) in pairwise(starts))
        one_by_one = sum((b - a) // made.minutes for one in held.values() for a, b in one.alone) // len(jobs)
        assert made.alone == 4 * one_by_one >= 12
    twenty = timetable(which, list(held.values()), 20)
    assert (twenty.groups, len(twenty.stations)) == (5, 2), "what a usual class needs, as its page says"
    title = TOLD[which]["title"]
    assert f"{title}, 20 learners: 5 groups of up to 4" in words(practical([(title, twenty)]))


def test_the_practical_check_is_planned_for_the_class_that_the_pack_is_for() -> None:
    page = words(course_pages(LESSONS, [Owner("c", f"learner {k}") for k in range(9)])["course/practical.html"])
    assert all(f"{TOLD[which]['title']}, 9 learners: 3 groups" in page for which in CALENDARS)


def test_the_certificate_certifies_nothing_but_the_test() -> None:
    said = words(certificate([Owner("c", "Ana <b>"), Owner("c", "Ben")]))
    assert "Ana <b>" in said
    for word in ("certifies nothing but that", "no license", "licensed practice"):
        assert said.count(word) == 2
