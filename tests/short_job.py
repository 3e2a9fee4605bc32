"""The shortest job file there is, for tests that add to it; invented."""

SHORT_JOB = """\
name = "Millrace Lane Library, reading room"
refrigerant = "R-32"
[site]
altitude = "210 m"
[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "charging label"
[charge]
plate = "2.30 kg"
step_cap = "110 g"
"""
"""Its tables may follow; what stands before any table has to be put before it."""
