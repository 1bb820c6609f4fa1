"""What the panels of lesson 10 share that show a set-up: it is loaded, saved, and its sheet written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from oilkit.build.own_car import YOURS, choose_car, own_car, own_file
from oilkit.build.setup_file import Build, read_set_up, set_up_from_bytes, write_set_up
from oilkit.build.sheet import build_sheet
from oilkit.build.sheet_files import write_sheet
from oilkit.errors import InputError
from oilkit.panels.framework.controls import Amount, button
from oilkit.panels.framework.instrument import acting, guarded
from oilkit.panels.framework.keeping import KeepingPanel
from oilkit.quantities.records import data_file
from oilkit.storage.saving import named_file, saved_where


class SetUpPanel(KeepingPanel):
    """A panel that shows a set-up in some controls, with its file above them."""

    paths: ClassVar[Mapping[str, str]]
    """Each amount among the controls, and where it stands in a set-up file."""

    def __init__(self, set_up: Build | str | Path | None = None, **start: Any) -> None:
        """set_up: one that was read, or the name of its file; else your car, or the kit's own street V8."""
        self._mine: Path | None = None
        if set_up is None:
            set_up = self._mine = _chosen()
        if set_up is None:
            set_up = data_file("setup_street_v8.toml")
        self._base = set_up if isinstance(set_up, Build) else read_set_up(set_up)
        super().__init__(**start)

    def extra_controls(self) -> Sequence[ipywidgets.Widget]:
        self._file = ipywidgets.Text(
            value=_as_typed(self._mine) if self._mine else "my_set_up.toml",
            layout={"width": "210px"},
            continuous_update=False,
            description="File",
        )
        self._file.style.description_width = "30px"
        self._load = button("Load", self._load_clicked, tooltip="read the file named here")
        self._save = button("Save", self._save_clicked, tooltip="write this set-up into the file named here")
        beside = "write the build sheet beside it"
        self._html = button("Sheet (HTML)", lambda pressed: self._write("HTML"), tooltip=beside)
        self._pdf = button("Sheet (PDF)", lambda pressed: self._write("PDF"), tooltip=beside)
        self._card = button("Card (PDF)", lambda pressed: self._write("PDF", card=True), tooltip=beside)
        everywhere = "save it, and have this car in the lists of all lessons"
        self._everywhere = button("Use in every lesson", self._everywhere_clicked, tooltip=everywhere)
        self._upload = ipywidgets.FileUpload(
            accept=".toml", multiple=False, description="Load from disk", tooltip="read a set-up file of this computer"
        )
        self._upload.observe(self._uploaded, "value")
        papers = [self._upload, self._html, self._pdf, self._card]
        rows = [[self._file, self._load, self._save, self._everywhere], papers, [self.make_note()]]
        return [ipywidgets.HBox(row, layout={"flex_flow": "row wrap"}) for row in rows]

    @property
    def build_now(self) -> Build:
        """The set-up as it stands in the form."""
        return self.state["build"]  # type: ignore[no-any-return]

    def fit(self) -> None:
        """Put the controls at the values of the set-up that was loaded."""
        raise NotImplementedError

    def changed(self, changes: Mapping[str, Any]) -> Build:
        """The set-up with some values changed. Raises `InputError` named after the control that it belongs to."""
        try:
            return self._base.changed(changes)
        except InputError as problem:
            for name, path in self.paths.items():
                table, _, key = path.rpartition(".")
                if problem.argument.endswith(f"[{table}], {key}"):
                    raise InputError(name, problem.got, problem.wanted) from None
            raise

    def take(self, build: Build) -> None:
        """Put another set-up into the form. Raises `InputError` and leaves the old one if it is of no use."""
        before, values = self._base, [(control, control.value) for control in self.controls.values()]
        ends = [(control, control.low, control.high) for control in self._amounts()]
        self._base = build
        try:
            self.fit()
            self._refresh()
        except BaseException:
            self._base = before
            for resized, low, high in ends:
                resized.low, resized.high = low, high
            for control, value in values:
                control.set_si(value)
                control.units_changed()
            raise

    def _amounts(self) -> list[Amount]:
        return [control for control in self.controls.values() if isinstance(control, Amount)]

    @guarded
    def _load_clicked(self, button: Any) -> None:
        path = self._typed_file()
        self.take(read_set_up(path))
        self._mine = path
        self.note(f"Loaded from {path.name}.")

    @guarded
    def _uploaded(self, change: Any) -> None:
        for item in change["new"]:
            name = Path(str(item["name"])).name
            self.take(set_up_from_bytes(bytes(item["content"]), name))
            self._file.value = name
            self.note(f"Loaded from {name}.")

    def _typed_file(self) -> Path:
        return named_file(self._file.value, ".toml", argument="File")

    def _own_file(self) -> Path:
        """The set-up's file, once nothing is refused in the form."""
        if any(control.error for control in self.controls.values()):
            raise InputError("form", "a box with an error beside it", "that put right first")
        path = self._typed_file()
        if path.exists() and (self._mine is None or path.resolve() != self._mine.resolve()):
            raise InputError("File", f"{path.name}, which holds another set-up than this form", "Load, or another name")
        return path

    def _saved(self) -> str:
        """Save the set-up; the sentence says where."""
        kept = write_set_up(self.build_now, path := self._own_file())
        self._mine = path
        self.show_message("")
        return f"Saved {saved_where(path)}.{kept}"

    @acting
    def _save_clicked(self, button: Any) -> None:
        self.note(f"{self._saved()} Keep .toml files with your car's papers.")

    @acting
    def _everywhere_clicked(self, button: Any) -> None:
        saved = self._saved()
        choose_car(self._mine)
        self.note(f"{saved} Lessons that you open from now on have {YOURS} in their lists.")

    @acting
    def _write(self, kind: str, card: bool = False) -> None:
        path = self._own_file().with_suffix(f".{kind.lower()}")
        path = path.with_stem(f"{path.stem} card") if card else path
        write_sheet(build_sheet(self.build_now), path, card=card)
        self.show_message("")
        self.note(f"Written: the {'toolbox card' if card else 'sheet'}, as {kind}, {saved_where(path)}.")


def _chosen() -> Path | None:
    """The file of your car, if there is one that can be read."""
    try:
        return own_file() if own_car() else None
    except InputError:
        return None


def _as_typed(path: Path) -> str:
    """A file as short as it can be named from here."""
    return path.name if path.parent == Path.cwd() else str(path)
