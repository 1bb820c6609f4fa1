"""A picture that is drawn once and then only moved: persistent figure, kept background, a small PNG of what moved."""

from __future__ import annotations

import asyncio
import io
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

import matplotlib
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from PIL import Image

from oilkit.panels.framework.drawing import PALETTE, STYLE
from oilkit.panels.framework.kept_text import Canvas
from oilkit.panels.framework.projected import enlarge
from oilkit.panels.framework.quick_axes import QuickFigure
from oilkit.quantities.lettering import letter, letter_text

DPI = 96
"""6.5 inches are 624 pixels then, which a notebook beside its side bar shows one to one: sharp, and quickly drawn."""

EDGE = 2.0
"""Pixels that stay clear along a picture's edge."""


class Patch(NamedTuple):
    """What has changed in a picture: where it begins, in pixels from the upper left corner, and a PNG to be drawn over
    what was there, clear where nothing has changed."""

    left: int
    top: int
    png: bytes


CLEAR = 0
"""Of the 256 colours of a PNG with a palette, the one that is none; the picture's own follow it."""


class Picture:
    """A figure with fixed parts (axes, labels, outlines) and moving ones (oil, piston, needles, points).

    The moving artists are those that ``build`` returns; `Picture` marks them ``animated``, so that the full draw
    leaves them out. pyplot is not used: it would keep every figure alive and swap the canvas.
    """

    def __init__(self, width: float, height: float, dpi: int = DPI, wide: float = 0.0) -> None:
        """In inches. wide: the height for a class, if it is another one, so that its letters find room."""
        self.figure: Any = None
        self.canvas: Any = None
        self._scratch_size: Any = None
        self._moving: list[Artist] = []
        self._texts: dict[Artist, _Kept] = {}
        self._unknown = ""
        self._normal, self._wide, self._dpi = (width, height), wide or height, dpi
        self.scale(1.0)

    def scale(self, larger: float, points: float = 0.0) -> None:
        """So many times more pixels each way for the same picture, and letters of so many points where there is room,
        from the next `rebuild` on."""
        self.for_class = points > 0.0
        width, height = self._normal
        self._size = (width, self._wide if self.for_class else height)
        flatter = height / self._size[1]
        self._scaled, self._points = self._dpi * min(max(larger * flatter, 1.0), 3.0), points / flatter

    def rebuild(self, build: Callable[[Figure], Iterable[Artist]]) -> None:
        """Draw the fixed parts afresh: at the start, and when units or axes change."""
        with matplotlib.rc_context():
            matplotlib.rcdefaults()  # whatever the learner's own matplotlib looks like
            matplotlib.rcParams.update(STYLE)
            figure = QuickFigure(figsize=self._size, dpi=self._scaled)  # a new one: to clear the old one takes longer
            canvas = self.canvas or Canvas(figure)
            canvas.figure, canvas.points = figure, self._points  # on the old one's pixels
            figure.set_canvas(canvas)
            moving = sorted(build(figure), key=lambda artist: artist.get_zorder())
            self._unknown = letter(figure)
            for artist in moving:
                artist.set_animated(True)
            _keep_inside(figure, canvas.get_renderer())
            if self._points:
                figure.draw_without_rendering()
                enlarge(figure, canvas.get_renderer(), self._points, lambda: _arrange(figure, canvas))
            canvas.draw()
        old, self.figure, self.canvas, self._moving, self._texts = self.figure, figure, canvas, moving, {}
        if old:
            _when_answered(_let_go, old)
        if (*canvas.get_width_height(), figure.dpi) != self._scratch_size:
            self._scratch_size = (*canvas.get_width_height(), figure.dpi)
            self._scratch = RendererAgg(*self._scratch_size)
        self._background = canvas.copy_from_bbox(figure.bbox)
        self._afresh = True

    def frame(self) -> Patch | None:
        """Draw the picture as it stands now; what differs from the last time, if anything.

        The first time, and when the fixed parts are new, all of it."""
        self._draw()
        pixels = np.asarray(self.canvas.buffer_rgba()).view(np.uint32)[:, :, 0]
        if self._afresh:
            self._afresh, self._shown, self._palette = False, pixels.copy(), _palette_for(_coloured(pixels))
            return Patch(0, 0, self.whole())
        changed = pixels != self._shown
        rows = np.flatnonzero(changed.any(axis=1))
        if not rows.size:
            return None
        columns = np.flatnonzero(changed[rows[0] : rows[-1] + 1].any(axis=0))
        box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
        self._shown[box] = pixels[box]
        return Patch(int(columns[0]), int(rows[0]), self._encoded(pixels[box], changed[box]))

    @property
    def unknown(self) -> str:
        """Letters in it that no font of this computer has."""
        return "".join(sorted({*self._unknown, *(one for kept in self._texts.values() for one in kept.unknown)}))

    def whole(self) -> bytes:
        """All of the picture as it was last shown, as a PNG."""
        return self._encoded(self._shown, np.ones(self._shown.shape, dtype=bool))

    def close(self) -> None:
        """Let go of all pixels at once: some 6 MB that would else wait for the garbage collector."""
        if self.canvas:
            vars(self.canvas).pop("renderer", None)
            _let_go(self.figure)
        vars(self).clear()

    def _draw(self) -> None:
        self.canvas.restore_region(self._background)
        renderer = self.canvas.get_renderer()
        for artist in self._moving:
            if type(artist) is Text:
                self._draw_text(artist, renderer)
            else:
                artist.draw(renderer)

    def _encoded(self, pixels: Any, wanted: Any) -> bytes:
        """A PNG of the wanted pixels, the others clear, in at most 255 colours, the same until all is built afresh."""
        of_wanted = _coloured(pixels[wanted][None]).quantize(palette=self._palette, dither=Image.Dither.NONE)
        colours = np.full(pixels.shape, CLEAR, dtype=np.uint8)
        colours[wanted] = np.asarray(of_wanted)[0] + 1
        indexed = Image.fromarray(colours)
        indexed.putpalette([0, 0, 0, *(self._palette.getpalette() or [])])
        encoded = io.BytesIO()
        indexed.save(encoded, "PNG", compress_level=1, transparency=CLEAR)
        return encoded.getvalue()

    def _draw_text(self, text: Text, renderer: RendererAgg) -> None:
        """Text is slow to draw: what stands where it stood, and as it stood, is copied."""
        if not text.get_visible() or not text.get_text().strip():
            return
        kept = self._texts.get(text)
        unknown = kept.unknown if kept and kept.looks[0] == text.get_text() else letter_text(text)
        looks = (text.get_text(), text.get_position(), text.get_color(), text.get_fontsize(), text.get_fontweight())
        if kept is None or kept.looks != looks:
            self._texts[text] = _Kept(looks, unknown)
            text.draw(renderer)
            return
        if kept.image is None:  # seen for the second time
            self._scratch.clear()
            text.draw(self._scratch)
            drawn = np.asarray(self._scratch.buffer_rgba())
            rows, columns = (np.flatnonzero(drawn[:, :, 3].any(axis=axis)) for axis in (1, 0))
            kept.left, kept.low = columns[0], len(drawn) - 1 - rows[-1]
            kept.image = drawn[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1][::-1].copy()
        renderer.draw_image(renderer.new_gc(), kept.left, kept.low, kept.image)


@dataclass
class _Kept:
    """A text that has been drawn: how it looked and, once it has come again, its picture and where that stands."""

    looks: Any
    unknown: str
    """Letters that no font has."""
    image: Any = None
    left: float = 0.0
    low: float = 0.0


def _when_answered(act: Callable[[Any], None], what: Any) -> None:
    """Do it when the answer to a move has been sent; at once where nobody waits for one."""
    try:
        asyncio.get_running_loop().call_soon(act, what)
    except RuntimeError:  # in a script or a test
        act(what)


def _let_go(old: Any) -> None:
    """Take an old figure apart: its parts hold each other, ten thousand objects that would wait for the garbage
    collector, and hold up a move by 20 ms for each old figure when it comes."""
    ticks = vars(old).get("majorTicks", ())  # an axis that was asked for all its parts would make more of them
    for part in ticks if isinstance(old, Axis) else old.get_children():
        _let_go(part)
    vars(old).clear()


def _arrange(figure: Figure, canvas: Any) -> None:
    """Let everything find its place, as `draw` does, without a pixel of it: letters are still being chosen."""
    _keep_inside(figure, canvas.get_renderer())
    figure.draw_without_rendering()


def _keep_inside(figure: Figure, renderer: RendererAgg) -> None:
    """Let graphs give way to their own numbers, names and legends where these would be cut off at the edge."""
    width, height = figure.bbox.size
    graphs = [ax for ax in figure.axes if ax.axison]
    wanted: dict[Axes, tuple[float, float, float, float]] = {}
    for ax in graphs:
        frame, legend = ax.get_window_extent(renderer), ax.get_legend()
        parts = [frame, ax.xaxis.get_tightbbox(renderer), ax.yaxis.get_tightbbox(renderer)]
        if legend and (box := legend.get_window_extent(renderer)).x0 >= frame.x1:  # beside it, and not inside or above
            parts.append(box)
        around = Bbox.union([part for part in parts if part is not None])
        beyond = EDGE - around.x0, EDGE - around.y0, around.x1 - width + EDGE, around.y1 - height + EDGE
        wanted[ax] = tuple(max(part, 0.0) for part in beyond)
    places = {ax: ax.get_position(original=True).bounds for ax in graphs}
    for ax, (x, y, w, h) in places.items():
        _, low, _, top = wanted[ax]
        column = [other for other in graphs if places[other][::2] == (x, w)]  # above each other they stay in line
        left, right = (max(wanted[other][side] for other in column) for side in (0, 2))
        ax.set_position((x + left / width, y + low / height, w - (left + right) / width, h - (low + top) / height))


def _coloured(pixels: Any) -> Image.Image:
    return Image.frombytes("RGB", pixels.shape[::-1], pixels.tobytes(), "raw", "RGBX")


def _palette_for(picture: Image.Image) -> Image.Image:
    """255 colours: this picture's most frequent ones, exactly, and the kit's own in shades to white and to black."""
    shades = dict.fromkeys(
        tuple(round(c * strength + end * (1 - strength)) for c in colour)
        for colour in PALETTE
        for end in (255, 0)
        for strength in (1.0, 0.8, 0.6, 0.4, 0.2)
    )
    counted: list[Any] = sorted(picture.getcolors(picture.width * picture.height) or [], reverse=True)
    wanted = [*(colour for _, colour in counted[:128]), *shades]
    clear = [colour for colour in wanted if min(colour) < 245]  # or paper would come out as nearly white
    colours = list(dict.fromkeys([(255, 255, 255), (0, 0, 0), *clear]))[:255]
    palette = Image.new("P", (1, 1))
    palette.putpalette([channel for colour in colours for channel in colour])
    return palette
