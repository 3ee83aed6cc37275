"""References and coordinates become positions, and places are held against what the area knows."""
