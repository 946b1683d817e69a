"""Short names for edits, as the undo button and the history show them."""

from app.case import Case
from app.case.edits import (
    LABEL_LENGTH,
    Acknowledge,
    Edit,
    RemoveLag,
    SetRole,
    SetSide,
    SetSpiral,
    SetSurface,
    SetTilt,
    Together,
)
from app.case.roles import ROLE

PLAIN = {
    "set_title": "Rename the case",
    "set_note": "Change the note",
    "set_quality": "Change bone quality",
    "add_construct": "Add a bone",
    "remove_construct": "Remove a bone",
    "replace_construct": "Replace the construct",
    "set_bone": "Change the bone",
    "set_side": "Leave the side open",
    "set_surface": "Plate on the usual surface",
    "set_code": "Change the fracture code",
    "set_principle": "Change the principle",
    "move_fracture": "Move the fracture",
    "set_obliquity": "Lean the fracture",
    "set_turn": "Turn the fracture",
    "set_spiral": "Take the line as a plane",
    "lean_fracture": "Lean the fracture",
    "set_zone": "Change the zone",
    "add_line": "Add a fracture line",
    "remove_line": "Remove a fracture line",
    "set_gap": "Change the gap",
    "set_wedge": "Change the wedge",
    "set_plate": "Change the plate",
    "move_plate": "Move the plate",
    "set_standoff": "Change the stand-off",
    "set_prebend": "Change the pre-bend",
    "add_lag": "Add a lag screw",
    "set_lag": "Change a lag screw",
    "remove_lag": "Remove a lag screw",
    "set_order": "Change the order",
}
FIGURES = {
    "set_quality": "Bone quality {bone_quality}",
    "set_principle": "Principle {principle}",
    "move_fracture": "Fracture to {position_mm:g} mm",
    "set_obliquity": "Obliquity {obliquity_deg:g}°",
    "set_turn": "Turn {turn_deg:g}°",
    "lean_fracture": "Fracture seen at {angle_deg:g}° in the {view}",
    "set_zone": "Zone {zone_mm:g} mm",
    "set_gap": "Gap {gap_mm:g} mm",
    "move_plate": "Plate to {centre_mm:g} mm",
    "set_standoff": "Stand-off {standoff_mm:g} mm",
    "set_prebend": "Pre-bend {prebend_mm:g} mm",
    "set_plate": "Plate with {holes} holes",
}


def under_its_words(edit: Edit, words: str) -> Together:
    """The edit of a button, so that undo and history call it as the button does."""
    if isinstance(edit, Together):
        return edit.model_copy(update={"label": words[:LABEL_LENGTH]})
    return Together.model_construct(label=words[:LABEL_LENGTH], edits=(edit,))  # checked already, with what offers it


def label_of(edit: Edit, case: Case) -> str:
    """What an edit does, in a few words; ``case`` is the one it is made on."""
    if isinstance(edit, Together):
        if not edit.label:
            return label_of(edit.edits[0], case)
        place = _where(edit.edits[0], case)
        return edit.label if place[2:-1] in edit.label else edit.label + place
    if isinstance(edit, SetRole):
        words = f"Hole {edit.hole + 1}: {ROLE[edit.role].name}"
    elif isinstance(edit, SetTilt):
        words = f"Hole {edit.hole + 1}: tilt {edit.tilt_deg:g}°"
    elif isinstance(edit, SetSide) and edit.side:
        words = f"{edit.side.capitalize()} side"
    elif isinstance(edit, SetSurface) and edit.surface:
        words = f"Plate on the {edit.surface} surface"
    elif isinstance(edit, SetSpiral) and edit.spiral:
        words = f"Spiral, winding to the {edit.spiral}"
    elif isinstance(edit, Acknowledge):
        words = f"{'Noted' if edit.put_away else 'Brought back'}: {edit.rule}"
    elif edit.op in FIGURES:
        words = FIGURES[edit.op].format(**dict(edit))
    else:
        words = PLAIN[edit.op]
    return words + _where(edit, case)


def _where(edit: Edit, case: Case) -> str:
    """The bone's name, where the case has several."""
    target = getattr(edit, "target", None)
    if target is None or len(case.constructs) < 2 or not target < len(case.constructs):
        return ""
    return f" ({case.constructs[target].bone.name})"


def takes_screw_out(edit: Edit) -> bool:
    """Whether the edit leaves a screw out, so that the page shows what that costs."""
    if isinstance(edit, Together):
        return any(takes_screw_out(single) for single in edit.edits)
    return isinstance(edit, RemoveLag) or (isinstance(edit, SetRole) and edit.role == "empty")
