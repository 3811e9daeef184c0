"""Tunes in open formats (ABC, MusicXML, Standard MIDI) to tune YAML."""
