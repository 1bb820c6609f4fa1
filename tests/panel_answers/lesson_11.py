"""Answers of the panels of lesson 11."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import oilkit
from oilkit import Q

WORDS = {
    "gas_volume": "gas volume",
    "bore": "bore",
    "dead_length": "dead length",
    "charge_zero": "zero error of the charge gauge",
    "pressure_zero": "zero error of the pressure gauge",
    "friction": "seal friction",
    "index": "polytropic index",
}


@lru_cache(maxsize=64)
def _fitted(vessel: str, known: tuple[str, ...], rule: float, gauge: float) -> Any:
    """The fit of the kit's own readings; rule and gauge as they are right within, in inches and psi."""
    (mine,) = (v for v in oilkit.vessels().values() if v.name == vessel)
    given = {
        "gas_volume": mine.gas_volume,
        "bore": (mine.bore, Q(0.01, "in")),
        "charge_zero": (Q(0, "psi"), Q(0.3, "psi")),
        "pressure_zero": (Q(0, "psi"), Q(0.3, "psi")),
        "friction": Q(0, "psi"),
        "index": 1.0,
    }
    return oilkit.fit_bench(
        mine,
        oilkit.demo_bench(),
        {name: given[name] for name in known},
        rule_within=Q(rule, "in"),
        pressure_within=Q(gauge, "psi"),
        charge_within=Q(gauge, "psi"),
    )


def bench_fit(c: dict[str, Any]) -> dict[str, Any]:
    known = tuple(name for name in WORDS if c.get(name) is True)
    fit = _fitted(c["vessel"].name, known, c["rule_within"].m_as("in"), c["gauge_within"].m_as("psi"))
    rows = {"readings": "36"}
    for words, found in (
        *((WORDS[name], found) for name, found in fit.parameters.items()),
        ("stroke, gas volume over piston area", fit.stroke),
    ):
        off = f"… {found.name.replace('_', ' ')}, ±"
        if found.value is None:
            rows |= {words: "not separated", off: "no number"}
        else:
            rows |= {words: found.value, off: found.within if found.within.m > 0.0 else "given"}
    return rows | {"readings to spare": str(fit.freedom), "scatter over the stated errors": f"{fit.scatter:.2f} times"}


@lru_cache(maxsize=4)
def _taken(settings: int) -> Any:
    readings = oilkit.demo_bench().first(9 * settings if settings else 36)  # nine readings at each pre-charge
    return oilkit.fit_bench(oilkit.vessels()["bench"], readings, {"bore": (Q(4.5, "in"), Q(0.01, "in"))})


def next_reading(c: dict[str, Any]) -> dict[str, Any]:
    fit = _taken(c["taken"])
    plan = oilkit.CandidateReading(c["precharge"], c["pressure"], *c["way"])
    found = oilkit.next_reading(fit, [plan])
    off = {
        "gas_volume": Q(0.75, "qt"), "bore": Q(0.45, "in"), "dead_length": Q(1, "in"), "charge_zero": Q(5, "psi"),
        "pressure_zero": Q(5, "psi"), "friction": Q(5, "psi"), "index": Q(0.2, "dimensionless"),
    }  # fmt: skip
    rows: dict[str, Any] = {"readings so far": str(len(fit.readings))}
    for name, words in WORDS.items():
        rows[f"{words}, ± now"] = off[name] * found.before[name]
        rows[f"{words}, ± with your reading"] = off[name] * found.after[name]
    return rows | {"your reading would tell": f"{found.tells[0]:.2f} bits"}
