"""The plan sheet: what is taken to theatre, as a PDF."""

from app.sheet.sheet import PAPERS, Paper, plan_sheet

__all__ = ["PAPERS", "Paper", "plan_sheet"]
