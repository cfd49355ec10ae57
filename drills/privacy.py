"""What practice keeps about a person: all of it is their own, lines and packs are the programme's."""

from studio.privacy.declared import Declared, Fate, declare
from tunes.privacy import not_held

declare(
    Declared(
        "drills.PracticeItem", "user", Fate.DELETE, export="practice-items", shows=not_held("revision__version__tune"),
        leaves_out=("digest", "card"),
    ),
    Declared("drills.Practice", "user", Fate.DELETE, export="practice", leaves_out=("token",)),
    Declared("drills.PracticeCue", "user", Fate.DELETE, export="practice-cues"),
    Declared("drills.PracticeHabit", "user", Fate.DELETE, export="practice-habits"),
    Declared("drills.LineKey", "user", Fate.DELETE, export="lines-by-key", leaves_out=("card",)),
    Declared("drills.LineKey", "heard_by", Fate.KEEP),
    Declared("drills.KeptLine", "by", Fate.KEEP),
    Declared("drills.Pack", "made_by", Fate.KEEP),
    Declared(
        "drills.TakeComment", "take__player", Fate.DELETE, export="take-comments", leaves_out=("digest", "token", "media_type")
    ),
    Declared("drills.TakeAdvice", "take__player", Fate.DELETE, export="take-advice"),
    Declared("drills.Take", "player", Fate.DELETE, export="takes", leaves_out=("digest", "token", "peaks", "media_type")),
    Declared("drills.TakeComment", "by", Fate.BLANK, ("file",)),
    Declared("drills.QuickWords", "user", Fate.DELETE, export="quick-words"),
)  # fmt: skip
