"""Job files: read, refused in words, asked for, written, and what they say and lack."""
