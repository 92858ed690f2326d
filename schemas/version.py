"""The contract's version: a change re-screens every file and rebuilds the warehouse.

Kept apart, so that looking for new files needs no import of the schemas themselves.
"""

CONTRACT_VERSION = "5"
