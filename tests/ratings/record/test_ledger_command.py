"""What the ledger command tells whoever asks for help, and takes with which of its words."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command

from ratings.management.commands.ledger import ACTIONS, Command


def test_help_tells_of_each_word_what_it_does_and_what_goes_with_it() -> None:
    told = Command().create_parser("manage.py", "ledger").format_help()
    for name, action in ACTIONS.items():
        section = told.partition(f"\n{name}:\n")[2].partition("\n\n")
        assert " ".join(section[0].split()) == action.says
        assert all(f"  {word}" in section[2] for word in action.takes)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("seal", "--unit", "S-01"), "--unit goes with prove"),
        (("refresh", "--since"), "--since goes with verify"),
        (("verify", "--as", "kay"), "--as goes with refresh"),
    ],
)
def test_what_goes_with_another_word_is_refused(given: tuple[str, ...], said: str) -> None:
    with pytest.raises(CommandError, match=said):
        call_command("ledger", *given)
