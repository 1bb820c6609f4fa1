"""What a case of the dynamic model is: its numbers, its inputs over time, its state, the piston's modes."""

from __future__ import annotations

CASE = (
    "gas_constant",  # p V / T of the gas, Pa m3 / K
    "gas_volume",  # piston at the oil end
    "least_volume",  # piston at the gas end
    "wall_temperature",
    "exchange",  # 1 / tau; 0 without heat exchange, infinite for gas that stays at the wall's temperature
    "exchange_per_volume",  # what it gains with the gas's volume, which touches more wall
    "ambient",
    "seal_friction",  # Pa
    "inertance",  # rho L / A of the line
    "line_laminar",  # pressure per flow of the wall in laminar flow, 128 mu L / (pi d**4)
    "line_reynolds",  # Reynolds number per flow
    "line_fittings",  # pressure per flow squared of the fittings
    "valve",  # the same of the valve, wide open
    "tee_first",  # 1: the tee stands before filter and cooler, at the pump's outlet; 0: behind them, at the gallery
    "head_per_acceleration",  # rho x between vessel and gallery; acceleration positive where it helps vessel to gallery
    "height_head",  # rho g z, positive with the vessel above the gallery
    "compliance",  # of the gallery
    "pump_per_turn",  # oil displaced per turn of the crank at full supply
    "slip",  # flow per pascal at the pump's outlet that leaks back inside it
    "relief_opening",
    "relief_slope",  # flow per pascal above it
    "filter",  # pressure per flow of the filter between pump and gallery, before or behind the tee
    "filter_bypass",
    "cooler",  # the same of a cooler; 0 if none
    "cooler_bypass",
    "vessel_thicker",  # how many times as thick as the pump's the vessel's oil is, which filter and cooler feel
    "leak",  # flow per pascal back past the check valve beside the tee, as far as the pump has lost its supply
    "mains_pressed",  # flow per pascal
    "mains_pressed_rest",  # the same at rest, shafts lying on their shells, film as warm as the sump
    "mains_dragged",  # oil per turn
    "mains_feed",  # pressure per flow squared of the feed hole
    "rods_pressed",
    "rods_pressed_rest",
    "rods_dragged",
    "rods_feed",
    "rods_inward",  # pressure per speed squared
    "rods_outward",
    "cams_pressed",
    "cams_pressed_rest",
    "cams_dragged",
    "cams_feed",
    "jets",  # flow per root of pascal
    "jets_open",
    "lifters",
    "lifters_open",
    "lose_time",  # time constant with which the pump loses its oil, and wins it back
    "regain_time",
    "pan_oil",  # at the start
    "sump_area",
    "sump_depth",
    "upper_area",
    "pickup_height",
    "pickup_band",  # height of oil above the pick-up over which its supply goes from none to full
    "from_pan",  # 1: supply follows the pan's level; 0: it is given
    "limit",  # gallery pressure that counts
    "tolerance",  # time below it that is forgiven
    "heat_ratio",  # of the gas, c_p / c_v; a number of the case, because compiled code would keep an old constant
)
"""The numbers of one case, in the order of the array that holds them."""
(
    GAS_CONSTANT, GAS_VOLUME, LEAST_VOLUME, WALL, EXCHANGE, EXCHANGE_SIDES, AMBIENT, SEAL, INERTANCE, LAMINAR, REYNOLDS,
    FITTINGS, VALVE, TEE_FIRST, HEAD, HEIGHT, COMPLIANCE, PUMP, SLIP, RELIEF_OPENING, RELIEF_SLOPE, FILTER,
    FILTER_BYPASS, COOLER, COOLER_BYPASS, THICKER, LEAK,
    MAINS, MAINS_REST, MAINS_DRAG, MAINS_FEED, RODS, RODS_REST, RODS_DRAG, RODS_FEED, RODS_IN, RODS_OUT,
    CAMS, CAMS_REST, CAMS_DRAG, CAMS_FEED, JETS, JETS_OPEN, LIFTERS, LIFTERS_OPEN, LOSE, REGAIN,
    PAN_OIL, SUMP_AREA, SUMP_DEPTH, UPPER_AREA, PICKUP, BAND, FROM_PAN, LIMIT, TOLERANCE, GAMMA,
) = range(len(CASE))  # fmt: skip

SPEED, SUPPLY, ACCELERATION, OPENING, TILT = range(5)
"""Rows of the inputs over time: crank speed (rev/s), supply given (0..1), acceleration along the line, valve opening
(0..1), and by how much the oil's surface is lower at the pick-up (m)."""

START = ("V", "Q", "P", "T", "S")
V, Q, P, T, S = range(5)
N = INPUTS = 5
SUMS = 4  # pump in, engine, leak, relief and slip
ROWS = N + SUMS
FREE, HOME, FULL, HELD, BACK = range(5)
"""What the piston does: moves (with seal friction: towards the oil end), stands at the oil end or at the gas end, is
held by seal friction in between, moves towards the gas end against seal friction."""

SHUT = 1e-3
"""A valve opened less than this is shut."""
AT_REST = 1e-10
"""Flow, m3/s, below which a piston that seal friction brakes has come to rest."""
LOOSE = 0.01
"""Pressure, Pa, beyond seal friction that sets a standing piston going."""
ON_STOP = 1e-12
"""Share of its volume within which the piston counts as standing on a stop."""
SMALL = 3.0
"""Pressure, Pa, below which a root is rounded off, so that its slope stays finite."""
