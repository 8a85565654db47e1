"""Many sites, as their archive knows them: which one needs somebody first."""
