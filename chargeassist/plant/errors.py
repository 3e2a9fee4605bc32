"""What a simulated machine raises when it can go no further."""

from chargeassist.model.errors import ChargeAssistError


class PlantLimitError(ChargeAssistError):
    """The machine reached a state that the model has no equations for."""
