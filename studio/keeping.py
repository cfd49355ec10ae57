"""A file that was sent with a form that has something else wrong: it is kept for a day, so that nobody chooses it twice.

A form takes `KeepsFile`; its view calls `keep_file` when the form is refused and `forget` when it went well::

    form = UploadForm(request.POST or None, request.FILES or None, by=request.user)
    ...
    form.keep_file()      # refused: the file, if nothing is wrong with it, waits under a token in the form
    form.forget()         # went well

One file for each person and purpose; a new one takes the place of the old. `clear_old` is part of the daily round.
"""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.utils.html import format_html

from studio.models import KeptFile, User

RIGHT_MISSING = "Say what gives the programme the right to keep it, in ten letters or more."
LONGEST = dt.timedelta(days=1)


def clear_old(now: dt.datetime | None = None) -> int:
    """Delete what has waited longer than a day; returns how many."""
    old = list(KeptFile.objects.filter(created__lt=(now or timezone.now()) - LONGEST))
    for row in old:
        _drop(row)
    return len(old)


def _drop(row: KeptFile) -> None:
    """The row now, the file when the transaction holds."""
    storage, name = row.file.storage, row.file.name or ""
    with transaction.atomic():
        row.delete()
        transaction.on_commit(lambda: storage.delete(name))


class KeepsFile(forms.Form):
    """A form whose field `file` need not be filled again after a refusal. `purpose` tells its files from others."""

    purpose = ""
    kept = forms.CharField(required=False, max_length=36, widget=forms.HiddenInput)

    def __init__(self, data: Any = None, files: Any = None, *, by: User | None = None, **kwargs: Any) -> None:
        self.by, self.kept_row = by, None
        sent = files and files.get("file")
        if data is not None and by is not None and not sent and not data.get("without_kept"):
            self.kept_row = self._waiting(str(data.get("kept", "")))
        if self.kept_row is not None:
            files = MultiValueDict({"file": [_upload(self.kept_row)]})
        super().__init__(data, files, **kwargs)
        if by is None:
            del self.fields["kept"]  # a program sends its file with every call
        self._say()

    def _waiting(self, token: str) -> KeptFile | None:
        try:
            wanted = uuid.UUID(token)
        except ValueError:
            return None
        row = KeptFile.objects.filter(user=self.by, purpose=self.purpose, token=wanted).first()
        return row if row is not None and row.file.storage.exists(row.file.name or "") else None

    def _say(self) -> None:
        """Beside the field: which file waits. The browser's own field stays empty and may stay so."""
        field = self.fields["file"]
        if self.kept_row is not None:
            field.widget.attrs["data-kept"] = self.kept_row.name
            field.help_text = format_html(
                "“{}” is kept here from before: you need not choose it again.", self.kept_row.name
            )
            if not field.required:
                self.fields["without_kept"] = forms.BooleanField(
                    required=False, label=f"Leave “{self.kept_row.name}” out"
                )

    def keep_file(self) -> None:
        """Call it when the form is refused: a file with nothing wrong waits for the next try."""
        upload = self.cleaned_data.get("file") if hasattr(self, "cleaned_data") else None
        if self.by is None or not upload or "file" in self.errors or self.kept_row is not None:
            return
        upload.seek(0)
        row = KeptFile(user=self.by, purpose=self.purpose, name=(upload.name or "file")[:160], size=upload.size or 0)
        with transaction.atomic():
            row.file.save("kept", upload, save=False)
            row.save()
            for old in KeptFile.objects.filter(user=self.by, purpose=self.purpose).exclude(pk=row.pk):
                _drop(old)
        self.kept_row = row
        typed: Any = self.data
        self.data = typed = typed.copy()
        typed["kept"] = str(row.token)
        self._say()
        self["file"].help_text = self.fields["file"].help_text  # what is drawn was made before

    def forget(self) -> None:
        """Call it when the form went well."""
        if self.kept_row is not None:
            _drop(self.kept_row)


def _upload(row: KeptFile) -> UploadedFile:
    return UploadedFile(file=row.file.open("rb"), name=row.name, size=row.size)
