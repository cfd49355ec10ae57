"""Lead sheets in and out of the site: MusicXML to a draft, charts to MusicXML and text, a melody to a version."""
