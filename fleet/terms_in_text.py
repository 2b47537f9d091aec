"""Find the first mention of each term in the text of a page, and put its help beside it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from fleet.terms import TERMS, Term, term_named

# Text in which no button may stand (it would be one control within another), in which no sentence
# stands, or which is so narrow that the head of its column has the help instead.
WITHOUT_HELP = {
    "a", "button", "code", "h1", "h2", "kbd", "label", "nav", "option", "pre", "script", "select",
    "style", "summary", "svg", "td", "template", "textarea", "title",
}  # fmt: skip
# So many letters fit a line wherever they stand.
MOST_TOGETHER = 14
# Classes of elements whose text nobody sees, or that help with a term by themselves.
_CLASSES_WITHOUT_HELP = frozenset(("visually-hidden", "mono", "term-says"))
_WITHOUT_HELP_BY_ATTRIBUTE = ("aria-hidden", "data-without-help")

_TAG_OR_TEXT = re.compile(
    r"<!--.*?-->"
    r"|<(?P<closes>/?)(?P<tag>[a-zA-Z][\w-]*)(?P<attributes>(?:\"[^\"]*\"|'[^']*'|[^'\">])*)>"
    r"|(?P<text>[^<]+)",
    re.DOTALL,
)
_CLASS = re.compile(r"\bclass=(?:\"([^\"]*)\"|'([^']*)'|([^\s>]+))")
_HELPED = re.compile(r"\bpopovertarget=\"term-([\w-]+)\"")


def _pattern_of_names() -> re.Pattern[str]:
    """Match the names of terms as sentences have them; the words of other things first."""
    names = {name for term in TERMS for name in (term.name, *term.also)}
    others = {words for term in TERMS for words in term.not_in}
    longest_first = sorted(names | others, key=len, reverse=True)
    any_name = "|".join(re.escape(name).replace(r"\ ", r"\s+") for name in longest_first)
    return re.compile(rf"(?<![\w/-])(?:{any_name})s?(?![\w/-])", re.IGNORECASE)


_NAMES = _pattern_of_names()
_OTHERS = frozenset(words for term in TERMS for words in term.not_in)
_BY_ANCHOR = {term.anchor: term for term in TERMS}


def mentions(text: str) -> Iterator[tuple[Term, int, int]]:
    """Find the terms in a piece of text: each with where its mention begins and ends."""
    for found in _NAMES.finditer(text):
        words = " ".join(found[0].casefold().split())
        if words in _OTHERS or words.removesuffix("s") in _OTHERS:
            continue
        known = term_named(words) or term_named(words.removesuffix("s"))
        if known is not None:
            yield known, found.start(), found.end()


class _Helped:
    """The terms that have their help by now: in what all see, and in what stands folded."""

    def __init__(self) -> None:
        self.seen: set[Term] = set()
        self.folded: set[Term] = set()
        self.order: list[Term] = []
        self.folds = 0

    def take(self, term: Term) -> bool:
        """Say whether a mention gets help: the first that all see, and the first in a fold."""
        if term in self.seen or (self.folds and term in self.folded):
            return False
        if term not in self.folded:
            self.order.append(term)
        (self.folded if self.folds else self.seen).add(term)
        return True


def with_help(page: str, button: Callable[[Term], str]) -> tuple[str, list[Term]]:
    """Return a page with help at the first mention of each term, and those terms.

    button: writes the help of a term. A mention in what stands folded has help, and does not count
    for what all see. Help that a template wrote itself counts as a mention, and is left out where
    the term has help before it.
    """
    helped, written = _Helped(), list[str]()
    skipped, depth, is_doubled = "", 0, False
    for part in _TAG_OR_TEXT.finditer(page):
        tag = (part["tag"] or "").casefold()
        if is_doubled:
            is_doubled = not (tag == "button" and part["closes"])
            continue
        if skipped:
            depth += (tag == skipped) * (-1 if part["closes"] else 1)
            skipped = skipped if depth else ""
        elif part["text"] is not None:
            written.append(_helped_text(part["text"], button, helped))
            continue
        elif tag == "details":
            helped.folds += -1 if part["closes"] else 1
        elif tag and not part["closes"]:
            known = _HELPED.search(part["attributes"])
            if known and known[1] in _BY_ANCHOR and not helped.take(_BY_ANCHOR[known[1]]):
                is_doubled = True
                continue
            if _is_without_help(tag, part["attributes"]):
                skipped, depth = tag, 1
        written.append(part[0])
    return "".join(written), helped.order


def _helped_text(text: str, button: Callable[[Term], str], helped: _Helped) -> str:
    written, at = list[str](), 0
    for term, start, end in mentions(text):
        if not helped.take(term):
            continue
        # The help never stands at the head of a line, away from its word; and what is short and
        # all of its text, such as a standing, stays together.
        is_all = text[start:end] == text.strip() and end - start <= MOST_TOGETHER
        last = start if is_all else max(at, *(text.rfind(gap, at, end) + 1 for gap in " \n"))
        word = f'<span class="nowrap">{text[last:end]}{button(term)}</span>'
        written += [text[at:last], word]
        at = end
    return "".join((*written, text[at:]))


def _is_without_help(tag: str, attributes: str) -> bool:
    if attributes.endswith("/"):
        return False
    if tag in WITHOUT_HELP:
        return True
    classes = _CLASS.search(attributes)
    given = next(filter(None, classes.groups()), "").split() if classes else []
    return bool(_CLASSES_WITHOUT_HELP.intersection(given)) or any(
        each in attributes for each in _WITHOUT_HELP_BY_ATTRIBUTE
    )
