"""One module per transport. Found through the entry-point group ``chargeassist.sources``."""
