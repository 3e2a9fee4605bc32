"""Computation over time: ticks, settling, charge steps. Pure; fed one event at a time."""
