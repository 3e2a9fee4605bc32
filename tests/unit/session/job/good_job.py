"""A job file that is good; the tests change it."""

GOOD = """
name = "Millrace Lane Library, reading room"
refrigerant = "R-32"
units = "us"

[equipment]
make = "invented"

[site]
altitude = "210 m"

[target]
subcooling = "5.0 K"
tolerance = "0.8 K"
source = "charging label"

[charge]
plate = "2.30 kg"
step_cap = "110 g"
weighed_in = "4 lb 3 oz"
scale_resolution = "5 g"

[frequency]
required = "72 Hz"
hold_lasts = "60 min"

[limits]
liquid_pressure_high = "4.0 MPa(g)"
current_high = "16 A"

[processing]
period = "0.5 s"

[[source]]
name = "port"
url = "serial:/dev/ttyUSB0?baud=115200"
format = "csv"

[[source.probe]]
role = "liquid_pressure"
select = "1"
unit = "psig"
accuracy = "2 psi"
low = "0 psig"
high = "800"

[[source.probe]]
role = "liquid_temperature"
select = "2"
unit = "°F"
accuracy = "0.5 K"
max_age = "5 s"
"""


def changed(old: str, new: str) -> str:
    assert GOOD.count(old) == 1, old
    return GOOD.replace(old, new)
