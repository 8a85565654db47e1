"""Science and decisions: pure functions of their arguments, no I/O, no clock, no logging."""
