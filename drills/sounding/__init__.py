"""The sound of a band by arithmetic: strings, piano, winds and drums as sums of decaying partials and shaped noise.

Used to render recordings of the demo and the samples of the page's own band (`manage.py render_demo`, `render_band`); no page
needs it. Pure numpy. Instruments return floats near full scale 1; the mix sets levels.
"""
