"""A paper sent to whoever is signed in and asks for it, on record as given out."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from fleet.context import system_of
from fleet.roles import signed_in
from ratings.record.papers import Stamp, Stated, give_out


def paper_page(request: HttpRequest) -> Callable[[str], str]:
    """Return what gives the address that a code leads to."""
    return paper_page_at(address_of_site(request))


def address_of_site(request: HttpRequest) -> str:
    """Return the address of this site, as whoever asks has it, without the last stroke."""
    return request.build_absolute_uri("/").removesuffix("/")


def paper_page_at(site: str) -> Callable[[str], str]:
    """Return what gives the address that a code leads to on the site of an address."""
    return lambda code: f"{site}{reverse('paper', args=[code])}"


def send_paper(
    request: HttpRequest,
    kind: str,
    subject: object,
    name: str,
    make: Callable[[Stamp], bytes],
    stated: Stated | None = None,
) -> HttpResponse:
    """Send a paper. name: of the file. make and stated: as give_out takes them."""
    content = give_out(
        kind,
        str(subject),
        system_of(request),
        by=signed_in(request),
        url_of=paper_page(request),
        make=make,
        stated=stated,
    )
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            # Each copy has a code of its own.
            "Cache-Control": "no-store",
        },
    )
