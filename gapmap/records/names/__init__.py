"""Names of species as people write them become the names that records are counted under."""
