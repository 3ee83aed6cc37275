"""Recorders as people write them become sets of people."""
