"""Pages and small endpoints under `work/`. Views only fetch through `access`, read and write elsewhere."""
