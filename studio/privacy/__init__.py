"""A person's own data: all of it in one archive, and the end of it.

`declared` holds the one table of what becomes of every row that points at a person; each app adds its own rows in its
`privacy.py`. `export` writes the archive, `erase` ends a person, `retention` does it by the programme's rule.
"""

from studio.privacy import own  # noqa: F401  (declares)
