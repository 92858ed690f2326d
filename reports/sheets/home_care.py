"""What a wearer takes home: plain words, no blame; a practitioner should confirm the wording."""

from schemas import vocabulary
from schemas.meaning import some_of

BAND = {
    "less": "Less than usual",
    "usual": "Usual",
    "more": "More than usual",
}
KIND = some_of(
    "KIND",
    vocabulary.DEVICE_STYLE,
    {
        "bte": "worn behind the ear",
        "bte_slim_tube": "worn behind the ear, with a slim tube",
        "ric": "worn behind the ear, with the loudspeaker in the ear canal",
        "ite": "worn in the ear",
        "itc": "worn in the ear canal",
        "cic": "worn deep in the ear canal",
        "iic": "worn out of sight in the ear canal",
        "body_worn": "worn on the body",
    },
)
NOT_MEANT = (
    "It does not tell whether your aid is damaged, or how long it will last.",
    "It says nothing about your hearing or your health.",
    "It is no mark for how you look after your aid. Weather, warmth, movement and the shape of the "
    "ear all bring water into an aid.",
    "One reading is a single look; the next may differ.",
)
DAILY = (
    "Wipe the aid with a soft, dry cloth every evening.",
    "Take it out before a shower, swimming, and hair spray.",
    "Never dry it in an oven, a microwave, on a radiator or with a hair dryer.",
)
NIGHT = some_of("NIGHT", vocabulary.POWER_SOURCE, {
    "zinc_air": "At night, open the cell compartment and leave the aid in a dry place. If you use "
    "a drying box, take the cell out first.",
    "lithium_ion": "At night, put the dry aid in its charger. Use a drying box only if the "
    "instructions of the aid allow it.",
    "": "At night, leave the aid in a dry place; if the cell comes out, open its compartment. Use "
    "a drying box only if the instructions of the aid allow it.",
}, besides=("",))  # fmt: skip
WET = some_of("WET", vocabulary.POWER_SOURCE, {
    "zinc_air": "If it gets wet: take it out, take the cell out and throw that cell away, wipe the "
    "aid, and bring it to us as soon as you can, within a day.",
    "lithium_ion": "If it gets wet: take it out, switch it off, do not charge it, wipe it, and "
    "bring it to us as soon as you can, within a day.",
    "": "If it gets wet: take it out, switch it off, take the cell out if it comes out, do not "
    "charge it, wipe it, and bring it to us as soon as you can, within a day.",
}, besides=("",))  # fmt: skip
WATER = "Say what it fell into: salt water, pool water and soap harm an aid more than tap water."
RECHARGEABLE = (
    "If a rechargeable aid is swollen, hot or damaged: do not charge it and do not wear it. Lay it "
    "away from anything that burns, and call us."
)
LOUDER = "Start at a low volume after drying: the aid may sound louder than before."
CELLS = (
    "Keep cells and small parts away from children and animals. If a cell was swallowed, call the "
    "emergency service at once."
)
SOONER = "Come sooner if the sound is weak, crackles or stops, or if the aid got wet."
FIRST = "What your clinic or the maker of your aid says comes first."


def night(power_source: str | None) -> str:
    """Return the advice for the night, by the kind of cell."""
    return NIGHT.get(power_source or "", NIGHT[""])


def wet(power_source: str | None) -> str:
    """Return the advice for a wet aid, by the kind of cell."""
    return WET.get(power_source or "", WET[""])


def safety(power_source: str | None, *, is_restored: bool) -> list[str]:
    """Return the cautions that fit the kind of cell, all where it is not known.

    The volume is spoken of only where sound came back.
    """
    cells = [] if power_source == "lithium_ion" else [CELLS]
    charged = [] if power_source == "zinc_air" else [RECHARGEABLE]
    louder = [LOUDER] if is_restored else []
    return [*louder, *charged, *cells, FIRST]
