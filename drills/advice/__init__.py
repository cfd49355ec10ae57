"""What the machine heard of a take, kept: asked for in the background, shown on the staff, contested by the player. What is
heard is worked out in `drills.hearing`; `docs/hearing.md` says how."""
