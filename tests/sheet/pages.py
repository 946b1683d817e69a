"""Cases for the sheet tests, and measuring what came out."""

from collections.abc import Iterator
from dataclasses import replace

import pymupdf

from app.assess import Assessment, assess, load_knowledge
from app.case.models import Bone, Case, Construct, Fracture, FractureLine, LagScrew, Plate
from app.rules.registry import Level
from app.rules.registry import Warning as Warned
from app.sheet import Paper, plan_sheet
from tests.order.constructs import CATALOGUE, holes

MM = 72 / 25.4  # points
LEVELS: tuple[Level, ...] = ("stop", "caution", "note")


def assessed(*constructs: Construct, title: str = "Oblique radius", note: str = "") -> Assessment:
    case = Case(format="fishplate-case/2", title=title, note=note, constructs=constructs)
    return assess(case, load_knowledge())


def crowded(title: str = "Femur", note: str = "", *, warnings: int = 20) -> Assessment:
    """14 holes all filled, two separate lag screws, and as many warnings as asked for."""
    middle = CATALOGUE.bones["femur"].length_mm / 2
    construct = Construct(
        bone=Bone(name="femur"),
        fracture=Fracture(lines=(FractureLine(position_mm=middle, obliquity_deg=45),)),
        principle="compression",
        plate=Plate(series="large-broad-4.5", holes=14, centre_mm=middle, prebend_mm=1),
        holes=holes("NNN2NNNLENN2NN", {8: -20}),
        lag_screws=(LagScrew(position_mm=middle - 12, tilt_deg=-30, screw="cortex-4.5"),) * 2,
    )
    made = assessed(construct, title=title, note=note)
    return replace(made, constructs=(replace(made.constructs[0], warnings=tuple(_warnings(warnings))),))


def _warnings(count: int) -> Iterator[Warned]:
    for n in range(1, count + 1):
        message = (
            f"Warning number {n}: the screw in hole {n % 14 + 1} is 3.2 mm from the fracture line, closer than the "
            "4.5 mm that one diameter of it asks for, and holds both fragments apart."
        )
        yield Warned("near-fracture", LEVELS[n % 3], (f"h{n % 14 + 1}",), message, "", "", None)


def sheet(assessment: Assessment, *, paper: Paper = "a4") -> bytes:
    """The plan sheet, with the shipped stock."""
    return plan_sheet(assessment, CATALOGUE, paper=paper)


def opened(data: bytes) -> list[pymupdf.Page]:
    document = pymupdf.open(stream=data, filetype="pdf")
    return [document[number] for number in range(len(document))]


def words_of(page: pymupdf.Page) -> list[tuple[float, float, float, float, str]]:
    """Left, top, right, bottom in mm, and the word."""
    return [(*(v / MM for v in word[:4]), word[4]) for word in page.get_text("words")]


def text_of(page: pymupdf.Page) -> str:
    """All text on one line, without the break points put into long words."""
    return " ".join(page.get_text().replace("\u200b", "").split())


def dark_runs(page: pymupdf.Page, top_mm: float, bottom_mm: float, *, dpi: int = 508) -> list[float]:
    """For every pixel row of a band, its longest run that isn't white, mm as measured on the picture."""
    scale = 25.4 / dpi
    clip = pymupdf.Rect(0, top_mm * MM, page.rect.width, bottom_mm * MM)
    picture = page.get_pixmap(dpi=dpi, colorspace=pymupdf.csGRAY, clip=clip)
    rows = (picture.samples[y * picture.stride : y * picture.stride + picture.width] for y in range(picture.height))
    return [max(map(len, bytes(255 if v > 235 else 0 for v in row).split(b"\xff"))) * scale for row in rows]
