"""What a person reads: queries, night report, command line."""
