"""Moving house: a programme from one database to another, or out into an open archive and in again.

`rows` says what a row is, whichever database holds it; `engines` opens the two sides; `move` carries everything from one to
the other and compares; `open_archive` writes a programme as plain files and reads them; `sheets` collects what the apps
add as MusicXML. docs/open-archive.md describes the files.
"""
