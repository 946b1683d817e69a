"""The holes in the face view: shape, head, number, letter; each is a button that cycles its role."""

from collections.abc import Hashable

from app.case.roles import ROLE
from app.drawing import handles
from app.drawing.face_labels import HoleLabels, face_labels
from app.drawing.flags import flag
from app.drawing.heads import filled, head
from app.drawing.kept import Kept
from app.drawing.plate import hole_use
from app.drawing.scale import TARGET_U
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, Point, box, group, label, path
from app.geometry import HolePlace, ScrewPath

_HOLES = Kept(1024)


def bounds(scene: Scene, index: int) -> tuple[float, float]:
    """From where to where along ``s`` a hole answers the pointer: half-way to its neighbours, 24 px if alone."""
    places = [hole.s_mm for hole in scene.layout.holes]
    s, least = places[index], max(TARGET_U * scene.frame.u, scene.layout.series.pitch_mm) / 2
    low = (places[index - 1] + s) / 2 if index else s - least
    high = (s + places[index + 1]) / 2 if index + 1 < len(places) else s + least
    return low, high


def _beside(roles: tuple[str, ...], role: str) -> tuple[str, str]:
    """The roles before and after one in the cycle; a role that the hole can't take leads back to the first."""
    if role not in roles:
        return roles[0], roles[0]
    at = roles.index(role)
    return roles[at - 1], roles[(at + 1) % len(roles)]


def where(scene: Scene, place: HolePlace) -> str:
    """What lies under a hole, in words."""
    if place.fragment is None:
        return "over the fracture"
    return f"{scene.layout.fracture.fragments[place.fragment].name.replace('-', ' ')} fragment"


def _spoken(scene: Scene, place: HolePlace, role: str, screw: ScrewPath | None) -> str:
    held = "" if screw is None else f", {screw.cortices_held} {'cortex' if screw.cortices_held == 1 else 'cortices'}"
    warned = scene.warned.get(f"h{place.number}")
    tail = "" if warned is None else f", {warned}"
    return f"Hole {place.number}, {ROLE[role].screw}, {where(scene, place)}{held}{tail}"


def _attrs(scene: Scene, place: HolePlace, screw: ScrewPath | None) -> Attrs:
    index = place.number - 1
    role = scene.construct.holes[index].role
    attrs = {"id": scene.id(f"hole-{place.number}"), **scene.part(f"h{place.number}", "hole")}
    if not scene.interactive:
        return attrs
    roles = scene.layout.series.roles()
    before, after = _beside(roles, role)
    return {
        **attrs,
        "class": f"{attrs['class']} handle",
        "role": "button",
        "tabindex": "0" if index == 0 else "-1",
        "data-hole": str(index),
        **handles.form_attrs(handles.role_form(scene, place)),
        "data-role": role,
        "data-next": after,
        "data-prev": before,
        "data-roles": " ".join(roles),
        "aria-label": f"{_spoken(scene, place, role, screw)}. Activate for {ROLE[after].screw}",
    }


def _towards_fracture(scene: Scene, s: float) -> int:
    return -1 if s >= scene.layout.fracture.line_at(s).position_mm else 1


def head_of(scene: Scene, screw: ScrewPath, y: float) -> list[Element]:
    """A screw's head from above."""
    towards = _towards_fracture(scene, screw.s_mm)
    return head_shapes(screw.role, (screw.head[0], y), screw.spec.head_mm / 2, towards, scene.frame.u)


def head_shapes(role: str, at: Point, r: float, towards: int, u: float) -> list[Element]:
    """The head of a role from above, with strokes for the unit ``u``."""
    shapes = [path(head(role, at, r, towards), role, width=1.4 * u)]
    solid = filled(role, at, r)
    if solid is not None:
        shapes.append(path(solid, "core", width=1.2 * u, fill_rule="evenodd"))
    return shapes


def _letter(scene: Scene, place: HolePlace, role: str, y: float) -> list[Element]:
    if role == "empty":
        return []
    u = scene.frame.u
    text = label(ROLE[role].letter, (place.s_mm, y), "letter", text_anchor="middle")
    if not role.startswith("locking"):
        return [text]
    frame = box(place.s_mm - 9 * u, y - 15 * u, 18 * u, 18.5 * u)
    return [path(frame, "line", width=1.2 * u), text]


def _depends(scene: Scene, place: HolePlace, screw: ScrewPath | None, labels: HoleLabels) -> tuple[Hashable, ...]:
    """All that the drawing of a hole depends on, besides what ``still`` stands for."""
    held = None if screw is None else (screw.spec, screw.role, screw.head, screw.s_mm, screw.cortices_held)
    role, level = scene.construct.holes[place.number - 1].role, scene.warned.get(f"h{place.number}")
    towards = _towards_fracture(scene, place.s_mm if screw is None else screw.s_mm)
    return place, where(scene, place), role, level, held, towards, labels


def _hole(scene: Scene, place: HolePlace, screw: ScrewPath | None, labels: HoleLabels) -> Element:
    parts: list[Element] = []
    u = scene.frame.u
    top, bottom = labels.top, labels.bottom
    if scene.interactive:
        low, high = bounds(scene, place.number - 1)
        hit = box(low, top - 16 * u, high - low, bottom - top + 22 * u)
        parts.append(path(hit, "hit", fill="none", pointer_events="all"))
    parts.append(hole_use(scene, place))
    if screw is not None:
        parts += head_of(scene, screw, scene.frame.face_axis + place.across_mm)
    if labels.numbered:
        parts.append(label(str(place.number), (place.s_mm, top), "number", text_anchor="middle"))
    parts += _letter(scene, place, scene.construct.holes[place.number - 1].role, bottom)
    level = scene.warned.get(f"h{place.number}")
    if level is not None and labels.flag is not None:
        parts.append(flag(scene, f"h{place.number}", level, labels.flag))
    return group(parts, _attrs(scene, place, screw))


def holes(scene: Scene) -> list[Element]:
    """All holes of the plate, proximal first."""
    placed, still = {screw.hole: screw for screw in scene.layout.screws}, scene.still()

    def drawn(place: HolePlace, labels: HoleLabels) -> Element:
        screw = placed.get(place.number)
        key = still, *_depends(scene, place, screw, labels)
        return _HOLES.get(key, lambda: [_hole(scene, place, screw, labels)])

    return [drawn(*one) for one in zip(scene.layout.holes, face_labels(scene).holes, strict=True)]
