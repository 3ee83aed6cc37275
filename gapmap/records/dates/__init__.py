"""Dates as people write them become runs of days."""
