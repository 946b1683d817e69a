"""How the text of a case lies in the database: a zlib stream (RFC 1950) that knows beforehand what every case says.

Any zlib reads it that is given the dictionary: the stream itself names the one it was written with, by its Adler-32
(RFC 1950, FDICT and DICTID), and ends with the text's own.
"""

import zlib
from functools import cache
from pathlib import Path

# Text that cases share: words, then whole cases without title and note. What is written with a dictionary is read with
# that one for ever, so a file here never changes; a better one is a file of its own.
DICTIONARIES = ("packing_1.txt",)
PRESET, DICTIONARY_ID = 0x20, slice(2, 6)  # where the stream says that it needs one, and which
LEVEL, WINDOW_BITS, MEMORY = 9, 15, 8


@cache
def _dictionaries() -> dict[bytes, bytes]:
    """By Adler-32, the one to write with last."""
    texts = (Path(__file__).with_name(name).read_bytes() for name in DICTIONARIES)
    return {zlib.adler32(one).to_bytes(4, "big"): one for one in texts}


def packed(text: bytes) -> bytes:
    """A text in UTF-8 as it is kept."""
    *_, newest = _dictionaries().values()
    stream = zlib.compressobj(LEVEL, zlib.DEFLATED, WINDOW_BITS, MEMORY, zlib.Z_DEFAULT_STRATEGY, newest)
    return stream.compress(text) + stream.flush()


def unpacked(kept: bytes) -> bytes:
    """The text in UTF-8. What was damaged, and is no whole stream any more, is answered as it is."""
    known = _dictionaries().get(kept[DICTIONARY_ID], b"") if len(kept) > 1 and kept[1] & PRESET else b""
    stream = zlib.decompressobj(WINDOW_BITS, zdict=known)
    try:
        text = stream.decompress(kept)
    except zlib.error:
        return kept
    return text if stream.eof and not stream.unused_data else kept
