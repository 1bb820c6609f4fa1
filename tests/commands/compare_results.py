"""Some 2 000 calls of the public functions, written to a file, and later compared with what another tree answers.

    python tests/commands/compare_results.py store FILE
    python tests/commands/compare_results.py compare FILE

A change that should move no number is proved so: `store` with the old tree first on PYTHONPATH, `compare` with the new
one. Formulas are called with numbers drawn from the range of each argument's kind (seeded); functions of records with
every demo engine, oil, hose and vessel over speeds, temperatures and pre-charges. A refusal counts as an answer.
Two numbers are the same if they differ by no more than a part in 1e9, which is more than another machine's rounding.
"""

from __future__ import annotations

import argparse
import dataclasses
import inspect
import itertools
import json
import math
import random
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from pint.facets.plain import PlainQuantity

import oilkit
from oilkit import Q

SEED = 20261128
DRAWS = 24
OPTIONAL = ("ambient", "polytropic_index")
"""Arguments that are drawn although they may be left out."""
SAME = 1e-9


def answer(call: Callable[[], Any]) -> Any:
    """What a call gives, as plain numbers and texts."""
    try:
        return flat(call())
    except oilkit.InputError as refusal:
        return f"refused: {refusal}"


def flat(value: Any) -> Any:
    if isinstance(value, PlainQuantity):
        return [flat(value.to_base_units().magnitude), str(value.units)]
    if isinstance(value, np.ndarray):
        return [flat(one) for one in value.ravel()[:: max(value.size // 20, 1)]]
    if isinstance(value, np.generic):
        return flat(value.item())
    if isinstance(value, dict):
        return {str(key): flat(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [flat(one) for one in value[:20]]
    if dataclasses.is_dataclass(value):
        return {one.name: flat(getattr(value, one.name)) for one in dataclasses.fields(value) if one.repr}
    return value if isinstance(value, int | float | str | bool | type(None)) else type(value).__name__


def drawn(kind: Any, dice: random.Random) -> Any:
    """A number of a kind near its example, from three quarters of it to a third more, with its unit."""
    number, _, unit = kind.example.removeprefix("Q(").removesuffix(")").partition(",")
    value = float(number) * (4.0 / 3.0) ** dice.uniform(-1.0, 1.0)
    return Q(value, unit.strip(" '")) if unit else value


def formulas() -> Iterator[tuple[str, Callable[[], Any]]]:
    for name in sorted(oilkit.__all__):
        function = getattr(oilkit, name)
        kinds = getattr(function, "kinds", {})
        wanted = (
            [
                argument
                for argument, one in inspect.signature(function).parameters.items()
                if one.default is one.empty or argument in OPTIONAL
            ]
            if kinds
            else []
        )
        if not wanted or not set(wanted) <= kinds.keys():
            continue
        for k in range(DRAWS):
            values = {
                argument: drawn(kinds[argument], random.Random(f"{SEED} {name} {argument} {k}")) for argument in wanted
            }
            yield f"{name} {k}", lambda function=function, values=values: function(**values)


def of_records() -> Iterator[tuple[str, Callable[[], Any]]]:
    o = oilkit
    engines, oils, vessels, hoses = o.engines(), o.lubricants(), o.vessels(), o.hoses()
    hot = [Q(c, "degC") for c in (40, 90, 120)]
    for (key, engine), (oil, grade), celsius, share in itertools.product(
        engines.items(), oils.items(), hot, (0.2, 1.0)
    ):
        speed = engine.redline * share
        yield (
            f"operating_point {key} {oil} {celsius} {share}",
            lambda e=engine, g=grade, s=speed, c=celsius: o.operating_point(e, g, s, c),
        )
        yield (
            f"engine_demand {key} {oil} {celsius} {share}",
            lambda e=engine, g=grade, s=speed, c=celsius: o.engine_demand(e, g, Q(45, "psig"), s, c),
        )
    fitting = next(iter(o.fittings().values()))
    for (hose, one), thickness, flow in itertools.product(hoses.items(), (8.0, 60.0, 900.0), (2.0, 8.0)):
        line = o.SupplyLine(one, Q(6, "ft"), (fitting,))
        yield (
            f"supply_drop {hose} {thickness} {flow}",
            lambda line=line, mu=thickness, flow=flow: o.supply_drop(
                line, Q(flow, "gpm"), Q(850, "kg/m**3"), Q(mu, "mPa*s")
            ),
        )
    for (name, vessel), charge, pressure, flow in itertools.product(
        vessels.items(), (5, 10, 20, 40), (15, 35, 60), (0.5, 4.0)
    ):
        yield (
            f"fill {name} {charge} {pressure} {flow}",
            lambda v=vessel, c=charge, p=pressure, f=flow: o.fill(
                v, Q(c, "psig"), Q(p, "psig"), Q(f, "gpm"), Q(20, "degC"), Q(5, "s")
            ),
        )
    for key, name in itertools.product(engines, vessels):
        built = o.usual_installation(key, name)
        for charge, pressure, celsius in itertools.product((5, 12, 25), (40, 60), (60, 110)):
            case = {"precharge": Q(charge, "psig"), "pressure": Q(pressure, "psig"), "gas_temperature": Q(30, "degC")}
            yield (
                f"discharge {key} {name} {charge} {pressure} {celsius}",
                lambda b=built, c=case, t=celsius: o.discharge(
                    b, Q(6, "s"), sump_temperature=Q(t, "degC"), speed=Q(3000, "rpm"), **c
                ),
            )
        for charge in (5, 15):
            yield (
                f"overnight {name} {key} {charge}",
                lambda v=vessels[name], b=built, c=charge: o.overnight(
                    v, b.oil, Q(c, "psig"), Q(50, "psig"), Q(40, "degC"), Q(80, "degC"), Q(5, "degC"), Q(0.1, "qt")
                ),
            )
            yield (
                f"pre_lube {key} {name} {charge}",
                lambda b=built, c=charge: o.pre_lube(b, fitting, Q(c, "psig"), Q(50, "psig"), Q(10, "degC")),
            )
    for name, build in o.demo_set_ups().items():
        yield f"build_sheet {name}", lambda build=build: o.build_sheet(build, whole=False)
    for key in engines:
        set_up = o.demo_set_up(key)
        yield f"oil_taken {key}", lambda set_up=set_up: o.oil_taken(set_up)
        yield f"acceptance_card {key}", lambda set_up=set_up: list(o.acceptance_card(set_up))
        yield f"simulate_lap {key}", lambda key=key: o.simulate_lap(o.usual_installation(key), o.kit_lap())
    for (key, procedure), turn in itertools.product(o.PROCEDURES.items(), range(4)):
        order = list(procedure.keys)
        order = order[turn:] + order[:turn]
        yield f"play {key} {turn}", lambda key=key, order=order: o.play(key, order)


def same(one: Any, other: Any) -> bool:
    if isinstance(one, float | int) and isinstance(other, float | int):
        return (
            one == other or (math.isnan(one) and math.isnan(other)) or abs(one - other) <= SAME * max(abs(one), 1e-30)
        )
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    return bool(one == other)


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("what", choices=("store", "compare"))
    made.add_argument("file", type=Path)
    given = made.parse_args()
    found: dict[str, Any] = {}
    failed = 0
    for name, call in itertools.chain(formulas(), of_records()):
        try:
            found[name] = answer(call)
        except (TypeError, AttributeError) as problem:  # a call that one of the trees does not know
            found[name], failed = f"{type(problem).__name__}: {problem}", failed + 1
    refused = sum(isinstance(one, str) and one.startswith("refused") for one in found.values())
    print(f"{len(found)} calls, {refused} refused, {failed} that failed")
    if given.what == "store":
        given.file.write_text(json.dumps(found), encoding="utf-8")
        return
    before = json.loads(given.file.read_text(encoding="utf-8"))
    now = json.loads(json.dumps(found))
    differ = [name for name in before if not same(before.get(name), now.get(name))]
    for name in sorted(differ)[:20]:
        print(f"{name}\n    before {str(before.get(name))[:300]}\n    now    {str(now.get(name))[:300]}")
    print(f"{len(differ)} of {len(before)} differ")
    sys.exit(bool(differ))


if __name__ == "__main__":
    main()
