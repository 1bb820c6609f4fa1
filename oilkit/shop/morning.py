"""The pre-lube as hands do it, each act with its caution, a number and when to stop. (Lesson 08)"""

from __future__ import annotations

from oilkit.shop.steps import Act, told
from oilkit.shop.texts import beside

_file, _tables = beside(__file__)
PRE_LUBE = told(Act, _file, _tables, "steps")
"""From the evening before to the running engine, by their keys."""
PRE_LUBE_TITLE: str = _tables["title"]
