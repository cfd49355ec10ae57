"""How a chart is read: `pipeline` states the order; docs/harmony.md leads through it."""
