"""The panels, a module or more for each lesson."""
