"""The invented people of the demo programme. Nobody here exists."""

from __future__ import annotations

DOMAIN = "demo.example"
DIRECTOR = ("Marit Olawale", "marit", "piano")

# (name, e-mail before the @, instrument)
INSTRUCTORS = (
    ("Teodor Brandvik", "teodor", "tenor-sax"),
    ("Ilse Karambizi", "ilse", "bass"),
)

ENSEMBLES = {
    "first": "Lantern Street Octet",
    "second": "Harbour Workshop",
    "combo": "Tuesday Combo",
}

# ensemble: players
PLAYERS = {
    "first": (
        ("Ruta Ellery", "ruta", "trumpet"),
        ("Caspian Ndiaye", "caspian", "alto-sax"),
        ("Noor Lindqvist", "noor", "tenor-sax"),
        ("Tobias Amarante", "tobias", "trombone"),
        ("Wren Okabe", "wren", "baritone-sax"),
        ("Ludo Vashti", "ludo", "piano"),
        ("Senna Corrigan", "senna", "bass"),
        ("Emre Hollis", "emre", "drums"),
    ),
    "second": (
        ("Pilar Weatherby", "pilar", "flugelhorn"),
        ("Jonah Tamm", "jonah", "soprano-sax"),
        ("Mireille Aduba", "mireille", "flute"),
        ("Oskar Penhale", "oskar", "clarinet"),
        ("Dalia Ferrow", "dalia", "guitar"),
        ("Kofi Sandoval", "kofi", "vibraphone"),
        ("Anouk Birchall", "anouk", "bass"),
        ("Silas Moravec", "silas", "drums"),
    ),
    "combo": (
        ("Isolde Quaye", "isolde", "voice-alto"),
        ("Bram Talavera", "bram", "tenor-sax"),
        ("Yusra Fennimore", "yusra", "bass-trombone"),
        ("Leif Adeyemi", "leif", "guitar"),
        ("Odile Marsh", "odile", "piano"),
        ("Rafe Zielonka", "rafe", "bass"),
    ),
}
LEADERS = {"first": "teodor", "second": "ilse", "combo": "teodor"}
# One instructor sits in another's ensemble as a player; two players have a chair in two, one of them on another instrument.
GUESTS = (("second", "teodor", "tenor-sax"), ("combo", "ruta", "trumpet"), ("combo", "noor", "flute"))
# Has a chair and a letter with a link, and has not opened it yet: (ensemble, name, e-mail name, instrument).
INVITED = ("combo", "Ebba Quillon", "ebba", "trombone")
LAST_TERM = ("first", "second")

SHOWN = (
    (f"marit@{DOMAIN}", "director"),
    (f"teodor@{DOMAIN}", "instructor"),
    (f"ilse@{DOMAIN}", "instructor"),
    (f"ruta@{DOMAIN}", "player"),
    (f"noor@{DOMAIN}", "player"),
)
