"""A panel's cell run again and again in a kernel, as a class does it: what was shown before is let go."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jupyter_client.manager import start_new_kernel

MEGABYTE = 2.0**20


class Kernel:
    """A kernel, with cells that have an identity as JupyterLab's have."""

    def __init__(self, client: Any) -> None:
        self.client = client

    def run(self, code: str, cell: str) -> str:
        """Run a cell; the text of its result."""
        content = {"code": code, "silent": False, "store_history": True, "allow_stdin": False, "stop_on_error": True}
        message = self.client.session.msg("execute_request", content, metadata={"cellId": cell})
        self.client.shell_channel.send(message)
        result = ""
        while True:
            told = self.client.get_iopub_msg(timeout=120)
            if told["parent_header"].get("msg_id") != message["header"]["msg_id"]:
                continue
            assert told["msg_type"] != "error", told["content"]["traceback"]
            if told["msg_type"] == "execute_result":
                result = told["content"]["data"]["text/plain"]
            if told["msg_type"] == "status" and told["content"]["execution_state"] == "idle":
                break
        self.client.get_shell_msg(timeout=120)
        return result

    def megabytes(self) -> float:
        code = "import gc, psutil; gc.collect(); psutil.Process().memory_info().rss"
        return float(ast.literal_eval(self.run(code, "memory"))) / MEGABYTE


@pytest.fixture
def kernel(tmp_path: Path) -> Iterator[Kernel]:
    manager, client = start_new_kernel(kernel_name="python3", cwd=str(tmp_path))
    try:
        yield Kernel(client)
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)


def growth(kernel: Kernel, code: str, times: int, warm: int) -> float:
    """Megabytes by which the kernel grows while a cell is run so many times, after a few to warm up."""
    kernel.run("from oilkit import panels", "first")
    for _ in range(warm):
        assert kernel.run(code, "again")
    before = kernel.megabytes()
    for _ in range(times):
        kernel.run(code, "again")
    after = kernel.megabytes()
    print(f"{code}, {times} times: {before:.1f} MB before, {after:.1f} MB after")
    return after - before


@pytest.mark.thorough
@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    ("name", "times"), [("filling", 200), ("fill_in_time", 8), ("how_it_ends", 8), ("register", 20)]
)
def test_many_runs_stay_within_twenty_megabytes(kernel: Kernel, name: str, times: int) -> None:
    """Panels that are kept take 7 to 9 MB each."""
    assert growth(kernel, f"panels.{name}()", times, warm=25) < 20.0
