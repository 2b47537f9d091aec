"""Whether a kept file is there to be shown."""

from __future__ import annotations

from django import template
from django.db.models.fields.files import FieldFile

from fleet.kept_files import absence_words

register = template.Library()


@register.filter
def absence(file: FieldFile) -> str:
    """Say why a kept file can’t be shown, such as {{ photo.file|absence }}; "" where it can."""
    return absence_words(file)
