"""Cautions that stand beside the figures; a practitioner should confirm the wording."""

CELLS = (
    "Take zinc-air cells out before drying; vacuum and heat can dry them out or make them leak. "
    "A wet or leaking cell is not used again.",
    "Aids with built-in lithium-ion cells: only if the aid maker's instructions allow vacuum and "
    "this temperature. Wet, swollen, hot or damaged: do not charge, heat or put under vacuum; set "
    "apart safely and ask the maker.",
)
HYGIENE = (
    "Drying does not disinfect: clean and disinfect by local rules first; one wearer's aids per "
    "load; liquid left by wipes raises the reading."
)
IMPLANTS = (
    "Implant sound processors and bone-conduction devices: the maker's instructions only; these "
    "figures do not cover them."
)
LATER = (
    "A dried aid may fail later from corrosion, above all after salt or soapy water: recheck. In "
    "warranty: ask before opening or heating."
)
VOLUME = (
    "Check output and the wearer's volume setting before returning a recovered aid: it may have "
    "been turned up while weak."
)
GROUPS = (
    "Figures describe groups, not this aid or this wearer. Local rules and licensed practice come "
    "first."
)
ALL = (*CELLS, HYGIENE, IMPLANTS, LATER, VOLUME, GROUPS)
