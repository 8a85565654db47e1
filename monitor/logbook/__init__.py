"""What people write down: amounts, times, entries, and their replay to cohorts, bins and places."""
