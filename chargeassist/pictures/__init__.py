"""Pictures of simulated sessions, drawn with matplotlib; the only user of it."""
