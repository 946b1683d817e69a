"""The command that prints a map: its options, and what it prints."""

import argparse
import json
from collections.abc import Callable
from typing import TYPE_CHECKING

from app.catalogue.loads import STAGES
from app.layout_map.filling import NoMapError

if TYPE_CHECKING:
    from app.assess import Assessment, Knowledge

__all__ = ["NoMapError", "add_options", "map_text"]


def add_options(parser: argparse.ArgumentParser, count: Callable[[str], int]) -> None:
    """What the command takes; ``count`` reads a number from 1 on."""
    parser.add_argument("file", metavar="FILE", help="case file; - is standard input")
    parser.add_argument(
        "--construct", type=count, default=1, metavar="N", help="which bone of the case, from 1 (default: %(default)s)"
    )
    parser.add_argument("--stage", choices=STAGES, default=STAGES[0], help="the load (default: %(default)s)")
    parser.add_argument("--held", action="store_true", help="both ends held, instead of ball joints")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="one document (the default)")
    form.add_argument("--csv", action="store_true", help="a table of lines")


def map_text(options: argparse.Namespace, assessment: "Assessment", knowledge: "Knowledge") -> str:
    """What is printed.

    Raises:
        NoMapError: there is no such construct, or no map of it.
    """
    from app.layout_map.document import map_csv, map_document  # numpy and the solver load when a map is asked for
    from app.layout_map.table import layout_table
    from app.mechanics import Supports
    from app.mechanics.of_layout import preset_loading

    bones, target = assessment.constructs, options.construct - 1
    if target >= len(bones):
        message = f"There is no construct {options.construct}; the case has {len(bones)}."
        raise NoMapError(message)
    supports = Supports("held", "held") if options.held else Supports()
    loading = preset_loading(bones[target].construct.bone.name, options.stage, supports)
    table = layout_table(assessment, target, knowledge, loading)
    return (
        map_csv(table) if options.csv else json.dumps(map_document(table), ensure_ascii=False, allow_nan=False) + "\n"
    )
