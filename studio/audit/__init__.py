"""The audit log: who did what, written in the transaction of what was done.

An app writes from its services (`record`), or names in its `audited.py` what is watched (`watch_deletions`). Texts name
things, never people: people stand in `by` and `about`, so that who is erased is nobody in the log as well.
"""

from studio.audit.log import acting, record, record_each, watch_deletions

__all__ = ["acting", "record", "record_each", "watch_deletions"]
