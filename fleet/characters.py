"""Characters in what people type: those nobody sees are left out, names hold what papers print."""

from __future__ import annotations

import re
import unicodedata

from django.core.exceptions import ValidationError

# They hide or turn round what stands after them, figures too. Those that join letters of some
# scripts, and line feeds and tabs in a note, may stay.
HIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u00ad\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff]"
)
# With nothing beside them, these leave a line that looks empty.
BLANK = re.compile("[\\s\u034f\u115f\u1160\u180e\u200c\u200d\u2800\u3164\ufe0f\uffa0]")
_UNSEEN = ("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp")
_SCRIPTS = ("LATIN ", "GREEK ", "CYRILLIC ")


def without_hidden(text: str) -> str:
    """Return text without the characters nobody sees; "" where nothing else is in it."""
    plain = HIDDEN.sub("", text)
    return plain if BLANK.sub("", plain) else ""


def check_name(name: str) -> None:
    """Refuse a name or mark that cannot be told from another by eye, or printed on a label.

    Raises ValidationError naming the character.
    """
    if "  " in name or name != name.strip(" "):
        raise ValidationError("This holds a space too many: type it again with single spaces.")
    for character in name:
        if character != " " and unicodedata.category(character) == "Zs":
            raise ValidationError(
                f"This holds a space of another kind (U+{ord(character):04X}): type it again."
            )
        if unicodedata.category(character) in _UNSEEN:
            known = unicodedata.name(character, "a control character").lower()
            raise ValidationError(
                f"This holds a character nobody sees (U+{ord(character):04X}, {known}): "
                "type it again without."
            )
        if not is_on_paper(character):
            raise ValidationError(
                f"“{character}” can’t be printed on labels and papers: use Latin, Greek or "
                "Cyrillic letters, digits and signs."
            )


def is_on_paper(character: str) -> bool:
    """Whether labels and papers can print a character."""
    is_western = bool(character.encode("cp1252", errors="ignore"))
    return is_western or unicodedata.name(character, "").startswith(_SCRIPTS)
