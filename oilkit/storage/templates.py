"""Templates of documents: text files that lie in a folder ``templates`` beside the code that fills them."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment, Template


def template(package: str, name: str) -> Template:
    """A template of a package. What is put into one is words and no tag, unless it was marked up before (in ``.txt``
    there are no tags); a name that was not given is an error and no gap."""
    return _templates(package).get_template(name)


@cache
def _templates(package: str) -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined, select_autoescape  # not before there is a document

    folder = files(package).joinpath("templates")
    return Environment(
        loader=FunctionLoader(lambda name: folder.joinpath(name).read_text(encoding="utf-8")),
        autoescape=select_autoescape(disabled_extensions=("txt",), default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
