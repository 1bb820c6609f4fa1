"""Job cards: whatever the kit has hands do, from one source for lessons, panels and pages to print. (Lesson 09)"""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import wrap

from oilkit.quantities.records import beside
from oilkit.shop.as_built import SHOP_TESTS, ShopTest
from oilkit.shop.procedures import PROCEDURES
from oilkit.shop.steps import Act, told


@dataclass(frozen=True)
class JobCard:
    """One job from its first act to its last."""

    title: str
    acts: dict[str, Act]
    """By their keys, in order."""

    @property
    def text(self) -> str:
        """As a lesson prints it: acts one after the other, with what stands beside each."""
        lines = [
            f"{self.title} (common practice, no source; makers, local codes and licensed practice have the last word)"
        ]
        for number, act in enumerate(self.acts.values(), 1):
            lines.append(f"{number}. {act.title}")
            for name in ("caution", "number", "stop"):
                begin = f"   {name}: "
                lines += wrap(getattr(act, name), 110, initial_indent=begin, subsequent_indent=" " * len(begin))
        return "\n".join(lines)

    @property
    def letters(self) -> int:
        """How much there is to print."""
        return sum(len(f"{act.title}{act.caution}{act.number}{act.stop}") for act in self.acts.values())


def _of_test(test: ShopTest) -> Act:
    """A shop test as an act: its number is the time it takes."""
    runs = " No healthy engine falls below its warning pressure for it." if test.stop.startswith("Engine off") else ""
    return Act(f"{test.title}: {test.how}", test.caution, f"{test.minutes:g} minutes.{runs}", test.stop)


_file, _tables = beside(__file__)
_jobs = {key: JobCard(one["title"], told(Act, _file, _tables[key], "steps")) for key, one in _tables.items()}
_tests = [(key, _of_test(test)) for key, test in SHOP_TESTS.items()]
_half = len(_tests) // 2
CARDS: dict[str, JobCard] = {
    **{key: JobCard(one.title, {step.key: step.act for step in one.steps}) for key, one in PROCEDURES.items()},
    "pre_lube": _jobs["pre_lube"],
    "tests": JobCard("Shop tests, first half", dict(_tests[:_half])),
    "more_tests": JobCard("Shop tests, second half", dict(_tests[_half:])),
    **_jobs,
}
"""Every job of the kit by its key, in the order in which a set-up meets them; last those of lessons 01, 05 and 11."""
