"""Fishplate: a construct sketcher for plated long-bone shafts."""

__version__ = "0.1.0"
