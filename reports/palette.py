"""Colours of marks: colour-blind-safe hues darkened for white, with their dark-page partners.

The hues follow Okabe and Ito (2008), darkened until each reaches 3:1 on white, and lightened
until each reaches 3:1 on the dark page. A drawing on a page names its colours (`NAMES`), and
`theme.css` says what each name is in light, dark, print and forced colours.
"""

INK = "#16191d"
MUTED = "#4c5560"
GRID = "#d9dde2"
PAPER = "#ffffff"
BLUE = "#0b5a9e"
ORANGE = "#a84a00"
GREEN = "#00664c"
PURPLE = "#8a3d78"
GREY = "#5b6570"
BAND = "#e4e9f0"

DARK = {
    INK: "#e9ecef",
    MUTED: "#b4bcc5",
    GRID: "#39414a",
    PAPER: "#14171a",
    BLUE: "#7cc0f5",
    ORANGE: "#f5a35c",
    GREEN: "#5fd3ae",
    PURPLE: "#e3a1d0",
    GREY: "#a9b3bd",
    BAND: "#242b33",
}

NAMES = {
    INK: "ink",
    MUTED: "muted",
    GRID: "grid",
    PAPER: "paper",
    BLUE: "blue",
    ORANGE: "orange",
    GREEN: "green",
    PURPLE: "purple",
    GREY: "grey",
    BAND: "band",
}
