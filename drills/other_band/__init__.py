"""The other band: one chorus goes another way, unannounced; the player says where and what was played.

`offers` says what may be played otherwise (versions first, then rules), `draw` chooses by a seed, `judge` marks what was heard.
These are pure; `views` and `record` stand on them.
"""
