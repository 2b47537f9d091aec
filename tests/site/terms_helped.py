"""Whether each word of the trade has its help where a page first mentions it."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from fleet.terms import TERMS

# Where help may be missing, and why: a button may not stand within another control (links,
# buttons, what folds, labels, choices); what no sentence holds (drawings, scripts, headings that
# name the page or a part of it, marks in one width of letter); and the cells of a table, whose
# head has the help.
EXCEPT_IN = {
    "a", "button", "summary", "label", "option", "select", "textarea",
    "svg", "script", "style", "template", "h1", "h2", "nav", "code", "kbd", "pre", "td",
}  # fmt: skip
# The page of words says them all itself; a crew’s page and a paper’s are read by who never signed
# in, and the page at the hammer is kept on the phone: none can lead on to what says more.
EXCEPT_PAGES = {
    "words",
    "crew",
    "crew void",
    "paper given out",
    "at the hammer",
    "sign in",
    "403",
}
VOID = {"br", "hr", "img", "input", "link", "meta", "wbr"}


class Reader(HTMLParser):
    """What a page says in order: its texts, and the help that stands between them."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[tuple[str, bool]] = []
        self.said: list[tuple[str, bool, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if "term" in given.get("class", "").split():
            self.said.append((given["popovertarget"], True, self.is_folded))
        if tag not in VOID:
            hidden = "aria-hidden" in given or {"visually-hidden", "mono"} & set(
                given.get("class", "").split()
            )
            self.open.append((tag, tag in EXCEPT_IN or bool(hidden)))

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop()[0] != tag:
            pass

    @property
    def is_folded(self) -> bool:
        return any(tag == "details" for tag, _ in self.open)

    def handle_data(self, data: str) -> None:
        tags = [tag for tag, _ in self.open]
        if "main" in tags and not any(is_excepted for _, is_excepted in self.open):
            self.said.append((data, False, self.is_folded))


ANCHORS = {name: term.anchor for term in TERMS for name in (term.name.casefold(), *term.also)}
OTHERS = {words for term in TERMS for words in term.not_in}
# Longer names first, so that "usable travel" is no mention of "travel".
MENTION = re.compile(
    r"(?<![\w/-])({})s?(?![\w/-])".format(
        "|".join(map(re.escape, sorted(ANCHORS.keys() | OTHERS, key=len, reverse=True)))
    )
)
# What keeps help on the line of its word is no end of a text.
JOINED = re.compile(r'<span class="nowrap">([^<]*<button[^>]* class="term"[^>]*></button>)</span>')


def unhelped(page: str) -> list[str]:
    """Name the terms whose first mention on a page is not followed by their help at once.

    What stands folded may have its own, and never does for what all see.
    """
    reader = Reader()
    reader.feed(JOINED.sub(r"\1", page))
    helped, missing = set(), []
    for at, (said, is_help, is_folded) in enumerate(reader.said):
        if is_help:
            helped |= {(said, True), (said, is_folded)}
            continue
        text = " ".join(said.casefold().split())
        after = reader.said[at + 1][0] if at + 1 < len(reader.said) else ""
        for found in MENTION.finditer(text):
            anchor = f"term-{ANCHORS.get(found[1])}"
            is_next = found.end() == len(text) and after == anchor
            if found[1] in ANCHORS and not is_next and (anchor, is_folded) not in helped:
                missing.append(f"{anchor} in “{text[max(0, found.start() - 30) :]}”")
    return missing
