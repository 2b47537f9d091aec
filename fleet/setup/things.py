"""The kinds of thing that a yard owns and sets up, each said once for its pages.

An app says its own, such as `HAMMER`, and `urls.set_up_urls` makes the pages of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from django.db.models import Model

from fleet.setup.forms import ThingForm

Owned = TypeVar("Owned", bound=Model)


def _nothing(record: Any) -> Iterator[str]:
    yield from ()


def _saved(record: Any) -> Any:
    record.save()
    return record


def always(*names: str) -> Callable[[Any], tuple[str, ...]]:
    """Return a rule by which the same fields of any of them stay as they were entered."""
    return lambda record: names


_none = always()


@dataclass(frozen=True)
class Thing(Generic[Owned]):
    """A kind of thing: what its pages are called and say, and what its rules are.

    folder: in the address of its pages. form: what is asked. fixed: the fields of one that stay
    as they were entered, since papers and facts name them. shown: fields that lists show beside
    name and yard. lead: a sentence of what it is. save: keeps a new one. in_the_way: yields, in
    words, what must be done before it can be out of use. effect: what a changed figure does to
    what rests on it. more: name of the page that tells what was done with it, what the link
    says, and what its address takes beside the key. own_page: name of its page where
    that is no page of setting up.
    """

    model: type[Owned]
    name: str
    plural: str
    folder: str
    form: type[ThingForm]
    lead: str
    shown: tuple[str, ...] = ()
    fixed: Callable[[Any], tuple[str, ...]] = _none
    save: Callable[[Owned], Owned] = _saved
    in_the_way: Callable[[Owned], Iterator[str]] = _nothing
    effect: str = "What was measured with it before keeps the figures it had that day."
    more: tuple[str, str, tuple[str, ...]] | None = None
    section: str = field(default="set-up")
    own_page: str = ""

    @property
    def key(self) -> str:
        """What the names of its pages end with, such as load-indicator."""
        return self.name.replace(" ", "-")

    @property
    def list_page(self) -> str:
        return f"set-up-{self.folder}"

    @property
    def page(self) -> str:
        return self.own_page or f"set-up-{self.key}"

    @property
    def new_page(self) -> str:
        return f"new-{self.key}"

    @property
    def change_page(self) -> str:
        return f"change-{self.key}"

    @property
    def retire_page(self) -> str:
        return f"retire-{self.key}"

    @property
    def back_page(self) -> str:
        return f"bring-back-{self.key}"

    @property
    def a_name(self) -> str:
        """The name with its article."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"
