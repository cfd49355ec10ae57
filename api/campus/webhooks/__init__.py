"""Telling other systems what happened, by the Standard Webhooks specification (1.0)."""
