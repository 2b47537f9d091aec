"""How one unit stands, in a line of words."""

from __future__ import annotations

from fleet.dates import day_words
from fleet.figures import capacity_words, pull_words
from fleet.models import SuppressorHousing
from ratings.board.units import OUT_OF_SERVICE
from ratings.models import CurrentRating


def standing_line(housing: SuppressorHousing) -> str:
    """Return a unit's standing in US customary figures. The housing comes from board_units."""
    hammer = getattr(housing, "hammer_mark", None)
    unit = f"{housing.mark} {'on ' + hammer if hammer else 'off the hammer'}:"
    out = _out_words(housing)
    rating: CurrentRating | None = getattr(housing, "current_rating", None)
    if rating is None:
        return f"{unit:<22} {out}unrated, never counted"
    entry = rating.head
    uncertainty_lbf = entry.results["standard_uncertainty_lbf"]
    words = (
        f"{unit:<22} {out}{entry.standing}, line pull "
        f"{pull_words(entry.pull_lbf, 'us', uncertainty_lbf)}, working capacity "
        f"{capacity_words(entry.working_capacity_lbf, 'us', uncertainty_lbf)}, listed "
        f"{pull_words(entry.listed_lbf, 'us')}"
    )
    if entry.results["missing"]:
        words += f"; missing: {', '.join(entry.results['missing'])}"
    return words


def _out_words(housing: SuppressorHousing) -> str:
    since = getattr(housing, "out_since", None)
    if since is None:
        return ""
    reason = str(getattr(housing, "out_reason", "")).rstrip(".")
    return f"{OUT_OF_SERVICE} since {day_words(since)} ({reason}); "
