"""A logged lap: read, simulated, and a pre-charge that holds in all of it. (Lesson 07)"""
