"""The tests that draw examples, with all that they ask for; the README's command tries a share of them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import randomly

TESTS = Path(__file__).resolve().parent
DRAW = [path.name for path in sorted(TESTS.glob("test_*.py")) if "\nfrom randomly import" in path.read_text("utf-8")]


@pytest.mark.thorough
@pytest.mark.skipif(randomly.SHARE >= 1.0, reason="with OILKIT_EXAMPLES=1 each test draws them all where it stands")
@pytest.mark.parametrize("part", range(4))
def test_all_examples(part: int) -> None:
    command = [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", "-m", "hypothesis"]
    files = [str(TESTS / name) for name in DRAW[part::4]]
    environment = os.environ | {"OILKIT_EXAMPLES": "1"}
    done = subprocess.run([*command, *files], env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-1000:]
