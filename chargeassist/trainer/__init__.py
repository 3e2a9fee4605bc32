"""Drills, their scores, a class's results, and what an instructor keeps beside a recording."""
