"""A keyboard on the page: what was played for each chord, judged against the chart. `judge` is pure."""
