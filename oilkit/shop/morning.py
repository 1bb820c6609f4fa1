"""The pre-lube as hands do it, each act with its caution, a number and when to stop. (Lesson 08)"""

from __future__ import annotations

from oilkit.shop.steps import acts, card
from oilkit.shop.texts import beside

_file, _told = beside(__file__)
PRE_LUBE = acts(_file, _told)
"""From the evening before to the running engine, by their keys."""
PRE_LUBE_CARD = card(_told["title"], PRE_LUBE.values())
