"""What to tell the technician: from settled facts to one instruction. Pure."""
