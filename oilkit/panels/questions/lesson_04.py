"""Predictions of lesson 04."""

from __future__ import annotations

from collections.abc import Callable

from oilkit.panels.predict import Prediction

QUESTIONS: tuple[Callable[[], Prediction], ...] = ()
