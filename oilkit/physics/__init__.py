"""What the lessons derive, in lesson order.

A function marked ``@public`` is written in plain SI: its arguments arrive as Pa (gauge, absolute or a difference, as
the annotation says), m3, m, K, m3/s, s, and speeds in rev/s, each checked against the range of its kind; ``.si`` beside
it is the same function unchecked. ``Span(usual low, usual high, lowest, highest)`` in a record says what is asked about
and what is refused.
"""
