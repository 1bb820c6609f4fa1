"""Work on the engine: steps in any order, the set-up as it really is, its card and its faults. (Lesson 09)"""
