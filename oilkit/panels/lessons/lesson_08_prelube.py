"""Panel of lesson 08: the pre-lube in time."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import moment, pressure, warmth
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, in_si, us
from oilkit.panels.framework.choices import engine_choice, oil_choice
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.steps import Step, between, both, is_called
from oilkit.panels.framework.vessel_view import VesselView, room_of
from oilkit.physics.catalog import bench_vessel, fittings, hoses
from oilkit.physics.discharging import Installation
from oilkit.physics.line import Fitting, SupplyLine
from oilkit.physics.night import overnight
from oilkit.physics.oil import COLDEST
from oilkit.physics.prelube import BY_HAND, LEAST_TO_CRANK, at_least, pre_lube
from oilkit.quantities.kinds import GAUGE, OIL, PART, TEMPERATURE, TIME
from oilkit.quantities.units import Q

EVENING = (Q(10, "psig"), Q(60, "psig"), Q(40, "degC"), Q(90, "degC"))
"""Pre-charge, pressure, gas and oil temperature: how the bench vessel was shut off on the evening before a pre-lube."""
HAND = float(BY_HAND.m)
ELECTRIC = 0.1
"""How fast an electric valve opens in the panels, seconds (estimate, no source)."""
LONGEST = 30.0
LEAST = us(GAUGE, float(LEAST_TO_CRANK.m))
BELOW_LINE = "Oil this cold is thicker than computed: all comes later and lower than here, or not at all. "
NOT_AT_ALL = "not at all: warm engine and oil first"
WINDOWS = (3.0, 10.0, LONGEST)
MOVING = ("gallery_pressure", "gas_pressure", "oil", "gallery_fill", "spent")


TOP = us(GAUGE, 70.0)


class PreLubePanel(MovingPanel):
    """The valve opens on a cold engine at rest: galleries fill, pressure builds, and then the vessel runs down."""

    call = "pre_lube"
    title = "Oil before the first turn"
    alt = (
        "The vessel emptying into a cold engine: cutaway and gauges, gallery pressure against time with the moment to "
        "crank, and how full the galleries are."
    )
    redraw_on = ("lube.window",)
    steps = (
        Step(
            "Press Play (a quarter helps). Watch the fill first, then the gauge.",
            lambda s: s["moment"] >= 0.99 * s["lube"].window,
        ),
        Step(
            "Lower the morning temperature to 14 °F (−10 °C). What gets slower, and what gets lower?",
            between("temperature", -20, -9.4, "degC"),
        ),
        Step("Change to the 20W-50 oil.", is_called("lubricant", "thick multigrade 20W-50")),
        Step("Change to the narrow electric valve.", is_called("valve", "electric")),
        Step(
            "Change to the 1/2 in line. Which of the three changes costs most?", is_called("hose", "rubber-lined -10")
        ),
        Step(
            "Press Start values, then empty the galleries altogether. Why is the peak lower, with the same vessel?",
            both(between("empty", 0.98, 1), between("temperature", 4, 35, "degC")),
        ),
    )

    def make_controls(self) -> list[Control]:
        ways = [hoses()[name] for name in ("trade_12", "mil_h_8794_12", "small")]
        valves = [fittings()[name] for name in ("wide_valve", "reduced_valve", "narrow_valve")]
        return [
            moment("Time since the valve began to open", LONGEST, 0.02),
            warmth("temperature", "Morning: engine, oil and gas at", -20, 35, 5, 1),
            Amount("empty", "Empty share of the galleries", PART, 0.0, 1.0, 0.5, (0.05, 0.05)),
            pressure("wanted", "Pressure to wait for", LEAST_TO_CRANK.m, 40, 15),
            oil_choice(first=True),
            engine_choice(first=True),
            Choice("hose", "Line, 8 ft (2.44 m)", [(h.name, h) for h in ways], listed=True),
            Choice("valve", "Valve", [(v.name, v) for v in valves], listed=True),
        ]

    def solve(self, at: Setting) -> State:
        run = (at.temperature, at.empty, at.wanted, at.oil.name, at.engine.name, at.hose.name, at.valve.name)
        lube = self.kept(run, lambda: _morning(at))  # scrubbing and playing change the moment, not the run
        history, now = lube.history, min(at.time, lube.window)
        here = {name: float(np.interp(now, history.time, getattr(history, name))) for name in MOVING}
        return {
            "lube": lube,
            "moment": now,
            "fraction": here["oil"] / room_of(bench_vessel())[0],
            "lubricant": at.oil,
            **here,
        }

    def duration(self) -> float:
        return float(self.state["lube"].window)

    def build(self, figure: Figure) -> Parts:
        window = self.state["lube"].window
        curve = Graph(
            figure, (0.605, 0.45, 0.38, 0.45), "Wait for the gauge, then crank",
            (None, None, 0.0, window), ("pressure", GAUGE, 0.0, TOP),
        )  # fmt: skip
        curve.ax.tick_params(labelbottom=False)
        curve.line("lube.history.time", "lube.history.gas_pressure", color=drawing.AZURE, ls="--", label="gas")
        curve.line("lube.history.time", "lube.history.gallery_pressure", color=drawing.BLUE, label="gallery")
        curve.line([0.0, window], "wanted", color=drawing.GREY, ls=":", lw=1.6, label="to wait for")
        marked = {"color": drawing.RED, "lw": 1.8, "marker": "v", "ms": 10, "markevery": [1], "clip_on": False}
        curve.line("lube.crank_at", [0.0, 0.78 * TOP], **marked)
        curve.word(
            "crank now", 0.08 * float(GAUGE.display(TOP)),
            lambda s: min(s["lube"].crank_at + 0.14 * window, 0.86 * window), 0.78 * TOP,
            lambda s: math.isfinite(s["lube"].crank_at),
        )  # fmt: skip
        curve.point("moment", "gallery_pressure", ms=9)
        drawing.legend_above(curve.ax, 3)
        fill = Graph(
            figure, (0.605, 0.15, 0.38, 0.21), "", ("time", TIME, 0.0, window),
            ("galleries\nfull to (%)", None, 0.0, 105.0),
        )  # fmt: skip
        fill.line("lube.history.time", lambda s: 100.0 * s["lube"].history.gallery_fill, color=drawing.OCHRE)
        fill.point("moment", lambda s: 100.0 * s["gallery_fill"], ms=9)
        view = VesselView(figure, room_of(bench_vessel())[2])
        return [Bound(view, "fraction", "gallery_pressure", "gas_pressure"), curve, fill]

    def readings(self, state: State) -> list[Reading]:
        lube = state["lube"]
        return [
            Reading("time", state["moment"], TIME),
            Reading("gallery pressure", state["gallery_pressure"], GAUGE),
            Reading("gas pressure", state["gas_pressure"], GAUGE),
            Reading("oil in the vessel", state["oil"], OIL),
            Reading("galleries full to", state["gallery_fill"], PART),
            Reading("gone through the bearings so far", state["spent"], OIL),
            Reading("galleries full after", _when(lube.full_after, state)),
            Reading("pressure to wait for reached after", _when(lube.wanted_after, state)),
            Reading("highest gallery pressure", lube.peak_pressure, GAUGE),
            Reading("crank after", _when(lube.crank_at, state) if math.isfinite(lube.crank_at) else NOT_AT_ALL),
            Reading("spent until then, on galleries and bearings", lube.oil_spent + lube.oil_in_galleries, OIL),
            Reading("left in the vessel for the start", lube.oil_left, OIL),
        ]

    def summary(self, state: State) -> str:
        return (BELOW_LINE if state["temperature"] < COLDEST else "") + self._told(state)

    def _told(self, state: State) -> str:
        lube, wanted = state["lube"], GAUGE.text(state["wanted"])
        if not math.isfinite(lube.full_after):
            return (
                f"After {TIME.text(LONGEST)} the galleries are not full: the oil is too thick for this way, or there "
                "is too little of it. Warm the engine and its oil before you turn it."
            )
        if not math.isfinite(lube.wanted_after):
            peak = f"The gauge never reaches {wanted}. Its peak is {GAUGE.text(lube.peak_pressure)}, after "
            peak += _when(lube.crank_after, state)
            if lube.peak_pressure < LEAST:
                return f"{peak}: below {GAUGE.text(LEAST)} do not crank. Shut the valve, and warm engine and oil first."
            return (
                f"{peak}: from then on waiting only spends oil. Crank then, with {OIL.text(lube.oil_left)} left for "
                "the start."
            )
        return (
            f"The galleries are full after {_when(lube.full_after, state)} and the gauge shows {wanted} after "
            f"{_when(lube.wanted_after, state)}: crank then. The vessel keeps {OIL.text(lube.oil_left)} for the start, "
            "until the pump has taken over."
        )


def _when(seconds: float, state: State) -> str:
    if not math.isfinite(seconds):
        return f"not within {TIME.text(LONGEST)}"
    return at_least(seconds) if state["temperature"] < COLDEST else TIME.text(seconds)


def _morning(at: Setting) -> SimpleNamespace:
    """One pre-lube from the lessons' evening, in SI."""
    bench, cold = bench_vessel(), TEMPERATURE.quantity(at.temperature)
    night = overnight(bench, at.oil, *EVENING, cold)
    line = SupplyLine(at.hose, Q(8, "ft"), (fittings()["port"],))
    lube = in_si(
        pre_lube(
            Installation(at.engine, at.oil, bench, line),
            at.valve,
            night.precharge,
            night.pressure,
            cold,
            empty=PART.quantity(at.empty),
            wanted=GAUGE.quantity(at.wanted),
            opening_time=Q(opening_time(at.valve), "s"),
            duration=Q(LONGEST, "s"),
        )
    )
    lube.crank_at = lube.crank_after if lube.peak_pressure >= LEAST else math.inf
    lube.window = next((w for w in WINDOWS if 3.0 * lube.crank_after <= w), LONGEST)
    return lube


def opening_time(valve: Fitting) -> float:
    """How long one of the data file's valves takes to open, in seconds: a hand, or a coil."""
    return ELECTRIC if valve == fittings()["narrow_valve"] else HAND
