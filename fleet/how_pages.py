"""Pages that say how something works: /how/, and a page for each topic under it."""

from __future__ import annotations

from typing import Any

from django.urls import URLPattern, path
from django.views.generic import TemplateView


def how_page(topic: str, template: str, section: str = "", **shown: Any) -> URLPattern:
    """Return the address /how/<topic>/ of a page, named how-<topic>.

    template: extends fleet/how.html. section: of the site's menu. shown: what the template
    speaks of; a function among it is called when the page is read.
    """
    return path(
        f"how/{topic}/",
        TemplateView.as_view(template_name=template, extra_context={"section": section, **shown}),
        name=f"how-{topic}",
    )
