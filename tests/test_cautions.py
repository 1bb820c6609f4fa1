"""What the kit tells people to do with their hands: one rule where several texts speak of the same thing."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest

from oilkit import PROCEDURES, SHOP_TESTS, panels
from oilkit.shop.cards import CARDS
from oilkit.shop.steps import VALVE_LEFT_OPEN, Act

ROOT = Path(__file__).resolve().parents[1]
LESSONS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def plain(text: str) -> str:
    """Without markdown's marks, on one line."""
    return " ".join(re.sub(r"[*_>`]", "", text).split())


def prose(path: Path) -> str:
    cells = nbformat.read(path, as_version=4).cells
    return "\n\n".join(cell.source for cell in cells if cell.cell_type == "markdown")


def strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from strings(inner)


def told() -> Iterator[tuple[str, str]]:
    """Every piece of text that a reader may meet, and where it stands: paragraphs, list items, sentences of a file."""
    for path in LESSONS:
        for piece in re.split(r"\n\s*\n|\n(?=\s*(?:[-*]|\d+\.) )", prose(path)):
            yield path.name, plain(piece)
    for path in sorted((ROOT / "oilkit").rglob("*")):
        if path.suffix == ".toml":
            pieces = list(strings(tomllib.loads(path.read_text(encoding="utf-8"))))
        elif path.is_file() and "templates" in path.parts:
            pieces = path.read_text(encoding="utf-8").splitlines()
        elif path.suffix == ".py":
            tree = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            pieces = [node.value for node in tree if isinstance(node, ast.Constant) and isinstance(node.value, str)]
        else:
            continue
        for piece in pieces:
            yield path.name, plain(piece)


def drains_the_vessel_s_oil(text: str) -> bool:
    """Whether a text on a pan that stands too high says to drain, other than with the vessel full."""
    if not re.search(r"night|morning|left open|too (much|high|full)|above (the|its) (full |upper )?mark|run out", text):
        return False
    allowed = r"(do not|don't|never|not to) drain|whoever [^.;]{0,30}\bdrain(s|ing)|drains from|draining back"
    text = re.sub(allowed, "", text, flags=re.I)
    orders = re.findall(r"[^.;:]*\b(?:drain|drains|draining|be drained|draw off|let out)\b[^.;:]*", text, flags=re.I)
    return any("vessel full" not in order for order in orders) and "with the vessel full" not in text


CHOICE = ("lesson_09.py", "drain oil: there is too much")
"""An answer to choose from, right where the gauge says that the vessel is full."""
OLD = "9. Too much oil in the pan (a valve left open overnight): do not start; drain it to the mark."


def test_nothing_tells_to_drain_the_vessel_s_oil_after_a_night() -> None:
    assert drains_the_vessel_s_oil(OLD)
    assert not drains_the_vessel_s_oil(plain(VALVE_LEFT_OPEN))
    pieces = list(told())
    assert len(pieces) > 3000
    assert [piece for piece in pieces if drains_the_vessel_s_oil(piece[1])] == [CHOICE]


@pytest.mark.parametrize("number", ["04", "08", "09"])
def test_the_lessons_have_the_rule_in_its_own_words(number: str) -> None:
    (path,) = (path for path in LESSONS if path.name.startswith(number))
    assert plain(VALVE_LEFT_OPEN) in plain(prose(path))


# -------------------------------------------------------------------------------------------------------- what hands do

PRE_LUBE = CARDS["pre_lube"].acts
ACTS = {f"{p.key}, {step.key}": step.act for p in PROCEDURES.values() for step in p.steps}
ACTS |= {f"pre_lube, {key}": act for key, act in PRE_LUBE.items()}
NONE = "none, because "


@pytest.mark.parametrize("act", ACTS.values(), ids=ACTS)
def test_each_act_has_a_caution_a_number_and_a_stop(act: Act) -> None:
    """Or says why it has none: in more than a word, and never for all three."""
    said = {name: getattr(act, name) for name in ("caution", "number", "stop")}
    none = {name for name, words in said.items() if words.startswith(NONE)}
    assert all(len(said[name]) > len(NONE) + 10 for name in none)
    assert len(none) < 2
    assert len(said["caution"]) > 15
    assert "number" in none or re.search(r"\d", said["number"])
    assert "stop" in none or len(said["stop"]) > 15


@pytest.mark.parametrize("key", SHOP_TESTS)
def test_each_shop_test_has_a_caution_a_number_and_a_stop(key: str) -> None:
    """Its number is to what it takes the gallery (`lowest_gallery`), or its minutes where the engine stands."""
    test = SHOP_TESTS[key]
    assert len(test.caution) > 15
    assert test.minutes > 0.0
    assert len(test.stop) > (len(NONE) + 10 if test.stop.startswith(NONE) else 15)
    if key in ("fill", "middle", "idle", "cold_idle"):  # a hand is at the running engine's gauges
        assert "belts and fan" in test.caution
        assert "warning pressure" in test.stop


def test_the_fault_bench_shows_what_stands_beside_a_test() -> None:
    panel = panels.fault_bench()
    for key, test in SHOP_TESTS.items():
        panel.set(test=key)
        assert test.caution in panel.summary(panel.state)
        assert test.stop in panel.summary(panel.state)
    assert panel.errors == []


WANTED = {
    "charge, off": "gloves belts fan",
    "charge, vent": "goggles in line slowly",
    "charge, nitrogen": "never oxygen|suffocates|doors open|chained|open its valve slowly|relief valve|3000 psi|30 psi",
    "charge, leak": "never before it|never a flame|0 psi",
    "first_fill, full": "stands|never on a jack alone|nobody under it while it runs",
    "first_fill, start": "belts|fan|gloves|neutral",
    "first_fill, open": "barely open|warning pressure|shut it",
    "first_fill, top_up": "hands|belts|fan|gloves|exhaust",
    "first_fill, again": "hands|belts|fan|gloves|exhaust",
    "first_fill, run": "rating|in line with hose",
    "shut_down, ignition": "steering can lock|car that stands",
    "shut_down, dipstick": "do not drain it",
    "oil_change, relieve": "stands|jack|0 psi",
    "oil_change, vessel": "goggles|release point between vessel and shut-off|0 psi",
    "oil_change, pan": "stands|jack|goggles",
    "oil_change, first_fill": "belts|warning pressure",
    "pre_lube, level": "do not drain it",
    "pre_lube, clear": "ignition still off|belts|fan",
    "pre_lube, open": "needs no ignition|ten seconds",
    "pre_lube, crank": "not before this step is the ignition needed",
}
"""What must be said beside an act, in its own words, listed by hand."""


@pytest.mark.parametrize(("key", "wanted"), WANTED.items(), ids=WANTED)
def test_what_can_hurt_there_is_said_there(key: str, wanted: str) -> None:
    said = f"{ACTS[key].title} {ACTS[key].beside}".lower()
    assert [words for words in wanted.split("|" if "|" in wanted else " ") if words not in said] == []


def test_the_ignition_goes_on_only_where_it_is_needed() -> None:
    """Nothing before cranking tells to switch it on."""
    before = list(PRE_LUBE)[: list(PRE_LUBE).index("crank")]
    assert not [key for key in before if re.search(r"ignition[^.]* on\b", PRE_LUBE[key].title.lower())]
    assert "ignition and fuel on" in PRE_LUBE["crank"].title.lower()


def test_every_job_has_its_card() -> None:
    """Charging, first fill, shutting down, oil change, pre-lube, shop tests, bench and syringe: nothing empty."""
    assert CARDS.keys() >= {
        *PROCEDURES,
        "pre_lube",
        "tests",
        "more_tests",
        "syringe",
        "bench",
        "demand_pump",
        "demand_fall",
    }
    assert sum(len(CARDS[key].acts) for key in ("tests", "more_tests")) == len(SHOP_TESTS)
    for job in CARDS.values():
        assert len(job.acts) >= 3
        for act in job.acts.values():
            assert act.caution.strip()
            assert act.stop.strip()
            assert re.search(r"\d|none, because", act.number), act.title
            assert act.beside.replace("Caution: ", "").split(" Number: ")[0] in " ".join(job.text.split())


def test_a_syringe_stays_well_below_what_may_burst_it() -> None:
    said = CARDS["syringe"].text
    assert "15 psi (1.0 bar)" in said
    assert "30 psi" not in said


def test_cards_and_panel_show_it_beside_each_step() -> None:
    acts = {key: [step.act for step in procedure.steps] for key, procedure in PROCEDURES.items()}
    for key, wanted in (acts | {"pre_lube": list(PRE_LUBE.values())}).items():
        for act in wanted:
            for words in (act.title, act.caution, act.number, act.stop):
                assert plain(words) in plain(CARDS[key].text)
    for key, procedure in PROCEDURES.items():
        panel = panels.commissioning(procedure=key)
        for step in procedure.keys:
            panel.set(order=(key, procedure.keys, step))
            assert procedure.step(step).act.beside in panel.summary(panel.state)
        assert panel.errors == []


@pytest.mark.parametrize(
    ("number", "keys"),
    [
        ("01", ["syringe"]),
        ("05", ["demand_pump", "demand_fall"]),
        ("08", ["pre_lube"]),
        ("09", list(PROCEDURES)),
        ("11", ["bench"]),
    ],
)
def test_the_lessons_print_the_cards(number: str, keys: list[str]) -> None:
    (path,) = (path for path in LESSONS if path.name.startswith(number))
    cells = [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]
    printed = "".join(str(out.get("text", "")) for cell in cells for out in cell.outputs)
    assert [key for key in keys if CARDS[key].text not in printed] == []


SAID_IN_09 = (
    "behind a bulkhead or a shield, away from the driver", "The rules of your series",
    "Its working pressure is not its burst pressure", "clutch down, off the line, kill switch, stop",
    "it can lock the steering", "between vessel and shut-off stands a point", "Nitrogen suffocates",
    "never on a jack alone",
)  # fmt: skip


def test_lesson_09_says_where_a_vessel_is_mounted_and_what_a_burst_wants() -> None:
    (path,) = (path for path in LESSONS if path.name.startswith("09"))
    said = plain(prose(path))
    assert [words for words in SAID_IN_09 if words not in said] == []
    assert "in reach of your hand" not in said
    assert "Ignition off at once" not in said
