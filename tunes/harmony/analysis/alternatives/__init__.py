"""Second readings: found, and kept only where somebody hears them."""
