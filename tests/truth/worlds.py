"""What is planted, and what the verdicts must say of it."""

from dataclasses import dataclass, replace

BENEFIT = ("helps", "helps_little")
BARRED = (*BENEFIT, "no_effect_shown")


@dataclass(frozen=True)
class World:
    """One planted truth; shares 0-1, numbers of aids expected.

    Comparison of working aids: per_arm (aids an arm, all sites), benefit (share better by 8 dB
    by drying), stopped (dead by drying), background (dead whatever is done), drift_db (deviation
    of a site-week's common change), box_spread (deviation of the boxes' noise, as a share),
    pairs (repeat measurements a site), blank_stopped and blank_other (left without an "after").
    Problem aids a site: dead, weak. bad: what site 0 does worse ("", "worsened", "stopped",
    "dead", "weak", "not_assessed"). copies: share of rows that site 0 copies from before into
    after. unordered: sites that do not record the state after cleaning. chambers: kinds of
    chambers, one a letter (g good, l reads 25 % low, s scatters by 22 %, d drifts by 30 % a year,
    b one bad newest day).
    """

    sites: int = 6
    per_arm: int = 0
    benefit: float = 0.0
    stopped: float = 0.0
    background: float = 0.0
    drift_db: float = 0.25
    box_spread: float = 0.0
    pairs: int = 70
    blank_stopped: float = 0.0
    blank_other: float = 0.0
    dead: int = 0
    weak: int = 0
    bad: str = ""
    copies: float = 0.0
    unordered: int = 0
    chambers: str = ""


@dataclass(frozen=True)
class Promise:
    """A share of the worlds of a design: words counted, and the bound that it must keep.

    `of` is what is looked at: "drying", an outcome of sites ("flags dead_sounds_again", "found
    weak_back_to_normal"), a role of chambers ("s", "l") or a rate.
    """

    of: str
    words: tuple[str, ...]
    bound: str
    limit: float


@dataclass(frozen=True)
class Design:
    """A world and what is promised of it; `seeds` worlds are made from the facts onward."""

    kind: str
    name: str
    world: World
    seeds: int
    promises: tuple[Promise, ...]


def at_most(of: str, words: tuple[str, ...], limit: float) -> Promise:
    """Promise that these words come at most so often."""
    return Promise(of, words, "at most", limit)


def at_least(of: str, words: tuple[str, ...], limit: float) -> Promise:
    """Promise that these words come at least so often."""
    return Promise(of, words, "at least", limit)


HARM = ("may_harm",)
NEVER_GOOD = at_most("drying", BARRED, 0.0)
QUIET = (at_most("drying", HARM, 0.04), at_most("drying", BENEFIT, 0.04))
SETTLED = (*QUIET, at_least("drying", ("no_effect_shown",), 0.75))
OUTCOMES = ("dead_sounds_again", "weak_back_to_normal", "normal_worsened", "not_assessed")
FEW_FLAGS = tuple(at_most(f"flags {outcome}", (), 0.1) for outcome in OUTCOMES)
GROUP = World(per_arm=3_000, dead=60, weak=120, box_spread=0.15, blank_other=0.03,
              blank_stopped=0.03)  # fmt: skip
BAD = {
    "worsened": "normal_worsened", "stopped": "normal_worsened", "dead": "dead_sounds_again",
    "weak": "weak_back_to_normal", "not_assessed": "not_assessed",
}  # fmt: skip


def _stopped() -> list[Design]:
    designs = [
        Design(
            "stopped", f"{share:.0%} stop by drying, {benefit:.0%} better, 600 an arm",
            World(per_arm=600, stopped=share, benefit=benefit), 70, (NEVER_GOOD,),
        )
        for share in (0.03, 0.06, 0.12) for benefit in (0.0, 0.08)
    ]  # fmt: skip
    designs.append(
        Design(
            "stopped", "3 % stop by drying, 2 000 an arm", World(per_arm=2_000, stopped=0.03), 60,
            (NEVER_GOOD, at_least("drying", HARM, 0.9)),
        )
    )  # fmt: skip
    designs.append(
        Design(
            "stopped", "1 % stop by drying, 2 000 an arm", World(per_arm=2_000, stopped=0.01), 40,
            (at_most("drying", BENEFIT, 0.04),),
        )
    )  # fmt: skip
    return designs


DESIGNS: tuple[Design, ...] = (
    Design("nothing", "nothing happens, 600 an arm", World(per_arm=600), 150, SETTLED),
    Design("nothing", ".3 % stop in both arms, 1 500 an arm",
           World(per_arm=1_500, background=0.003), 130, SETTLED),
    Design("nothing", ".5 % stop in both arms, 2 000 an arm",
           World(per_arm=2_000, background=0.005), 120, SETTLED),
    Design("drift", "nothing happens, boxes drift by .6 dB a week, 600 an arm",
           World(per_arm=600, drift_db=0.6), 400, QUIET),
    *_stopped(),
    Design("benefit", "10 % better, 600 an arm, nothing stops",
           World(per_arm=600, benefit=0.10), 200, (at_least("drying", ("helps",), 0.9),)),
    Design("benefit", "10 % better, 2 000 an arm, .5 % stop in both arms",
           World(per_arm=2_000, benefit=0.10, background=0.005), 200,
           (at_least("drying", ("helps",), 0.9),)),
    Design("missing", "6 % stop, half of them left without an after, 600 an arm",
           World(per_arm=600, stopped=0.06, blank_stopped=0.5), 150, (NEVER_GOOD,)),
    Design("missing", "6 % stop, 8 % better, half of the stopped left blank, 600 an arm",
           World(per_arm=600, stopped=0.06, benefit=0.08, blank_stopped=0.5), 150, (NEVER_GOOD,)),
    Design("missing", "nothing happens, 3 % left blank in both arms, 2 000 an arm",
           World(per_arm=2_000, blank_stopped=0.03, blank_other=0.03), 100, QUIET),
    Design("equal sites", "six equal sites, boxes unequal by 15 %, 70 repeat pairs each",
           GROUP, 400, FEW_FLAGS),
    *(
        Design("bad site", f"one of six sites bad: {bad}", replace(GROUP, bad=bad), 80,
               (at_least(f"found {outcome}", (), 0.8),))
        for bad, outcome in BAD.items()
    ),
    Design("copied", "one of twelve sites copies 75 % of its rows",
           World(sites=12, per_arm=1_200, dead=0, weak=100, copies=0.75), 400,
           (at_least("rate weak", ("inside",), 0.9), at_least("left out", ("site 0",), 0.95))),
    Design("order unknown", "two of eight sites do not record the state after cleaning",
           World(sites=8, weak=120, unordered=2), 400, (at_least("rate weak", ("inside",), 0.9),)),
    Design("chambers", "twenty chambers: three low, one scatters, one drifts, one bad day",
           World(sites=5, chambers="lllsdb" + "g" * 14), 400,
           (at_most("s", ("correctable", "in_tolerance"), 0.0),
            at_least("s", ("scattering",), 0.9), at_least("d", ("drifting",), 0.8),
            at_least("b", ("retest",), 0.9), at_most("l", ("in_tolerance",), 0.0),
            at_most("g", ("scattering", "drifting", "out_of_tolerance", "correctable",
                          "misreading"), 0.02))),
)  # fmt: skip
KINDS = tuple(dict.fromkeys(design.kind for design in DESIGNS))
