"""What every error sentence of the kit must look like."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from oilkit import InputError


@contextlib.contextmanager
def case(label: str) -> Iterator[None]:
    """What fails in here says for which of many cases it did."""
    try:
        yield
    except BaseException as problem:
        problem.add_note(f"case: {label}")
        raise


def refused(argument: str | None, call: Callable[[], Any]) -> str:
    """Make the call, which must be refused in one sentence that names the argument. Returns the sentence."""
    with pytest.raises(InputError) as caught:
        call()
    sentence = str(caught.value)
    if argument is not None:
        assert caught.value.argument == argument, sentence
    check_sentence(sentence, caught.value.argument)
    return sentence


def check_sentence(sentence: str, argument: str) -> None:
    """One sentence: which argument, what came, what is wanted; and nothing that only a programmer can read."""
    assert sentence.startswith(f"{argument}: got "), sentence
    assert "; wanted " in sentence, sentence
    assert sentence.endswith("."), sentence
    assert "\n" not in sentence, sentence
    assert not re.search(r"[.!?]\s", sentence), f"more than one sentence: {sentence}"
    assert len(sentence) < 300, sentence
    for inner in ("<", "object at 0x", "array(", "Quantity", "Traceback", "  ", "got ;", "wanted ."):
        assert inner not in sentence, f"{inner!r} in: {sentence}"
