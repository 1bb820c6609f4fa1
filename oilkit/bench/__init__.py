"""Readings of a learner's own bench and what they say. (Lesson 11)"""
