"""Hashes of what is declared; written by `python -m schemas.dictionary`."""

CONTRACT = "e48771ff"
WORDS = "e3de37cc"
