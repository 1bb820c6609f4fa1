"""Panel of lesson 08: the pre-lube in time."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing
from oilkit.panels.framework.amounts import moment, pressure, warmth
from oilkit.panels.framework.bound import Bound, Graph, Parts, Reading, Setting, State, us
from oilkit.panels.framework.choices import engine_choice, oil_choice
from oilkit.panels.framework.controls import Amount, Choice, Control
from oilkit.panels.framework.moving import MovingPanel
from oilkit.panels.framework.vessel_view import VesselView, room_of
from oilkit.physics.catalog import bench_vessel, fittings, hoses
from oilkit.physics.discharging import Installation
from oilkit.physics.line import Fitting, SupplyLine
from oilkit.physics.night import overnight
from oilkit.physics.prelube import BY_HAND, pre_lube
from oilkit.quantities.kinds import FRACTION, GAUGE, OIL, TEMPERATURE, TIME
from oilkit.quantities.units import Q

EVENING = (Q(10, "psig"), Q(60, "psig"), Q(40, "degC"), Q(90, "degC"))
"""Pre-charge, pressure, gas and oil temperature: how the bench vessel was shut off on the evening before a pre-lube."""
HAND = float(BY_HAND.m)
ELECTRIC = 0.1
"""How fast an electric valve opens in the panels, seconds (estimate, no source)."""
LONGEST = 30.0
WINDOWS = (3.0, 10.0, LONGEST)
MOVING = ("gallery", "gas", "oil", "fill", "gone")


TOP = us(GAUGE, 70.0)


class PreLubePanel(MovingPanel):
    """The valve opens on a cold engine at rest: galleries fill, pressure builds, and then the vessel runs down."""

    call = "pre_lube"
    title = "Oil before the first turn"
    alt = (
        "The vessel emptying into a cold engine: cutaway and gauges, gallery pressure against time with the moment to "
        "crank, and how full the galleries are."
    )

    def make_controls(self) -> list[Control]:
        ways = [hoses()[name] for name in ("trade_12", "mil_h_8794_12", "small")]
        valves = [fittings()[name] for name in ("wide_valve", "reduced_valve", "narrow_valve")]
        return [
            moment("Time since the valve began to open", LONGEST, 0.02),
            warmth("temperature", "Morning: engine, oil and gas at", -20, 35, 5, 1),
            Amount("empty", "Empty share of the galleries", FRACTION, 0.0, 1.0, 0.5, (0.05, 0.05)),
            pressure("wanted", "Pressure to wait for", 2, 40, 15),
            oil_choice(first=True),
            engine_choice(first=True),
            Choice("hose", "Line, 8 ft (2.44 m)", [(h.name, h) for h in ways], listed=True),
            Choice("valve", "Valve", [(v.name, v) for v in valves], listed=True),
        ]

    def solve(self, at: Setting) -> State:
        run = (at.temperature, at.empty, at.wanted, at.oil.name, at.engine.name, at.hose.name, at.valve.name)
        h = self.kept(run, lambda: _morning(at))  # scrubbing and playing change the moment, not the run
        now = min(at.time, h["window"])
        here = {key: float(np.interp(now, h["time"], h[key])) for key in MOVING}
        return {"history": h, "moment": now, "fraction": here["oil"] / room_of(bench_vessel())[0], **here}

    def duration(self) -> float:
        return float(self.state["history"]["window"])

    def redraw_key(self, state: State) -> Any:
        return state["history"]["window"]

    def build(self, figure: Figure) -> Parts:
        window = self.state["history"]["window"]
        run = {key: (lambda s, key=key: s["history"][key]) for key in self.state["history"]}
        curve = Graph(
            figure, (0.6, 0.5, 0.385, 0.4), "Wait for the gauge, then crank",
            (None, None, 0.0, window), ("pressure", GAUGE, 0.0, TOP),
        )  # fmt: skip
        curve.ax.tick_params(labelbottom=False)
        curve.line(run["time"], run["gas"], color=drawing.AZURE, ls="--", label="gas")
        curve.line(run["time"], run["gallery"], color=drawing.BLUE, label="gallery")
        curve.line([0.0, window], "wanted", color=drawing.GREY, ls=":", lw=1.6, label="to wait for")
        marked = {"color": drawing.RED, "lw": 1.8, "marker": "v", "ms": 10, "markevery": [1], "clip_on": False}
        curve.line(run["crank"], [0.0, 0.78 * TOP], **marked)
        curve.word(
            "crank now", 0.08 * float(GAUGE.display(TOP)),
            lambda s: min(_or_none(s["history"]["crank"]) + 0.14 * window, 0.86 * window), 0.78 * TOP,
            lambda s: math.isfinite(s["history"]["crank"]),
        )  # fmt: skip
        curve.point("moment", "gallery", ms=9)
        curve.ax.legend(loc="upper right", ncols=3)
        fill = Graph(
            figure, (0.6, 0.15, 0.385, 0.25), "", ("time", TIME, 0.0, window),
            ("galleries\nfull to (%)", None, 0.0, 105.0),
        )  # fmt: skip
        fill.line(run["time"], lambda s: 100.0 * s["history"]["fill"], color=drawing.OCHRE)
        fill.point("moment", lambda s: 100.0 * s["fill"], ms=9)
        view = VesselView(figure, room_of(bench_vessel())[2])
        return [Bound(view, "fraction", "gallery", "gas"), curve, fill]

    def readings(self, state: State) -> list[Reading]:
        h = state["history"]
        return [
            Reading("time", state["moment"], TIME),
            Reading("gallery pressure", state["gallery"], GAUGE),
            Reading("gas pressure", state["gas"], GAUGE),
            Reading("oil in the vessel", state["oil"], OIL),
            Reading("galleries full to", state["fill"], FRACTION),
            Reading("gone through the bearings so far", state["gone"], OIL),
            Reading("galleries full after", _when(h["full"])),
            Reading("pressure to wait for reached after", _when(h["ready"])),
            Reading("highest gallery pressure", h["peak"], GAUGE),
            Reading("crank after", _when(h["crank"])),
            Reading("spent until then, on galleries and bearings", h["spent"], OIL),
            Reading("left in the vessel for the start", h["left"], OIL),
        ]

    def summary(self, state: State) -> str:
        h = state["history"]
        if not math.isfinite(h["full"]):
            return (
                f"After {TIME.text(LONGEST)} the galleries are not full: the oil is too thick for this way, or there "
                "is too little of it. Warm the engine and its oil before you turn it."
            )
        if not math.isfinite(h["ready"]):
            return (
                f"The gauge never reaches {GAUGE.text(h['wanted'])}. Its peak is {GAUGE.text(h['peak'])}, after "
                f"{TIME.text(h['crank'])}: from then on waiting only spends oil. Crank then, with "
                f"{OIL.text(h['left'])} left for the start."
            )
        return (
            f"The galleries are full after {TIME.text(h['full'])} and the gauge shows {GAUGE.text(h['wanted'])} after "
            f"{TIME.text(h['ready'])}: crank then. The vessel keeps {OIL.text(h['left'])} for the start, until the "
            "pump has taken over."
        )


def _or_none(seconds: float) -> float:
    return seconds if math.isfinite(seconds) else 0.0


def _when(seconds: float) -> str:
    return TIME.text(seconds) if math.isfinite(seconds) else f"not within {TIME.text(LONGEST)}"


def _morning(at: Setting) -> State:
    """One pre-lube from the lessons' evening, in SI."""
    bench, cold = bench_vessel(), TEMPERATURE.quantity(at.temperature)
    night = overnight(bench, at.oil, *EVENING, cold)
    line = SupplyLine(at.hose, Q(8, "ft"), (fittings()["port"],))
    run = pre_lube(
        Installation(at.engine, at.oil, bench, line),
        at.valve,
        night.precharge,
        night.pressure,
        cold,
        empty=FRACTION.quantity(at.empty),
        wanted=GAUGE.quantity(at.wanted),
        opening_time=Q(opening_time(at.valve), "s"),
        duration=Q(LONGEST, "s"),
    )
    crank = float(run.crank_after.m)
    history = run.history
    return {
        "time": history.time.to("s").m,
        "gallery": history.gallery_pressure.to("Pag").m,
        "gas": history.gas_pressure.to("Pag").m,
        "oil": history.oil.to("m**3").m,
        "fill": history.gallery_fill,
        "wanted": at.wanted,
        "full": float(run.full_after.m),
        "ready": float(run.wanted_after.m),
        "peak": float(run.peak_pressure.to("Pag").m),
        "crank": crank,
        "gone": history.spent.to("m**3").m,
        "spent": float((run.oil_spent + run.oil_in_galleries).to("m**3").m),
        "left": float(run.oil_left.to("m**3").m),
        "window": next((w for w in WINDOWS if 3.0 * crank <= w), LONGEST),
    }


def opening_time(valve: Fitting) -> float:
    """How long one of the data file's valves takes to open, in seconds: a hand, or a coil."""
    return ELECTRIC if valve == fittings()["narrow_valve"] else HAND
