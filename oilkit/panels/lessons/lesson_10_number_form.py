"""Every number of a set-up file in a form, one part of the car at a time: a control of lesson 10."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any, get_args

import ipywidgets

from oilkit.build.as_typed import amount, put
from oilkit.build.records import LISTS, TABLES
from oilkit.build.setup_file import MOST, set_up_of
from oilkit.errors import InputError
from oilkit.panels.framework.controls import button
from oilkit.panels.framework.form import Form
from oilkit.quantities.kind import Kind
from oilkit.quantities.records import Record
from oilkit.quantities.typed import has_unit, parse

PARTS = {
    "engine": "Engine",
    "engine.mains": "Main bearings",
    "engine.rods": "Rod bearings",
    "engine.cams": "Cam bearings",
    "engine.jets": "Piston jets",
    "engine.lifters": "Lifters",
    "engine.pump": "Pump and relief valve",
    "engine.filter": "Filter",
    "engine.cooler": "Oil cooler",
    "engine.pan": "Pan",
    "oil": "Oil",
    "vessel": "Vessel",
    "hose": "Hose",
    "line": "Line to the vessel",
    "fittings": "Fitting",
    "valve": "Valve",
    "driving": "Where it runs",
    "driving.events": "Event",
    "shop": "Shop and its gauge",
    "choice": "Pre-charge",
    "limits": "Limits",
    "estimates": "Estimates",
    "morning": "Cold start",
    "uncertain": "How far each may be off",
}
"""Tables of a set-up file in the order of the list, each by a name; `your_readings` has ``[readings]``."""
NAMES = "Names and note"
COPIED = {"engine.cooler": "engine.filter", "fittings": "valve"}
"""Where a car may do without a part: the part whose numbers a first one begins with."""


class NumberForm(Form):
    """A list of parts, and a box for each number of the chosen one. ``value``: the tables of a set-up file.

    A box keeps what was typed, to the digit. What is refused stays in its box, and is tried again with the next one:
    two numbers that fit only each other can be typed one after the other.
    """

    def __init__(self, name: str, label: str, document: dict[str, Any]) -> None:
        self._document = document
        self._act: Callable[[], None] | None = None
        self.part = ipywidgets.Dropdown(layout={"width": "auto"})
        self.part.observe(lambda change: self._asked(self._chosen), "value")
        self.add = button("Add one like it", lambda pressed: self._asked(self._added))
        self.away = button("Take it away", lambda pressed: self._asked(self._taken_away))
        self._rows = ipywidgets.VBox()
        head = ipywidgets.HBox([self.part, self.add, self.away], layout={"flex_flow": "row wrap", "flex": "none"})
        super().__init__(name, label, self._rows)
        widget: Any = self
        title, error, form = widget.children
        widget.children = (title, error, head, form)
        self._list_parts()

    @property
    def value(self) -> dict[str, Any]:
        return self._document

    def set(self, value: Any) -> None:
        """Tables of a set-up, or a dictionary of table and key to value, as `Build.changed` takes it."""
        if not isinstance(value, dict):
            raise InputError(self.label, f"a {type(value).__name__}", "a dictionary of values by table and key")
        document = value
        if "format" not in value:
            document = copy.deepcopy(self._document)
            for path, one in value.items():
                put(document, path, one)
        set_up_of(document, "the set-up")
        self.set_si(document)

    def set_si(self, value: Any) -> None:
        self._document = value
        self.forget()
        self._list_parts()

    # -- the list

    def _paths(self) -> dict[str, str]:
        """What the list says to the table that it opens."""
        found = {NAMES: ""}
        for path, words in PARTS.items():
            if path in LISTS:
                items = _list_in(self._document, path)
                found |= {f"{words} {k}: {item['name']}"[:60]: f"{path} {k}" for k, item in enumerate(items, 1)}
                if not items:
                    found[f"{words}: none"] = path
            else:
                found[words if self._table(path) is not None else f"{words}: none"] = path
        return found

    def _table(self, path: str) -> Any:
        place: Any = self._document
        for step in path.split(".") if path else ():
            name, _, number = step.partition(" ")
            place = place.get(name)
            place = place[int(number) - 1] if number and place else place
        return place

    def _list_parts(self, here: str = "") -> None:
        paths, here = self._paths(), here or self.part.value
        with self.quietly():
            self.part.options = list(paths.items())
            self.part.value = here if here in paths.values() else next(iter(paths.values()))
        self._show()

    def _asked(self, act: Callable[[], None]) -> None:
        """Do something when the panel collects: what goes wrong in there is shown."""
        if not self.quiet:
            self._act = act
            self._report()

    def _chosen(self) -> None:
        self.forget()  # what was refused does not wait where nobody sees it
        self._show()

    # -- the boxes

    def _show(self) -> None:
        path = self.part.value
        table, sort = self._table(path), path.partition(" ")[0]
        there = isinstance(table, dict)
        with self.quietly():
            for box in self.boxes.values():
                box.close()
            self.boxes = {
                key: self._box(key, kind, table.get(key))
                for key, kind in (_fields(path) if there else {}).items()
                if not (isinstance(kind, type) and issubclass(kind, Record))
            }
            self._rows.children = list(self.boxes.values())
        spare = len(_list_in(self._document, sort)) > LISTS[sort][2] if sort in LISTS else sort in COPIED
        self.add.layout.display = "" if sort in LISTS or (sort in COPIED and not there) else "none"
        self.away.layout.display = "" if there and spare else "none"

    def _box(self, key: str, kind: Any, value: Any) -> Any:
        words = key.replace("_", " ")
        if get_args(kind):
            look = {"description": words, "layout": {"width": "auto"}}
            return self.listened(key, ipywidgets.Dropdown(options=get_args(kind), value=value, **look))
        box = self.text_box(key, words, "" if value is None else str(value))
        if not isinstance(kind, Kind):
            box.add_class("oilkit-wide")
        return box

    def collect(self) -> None:
        if self._act is not None:
            act, self._act = self._act, None
            act()
        waiting, self._waiting = self._waiting, []
        if not waiting:
            return
        for key in waiting:
            self._bad[key] = self.boxes[key].value
        problem = self._tried(self._bad)
        if problem is not None and len(self._bad) > 1:  # what is refused elsewhere holds up nobody
            alone = {key: self._bad[key] for key in waiting}
            if self._tried(alone) is None:
                for key in alone:
                    self._bad.pop(key)
        elif problem is None:
            self._bad.clear()
        self.refused = bool(self._bad)
        self._names()
        if problem is not None:
            raise problem

    def _tried(self, typed: dict[str, str]) -> InputError | None:
        """Put what was typed into the set-up, all or nothing; the sentence that refuses it."""
        path = self.part.value
        document = copy.deepcopy(self._document)
        fields = _fields(path)
        try:
            for key, text in typed.items():
                put(document, f"{path}.{key}" if path else key, self._value(key, text, fields.get(key)))
            set_up_of(document, "the set-up")
        except InputError as problem:
            where = problem.argument.rpartition(", ")[2].replace("_", " ")
            return InputError(self.label, f"{problem.got} for “{where}”", problem.wanted)
        self._document = document
        return None

    def _value(self, key: str, text: str, kind: Any) -> Any:
        """A value as it belongs into the file: a text that has its unit as it is, a bare number in the unit on show."""
        text = text.strip()
        if not isinstance(kind, Kind):
            return text
        si = parse(key, text, kind)
        return text if kind.si != "dimensionless" and has_unit(text) else amount(kind.quantity(si), kind)

    def _names(self) -> None:
        """The list anew, if a name in it has changed."""
        with self.quietly():
            here, paths = self.part.value, self._paths()
            if list(paths.items()) != list(self.part.options):
                self.part.options = list(paths.items())
                self.part.value = here

    # -- one more, one less

    def _added(self) -> None:
        here = self.part.value
        path, _, number = here.partition(" ")
        document = copy.deepcopy(self._document)
        if path not in LISTS:
            put(document, path, copy.deepcopy(self._table(COPIED[path])))
        else:
            items, first = _list_in(document, path), COPIED.get(path, path)
            if len(items) >= MOST:
                raise InputError(self.label, f"one more than {MOST}", f"up to {MOST} of a sort")
            made = copy.deepcopy(self._table(here if number else first))
            items.insert(int(number or 0), made | {"name": f"{made['name'][:190]} (copy)"})
            here = f"{path} {int(number or 0) + 1}"
        self._document = document
        self._list_parts(here)

    def _taken_away(self) -> None:
        path, _, number = self.part.value.partition(" ")
        document = copy.deepcopy(self._document)
        if number:
            del _list_in(document, path)[int(number) - 1]
        else:
            del document["engine"]["cooler"]
        self._document = document
        self._list_parts()


def _list_in(document: dict[str, Any], path: str) -> list[Any]:
    """The tables of which a set-up has several, by their path."""
    above, _, last = path.rpartition(".")
    found: list[Any] = (document[above] if above else document).setdefault(last, [])
    return found


def _fields(path: str) -> dict[str, Any]:
    """The fields of a table by its path in a set-up."""
    listed = path.partition(" ")[0]
    if listed in LISTS:
        return LISTS[listed][0].fields()
    if not path:
        return {"name": str, "note": str}
    first, *way = path.split(".")
    cls: Any = TABLES[first][0]
    for step in way:
        cls = cls.fields()[step]
    fields: dict[str, Any] = cls.fields()
    return fields
