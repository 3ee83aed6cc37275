"""Readers: any file that people send becomes raw tables of text, and each column finds its meaning."""
