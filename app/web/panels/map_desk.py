"""What takes long, of maps of layouts answered ready for the page: maps stay where they were worked out.

The desk stands in the process beside the server (`app.beside`), so that of a map nothing goes over but its panel.
"""

import json
from collections.abc import Callable, Hashable
from dataclasses import dataclass

from app.assess import Assessment, Knowledge, assess_stored
from app.case.models import Case
from app.layout_map.changes import drawn_key, drawn_work
from app.layout_map.document import map_document
from app.layout_map.draws import in_draws
from app.layout_map.filling import NoMapError
from app.layout_map.table import AXES, LayoutTable, Worked, layout_table
from app.map_picture import SmallMap, small_map
from app.mechanics import Construct, MechanicsResult
from app.mechanics.bands import solved
from app.mechanics.of_layout import Loading
from app.mechanics.sections import Array
from app.single_flight import SingleFlightCache
from app.web.panels.layout_map import MapView, Others, axes_of, cell_rows, far_view, map_view
from app.web.templates import Pages

MAPS = 8  # up to 5 MB each
DRAWN = 64  # up to 30 kB each

Axes = tuple[str | None, str | None]


@dataclass(frozen=True, slots=True)
class MapOf:
    """What a map is asked of: a construct of a case that was accepted once, under a load or its bone's preset."""

    case: Case
    target: int
    loading: Loading | None = None


@dataclass(frozen=True, slots=True)
class Panel:
    """How the panel is shown: over which figures, beside what, of which version, and where its file lies."""

    axes: Axes
    others: Others
    version: int
    file: str


@dataclass(frozen=True, slots=True)
class Which:
    """Layouts that are listed: those of one cell of the picture, or with so many screws."""

    cell: tuple[int, int] | None
    screws: int | None


class MapDesk:
    """Answers, and keeps maps by geometry and load: filling a hole or leaving it empty makes no new one.

    What single changes do over what is not known is kept, too, by layout.
    """

    def __init__(self, knowledge: Knowledge) -> None:
        self._knowledge, self._pages = knowledge, Pages()
        self._maps: SingleFlightCache[Hashable, Worked] = SingleFlightCache(MAPS)
        self._drawn: SingleFlightCache[Hashable, Array] = SingleFlightCache(DRAWN)

    def panel(self, of: MapOf, shown: Panel) -> str:
        """The panel of the sketch page."""

        def view(table: LayoutTable, drawn: Array | None) -> MapView:
            return map_view(table, self._knowledge, shown.axes, drawn, shown.others)

        return self._part("_layout_map.html", of, view, version=shown.version, file=shown.file)

    def draw(self, of: MapOf) -> None:
        """Look at the single changes over what is not known, which takes as long as a map or two.

        Raises:
            NoMapError: there is no map of it.
        """
        table = self._table(of)
        self._drawn.get(drawn_key(table), lambda: in_draws(*drawn_work(table, self._knowledge)))

    def solved(self, construct: Construct) -> tuple[MechanicsResult, ...]:
        """A construct's answers over what is not known."""
        return solved(construct)

    def listed(self, of: MapOf, axes: Axes, which: Which) -> str:
        """Layouts as a list.

        Raises:
            NoMapError: there is no map of it.
        """
        table = self._table(of)
        x, y = axes_of(table, *axes)
        rows, count = cell_rows(table, x, y, which.cell, which.screws)
        values = {"rows": rows, "count": count, "screws": which.screws, "x": AXES[x].label, "y": AXES[y].label}
        return self._pages.html("_layout_list.html", **values)

    def far(self, of: MapOf) -> str:
        """What those see of the map who stand far off."""
        return self._part("_conference_map.html", of, lambda table, drawn: far_view(table, self._knowledge, drawn))

    def document(self, of: MapOf) -> str:
        """The map as a document, written as JSON.

        Raises:
            NoMapError: there is no map of it.
        """
        return json.dumps(map_document(self._table(of)), ensure_ascii=False, allow_nan=False, separators=(",", ":"))

    def small(self, of: MapOf) -> SmallMap | None:
        """A small picture of the map, under the bone's preset."""
        return small_map(self._assessment(of), of.target, self._knowledge, self._maps.get)

    def _part(
        self, template: str, of: MapOf, view: Callable[[LayoutTable, Array | None], object], **values: object
    ) -> str:
        """A part of a page: a view of the map and of what is known of its single changes, or why there is none."""
        try:
            table = self._table(of)
            shown, why = view(table, self._drawn.peek(drawn_key(table))), ""
        except NoMapError as error:
            shown, why = None, str(error)
        return self._pages.html(template, map=shown, why=why, **values)

    def _assessment(self, of: MapOf) -> Assessment:
        return assess_stored(of.case, self._knowledge, mechanics=False, remedies=False)

    def _table(self, of: MapOf) -> LayoutTable:
        return layout_table(self._assessment(of), of.target, self._knowledge, of.loading, self._maps.get)
