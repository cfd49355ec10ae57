"""Solos engraved and taken away: pages four bars to a system, PDF, MusicXML, MIDI."""
