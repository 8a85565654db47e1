"""What the farm yields: grams of eggs, kilograms of larvae, and what they cost in feed and days."""
