"""Faults planted on purpose in sensible designs, and how many of them the inspection finds."""
