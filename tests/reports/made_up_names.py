"""The made-up clinics and months that frames share."""

from datetime import date

SITES = ("site-01", "site-02", "site-03", "site-04", "site-05", "site-06")
NAMES = (
    "Ash Lane Hearing",
    "Birch Street",
    "Cedar House",
    "Dogwood Clinic",
    "Elm Court",
    "Fir Row",
)
MONTHS = [date(2025 + (m // 12), m % 12 + 1, 1) for m in range(6, 24)]
