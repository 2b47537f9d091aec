"""The words of the trade that pages use, and what each of them means: one table for all pages."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.text import slugify


@dataclass(frozen=True)
class Term:
    """A word, what it means in a line or two, and the page that says more.

    page: the name of a url. also: as it stands at the head of columns and figures. is_common: so
    common at the head of columns that help there would only be in the way. not_in: words in which
    it means something else.
    """

    name: str
    meaning: str
    page: str = "how-standing"
    also: tuple[str, ...] = ()
    is_common: bool = False
    not_in: tuple[str, ...] = ()

    @property
    def anchor(self) -> str:
        """Where it stands on the page of words."""
        return slugify(self.name)


TERMS = (
    Term(
        "unit",
        "A hammer with the suppressor housing it hangs from, and what else hangs together today.",
        is_common=True,
        not_in=("unit weight", "us unit", "si unit", "imperial unit", "metric unit"),
    ),
    Term(
        "hammer",
        "A vibratory pile hammer: the exciter that shakes the pile, with its clamp and power pack.",
    ),
    Term(
        "suppressor housing",
        "The frame between crane hook and exciter that holds the pads. It can be moved to another "
        "hammer.",
        also=("housing",),
        is_common=True,
    ),
    Term("mounting", "The days on which a housing hung from one hammer.", "how-inspecting"),
    Term("pad", "One rubber shear pad of a housing. The whole pull goes through the pads."),
    Term(
        "pad position",
        "A place for one pad: its side, A or B, and its number counted from the top.",
        "how-inspecting",
    ),
    Term(
        "sound pads",
        "Pads last seen without a crack, swelling or debonding. Only they count.",
        "how-inspecting",
    ),
    Term(
        "debonded",
        "The rubber has come off its steel plate. Such a pad counts for nothing.",
        "how-inspecting",
    ),
    Term(
        "pad lot",
        "Pads bought and rated together, under one mark. What is tested on some counts for all.",
        "how-bench",
        also=("lot",),
        is_common=True,
        not_in=("a lot of", "a lot more"),
    ),
    Term(
        "spring rate",
        "Force per inch of stretch of one pad, as its bench tests measured it.",
        "how-bench",
        also=("rate of each pad", "rate of each"),
    ),
    Term(
        "load curve",
        "The force of one pad at each stretch, drawn through the mean readings of its tests. Every "
        "lot is rated by it, straight or bent.",
        "how-bench",
    ),
    Term("stretch", "How far the pads are sheared from where they rest.", "how-bench"),
    Term("travel", "The stretch at which a housing meets its stops, taped on the unit."),
    Term("design travel", "The travel a housing was built with, before bumpers and wear."),
    Term("bumper", "The rubber in a housing’s stop. It is never taken out to gain travel."),
    Term(
        "tested stretch",
        "The largest stretch a lot’s bench test reached. Beyond it the lot counts for nothing.",
        also=("tested to",),
    ),
    Term(
        "usable travel",
        "The stretch, no larger than the travel, at which the working capacity is largest when "
        "only pads tested to at least that stretch count.",
    ),
    Term(
        "line pull",
        "What all sound pads carry at the usable travel: the best estimate, as often too high as "
        "too low.",
    ),
    Term(
        "working capacity",
        "The line pull the yard stands behind: what is left of it once its uncertainty is taken "
        "off. Use this one.",
    ),
    Term(
        "listed rating",
        "What the literature or the data plate claims for a hammer, with its source and date.",
        also=("listed",),
    ),
    Term(
        "standing",
        "How a unit stands against its listed rating: meets listing, not proven, below listing or "
        "unrated.",
    ),
    Term("meets listing", "The working capacity reaches the listed rating."),
    Term(
        "not proven",
        "The line pull reaches the listed rating, the working capacity does not: the unit may be "
        "good, and the yard cannot say so for sure.",
    ),
    Term("below listing", "Not even the line pull reaches the listed rating."),
    Term(
        "unrated",
        "Something is missing: a count of every pad, a taped travel, an approved rate or a "
        "listed rating. The page says which.",
    ),
    Term(
        "guided",
        "Rods or slides keep the housing level, so that both sides stretch alike. Where nothing "
        "does, twice the weaker side counts.",
    ),
    Term("out of balance", "The two sides of a housing carry more than one pad’s worth apart."),
    Term(
        "stale rate",
        "A rate whose tests are too old, too cold, too warm or corrected since, by the policy’s "
        "bounds.",
        also=("a stale rate",),
    ),
    Term(
        "softening",
        "Pads of a lot drawn from service measure softer than it was rated by.",
        "how-bench",
    ),
    Term("strain", "Stretch over the thickness of the rubber between its plates.", "how-bench"),
    Term("standard uncertainty", "How far a figure may well be off, as one standard deviation."),
    Term(
        "coverage",
        "The share of true values that lie on the safe side of a stated bound: the working "
        "capacity is set so that the true pull lies below it in no more than 5 of 100 cases, or "
        "as many as the policy says.",
        not_in=("coverage factor",),
    ),
    Term(
        "confidence",
        "How sure the yard is that the true pull is no less than the working capacity.",
        "how-standing",
        also=("confidence of the working capacity",),
    ),
    Term(
        "expanded uncertainty",
        "The standard uncertainty times a coverage factor, so that a stated share of true values "
        "lies within it.",
        "how-bench",
    ),
    Term(
        "assumed spread",
        "How much pads of one lot are taken to differ until single marked pads were tested.",
        also=("assumed pad-to-pad spread",),
    ),
    Term(
        "E_n",
        "Two results held against each other: their difference over the uncertainty of both "
        "together. Above 1 they do not agree.",
        "how-proof",
    ),
    Term(
        "proof pull",
        "A whole unit pulled against a load indicator, and held to what its pads should give.",
        "how-proof",
        also=("last proof pull",),
    ),
    Term(
        "ledger",
        "The list of every change of a unit’s line pull, with its cause. Nothing in it is ever "
        "edited.",
        "how-ledger",
    ),
    Term(
        "bench test",
        "Pads stretched by a cylinder, tape and gauge read at each stretch.",
        "how-bench",
    ),
    Term(
        "tape at rest",
        "The tape’s reading with the pads at rest, from which each stretch is counted.",
        "how-bench",
    ),
    Term(
        "conditioning cycles",
        "How often the pads were stretched before the readings: rubber is stiffer at first.",
        "how-bench",
        also=("conditioning",),
    ),
    Term(
        "branch",
        "Whether a reading was taken as the pads were loaded or as they were let go. The mean of "
        "the two cancels the friction of the seals.",
        "how-bench",
        also=("run, branch",),
    ),
    Term(
        "permanent set",
        "What the pads do not come back by after a test: the tape at rest after, less before.",
        "how-bench",
    ),
    Term(
        "demand",
        "What a pull asks: the weights that hang, and what the ground holds the pile with.",
        "how-job",
    ),
    Term("supply", "What the unit, the crane or the rigging can give to a pull.", "how-job"),
    Term("margin", "Supply over demand. The least of all margins governs.", "how-job"),
    Term(
        "vibration factor",
        "What is left of the ground’s resistance while the hammer runs, as a share of it at rest.",
        "how-job",
    ),
    Term(
        "shaft resistance",
        "What the ground holds along the sides of a pile at rest.",
        "how-job",
    ),
    Term(
        "toe suction",
        "What clay holds a closed toe back with as it lifts.",
        "how-job",
    ),
    Term("plug", "Soil that comes up inside a pipe with it.", "how-job"),
    Term("interlock", "The edge by which one sheet runs in the next, and rubs there.", "how-job"),
    Term(
        "suitable",
        "Every demand is met with the margin the rules ask for; with care where a margin is "
        "thinner, not suitable where one is missed. A qualified person decides all the same.",
        "how-job",
        also=("verdict",),
    ),
    Term(
        "commitment",
        "A unit promised to a job for its days, on an answer that voids it when what it rests on "
        "changes.",
        "how-job",
    ),
    Term(
        "pull sheet",
        "The paper for the crew of one commitment: what may be pulled, and when to stop.",
        "how-job",
    ),
    Term(
        "passkey",
        "A key that your phone, machine or security key keeps, and that no false site can ask for. "
        "It signs you in by finger, face or PIN.",
        "how-running",
    ),
)

_BY_NAME = {name: term for term in TERMS for name in (term.name.casefold(), *term.also)}


def term_named(name: str) -> Term | None:
    """Return the term of a name, however it is capitalized; None where it is none."""
    return _BY_NAME.get(name.strip().casefold())
