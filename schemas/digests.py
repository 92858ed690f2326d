"""Hashes of what is declared; written by `python -m schemas.dictionary`."""

CONTRACT = "875685fa"
WORDS = "e3de37cc"
