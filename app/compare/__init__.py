"""Constructs side by side: every figure, what differs, and one window for all drawings."""

from app.compare.comparison import MOST, Column, Comparison, DifferingWarning, Row, common_view, compare

__all__ = ["MOST", "Column", "Comparison", "DifferingWarning", "Row", "common_view", "compare"]
