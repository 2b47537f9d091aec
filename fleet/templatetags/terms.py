"""Help beside a word of the trade, at its first mention on a page."""

from __future__ import annotations

from typing import Any

from django import template
from django.template import Context, Node, NodeList, TemplateSyntaxError
from django.template.base import Parser, Token
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleet.terms import Term, term_named
from fleet.terms_in_text import with_help

register = template.Library()

# Kept with the request, so that partials of one page know of each other.
MENTIONED = "terms_mentioned"
# How many of them are explained already.
SAID = "terms_said"
# Said of a request while the part of a page is written that is searched for terms afterwards.
IN_TEXT = "terms_in_text"


@register.simple_tag(takes_context=True)
def term(context: dict[str, Any], name: str, words: str = "") -> SafeString:
    """Write a term, such as {% term "usable travel" %}; words: as the sentence has it.

    Raises TemplateSyntaxError where the table of terms has none of that name.
    """
    known = term_named(name)
    if known is None:
        raise TemplateSyntaxError(f"no term {name!r} in fleet/terms.py")
    return format_html("{}{}", words or _shown(known), _help(context, known))


@register.simple_tag(takes_context=True)
def heading(context: dict[str, Any], words: str) -> SafeString:
    """Write the heading of a column or a figure, with help where it is a term."""
    return format_html("{}{}", words, term_mark(context, words))


@register.simple_tag(takes_context=True)
def term_mark(context: dict[str, Any], words: str) -> SafeString:
    """Write the help alone of a heading that is a link, nothing where it is no term."""
    known = term_named(str(words))
    return _help(context, known) if known and not known.is_common else SafeString("")


@register.tag
def help_in_text(parser: Parser, token: Token) -> HelpInText:
    """Put help beside the first mention of each term in what stands up to endhelp_in_text."""
    nodes = parser.parse(("endhelp_in_text",))
    parser.delete_first_token()
    return HelpInText(nodes)


class HelpInText(Node):
    """A part of a page whose text is searched for terms once it is written."""

    def __init__(self, nodelist: NodeList) -> None:
        """Take the part."""
        self.nodelist = nodelist

    def render(self, context: Context) -> SafeString:
        """Write the part with its help."""
        request = context.get("request")
        user = getattr(request, "user", None)
        if user is None or not user.is_authenticated:
            # What the help leads on to is for those who signed in.
            return self.nodelist.render(context)
        setattr(request, IN_TEXT, True)
        page = self.nodelist.render(context)
        delattr(request, IN_TEXT)
        helped, mentioned = with_help(page, _button)
        setattr(request, MENTIONED, mentioned)
        # The nodes were escaped where they were written; only buttons came in between.
        return SafeString(helped)


@register.filter
def as_written(known: Term) -> SafeString:
    """Write a term by its name."""
    return _shown(known)


@register.inclusion_tag("fleet/terms_said.html", takes_context=True)
def terms_said(context: dict[str, Any]) -> dict[str, Any]:
    """Say what the terms mean that a page, or a part of it that comes alone, mentioned so far."""
    if hasattr(context.get("request"), IN_TEXT):
        # They are said at the end of the page, once all are known.
        return {"terms": []}
    mentioned = _mentioned(context)
    said = getattr(context.get("request"), SAID, 0)
    if mentioned:
        setattr(context["request"], SAID, len(mentioned))
    return {"terms": mentioned[said:]}


def _mentioned(context: dict[str, Any]) -> list[Term]:
    request = context.get("request")
    if request is None:
        return []
    if not hasattr(request, MENTIONED):
        setattr(request, MENTIONED, [])
    mentioned: list[Term] = getattr(request, MENTIONED)
    return mentioned


def _help(context: dict[str, Any], known: Term) -> SafeString:
    mentioned = _mentioned(context)
    if known in mentioned or context.get("request") is None:
        return SafeString("")
    mentioned.append(known)
    return _button(known)


def _button(known: Term) -> SafeString:
    return format_html(
        '<button type="button" class="term" popovertarget="term-{}" aria-label="About: {}">'
        "</button>",
        known.anchor,
        known.name.replace("_", " "),
    )


def _shown(known: Term) -> SafeString:
    before, _, below = known.name.partition("_")
    return format_html("{}<sub>{}</sub>", before, below) if below else format_html("{}", before)
