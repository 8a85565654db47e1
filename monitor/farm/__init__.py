"""What is so on the farm, read from the store: places, bins, cohorts, the night, what is due."""
