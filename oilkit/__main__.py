"""The command ``oilkit`` (or ``python -m oilkit``): lay the lessons into a folder and open them where one left off."""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from oilkit.errors import InputError
from oilkit.storage.lessons import LaidOut, lay_out, where_left_off
from oilkit.storage.settings import load_folder, save_folder

USUAL = "oilkit-lessons"
"""The folder's name in the learner's home, if no other is chosen."""


def parser() -> argparse.ArgumentParser:
    made = argparse.ArgumentParser(
        prog="oilkit",
        description="Open the lessons in JupyterLab, where you left off. They lie in a folder of your own, "
        f"{USUAL} in your home folder unless you choose another one; the choice is remembered.",
    )
    made.add_argument("folder", nargs="?", help="where your lessons lie, or shall lie")
    made.add_argument(
        "--prepare",
        action="store_true",
        help="compile the model for this computer (ten seconds, once), and open nothing",
    )
    made.add_argument("--no-lab", action="store_true", help="lay the lessons out, and open nothing")
    made.add_argument(
        "--hub",
        action="store_true",
        help="what a class server starts for each learner: lay the lessons out and serve them to JupyterHub; further "
        "options are the server's",
    )
    return made


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; returns 0, or 2 after a sentence that says why nothing was done."""
    given, options = parser().parse_known_args(arguments)
    if options and not given.hub:
        parser().error(f"unrecognized arguments: {' '.join(options)}")
    if given.prepare:
        prepare()
        return 0
    folder = Path(given.folder or load_folder() or Path.home() / USUAL).expanduser().resolve()
    try:
        done = lay_out(folder)
        told = [*_told(done, folder), save_folder(str(folder)) if given.folder else ""]
        lesson = where_left_off(folder)
    except InputError as problem:
        print(problem, file=sys.stderr)
        return 2
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        print(f"The lessons could not be laid into {folder} ({reason}). Name another folder.", file=sys.stderr)
        return 2
    print(*filter(None, told), sep="\n", flush=True)
    if given.hub:
        from oilkit.jupyter.hub import serve

        serve(folder, lesson, options)
    elif not given.no_lab:
        from jupyterlab.labapp import LabApp

        if done.fresh:  # a new installation: by the time that a lesson simulates, the model is there
            quiet = subprocess.DEVNULL
            subprocess.Popen([sys.executable, "-m", "oilkit", "--prepare"], stdout=quiet, stderr=quiet)
        LabApp.launch_instance([f"--ServerApp.root_dir={folder}", str(lesson)])
    return 0


def prepare() -> None:
    """Compile what is simulated; the machine code is kept beside the package, or else in the user's own store."""
    from oilkit.laps.lap import simulate_lap, usual_installation
    from oilkit.laps.logfile import kit_lap
    from oilkit.physics.discharging import discharge
    from oilkit.physics.settling import settled_pressure
    from oilkit.quantities.units import Q

    usual = usual_installation()
    settled_pressure(usual.engine, usual.oil, 10.0, 370.0, 0.0)
    discharge(usual)
    discharge(usual, precharge=Q([5.0, 10.0], "psig"))
    simulate_lap(usual, kit_lap())


def _told(done: LaidOut, folder: Path) -> list[str]:
    told = [f"Your lessons are in {folder}."]
    if done.beside:
        told.append(f"What you changed stays as it is. The kit's new versions beside it: {', '.join(done.beside)}.")
    return told


if __name__ == "__main__":
    sys.exit(main())
