"""Panel of lesson 11: the reading to take next."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.bench.fit import fit_bench
from oilkit.bench.model import PARAMETERS, PSI
from oilkit.bench.planning import CandidateReading, NextReading, next_reading
from oilkit.bench.readings import BenchReadings, demo_bench
from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import pressure
from oilkit.panels.framework.base import Panel, in_rows
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State
from oilkit.panels.framework.controls import Choice, Control
from oilkit.panels.framework.steps import Step, between, is_chosen
from oilkit.panels.lessons.lesson_11_bench import BORE_WITHIN, NAMES, Bars, BenchFitPanel
from oilkit.physics.catalog import bench_vessel
from oilkit.physics.vessel import Vessel
from oilkit.quantities.kinds import GAUGE

NOW, THEN = ", ± now", ", ± with your reading"


class NextReadingPanel(Panel):
    """Plan a reading before it is taken: how far would each interval shrink?"""

    call = "next_reading"
    title = "The reading to take next"
    size = (6.5, 3.2)
    alt = (
        "Readings that the bench allows, as circles that are larger where a reading tells more, with your own and the "
        "best one marked; beside it a bar for each parameter, now and with your reading."
    )
    steps = (
        Step(
            "Move the plan about, up to 90 psi (6.2 bar). Where do the blue bars move at all?",
            between("pressure", 88, 92, "psig"),
        ),
        Step(
            "Put the plan on the star.",
            lambda s: (
                abs(s["precharge"] - s["best_precharge"]) < PSI and abs(s["pressure"] - s["best_pressure"]) < 2 * PSI
            ),
        ),
        Step("Choose two pre-charges. Where has the star gone?", is_chosen("taken", 2)),
    )

    def __init__(self, bench: BenchFitPanel | None = None, **start: Any) -> None:
        """bench: a panel with readings; the kit's invented ones unless given."""
        self._bench = bench
        super().__init__(**start)
        if bench is not None:
            bench.tell_of_changes(self)

    def make_controls(self) -> list[Control]:
        return [
            Choice("taken", "Readings so far", [("one pre-charge", 1), ("two pre-charges", 2), ("all", 0)]),
            pressure("precharge", "Plan: pre-charge", 0, 25, 10),
            pressure("pressure", "Plan: pressure", 0, 100, 50, (1, 0.05)),
            Choice("way", "Plan: reached", _WAYS, listed=True),
        ]

    def _source(self) -> tuple[BenchReadings, Vessel, dict[str, Any], dict[str, Any]]:
        if self._bench is None:
            vessel = bench_vessel()
            return demo_bench(), vessel, {"bore": (vessel.bore, BORE_WITHIN)}, {}
        data = self._bench.open_for("taken").data
        return data["fit"].readings, data["fit"].vessel, data["known"], data["errors"]

    def solve(self, at: Setting) -> State:
        readings, vessel, known, errors = self._source()
        key = (at.taken, id(readings), vessel, str(known), str(errors))

        def fitted() -> Any:
            fit = fit_bench(vessel, _settings(readings, at.taken), known, **errors)
            return fit, next_reading(fit), readings

        fit, best, _ = self.kept(key, fitted)  # moving the plan leaves the fit alone
        direction = at.way[0] if fit.readings.direction is not None else "freed"
        planned = CandidateReading(GAUGE.quantity(at.precharge), GAUGE.quantity(at.pressure), direction, at.way[1])
        mine = next_reading(fit, [planned])
        given = [name for name in NAMES if name not in mine.before]
        return {"fit": fit, "best": best, "mine": mine, "given": given, **_circles(best, planned)}

    def build(self, figure: Figure) -> Parts:
        left = Graph(
            figure, (0.08, 0.29, 0.43 if self.picture.for_class else 0.46, 0.61),
            "The larger the circle, the more the reading would tell",
            ("pressure", GAUGE, -4 * PSI, 104 * PSI), ("pre-charge", GAUGE, -2 * PSI, 28 * PSI),
        )  # fmt: skip
        circle: dict[str, Any] = {"mfc": drawing.SKY, "mec": drawing.BLACK, "mew": 0.8, "ls": "none", "clip_on": False}
        for k, size in enumerate(_SIZES):
            across, up = (lambda s, key=key, k=k: s[key][s["size"] == k] for key in ("across", "up"))
            left.line(across, up, "o", ms=size, **circle)
        mark: dict[str, Any] = {"mec": drawing.BLACK, "ls": "none"}
        left.line("best_pressure", "best_precharge", marker="*", ms=17, color=drawing.ORANGE, label="best", **mark)
        left.line("pressure", "precharge", marker="X", ms=11, color=drawing.RED, label="yours", **mark)
        left.ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.25), ncols=2)
        bars = Bars(figure, (0.775, 0.29, 0.21, 0.61), ["now", "with your reading"])
        return [left, Bound(bars, lambda s: (), "given", "mine.before", "mine.after")]

    def numbers(self) -> str:
        """Each width now and with the planned reading in one row, which is two readings."""
        rows: list[tuple[str, str]] = []
        for name, text in self._rows:
            if name.endswith(THEN):
                rows[-1] = (f"{rows[-1][0]} → then", f"{rows[-1][1].split()[0]} → {text}")
            else:
                rows.append((name, text))
        return in_rows(rows)

    def readings(self, state: State) -> list[Reading]:
        mine, vessel = state["mine"], state["fit"].vessel.si
        rows = [Reading("readings so far", str(len(state["fit"].readings)))]
        for name, sort in PARAMETERS.items():
            words = sort.words
            if name in mine.before:
                off = sort.unlike(vessel)
                rows += [
                    Reading(words + NOW, mine.before[name] * off, sort.kind),
                    Reading(words + THEN, mine.after[name] * off, sort.kind),
                ]
            else:
                rows.append(Reading(words + NOW, "given"))
        return [*rows, Reading("your reading would tell", f"{float(mine.tells[0]):.2f} bits")]

    def summary(self, state: State) -> str:
        best, mine = state["best"], state["mine"]
        shrink = {name: mine.after[name] / mine.before[name] for name in mine.before}
        most = min(shrink, key=lambda name: shrink[name])
        helped = (
            f"Your reading would narrow the {PARAMETERS[most].words} most: by {100 * (1 - shrink[most]):.0f} %."
            if shrink[most] < 0.995
            else "Your reading would tell next to nothing new."
        )
        return f"{helped} {best.sentence} An outsider's guess counts in all of these, so nothing is wider than that."


_WAYS = [
    ("from below, gas settled", ("rising", True)),
    ("from below, read at once", ("rising", False)),
    ("from above, gas settled", ("falling", True)),
]
_SIZES = (3, 5, 7, 9, 11, 13, 15)


def _circles(best: NextReading, planned: CandidateReading) -> State:
    """Where the circles of the readings stand that are reached as the planned one is, and how large each is."""
    same = [
        k
        for k, c in enumerate(best.candidates)
        if (c.settled == planned.settled and c.direction == planned.direction) or c.pressure.m == 0.0
    ]
    candidates = [best.candidates[k] for k in same]
    most = max(float(np.max(best.tells)), 1e-9)
    size = np.minimum((len(_SIZES) * best.tells[same] / most).astype(int), len(_SIZES) - 1)
    return {
        "across": np.array([one.pressure.m_as("Pag") for one in candidates]),
        "up": np.array([one.precharge.m_as("Pag") for one in candidates]),
        "size": size,
        "best_pressure": best.reading.pressure.m_as("Pag"),
        "best_precharge": best.reading.precharge.m_as("Pag"),
    }


def _settings(readings: BenchReadings, count: int) -> BenchReadings:
    """The readings of the first so many settings of the pre-charge; all for 0."""
    if not count:
        return readings
    charges = readings.precharge.m
    setting = np.concatenate([[0], np.cumsum(np.diff(charges) != 0.0)])
    return readings.first(int(np.sum(setting < count)))
