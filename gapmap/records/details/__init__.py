"""Stage, sex, quantity, method, time and evidence as people write them become a few fixed words."""
