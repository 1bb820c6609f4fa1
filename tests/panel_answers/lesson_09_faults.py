"""Answers of the panels of lesson 09 about proof and faults."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import oilkit
from oilkit import Q
from oilkit.quantities.kind import Kind
from oilkit.shop.acceptance import acceptance_card, card_readings
from oilkit.shop.as_built import READINGS, SHOP_TESTS, oil_taken, with_errors
from oilkit.shop.faults import FAULTS, case, demo_set_up


@cache
def _planned(engine: str, vessel: str, psig: float) -> Any:
    built = demo_set_up(engine)
    (chosen,) = (v for v in oilkit.vessels().values() if v.name == vessel)
    planned = replace(built, installation=replace(built.installation, vessel=chosen))
    planned = planned.with_condition(precharge=Q(psig, "psig"))
    return replace(planned, filled_for=oil_taken(planned))


@cache
def _card(engine: str, vessel: str, psig: float) -> Any:
    return acceptance_card(_planned(engine, vessel, psig))


def _text(quantity: Any, kind: Kind | None) -> str:
    if kind is None:
        return str(quantity)
    return f"{_number(quantity, kind)} {kind.label()}"


def _number(quantity: Any, kind: Kind) -> str:
    return f"{round(float(quantity.m_as(kind.unit())), kind.digits()) + 0.0:.{kind.digits()}f}"


def _passes(value: Any) -> str:
    kind = value.kind
    if kind and value.low > value.high:
        return "none: too low"
    return f"{_number(value.low, kind)} to {_text(value.high, kind)}" if kind else str(value.expected)


def acceptance(c: dict[str, Any]) -> dict[str, Any]:
    plan = c["engine"], c["vessel"].name, round(c["precharge"].m_as("psig"), 9)
    number = int(c["number"].m)
    if c["source"] == "typed":
        read = c["readings"]
    else:
        found = case(number, _planned(*plan), "healthy" if c["source"] == "healthy" else None)
        read = with_errors(found.true, number, READINGS)
    told = card_readings(read)
    rows, verdicts = {}, []
    for value in _card(*plan):
        row = f"expected {_text(value.expected, value.kind)}; pass {_passes(value)}; "
        if value.reading in told:
            got = told[value.reading]
            verdicts.append(value.judge(got))
            row += f"{_text(got, value.kind)}: {verdicts[-1]}"
        else:
            row += "not read"
        rows[value.label] = row
    counts = {word: f"{verdicts.count(word)}" for word in ("pass", "doubtful", "fail")}
    return {**counts, "not read": f"{len(rows) - len(verdicts)}", **rows}


def fault_bench(c: dict[str, Any]) -> dict[str, Any]:
    """Before any test is done: what happens afterwards is in ``test_fault_bench_panel.py``."""
    test = SHOP_TESTS[c["test"]]
    rows = {
        "case": f"{c['number'].m:.0f}",
        "the chosen test takes": f"{test.minutes:g} min",
        "tests done": "0",
        "shop time": "0 min",
        "hints taken": "0",
        "you suspect": FAULTS[c["fault"]].name if c["fault"] else "nothing yet",
    }
    if c["help"]:
        card = _card(c["engine"], oilkit.vessels()["bench"].name, 7.0)
        rows |= {v.label: f"healthy: {_passes(v)}" for v in card if v.reading in test.readings}
    return rows
