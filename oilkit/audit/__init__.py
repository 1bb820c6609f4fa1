"""Every formula and constant, where it is from, and one engine worked through. (Lesson 12)"""
