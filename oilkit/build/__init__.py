"""A racer's set-up: its file, its numbers, its sheet. (Lesson 10)"""
