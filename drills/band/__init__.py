"""A band for a chorus of a chart: bass, comping and drums, each made by rules and the same for the same seed.

`chorus.play_chorus` makes one chorus; a performance without end is one chorus after another, each with a seed of its own.
Times are crotchets (`Fraction`) from the start of the chorus, straight: swing is a way of sounding (`feel`), not of writing.
"""
