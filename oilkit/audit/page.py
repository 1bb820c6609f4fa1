"""An entry of the register as a page to read. (Lesson 12)"""

from __future__ import annotations

import inspect
import textwrap
from collections.abc import Iterator

import numpy as np

from oilkit.audit.register import Entry, dimension_of, units_of
from oilkit.quantities.kind import Kind


def entry_text(found: Entry, brief: bool = False, width: int = 116) -> str:
    """An entry as a page of the register. brief: without dimensions, and conditions and uses not one by one."""
    lines = [f"{found.name}  ({found.module}, lesson {found.lesson}, {found.sort})"]

    def told(head: str, text: str) -> None:
        if text:
            indent = "    " if brief else " " * 14
            lines.extend(textwrap.wrap(text, width, initial_indent=f"  {head:<12}", subsequent_indent=indent))

    told("what", found.summary)
    for formula in found.formulas:
        told("formula", formula)
    if brief:
        told("in", "; ".join(_in_brief(found)))
        told(
            "out",
            found.gives if found.returns is None else ", ".join(filter(None, (found.gives, found.returns.labels()))),
        )
    else:
        for argument in found.arguments:
            parts = [f"{argument.name}{f' = {argument.symbol}' if argument.symbol else ''}: {argument.noun}"]
            if argument.kind:
                parts += [f"unit {argument.units}", f"dimension {argument.dimension}", f"range {argument.span}"]
            if argument.default:
                parts.append(f"usually {argument.default}")
            told("in", "; ".join(parts))
        unit = f"; unit {units_of(found.returns)}; dimension {dimension_of(found.returns)}" if found.returns else ""
        told("out", found.gives + unit)
    told("source", found.source)
    told("basis", "" if brief else found.basis)
    told("limits", found.assumptions.replace("Shapes broadcast.", "").strip() if brief else found.assumptions)
    few = found.used_by[:2] if brief else found.used_by
    more = f" and {len(found.used_by) - len(few)} more" if len(few) < len(found.used_by) else ""
    told("used by", ", ".join(few) + more)
    told("in lessons", "" if brief else ", ".join(found.lessons))
    return "\n".join(lines)


def _in_brief(found: Entry) -> Iterator[str]:
    """Arguments with their symbols, shop units and ranges; the conditions of a simulation in one word."""
    names = inspect.signature(found.function).parameters
    for argument in found.arguments:
        if argument.name not in names:
            yield "conditions as in discharge"
            return
        parts = [f"{argument.name} {argument.symbol}".strip(), *([argument.noun] if not argument.kind else [])]
        if argument.kind:
            parts.append(argument.kind.labels() or argument.noun)
            parts += [] if argument.span == "any" else [_span_in_brief(argument.kind)]
        yield ", ".join(parts) + (f", usually {argument.default}" if argument.default else "")


def _span_in_brief(kind: Kind) -> str:
    """A kind's range in metric units: ``0.2 to 1.15 bara``."""
    low, high = (f"{float(kind.display(end, 'SI')) + 0.0:.4g}" for end in (kind.low, kind.high))
    unit = kind.label("SI")
    if not np.isfinite(kind.high):
        return f"{'above' if kind.above_low else 'from'} {low} {unit}".rstrip()
    if not np.isfinite(kind.low):
        return f"up to {high} {unit}".rstrip()
    return f"{'above ' if kind.above_low else ''}{low} to {high} {unit}".rstrip()
