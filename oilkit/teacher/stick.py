"""A folder for a memory stick: the kit with all that it needs, for laptops without internet and without rights.

uv says which versions each system and Python need (pip alone would ask this computer's system for the others too), pip
fetches them as wheels, and a launcher for each system installs from the stick into a folder of the learner's.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from oilkit.errors import InputError
from oilkit.storage.lessons import PACKAGE
from oilkit.storage.saving import write_safely
from oilkit.storage.templates import template


@dataclass(frozen=True)
class System:
    """A sort of laptop: how a sentence, uv and pip call it, and its launcher."""

    name: str
    target: str
    tags: tuple[str, ...]
    launcher: str


def _manylinux(*minors: int) -> tuple[str, ...]:
    return (*(f"manylinux_2_{minor}_x86_64" for minor in minors), "manylinux2014_x86_64")


SYSTEMS = {
    "windows": System("Windows", "x86_64-pc-windows-msvc", ("win_amd64",), "start-windows.bat"),
    "macos": System("macOS", "aarch64-apple-darwin", ("macosx_14_0_arm64",), "start-macos.command"),
    "macos-intel": System("macOS on Intel", "x86_64-apple-darwin", ("macosx_14_0_x86_64",), "start-macos.command"),
    "linux": System("Linux", "x86_64-manylinux_2_28", _manylinux(28, 27, 26, 24, 17), "start-linux.sh"),
}
USUAL = ("windows", "macos", "linux")
NEEDED = "pip"
"""Beside the kit: the launchers install with the stick's own pip, for a Python without one."""


def write_stick(folder: Path, pythons: Sequence[str], systems: Sequence[str] = USUAL) -> list[str]:
    """Write the folder, or bring it up to date; returns a sentence for each system and Python that lacks wheels.

    pythons: versions such as ``3.12``; systems: of `SYSTEMS`. Raises `InputError`, and `OSError` for what cannot be
    written.
    """
    for version in pythons:
        if not (
            version.startswith("3.") and version[2:].isascii() and version[2:].isdigit() and int(version[2:]) >= 11
        ):
            raise InputError("python", repr(version), "versions from 3.11 on, such as 3.12")
    if unknown := sorted(set(systems) - set(SYSTEMS)):
        raise InputError("systems", ", ".join(unknown), f"some of {', '.join(SYSTEMS)}")
    source = PACKAGE.parent
    if not (source / "pyproject.toml").exists():
        raise InputError("kit", "one that was installed from a wheel", "its folder with pyproject.toml")
    if not find_spec("uv"):
        raise InputError("uv", "a Python without it", 'one with it: python -m pip install "uv"')
    wheels = folder / "wheels"
    wheels.mkdir(parents=True, exist_ok=True)
    kit = _own_wheel(source, wheels)
    missing = [
        f"{SYSTEMS[system].name}, Python {version}: no wheels of {', '.join(lacking)}."
        for system in systems
        for version in pythons
        if (lacking := _fetch(kit, SYSTEMS[system], version, wheels))
    ]
    words = {"pythons": list(pythons), "kit": kit.name, "digest": hashlib.sha256(kit.read_bytes()).hexdigest()[:12]}
    for name in dict.fromkeys(["README.txt", *(SYSTEMS[system].launcher for system in systems)]):
        text = template("oilkit.teacher", f"stick/{name}.txt").render(words)
        ends = "\r\n" if name.endswith((".bat", ".txt")) else "\n"  # Windows' own programs want theirs
        write_safely(folder / name, text.replace("\n", ends).encode("utf-8"))
        (folder / name).chmod(0o755)
    return missing


def _own_wheel(source: Path, wheels: Path) -> Path:
    for old in wheels.glob("oilkit-*.whl"):
        old.unlink()
    done = _run("pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(wheels), str(source))
    found = list(wheels.glob("oilkit-*.whl"))
    if done.returncode or not found:
        raise InputError("kit", f"a folder of which pip makes no wheel ({_last_line(done)})", "the kit's own folder")
    return found[0]


def _fetch(kit: Path, system: System, version: str, wheels: Path) -> list[str]:
    """Fetch what the kit needs there; what has no wheel, or why nothing could be chosen."""
    wanted = f"oilkit @ {kit.resolve().as_uri()}\n{NEEDED}\n"
    compiled = ("pip", "compile", "--quiet", "--no-header", "--no-annotate", "--no-emit-package", "oilkit")
    target = ("--python-platform", system.target, "--python-version", version)
    chosen = _run("uv", *compiled, *target, "--only-binary", ":all:", "-", said=wanted)
    if chosen.returncode:  # no set of wheels: choose without asking for wheels, and see which are missing
        chosen = _run("uv", *compiled, *target, "-", said=wanted)
    pins = [line.split(";")[0].strip() for line in chosen.stdout.splitlines() if "==" in line]
    if chosen.returncode or not pins:
        return [f"anything ({_last_line(chosen)})"]
    if not _download(pins, system, version, wheels):
        return []
    return [pin for pin in pins if _download([pin], system, version, wheels)]


def _download(pins: Iterable[str], system: System, version: str, wheels: Path) -> int:
    options = [option for tag in system.tags for option in ("--platform", tag)]
    options += ["--python-version", version, "--implementation", "cp", "--only-binary=:all:", "--no-deps", "--quiet"]
    return _run("pip", "download", "--dest", str(wheels), *options, *pins).returncode


def _run(module: str, *arguments: str, said: str = "") -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    command = [sys.executable, "-P", "-m", module, *arguments]
    return subprocess.run(command, input=said, capture_output=True, text=True, env=environment)


def _last_line(done: subprocess.CompletedProcess[str]) -> str:
    lines = [line.strip() for line in done.stderr.splitlines() if line.strip()]
    return lines[-1][:200] if lines else "no word why"
