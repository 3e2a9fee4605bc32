"""Naming probes by what arrives: fields heard, roles and units that fit, the source tables."""
