"""Input, output and concurrency: sources, queue, recorder, runner, replay, plug-ins."""
