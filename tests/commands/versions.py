"""The README's tests in a fresh environment with the lowest versions that pyproject.toml allows, or with the newest.

    python tests/commands/versions.py lowest [options for pytest]
    python tests/commands/versions.py newest [options for pytest]

``lowest`` installs every library that the kit itself needs exactly at its declared lower bound, and what those
libraries and the tests need as new as goes with that. Printed are the versions, then what pytest says.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import tomllib
import venv
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
SHOWN = "import importlib.metadata as m, sys; print(*(f'{n} {m.version(n)}' for n in sys.argv[1:]), sep='\\n')"


def needed() -> list[Requirement]:
    """What the kit itself needs, as pyproject.toml declares it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [Requirement(line) for line in project["dependencies"]]


def at_lower_bound(requirement: Requirement) -> str:
    """The one version ``name==bound``."""
    (bound,) = [part.version for part in requirement.specifier if part.operator == ">="]
    return f"{requirement.name}=={bound}"


def main() -> int:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("which", choices=("lowest", "newest"))
    made.add_argument("options", nargs=argparse.REMAINDER, help="for pytest")
    asked = made.parse_args()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as work:
        folder = Path(work) / "venv"
        venv.create(folder, with_pip=True)
        python = folder / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
        limits = Path(work) / "constraints.txt"
        exact = map(at_lower_bound, needed()) if asked.which == "lowest" else ()
        limits.write_text("\n".join(exact) + "\n", encoding="utf-8")
        install = [python, "-m", "pip", "install", "--quiet", "--upgrade", "-c", limits, "-e", f"{ROOT}[test]"]
        subprocess.run(install, check=True)
        print(f"Python {sys.version.split()[0]}", flush=True)
        subprocess.run([python, "-c", SHOWN, *(r.name for r in needed())], check=True)
        return subprocess.run([python, "-m", "pytest", *asked.options], cwd=ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
