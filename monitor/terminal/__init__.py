"""What every command has: options, words, one site, and how its answer is printed, as text or as JSON."""
