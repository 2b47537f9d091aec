from __future__ import annotations

from typing import Any

from django.urls import URLPattern, path

from fleet.setup import views
from fleet.setup.things import Thing


def set_up_urls(thing: Thing[Any]) -> list[URLPattern]:
    """Return the pages of one kind of thing: the list, one of them, and its forms."""
    base, given = f"set-up/{thing.folder}/", {"thing": thing}
    one = f"{base}<int:record_id>/"
    return [
        *out_of_use_urls(thing),
        path(base, views.things, given, name=thing.list_page),
        path(f"{base}new/", views.new, given, name=thing.new_page),
        path(one, views.record, given, name=thing.page),
        path(f"{one}change/", views.change, given, name=thing.change_page),
    ]


def out_of_use_urls(thing: Thing[Any]) -> list[URLPattern]:
    """Return the pages by which one of a kind goes out of use and comes back."""
    one, given = f"set-up/{thing.folder}/<int:record_id>/", {"thing": thing}
    return [
        path(f"{one}out-of-use/", views.retire, given, name=thing.retire_page),
        path(f"{one}in-use/", views.back, given, name=thing.back_page),
    ]
