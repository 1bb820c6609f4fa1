"""The rows of ``outside_checks.py``, a module for each topic. Each has ``rows()``, which gives its rows in order."""
