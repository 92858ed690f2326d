"""How a title prints a share, and which of its parts it lacks."""

THIN = "\u202f"


def percent(share):
    return f"{share * 100:.0f}{THIN}%"


def lacking(title, *parts):
    return [part for part in parts if part not in title]
