"""What a pull sheet states, for its record and for whoever checks it."""

from __future__ import annotations

from ratings.jobs.validity import Word, commitment_now
from ratings.models import Commitment
from ratings.pullsheet.facts import read_sheet
from ratings.record.papers import Stated, paper_kind
from ratings.rerating.telling import BEING_RATED, that_rate

KIND = "pull sheet"


@paper_kind(KIND)
def pull_sheet_stated(subject: str, system: str) -> Stated:
    """Return what a pull sheet states. subject: the key of the commitment."""
    # Imported on need: the site must not wait for the PDF library at start.
    from ratings.pullsheet.paper import figures_of

    if not Commitment.objects.filter(pk=int(subject)).exists():
        raise LookupError("the commitment is not on record")
    now = commitment_now(int(subject))
    title = f"Pull sheet {now.commitment.pk}"
    no_more = () if now.word is Word.VALID else (now.crew_words,)
    again = (BEING_RATED.format("sheet"),) if that_rate(now.commitment.housing) else ()
    if now.fault:
        return Stated(title, (), no_more=no_more)
    sheet = read_sheet(now, "", system)
    figures = tuple((each.name, each.words) for each in figures_of(sheet))
    return Stated(title, figures, (now.answer.entry,), no_more, again=again)
