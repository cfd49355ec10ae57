"""What the interface keeps about a person."""

from studio.privacy.declared import Declared, Fate, declare

declare(
    Declared("api.Token", "owner", Fate.DELETE, export="tokens", leaves_out=("digest",)),
    Declared("api.Feed", "owner", Fate.DELETE, export="feeds", leaves_out=("digest",)),
    Declared("api.Launch", "user", Fate.DELETE),
    Declared("api.CampusPerson", "user", Fate.DELETE, export="course-accounts"),
    Declared("api.CourseMark", "player", Fate.DELETE, export="course-marks"),
)
