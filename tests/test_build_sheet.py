"""The build sheet: one recomputed by hand, the others held against the package, the files looked into."""

from __future__ import annotations

import contextlib
import html.parser
import itertools
import math
import re
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import parts
import pytest
from markupsafe import escape
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from sentences import refused

import oilkit
from oilkit import (
    InputError,
    Q,
    build_sheet,
    input_differences,
    panels,
    result_differences,
    sheet_html,
    sheet_pdf,
    unit_switch,
    what_to_buy,
    write_sheet,
)
from oilkit.build.blocks import CARD_READINGS, card_document, sheet_blocks
from oilkit.build.comparison import side_by_side
from oilkit.build.results import (
    HORIZON,
    LINE_TOO_NARROW,
    NO_CAPACITY,
    PROTECTED,
    PUMP_TOO_WEAK,
    WRONG_CHARGE,
    crank,
)
from oilkit.build.setup_file import demo_set_ups
from oilkit.build.sheet import _acceptance, as_handed_over
from oilkit.build.spread import INPUTS, LENGTH_NAME, head, latin_hypercube, together, vary
from oilkit.build.tornado import tornado_chart, tornado_words
from oilkit.physics.discharging import CONDITIONS
from oilkit.quantities.kinds import ALTITUDE, GAUGE, OIL, TEMPERATURE
from oilkit.quantities.printed import percent
from oilkit.shop.acceptance import acceptance_card

DEMOS = demo_set_ups()
ODDITIES = ["high altitude", "very cold shop", "huge clearances", "tiny vessel"]
_made: dict[str, oilkit.BuildSheet] = {}


def sheet_of(name: str) -> oilkit.BuildSheet:
    if name not in _made:
        _made[name] = build_sheet(DEMOS[name])
    return _made[name]


# ----------------------------------------------------------------------------------------------------------- by hand

INCH, THOU, PSI, QUART, GPM = 0.0254, 2.54e-5, 6894.757293168, 946.352946e-6, 3.785411784e-3 / 60
CP, RPM = 1e-3, 1 / 60


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


class ByHand:
    """The street V8 of ``data/setup_street_v8.toml``, from the numbers in that file and textbook formulas alone."""

    air = 101_325.0 * (1.0 - 0.0065 * 800 * 0.3048 / 288.15) ** 5.25588
    sump, in_line, gas, shop = (celsius(f) + 273.15 for f in (230, 140, 115, 65))
    hot = 18 * PSI
    room, line, bore = 3 * QUART, 6 * 12 * INCH, 0.75 * INCH
    omega, turns = 2 * math.pi * 4500 * RPM, 4500 * RPM

    def viscosity(self, kelvin: float) -> float:
        """ASTM D341 through 68 cSt at 40 °C and 10.6 cSt at 100 °C, times density."""
        high, low = (math.log10(math.log10(nu + 0.7)) for nu in (68.0, 10.6))
        slope = (high - low) / math.log10(373.15 / 313.15)
        nu = 10**10 ** (high - slope * math.log10(kelvin / 313.15)) - 0.7
        return nu * 1e-6 * self.density(kelvin)

    def density(self, kelvin: float) -> float:
        return 868.0 * (1.0 - 7e-4 * (kelvin - 288.15))

    def bearings(self) -> list[tuple[float, ...]]:
        """Pressed flow per pascal, dragged flow, feed, inward and outward head of mains, rods and cams."""
        film, rho = 0.85 * self.viscosity(self.sump + 15.0), self.density(self.sump)
        found = []
        for count, d, width, clearance, hole, eps, turns in (
            (5, 2.45, 0.8, 2.5, 0.25, 0.7, 1.0),
            (8, 2.1, 0.8, 2.4, 0.2, 0.8, 1.0),
            (5, 1.87, 0.7, 3.0, 0.15, 0.4, 0.5),
        ):
            d, width, clearance, hole = d * INCH, width * INCH, clearance * THOU, hole * INCH
            if count == 5 and turns == 1.0:  # mains: half a groove of 0.15 in
                land = (width - 0.15 * INCH) / 2
                ring = math.pi * (d / 2) * (clearance / 2) ** 3 / (3 * film * land)
                half = (math.pi + 6 * eps + 1.5 * math.pi * eps**2 + 4 / 3 * eps**3) / (2 * math.pi)
                pressed, wide = ring * half, land
            else:
                q = 1.204 + 0.368 * hole / width - 1.046 * (hole / width) ** 2 + 1.942 * (hole / width) ** 3
                share = math.pi / 48 * (1 + 1.5 * eps**2) / (math.log(width / hole) * q)
                pressed, wide = clearance**3 / film * share, width
            drag = d**2 * clearance * self.omega * turns / 4 * (wide / d - 0.223 * (wide / d) ** 3) * eps
            area = 0.62 * math.pi * hole**2 / 4 * count
            spin = rho * self.omega**2 / 2
            inward = spin * ((1.225 * INCH) ** 2 - (0.45 * INCH) ** 2) if count == 8 else 0.0
            outward = spin * ((2.3 * INCH) ** 2 - (1.225 * INCH) ** 2) if count == 8 else 0.0
            found.append((count * pressed, count * drag, rho / (2 * area**2), inward, outward))
        # the rods' own diameter does not count in the crank: oil enters at the mains, radius 1.225 in
        return found

    def takes(self, p: float) -> float:
        if p <= 0.0:
            return 0.0
        rho = self.density(self.sump)
        lifters = 16 * 0.6 * math.pi * (0.022 * INCH) ** 2 / 4 * math.sqrt(2 * p / rho)
        total = lifters
        for pressed, drag, feed, inward, outward in self.bearings():
            most = math.sqrt(max(p - inward, 0.0) / feed)

            def short(q: float, k: float = pressed, d: float = drag, f: float = feed, o: float = outward) -> float:
                return k * (p - f * q**2 + o) + d - q

            wanted = brentq(short, 0.0, 1.0)
            total += min(wanted, most)
        return total

    def filter(self, flow: float) -> float:
        return min(3 * PSI * flow / (8 * GPM) * self.viscosity(self.sump) / (9 * CP), 12 * PSI)

    def poured(self, p: float, supply: float) -> float:
        """Pump less slip (a tenth at 3000 rpm, 50 psi, 9 cP) and relief, which feel the filter's drop as well."""
        swept = 1.2 * INCH**3 * 0.5
        pumped, slips = swept * self.turns * supply, swept * 0.1 * 50 * 9 * CP / (50 * PSI) / self.viscosity(self.sump)

        def surplus(q: float) -> float:
            outlet = p + self.filter(q)
            return pumped - slips * outlet - 10 * GPM * max(outlet - 58 * PSI, 0.0) / (12 * PSI) - q

        return brentq(surplus, 0.0, pumped) if surplus(0.0) > 0.0 < pumped else 0.0

    def running(self) -> float:
        return brentq(lambda p: self.poured(p, 1.0) - self.takes(p), 1 * PSI, 90 * PSI, xtol=1e-3)

    def loss(self, q: float) -> float:
        """Churchill's friction in 6 ft of 3/4 in, a port and a valve of 1/2 in, K = 1.5 + 1.0."""
        rho, mu = self.density(self.in_line), self.viscosity(self.in_line)
        v = q / (math.pi * self.bore**2 / 4)
        re = max(rho * abs(v) * self.bore / mu, 1e-6)
        a = (2.457 * math.log(1 / (7 / re) ** 0.9)) ** 16 if re > 7.1 else 0.0
        factor = 8 * ((8 / re) ** 12 + (a + (37530 / re) ** 16) ** -1.5) ** (1 / 12) if a else 64 / re
        narrow = q / (math.pi * (0.5 * INCH) ** 2 / 4)
        return math.copysign(rho / 2 * (factor * self.line / self.bore * v**2 + 2.5 * narrow**2), q)

    def protected(self) -> tuple[float, float]:
        """When the gallery falls below 20 psi, and its lowest pressure in 4.5 s: stiff equations, solved by scipy."""
        start = self.running()
        first = self.room * (self.hot + self.air) / (start + self.air)
        mass = (self.hot + self.air) * self.room / self.gas
        capacity = 0.5 * QUART * (0.05 / (start + self.air) + 1 / 1.5e9)
        inertance = self.density(self.in_line) * self.line / (math.pi * self.bore**2 / 4)
        wall, across = self.gas, 4.5 * INCH

        def rates(t: float, y: Any) -> list[float]:
            volume, q, p, kelvin = y
            push = mass * kelvin / volume - self.air
            supply = max(1.0 - t / 0.2, 0.0)
            home = volume >= self.room and q >= 0.0
            held = abs(q) < 1e-10 and abs(push - p) <= 1 * PSI
            dq = 0.0 if home or held else (push - p - math.copysign(1 * PSI, q or push - p) - self.loss(q)) / inertance
            flow = 0.0 if home else q
            dp = (self.poured(p, supply) + flow - self.takes(p)) / capacity
            touched = math.pi * across**2 / 2 + 4 * volume / across  # both ends and the side
            warming = 7.0 * touched * (wall - kelvin) / (2.5 * mass)
            return [flow, dq, dp, warming - 0.4 * kelvin * flow / volume]

        def below(t: float, y: Any) -> float:
            return float(y[2] - 20 * PSI)

        below.terminal = True  # type: ignore[attr-defined]
        scale = [1e-9, 1e-10, 1.0, 1e-4]
        run = solve_ivp(
            rates,
            (0.0, 12.0),
            [first, 0.0, start, wall],
            "Radau",
            rtol=1e-5,
            atol=scale,
            events=below,
            dense_output=True,
        )
        lowest = float(np.min(run.sol(np.linspace(0.0, 4.5, 2000))[2]))
        return float(run.t_events[0][0]), lowest


def test_the_street_v8_by_hand_from_first_principles() -> None:
    """Every main number of one sheet, without the package: formulas and numbers are written out above."""
    sheet, hand = sheet_of("street V8"), ByHand()
    set_by_hand = (hand.hot + hand.air) * hand.shop / hand.gas - hand.air
    assert sheet.precharge_to_set.m_as("psig") == pytest.approx(set_by_hand / PSI, abs=0.001)
    assert sheet.setting_error.m_as("psi") == pytest.approx(60 * 0.016)
    lower = (set_by_hand - 0.96 * PSI + hand.air) * hand.gas / hand.shop - hand.air
    assert sheet.hot_if_gauge_errs[0].m_as("psig") == pytest.approx(lower / PSI, abs=0.001)
    start = hand.running()
    assert sheet.events[0].start_pressure.m_as("psig") == pytest.approx(start / PSI, rel=1e-4)
    assert sheet.events[0].demand.m_as("gpm") == pytest.approx(hand.takes(start) / GPM, rel=1e-4)
    held = hand.room * (1 - (hand.hot + hand.air) / (start + hand.air))
    in_line = math.pi * hand.bore**2 / 4 * hand.line
    assert sheet.events[0].stored.m_as("qt") == pytest.approx(held / QUART, rel=1e-4)
    assert sheet.oil_to_add.m_as("qt") == pytest.approx((held + in_line) / QUART, rel=1e-4)
    level = {p.state: p for p in sheet.pan}
    full = (3.5 * 75 + 0.2 * 190) * INCH**3  # 3.7 in: the sump to 3.5 in, the wide part above
    with_vessel = full + held
    assert level["stopped, valve left open"].oil.m_as("qt") == pytest.approx(with_vessel / QUART, rel=1e-4)
    height = 3.5 + (with_vessel / INCH**3 - 3.5 * 75) / 190
    assert level["stopped, valve left open"].level.m_as("in") == pytest.approx(height, rel=1e-4)
    protected, lowest = hand.protected()
    assert sheet.events[0].protected_time.m_as("s") == pytest.approx(protected, rel=2e-3)
    assert sheet.events[0].lowest_pressure.m_as("psig") == pytest.approx(lowest / PSI, rel=2e-3)


# ---------------------------------------------------------------------------------------- three engines, four oddities


@pytest.mark.parametrize("name", parts.quick(3, DEMOS))
def test_numbers_equal_the_package(name: str) -> None:
    sheet, build = sheet_of(name), DEMOS[name]
    engine, oil, driving = build.engine, build.oil, build.driving
    here, there = (oilkit.ambient_pressure(place.altitude) for place in (driving, build.shop))
    hot = build.choice.precharge
    to_set = oilkit.precharge_to_set(hot, build.shop.temperature, driving.gas_temperature, there, here)
    assert sheet.precharge_to_set == to_set
    back = oilkit.precharge_at_temperature(to_set, build.shop.temperature, driving.gas_temperature, there, here)
    assert back.m_as("psig") == pytest.approx(hot.m_as("psig"))
    assert len(sheet.events) == 3
    for r in sheet.events:
        at = (r.event.speed, driving.sump_temperature, driving.clearance_change)
        start = oilkit.operating_point(engine, oil, *at).gallery_pressure
        assert r.start_pressure.m_as("psig") == pytest.approx(start.m_as("psig"), rel=1e-9)
        held = oilkit.oil_stored(build.vessel.gas_volume, hot, start, here, resting=True)
        assert r.stored.m_as("qt") == pytest.approx(held.m_as("qt"), abs=1e-9)
        rho = oilkit.density(driving.line_temperature, oil.density_15, oil.expansion)
        conditions = {
            "precharge": hot, "pressure": start, "speed": r.event.speed, "sump_temperature": driving.sump_temperature,
            "line_temperature": driving.line_temperature, "gas_temperature": driving.gas_temperature,
            "heat_transfer": build.estimates.heat_transfer, "pump_decay": r.event.pump_decay,
            "clearance_change": driving.clearance_change, "seal_friction": build.estimates.seal_friction,
            "head": oilkit.acceleration_head(rho, r.event.acceleration, build.line.reach), "ambient": here,
            "limit": build.limits.lowest_pressure,
        }  # fmt: skip
        run = oilkit.discharge(build.installation, accuracy=1e-7, **conditions)
        want, got = run.protected_time.m_as("s"), r.protected_time.m_as("s")
        assert got == pytest.approx(want, rel=3e-4, abs=2e-3)
        followed = oilkit.discharge(
            build.installation, r.event.lasts, samples=np.linspace(0, 1, 400) * r.event.lasts, **conditions
        )
        lowest = min(followed.history.gallery_pressure)
        assert r.lowest_pressure.m_as("psig") == pytest.approx(max(lowest.m_as("psig"), 0.0), rel=2e-3, abs=0.02)
        assert (r.verdict == PROTECTED) == bool(run.protected_time >= r.event.lasts)
    assert sheet.morning is None or sheet.night is not None
    if sheet.night is not None:
        night = oilkit.overnight(
            build.vessel, oil, hot, sheet.running_pressure, driving.gas_temperature, driving.line_temperature,
            build.morning.temperature, ambient=here,
        )  # fmt: skip
        assert sheet.night.pressure == night.pressure


def test_high_altitude_and_a_cold_shop_change_what_is_set() -> None:
    street, high, cold = (sheet_of(name) for name in ("street V8", "high altitude", "very cold shop"))
    assert street.precharge_hot == high.precharge_hot == cold.precharge_hot
    air_down = oilkit.ambient_pressure(Q(300, "ft")) - oilkit.ambient_pressure(Q(9000, "ft"))
    assert air_down.m_as("psia") == pytest.approx(4.02, abs=0.02)
    assert high.precharge_to_set.m < street.precharge_to_set.m - 3.0, (
        "the gas is dialled under more air than it works in"
    )
    kelvin = (celsius(-22) + 273.15) / (celsius(65) + 273.15)
    absolute = (street.precharge_to_set.m + 14.274) * kelvin - 14.274
    assert cold.precharge_to_set.m == pytest.approx(absolute, abs=0.02)


def test_it_says_plainly_when_no_vessel_helps() -> None:
    loose = sheet_of("huge clearances")
    assert loose.no_vessel_helps
    assert loose.verdict.startswith("No vessel helps here.")
    assert "builder close the clearances" in loose.verdict
    assert {r.verdict for r in loose.events} <= {PUMP_TOO_WEAK, LINE_TOO_NARROW}
    tiny = sheet_of("tiny vessel")
    assert not tiny.no_vessel_helps
    assert {r.verdict for r in tiny.events} == {NO_CAPACITY}
    for name in ("street V8", "small four", "race V8"):
        assert not sheet_of(name).no_vessel_helps


def test_the_vessel_that_would_help_helps() -> None:
    tiny = sheet_of("tiny vessel")
    for number, r in enumerate(tiny.events, 1):
        found = re.search(r"a vessel of about ([\d.]+) qt .*? with ([\d.]+) psig", r.words)
        assert found is not None
        volume, charge = found.groups()
        larger = DEMOS["tiny vessel"].changed({
            "vessel.gas_volume": f"{float(volume) * 1.02} qt", "choice.precharge": f"{charge} psi",
        })  # fmt: skip
        assert build_sheet(larger, 5, whole=False).events[number - 1].verdict == PROTECTED, r.words


def test_advice_to_close_clearances_stays_with_what_the_trade_builds() -> None:
    """A worn engine is told to go back; a healthy one is not told to build tighter than usual."""
    worn = DEMOS["street V8"].changed({"driving.clearance_change": "1.5 thou", "limits.lowest_pressure": "15 psi"})
    result = build_sheet(worn).events[0]
    assert result.verdict == NO_CAPACITY
    tighter = re.search(r"mains and rods ([\d.]+) thou", result.words)[1]  # type: ignore[index]
    assert float(tighter) <= 1.5
    assert all("tighter" not in r.words for r in sheet_of("tiny vessel").events)


def test_a_line_that_is_too_narrow_and_the_one_that_would_do() -> None:
    narrow = DEMOS["street V8"].changed({"hose.bore": "0.2 in", "hose.name": "far too narrow", "line.length": "12 ft"})
    sheet = build_sheet(narrow)
    assert {r.verdict for r in sheet.events} == {LINE_TOO_NARROW}
    assert sheet.no_vessel_helps
    bore = re.search(r"A hose with a bore of ([\d.]+) in", sheet.events[0].words)[1]  # type: ignore[index]
    wider = narrow.changed({"hose.bore": f"{bore} in"})
    assert build_sheet(wider, whole=False).events[0].verdict != LINE_TOO_NARROW


def test_another_precharge_is_named_and_works() -> None:
    wrong = DEMOS["street V8"].changed({"choice.precharge": "62 psi"})
    result = build_sheet(wrong).events[0]
    assert result.verdict == WRONG_CHARGE
    charge = re.search(r"with about ([\d.]+) psig", result.words)[1]  # type: ignore[index]
    right = wrong.changed({"choice.precharge": f"{charge} psi"})
    assert build_sheet(right, whole=False).events[0].verdict == PROTECTED


# ----------------------------------------------------------------------------------------------------------- the spread


def test_draws_are_spread_evenly_and_the_same_every_time() -> None:
    z = latin_hypercube(500, 7)
    assert z.shape == (INPUTS, 500)
    np.testing.assert_allclose(z.mean(axis=1), 0.0, atol=1e-12)
    np.testing.assert_allclose(z.std(axis=1), 1.0, atol=0.03)
    assert np.abs(np.corrcoef(z) - np.eye(INPUTS)).max() < 0.2
    assert np.abs(z).max() <= 2.5
    assert (z == latin_hypercube(500, 7)).all()
    assert (z != latin_hypercube(500, 8)).any()


def test_the_share_of_many_draws_by_plain_random_numbers() -> None:
    """800 variants of one event drawn without any hypercube, each followed by `discharge`: the share agrees."""
    build = DEMOS["street V8"]
    z = np.clip(np.random.default_rng(1).standard_normal((INPUTS, 800)), -2.5, 2.5)
    cases = vary(build, build.events[:1], z)
    names = {"line_length", "thermal_time_constant"}
    units = {name: kind.si for name, (kind, _) in CONDITIONS.items()}
    given = {name: Q(v, units[name]) for name, v in cases.conditions.items() if name not in names}
    run = oilkit.discharge(build.installation, accuracy=1e-3, **given)
    share = np.mean(run.protected_time.m_as("s") >= cases.lasts)
    assert sheet_of("street V8").events[0].share == pytest.approx(share, abs=0.06)


def test_tornado_by_one_change_at_a_time() -> None:
    sheet, build = sheet_of("street V8"), DEMOS["street V8"]
    sizes = [swing.size for swing in sheet.tornado]
    assert sizes == sorted(sizes, reverse=True)
    assert sheet.matter_most == tuple(swing.name for swing in sheet.tornado[:3])
    by_name = {swing.name: swing for swing in sheet.tornado}
    for name, changes in (
        ("clearance of mains and rods", {"driving.clearance_change": "0.3 thou"}),
        ("oil temperature, sump", {"driving.sump_temperature": "245 degF"}),
        ("oil temperature, line", {"driving.line_temperature": "165 degF"}),
        ("seal friction", {"estimates.seal_friction": "2 psi"}),
    ):
        other = build_sheet(build.changed(changes), 5, whole=False).events[0].protected_time
        assert by_name[name].at_high.m_as("s") == pytest.approx(other.m_as("s"), rel=3e-3), name


@pytest.mark.thorough
def test_nothing_uncertain_is_all_or_nothing() -> None:
    sure: dict[str, Any] = {}
    build = DEMOS["street V8"]
    for key, value in build.document["uncertain"].items():
        sure[f"uncertain.{key}"] = f"0 {value.split()[1]}" if isinstance(value, str) else 0
    sheet = build_sheet(build.changed(sure), 9)
    assert [r.share for r in sheet.events] == [1.0, 1.0, 1.0]
    assert sheet.matter_most == ()
    assert sheet.events[0].protected_low == sheet.events[0].protected_high
    assert sheet_html(sheet)
    assert sheet_pdf(sheet)


def test_the_flat_top_holds_what_it_says() -> None:
    sheet = sheet_of("street V8")
    top = sheet.top
    assert top is not None
    charges, share = top.precharge.m_as("psig"), top.share
    inside = (charges >= top.flat_from.m - 1e-9) & (charges <= top.flat_to.m + 1e-9)
    assert np.all(share[inside] >= top.best_share - 0.05 - 1e-9)
    assert top.best_share == pytest.approx(np.max(share))
    mine = int(np.argmin(np.abs(charges - sheet.precharge_hot.m_as("psig"))))
    assert share[mine] == pytest.approx(sheet.hardest.share), "the same draws"
    other = build_sheet(DEMOS["street V8"].changed({"choice.precharge": top.best}), whole=False)
    assert other.hardest.share == pytest.approx(top.best_share, abs=0.05)


@pytest.mark.parametrize(
    ("arguments", "name"), [({"draws": 0}, "draws"), ({"draws": 2.5}, "draws"), ({"seed": -1}, "seed")]
)
def test_bad_arguments(arguments: dict[str, Any], name: str) -> None:
    refused(name, lambda: build_sheet(DEMOS["street V8"], **arguments))
    refused("build", lambda: build_sheet("street V8"))  # type: ignore[arg-type]
    refused("sheet", lambda: write_sheet("x", "x.html"))  # type: ignore[arg-type]


def test_acceptance_values_are_the_cards() -> None:
    sheet = sheet_of("street V8")
    card = acceptance_card(as_handed_over(DEMOS["street V8"]))
    assert [value.reading for value in sheet.acceptance] == [value.reading for value in card]
    for one, usual in zip(sheet.acceptance, card, strict=True):
        assert one.si.expected == pytest.approx(usual.si.expected, rel=1e-9, abs=1e-9), "bands: test_calibration"
    charge = next(value for value in card if value.reading == "charge")
    assert charge.expected.m_as("psig") == pytest.approx(sheet.precharge_to_set.m_as("psig"))
    assert charge.low < charge.expected < charge.high


# ------------------------------------------------------------------------------------------------------- side by side


def test_side_by_side() -> None:
    first, second = DEMOS["street V8"], DEMOS["very cold shop"]
    rows = {row.name: (row.first, row.second) for row in input_differences(first, second)}
    assert rows == {
        "name": (first.name, second.name),
        "note": (first.note, second.note),
        "shop.temperature": ("65 degF", "-22 degF"),
    }
    assert input_differences(first, first) == []
    results = {row.name: row for row in result_differences(sheet_of("street V8"), sheet_of("very cold shop"))}
    assert results["pre-charge, hot"].first == results["pre-charge, hot"].second == "18.0 psig (1.24 barg)"
    assert results["pre-charge to set in the shop"].first != results["pre-charge to set in the shop"].second


# -------------------------------------------------------------------------------------------------------------- files


class Page(html.parser.HTMLParser):
    """Everything that a page would fetch, and its words."""

    void = ("meta", "line", "rect", "br", "img")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.fetched: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        for key, value in attrs:
            if key in ("src", "href", "data", "action", "xlink:href") or (value and "http" in value and key != "xmlns"):
                self.fetched.append(f"{tag} {key}={value}")
        assert tag not in ("script", "iframe", "object", "embed", "link", "base", "form")
        if tag not in self.void:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.void:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.mark.parametrize("name", list(DEMOS))
def test_html_is_one_page_of_its_own_with_every_number(name: str) -> None:
    sheet = sheet_of(name)
    text = sheet_html(sheet)
    page = Page(text)
    assert page.fetched == []
    assert "url(" not in text.replace("url(#high)", "")
    assert "@import" not in text
    words = " ".join(" ".join(page.words).split())
    for block in sheet_blocks(sheet):
        for part in [block.title, *block.head, *block.lines, *(cell for row in block.rows for cell in row)]:
            assert " ".join(part.split()) in words, part
    for needed in (sheet.verdict, *sheet.assumptions, *sheet.cautions, *sheet.matter_most):
        assert needed in words
    assert "never oxygen" in words
    assert tornado_words(sheet.tornado)[:30] in text
    assert sheet.build.text().strip()[:60] in words.replace("&quot;", '"') or "The set-up file" in words


def test_names_from_a_file_are_text_and_nothing_else() -> None:
    evil = '<script>alert(1)</script> $\\frac$ & "x" 机油'
    sheet = build_sheet(DEMOS["street V8"].changed({"name": evil, "driving.events 1.name": evil}), 5, whole=False)
    page = Page(sheet_html(sheet))
    assert any(evil in words for words in page.words)
    assert sheet_pdf(sheet).startswith(b"%PDF")


@pytest.mark.parametrize("name", ["3 | left", "# 4", "| 5 |", "- 6", "{{ 7 }}", "{% 8 %}"])
def test_a_name_is_one_cell_whatever_is_in_it(name: str) -> None:
    sheet = build_sheet(DEMOS["street V8"].changed({"driving.events 1.name": name}), 5, whole=False)
    track = sheet_blocks(sheet)[0]
    assert track.rows[0][0] == name
    assert {len(row) for row in track.rows} == {len(track.head)}


def letter_sizes(pdf: bytes) -> set[float]:
    """Sizes of all letters in a PDF, in points."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    sizes = set()
    for stream in streams:
        with contextlib.suppress(zlib.error):
            sizes |= {float(size) for size in re.findall(rb"/\S+ ([\d.]+) Tf", zlib.decompress(stream))}
    return sizes


def pages_of(pdf: bytes) -> int:
    assert pdf.startswith(b"%PDF")
    wide, high = (float(side) for side in re.search(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+)", pdf).groups())  # type: ignore[union-attr]
    assert wide <= 595.5
    assert high <= 792.0
    return pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ")


@pytest.mark.parametrize("name", parts.quick(1, ["street V8", "tiny vessel", "huge clearances"]))
def test_pdf_fits_on_a4_and_on_letter_in_letters_that_can_be_read(name: str) -> None:
    sheet = sheet_of(name)
    content, card = sheet_pdf(sheet), sheet_pdf(sheet, card=True)
    assert pages_of(content) == 3
    assert min(letter_sizes(content)) >= 8.0
    assert sheet_pdf(sheet) == content, "no time of day in it"
    assert pages_of(card) == 1
    assert min(letter_sizes(card)) >= 12.0


@pytest.mark.thorough
def test_twelve_events_with_long_names_still_fit() -> None:
    event = dict(DEMOS["street V8"].document["driving"]["events"][0])
    events = [event | {"name": f"corner number {k} after the long straight with the bump"} for k in range(12)]
    driving = DEMOS["street V8"].document["driving"] | {"events": events}
    sheet = build_sheet(DEMOS["street V8"].changed({"driving": driving, "name": 12 * "long name "}), 5, whole=False)
    assert len(sheet.events) == 12
    assert pages_of(sheet_pdf(sheet)) <= 4
    assert min(letter_sizes(sheet_pdf(sheet))) >= 8.0
    card = sheet_pdf(sheet, card=True)
    assert pages_of(card) == 1
    assert min(letter_sizes(card)) >= 12.0


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_card_says_what_the_sheet_says_in_one_system_of_units(system: str) -> None:
    sheet = sheet_of("small four")
    unit_switch.choose(system)
    document = card_document(sheet)
    words = " ".join(
        [document.verdict, *(w for b in document.blocks for w in (*b.head, *b.lines, *itertools.chain(*b.rows)))]
    )
    other = {"US": ("barg", " L,", "°C"), "SI": ("psig", "qt", "°F")}[system]
    assert not any(unit in words for unit in other)
    assert GAUGE.text(float(sheet.precharge_to_set.m_as("Pag"))) in document.blocks[1].rows[0]
    assert OIL.text(float(sheet.oil_to_add.m_as("m**3"))) in words
    shown = {row[0]: row for row in document.blocks[3].rows}
    for value in sheet.acceptance:
        if value.reading in CARD_READINGS and value.reading not in ("charge", "next_day"):
            assert shown[value.label][1] == value.kind.text(value.si.expected)
    shop = TEMPERATURE.text(sheet.build.shop.si.temperature)
    wanted = {v.reading: v.label for v in sheet.acceptance if v.reading in CARD_READINGS}
    wanted |= {reading: f"{wanted[reading]}, {shop}" for reading in ("charge", "next_day")}
    assert list(shown) == [*wanted.values(), "initials"]
    (charge,) = (v for v in sheet.acceptance if v.reading == "charge")
    assert shown[wanted["charge"]][1] == GAUGE.text(charge.si.expected)
    assert document.blocks[0].title == "First", "cautions come first"
    assert "never oxygen" in document.blocks[0].lines[0]
    html = sheet_html(sheet, card=True)
    assert all(escape(line) in html for block in document.blocks for line in block.lines), "beside a table as well"
    assert "your vessel's plate" in " ".join(document.blocks[0].lines), "an invented rating is nobody's limit"


@pytest.mark.parametrize("system", ["US", "SI"])
def test_a_card_for_a_track_at_another_altitude_says_what_to_set_there(system: str) -> None:
    """Set by its row at either place, the gas has the pre-charge wanted when it is hot at the track."""
    unit_switch.choose(system)
    far = DEMOS["small four"].changed({"shop.altitude": "0 ft", "driving.altitude": "7000 ft"})
    sheet = build_sheet(far, 20)
    block = card_document(sheet).blocks[1]
    assert [row[0] for row in block.rows] == [f"set at {ALTITUDE.text(m)}" for m in (0.0, 7000 * 0.3048)]
    air = {0.0: 101_325.0, 7000 * 0.3048: 101_325.0 * (1.0 - 2.25577e-5 * 7000 * 0.3048) ** 5.25588}  # ISA
    shop, hot = far.shop.si.temperature, far.driving.si.gas_temperature
    for row, here in zip(block.rows, air.values(), strict=True):
        to_set = float(row[3].split()[0]) * {"US": 6894.757, "SI": 1e5}[system]
        gauge = (to_set + here) * hot / shop - air[7000 * 0.3048]
        assert gauge == pytest.approx(far.choice.si.precharge, abs=0.12 * 6894.757)
    assert pages_of(sheet_pdf(sheet, card=True)) == 1
    assert min(letter_sizes(sheet_pdf(sheet, card=True))) >= 12.0
    near = far.changed({"shop.altitude": "6600 ft"})
    assert [row[0] for row in card_document(build_sheet(near, 1, whole=False)).blocks[1].rows] == [
        f"set at {ALTITUDE.text(6600 * 0.3048)}"
    ]


def test_the_sheet_says_why_a_looser_engine_does_not_want_less() -> None:
    """Held against single discharges: no pre-charge tried lasts longer than the one that is named."""
    sheet = sheet_of("street V8")
    assert sheet.top is not None
    for change, longest in ((0.0, sheet.top.longest), (1.0, sheet.top.longest_looser)):
        build = sheet.build.changed({"driving.clearance_change": Q(change, "thou")})

        def lasts(charge: Any, build: Any = build) -> float:
            alone = build_sheet(build.changed({"choice.precharge": charge}), 1, whole=False)
            return next(float(e.protected_time.m) for e in alone.events if e.event.name == sheet.hardest.event.name)

        tried = sheet.top.precharge.m_as("psig")
        at = int(np.argmin(abs(tried - longest.m_as("psig"))))
        assert lasts(longest) >= max(lasts(Q(tried[k], "psig")) for k in (at - 1, at + 1)) - 1e-6
    wants_less = sheet.top.longest_looser.m < sheet.top.longest.m
    said = " ".join(line for block in sheet_blocks(sheet) for line in block.lines)
    assert ("The trade says that looser" in said) is not wants_less


def test_a_card_of_a_set_up_that_does_not_hold_says_so_first() -> None:
    assert card_document(sheet_of("tiny vessel")).verdict.startswith("NOT protected: ")
    assert card_document(sheet_of("street V8")).verdict.startswith("Hot idle of ")
    idle = DEMOS["small four"].changed({"choice.precharge": "40 psig"})
    assert "never fills this pre-charge" in card_document(build_sheet(idle, 5, whole=False)).verdict
    gauge = {"gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF"}
    seen = {"pressure": "60 psi", "speed": "700 rpm", "oil_temperature": "230 degF"}
    readings = gauge | {"hot_idle": seen, "hot_at_speed": seen | {"pressure": "30 psi", "speed": "1500 rpm"}}
    contradict = build_sheet(DEMOS["small four"].changed({"readings": readings}), 5, whole=False)
    assert "TRUST NO NUMBER" in card_document(contradict).verdict
    rated = DEMOS["street V8"].changed({"vessel.rated_pressure": "62 psig"})
    assert card_document(build_sheet(rated, 5, whole=False)).verdict.startswith("STOP")


@pytest.mark.parametrize("ending", parts.quick(2, [".html", ".toml", ".pdf"]))
def test_a_sheet_goes_over_its_own_and_over_nothing_else(tmp_path: Path, ending: str) -> None:
    sheet, path = sheet_of("street V8"), tmp_path / f"mine{ending}"
    write_sheet(sheet, path)
    first = path.read_bytes()
    write_sheet(sheet, path)
    assert path.read_bytes() == first
    path.write_text("somebody's notes")
    refused(path.name, lambda: write_sheet(sheet, path))
    assert path.read_text() == "somebody's notes"
    write_sheet(sheet, path, overwrite=True)
    assert path.read_bytes() == first


def test_a_full_disk_leaves_the_sheet_that_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet = sheet_of("street V8")
    write_sheet(sheet, tmp_path / "mine.html")
    refused("mine.doc", lambda: write_sheet(sheet, tmp_path / "mine.doc"))
    refused("mine", lambda: write_sheet(sheet, tmp_path / "mine"))
    before = (tmp_path / "mine.html").read_bytes()

    def full(*args: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("oilkit.storage.saving.os.fsync", full)
    refused("mine.html", lambda: write_sheet(sheet, tmp_path / "mine.html"))
    assert (tmp_path / "mine.html").read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["mine.html"]


def quick(changes: dict[str, Any], name: str = "street V8") -> Any:
    return build_sheet(DEMOS[name].changed(changes), whole=False)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"vessel.rated_pressure": Q(12, "psig")}, "at the redline with oil of"),
        ({"vessel.rated_pressure": Q(66, "psig")}, "at the redline with oil of"),  # events stay below 64 psi
        ({"vessel.rated_pressure": Q(72, "psig"), "line.tee": "before the filter"}, "at the redline with oil of"),
        ({"vessel.rated_pressure": Q(72, "psig"), "morning.temperature": Q(75, "degC")}, "parked, in the morning"),
        ({"choice.precharge": Q(160, "psig")}, "the pre-charge, hot"),
        ({"choice.precharge": Q(145, "psig"), "driving.gas_temperature": Q(0, "degC")}, "the pre-charge as set"),
    ],
)
def test_above_the_vessels_rating_the_sheet_says_stop_before_anything_else(changes: dict[str, Any], why: str) -> None:
    sheet = quick(changes)
    assert sheet.verdict.startswith("STOP: ")
    assert why in sheet.verdict
    assert sheet.cautions[0] == sheet.verdict[: len(sheet.cautions[0])]
    if sheet.running_pressure.m_as("psig") > sheet.build.vessel.rated_pressure.m_as("psig"):
        assert sheet.morning is None
        assert crank(sheet) == "not above the vessel's rating"
    where, highest = sheet.highest
    assert where in sheet.verdict
    assert highest.m_as("psig") > sheet.build.vessel.rated_pressure.m_as("psig")


@pytest.mark.parametrize("name", list(DEMOS))
def test_demo_set_ups_stay_below_their_vessels_rating(name: str) -> None:
    sheet = sheet_of(name)
    assert "STOP" not in sheet.verdict + "".join(sheet.cautions)
    engine, driving = sheet.build.engine, sheet.build.driving
    fast = oilkit.operating_point(
        engine, sheet.build.oil, engine.redline, driving.sump_temperature, driving.clearance_change
    )
    assert sheet.highest[1].m_as("psig") >= fast.gallery_pressure.m_as("psig") - 1e-9
    assert sheet.highest[1].m_as("psig") >= max(r.start_pressure.m_as("psig") for r in sheet.events) - 1e-9


@pytest.mark.parametrize("name", ["street V8", "small four"])
def test_a_hot_idle_below_what_the_engine_needs_is_a_caution(name: str) -> None:
    """The street V8's invented day is hot and its idle weak; the small four has oil to spare."""
    sheet = sheet_of(name)
    needs = max(sheet.build.limits.lowest_pressure.m_as("psig"), sheet.build.engine.warning.m_as("psig"))
    weak = sheet.idle_pressure.m_as("psig") < needs
    assert weak == (name == "street V8")
    assert any("No vessel cures that" in caution for caution in sheet.cautions) == weak


def test_a_vessel_before_filter_and_cooler_fills_at_the_pressure_there() -> None:
    """More oil than behind them, and the rating counts there too. By hand: Boyle with `operating_point`'s pressures."""
    behind = DEMOS["race V8"]
    first = behind.changed({"line.tee": "before the filter"})
    driving = behind.driving
    for build, name in ((behind, "gallery_pressure"), (first, "pump_pressure")):
        sheet = build_sheet(build, 1, whole=False)
        for result in sheet.events:
            at = (result.event.speed, driving.sump_temperature, driving.clearance_change)
            tee = getattr(oilkit.operating_point(build.engine, build.oil, *at), name)
            assert result.settled.m_as("psig") == pytest.approx(tee.m_as("psig"), rel=1e-6)
            held = oilkit.oil_stored(build.vessel.gas_volume, build.choice.precharge, tee, build.track_ambient)
            assert result.stored.m_as("qt") == pytest.approx(held.m_as("qt"), rel=1e-6)
        assert sheet.highest[1].m_as("psig") >= max(r.settled.m_as("psig") for r in sheet.events) - 1e-9


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"vessel.gas_volume": Q(2000, "qt")}, "gas volume of the vessel, 2000.00 qt"),
        ({"engine.rods.diametral_clearance": Q(0.0022, "thou")}, "clearance of the rods, 0.00 thou"),
        ({"line.length": Q(60, "ft")}, "length of the line, 60.0 ft"),
        ({"oil.density_15": Q(700, "kg/m**3")}, "density 15 of the oil, 5.84 lb/gal (700 kg/m³). Is its unit right"),
        ({"hose.bore": Q(6, "mm")}, "bore of the hose, 0.236 in"),
        ({"driving.events 1.lasts": Q(0.05, "s")}, "length of “long fast corner”, 0.05 s. Is its unit right"),
        ({"choice.precharge": "0.5 psi"}, "precharge under [choice], 0.5 psig"),
    ],
)
def test_a_number_that_is_more_likely_a_slip_is_asked_about(changes: dict[str, Any], said: str) -> None:
    assert any(line.startswith(f"Unusual: {said}") and "unit" in line for line in quick(changes).cautions)


def test_an_event_above_the_redline_is_asked_about() -> None:
    asked = quick({"driving.events 2.speed": Q(9000, "rpm")}).build.questions
    (line,) = asked
    assert line.startswith("Unusual: speed of “hard braking”, 9000 rpm. The redline is 6000 rpm")
    assert line in quick({"driving.events 2.speed": Q(9000, "rpm")}).cautions


def test_an_event_below_idle_or_longer_than_any_corner_is_asked_about() -> None:
    asked = DEMOS["street V8"].changed({"driving.events 2.speed": Q(450, "rpm")}).questions
    (line,) = asked
    assert line.startswith("Unusual: speed of “hard braking”, 450 rpm. The engine idles at 700 rpm")
    (line,) = DEMOS["street V8"].changed({"driving.events 2.lasts": Q(45, "s")}).questions
    assert line.startswith("Unusual: length of “hard braking”, 45.00 s")
    assert not DEMOS["street V8"].changed({"driving.events 2.lasts": Q(20, "s")}).questions


@pytest.mark.parametrize("bearing", ["mains", "rods"])
@pytest.mark.parametrize("name", ["street V8", "small four", "race V8"])
def test_a_radial_clearance_is_asked_about(name: str, bearing: str) -> None:
    build, key = DEMOS[name], f"engine.{bearing}.diametral_clearance"
    part = getattr(build.engine, bearing)
    usual = part.diameter.m_as("in")  # thousandths of an inch
    asked = build.changed({key: Q(0.6 * usual, "thou")}).questions
    (line,) = asked
    assert line.startswith(f"Unusual: clearance of the {bearing}, {0.6 * usual:.2f} thou")
    assert "60 % of what is usual: is it radial? Type the diametral clearance, twice as much." in line
    assert not build.changed({key: Q(0.7 * usual, "thou")}).questions


def test_a_vessel_in_the_trunk_is_taken_and_its_head_counts() -> None:
    """Ten feet of oil at 1 g away from the vessel hold back what a column as high would: some 3.6 psi."""
    street = DEMOS["street V8"]
    far = street.changed({"line.reach": "10 ft", "line.length": "14 ft"})
    assert far.questions == ()
    (line,) = street.changed({"line.reach": "15 ft"}).questions
    assert line.startswith("Unusual: reach of the line, 180.00 in")
    refused("the set-up, [line], reach", lambda: street.changed({"line.reach": "20 ft"}))
    holds = -float(head(far, 850.0, -9.80665)) / 6894.757
    assert holds == pytest.approx(850.0 * 9.80665 * 3.048 / 6894.757, rel=1e-6)
    assert 3.5 < holds < 3.8


@pytest.mark.parametrize("name", list(DEMOS))
def test_nothing_in_the_kits_own_set_ups_is_asked_about(name: str) -> None:
    assert DEMOS[name].questions == ()


def test_why_there_are_no_acceptance_values_is_told() -> None:
    card, why = _acceptance(DEMOS["street V8"].changed({"engine.rods.diametral_clearance": Q(0.0022, "thou")}))
    assert card == ()
    assert why.startswith("no acceptance values: within their spread clearance_change would be -0.30 thou; wanted ")


def robust_words(sheet: oilkit.BuildSheet) -> str:
    return " ".join(next(block.lines for block in sheet_blocks(sheet) if block.title.startswith("Where it is robust")))


def test_the_way_to_the_flat_top_is_told() -> None:
    sheet = sheet_of("street V8")
    low, high = float(sheet.top.flat_from.m_as("Pag")), float(sheet.top.flat_to.m_as("Pag"))

    def said(chosen: float, error: float) -> str:
        return robust_words(replace(sheet, precharge_hot=Q(chosen, "Pag"), setting_error=Q(error, "Pa")))

    assert "low side" in said(low - 1e4, 1e3)
    assert "more of it protects" in said(low, 1e3)
    assert "less of it protects" in said(high, 1e3)
    assert "with room" in said((low + high) / 2.0, 1e3)
    assert "better gauge" in said(low, high - low)


@pytest.mark.parametrize("tolerance", [0.0, 20.0])
def test_a_draw_longer_than_the_horizon_is_watched_to_its_end(tolerance: float) -> None:
    """A vessel that lasts somewhat longer than the kit watches as a rule, by `discharge` over ten minutes."""
    corner = {"name": "long", "speed": "2000 rpm", "lasts": f"{HORIZON} s", "pump_decay": "0 s"}
    changes: dict[str, Any] = {
        "vessel.gas_volume": "16 qt", "choice.precharge": "15 psi", "limits.tolerance": f"{tolerance} s",
        "driving.events": [corner | {"acceleration": "0 g_0"}], "uncertain.event_length": 0.3,
    }  # fmt: skip
    build = DEMOS["small four"].changed(changes)
    cases = vary(build, build.events, together(build, latin_hypercube(40, 3)))
    units = {name: kind.si for name, (kind, _) in CONDITIONS.items()}
    given = {name: Q(v, units[name]) for name, v in cases.conditions.items() if not np.any(np.isnan(v))}
    times = oilkit.discharge(build.installation, Q(600, "s"), 1e-5, **given).protected_time.m_as("s")
    share = np.mean(times >= cases.lasts)
    assert np.any((times > HORIZON) & (times < cases.lasts)), "some draws fail between the horizon and their end"
    sheet = build_sheet(build, 40, 3, whole=False)
    assert sheet.hardest.share == pytest.approx(share, abs=1e-9)
    assert sheet.hardest.verdict == PROTECTED
    assert LENGTH_NAME in sheet.hardest.turning
    assert "over 60 s" in " ".join(itertools.chain(*sheet_blocks(sheet)[0].rows))
    bought = what_to_buy(build, 40, 3)
    own = bought.vessels.index(build.vessel)
    hot = build.changed({"choice.precharge": bought.precharge[own]})
    assert bought.share[own, bought.own] == pytest.approx(build_sheet(hot, 40, 3, whole=False).hardest.share, abs=0.03)
    longer = {"driving.events 1.lasts": f"{HORIZON + 0.1} s"}
    assert "up to 60.00 s" in refused("the set-up, [driving.events 1], lasts", lambda: build.changed(longer))


def test_what_one_input_leaves_unprotected_is_said_of_each_event() -> None:
    """The hardest event stands whatever one input does; the other does not, by one discharge with a faster pump."""
    flat = {"acceleration": "0 g_0"}
    events = [
        flat | {"name": "A", "speed": "4500 rpm", "lasts": "4.7 s", "pump_decay": "0 s"},
        flat | {"name": "B", "speed": "3500 rpm", "lasts": "6.8 s", "pump_decay": "4 s"},
    ]
    sizes = {
        "pump_decay": 0.9, "event_length": 0, "clearance": "0.12 thou", "sump_temperature": "9 delta_degF",
        "gas_temperature": "20 delta_degF", "heat_transfer": 0.2,
    }  # fmt: skip
    build = DEMOS["street V8"].changed({"driving.events": events} | {f"uncertain.{key}": v for key, v in sizes.items()})
    sheet = build_sheet(build, whole=False)
    faster = build.changed({"driving.events 2.pump_decay": Q(4.0 * math.exp(-0.9), "s")})
    assert build_sheet(faster, 1, whole=False).events[1].protected_time < faster.events[1].lasts
    assert [r.event.name for r in sheet.events if r.verdict == PROTECTED] == ["A", "B"]
    assert (sheet.hardest.event.name, sheet.hardest.turning) == ("A", ())
    assert sheet.events[1].turning == ("how fast the pump fades",)
    assert "Alone enough to leave “B” unprotected, as far off as stated: how fast the pump fades." in robust_words(
        sheet
    )
    assert "No single input" not in robust_words(sheet)
    calm = build_sheet(build.changed({"uncertain.pump_decay": 0.01}), whole=False)
    assert "No single input, as far off as stated, leaves an event unprotected." in robust_words(calm)


@pytest.mark.parametrize("longer", [1e-3, -1e-3, 1e-8])
def test_two_times_that_differ_are_never_printed_alike(longer: float) -> None:
    """An event somewhat longer than the protected time, or shorter."""
    build = DEMOS["street V8"].changed({"driving.events": DEMOS["street V8"].document["driving"]["events"][:1]})
    time = build_sheet(build, 1).hardest.protected_time.m_as("s")
    sheet = build_sheet(build.changed({"driving.events 1.lasts": Q(time + longer, "s")}), 20)
    (result,) = sheet.events
    assert (result.verdict == PROTECTED) == (longer < 0.0)
    row = sheet_blocks(sheet)[0].rows[0]
    event, protected = (row[k].split()[0] for k in (1, 3))
    assert (float(event) > float(protected)) == (longer > 0.0)
    for words in (result.words, " ".join(w.text for w in tornado_chart(sheet).words)):
        assert f"{protected} s" in words
        assert f"{event} s" in words
    rows = {row.name: row.first for row in result_differences(sheet, sheet)}
    assert (rows["… it lasts"], rows["… protected for"]) == (f"{event} s", f"{protected} s")


def test_only_all_draws_are_a_hundred_percent() -> None:
    assert [percent(share) for share in (0.0, 0.967, 0.9949, 0.9951, 0.9975, 1.0, 1.0 - 1e-15)] == [
        "0 %", "97 %", "99 %", "over 99 %", "over 99 %", "100 %", "100 %",
    ]  # fmt: skip
    sheet = sheet_of("street V8")
    for share in (0.9975, 1.0):
        result = replace(sheet.hardest, share=share)
        rows = sheet_blocks(replace(sheet, events=(result,), hardest=result))[0].rows
        assert rows[0][5] == percent(share)


def test_robust_and_fragile_in_words() -> None:
    said = robust_words(sheet_of("street V8"))
    assert "fragile" in said or "fair" in said
    assert "Matter most: clearance of mains and rods" in said


# ---------------------------------------------------------------------------------------------- the form's own files


def test_the_form_loads_and_saves_and_writes_its_sheet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    panel = panels.your_engine()
    panel.controls["precharge"].box.value = "21.5 psi"
    panel.controls["vessel"].set("large vessel, 5 L (invented)")
    panel.update()
    for button in (panel._save, panel._html, panel._pdf, panel._card):
        button.click()
        assert (panel.trouble, panel.errors) == ("", [])
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "my_set_up card.pdf",
        *(f"my_set_up.{e}" for e in ("html", "pdf", "toml")),
    ]
    saved = oilkit.read_set_up("my_set_up.toml")
    assert saved.choice.precharge.m_as("psig") == pytest.approx(21.5)
    assert saved.vessel == oilkit.vessels()["large"]
    again = panels.your_engine()
    again._load.click()
    assert again.values == panel.values
    assert again.controls["vessel"].value is None, "as in the set-up"
    again.controls["precharge"].box.value = "rubbish"
    again._save.click()
    assert "a box with an error" in again.trouble
    assert oilkit.read_set_up("my_set_up.toml").document == saved.document
    panel.close()
    again.close()


def test_a_file_beyond_the_sliders_is_shown_as_it_is() -> None:
    far = DEMOS["street V8"].changed(
        {"choice.precharge": "58 psi", "shop.temperature": "-40 degF", "driving.altitude": "-900 ft"}
    )
    panel = panels.your_engine(far)
    assert panel.build_now.document["choice"]["precharge"] in ("58 psig", "4.0 barg")
    assert panel.controls["precharge"].quantity.m_as("psig") == pytest.approx(58.0)
    assert panel.controls["track_altitude"].quantity.m_as("ft") == pytest.approx(-900.0)
    assert panel.values["pre-charge to set in the shop"].m == pytest.approx(
        build_sheet(far, 1, whole=False).precharge_to_set.m
    )
    panel.close()


def test_a_bad_file_leaves_the_form_as_it_stands(tmp_path: Path) -> None:
    panel = panels.your_engine()
    panel.controls["lasts"].slider.value = 3.0
    before = panel.readout
    good = DEMOS["street V8"].text()
    for content, part in (
        (good.replace('"3 qt"', '"3"'), "line 102, [vessel], gas_volume"),
        (good.replace("version = 1", "version = 9"), "from a newer oilkit"),
        ("rubbish", "not TOML"),
        (good.replace('clearance_change = "0 thou"', 'clearance_change = "-2.399 thou"'), ""),
    ):
        (tmp_path / "bad.toml").write_text(content, encoding="utf-8")
        panel._file.value = str(tmp_path / "bad.toml")
        panel._load.click()
        if part:
            assert part in panel.trouble
            assert panel.readout == before
        assert panel.errors == []
    item = {"name": "../../up.toml", "content": memoryview(good.replace("18 psi", "19 psi").encode())}
    panel._uploaded({"new": (item,)})
    assert panel._file.value == "up.toml", "a bare name, wherever it came from"
    assert panel.controls["precharge"].quantity.m_as("psig") == pytest.approx(19.0)
    panel._uploaded({"new": ({"name": "x.toml", "content": b"\xff"},)})
    assert "not UTF-8" in panel.trouble
    panel._file.value = "notes.txt"
    panel._save.click()
    assert "ending with .toml" in panel.trouble
    panel.close()


def test_sides_of_a_comparison_are_the_sheets_own() -> None:
    """Worked out together, and without what nobody sees there: the same numbers as in each sheet."""
    seen = {"pressure": "15 psi", "speed": "700 rpm", "oil_temperature": "230 degF"}
    gauge = {"gauge_full_scale": "100 psi", "gauge_class": 1.6, "thermometer_error": "5 degF"}
    builds = [*DEMOS.values(), DEMOS["street V8"].changed({"readings": gauge | {"hot_idle": seen}})]
    verdicts = set()
    for side, build in zip(side_by_side(builds, 8), builds, strict=True):
        sheet, of = build_sheet(build, 8, whole=False), side.hardest
        assert (of.event, of.matter_most, of.share) == (sheet.hardest.event, sheet.matter_most, sheet.hardest.share)
        assert (of.no_vessel_helps, side.questions) == (sheet.no_vessel_helps, sheet.build.questions)
        numbers = {"precharge_to_set": "Pag", "oil_to_add": "m**3"}
        assert [getattr(side, name) for name in numbers] == pytest.approx(
            [getattr(sheet, name).m_as(unit) for name, unit in numbers.items()]
        )
        assert of.running_pressure == pytest.approx(sheet.running_pressure.m_as("Pag"))
        for name in ("limit", "lowest_pressure", "lowest_low", "lowest_high"):
            assert getattr(of, name) == pytest.approx(getattr(sheet.hardest, name).m_as("Pag"))
        for name in ("protected_time", "protected_low", "protected_high"):
            assert getattr(of, name) == pytest.approx(getattr(sheet.hardest, name).m_as("s"))
        verdicts.add(of.no_vessel_helps)
    assert verdicts == {True, False}


def test_compare_takes_files_of_your_own(tmp_path: Path) -> None:
    for name in ("street V8", "tiny vessel"):
        oilkit.write_set_up(DEMOS[name], tmp_path / f"{name}.toml")
    panel = panels.compare_set_ups(tmp_path / "street V8.toml", DEMOS["tiny vessel"])
    assert "vessel.gas_volume" in panel.summary(panel.state)
    panel.controls["second"].set(panel.controls["first"].value)
    panel.update()
    assert "Both are the same" in panel.summary(panel.state)
    panel.close()


# ----------------------------------------------------------------------------------------------- numbers of no engine


@pytest.mark.parametrize(
    "changes",
    parts.quick(
        2,
        [
            {"vessel.gas_volume": "1 mL"},
            {"vessel.gas_volume": "2000 qt"},
            {"line.length": "300 ft"},
            {"line.length": "0.01 in"},
            {"driving.sump_temperature": "-40 degF", "driving.line_temperature": "-40 degF"},
            {"driving.sump_temperature": "600 degF"},
            {"choice.precharge": "0 psi"},
            {"choice.precharge": "5000 psi"},
            {"limits.lowest_pressure": "0.001 psi"},
            {"limits.lowest_pressure": "500 psi"},
            {"driving.events 1.lasts": "0.001 s"},
            {"driving.events 1.lasts": "60 s", "uncertain.event_length": 1},
            {"driving.events 1.speed": "1 rpm"},
            {"driving.events 1.speed": "29000 rpm"},
            {"driving.events 1.acceleration": "-30 g_0"},
            {"estimates.heat_transfer": "0 W/m**2/K"},
            {"estimates.seal_friction": "200 psi"},
            {"estimates.air_in_gallery": 1},
            {"estimates.check_valve_leak": "50 gpm"},
            {"uncertain.clearance": "50 thou"},
            {"uncertain.sump_temperature": "100 K"},
            {"uncertain.event_length": 1, "uncertain.pump_decay": 1, "uncertain.heat_transfer": 1},
            {"uncertain.precharge": "100 psi", "uncertain.start_pressure": "100 psi"},
            {"driving.altitude": "36000 ft", "shop.altitude": "-1600 ft"},
            {"morning.temperature": "-60 degF", "morning.empty_galleries": 1},
            {"morning.opening_time": "200 s"},
            {"engine.mains.count": 0, "engine.rods.count": 0, "engine.cams.count": 0, "engine.lifters.count": 0},
            {"line.height": "-60 in", "line.reach": "70 in"},
        ],
    ),
    ids=lambda changes: ", ".join(changes),
)
def test_numbers_of_no_engine_give_a_sheet_or_one_sentence(changes: dict[str, Any]) -> None:
    try:
        sheet = build_sheet(DEMOS["street V8"].changed(changes), 12)
    except InputError as problem:
        sentence = str(problem)
        assert "\n" not in sentence
        return
    page = sheet_html(sheet)
    assert "nan" not in re.sub(r"[a-z]nan|nan[a-z]", "", page.lower())
    assert sheet_pdf(sheet).startswith(b"%PDF")


def test_the_form_asks_about_what_is_unlikely() -> None:
    from oilkit.panels.lessons.lesson_10_your_engine import CompareSetUps, YourEngine

    slip = DEMOS["street V8"].changed({"hose.bore": Q(6, "mm")})
    (asked,) = slip.questions
    for panel in (YourEngine(slip), CompareSetUps(DEMOS["street V8"], slip)):
        assert asked in panel.summary(panel.state)
        panel.close()
    usual = YourEngine(DEMOS["street V8"])
    assert "Unusual" not in usual.summary(usual.state)
    usual.close()


def test_where_the_rods_need_more_than_the_limit_that_counts() -> None:
    """At 7800 rpm oil loses 33 psi on its way into this crank: 20 psi at the gallery would leave the rods dry."""
    street = demo_set_ups()["street V8"]
    build = street.changed({"engine.redline": "8500 rpm", "driving.events 1.speed": "7800 rpm"})
    event = build_sheet(build, 30, whole=False).events[0]
    rho = oilkit.density(build.driving.sump_temperature, build.oil.density_15, build.oil.expansion)
    e = build.engine
    need = oilkit.crank_inward_loss(Q(7800, "rpm"), rho, e.mains.diameter, 2 * e.crank_nearest).m_as("psi")
    assert 30.0 < need < 36.0
    assert event.limit.m_as("psig") == pytest.approx(need, rel=1e-9)
    higher = build.changed({"limits.lowest_pressure": Q(need, "psig")})
    lower = build.changed({"engine.crank_nearest": "1.2 in"})
    assert event.protected_time.m == pytest.approx(build_sheet(higher, 30, whole=False).events[0].protected_time.m)
    assert event.protected_time < build_sheet(lower, 30, whole=False).events[0].protected_time
    cautions = build_sheet(build, 30, whole=False).cautions
    assert any("the rods get no oil below" in line and "protects the mains alone" in line for line in cautions)
    assert not any("the rods get no oil" in line for line in build_sheet(street, 30, whole=False).cautions)
