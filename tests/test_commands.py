"""Every command of the developers' says what it does when asked with --help, and does nothing then."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
COMMANDS = sorted((ROOT / "tests" / "commands").glob("*.py"))
NOT_ALL_HAVE = {"mutate": "cosmic_ray", "take_pictures": "PIL", "benchmark_simulation": "resource"}


def stored() -> dict[Path, tuple[int, int]]:
    """When each file that a command could store was written, and how long it is."""
    files = (path for name in ("data", "notebooks", "oilkit/jupyter") for path in (ROOT / name).rglob("*"))
    return {path: (path.stat().st_mtime_ns, path.stat().st_size) for path in files if "__pycache__" not in path.parts}


@pytest.mark.parametrize("command", COMMANDS, ids=lambda path: path.stem)
def test_asked_what_it_does_a_command_answers_and_changes_nothing(
    command: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    if command.stem in NOT_ALL_HAVE:
        pytest.importorskip(NOT_ALL_HAVE[command.stem])
    before = stored()
    monkeypatch.setattr(sys, "path", [str(command.parent), *sys.path])
    monkeypatch.setattr(sys, "argv", [str(command), "--help"])
    with pytest.raises(SystemExit) as end:
        runpy.run_path(str(command), run_name="__main__")
    assert end.value.code == 0
    assert f"usage: {command.name}" in capsys.readouterr().out
    assert stored() == before
