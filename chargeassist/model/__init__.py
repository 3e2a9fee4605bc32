"""What things are: channels, events, units, the job, errors. Standard library only."""
