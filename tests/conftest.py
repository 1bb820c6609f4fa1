"""What every test stands on: settings of its own, so that neither the learner's choice of units nor a test's leaks."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

# Before anything imports the kit, and inherited by the kernels that run the lessons.
_folder = tempfile.TemporaryDirectory(prefix="oilkit-tests-", ignore_cleanup_errors=True)
os.environ["OILKIT_SETTINGS"] = str(Path(_folder.name) / "settings.json")


@pytest.fixture(autouse=True)
def us_units() -> Iterator[None]:
    """Every test starts and ends in US units, with nothing remembered."""
    from oilkit.units import unit_switch

    unit_switch.choose("US")
    yield
    for follower in list(unit_switch._followers):
        follower.close()  # every panel that the test opened: else each later switch of units would redraw it
    unit_switch.choose("US")
    Path(os.environ["OILKIT_SETTINGS"]).unlink(missing_ok=True)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Who runs together on one core: a file's tests, and in the browser, which takes longest, those of one lesson."""
    for item in items:
        group = item.nodeid.split("::")[0]
        lesson = str(getattr(item, "callspec", None) and item.callspec.id)
        if group.endswith("test_browser.py") and lesson.endswith(".ipynb"):
            group = f"{group} {lesson}"
        item.add_marker(pytest.mark.xdist_group(group))
