"""Music in the words of others: MusicXML, MEI, MIDI, Harte's chords. What every writer and every reader of files stands on.

kinds, degrees   the one table of chord kinds, and what `<degree>` does to them
chords           a chord symbol as MusicXML says it
staff            note values, accidentals and clefs, in the words of MusicXML and of MEI
musicxml         the elements that a chart and a line have in common
midi             tracks of a standard MIDI file
harte            chord symbols in the syntax of Harte et al. 2005

Who writes a whole score: `tunes.interchange` a chart, `drills` a line (`musicxml`, `mei`, `midi`) and the band.
"""
