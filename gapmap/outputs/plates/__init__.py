"""Plates for print and slides: maps, curves and calendars on a page of A4."""
