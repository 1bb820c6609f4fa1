"""For the teacher: one command that makes plans, worksheets, key and handouts from the lessons themselves.

``python -m oilkit.teacher --class "spring class" --learners names.txt`` makes the pack, ``python -m oilkit.teacher
marks progress --class "spring class" --learners names.txt`` the mark book. `lesson` reads a notebook; `plans`,
`sheets`, `handouts` and `glossary` are the parts; `pages` is what a page is made of, `paper` prints it, `pack` puts
all together and writes it. `server` and `stick` bring the kit to a class, `collect` brings the answers back.
"""

from oilkit.teacher.marks import mark_book
from oilkit.teacher.marks_files import write_marks
from oilkit.teacher.pack import Pack, make_pack, write_pack

__all__ = ["Pack", "make_pack", "mark_book", "write_marks", "write_pack"]
