"""A fracture plane as the two views show it: its obliquity and turn, and the two leans that are seen of it, degrees."""

import math

DIGITS = 2  # of an angle that a hand sets: far below what a film shows


def apparent_leans(obliquity_deg: float, turn_deg: float) -> tuple[float, float]:
    """The lean seen in the profile, atan(tan a·cos t), and in the view of the plate's face, atan(tan a·sin t)."""
    if turn_deg == 0:
        return obliquity_deg, 0.0
    steep, turn = math.tan(math.radians(obliquity_deg)), math.radians(turn_deg)
    across = steep * math.sin(turn)
    along = 0.0 if abs(turn_deg) == 90 else steep * math.cos(turn)
    return math.degrees(math.atan(along)), math.degrees(math.atan(across))


def plane_of(profile_deg: float, face_deg: float) -> tuple[float, float]:
    """The obliquity and the turn (-90 to 90 degrees, to a hundredth) of the plane that is seen so in the two views."""
    if face_deg == 0:
        return profile_deg, 0.0
    along, across = (math.tan(math.radians(seen)) for seen in (profile_deg, face_deg))
    if along == 0:
        return face_deg, 90.0
    obliquity = math.copysign(math.degrees(math.atan(math.hypot(along, across))), along)
    return round(obliquity, DIGITS), round(math.degrees(math.atan(across / along)), DIGITS)


def steepest_lean(other_deg: float, limit_deg: float) -> float:
    """How far one view may show a plane leaning (degrees), where the other shows ``other_deg``, up to a limit."""
    left = math.tan(math.radians(limit_deg)) ** 2 - math.tan(math.radians(other_deg)) ** 2
    return math.degrees(math.atan(math.sqrt(max(0.0, left))))
