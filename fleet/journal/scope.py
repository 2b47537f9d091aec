"""Which tables the journal keeps: all of the project's, and who may do what, but for a few.

By rule, so that a new table is kept from its first row; each exception has its reason.
"""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.db.models import Field, Model

APPS = frozenset({"fleet", "ratings", "inspections", "auth"})

# By label: why no line of the journal tells of the rows of this table.
EXCEPTIONS = {
    "fleet.leaf": "the journal itself",
    "fleet.treenode": "the journal’s tree, made of the leaves alone",
    "fleet.treesize": "how many leaves have a place",
    "fleet.padposition": "made of counts and replacements, and made again to be compared",
    "fleet.shelfcount": "made of moves of stock, and made again to be compared",
    "ratings.currentrating": "names the last entry of each chain, and is held to it",
    "fleet.apitokenuse": "when a program last asked, which is no act of keeping records",
    "fleet.passkeyuse": "when a passkey was last used, which is no act of keeping records",
    "fleet.longwork": "work being done, which records as a request would",
    "fleet.longworker": "which processes do long work",
    "fleet.readerpreference": "how one reader likes to see figures",
    "fleet.tally": "how often guesses failed and refusals came, of this minute and this day",
    "inspections.historyrun": "a report being made of what is in the record",
    "inspections.sheetdraft": "a sheet not yet signed",
    "inspections.sheetword": "how a yard spells its columns",
    "auth.permission": "made by the program from its own code",
}

# By label: columns that change with no act of keeping records.
LEFT_OUT = {"auth.user": frozenset({"last_login"})}
# Columns of which only the hash is told: whoever is given the journal gets no way in and no
# addresses. A crew’s code, and a paper’s, opens its page to whoever has it.
HASHED = {
    "auth.user": frozenset({"password", "email"}),
    "ratings.commitment": frozenset({"code"}),
    "ratings.paper": frozenset({"code"}),
    "fleet.personchange": frozenset({"before", "after"}),
    "ratings.commitmentletter": frozenset({"address"}),
    "fleet.apitoken": frozenset({"token_hash"}),
    "fleet.passkey": frozenset({"credential_id"}),
}


def is_journaled(model: type[Model]) -> bool:
    """Say whether rows of a model have leaves; of a proxy, those of the model behind it."""
    meta = model._meta
    return (
        meta.app_label in APPS
        and meta.managed
        and not meta.proxy
        and meta.label_lower not in EXCEPTIONS
    )


def journaled_models() -> list[type[Model]]:
    """Return all models whose rows have leaves, by label."""
    models = (m for m in apps.get_models(include_auto_created=True) if is_journaled(m))
    return sorted(models, key=lambda model: model._meta.label_lower)


def fields_of(model: type[Model]) -> list[Field[Any, Any]]:
    """Return the columns that a leaf of a model tells of."""
    left_out = LEFT_OUT.get(model._meta.label_lower, frozenset())
    return [field for field in model._meta.concrete_fields if field.name not in left_out]
