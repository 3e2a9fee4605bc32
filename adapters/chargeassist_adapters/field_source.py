"""What every source of real probes says of itself."""

from chargeassist.model.channels import Channel
from chargeassist.model.events import Mark


class FieldSource:
    """A source of real probes; its transport adds `from_spec` and `run`.

    Parameters
    ----------
    name : str
        Never with credentials.
    channels : tuple of Channel
        Those of its probes, in the order of the job.
    """

    def __init__(self, name: str, channels: tuple[Channel, ...]) -> None:
        self._name = name
        self._channels = channels

    @property
    def name(self) -> str:
        """Name of the source in events."""
        return self._name

    @property
    def channels(self) -> tuple[Channel, ...]:
        """The channels of its probes, in the order of the job."""
        return self._channels

    @property
    def brings_time(self) -> bool:
        """False: readings are stamped on arrival."""
        return False

    @property
    def simulated(self) -> bool:
        """False: what it delivers was measured."""
        return False

    def technician(self, mark: Mark) -> None:
        """Ignore what the technician did."""
