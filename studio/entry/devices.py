"""What a browser says of itself (RFC 9110, section 10.1.5), in plain words. Nothing is decided by it.

The order matters: most browsers also call themselves by the names of others (common practice, no source).
"""

from __future__ import annotations

BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chrome", "Chrome"),
    ("Safari", "Safari"),
)
MACHINES = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("CrOS", "Chromebook"),
    ("Windows", "Windows"),
    ("Macintosh", "Mac"),
    ("Linux", "Linux"),
)


def said(agent: str) -> str:
    """`Firefox on Windows`, and less where less is known.

    >>> said("Mozilla/5.0 (X11; Linux x86_64; rv:128.0) Gecko/20100101 Firefox/128.0")
    'Firefox on Linux'
    """
    browser = next((name for sign, name in BROWSERS if sign in agent), "")
    machine = next((name for sign, name in MACHINES if sign in agent), "")
    if browser and machine:
        return f"{browser} on {machine}"
    return browser or machine or "A device that does not say what it is"
