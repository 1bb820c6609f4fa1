"""Take the README's pictures: three panels as they stand in JupyterLab, saved small in ``notebooks/pictures``.

python tests/commands/take_pictures.py
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from browser import ROOT, chromium, jupyterlab, open_lesson, run_all

PICTURES = {
    "filling": ("02_filling_the_vessel.ipynb", "Inside the vessel", ()),
    "cylinder": ("01_boyles_law.ipynb", "Your cylinder", ("Volume of the gas", 50)),
    "fill_in_time": ("02_filling_the_vessel.ipynb", "Watch it fill", ("Time since", 70)),
}


def main() -> None:
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as work:
        os.environ["OILKIT_SETTINGS"] = str(Path(work) / "settings.json")
        shutil.copytree(ROOT / "notebooks", Path(work) / "notebooks")
        (ROOT / "notebooks" / "pictures").mkdir(exist_ok=True)
        with jupyterlab(Path(work) / "notebooks", Path(work) / "home") as address, chromium() as browser:
            for name, (lesson, title, moves) in PICTURES.items():
                page = open_lesson(browser, address, lesson)
                assert run_all(page)
                panel = page.locator(".oilkit-panel").filter(has_text=title).first
                panel.scroll_into_view_if_needed()
                if moves:
                    label, presses = moves
                    panel.locator(".oilkit-control").filter(has_text=label).locator(".noUi-handle").focus()
                    for _ in range(presses):
                        page.keyboard.press("ArrowLeft" if name == "cylinder" else "ArrowRight")
                        page.wait_for_timeout(30)
                    page.wait_for_timeout(800)
                    page.evaluate("() => document.activeElement.blur()")
                target = ROOT / "notebooks" / "pictures" / f"{name}.png"
                panel.screenshot(path=str(target))
                Image.open(target).convert("RGB").save(target, optimize=True)
                print(f"{target.name}: {target.stat().st_size / 1000:.0f} kB")
                page.close()


if __name__ == "__main__":
    main()
