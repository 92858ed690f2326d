"""`drytally plan-comparison`: weeks of drying and of cleaning only, in random order, with power."""

import argparse
import json
import secrets
import sys
from datetime import UTC, date, datetime, timedelta
from math import ceil
from typing import Any

from pipeline.commands.refresh import day
from pipeline.commands.store_option import add_store, published
from pipeline.errors import UsageError
from pipeline.settings import Settings
from pipeline.settings_file import read_settings
from pipeline.store.layout import Store
from pipeline.store.lock import one_refresh
from pipeline.store.plan import read_plan, write_plan

SCHEMA_VERSION = 1
OUTCOME = "net_benefit"
SHARE_KEPT = 0.9  # of aids that are measured twice and get their week's treatment
FEWEST_WEEKS, MOST_WEEKS = 8, 156
FEWEST_SITE_WEEKS = 20  # ten clusters an arm
# Taken where the store has no comparison yet: noise alone at 95 %, and cautious correlations.
ASSUMED = {"outcome_variance": 0.05, "wearer_correlation": 0.2, "week_correlation": 0.02}
# Share of working aids that stop whatever is done: taken where no cleaned-only aids were seen.
ASSUMED_BACKGROUND = 0.003
FEWEST_FOR_BACKGROUND = 500
BACKGROUNDS = (0.0, 0.003, 0.005, 0.01)
PROTOCOL = (
    "Ask your local ethics and consent rules first; the plan does not replace them.",
    "Only working aids at a clean-and-check: no exposure, no symptom, no moisture complaint."
    " A wet aid is dried at once, whatever the week, and stays outside.",
    "Clean, change cell, wax guard and tubing as always. Take zinc-air cells out.",
    "Measure in the test box (gain, OSPL90, distortion), with one setting.",
    "Week of drying: dry by the usual programme. Week of cleaning only: let the aid wait as long.",
    "Let the aid cool; use the same cell; re-seat it; measure again with the same box and setting."
    " Do the same, cooling time and all, in weeks of cleaning only.",
    "Grade and record every aid afterwards, above all one that no longer works or cannot be"
    " measured: an aid left blank counts against the result.",
    "Treat by the week, not by the look of the aid.",
    "Dry on request, and any aid that turns out damp or faulty; record what was done.",
    "An aid that stops working: no further drying, find out why, tell whoever leads the comparison."
    " Stop and ask if more stop in weeks of drying.",
)
CAUTIONS = (
    "The result is read once, when both arms have the planned number; until then the pages say"
    " 'x of n' and give no verdict, unless clearly more aids stop working after drying.",
    "A plan recorded after a look at earlier data uses only what comes after its start.",
    "Chamber, cells and built-in batteries: the makers' instructions come first.",
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = "The plan is recorded in the store."
    add_store(parser)
    parser.add_argument("--sites", metavar="IDS", help="sites, joined by commas (all)")
    parser.add_argument("--start", type=day, metavar="DATE", help="a Monday (the next one)")
    parser.add_argument("--weeks", type=int, metavar="N", help="an even number (by power)")
    parser.add_argument("--benefit", type=float, metavar="SHARE", help="net benefit to find, 0-1")
    parser.add_argument(
        "--background", type=float, metavar="SHARE",
        help="working aids that stop whatever is done, 0-0.2 (as seen among cleaned-only aids)",
    )  # fmt: skip
    parser.add_argument(
        "--power", type=float, default=0.9, metavar="SHARE", help="0.5 to 0.99 (%(default)s)"
    )
    parser.add_argument("--seed", type=int, metavar="N", help="seed of the random order")
    parser.add_argument("--replace", action="store_true", help="replace the recorded plan")
    parser.add_argument("--dry-run", action="store_true", help="show it, record nothing")
    parser.add_argument("--json", action="store_true", help="as JSON")


def run(given: argparse.Namespace) -> int:
    """Plan a comparison and record it in the store."""
    store = published(given.store)
    earlier = read_plan(store)
    if earlier is not None and not (given.replace or given.dry_run):
        raise UsageError(
            f"a plan was recorded on {earlier['recorded_on']}, to start on {earlier['starts_on']}",
            done="Nothing was changed.",
            todo="Keep to it; --replace gives it up, and with it the claim to have planned ahead.",
        )
    settings = read_settings(store.settings)
    today = datetime.now(UTC).date()
    plan = planned(store, settings, given, today)
    if earlier is not None:
        before = [*earlier.get("earlier", ()), {"recorded_on": earlier["recorded_on"],
                                                "starts_on": earlier["starts_on"],
                                                "given_up_on": today.isoformat()}]  # fmt: skip
        plan["earlier"] = before
    if not given.dry_run:
        with one_refresh(store):
            write_plan(store, plan)
    if given.json:
        told = {"schema_version": SCHEMA_VERSION, "is_recorded": not given.dry_run, **plan}
        print(json.dumps({**told, "protocol": PROTOCOL, "cautions": CAUTIONS}, indent=1))
    else:
        print("\n".join(words(plan, is_recorded=not given.dry_run)))
    return 0


def planned(
    store: Store, settings: Settings, given: argparse.Namespace, today: date
) -> dict[str, Any]:
    """Work out sites, number, weeks and order.

    Raises:
        UsageError: on sites, start, weeks, benefit, background or power that cannot be.
    """
    from pipeline.statistics.drying_verdict import needed_per_arm  # noqa: PLC0415
    from pipeline.statistics.plan import random_weeks  # noqa: PLC0415
    from pipeline.warehouse.connect import sql  # noqa: PLC0415
    from pipeline.warehouse.read import read_summaries  # noqa: PLC0415

    frames = read_summaries(
        store.warehouse, {"sites": sql("plan_site"), "seen": "FROM routine_drying_verdict"}
    )
    able = {row["site_id"]: row for row in frames["sites"].to_dicts()}
    sites = given.sites.split(",") if given.sites else sorted(able)
    if unable := [site for site in sites if site not in able]:
        raise UsageError(
            f"no working aid was measured before and after lately at: {', '.join(unable)}",
            expected=", ".join(sorted(able)) or "a site that measures aids before and after",
        )
    if not sites:
        raise UsageError(
            "no site measures working aids before and after",
            todo="Measure at clean-and-checks for some weeks, refresh, then plan.",
        )
    worthwhile = settings.worthwhile_net_benefit
    benefit = given.benefit if given.benefit is not None else 2 * worthwhile
    if not worthwhile < benefit <= 1:
        raise UsageError(f"--benefit must be above the worthwhile net benefit of {worthwhile}")
    if not 0.5 <= given.power <= 0.99:
        raise UsageError("--power must lie from .5 to .99")
    if given.background is not None and not 0 <= given.background <= 0.2:
        raise UsageError("--background must lie from 0 to .2")
    start = given.start or today + timedelta(7 - today.weekday())
    if start.weekday() != 0 or start <= today:
        raise UsageError("--start must be a Monday after today", found=start.isoformat())
    if given.seed is not None and given.seed < 0:
        raise UsageError("--seed must be 0 or more")
    seen = frames["seen"].row(0, named=True) if frames["seen"].height else {}
    known = {name: _or(seen.get(name), fallback) for name, fallback in ASSUMED.items()}
    per_week = sum(able[site]["aids_per_week"] for site in sites)
    per_wearer, in_week = (
        max(able[site][name] for site in sites) for name in ("aids_per_wearer", "aids_per_week")
    )
    for_benefit = needed_per_arm(
        known["outcome_variance"], worthwhile=worthwhile, assumed=benefit,
        aids_per_wearer=per_wearer, wearer_correlation=known["wearer_correlation"],
        aids_per_week=in_week, week_correlation=known["week_correlation"], power=given.power,
        level=settings.net_confidence,
    )  # fmt: skip
    safety = _safety(seen, given, settings, per_wearer, in_week)
    needed = max(for_benefit, safety["needed_for_safety"])
    enough = 2 * ceil(needed / (SHARE_KEPT * per_week))
    fewest = max(FEWEST_WEEKS, 2 * ceil(FEWEST_SITE_WEEKS / len(sites) / 2))
    weeks = given.weeks if given.weeks is not None else max(fewest, enough)
    if weeks % 2 or not 2 <= weeks <= MOST_WEEKS:
        raise UsageError(
            f"the comparison would take {weeks} weeks at these sites",
            expected=f"an even number, at most {MOST_WEEKS}",
            todo="Add sites with --sites, or look for a larger benefit with --benefit.",
        )
    seed = given.seed if given.seed is not None else secrets.randbelow(2**31)
    return {
        "recorded_on": today.isoformat(), "starts_on": start.isoformat(),
        "ends_on": (start + timedelta(7 * weeks - 1)).isoformat(), "needed_per_arm": needed,
        "needed_for_benefit": for_benefit, **safety,
        "main_outcome": OUTCOME, "assumed_net_benefit": benefit, "seed": str(seed),
        "worthwhile_net_benefit": worthwhile, "net_confidence": settings.net_confidence,
        "power": given.power,
        "expected_per_arm": int(SHARE_KEPT * per_week * weeks / 2), "number_of_weeks": weeks,
        "is_variation_assumed": seen.get("outcome_variance") is None, **known,
        "sites": sites, "weeks": random_weeks(sites, start, weeks, seed),
    }  # fmt: skip


def _safety(
    seen: dict[str, Any], given: argparse.Namespace, settings: Settings, per_wearer: float,
    in_week: float,
) -> dict[str, Any]:  # fmt: skip
    """Work out the aids an arm that show drying to be safe, if it stops none.

    Raises:
        UsageError: where over a million would be needed.
    """
    from pipeline.statistics.settling import assumed_effect, settling_per_arm  # noqa: PLC0415

    effect = assumed_effect(per_wearer, in_week)
    acceptable = settings.acceptable_excess_stopped

    def size(background: float) -> int:
        return settling_per_arm(
            background, acceptable, effect=effect, power=given.power,
            level=settings.confidence_level,
        )  # fmt: skip

    background, is_assumed = given.background, given.background is None
    if background is None:
        assessed = seen.get("cleaned_assessed") or 0
        is_assumed = assessed < FEWEST_FOR_BACKGROUND
        background = ASSUMED_BACKGROUND if is_assumed else seen["cleaned_stopped"] / assessed
    try:
        return {
            "needed_for_safety": size(background), "background_stopped": background,
            "is_background_assumed": is_assumed, "acceptable_excess_stopped": acceptable,
            "needed_by_background": [[share, size(share)] for share in BACKGROUNDS],
        }  # fmt: skip
    except ValueError as error:
        raise UsageError(
            f"an excess of {acceptable:.2%} cannot be excluded: {error}",
            todo="Raise acceptable_excess_stopped in the store's settings, or lower --background.",
        ) from error


def _or(value: float | None, fallback: float) -> float:
    return fallback if value is None else float(value)


def words(plan: dict[str, Any], *, is_recorded: bool) -> list[str]:
    """Say the plan, its power, the weeks and the protocol in plain words."""
    kind = "assumed (no comparison yet)" if plan["is_variation_assumed"] else "as seen so far"
    lines = [
        "Comparison of drying with cleaning only, for working aids at a clean-and-check.",
        "Main outcome: net benefit (share improved less share worsened or stopped);"
        f" {plan['starts_on']} to {plan['ends_on']}, {plan['number_of_weeks']} weeks at"
        f" {len(plan['sites'])} sites.",
        f"Planned: {plan['needed_per_arm']} aids with an outcome in each arm; about"
        f" {plan['expected_per_arm']} are to be expected.",
        f"Benefit, {plan['needed_for_benefit']} an arm: power {plan['power']:.0%} to say 'helps' if"
        f" the net benefit is {plan['assumed_net_benefit']:.0%}, and 'no effect shown' if it is"
        f" none (worthwhile: {plan['worthwhile_net_benefit']:.0%}), decided at"
        f" {plan['net_confidence']:.0%}.",
        *_safety_words(plan),
        f"Variation {kind}: variance {plan['outcome_variance']:.3f}, correlation within wearers"
        f" {plan['wearer_correlation']:.2f}, within site-weeks {plan['week_correlation']:.2f}.",
        f"Order of weeks: random within pairs, seed {plan['seed']}.",
        "",
    ]
    if plan["expected_per_arm"] < plan["needed_per_arm"]:
        lines.insert(3, "Fewer aids are to be expected than the plan needs: choose more weeks.")
    mondays = sorted({week["week_starts_on"] for week in plan["weeks"]})
    arms = {(w["site_id"], w["week_starts_on"]): w["treatment"] for w in plan["weeks"]}
    width = max(len(site) for site in plan["sites"]) + 2
    lines.append("Week of     " + "".join(site.ljust(max(width, 10)) for site in plan["sites"]))
    for monday in mondays:
        told = ("dry" if arms[site, monday] == "dried" else "clean" for site in plan["sites"])
        lines.append(f"{monday}  " + "".join(text.ljust(max(width, 10)) for text in told))
    lines += ["", "Protocol"]
    lines += [f"{at}. {text}" for at, text in enumerate(PROTOCOL, start=1)]
    lines += ["", "Cautions", *(f"- {text}" for text in CAUTIONS)]
    if not is_recorded:
        print("drytally: nothing was recorded (--dry-run)", file=sys.stderr)
    return [*lines, ""] if not is_recorded else [
        *lines, "", "Recorded in the store; the next refresh takes it up.",
    ]  # fmt: skip


def _safety_words(plan: dict[str, Any]) -> list[str]:
    kind = "assumed" if plan["is_background_assumed"] else "as seen or given"
    sizes = ", ".join(
        f"{size} at {share:.1%}" if share else f"{size} if none" for share, size in
        plan["needed_by_background"]
    )  # fmt: skip
    return [
        f"Safety, {plan['needed_for_safety']} an arm: the same power to exclude that drying stops"
        f" more than {100 * plan['acceptable_excess_stopped']:g} in 100 aids, if it stops none and"
        f" {plan['background_stopped']:.1%} stop whatever is done ({kind}).",
        f"By share that stop whatever is done: {sizes}. Without it the result stays 'not settled'.",
    ]
