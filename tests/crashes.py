"""Writers that are killed: what runs in a process of its own, so that a kill hits nothing else. Used by test_saving.py.

``python crashes.py answers FOLDER TIMES WRITERS ANSWERS KILLS SEED LOCKS`` and the like; prints the sums of all
counts, or fails. LOCKS is ``no`` for a folder in which the system's locks do not work.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path

from oilkit.exercises.exercise import Owner, Verdict
from oilkit.exercises.progress import Progress
from oilkit.storage import saving, settings

OWNER = Owner("spring class", "killed often")


def without_locks() -> None:
    """As a network folder does that knows no locks."""
    import fcntl

    def refused(*args: object) -> None:
        raise OSError(37, "No locks available")

    fcntl.flock = refused


def forked(work: Callable[[], None]) -> int:
    child = os.fork()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        except BaseException:
            traceback.print_exc()
        os._exit(code)
    return child


def confirm(file: Path, text: str) -> None:
    """What a learner was told, out of reach of a kill: one write, nothing held back in this process."""
    number = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.write(number, (text + "\n").encode())
    os.close(number)


def confirmed(folder: Path) -> list[str]:
    return [line for file in folder.glob("*.told") for line in file.read_text(encoding="utf-8").splitlines()]


def run_and_kill(works: list[Callable[[], None]], kills: int, dice: random.Random) -> int:
    """Run them side by side; kill so many of them at random moments, each then started again. Returns the kills."""
    running = {forked(work): work for work in works}
    done = 0
    while running:
        time.sleep(dice.uniform(0.0, 0.02))
        if done < kills:
            victim = dice.choice(list(running))
            os.kill(victim, signal.SIGKILL)
            done += 1
        for child, work in list(running.items()):
            ended, status = os.waitpid(child, os.WNOHANG)
            if not ended:
                continue
            del running[child]
            if os.WIFSIGNALED(status):
                running[forked(work)] = work
            else:
                assert os.WEXITSTATUS(status) == 0, "a writer failed"
    return done


def told_it_is_kept(progress: Progress, answer: str) -> bool:
    try:
        progress.record(1, "why_slow", answer, Verdict("done", ""))
    except TimeoutError:  # a sentence, and the learner presses the button again
        return False
    assert progress.told == ""
    return True


def answers(folder: Path, writers: int, count: int, kills: int, dice: random.Random) -> tuple[int, ...]:
    """Kernels that write into one learner's file, some of them killed: nothing confirmed is lost, no line is torn."""
    progress = Progress(OWNER, folder / "progress")

    def writer(number: int) -> Callable[[], None]:
        told = folder / f"{number}.told"

        def work() -> None:
            mine = Progress(OWNER, folder / "progress")
            begun = len(told.read_text(encoding="utf-8").splitlines()) if told.exists() else 0
            for k in range(begun, count):
                answer = f"writer {number}, answer {k}, " + "x" * random.randrange(200)
                while not told_it_is_kept(mine, f"{answer}\nand a second paragraph"):
                    pass
                confirm(told, answer)

        return work

    progress.entries()
    killed = run_and_kill([writer(number) for number in range(writers)], kills, dice)
    kept = [entry.answer.splitlines()[0] for entry in progress.entries()]  # raises if a line is torn
    told = confirmed(folder)
    assert len(told) == writers * count, (len(told), writers * count)
    lost = set(told) - set(kept)
    assert not lost, f"{len(lost)} of {len(told)} confirmed answers are lost, such as {sorted(lost)[:3]}"
    assert len(kept) <= len(told) + killed, (len(kept), len(told), killed)
    assert len(set(kept)) == len(kept), "an answer is there twice"
    unfinished = len(list((folder / "progress").glob("*.part")))
    assert unfinished <= killed
    return len(told), killed, len(kept) - len(told), unfinished


def version(number: int) -> str:
    return "\n".join([f"version {number}", *(f"reading {number}.{k}" for k in range(200)), "end"]) + "\n"


def number_of(text: str) -> int:
    number = int(text.split(maxsplit=2)[1])
    assert text == version(number), "not whole"
    return number


def generations(folder: Path, writers: int, count: int, kills: int, dice: random.Random) -> tuple[int, ...]:
    """A writer that saves one version after another, killed often: at every moment a good version stands at the file's
    name, none older than what was confirmed, and the four before it stand beside it."""
    path, told, killed = folder / "readings.csv", folder / "0.told", 0
    saving.write_keeping_earlier(path, version(0))
    beside = [folder / f"readings_earlier_{k}.csv" for k in range(1, 7)]
    unfinished = 0
    for _ in range(kills):
        newest = number_of(path.read_text(encoding="utf-8"))

        def work(first: int = newest + 1) -> None:
            for k in range(first, first + 100_000):
                saving.write_keeping_earlier(path, version(k))
                confirm(told, str(k))

        before = told.stat().st_size if told.exists() else 0
        child = forked(work)
        while not (told.exists() and told.stat().st_size > before):
            time.sleep(0.0005)
        until = time.monotonic() + dice.uniform(0.0, 0.02)
        while time.monotonic() < until:  # whoever reads meanwhile finds a whole one
            assert number_of(path.read_text(encoding="utf-8")) >= newest
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        killed += 1
        stands = number_of(path.read_text(encoding="utf-8"))
        last = max(map(int, confirmed(folder)))
        assert last <= stands <= last + 1, (last, stands)
        there = [number_of(place.read_text(encoding="utf-8")) for place in beside if place.exists()]
        assert not beside[5].exists()
        older = [number for number in there if number != stands]
        assert older == sorted(older, reverse=True), older
        wanted = list(range(stands - 1, max(stands - 5, -1), -1))
        assert older[: len(wanted)] == wanted, (stands, older)
        unfinished = len(list(folder.glob("*.part")))
    assert unfinished <= 2 * killed
    return stands, killed, unfinished


def choices(folder: Path, writers: int, count: int, kills: int, dice: random.Random) -> tuple[int, ...]:
    """Some kernels change the units, others the name, in one settings file: neither takes the other's away."""
    os.environ["OILKIT_SETTINGS"] = str(folder / "settings.json")

    def writer(number: int) -> Callable[[], None]:
        def work() -> None:
            for k in range(count):
                if number == 0:
                    assert settings.save_owner("spring class", f"name {k}") == ""
                    kept = settings.load_owner()
                    assert kept == ("spring class", f"name {k}"), kept
                else:
                    assert settings.save_units(("US", "SI")[k % 2]) == ""
                    assert settings.load_units()[1] == ""

        return work

    killed = run_and_kill([writer(number) for number in range(writers)], kills, dice)
    kept = json.loads((folder / "settings.json").read_text(encoding="utf-8"))
    assert kept.keys() == {"units", "class", "learner"}, kept
    assert kept["learner"] == f"name {count - 1}", kept
    return killed, len(list(folder.glob("*.part")))


if __name__ == "__main__":
    what, folder, times, *numbers, seed, locks = sys.argv[1:]
    if locks == "no":
        without_locks()
        saving.WAIT, saving.HELD = 2.0, 5.0
    with saving.alone(Path(folder) / "first"):
        pass  # the lock's modules are there before anybody is forked
    dice = random.Random(int(seed))
    total: list[int] = []
    for time_now in range(int(times)):
        place = Path(folder) / str(time_now)
        place.mkdir()
        counts = globals()[what](place, *map(int, numbers), dice)
        total = [a + b for a, b in zip(total or [0] * len(counts), counts, strict=True)]
        shutil.rmtree(place)
    print(*total)
