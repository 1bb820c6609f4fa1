"""Questions of lesson 12: what a register can tell, and what moves what."""

from __future__ import annotations

from oilkit.audit import constants
from oilkit.audit.dimensions import check_dimensions
from oilkit.audit.inputs import INPUTS
from oilkit.audit.sensitivity import main_results
from oilkit.audit.worked import MAIN
from oilkit.exercises.exercise import Exercise
from oilkit.exercises.making import prediction
from oilkit.physics.bearing import groove_flow
from oilkit.quantities.printed import text
from oilkit.quantities.units import Q


def twice_the_clearance() -> Exercise:
    """The cube, once more, through the register."""
    shaft = Q(2.45, "in"), Q(2.5, "thou"), Q(0.35, "in"), Q(50, "psi"), Q(8, "cP")
    flow = groove_flow(*shaft)
    wider = groove_flow(shaft[0], Q(5, "thou"), *shaft[2:])
    return prediction(
        f"The register says of groove_flow: pi r c**3 dp (1 + 1.5 eps**2) / (3 mu l). A main passes "
        f"{text(flow.to('gpm'))} at {text(shaft[1])}. What does it pass at {text(Q(5, 'thou'))}?",
        "The clearance stands there with its cube: twice as much is eight times the flow.",
        answer=wider,
        mistakes=[
            (2.0 * flow, "You took the clearance as it is. In the formula it has a cube."),
            (4.0 * flow, "You took its square. It is the cube."),
            (flow, "The clearance is in the formula, and it counts more than anything else there."),
        ],
    )


def gamma_moves_what() -> Exercise:
    """A constant that some steps need and others never see."""
    titles = [row.title for row in constants.what_moves("ADIABATIC", 1.3)]
    options = ["oil stored, settled", "useful oil, no heat exchange", "pre-charge at work, in one step"]
    (right,) = (k for k, option in enumerate(options) if option in titles)
    return prediction(
        "Somebody changes the gas's ratio of specific heats in the code from 1.4 to 1.3. Which of these moves?",
        "The ratio says how much heat the gas takes up. It counts where gas changes with no heat from the wall, or "
        "with too little. Settled gas follows Boyle, and a pre-charge that warms in a fixed volume knows no ratio "
        "either.",
        options=options,
        right=right,
    )


def hidden_numbers() -> Exercise:
    """Which formula cannot be free of units."""
    options = ["oil_stored", "hole_flow", "ambient_pressure", "line_drop"]
    (right,) = (k for k, name in enumerate(options) if check_dimensions(name).holds)
    return prediction(
        "Suppose all lengths, masses, times and temperatures were counted in other base units. A formula of first "
        "principles does not notice. Which of these does?",
        "The standard atmosphere holds numbers with dimensions: 101 325 Pa, 0.0065 K/m, 288.15 K. They are measured or "
        "agreed, not derived, and good only in their own units. That is why such a formula needs a source.",
        options=options,
        right=right,
    )


def what_to_measure_first() -> Exercise:
    """The input whose doubt counts most."""
    names = ("line_temperature", "clearance_change", "speed")
    usual = main_results()[MAIN[0]]
    words, changes = [], []
    for name in names:
        entry = INPUTS[name]
        ends = [main_results(**{name: end})[MAIN[0]] for end in (entry.low, entry.high)]
        changes.append(max(abs(float(end.m / usual.m) - 1.0) for end in ends))
        words.append(f"{entry.words}: {text(entry.low)} to {text(entry.high)}")
    right = changes.index(max(changes))
    return prediction(
        f"Three inputs of the worked engine are known only so far. Which doubt moves its protected time of "
        f"{text(usual)} most?",
        "By " + ", ".join(f"{100.0 * change:.0f} %" for change in changes) + " in this order. Measure the first one "
        "first.",
        options=words,
        right=right,
    )
