"""The department over HTTP: who is here, what they may ask, and every answer as JSON."""
