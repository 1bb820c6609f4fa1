"""Run every lesson top to bottom in a fresh kernel and store what a reader without a kernel should see.

    python tests/commands/refresh_notebooks.py [notebook ...]

Kept: text, pictures, execution counts. Taken out: live widget views and widget state, which mean nothing to another
kernel, and everything that changes from run to run. Stops at the first cell that fails, and leaves that file as it was.
In the end ``oilkit/jupyter/lab/static/lessons.json`` gets the digest of each lesson's code: only code that it knows
starts by itself when a lesson is opened.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import tempfile
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

ROOT = Path(__file__).resolve().parents[2]
DIGESTS = ROOT / "oilkit" / "jupyter" / "lab" / "static" / "lessons.json"
PACKAGE = DIGESTS.parents[1] / "package.json"
WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"


def stripped(notebook: Any, lesson: str) -> Any:
    """The notebook without live widgets, run times and the version of the Python that ran it."""
    notebook.metadata = {
        "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
        "oilkit": {"lesson": lesson},
    }
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        for output in cell.get("outputs", []):
            output.get("data", {}).pop(WIDGET_VIEW, None)
        if cell.cell_type == "code":
            cell.outputs = joined(cell.outputs)
    return notebook


def joined(outputs: list[Any]) -> list[Any]:
    """Printed text in one piece, wherever the kernel happened to cut it."""
    found: list[Any] = []
    for output in outputs:
        stream = output.output_type == "stream" and found and found[-1].output_type == "stream"
        if stream and found[-1].name == output.name:
            found[-1].text += output.text
        else:
            found.append(output)
    return found


def refresh(path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=300,
        kernel_name="python3",
        record_timing=False,
        store_widget_state=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    client.execute()
    nbformat.write(stripped(notebook, path.stem), path)


def digest(path: Path) -> str:
    """SHA-256 of a notebook's code cells, as the Lab extension works it out (``whyNot`` in ``lessons.js``)."""
    notebook = nbformat.read(path, as_version=4)
    sources = [cell.source for cell in notebook.cells if cell.cell_type == "code" and cell.source.strip()]
    return hashlib.sha256("\0".join(sources).encode()).hexdigest()


def digests() -> str:
    """The text of ``lessons.json``."""
    return (
        json.dumps({path.stem: digest(path) for path in sorted((ROOT / "notebooks").glob("*.ipynb"))}, indent=2) + "\n"
    )


def addressed() -> str:
    """The extension's ``package.json``: browsers keep a file for a year, so a new one has a new address."""
    package = json.loads(PACKAGE.read_text(encoding="utf-8"))
    version = hashlib.sha256(DIGESTS.with_name("lessons.js").read_bytes()).hexdigest()[:12]
    package["jupyterlab"]["_build"]["load"] = f"static/lessons.js?v={version}"
    return json.dumps(package, indent=2) + "\n"


def main() -> None:
    made = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("notebooks", metavar="notebook", nargs="*", type=Path, help="all if none is given")
    paths = made.parse_args().notebooks or sorted((ROOT / "notebooks").glob("*.ipynb"))
    with tempfile.TemporaryDirectory() as folder:
        os.environ["OILKIT_SETTINGS"] = str(Path(folder) / "settings.json")
        for path in paths:
            refresh(path)
            print(f"{path.name}: run and stored, {path.stat().st_size / 1000:.0f} kB")
    DIGESTS.write_text(digests(), encoding="utf-8")
    PACKAGE.write_text(addressed(), encoding="utf-8")


if __name__ == "__main__":
    main()
