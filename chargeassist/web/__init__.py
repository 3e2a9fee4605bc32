"""The dashboard in a browser: one session, kept while browsers come and go."""
