"""Answers of the panels of lesson 03."""
