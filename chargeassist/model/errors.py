"""The error tree, for programming and set-up. Trouble in the field is data (see ``events``).

::

    ChargeAssistError
      ConfigError            a job file or a command line says something that cannot be
        UnitError              "12 furlongs" where a pressure belongs
        UnknownRefrigerantError  "R-999": not in the shipped table
      SourceError            a source could not be made or opened at start
        UnknownSourceError     no adapter is installed for "canbus:"
      PublishedError         what a board passed on is not what a session tells
      RecordError            a session file or a recording cannot be read or written
        RecordDamagedError     ... because its content contradicts its own hashes
      PlantLimitError        a simulated machine can go no further (`chargeassist.plant.errors`)
"""


class ChargeAssistError(Exception):
    """Base of every error this program raises on purpose; its text is written for the user."""


class ConfigError(ChargeAssistError):
    """A setting cannot be used. The text names file, key, what was expected and what came."""


class UnitError(ConfigError):
    """A text is not a number with a unit of the expected kind."""


class UnknownRefrigerantError(ConfigError):
    """The refrigerant is not in the shipped saturation table."""


class SourceError(ChargeAssistError):
    """A source of readings could not be made or opened."""


class UnknownSourceError(SourceError):
    """No installed adapter answers to this address."""


class PublishedError(ChargeAssistError):
    """What came from a board is not what a session tells."""


class RecordError(ChargeAssistError):
    """A session file or a recording cannot be read or written."""


class RecordDamagedError(RecordError):
    """A record contradicts its own hashes or counts."""
