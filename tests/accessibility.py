"""What a learner without mouse or without sight meets: axe's findings on the panels, and where the Tab key goes."""

from __future__ import annotations

import contextlib
import os
from collections import Counter
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

PANEL = ".oilkit-panel"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]
STYLE = f"""
body {{ overflow: visible !important; height: 100vh }}
.oilkit-body, .oilkit-body * {{ max-height: none !important; overflow: visible !important }}
.jp-Notebook-cell:not(:has({PANEL})) {{ display: none }}
"""
"""JupyterLab's body has no height: axe takes all text in it for hidden and passes its contrast unread."""


class Found(NamedTuple):
    """What axe said of the panels on a page."""

    violations: Counter[tuple[str, str, str]]
    """Rule, impact, and the element."""
    undecided: Counter[tuple[str, str, str]]
    read: int
    """Texts whose contrast was really measured."""
    texts: int
    """Texts in sight that must have been among them."""
    lowest: float
    """The lowest contrast that was measured."""

    @property
    def grave(self) -> list[str]:
        return [f"{rule}: {where}" for rule, impact, where in self.violations if impact in ("serious", "critical")]

    def table(self, title: str) -> str:
        """Rule, impact and count, as text."""
        lines = [f"{title}: contrast of {self.read} texts measured, {self.lowest:.2f} at the lowest"]
        for word, kept in (("violation", self.violations), ("undecided", self.undecided)):
            counts = Counter((rule, impact) for (rule, impact, _), n in kept.items() for _ in range(n))
            lines += [f"  {word}  {rule:<28} {impact:<9} {n}" for (rule, impact), n in sorted(counts.items())]
        return "\n".join([*lines, *(() if self.violations else ("  no violation",))])


@contextlib.contextmanager
def all_panels_in_sight(page: Any) -> Iterator[None]:
    """Nothing but the panels, in a window so high that none is scrolled away: axe measures only what it can see."""
    size = page.viewport_size
    style = page.add_style_tag(content=STYLE)
    try:
        yield
    finally:
        style.evaluate("(e) => e.remove()")
        page.set_viewport_size(size)


def _grow(page: Any) -> None:
    page.evaluate("() => { document.querySelector('.jp-WindowedPanel-outer').scrollTop = 0 }")
    height = page.evaluate("() => document.querySelector('.jp-WindowedPanel-viewport').scrollHeight")
    page.set_viewport_size({"width": page.viewport_size["width"], "height": int(height) + 300})
    page.wait_for_timeout(300)


def axe(page: Any, rules: list[str] | None = None) -> Found:
    """Run axe on all panels of the page: the rules of WCAG 2.1 A and AA, or some rules only."""
    _grow(page)
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    only = {"type": "rule", "values": rules} if rules else {"type": "tag", "values": TAGS}
    result = page.evaluate(
        """async ([panel, only]) => {
            const found = await axe.run({ include: [[panel]] },
                { runOnly: only, resultTypes: ['violations', 'incomplete', 'passes'] });
            const colour = (e, key) => new axe.commons.color.Color().parseString(getComputedStyle(e)[key]);
            const ratio = (e) => axe.commons.color.getContrast(colour(e, 'backgroundColor'), colour(e, 'color'));
            const why = (rule, data) => rule.id === 'color-contrast' && data?.messageKey ? `${data.messageKey}: ` : '';
            const told = { violations: [], incomplete: [], passes: [] };
            for (const part of Object.keys(told)) for (const rule of found[part]) for (const node of rule.nodes) {
                const data = node.any[0]?.data, element = document.querySelector(node.target[0]);
                const list = rule.id === 'color-contrast' && element?.tagName === 'SELECT';
                told[part].push([rule.id, node.impact || '', why(rule, data) + node.html.slice(0, 160),
                    rule.id === 'color-contrast' ? (list ? ratio(element) : data?.contrastRatio || 0) : 0, list]);
            }
            told.texts = [...document.querySelectorAll(`${panel} :is(td, th, button, h4, summary, select)`)]
                .filter((e) => e.offsetParent && e.textContent.trim()).length;
            return told;
        }""",
        [PANEL, only],
    )
    # of a list axe does not see the background, for JupyterLab's arrow lies on it: its own two colours are taken
    lists = [ratio for _, _, _, ratio, is_list in result["incomplete"] if is_list]
    undecided = [(rule, impact, where) for rule, impact, where, _, is_list in result["incomplete"] if not is_list]
    violations = [(rule, impact, where) for rule, impact, where, *_ in result["violations"]]
    violations += [("color-contrast", "serious", "a list") for ratio in lists if ratio < 4.5]
    measured = [row[3] for part in ("passes", "violations") for row in result[part] if row[3]] + lists
    lowest = min(measured, default=0.0)
    return Found(Counter(violations), Counter(undecided), len(measured), int(result["texts"]), lowest)


def keep(text: str, name: str) -> None:
    """Print a report, and keep it in the folder ``OILKIT_ARTEFACTS`` if that is set."""
    print(text)
    if folder := os.environ.get("OILKIT_ARTEFACTS"):
        Path(folder).mkdir(parents=True, exist_ok=True)
        (Path(folder) / f"{name}.txt").write_text(f"{text}\n", encoding="utf-8")


def walk(page: Any, panel: Any) -> tuple[list[str], list[str], list[str], list[str]]:
    """Go through a panel with the Tab key alone, and back.

    Returns what must be reached, in the panel's order (of a group of round buttons only one); what Tab
    reached and then left for what lies behind the panel; the same backwards; and what showed no focus.
    """
    wanted = panel.evaluate(
        """(panel) => {
            const groups = new Map(), stops = [];
            for (const e of panel.querySelectorAll(
                'input, textarea, select, button, summary, a[href], [tabindex], [contenteditable="true"]')) {
                if (e.disabled || e.tabIndex < 0 || !e.getClientRects().length) continue;
                if (e.type === 'radio') {
                    const first = groups.get(e.name);
                    if (first) { e.dataset.stop = first; continue; }
                    groups.set(e.name || e, `${stops.length + 1} round buttons`);
                }
                const name = e.getAttribute('aria-label') || e.labels?.[0]?.textContent || e.textContent;
                e.dataset.stop = groups.get(e.name || e)
                    || `${stops.length + 1} ${e.tagName.toLowerCase()} ${name.trim().slice(0, 60)}`;
                stops.push(e.dataset.stop);
            }
            window.reached = []; window.unseen = [];
            panel.addEventListener('focusin', panel.heard ||= ({ target }) => {
                const style = getComputedStyle(target);
                window.reached.push(target.dataset.stop || target.outerHTML.slice(0, 160));
                if (style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 1)
                    window.unseen.push(target.dataset.stop);
            });
            panel.querySelector('[data-stop]')?.focus({ focusVisible: true });
            return stops;
        }"""
    )

    def press(key: str) -> list[str]:
        for _ in wanted:
            page.keyboard.press(key)
        trapped = panel.evaluate("(panel) => panel.contains(document.activeElement)")
        stops = page.evaluate("() => window.reached.splice(0)")
        return [*stops, f"{key} leads no further"] if trapped else list(stops)

    if not wanted:
        return [], [], [], []
    there = press("Tab")
    for _ in range(60):  # back over what lies behind: cells and their links
        page.keyboard.press("Shift+Tab")
        if panel.evaluate("(panel) => panel.contains(document.activeElement)"):
            break
    back = press("Shift+Tab")
    unseen = sorted(set(page.evaluate("() => window.unseen")))
    panel.evaluate(
        """(panel) => {
            panel.removeEventListener('focusin', panel.heard);
            for (const e of panel.querySelectorAll('[data-stop]')) delete e.dataset.stop;
        }"""
    )
    return wanted, there, back, unseen
