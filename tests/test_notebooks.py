"""The lessons as files: what a reader without a kernel sees, and proof that nbval watches the numbers."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import nbformat
import pytest
from parts import quick

from oilkit import panels
from oilkit.exercises import all_exercises, all_predictions

ROOT = Path(__file__).resolve().parents[1]
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))
WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"


def lesson(path: Path) -> Any:
    return nbformat.read(path, as_version=4)


def code_cells(path: Path) -> list[Any]:
    return [cell for cell in lesson(path).cells if cell.cell_type == "code"]


def is_panel(cell: Any) -> bool:
    return cell.source.lstrip("(").split("(")[0].split(":=")[-1].strip().startswith("panels.")


def asks(cell: Any) -> bool:
    """Whether a panel cell is a question or asks for a name: those need no picture."""
    return any(f"panels.{name}(" in cell.source for name in ("exercise", "learner", "predict"))


def text_of(output: Any) -> str:
    return str(output.get("text", "")) + str(output.get("data", {}).get("text/plain", ""))


def test_every_panel_and_every_question_stands_in_a_lesson() -> None:
    """What no lesson shows is found by nobody."""
    called = "\n".join(cell.source for path in LESSONS for cell in code_cells(path))
    shown = set(re.findall(r"panels\.(\w+)\(", called))
    assert sorted(set(panels.__all__) - set(panels.NO_PANELS) - shown) == []
    asked = set(re.findall(r"panels\.(?:exercise|predict)\(\"(\w+)\"", called))
    assert sorted({*all_exercises(), *all_predictions()} - asked) == []


ANSWERED_BY = {
    "cut_wire": "without current",
    "hotter_film": "panels.oil_thickness(",
    "off_centre": "panels.bearing_flow(",
    "precharge_for_loose": "looser clearances want less pre-charge",
    "same_night_no_leak": "panels.overnight(",
    "which_ending": "it_ends_with",
}
"""Some predictions, and what in the same lesson gives their answer away."""


@pytest.mark.parametrize("prediction", ANSWERED_BY)
def test_a_prediction_stands_before_its_answer(prediction: str) -> None:
    (source,) = (
        text for path in LESSONS if f'("{prediction}")' in (text := "\n".join(c.source for c in lesson(path).cells))
    )
    assert source.index(f'("{prediction}")') < source.index(ANSWERED_BY[prediction])


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
class TestLesson:
    def test_was_run_top_to_bottom_and_stored_clean(self, path: Path) -> None:
        notebook = lesson(path)
        nbformat.validate(notebook)
        cells = code_cells(path)
        counts = [cell.execution_count for cell in cells]
        assert counts == list(range(1, len(cells) + 1)), (
            f"run tests/commands/refresh_notebooks.py notebooks/{path.name}"
        )
        assert "widgets" not in notebook.metadata
        for cell in cells:
            for output in cell.outputs:
                assert output.output_type != "error"
                assert output.get("name") != "stderr"
                assert WIDGET_VIEW not in output.get("data", {})

    def test_is_small_and_names_no_place_on_a_machine(self, path: Path) -> None:
        raw = path.read_text(encoding="utf-8")
        assert len(raw) < 600_000
        assert not re.search(r"/(home|Users|root|tmp|work)/|[A-Z]:\\\\", raw)

    def test_panel_cells_are_one_collapsed_line_with_their_picture(self, path: Path) -> None:
        panels = [cell for cell in code_cells(path) if is_panel(cell)]
        assert len(panels) >= 2
        for cell in panels:
            assert len(cell.source.splitlines()) == 1
            assert cell.metadata["jupyter"]["source_hidden"] is True
            assert cell.metadata["deletable"] is False
            assert "hide-input" in cell.metadata["tags"]
            (output,) = cell.outputs
            assert "image/png" in output.data or asks(cell)
            assert len(output.data["text/plain"]) > 60
        assert any("image/png" in cell.outputs[0].data for cell in panels)

    def test_code_is_closed_but_where_an_engineer_reads(self, path: Path) -> None:
        deeper = audit = path.name.startswith("12_")  # all of it is for the engineer
        for cell in lesson(path).cells:
            if cell.cell_type == "markdown" and cell.source.startswith("## ") and not audit:
                deeper = cell.source.startswith("## Go deeper")
            if cell.cell_type == "code" and not is_panel(cell) and cell.source.split()[0] not in ("import", "from"):
                assert cell.metadata.get("jupyter", {}).get("source_hidden", False) is not deeper, cell.source

    def test_prints_numbers_for_nbval_beside_its_panels(self, path: Path) -> None:
        numbers = [
            cell
            for cell in code_cells(path)
            if cell.outputs and any(re.search(r"\d", text_of(o)) for o in cell.outputs)
        ]
        printed = [cell for cell in numbers if not is_panel(cell)]
        assert len(printed) >= 4

    def test_holds_no_helpers_and_no_long_cells(self, path: Path) -> None:
        for cell in code_cells(path):
            assert not re.search(r"^\s*(def|class|lambda)\b", cell.source, re.MULTILINE)
            assert len(cell.source.splitlines()) <= 25

    def test_has_goals_a_deeper_part_that_is_closed_and_sources(self, path: Path) -> None:
        cells = lesson(path).cells
        prose = "\n".join(cell.source for cell in cells if cell.cell_type == "markdown")
        assert "By the end of this lesson you can" in prose
        assert "never oxygen" in prose or "Cautions" in prose
        assert "## What we left out" in prose
        assert "## Sources" in prose
        deeper = [cell for cell in cells if cell.source.startswith("## Go deeper")]
        assert len(deeper) == 1
        assert deeper[0].metadata.get("jp-MarkdownHeadingCollapsed") is True

    def test_links_lead_somewhere(self, path: Path) -> None:
        prose = "\n".join(cell.source for cell in lesson(path).cells if cell.cell_type == "markdown")
        for target in re.findall(r"\]\(([^)#]+)\)", prose):
            assert (path.parent / target).exists(), target


def run_nbval(notebook: Path, patch: str) -> subprocess.CompletedProcess[str]:
    """nbval strict on a copy of a lesson whose kernel starts with a patch to the package."""
    target = notebook.with_name("patched.ipynb")
    copy = lesson(notebook)
    first = next(cell for cell in copy.cells if cell.cell_type == "code")
    first.source = f"{patch}\n{first.source}"
    nbformat.write(copy, target)
    command = [sys.executable, "-m", "pytest", "--nbval", "--nbval-current-env", "-q", "-p", "no:cacheprovider"]
    return subprocess.run(
        [*command, "--override-ini=addopts=", f"--rootdir={target.parent}", str(target)],
        capture_output=True,
        text=True,
        timeout=300,
        cwd=target.parent,
    )


GAUGE_IN_BOYLE = """
import oilkit.physics.gas, oilkit.physics.vessel
oilkit.physics.vessel.gas_absolute = lambda argument, gauge, ambient: gauge  # the classic mistake, planted
"""
UPSIDE_DOWN = """
import oilkit
from oilkit.quantities.checked import Absolute, Volume, Index, public
def pressure_at_volume(
    pressure: Absolute, volume: Volume, new_volume: Volume, polytropic_index: Index = 1.0
) -> Absolute:
    "Planted: the ratio upside down."
    return pressure * (new_volume / volume) ** polytropic_index
oilkit.pressure_at_volume = public(pressure_at_volume)
"""


@pytest.mark.parametrize(
    ("name", "patch", "fails"),
    quick(
        0,
        [
            ("02_filling_the_vessel.ipynb", GAUGE_IN_BOYLE, True),
            ("02_filling_the_vessel.ipynb", "import oilkit", False),
            ("01_boyles_law.ipynb", UPSIDE_DOWN, True),
        ],
    ),
    ids=["gauge in Boyle fails", "true law passes", "ratio upside down fails"],
)
def test_nbval_bites(tmp_path: Path, name: str, patch: str, fails: bool) -> None:
    shutil.copy(ROOT / "notebooks" / name, tmp_path / name)
    result = run_nbval(tmp_path / name, patch)
    if not fails:
        assert result.returncode == 0, result.stdout[-3000:]
        return
    assert result.returncode == 1
    failed = int(re.search(r"(\d+) failed", result.stdout)[1])  # type: ignore[index]
    assert failed >= 1, result.stdout[-2000:]
    assert "mismatch" in result.stdout


def test_ci_runs_the_readmes_test_command() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    command = next(line for line in readme.splitlines() if line.startswith("python3") and "[test]" in line)
    assert command in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_readme_pictures_and_links_exist() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    targets = re.findall(r"\]\(([^)#]+)\)", readme)
    assert len(targets) >= 6
    for target in targets:
        assert (ROOT / target).exists(), target
    for path in LESSONS:
        assert path.name in readme, "every lesson stands in the README's list"
