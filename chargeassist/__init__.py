"""A streaming sensor-data logger and live charging assistant for air-conditioning work.

The packages below, from the ground up: ``model`` (what things are), ``physics`` (formulas),
``plant`` (the training simulator), ``stream`` (computation over time), ``guide`` (what to tell the
technician), ``session`` (input, output and concurrency), ``tui`` and ``cli`` (front ends).
Importing this package imports none of them.
"""

__version__ = "0.1.0"
