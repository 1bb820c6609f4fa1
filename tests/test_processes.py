"""Simulations in many processes and threads: forked workers, an empty store of compiled code, a read-only install."""

from __future__ import annotations

import multiprocessing
import os
import shutil
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from parts import quick

from oilkit import Installation, Q, SupplyLine, discharge
from oilkit.physics import dynamics
from oilkit.physics.catalog import engines, fittings, hoses, lubricants, vessels
from oilkit.physics.discharging import cases_of, conditions_si, pump_lets_go

ROOT = Path(__file__).resolve().parents[1]
COUNT = 40
"""Cases: more than are followed one after another."""


def built() -> Installation:
    line = SupplyLine(hoses()["trade_12"], Q(6, "ft"), (fittings()["reduced_valve"], fittings()["port"]))
    return Installation(engines()["street_v8"], lubricants()["street"], vessels()["bench"], line)


def many(low: float = 2.0) -> bytes:
    """Protected times of many cases, to the last bit."""
    found = discharge(built(), precharge=Q(np.linspace(low, low + 40.0, COUNT), "psig"))
    return found.protected_time.m.tobytes()


@pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")  # Python 3.12: pytest-xdist has threads
@pytest.mark.parametrize("way", quick(1, ["fork", "spawn"]))
def test_workers_simulate_after_their_parent_did(way: str) -> None:
    if way not in multiprocessing.get_all_start_methods():
        pytest.skip(f"this system cannot {way}")
    lows = [2.0, 3.0, 4.0]
    here = [many(low) for low in lows]
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context(way)) as pool:
        assert list(pool.map(many, lows, timeout=300)) == here


def test_threads_simulate_at_the_same_time() -> None:
    lows = np.linspace(1.0, 5.0, 24)
    alone = [many(low) for low in lows]
    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(many, lows)) == alone


def test_cases_come_out_in_their_order_however_they_are_shared_out(monkeypatch: pytest.MonkeyPatch) -> None:
    given, _ = conditions_si({"precharge": Q(np.linspace(2.0, 42.0, 23), "psig")}, built().vessel)
    numbers: Any = {name: np.ravel(values).astype(float) for name, values in given.items()}
    cases, starts = cases_of(built(), numbers)
    times, tables = pump_lets_go(numbers, 60.0)
    one_by_one = np.concatenate(
        [dynamics.many(cases[[k]], times[[k]], tables[[k]], starts[[k]], 1e-6) for k in range(len(cases))]
    )
    for threads in (1, 2, 3, 23, 64):
        monkeypatch.setattr(dynamics.config, "NUMBA_NUM_THREADS", threads)
        assert np.array_equal(dynamics.many(cases, times, tables, starts, 1e-6), one_by_one)


def test_a_case_that_fails_in_a_thread_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*arguments: Any) -> None:
        raise MemoryError("no room")

    monkeypatch.setattr(dynamics, "run_cases", broken)
    with pytest.raises(MemoryError, match="no room"):
        many()


# ------------------------------------------------------------------------------------------------ compiled code on disk

LITTLE = """
import numpy as np
from oilkit.physics import dynamics
case = np.ones(len(dynamics.CASE))
stats = dynamics.start_mode.stats
print(dynamics.start_mode(2.0, case), sum(stats.cache_hits.values()), stats.cache_path)
"""
"""The smallest of the compiled functions: how a piston stands, whether its code came from the disk, and from where."""


def python(code: str, folder: Path = ROOT, **environment: str) -> subprocess.Popen[str]:
    """A fresh Python that finds the kit in a folder."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("NUMBA_")}
    return subprocess.Popen(
        [sys.executable, "-W", "error", "-c", code],
        cwd=folder,
        env={**kept, "PYTHONPATH": str(folder), **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def said(process: subprocess.Popen[str]) -> tuple[list[str], str]:
    """The words that it printed, and what it told beside them."""
    out, err = process.communicate(timeout=600)
    assert process.returncode == 0, err
    return out.split(), err


@pytest.mark.thorough
def test_torn_files_are_compiled_anew_and_mended(tmp_path: Path) -> None:
    assert said(python(LITTLE, NUMBA_CACHE_DIR=str(tmp_path)))[0][:2] == ["1", "0"]
    assert said(python(LITTLE, NUMBA_CACHE_DIR=str(tmp_path)))[0][:2] == ["1", "1"]
    for torn in (".nbi", ".nbc"):
        files = list(tmp_path.rglob(f"*start_mode*{torn}"))
        assert files
        for file in files:
            file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
        assert said(python(LITTLE, NUMBA_CACHE_DIR=str(tmp_path))) == (["1", "0", *said_path(tmp_path)], "")
        assert said(python(LITTLE, NUMBA_CACHE_DIR=str(tmp_path)))[0][:2] == ["1", "1"]


def said_path(folder: Path) -> list[str]:
    return [str(next(folder.rglob("*.nbi")).parent)]


@pytest.fixture
def read_only(tmp_path: Path) -> Path:
    """A copy of the kit in whose folders nothing can be written, not even by root: files stand in the way."""
    shutil.copytree(ROOT / "oilkit", tmp_path / "oilkit", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(ROOT / "data", tmp_path / "data")
    (tmp_path / "oilkit" / "physics" / "dynamics" / "__pycache__").write_text("in the way")
    (tmp_path / "file").write_text("in the way")
    return tmp_path


def homes(folder: Path) -> dict[str, str]:
    return {name: str(folder) for name in ("HOME", "XDG_CACHE_HOME", "MPLCONFIGDIR")} | {"PYTHONDONTWRITEBYTECODE": "1"}


@pytest.mark.thorough
@pytest.mark.skipif(sys.platform == "win32", reason="Windows names the folder of a user's cache in its registry")
def test_a_read_only_install_keeps_compiled_code_with_the_user(read_only: Path) -> None:
    home = read_only / "home"
    home.mkdir()
    first, second = (said(python(LITTLE, read_only, **homes(home)))[0] for _ in range(2))
    assert first[:2] == ["1", "0"]
    assert second[:2] == ["1", "1"]
    assert Path(second[2]).is_relative_to(home)


@pytest.mark.thorough
@pytest.mark.skipif(sys.platform == "win32", reason="Windows names the folder of a user's cache in its registry")
def test_what_was_compiled_beside_the_package_serves_all_who_cannot_write_there(read_only: Path) -> None:
    (read_only / "oilkit" / "physics" / "dynamics" / "__pycache__").unlink()
    environment = homes(read_only / "home")
    assert said(python(LITTLE, read_only, **environment))[0][:2] == ["1", "0"]
    closed = "import numba.core.caching as c\nc.InTreeCacheLocator.from_function = classmethod(lambda *a: None)\n"
    words = said(python(closed + LITTLE, read_only, **environment))[0]
    assert words[:2] == ["1", "1"]
    assert Path(words[2]).is_relative_to(read_only / "home")
    assert not list((read_only / "home").rglob("*.nb?"))
    with (read_only / "oilkit" / "physics" / "dynamics" / "steps.py").open("a") as file:
        file.write("# a new version\n")
    assert said(python(closed + LITTLE, read_only, **environment))[0][:2] == ["1", "0"]


@pytest.mark.thorough
@pytest.mark.skipif(sys.platform == "win32", reason="Windows names the folder of a user's cache in its registry")
def test_with_nowhere_to_write_the_kit_compiles_each_time_and_says_so(read_only: Path) -> None:
    for environment in ({}, {"NUMBA_CACHE_DIR": str(read_only / "file" / "below")}):
        words, told = said(python(LITTLE, read_only, **homes(read_only / "file"), **environment))
        assert words[:2] == ["1", "0"]
        assert told.count("cannot be kept on disk (no folder that can be written)") == 1


def test_a_full_disk_is_said_and_stops_nothing(tmp_path: Path) -> None:
    full = "import numba.core.caching as c\ndef no(*a): raise OSError(28, 'No space left on device')\n"
    full += "c.IndexDataCacheFile._save_data = no\n"
    words, told = said(python(full + LITTLE, NUMBA_CACHE_DIR=str(tmp_path)))
    assert words[:2] == ["1", "0"]
    assert told.count("cannot be kept on disk (No space left on device)") == 1


@pytest.mark.thorough
def test_six_processes_at_once_fill_an_empty_store(tmp_path: Path) -> None:
    answers = [said(process) for process in [python(LITTLE, NUMBA_CACHE_DIR=str(tmp_path)) for _ in range(6)]]
    assert {answer[0][0] for answer in answers} == {"1"}
    assert {answer[1] for answer in answers} == {""}
    assert not list(tmp_path.rglob("*.tmp.*"))
    assert said(python(LITTLE, NUMBA_CACHE_DIR=str(tmp_path))) == (["1", "1", *said_path(tmp_path)], "")


UNITS = "from oilkit.quantities.units import Q\nprint(Q(30, 'psi').m_as('kPa'), Q(3, 'qt').m_as('L'))"


def test_units_that_are_kept_are_read_again_where_they_are_torn_or_cannot_be_kept(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "oilkit", tmp_path / "oilkit", ignore=shutil.ignore_patterns("__pycache__"))

    def kept() -> list[Path]:
        return list((tmp_path / "oilkit" / "quantities" / "__pycache__").glob("pint-*/*.pickle"))

    right = said(python(UNITS))
    assert said(python(UNITS, tmp_path)) == right
    assert said(python(UNITS, tmp_path)) == right
    assert kept()
    for file in kept():
        file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    assert said(python(UNITS, tmp_path)) == right
    assert not kept()
    assert said(python(UNITS, tmp_path)) == right
    assert kept()
    shutil.rmtree(tmp_path / "oilkit" / "quantities" / "__pycache__")
    (tmp_path / "oilkit" / "quantities" / "__pycache__").write_text("in the way")
    assert said(python(UNITS, tmp_path)) == right
