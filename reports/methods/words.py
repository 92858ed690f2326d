"""What the words mean."""

from reports.methods.entry import Entry

WORDS = (
    Entry(
        "words",
        "Words",
        ("Intervals are at the confidence level set below, now %level%.",),
        terms=(
            ("session", "One cycle of one chamber; its load is one or two aids, sometimes moulds."),
            ("dead, weak, other fault, working", "The condition of an aid; other fault: it sounds, "
             "but distorted, intermittent or noisy."),
            ("before drying", "The condition after a new cell, parts and cleaning where it was "
             "recorded, else the condition on arrival. An aid that works after cleaning is not a "
             "rescue."),
            ("first cycle", "The first dried session of an episode."),
            ("episode", "One problem of one aid, from its first dried session through later ones "
             "within the episode gap of the one before; it ends when the aid is returned, sent for "
             "repair, replaced or newly exposed, or the gap passes. Its outcome is the state at "
             "its last assessed session. An episode still open is left out and counted."),
            ("outside every rate", "Bone-conduction aids, CROS transmitters and implant sound "
             "processors."),
        ),
    ),
)  # fmt: skip
