"""Numbers of the predictions of lesson 12: what a register can tell, and what moves what."""

from __future__ import annotations

from typing import Any

from oilkit.audit import constants
from oilkit.audit.dimensions import check_dimensions
from oilkit.audit.inputs import INPUTS
from oilkit.audit.sensitivity import main_results
from oilkit.audit.worked import MAIN
from oilkit.physics.bearing import groove_flow
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q, Qty


def twice_the_clearance(clearance: Qty, wide: Qty) -> dict[str, Any]:
    """The cube, once more, through the register."""
    flow, wider = (groove_flow(Q(2.45, "in"), c, Q(0.35, "in"), Q(50, "psi"), Q(8, "cP")) for c in (clearance, wide))
    return {"answer": wider, "flow": flow, "linear": 2.0 * flow, "square": 4.0 * flow}


def gamma_moves_what() -> dict[str, Any]:
    """A constant that some steps need and others never see."""
    moved = [row.title for row in constants.what_moves("ADIABATIC", 1.3)]
    names = {
        "stored": "oil stored, settled",
        "useful": "useful oil, no heat exchange",
        "precharge": "pre-charge at work, in one step",
    }
    (right,) = (name for name, title in names.items() if title in moved)
    return {"right": right, **names}


def hidden_numbers() -> dict[str, Any]:
    """Which formula cannot be free of units."""
    names = ("oil_stored", "hole_flow", "ambient_pressure", "line_drop")
    (right,) = (name for name in names if check_dimensions(name).holds)
    return {"right": right}


def what_to_measure_first() -> dict[str, Any]:
    """The input whose doubt counts most."""
    usual = main_results()[MAIN[0]]
    words, changes = {}, {}
    for name in ("line_temperature", "clearance_change", "speed"):
        entry = INPUTS[name]
        ends = [main_results(**{name: end})[MAIN[0]] for end in (entry.low, entry.high)]
        changes[name] = max(abs(float(end.m / usual.m) - 1.0) for end in ends)
        words[name] = f"{entry.words}: {text(entry.low)} to {text(entry.high)}"
    told = ", ".join(f"{100.0 * change:.0f} %" for change in changes.values())
    return {"right": max(changes, key=changes.__getitem__), "usual": usual, "changes": told, **words}
