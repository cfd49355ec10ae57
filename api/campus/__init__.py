"""The site's face for a school's systems: calendars, rosters, course platforms. Each stands on an open standard."""
