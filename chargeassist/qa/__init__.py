"""For those who answer for the work: archive, verify, recompute, audit, exchange, fleet."""
