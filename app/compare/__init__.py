"""Constructs side by side: every figure, what differs, and one window for all drawings."""

from app.compare.comparison import LEAST, MOST, Column, Comparison, DifferingWarning, Row, common_view, compare

__all__ = ["LEAST", "MOST", "Column", "Comparison", "DifferingWarning", "Row", "common_view", "compare"]
