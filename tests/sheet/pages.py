"""Cases for the sheet tests, and measuring what came out."""

from collections.abc import Iterator
from dataclasses import replace

from app.assess import Assessment, assess, load_knowledge
from app.case.models import Bone, Case, Construct, Fracture, FractureLine, LagScrew, Plate
from app.rules.registry import Level
from app.rules.registry import Warning as Warned
from app.sheet import Paper, plan_sheet
from tests.order.constructs import CATALOGUE, holes
from tests.papers import Leaf, Word, leaves

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


def opened(data: bytes) -> list[Leaf]:
    return leaves(data)


def words_of(page: Leaf) -> list[Word]:
    """Left, top, right, bottom in mm, and the word; towards the sheet's edges, what is seen of it."""
    edge = 10
    within = (word if edge < word[0] and word[2] < page.width_mm - edge else page.seen(word) for word in page.words)
    return [word for word in within if word is not None]


def text_of(page: Leaf) -> str:
    """All text on one line, without the break points put into long words."""
    return " ".join(page.text.replace("\u200b", "").split())


def dark_runs(page: Leaf, top_mm: float, bottom_mm: float, *, dpi: int = 508) -> list[float]:
    """For every pixel row of a band, its longest run that isn't white, mm as measured on the picture."""
    scale = 25.4 / dpi
    band = page.grey(top_mm, bottom_mm, dpi=dpi)
    samples = band.tobytes()
    rows = (samples[y * band.width : (y + 1) * band.width] for y in range(band.height))
    return [max(map(len, bytes(255 if v > 235 else 0 for v in row).split(b"\xff"))) * scale for row in rows]
