"""A panel's figure is drawn as matplotlib draws it, whatever stands on it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from oilkit.panels.framework import drawing, quick_axes
from oilkit.panels.framework.kept_text import Canvas
from oilkit.panels.framework.quick_axes import QuickFigure
from oilkit.quantities.lettering import letter

LEVELS = 6
"""Of 256, by which a pixel may differ: a text that is copied is rounded once more."""


def plain(ax: Axes) -> None:
    ax.set(xlim=(-3.0, 47.0), ylim=(0.0, 0.83), xlabel="speed (rpm)", ylabel="flow", title="What it gives")
    ax.plot([0.0, 40.0], [0.1, 0.8], label="new")
    ax.plot([0.0, 40.0], [0.1, 0.3], "o--", label="worn")
    ax.legend(loc="upper left", ncols=2)


def names(ax: Axes) -> None:
    ax.set(xlim=(-30.0, 30.0), ylim=(2.4, -0.6))
    ax.set_yticks(range(3), ["one", "two words", "a third"], fontsize=9)
    ax.grid(False, axis="y")


def places(ax: Axes) -> None:
    ax.set(xlim=(0.0, 6.0), ylim=(0.0, 1.0), ylabel="flow")
    ax.set_xticks([0.4, 2.5, 5.5], ["end", "hose", "valve\nopen"])
    ax.tick_params(axis="x", length=0.0)
    ax.grid(axis="x", visible=False)


def powers(ax: Axes) -> None:
    ax.set_xscale("log")
    ax.set(xlim=(1e-3, 1e3), ylim=(0.0, 1.0), xlabel="steps")
    ax.minorticks_off()


def between_powers(ax: Axes) -> None:
    ax.set_yscale("log")
    ax.set(xlim=(0.0, 1.0), ylim=(1.0, 300.0))


def common_factor(ax: Axes) -> None:
    ax.set(xlim=(0.0, 3e9), ylim=(1e6, 1e6 + 1.0))


def other_letters(ax: Axes) -> None:
    ax.set(xlim=(0.0, 1.0), ylim=(-0.5, 1.5))
    ax.set_yticks(range(2), ["plain", "⇄ ℵ"])


def unnumbered(ax: Axes) -> None:
    ax.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0), xlabel="time", ylabel="flow")
    ax.tick_params(labelbottom=False)
    ax.set_yticks([])


def framed(ax: Axes) -> None:
    ax.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0), xticks=[], yticks=[])
    for spine in ax.spines.values():
        spine.set_visible(True)


def written(ax: Axes) -> None:
    drawing.bare(ax, (0.0, 1.0), (0.0, 1.0), to_scale=False)
    ax.text(0.1, 0.8, "warm", color="#0072B2", weight="bold")
    ax.text(0.513, 0.2, "turned", rotation=35.0, fontsize=13)
    ax.text(0.2, 0.31, "two lines\nof it", alpha=0.5, ha="center")
    ax.text(0.8, 0.61, "$10^{-3}$", parse_math=True)


def drawn(figure: Figure, canvas: Any, fill: Callable[[Axes], None]) -> Any:
    ax = figure.add_axes((0.2, 0.2, 0.7, 0.65))
    fill(ax)
    letter(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba()).astype(int)


@pytest.mark.parametrize(
    "fill", [plain, names, places, powers, between_powers, common_factor, other_letters, unnumbered, framed, written]
)
@pytest.mark.parametrize("dpi", [96.0, 143.0])
def test_it_looks_as_matplotlib_draws_it(fill: Callable[[Axes], None], dpi: float) -> None:
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(drawing.STYLE)
        theirs, ours = Figure((4.0, 3.0), dpi=dpi), QuickFigure((4.0, 3.0), dpi=dpi)
        wanted = drawn(theirs, FigureCanvasAgg(theirs), fill)
        canvas = Canvas(ours)
        first = drawn(ours, canvas, fill)
        canvas.draw()
        again = np.asarray(canvas.buffer_rgba()).astype(int)
    assert (wanted < 128).any()
    assert np.abs(first - wanted).max() <= LEVELS
    assert (again == first).all()


def test_an_unknown_matplotlib_draws_its_own_axes(monkeypatch: pytest.MonkeyPatch) -> None:
    def kind() -> type:
        return type(QuickFigure().add_axes((0.1, 0.1, 0.8, 0.8)))

    assert kind() is not Axes
    assert issubclass(kind(), Axes)
    monkeypatch.setattr(quick_axes, "KNOWN", ())
    assert kind() is Axes
