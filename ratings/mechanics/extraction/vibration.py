"""What a vibratory hammer's weights do: force and amplitude."""

from __future__ import annotations

import math

from ratings.mechanics.arguments import not_negative, positive

# Standard gravity, 9.80665 m/s² exactly, in inches.
GRAVITY_IN_S2 = 9.80665 / 0.0254


def centrifugal_force_lbf(eccentric_moment_lb_in: float, frequency_vpm: float) -> float:
    """Return the largest force of the turning weights, lbf: F = M·ω²/g, ω = 2π·n/60.

    eccentric_moment_lb_in: weight times arm of all eccentrics, lb·in.
    frequency_vpm: vibrations per minute.
    """
    moment = not_negative("eccentric_moment_lb_in", eccentric_moment_lb_in, "lb·in")
    turning = 2.0 * math.pi * not_negative("frequency_vpm", frequency_vpm, "vpm") / 60.0
    return moment * turning * turning / GRAVITY_IN_S2


def amplitude_in(eccentric_moment_lb_in: float, vibrating_weight_lb: float) -> float:
    """Return the free amplitude from peak to peak, in: 2·M/W, W all that vibrates."""
    moment = not_negative("eccentric_moment_lb_in", eccentric_moment_lb_in, "lb·in")
    return 2.0 * moment / positive("vibrating_weight_lb", vibrating_weight_lb, "lb")
