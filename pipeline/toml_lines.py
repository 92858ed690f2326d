"""Where each section and key of a TOML text stands, so that a mistake can name its line."""

import re

HEADER = re.compile(r"^\s*\[{1,2}\s*([^\]]+?)\s*\]{1,2}\s*(?:#.*)?$")
ENTRY = re.compile(r"""^\s*(?:"([^"]*)"|'([^']*)'|([\w-]+))\s*(?=[=.])""")
PATH_PART = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([\w-]+))\s*(?:\.|$)""")


def key_lines(text: str) -> dict[tuple[str, ...], int]:
    """Return the line of every section and key, by their path.

    The sections of a list, such as [[claims]], stand under their number, counted from "0".
    """
    found: dict[tuple[str, ...], int] = {}
    path: tuple[str, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        if header := HEADER.match(line):
            path = tuple("".join(part) for part in PATH_PART.findall(header.group(1)) if any(part))
            for depth in range(1, len(path) + 1):
                found.setdefault(path[:depth], number)
            if line.lstrip().startswith("[["):
                earlier = sum(len(p) == len(path) + 1 and p[:-1] == path for p in found)
                path = (*path, str(earlier))
                found[path] = number
        elif entry := ENTRY.match(line):
            name = next(part for part in entry.groups() if part is not None)
            found.setdefault((*path, name), number)
    return found
