"""The sentence that tells what an edit changed."""

from app.assess import Assessment
from app.web.panels.announce import announce
from tests.drawing.constructs import SOME, assessed, warning


def test_the_gravest_of_what_is_new_is_told_first_whichever_bone_it_is_on() -> None:
    drawn = SOME["segmental"]
    bare, mild, grave = (
        assessed(drawn, warnings) for warnings in ((), (warning("caution", "h1"),), (warning("stop", "h2"),))
    )
    case = assessed(drawn).layout.construct

    def whole(*ones: object) -> Assessment:
        return Assessment(case, tuple(ones), ())  # type: ignore[arg-type]

    told = announce("Moved", whole(bare, bare), whole(mild, grave))
    assert told.startswith("Moved; new stop: ")
    assert " and 1 more" in told
