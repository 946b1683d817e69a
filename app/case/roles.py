"""What can go into a hole, in words: the only place where the roles are named.

The words are those of the trade (common practice, no source); the letters are this program's.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RoleWords:
    """One role in words.

    ``name``: as a choice. ``brief``: where a table is narrow; a locking screw is bicortical unless it says otherwise.
    ``adjective``: before “screw”. ``screw``: a screw of it by itself. ``article``: what stands before that.
    ``letter``: its sign in the drawing, and its key.
    """

    name: str
    brief: str
    adjective: str
    screw: str
    article: str
    letter: str


ROLE: dict[str, RoleWords] = {
    "empty": RoleWords("empty", "empty", "empty", "empty", "", ""),
    "neutral": RoleWords("neutral", "neutral", "neutral", "neutral screw", "a", "N"),
    "eccentric": RoleWords("eccentric", "eccentric", "eccentric", "eccentric screw", "an", "E"),
    "lag": RoleWords("lag", "lag", "lag", "lag screw", "the", "L"),
    "locking-2": RoleWords(
        "locking, bicortical", "locking", "bicortical locking", "bicortical locking screw", "a", "2"
    ),
    "locking-1": RoleWords(
        "locking, unicortical", "locking, unicortical", "unicortical locking", "unicortical locking screw", "a", "1"
    ),
}
ROLE_NAMES: dict[str, str] = {role: words.name for role, words in ROLE.items()}
