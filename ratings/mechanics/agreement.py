"""Whether two measurements of one thing agree within what each says it is unsure of."""

from __future__ import annotations

import math

from ratings.mechanics.arguments import not_negative, number

# Beyond it two results disagree.
LARGEST_E_N = 1.0


def e_n(first: float, first_expanded: float, second: float, second_expanded: float) -> float:
    """Return the E_n number of two results: (x₁ − x₂) / √(U₁² + U₂²).

    The expanded uncertainties U are of one coverage, 95 % as a rule, in the unit of measure of
    the results. The two agree where |E_n| is 1 or less (ISO 13528 and ISO/IEC 17043, from
    memory). It supposes that they share no cause of doubt: two that were read on one gauge
    differ by less than this lets them. Raises ValueError where both uncertainties are 0.
    """
    spread = math.hypot(
        not_negative("first_expanded", first_expanded, ""),
        not_negative("second_expanded", second_expanded, ""),
    )
    if spread == 0.0:
        raise ValueError("both expanded uncertainties are 0: give more than 0 for one of them")
    return (number("first", first) - number("second", second)) / spread


def disagree(e_n_number: float) -> bool:
    """Say whether an E_n number means that two results disagree."""
    return abs(e_n_number) > LARGEST_E_N
