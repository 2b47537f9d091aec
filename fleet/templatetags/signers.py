"""Who signed, by the name of that moment."""

from __future__ import annotations

from typing import Any

from django import template

from fleet.signers import signer_words

register = template.Library()


@register.filter
def signer(record: Any, field: str = "recorded") -> str:
    """Write who signed a record, such as {{ inspection|signer }}.

    field: what stands before _by and _at in its fields, such as {{ outage|signer:"released" }}.
    """
    return "" if record in (None, "") else signer_words(record, f"{field}_by", f"{field}_at")
