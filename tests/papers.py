"""What came out: words, sizes, fonts and pixels of a PDF, read by PDFium and pypdf; pictures, decoded by Pillow."""

import ctypes
import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pypdf
import pypdfium2
from PIL import Image, ImageOps
from pypdfium2 import raw

MM = 72 / 25.4  # points
Word = tuple[float, float, float, float, str]  # left, top, right, bottom in mm from the sheet's upper left; the word
INK_DPI = 100
BROKEN_AT_A_HYPHEN = "\x02"  # how PDFium tells a hyphen at the end of a line


@dataclass(frozen=True, slots=True)
class Letter:
    """One sign: its box in mm (the font's height, not the ink's) and its size in points."""

    sign: str
    box: tuple[float, float, float, float] | None  # None: a space or line end that stands nowhere
    size_pt: float


class Leaf:
    """One page of a PDF."""

    def __init__(self, page: pypdfium2.PdfPage) -> None:
        self._page = page
        self.width_mm, self.height_mm = (points / MM for points in page.get_size())
        self.letters = tuple(self._letters())

    @property
    def text(self) -> str:
        """All that is written, as it follows."""
        return "".join(letter.sign for letter in self.letters)

    @property
    def words(self) -> list[Word]:
        """The words and where they stand."""
        return list(self._words())

    def grey(self, top_mm: float, bottom_mm: float, *, dpi: int) -> Image.Image:
        """A band of the page as pixels, 0 black to 255 white, without smoothing."""
        below = (self.height_mm - bottom_mm) * MM
        bitmap: pypdfium2.PdfBitmap = self._page.render(
            scale=dpi / 72, crop=(0, below, 0, top_mm * MM), grayscale=True, no_smoothtext=True, no_smoothpath=True
        )
        seen: Image.Image = bitmap.to_pil()
        return seen.convert("L")

    def seen(self, word: Word) -> Word | None:
        """What is seen of a word: PDFium also tells of writing that a drawing's window cuts away, or cuts through."""
        px = INK_DPI / 25.4
        left, top = int(word[0] * px), int(word[1] * px)
        box = (left, top, int(word[2] * px) + 1, int(word[3] * px) + 1)
        ink = self._ink.crop(box).getbbox()
        return None if ink is None else ((left + ink[0]) / px, word[1], (left + ink[2]) / px, word[3], word[4])

    @cached_property
    def _ink(self) -> Image.Image:
        return ImageOps.invert(self.grey(0, self.height_mm, dpi=INK_DPI)).point(lambda value: value if value > 8 else 0)

    @property
    def lines(self) -> list[list[tuple[float, float]]]:
        """The corners of every open or closed line of straight pieces, mm from the sheet's upper left."""
        count = raw.FPDFPage_CountObjects(self._page)
        objects = [raw.FPDFPage_GetObject(self._page, at) for at in range(count)]
        return [
            [(x / MM, self.height_mm - y / MM) for x, y in line] for one in objects for line in _lines(one, _STRAIGHT)
        ]

    def _letters(self) -> Iterator[Letter]:
        written = self._page.get_textpage()
        for at in range(written.count_chars()):
            sign = chr(raw.FPDFText_GetUnicode(written, at))
            if sign == BROKEN_AT_A_HYPHEN:
                sign = "-"
            if raw.FPDFText_IsGenerated(written, at) == 1 or sign.isspace():
                yield Letter(sign, None, 0)
                continue
            left, bottom, right, top = written.get_charbox(at, loose=True)
            box = (left / MM, self.height_mm - top / MM, right / MM, self.height_mm - bottom / MM)
            if box[2] > 0 and box[0] < self.width_mm:  # what a drawing has beyond the sheet's edge is on another part
                yield Letter(sign, box, _size_pt(written, at))
        written.close()

    def _words(self) -> Iterator[Word]:
        held: list[Letter] = []
        for letter in (*self.letters, Letter(" ", None, 0)):
            if letter.box is not None and (not held or _follows(held[-1], letter)):
                held.append(letter)
                continue
            if held:
                yield _word(held)
            held = [] if letter.box is None else [letter]


Matrix = tuple[float, float, float, float, float, float]
_STRAIGHT: Matrix = (1, 0, 0, 1, 0, 0)


def _lines(drawn: object, within: Matrix) -> Iterator[list[tuple[float, float]]]:
    """The lines of an object of a page, or of those that it groups, in the page's own points."""
    own = raw.FS_MATRIX()
    assert raw.FPDFPageObj_GetMatrix(drawn, ctypes.byref(own))
    matrix = _product((own.a, own.b, own.c, own.d, own.e, own.f), within)
    kind = raw.FPDFPageObj_GetType(drawn)
    if kind == raw.FPDF_PAGEOBJ_FORM:
        for at in range(raw.FPDFFormObj_CountObjects(drawn)):
            yield from _lines(raw.FPDFFormObj_GetObject(drawn, at), matrix)
    elif kind == raw.FPDF_PAGEOBJ_PATH:
        yield from _pieces(drawn, matrix)


def _product(first: Matrix, then: Matrix) -> Matrix:
    """ISO 32000-1, 8.3.4: a point is a row that is multiplied by the inner matrix first."""
    a, b, c, d, e, f = first
    g, h, i, j, k, m = then
    return a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k, e * h + f * j + m


def _pieces(path: object, matrix: Matrix) -> Iterator[list[tuple[float, float]]]:
    a, b, c, d, e, f = matrix
    line: list[tuple[float, float]] = []
    for at in range(raw.FPDFPath_CountSegments(path)):
        segment = raw.FPDFPath_GetPathSegment(path, at)
        if raw.FPDFPathSegment_GetType(segment) == raw.FPDF_SEGMENT_MOVETO and line:
            yield line
            line = []
        x, y = ctypes.c_float(), ctypes.c_float()
        assert raw.FPDFPathSegment_GetPoint(segment, ctypes.byref(x), ctypes.byref(y))
        line.append((a * x.value + c * y.value + e, b * x.value + d * y.value + f))
    if line:
        yield line


def _size_pt(written: pypdfium2.PdfTextPage, at: int) -> float:
    """The size the sign is seen in: what the font is set to, times what the page enlarges it by."""
    matrix = raw.FS_MATRIX()
    assert raw.FPDFText_GetMatrix(written, at, ctypes.byref(matrix))
    return float(raw.FPDFText_GetFontSize(written, at)) * float((matrix.c**2 + matrix.d**2) ** 0.5)


def _follows(last: Letter, letter: Letter) -> bool:
    assert last.box
    assert letter.box
    return abs(last.box[3] - letter.box[3]) < 0.5 * (last.box[3] - last.box[1]) and letter.box[0] - last.box[2] < 1


def _word(letters: list[Letter]) -> Word:
    boxes = [letter.box for letter in letters if letter.box]
    left, top = min(box[0] for box in boxes), min(box[1] for box in boxes)
    right, bottom = max(box[2] for box in boxes), max(box[3] for box in boxes)
    return left, top, right, bottom, "".join(letter.sign for letter in letters)


def leaves(data: bytes) -> list[Leaf]:
    """The pages of a PDF."""
    return [Leaf(page) for page in pypdfium2.PdfDocument(data)]


def document(data: bytes) -> pypdf.PdfReader:
    """What a PDF says of itself."""
    return pypdf.PdfReader(io.BytesIO(data), strict=True)


@dataclass(frozen=True, slots=True)
class Font:
    """A font of a PDF: its name (none for Type 3, ISO 32000-1, 9.6.5) and what of it lies in the file."""

    name: str
    kind: str
    embedded: bytes


def fonts(data: bytes) -> list[Font]:
    """All that the pages' own resources name, and those of the drawings on them."""
    found: dict[int, Font] = {}
    for page in document(data).pages:
        _collect(page.get("/Resources"), found)
    return list(found.values())


def _collect(resources: pypdf.generic.PdfObject | None, found: dict[int, Font]) -> None:
    if resources is None:
        return
    held = resources.get_object()
    assert isinstance(held, pypdf.generic.DictionaryObject)
    for reference in held.get("/Font", pypdf.generic.DictionaryObject()).get_object().values():
        font = reference.get_object()
        found[id(font)] = _font(font)
    for reference in held.get("/XObject", pypdf.generic.DictionaryObject()).get_object().values():
        drawn = reference.get_object()
        if drawn.get("/Subtype") == "/Form":
            _collect(drawn.get("/Resources"), found)


def _font(font: pypdf.generic.DictionaryObject) -> Font:
    kind = str(font["/Subtype"])
    within = font
    if kind == "/Type0":
        descendants = font["/DescendantFonts"].get_object()
        assert isinstance(descendants, pypdf.generic.ArrayObject)
        within = descendants[0].get_object()
    described = within.get("/FontDescriptor", pypdf.generic.DictionaryObject()).get_object()
    files = [described[name].get_object() for name in ("/FontFile", "/FontFile2", "/FontFile3") if name in described]
    return Font(str(font.get("/BaseFont", "")).removeprefix("/"), kind, files[0].get_data() if files else b"")


def picture(png: bytes | Path) -> Image.Image:
    """A picture, decoded by Pillow: not by what painted it."""
    opened = Image.open(io.BytesIO(png) if isinstance(png, bytes) else png)
    opened.load()
    return opened
