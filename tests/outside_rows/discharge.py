"""The dynamic model against closed forms, real nitrogen, an integration by other people's software, and the trade."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from oilkit import Installation, Q, SupplyLine, discharge, engine_demand
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from outside_rows.real_gas import COOLPROP, of_real_gas
from outside_rows.row import ATMOSPHERE, PSI, Row, between

# ------------------------------------------------------------------------------------------ an independent integration


class Apart:
    """One case, written down a second time: from the laws and the records' quantities, not from the kit's model.

    Where the kit smooths, this does not: seal friction holds a piston that stands (or pulls against one that moves),
    roots are not rounded off, a line without inertia has none at all and its flow is solved for, gas that keeps its
    heat follows ``p V**1.4`` and gas at the wall's temperature ``p V``. Each change of state is an event that ends a
    leg of the integration. SI throughout.
    """

    def __init__(self, built: Installation, inertia: bool = True, **c: Any) -> None:
        si = {name: quantity_in_si(name, value) for name, value in c.items()}
        self.c = si
        engine, oil = built.engine, built.oil
        self.air = si["ambient"]
        sump, speed = si["sump_temperature"], si["speed"]

        def thickness(kelvin: float) -> float:
            """ASTM D341 through the two points of the sheet, times density."""
            points = [(math.log10(math.log10(v.to("cSt").m + 0.7)), math.log10(t)) for v, t in (
                (oil.viscosity_40, 313.15), (oil.viscosity_100, 373.15))]  # fmt: skip
            slope = (points[0][0] - points[1][0]) / (points[1][1] - points[0][1])
            height = points[0][0] - slope * (math.log10(kelvin) - points[0][1])
            return (10.0**10.0**height - 0.7) * 1e-6 * weight(kelvin)

        def weight(kelvin: float) -> float:
            return float(oil.density_15.to("kg/m**3").m * (1.0 - oil.expansion.to("1/K").m * (kelvin - 288.15)))

        def metres(quantity: Any) -> float:
            return float(quantity.to("m").m)

        # the engine: bearings (pressed per pascal, dragged, feed, inward, outward), then holes
        hot = sump + (engine.film_rise.to("delta_degC").m if speed > 0.0 else 0.0)
        film, rho = thickness(hot) * float(oil.high_shear), weight(sump)
        omega = 2.0 * math.pi * speed
        main = metres(engine.mains.diameter) / 2.0
        inward = rho * omega**2 * (main**2 - metres(engine.crank_nearest) ** 2) / 2.0
        outward = rho * omega**2 * (metres(engine.crank_exit) ** 2 - main**2) / 2.0
        self.bearings = []
        for b, change in ((engine.mains, True), (engine.rods, True), (engine.cams, False)):
            c_d = metres(b.diametral_clearance) + (si["clearance_change"] if change else 0.0)
            d, width, eps = metres(b.diameter), metres(b.width), (float(b.eccentricity) if speed > 0.0 else 1.0)
            count, turns = float(b.count), float(b.turns)
            if b.feed == "hole":
                x = metres(b.feed_hole) / width
                q_h = 1.204 + x * (0.368 + x * (-1.046 + x * 1.942))
                pressed = math.pi / 48.0 * c_d**3 / film * (1.0 + 1.5 * eps**2) / (math.log(1.0 / x) * q_h)
                land, lands = width, 1.0
            else:
                land = (width - metres(b.groove_width)) / 2.0
                pressed = math.pi * (d / 2.0) * (c_d / 2.0) ** 3 * (1.0 + 1.5 * eps**2) / (3.0 * film * land)
                lands = 0.0
                if b.feed == "half groove":
                    angle = np.linspace(-math.pi / 2.0, math.pi / 2.0, 20_001)
                    gap = (1.0 + eps * np.cos(angle)) ** 3
                    half = float(scipy.integrate.simpson(gap, x=angle)) / (2.0 * math.pi * (1.0 + 1.5 * eps**2))
                    pressed *= half
                    lands = 1.0
            slender = land / d
            side = d * d * c_d * omega * turns / 4.0 * (slender - 0.223 * slender**3) * eps
            area = 0.62 * math.pi / 4.0 * metres(b.feed_hole) ** 2 * count
            through_crank = (inward, outward) if b is engine.rods else (0.0, 0.0)
            if count:
                self.bearings.append((count * pressed, count * lands * side, rho / (2.0 * area**2), *through_crank))
        self.holes = []
        for h in (engine.jets, engine.lifters):
            size = float(h.count) * float(h.discharge_coefficient) * math.pi / 4.0 * metres(h.bore) ** 2
            self.holes.append((size * math.sqrt(2.0 / rho), float(h.opens_at.to("Pag").m)))

        # the pump, its relief valve, and what stands between it and the gallery
        pump = engine.pump
        swept = float(pump.displacement.to("m**3/rev").m) * float(pump.ratio)
        self.poured = swept * speed
        # Wilson: what is lost at 3000 rpm, 50 psi and 9 mPa s, in proportion to pressure over viscosity
        self.slip = (1.0 - float(pump.efficiency)) * swept * 50.0 * 0.009 / (50.0 * PSI) / thickness(sump)
        self.opening = float(pump.relief_opening.to("Pag").m)
        self.slope = float(pump.relief_rated_flow.to("m**3/s").m) / (
            float(pump.relief_rated_pressure.to("Pag").m) - self.opening
        )
        sump_thickness = thickness(sump)
        self.elements = [
            (
                float(part.rated_drop.to("Pa").m / part.rated_flow.to("m**3/s").m)
                * sump_thickness / part.rated_viscosity.to("Pa s").m,
                float(part.bypass.to("Pa").m),
            )
            for part in (engine.filter, engine.cooler) if part is not None
        ]  # fmt: skip
        self.tee_first = built.tee_before_filter
        self.decay = si["pump_decay"]
        self.leak = si["leak"] / (50.0 * PSI)
        self.thicker = thickness(si["line_temperature"]) / sump_thickness

        # line, gallery, gas
        line = built.line
        cool, heavy = thickness(si["line_temperature"]), weight(si["line_temperature"])
        bore, length = metres(line.hose.bore), si["line_length"]
        self.area = math.pi / 4.0 * bore**2
        self.bore, self.length, self.rho, self.mu = bore, length, heavy, cool
        self.inertance = heavy * length / self.area if inertia else 0.0
        self.fittings = sum(
            float(f.loss_coefficient) * heavy / 2.0 / (math.pi / 4.0 * metres(f.bore) ** 2) ** 2 for f in line.fittings
        )
        start = si["pressure"] + self.air
        self.compliance = float(engine.gallery_volume.to("m**3").m) * (si["air_in_gallery"] / start + 1.0 / 1.5e9)
        if self.tee_first:  # the vessel has settled there, while the pump kept the gallery at its pressure
            start += self.way(self.takes(si["pressure"]))
        self.room = float(built.vessel.gas_volume.to("m**3").m)
        self.charge = si["precharge"] + self.air
        self.volume = min(self.room * self.charge / start, self.room)
        self.kelvin, self.tau = si["gas_temperature"], si.get("thermal_time_constant", math.nan)
        self.amount = self.charge * self.room / self.kelvin  # n R
        self.heat_transfer, self.across = si.get("heat_transfer", math.nan), metres(built.vessel.bore)
        self.heat = math.isnan(self.tau) or (math.isfinite(self.tau) and self.tau > 0.0)

    # ---- laws

    def takes(self, p: float) -> float:
        if p <= 0.0:
            return 0.0
        total = sum(size * math.sqrt(p - opens) for size, opens in self.holes if p > opens)
        for pressed, dragged, feed, inward, outward in self.bearings:
            wanted = p + outward + dragged / pressed  # = feed Q**2 + Q / pressed
            if wanted > 0.0 and p > inward:
                half = 0.5 / (pressed * feed)
                total += min(
                    wanted / feed / (half + math.sqrt(half * half + wanted / feed)), math.sqrt((p - inward) / feed)
                )
        return total

    def arrives(self, p: float, pumped: float) -> float:
        """What is left of the pump's flow behind slip and relief valve, which feel the pressure before the filter."""

        def over(flow: float) -> float:
            outlet = p + sum(min(per_flow * flow, bypass) for per_flow, bypass in self.elements)
            return flow + self.slip * max(outlet, 0.0) + self.slope * max(outlet - self.opening, 0.0) - pumped

        if over(pumped) <= 0.0:
            return pumped
        return float(brentq(over, 0.0, pumped, xtol=1e-18, rtol=1e-14)) if over(0.0) < 0.0 else 0.0

    def way(self, flow: float, vessel_share: float = 0.0) -> float:
        """What filter and cooler cost a mixture of the pump's and the vessel's oil."""
        thick = (1.0 - vessel_share) + vessel_share * self.thicker if flow > 0.0 else 1.0
        costs = [(thick * per_flow * flow, bypass) for per_flow, bypass in self.elements]
        return sum(min(cost, bypass) if flow > 0.0 else cost for cost, bypass in costs)

    def node(self, t: float, p: float, q: float) -> tuple[float, float, float]:
        """From the pump, back past the check valve, and the pressure at the tee, for a flow out of the line."""
        supply = self.supply(t)
        pumped, back = self.poured * supply, self.leak * (1.0 - supply)
        if not self.tee_first:
            return self.arrives(p, pumped), back * max(p, 0.0), p

        def both(tee: float) -> tuple[float, float]:
            lost = self.slip * max(tee, 0.0) + self.slope * max(tee - self.opening, 0.0)
            return max(pumped - lost, 0.0), back * max(tee, 0.0)

        share = q / (q + pumped) if q > 0.0 else 0.0

        def over(tee: float) -> float:
            into, leaks = both(tee)
            return p + self.way(into + q - leaks, share) - tee

        if not self.elements:
            return *both(p), p
        low, high = p + self.way(q - back * 1e8, share), p + self.way(q + pumped, share)
        tee = high if over(high) >= 0.0 else float(brentq(over, low, high, xtol=1e-9, rtol=1e-15))
        return *both(tee), tee

    def loss(self, q: float) -> float:
        """Darcy with Churchill's factor, and the fittings."""
        size = abs(q)
        reynolds = max(4.0 * self.rho * size / (math.pi * self.bore * self.mu), 1e-12)
        if reynolds > 50.0:
            a = (-2.457 * math.log((7.0 / reynolds) ** 0.9)) ** 16
            factor = 8.0 * ((8.0 / reynolds) ** 12 + (a + (37_530.0 / reynolds) ** 16) ** -1.5) ** (1.0 / 12.0)
            wall = factor * self.length / self.bore * self.rho / 2.0 * (size / self.area) ** 2
        else:
            wall = 128.0 * self.mu * self.length * size / (math.pi * self.bore**4)
        return math.copysign(wall + self.fittings * size * size, q)

    def gas(self, volume: float, kelvin: float) -> float:
        """Gauge."""
        if self.heat:
            return self.amount * kelvin / volume - self.air
        index = 1.0 if self.tau == 0.0 else 1.4
        start = self.amount * self.kelvin / self.volume
        return start * (self.volume / volume) ** index - self.air

    def warming(self, volume: float, kelvin: float) -> float:
        """Kelvin per second that the wall gives the gas: two ends and a side of a cylinder, over n c_v = 5/2 n R."""
        if not math.isnan(self.tau):
            return (self.kelvin - kelvin) / self.tau
        face = math.pi / 4.0 * self.across**2
        wall = 2.0 * face + math.pi * self.across * volume / face
        return self.heat_transfer * wall * (self.kelvin - kelvin) / (2.5 * self.amount)

    def supply(self, t: float) -> float:
        return max(1.0 - t / self.decay, 0.0) if self.decay > 0.0 else 0.0

    def drive(self, t: float, y: Any, q: float = 0.0) -> float:
        """What pushes oil out of the vessel, against the pressure at the tee with a flow."""
        return self.gas(y[0], y[3]) + self.c["head"] - self.node(t, y[2], q)[2]

    def flow(self, t: float, y: Any, motion: str) -> float:
        """Out of the vessel."""
        if self.inertance:
            return float(y[1]) if motion in ("out", "in") else 0.0
        push = self.drive(t, y)
        sign = math.copysign(1.0, push)
        if (
            abs(push) <= self.c["seal_friction"]
            or (motion == "home" and sign > 0.0)
            or (motion == "full" and sign < 0.0)
        ):
            return 0.0

        def short(q: float) -> float:
            return sign * (self.loss(sign * q) - self.drive(t, y, sign * q)) + self.c["seal_friction"]

        high = 1e-3
        while short(high) < 0.0:
            high *= 4.0
        return sign * float(brentq(short, 0.0, high, xtol=1e-16, rtol=1e-12))

    def rates(self, t: float, y: Any, motion: str) -> list[float]:
        volume, _, p, kelvin = y
        q = self.flow(t, y, motion)
        into, leaks, _ = self.node(t, p, q)
        moving = motion in ("out", "in")
        friction = math.copysign(self.c["seal_friction"], 1.0 if motion == "out" else -1.0)
        return [
            q,
            (self.drive(t, y, q) - friction - self.loss(q)) / self.inertance if self.inertance and moving else 0.0,
            (into + q - self.takes(p) - leaks) / self.compliance,
            self.warming(volume, kelvin) - 0.4 * kelvin * q / volume if self.heat else 0.0,
        ]  # fmt: skip

    # ---- one leg after the other

    def protected(self, duration: float = 60.0, tolerance: float = 1e-8, method: str = "LSODA") -> tuple[float, float]:
        """Until the pressure fell below the limit for longer than is forgiven, and when the piston came home."""
        limit, forgiven, friction = self.c["limit"], self.c["tolerance"], self.c["seal_friction"]
        t, home = 0.0, math.inf
        y = [self.volume, 0.0, self.c["pressure"], self.kelvin]
        motion = "held"
        if self.volume >= self.room:
            motion, home = "home", 0.0
        motion = self.from_rest(t, y, motion)
        since = 0.0 if y[2] < limit else math.inf
        scale = [tolerance * self.room, tolerance * 1e-4, tolerance * 1e5, tolerance * 300.0]

        def event(of: Callable[[float, Any], float], direction: float) -> Any:
            def watched(moment: float, state: Any) -> float:
                return of(moment, state)

            watched.terminal, watched.direction = True, direction  # type: ignore[attr-defined]
            return watched

        least = 0.02 * self.room
        for _ in range(10_000):
            if t >= duration:
                return math.inf, home
            end = min(duration, since + forgiven)
            if t < self.decay:
                end = min(end, self.decay)
            if t >= since + forgiven or (end <= t and math.isfinite(since)):
                return since, home
            below = math.isfinite(since)
            watch = {"limit": event(lambda _, s: s[2] - limit, 1.0 if below else -1.0)}
            if motion != "home":
                watch["home"] = event(lambda _, s: s[0] - self.room, 1.0)
            if motion != "full":
                watch["full"] = event(lambda _, s: s[0] - least, -1.0)
            if self.inertance:
                if motion in ("out", "in") and friction > 0.0:  # nothing else could hold it
                    watch["rest"] = event(lambda _, s: s[1], -1.0 if motion == "out" else 1.0)
                if motion in ("held", "full"):
                    watch["go"] = event(lambda m, s: self.drive(m, s) - friction, 1.0)
                if motion in ("held", "home"):
                    watch["come"] = event(lambda m, s: self.drive(m, s) + friction, -1.0)
            found = solve_ivp(
                lambda s, z, how=motion: self.rates(s, z, how),
                (t, end), y, method=method, events=list(watch.values()),
                rtol=tolerance, atol=scale, first_step=min(1e-6, 0.5 * (end - t)),
            ) if not math.isclose(t, end, rel_tol=0.0, abs_tol=1e-15) else None  # fmt: skip
            if found is None:
                t = end
                continue
            if found.status < 0:
                raise ArithmeticError(found.message)
            t, y = float(found.t[-1]), [float(v) for v in found.y[:, -1]]
            hit = [name for name, times in zip(watch, found.t_events, strict=True) if len(times)]
            if "limit" in hit:
                since = math.inf if below else t
                y[2] = limit + (1.0 if below else -1.0) * 1e-8 * abs(limit)
            if "home" in hit:
                motion, home = "home", min(home, t)
                y[0], y[1] = self.room, 0.0
            if "full" in hit:
                motion = "full"
                y[0], y[1] = least, 0.0
            if "rest" in hit:
                y[1] = 0.0
                motion = self.from_rest(t, y, "held")
            if "go" in hit:
                motion = "out"
            if "come" in hit:
                motion = "in"
        raise ArithmeticError("too many legs")

    def from_rest(self, t: float, y: Any, motion: str) -> str:
        push, friction = self.drive(t, y), self.c["seal_friction"]
        if motion == "home":
            return "in" if push < -friction else "home"
        if push > friction or friction == 0.0:
            return "out"
        return "in" if push < -friction else "held"


_UNITS = {
    "precharge": "Pag", "pressure": "Pag", "limit": "Pag", "speed": "rev/s", "sump_temperature": "K",
    "line_temperature": "K", "gas_temperature": "K", "thermal_time_constant": "s",
    "heat_transfer": "W/m**2/K", "clearance_change": "m",
    "line_length": "m", "pump_decay": "s", "seal_friction": "Pa", "head": "Pa", "leak": "m**3/s", "tolerance": "s",
    "ambient": "Paa",
}  # fmt: skip


def quantity_in_si(name: str, value: Any) -> float:
    return float(value.to(_UNITS[name]).m) if name in _UNITS else float(value)


def any_case(rng: np.random.Generator) -> tuple[Installation, bool, dict[str, Any]]:
    """A case from anywhere in the demo data: hot, cold, tight, loose, every engine, oil, vessel and hose."""

    def one_of(things: Any) -> Any:
        return list(things.values())[rng.integers(len(things))]

    def span(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    ends = list(fittings().values())
    chosen = tuple(ends[i] for i in rng.integers(len(ends), size=rng.integers(0, 4)))
    length = Q(span(1.0, 20.0), "ft")
    built = Installation(
        one_of(engines()), one_of(lubricants()), one_of(vessels()), SupplyLine(one_of(hoses()), length, chosen),
        tee_before_filter=bool(rng.random() < 0.3),
    )  # fmt: skip
    pressure = span(30.0, 80.0)
    tau = [0.0, math.inf, math.exp(span(math.log(0.1), math.log(100.0)))][rng.choice(3, p=[0.15, 0.15, 0.7])]
    stiff = rng.random()
    conditions = {
        "precharge": Q(span(2.0, 0.95 * pressure), "psig"),
        "pressure": Q(pressure, "psig"),
        "speed": Q(0.0 if rng.random() < 0.05 else span(600.0, 8000.0), "rpm"),
        "sump_temperature": Q(span(10.0, 130.0), "degC"),
        "line_temperature": Q(span(10.0, 110.0), "degC"),
        "gas_temperature": Q(span(0.0, 90.0), "degC"),
        "thermal_time_constant": Q(tau, "s"),
        "clearance_change": Q(span(-0.7, 2.0), "thou"),
        "line_length": length,
        "pump_decay": Q(0.0 if rng.random() < 0.2 else span(0.01, 1.0), "s"),
        "seal_friction": Q(0.0 if stiff < 0.4 else span(0.0, 3.0), "psi"),
        "head": Q(0.0 if rng.random() < 0.5 else span(-4.0, 4.0), "psi"),
        "air_in_gallery": span(0.005, 0.1),
        "leak": Q(0.0 if rng.random() < 0.5 else span(0.0, 2.0), "gpm"),
        "limit": Q(span(4.0, min(30.0, 0.9 * pressure)), "psig"),
        "tolerance": Q(span(0.0, 0.1), "s"),
        "ambient": Q(span(80_000.0, 103_000.0), "Paa"),
    }
    inertia = bool(rng.random() < 0.6)
    if math.isfinite(tau) and tau > 0.0 and rng.random() < 0.7:  # the vessel's own, from a heat transfer
        del conditions["thermal_time_constant"]
        conditions["heat_transfer"] = Q(math.exp(span(0.0, math.log(50.0))), "W/m**2/K")
    return built, inertia, conditions


# ---------------------------------------------------------------------------------------------------------------- rows


def laminar_engine() -> tuple[Installation, Any]:
    """The demo V8 at rest, holes shut and feed holes wide, on a short wide line: its flow is laminar.

    With what it takes at 60 psi and 100 °C.
    """
    base = engines()["street_v8"]
    wide = {name: replace(getattr(base, name), feed="full groove", groove_width=Q(0.15, "in"), feed_hole=Q(1, "in"),
                          diametral_clearance=Q(5, "thou"))
            for name in ("mains", "rods", "cams")}  # fmt: skip
    none = {name: replace(getattr(base, name), count=0) for name in ("jets", "lifters")}
    engine = replace(base, **wide, **none, gallery_volume=Q(1, "mL"))
    built = Installation(
        engine, lubricants()["thick"], vessels()["bench"], SupplyLine(hoses()["trade_16"], Q(0.05, "ft"))
    )
    taken = engine_demand(engine, built.oil, Q(60, "psig"), Q(0, "rpm"), Q(100, "degC")).total
    return built, taken


BUILT = Installation(
    engines()["street_v8"], lubricants()["street"], vessels()["bench"],
    SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"])),
)  # fmt: skip


def integration_rows() -> Iterator[Row]:
    for seed in (0, 3, 4, 24, 12, 31):
        built, inertia, conditions = any_case(np.random.default_rng(seed))
        kit = discharge(built, inertia=inertia, **conditions).protected_time.m
        apart = Apart(built, inertia, **conditions).protected()[0]
        yield Row(
            f"protected time, s, random case {seed}, {'with' if inertia else 'without'} line inertia"
            f"{', tee before filter and cooler' if built.tee_before_filter else ''}",
            float(kit),
            apart,
            1e-4,
            True,
            f"scipy {scipy.__version__}, solve_ivp LSODA, laws written apart from the kit's, events at limit and stops",
            "what the kit promises; its smoothing of roots and of seal friction leaves about 1e-6",
        )


def nitrogen_rows() -> Iterator[Row]:
    """Real nitrogen along the fast path: pressure at the volumes that the kit's history went through."""
    source = f"{COOLPROP}, nitrogen, constant entropy"
    run = discharge(BUILT, precharge=Q(20, "psig"), thermal_time_constant=Q(math.inf, "s"))
    volume = float(vessels()["bench"].gas_volume.to("m**3").m) - run.history.oil.to("m**3").m
    gas = run.history.gas_pressure.to("Pag").m + ATMOSPHERE
    kelvin = run.history.gas_temperature.to("K").m
    density = of_real_gas("D", "P", float(gas[0]), "T", float(kelvin[0]), "Nitrogen")
    entropy = of_real_gas("S", "P", float(gas[0]), "T", float(kelvin[0]), "Nitrogen")
    for share in (0.5, 1.0):
        k = int(np.argmin(np.abs(volume - (volume[0] + share * (np.max(volume) - volume[0])))))
        real = density * volume[0] / volume[k]
        why = "at 5 bar nitrogen's cp/cv lies 0.007 above 1.4: 0.5 % of the pressure where the volume has doubled"
        yield Row(
            f"gas pressure without heat, Pa, {100 * share:.0f} % of the way", float(gas[k]),
            float(of_real_gas("P", "D", real, "S", entropy, "Nitrogen")), 5e-3, True, source, why,
        )  # fmt: skip
        yield Row(
            f"gas temperature without heat, K, {100 * share:.0f} % of the way", float(kelvin[k]),
            float(of_real_gas("T", "D", real, "S", entropy, "Nitrogen")), 5e-3, True, source, why,
        )  # fmt: skip


def trade_rows() -> Iterator[Row]:
    """More pre-charge: less oil, discharged faster. Looser clearances empty it sooner."""
    many = discharge(BUILT, precharge=Q([5.0, 10.0, 20.0], "psig"), limit=Q(1, "psig"), thermal_time_constant=Q(0, "s"))
    home = many.empty_after.m
    more = "only the order is asked for: a share between nothing and all"
    yield between("time until empty, 20 psi of pre-charge against 10", float(home[2] / home[1]), 0.0, 0.999, more)
    yield between("time until empty, 10 psi of pre-charge against 5", float(home[1] / home[0]), 0.0, 0.999, more)
    loose = discharge(BUILT, clearance_change=Q([0.0, 1.0], "thou")).protected_time.m
    yield between("protected time, clearances 0.001 in looser", float(loose[1] / loose[0]), 0.0, 0.999, more)


def rows() -> list[Row]:
    return [*integration_rows(), *nitrogen_rows(), *trade_rows()]
