"""An exercise for ears and for other programs: Standard MIDI files to practise with, MusicXML to edit."""
