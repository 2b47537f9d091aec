"""A migration step before names are held to be given once, whatever their capitals."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any


def name_twins(app: str, *fields: tuple[str, str]) -> Callable[[Any, Any], None]:
    """Return a step that stops the migration with the names to change, where any differ in
    small and capital letters alone. fields: (model, field of its name).
    """

    def look(apps: Any, schema_editor: Any) -> None:
        twins = []
        for model, field in fields:
            seen: dict[str, str] = {}
            for name in apps.get_model(app, model).objects.values_list(field, flat=True):
                other = seen.setdefault(name.lower(), name)
                twins += [f"{model} “{other}” and “{name}”"] if other != name else []
        if twins:
            raise RuntimeError(
                f"These differ in small and capital letters alone: {'; '.join(twins)}. Go back to "
                "the version before, give one of each another name, then migrate again."
            )

    return look
