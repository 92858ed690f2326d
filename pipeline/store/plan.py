"""The recorded plan of a comparison of drying with cleaning only, kept beside the warehouse."""

import hashlib
import json
from typing import Any

from pipeline.errors import StoreError
from pipeline.store.layout import Store, write_aside

PLAN_VERSION = 1
RULE = ("worthwhile_net_benefit", "net_confidence")  # older plans lack them
COMMON = (
    "recorded_on", "starts_on", "ends_on", "needed_per_arm", "main_outcome",
    "assumed_net_benefit", "seed",
)  # fmt: skip


def read_plan(store: Store) -> dict[str, Any] | None:
    """Read the plan; None where none was recorded.

    Raises:
        StoreError: where the file is not a plan.
    """
    if not store.plan.exists():
        return None
    try:
        plan: dict[str, Any] = json.loads(store.plan.read_text(encoding="utf-8"))
        if plan["plan_version"] != PLAN_VERSION or not all(name in plan for name in COMMON):
            raise ValueError("another version")
        _ = [(w["site_id"], w["week_starts_on"], w["treatment"]) for w in plan["weeks"]]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreError(
            f"{store.plan.name} in the store cannot be read as a plan",
            found=type(error).__name__,
            done="Nothing was changed.",
            todo="Restore the file from a copy; a plan must not change once it has begun.",
        ) from error
    return plan


def write_plan(store: Store, plan: dict[str, Any]) -> None:
    """Write the plan, whole or not at all."""
    content = {"plan_version": PLAN_VERSION, **plan}
    text = json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False)
    write_aside(store.plan, (text + "\n").encode())


def plan_rows(store: Store) -> list[dict[str, Any]]:
    """Return one plain row per planned site and week, for the warehouse."""
    plan = read_plan(store)
    if plan is None:
        return []
    common = {name: plan[name] for name in COMMON} | {name: plan.get(name) for name in RULE}
    return [{**week, **common} for week in plan["weeks"]]


def plan_digest(store: Store) -> str:
    """Return a hash of the plan's file, empty without one: a change is a reason to run again."""
    if not store.plan.exists():
        return ""
    return hashlib.sha256(store.plan.read_bytes()).hexdigest()[:16]
