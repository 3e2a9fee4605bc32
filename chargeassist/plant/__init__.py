"""The training simulator's physics. Pure; no clock, no file, no socket."""
