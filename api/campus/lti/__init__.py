"""The site as a tool of course platforms: LTI 1.3 with its three services (1EdTech)."""
