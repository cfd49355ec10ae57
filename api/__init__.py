"""The REST interface: every app's selectors and services, over HTTP with tokens. Stands beside the roof."""
