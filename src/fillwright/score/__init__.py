"""A phrase on paper: what is written, MEI, engraving, MusicXML and MIDI files."""
