"""Who signed, by the name of that moment."""

from __future__ import annotations

from typing import Any

from django import template

from fleet.models import ApiWrite
from fleet.signers import signer_words

register = template.Library()


@register.filter
def signer(record: Any, field: str = "recorded") -> str:
    """Write who signed a record, such as {{ inspection|signer }}.

    field: what stands before _by and _at in its fields, such as {{ outage|signer:"released" }}.
    """
    return "" if record in (None, "") else signer_words(record, f"{field}_by", f"{field}_at")


@register.filter
def by_token(record: Any) -> str:
    """Say by which program’s token a record came, such as " by token Telematics"; else ""."""
    writes = ApiWrite.objects.filter(
        record_model=record._meta.label_lower, record_key=record.pk
    ).select_related("token")
    return "".join(f" by token “{write.token}”" for write in writes[:1])
