"""Comparisons of the frame model with closed-form solutions and with published bench tests."""
