"""The passes of an analysis: pure functions, each from draft to draft. `analysis.pipeline` states their order."""
