"""Sample cases as the list shows them."""

import logging
from collections.abc import Iterator
from dataclasses import dataclass

from app.assess import Knowledge, assess
from app.case import Case, InvalidCase
from app.drawing import draw_thumbnail
from app.samples import load_samples

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class ShownSample:
    """A sample with the small picture of its first construct."""

    key: str
    case: Case
    thumbnail: str


def show_samples(knowledge: Knowledge) -> tuple[ShownSample, ...]:
    """All samples that can be made from what is in stock; a user's own stock may lack what one of them needs."""
    return tuple(_shown(knowledge))


def _shown(knowledge: Knowledge) -> Iterator[ShownSample]:
    for sample in load_samples():
        try:
            first = assess(sample.case, knowledge, mechanics=False, remedies=False).constructs[0]
        except InvalidCase as error:
            log.warning("the sample case %s can't be shown: %s", sample.key, error)
            continue
        yield ShownSample(sample.key, sample.case, draw_thumbnail(first, theme="page"))
