"""What changed and when it was noticed: one row for each object, its last change."""

from __future__ import annotations

from django.db import models


class Change(models.Model):
    """The last change of one object. `position` orders the feed: it is given when a change is noticed, to what is committed
    by then, so no later row ever stands before an earlier one."""

    kind = models.CharField(max_length=16)
    object = models.PositiveBigIntegerField()
    digest = models.BigIntegerField()  # of the columns that count
    gone = models.BooleanField(default=False)
    position = models.PositiveBigIntegerField(db_index=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["kind", "object"], name="one_change_an_object")]

    def __str__(self) -> str:
        return f"{self.kind} {self.object}{' gone' if self.gone else ''}"


class ChangeState(models.Model):
    """How far the feed is. There is one row; whoever writes changes locks it."""

    position = models.PositiveBigIntegerField(default=0)
    looked = models.DateTimeField(null=True, blank=True)
    turn = models.PositiveBigIntegerField(default=0)  # rises with every look

    def __str__(self) -> str:
        return f"position {self.position}"
