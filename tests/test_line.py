"""The line: what it holds, what it costs, what its weight does, and the flow that a pressure drives through it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from outside_rows.row import GPM, INCH, PSI, QUART
from randomly import number, spread, tried
from sentences import refused

from oilkit import (
    Element,
    Fitting,
    Hose,
    Q,
    SupplyLine,
    acceleration_head,
    column_time,
    fitting_drop,
    friction_factor,
    line_drop,
    line_volume,
    reynolds_number,
    supply_drop,
    supply_flow,
    velocity_in,
)
from oilkit.physics.line import laminar_drop
from oilkit.physics.tee import tee_flow
from oilkit.quantities.units import Qty

FOOT = 12 * INCH
OIL = Q(850, "kg/m**3"), Q(20, "cP")

# ------------------------------------------------------------------------------------------------------ by hand


def test_a_line_holds_a_cylinder_of_oil() -> None:
    volume = line_volume(Q(0.75, "in"), Q(10, "ft"))
    assert volume.to("in**3").m == pytest.approx(math.pi * 0.375**2 * 120, rel=1e-12)
    assert volume.to("m**3").m == pytest.approx(math.pi * (0.375 * INCH) ** 2 * 10 * FOOT, rel=1e-12)
    assert line_volume(Q(0.75, "in"), Q(0, "ft")).m == 0.0


def test_velocity_by_hand() -> None:
    """8 gallons of 231 cubic inches a minute through a circle of 3/4 in."""
    assert velocity_in(Q(8, "gpm"), Q(0.75, "in")).to("in/s").m == pytest.approx(
        8 * 231 / 60 / (math.pi * 0.375**2), rel=1e-12
    )


def test_reynolds_number_by_hand() -> None:
    """Water at 1 m/s in a bore of 20 mm: 1000 x 1 x 0.02 / 0.001."""
    flow = Q(math.pi * 0.01**2, "m**3/s")
    assert reynolds_number(flow, Q(20, "mm"), Q(1000, "kg/m**3"), Q(1, "cP")).m == pytest.approx(20_000.0, rel=1e-12)


def test_a_fittings_loss_by_hand() -> None:
    """1.5 velocity heads of 1000 kg/m3 at 2 m/s are 3000 Pa."""
    flow = Q(2.0 * math.pi * 0.005**2, "m**3/s")
    lost = fitting_drop(flow, Q(10, "mm"), 1.5, Q(1000, "kg/m**3"))
    assert lost.to("Pa").m == pytest.approx(3000.0, rel=1e-12)
    assert fitting_drop(flow, Q(10, "mm"), 0, Q(1000, "kg/m**3")).m == 0.0


def test_a_column_starts_as_newton_says() -> None:
    """Mass over area times acceleration is the pressure: 3 m of 800 kg/m3 to 2 m/s under 48 kPa is 0.1 s."""
    assert column_time(Q(3, "m"), Q(2, "m/s"), Q(48, "kPa"), Q(800, "kg/m**3")).to("s").m == pytest.approx(
        0.1, rel=1e-12
    )


def test_the_smallest_pressure_difference_starts_a_column_slowly() -> None:
    assert column_time(Q(3, "m"), Q(2, "m/s"), Q(0.5, "Pa"), Q(800, "kg/m**3")).to("s").m == pytest.approx(9600.0)


@pytest.mark.parametrize("pressure", [0.0, [1.0, 0.0]])
def test_without_a_pressure_difference_no_column_starts(pressure: Any) -> None:
    sentence = refused(
        "pressure_difference", lambda: column_time(Q(3, "m"), Q(2, "m/s"), Q(pressure, "psi"), Q(800, "kg/m**3"))
    )
    assert sentence.endswith("got 0.00 psi; wanted a pressure difference above 0.00 psi.")


def test_a_line_under_acceleration_by_hand() -> None:
    """Two metres of 850 kg/m3 at 1 g, gain one way and lose the other."""
    for g in (1.0, -1.0, 0.0):
        head = acceleration_head(Q(850, "kg/m**3"), Q(g, "g_0"), Q(2, "m"))
        assert head.to("Pa").m == pytest.approx(g * 850 * 9.80665 * 2, rel=1e-12)


# ------------------------------------------------------------------------------------------------------- friction

bores = spread(0.05, 10.0)
"""In inches, as the lengths are in feet and the flows in gallons a minute."""
lengths = spread(0.01, 300.0)
viscosities = spread(0.5, 5e4)
"""In centipoise."""
densities = spread(600.0, 1200.0)
roughnesses = number(0.0, 0.05)
reynolds = spread(1e-3, 1e9)


@tried
@given(spread(1e-3, 100.0), bores, lengths, densities, viscosities, roughnesses)
def test_thick_oil_follows_the_laminar_law(
    re: float, bore: float, length: float, density: float, viscosity: float, roughness: float
) -> None:
    """128 mu L Q / (pi d^4), whatever the wall is like, at a Reynolds number below 100."""
    d, run, mu = bore * INCH, length * FOOT, viscosity * 1e-3
    flow = re * math.pi * d * mu / (4 * density)
    if flow > 1.0:
        flow = 1.0  # more than this the kit refuses
    lost = line_drop(
        Q(flow, "m**3/s"), Q(bore, "in"), Q(length, "ft"), Q(density, "kg/m**3"), Q(viscosity, "cP"), roughness
    )
    law = 128 * mu * run * flow / (math.pi * d**4)
    assert lost.to("Pa").m == pytest.approx(law, rel=1e-9, abs=0.0)
    alone = laminar_drop(Q(flow, "m**3/s"), Q(bore, "in"), Q(length, "ft"), Q(viscosity, "cP"))
    assert alone.to("Pa").m == pytest.approx(law, rel=1e-12, abs=0.0)


@tried
@given(bores, densities, viscosities, roughnesses)
def test_a_line_that_stands_or_has_no_length_costs_nothing_at_all(
    bore: float, density: float, viscosity: float, roughness: float
) -> None:
    oil = Q(density, "kg/m**3"), Q(viscosity, "cP"), roughness
    assert line_drop(Q(0, "gpm"), Q(bore, "in"), Q(10, "ft"), *oil).m == 0.0
    assert line_drop(Q(8, "gpm"), Q(bore, "in"), Q(0, "ft"), *oil).m == 0.0


@tried
@given(bores, lengths, densities, viscosities, roughnesses)
def test_the_drop_rises_with_the_flow_at_every_step(
    bore: float, length: float, density: float, viscosity: float, roughness: float
) -> None:
    flows = np.concatenate([[0.0], np.logspace(-6, 4, 2001)])
    lost = line_drop(
        Q(flows, "gpm"), Q(bore, "in"), Q(length, "ft"), Q(density, "kg/m**3"), Q(viscosity, "cP"), roughness
    ).m
    assert np.all(np.isfinite(lost))
    assert np.all(np.diff(lost) > 0.0)
    assert np.all(np.diff(lost / np.maximum(flows, 1e-300))[1:] >= -1e-12 * lost[1:-1] / flows[1:-1])


@tried
@given(spread(1e-3, 300.0), bores, spread(0.01, 30.0), viscosities, number(0.1, 10.0))
def test_twice_the_length_costs_twice_and_a_wider_bore_less(
    gpm: float, bore: float, length: float, viscosity: float, times: float
) -> None:
    def drop(feet: float, inches: float) -> float:
        return float(line_drop(Q(gpm, "gpm"), Q(inches, "in"), Q(feet, "ft"), OIL[0], Q(viscosity, "cP")).m)

    assert drop(length * times, bore) == pytest.approx(times * drop(length, bore), rel=1e-9, abs=0.0)
    assert drop(length, 1.05 * bore) < drop(length, bore)


@tried
@given(reynolds, roughnesses, roughnesses)
def test_a_rougher_wall_never_costs_less_and_no_flow_costs_less_than_laminar(re: float, one: float, two: float) -> None:
    smoother, rougher = (friction_factor(re, roughness).m for roughness in sorted((one, two)))
    assert rougher >= smoother * (1.0 - 1e-12)
    assert smoother >= 64.0 / re * (1.0 - 1e-12)


@pytest.mark.parametrize("roughness", [1e-4, 1e-3, 0.05])
@pytest.mark.parametrize("re", [1e9, 1e10])
def test_far_up_only_the_wall_counts(re: float, roughness: float) -> None:
    """Where Re is so high that only roughness is left, Churchill's formula is f = 8 / (2.457 ln(1 / 0.27 eps))^2."""
    rough = 8.0 / (2.457 * math.log(1.0 / (0.27 * roughness))) ** 2
    assert friction_factor(re, roughness).m == pytest.approx(rough, rel=1e-3)


def test_the_largest_flow_of_the_thinnest_oil_through_a_hair_still_has_a_drop() -> None:
    """Absurd, but what the kit takes it works out: no overflow on the way."""
    hair = Q(np.logspace(-9, np.log10(0.3), 50), "m")
    lost = line_drop(Q(1, "m**3/s"), hair, Q(100, "m"), Q(2000, "kg/m**3"), Q(0.1, "cP"), 0.05).m
    assert np.all(np.isfinite(lost))
    assert np.all(np.diff(lost) < 0.0)


def test_the_friction_factor_jumps_up_between_the_regimes_and_falls_elsewhere() -> None:
    """Smooth: down as 64/Re, up as the flow turns turbulent, and down again ever more slowly."""
    below, between, above = (
        friction_factor(np.linspace(*ends, 200)).m for ends in ((10.0, 2000.0), (2300.0, 2900.0), (5000.0, 1e6))
    )
    assert np.all(np.diff(below) < 0.0)
    assert np.all(np.diff(between) > 0.0)
    assert np.all(np.diff(above) < 0.0)


# -------------------------------------------------------------------------------------------------- the whole way

HOSE = Hose("invented", "-12", Q(0.75, "in"))
PORT = Fitting("invented port", Q(0.5, "in"), Q(1.5, ""))
ELBOW = Fitting("invented elbow", Q(0.53, "in"), Q(1.2, ""))
LINE = SupplyLine(HOSE, Q(10, "ft"), (PORT, ELBOW, PORT))
FILTER = Element(Q(1, "qt"), Q(3, "psi"), Q(8, "gpm"), Q(9, "cP"), Q(12, "psi"))


def test_the_whole_way_costs_the_sum_of_its_parts() -> None:
    """Cold oil at Re 25: the laminar law for the wall and K rho v^2 / 2 for each fitting at its own bore."""
    flow, mu, rho = 2 * GPM, 0.3, 900.0
    wall = 128 * mu * 10 * FOOT * flow / (math.pi * (0.75 * INCH) ** 4)
    parts = [
        loss * rho / 2 * (flow / (math.pi * (bore * INCH) ** 2 / 4)) ** 2
        for bore, loss in ((0.5, 1.5), (0.53, 1.2), (0.5, 1.5))
    ]
    got = supply_drop(LINE, Q(2, "gpm"), Q(rho, "kg/m**3"), Q(mu, "Pa*s"))
    assert got.to("Pa").m == pytest.approx(wall + sum(parts), rel=1e-9)
    assert got.to("psi").m == pytest.approx((wall + sum(parts)) / PSI, rel=1e-9)


def test_the_line_holds_what_its_hose_holds() -> None:
    assert LINE.volume.to("m**3").m == pytest.approx(math.pi * (0.375 * INCH) ** 2 * 10 * FOOT, rel=1e-12)
    assert LINE.volume.to("qt").m == pytest.approx(math.pi * 0.375**2 * 120 * INCH**3 / QUART, rel=1e-12)


lines = st.builds(
    lambda bore, feet, losses: SupplyLine(
        Hose("invented", "-0", Q(bore, "in")),
        Q(feet, "ft"),
        tuple(Fitting(f"invented {k}", Q(narrow, "in"), Q(loss, "")) for k, (narrow, loss) in enumerate(losses)),
    ),
    spread(0.2, 2.0),
    spread(0.1, 100.0),
    st.lists(st.tuples(spread(0.2, 2.0), number(0.0, 10.0)), max_size=4),
)


@tried
@example(SupplyLine(Hose("invented", "-0", Q(0.5, "in")), Q(6, "ft"), (PORT,)), 1e-5, 850.0, 20.0)
@given(lines, spread(1e-9, 300.0), densities, spread(2.0, 1e4))
def test_the_flow_that_a_drop_drives_is_the_flow_that_costs_it(
    line: SupplyLine, gpm: float, density: float, viscosity: float
) -> None:
    oil = Q(density, "kg/m**3"), Q(viscosity, "cP")
    lost = supply_drop(line, Q(gpm, "gpm"), *oil)
    assert supply_flow(line, lost, *oil).to("gpm").m == pytest.approx(gpm, rel=1e-9, abs=0.0)


@tried
@given(lines, spread(1e-3, 100.0), spread(1.0, 1e4), spread(1.0, 1e4))
def test_through_line_and_filter_both_take_their_share(
    line: SupplyLine, psi: float, viscosity: float, in_filter: float
) -> None:
    """What the line takes and what the filter takes, worked out here from its rating, is the whole difference."""
    oil, warm = (OIL[0], Q(viscosity, "cP")), Q(in_filter, "cP")
    flow = supply_flow(line, Q(psi, "psi"), *oil, element=FILTER, element_viscosity=warm)
    taken = min(3.0 * flow.to("gpm").m / 8.0 * in_filter / 9.0, 12.0)
    assert supply_drop(line, flow, *oil).to("psi").m + taken == pytest.approx(psi, rel=1e-9, abs=0.0)
    assert flow.m < supply_flow(line, Q(psi, "psi"), *oil).m


def test_the_filters_oil_is_as_thick_as_the_lines_unless_it_is_said() -> None:
    left_out = supply_flow(LINE, Q(10, "psi"), *OIL, element=FILTER)
    given = supply_flow(LINE, Q(10, "psi"), *OIL, element=FILTER, element_viscosity=OIL[1])
    assert left_out.m == given.m
    assert supply_flow(LINE, Q(10, "psi"), *OIL, element=FILTER, element_viscosity=Q(5, "cP")).m > given.m


def test_a_filter_alone_below_its_bypass_gives_its_own_law() -> None:
    """Half the rated drop at the rated viscosity: half the rated flow."""
    bare = SupplyLine(HOSE, Q(0, "ft"))
    flow = supply_flow(bare, Q(1.5, "psi"), OIL[0], Q(9, "cP"), element=FILTER)
    assert flow.to("gpm").m == pytest.approx(4.0, rel=1e-9)


def test_no_pressure_difference_no_flow() -> None:
    assert supply_flow(LINE, Q(0, "psi"), *OIL).m == 0.0
    assert supply_flow(LINE, Q(0, "psi"), *OIL, element=FILTER).m == 0.0
    assert supply_drop(LINE, Q(0, "gpm"), *OIL).m == 0.0


def test_more_pressure_more_flow_and_thicker_oil_less() -> None:
    """Thicker from 50 cP on: thinner oil may turn turbulent, and then it is the thinner one that gives less."""
    assert np.all(np.diff(supply_flow(LINE, Q(np.linspace(0.0, 60.0, 121), "psi"), *OIL).m) > 0.0)
    assert np.all(np.diff(supply_flow(LINE, Q(10, "psi"), OIL[0], Q(np.logspace(1.7, 4, 81), "cP")).m) < 0.0)


def test_a_grid_gives_what_its_places_give() -> None:
    drives, oils = Q([[5.0], [10.0]], "psi"), Q([5.0, 50.0, 500.0], "cP")
    grid = supply_flow(LINE, drives, OIL[0], oils, element=FILTER, element_viscosity=Q(9, "cP"))
    assert grid.m.shape == (2, 3)
    alone = supply_flow(LINE, Q(10, "psi"), OIL[0], Q(500, "cP"), element=FILTER, element_viscosity=Q(9, "cP"))
    assert np.ndim(alone.m) == 0
    assert grid.m[1, 2] == pytest.approx(alone.m, rel=1e-11)
    drops = supply_drop(LINE, Q([[1.0], [2.0]], "gpm"), OIL[0], oils)
    assert drops.m.shape == (2, 3)
    assert drops.m[1, 2] == pytest.approx(supply_drop(LINE, Q(2, "gpm"), OIL[0], oils[2]).m, rel=1e-12)


# ---------------------------------------------------------------------------------------------------------- the tee

SIDES = [pytest.param(None, id="tee after the filter"), pytest.param(FILTER, id="tee before the filter")]


@pytest.mark.parametrize("element", SIDES)
@tried
@given(lines, spread(0.1, 100.0), number(0.0, 60.0), spread(1.0, 1e4), st.one_of(st.just(0.0), spread(1e-3, 2.0)))
def test_what_flows_into_the_tee_flows_out_of_it(
    element: Element | None, line: SupplyLine, more: float, gallery: float, viscosity: float, leak: float
) -> None:
    """And the pressures go down step by step from the vessel to the gallery, each step by the part's own law."""
    oil = OIL[0], Q(viscosity, "cP")
    ends = Q(gallery + more, "psig"), Q(gallery, "psig")
    found = tee_flow(line, *ends, *oil, Q(leak, "gpm"), Q(25, "psi"), element)
    out, through, back = (q.to("gpm").m for q in (found.line_flow, found.gallery_flow, found.leak))
    at_tee = found.tee_pressure.to("psig").m
    assert out == pytest.approx(through + back, rel=1e-9, abs=1e-12)
    assert back == pytest.approx(leak * at_tee / 25.0, rel=1e-9, abs=1e-12)
    assert gallery + more - at_tee == pytest.approx(supply_drop(line, found.line_flow, *oil).to("psi").m, abs=1e-9)
    if element is None:
        assert at_tee == pytest.approx(gallery, abs=1e-9)
        assert (found.filter_drop.m, found.unfiltered.m) == (0.0, 1.0)
    elif through > 0.0:
        taken = min(3.0 * through / 8.0 * viscosity / 9.0, 12.0)
        assert found.filter_drop.to("psi").m == pytest.approx(taken, rel=1e-6, abs=1e-9)
        assert at_tee - gallery == pytest.approx(taken, rel=1e-6, abs=1e-9)
        by_filter = 32.0 * 9.0 / viscosity
        assert found.unfiltered.m == pytest.approx(max(1.0 - by_filter / through, 0.0), abs=1e-6)


@pytest.mark.parametrize("element", SIDES)
def test_a_tight_check_valve_leaves_the_line_alone(element: Element | None) -> None:
    """No leak: the same flow as the same pressure difference drives through the line and the filter."""
    found = tee_flow(LINE, Q(40, "psig"), Q(30, "psig"), *OIL, Q(0, "gpm"), Q(25, "psi"), element)
    alone = supply_flow(LINE, Q(10, "psi"), *OIL, element=element)
    assert found.gallery_flow.to("gpm").m == pytest.approx(alone.to("gpm").m, rel=1e-9)
    assert found.leak.m == 0.0


TEE: dict[str, Any] = {
    "line": LINE,
    "vessel_pressure": Q(40, "psig"),
    "gallery_pressure": Q(30, "psig"),
    "density": OIL[0],
    "dynamic_viscosity": OIL[1],
    "leak_at_reference": Q(0.2, "gpm"),
    "reference": Q(25, "psi"),
}


@pytest.mark.parametrize("element", SIDES)
@pytest.mark.parametrize(
    ("argument", "value"),
    [
        ("line", SupplyLine(HOSE, Q(0, "ft"))),
        ("vessel_pressure", Q(29.999, "psig")),
        ("vessel_pressure", Q(1e9, "psig")),
        ("vessel_pressure", Q(40, "psi")),
        ("vessel_pressure", Q([40.0, 50.0], "psig")),
        ("gallery_pressure", Q(40.1, "psia")),
        ("density", 850),
        ("dynamic_viscosity", Q([1.0, 2.0], "cP")),
        ("leak_at_reference", Q(-0.2, "gpm")),
        ("reference", Q(0, "psi")),
        ("reference", Q(-25, "psi")),
    ],
    ids=lambda part: part if isinstance(part, str) else str(getattr(part, "magnitude", "")),
)
def test_a_tee_that_cannot_be_is_refused_by_name(element: Element | None, argument: str, value: Any) -> None:
    refused(argument, lambda: tee_flow(**(TEE | {argument: value}), element=element))


# ------------------------------------------------------------------------------------------------------- refusals


TEN = Q(10, "psi")


def flow(line: SupplyLine = LINE, pressure: Any = TEN, **more: Any) -> Qty:
    return supply_flow(line, pressure, *OIL, **more)


def test_a_line_that_resists_nothing_is_refused() -> None:
    free = Fitting("invented", Q(0.5, "in"), Q(0, ""))
    for line in (SupplyLine(HOSE, Q(0, "ft")), SupplyLine(HOSE, Q(0, "ft"), (free, free))):
        refused("line", lambda line=line: flow(line))


@pytest.mark.parametrize(
    ("line", "psi", "more"),
    [
        pytest.param(SupplyLine(HOSE, Q(0, "ft")), 20.0, {"element": FILTER}, id="a filter alone, above its bypass"),
        pytest.param(
            SupplyLine(Hose("invented", "-0", Q(11, "in")), Q(0.1, "ft")), 1000.0, {}, id="a barrel without ends"
        ),
        pytest.param(LINE, [10.0, 1e9], {}, id="one pressure of two beyond any line"),
    ],
)
def test_a_pressure_that_would_drive_more_than_any_flow_is_refused(line: SupplyLine, psi: Any, more: Any) -> None:
    """A filter whose bypass holds 12 psi cannot hold 20: there is no such flow, and NaN is no answer."""
    refused(None, lambda: flow(line, Q(psi, "psi"), **more))


BARE: Any = 6


@pytest.mark.parametrize(
    ("argument", "line"),
    [
        pytest.param("length", SupplyLine(HOSE, BARE), id="bare length"),
        pytest.param("length", SupplyLine(HOSE, Q(6, "psi")), id="length of pressure"),
        pytest.param("length", SupplyLine(HOSE, Q(-6, "ft")), id="negative length"),
        pytest.param("length", SupplyLine(HOSE, Q([6.0, 7.0], "ft")), id="two lengths"),
        pytest.param("bore", SupplyLine(Hose("invented", "-12", BARE), Q(6, "ft")), id="bare bore"),
        pytest.param("bore", SupplyLine(Hose("invented", "-12", Q(0, "in")), Q(6, "ft")), id="no bore"),
        pytest.param("bore", SupplyLine(Hose("invented", "-12", Q([1.0, 2.0], "in")), Q(6, "ft")), id="two bores"),
        pytest.param(
            "loss_coefficient",
            SupplyLine(HOSE, Q(6, "ft"), (Fitting("invented", Q(1, "in"), Q(-1, "")),)),
            id="a fitting that gives pressure",
        ),
    ],
)
def test_a_line_made_wrongly_is_refused_by_name_when_it_is_used(argument: str, line: SupplyLine) -> None:
    refused(argument, lambda: flow(line))
    refused(argument, lambda: supply_drop(line, Q(1, "gpm"), *OIL))


WRONG: list[tuple[str, Any]] = [
    ("density", 850),
    ("density", Q(0, "kg/m**3")),
    ("density", Q(850, "kg")),
    ("dynamic_viscosity", Q(20, "cSt")),
    ("dynamic_viscosity", Q(math.nan, "cP")),
    ("dynamic_viscosity", None),
]


@pytest.mark.parametrize(("argument", "value"), WRONG, ids=[f"{a}-{v!s}" for a, v in WRONG])
def test_wrong_oil_is_refused_by_name(argument: str, value: Any) -> None:
    oil = {"density": OIL[0], "dynamic_viscosity": OIL[1]} | {argument: value}
    refused(argument, lambda: supply_drop(LINE, Q(1, "gpm"), **oil))
    refused(argument, lambda: supply_flow(LINE, Q(1, "psi"), **oil))


@pytest.mark.parametrize("value", [1, Q(1, "psi"), Q(-1, "gpm"), Q(2, "m**3/s"), None, Q(math.inf, "gpm")], ids=str)
def test_a_wrong_flow_is_refused_by_name(value: Any) -> None:
    refused("flow", lambda: supply_drop(LINE, value, *OIL))


@pytest.mark.parametrize("value", [1, Q(1, "gpm"), Q(-1, "psi"), Q(1, "psig"), None, Q(math.nan, "psi")], ids=str)
def test_a_wrong_pressure_difference_is_refused_by_name(value: Any) -> None:
    refused("pressure_difference", lambda: flow(LINE, value))


def test_a_wrong_viscosity_in_the_filter_is_refused_by_its_own_name() -> None:
    refused("element_viscosity", lambda: flow(element=FILTER, element_viscosity=Q(9, "cSt")))


def test_arrays_that_do_not_go_together_are_refused_in_one_sentence() -> None:
    two, three = [1.0, 2.0], [1.0, 2.0, 3.0]
    refused(None, lambda: supply_drop(LINE, Q(two, "gpm"), OIL[0], Q(three, "cP")))
    refused(None, lambda: supply_flow(LINE, Q(two, "psi"), OIL[0], Q(three, "cP")))
