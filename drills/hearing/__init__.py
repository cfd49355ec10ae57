"""A take against what was to be played: advice, never a mark.

Pure parts (numpy only) read frames of pitch and level; the tracker that makes them stands behind one door (`tracker`), so
that a site without it works and says so. `judge.judge` is the whole way from frames and a line to an `Advice`; `solo`
is what can be said without a line.
"""
