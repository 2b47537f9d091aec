"""Help at the first mention of a term in the text of a page, and where none may stand."""

from __future__ import annotations

import pytest

from fleet.terms import Term, term_named
from fleet.terms_in_text import WITHOUT_HELP, with_help


def button(term: Term) -> str:
    return f'<button popovertarget="term-{term.anchor}"></button>'


def helped(page: str) -> str:
    """The page with [?name] for each help."""
    written, _ = with_help(page, lambda term: f"[?{term.name}]")
    return written.replace('<span class="nowrap">', "").replace("</span>", "")


def test_the_first_mention_has_its_help_and_no_later_one() -> None:
    assert helped("<p>A stretch, then a stretch.</p>") == (
        "<p>A stretch[?stretch], then a stretch.</p>"
    )


def test_the_longest_name_counts_however_it_is_written_and_in_the_plural() -> None:
    assert helped("<p>All PAD LOTS\n  here</p>") == "<p>All PAD LOTS[?pad lot]\n  here</p>"
    assert helped("<p>the usable\n travel</p>") == "<p>the usable\n travel[?usable travel]</p>"


def test_the_help_hangs_on_the_last_word_so_that_no_line_begins_with_it() -> None:
    page, _ = with_help("<p>its line pull, today</p>", button)
    assert page == (
        '<p>its line <span class="nowrap">pull<button popovertarget="term-line-pull"></button>'
        "</span>, today</p>"
    )


def test_a_standing_that_is_all_of_its_text_stays_together() -> None:
    page, _ = with_help("<b>\n below listing </b>", button)
    assert page == (
        '<b>\n <span class="nowrap">below listing<button popovertarget="term-below-listing">'
        "</button></span> </b>"
    )


@pytest.mark.parametrize(
    "page",
    [
        "<p>A stretcher, the overstretch, half-stretch and re-plug.</p>",
        "<p>The unit weight of clay, in US units, a lot of it, by its coverage factor.</p>",
    ],
)
def test_no_part_of_a_word_and_no_other_meaning_is_a_mention(page: str) -> None:
    assert helped(page) == page


@pytest.mark.parametrize("tag", sorted(WITHOUT_HELP))
def test_no_help_stands_within_another_control_or_outside_sentences(tag: str) -> None:
    page = f"<div><{tag} id='a>b'>travel <i>travel</i></{tag}><p>travel[here]</p></div>"
    assert helped(page) == page.replace("travel[here]", "travel[?travel][here]")


@pytest.mark.parametrize(
    "open_tag", ["<span class='a mono'>", '<span aria-hidden="true">', "<span data-without-help>"]
)
def test_none_in_what_nobody_reads_or_asks_for_none(open_tag: str) -> None:
    page = f"{open_tag}<span>travel</span></span>"
    assert helped(page) == page.replace("</span>", "")


def test_help_that_a_template_wrote_counts_and_is_never_doubled() -> None:
    known = term_named("shaft resistance")
    assert known is not None
    written = button(known)
    page = f"<th>Static{written}</th><p>shaft resistance</p>"
    assert with_help(page, button) == (page, [known])
    after, order = with_help(f"<p>shaft resistance</p><th>Static{written}</th>", button)
    assert after.count("<button") == after.count("</button>") == 1
    assert after.endswith("<th>Static</th>")
    assert order == [known]


def test_a_mention_that_stands_folded_does_not_count_for_what_all_see() -> None:
    page = "<details><p>travel, travel</p></details><p>travel, travel</p>"
    assert helped(page) == (
        "<details><p>travel[?travel], travel</p></details><p>travel[?travel], travel</p>"
    )
    assert len(with_help(page, button)[1]) == 1
