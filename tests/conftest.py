"""What every test stands on: settings of its own, so that neither the learner's choice of units nor a test's leaks."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browser as lab
import pytest

# Before anything imports the kit, and inherited by the kernels that run the lessons.
_folder = tempfile.TemporaryDirectory(prefix="oilkit-tests-", ignore_cleanup_errors=True)
os.environ["OILKIT_SETTINGS"] = str(Path(_folder.name) / "settings.json")


@pytest.fixture(autouse=True)
def us_units() -> Iterator[None]:
    """Every test starts and ends in US units, with nothing remembered and no answer kept."""
    from oilkit.exercises import progress
    from oilkit.quantities.units import unit_switch

    unit_switch.choose("US")
    usual, progress.FOLDER = progress.FOLDER, Path(_folder.name) / "progress"
    yield
    shutil.rmtree(progress.FOLDER, ignore_errors=True)
    progress.FOLDER = usual
    for follower in list(unit_switch._followers):
        follower.close()  # every panel that the test opened: else each later switch of units would redraw it
    unit_switch.choose("US")
    Path(os.environ["OILKIT_SETTINGS"]).unlink(missing_ok=True)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Any, str, Path]]:
    """A browser, JupyterLab's address, and the folder with a copy of the lessons."""
    work = tmp_path_factory.mktemp("lab")
    shutil.copytree(lab.ROOT / "notebooks", work / "notebooks", ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    with lab.jupyterlab(work / "notebooks", work / "home") as address, lab.chromium() as chrome:
        yield chrome, address, work


@pytest.fixture
def lesson(served: tuple[Any, str, Path]) -> Iterator[Any]:
    """Open a lesson by name; its kernel is shut down afterwards."""
    yield from lab.opener(served)
