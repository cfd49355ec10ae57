"""What is typed and sent about solos."""

from __future__ import annotations

import json
from typing import Any

from django import forms

from studio.access import ensembles_led, ensembles_played
from studio.instruments import instrument_choices
from studio.models import Ensemble
from tunes.interchange.errors import Refused
from tunes.interchange.foreign import MOST_BYTES, kind_of
from tunes.melody import ROLES
from tunes.models import ChartRevision, Recording, Solo, SoloWord, Tune
from tunes.solos.bars import Covers, form_length
from tunes.solos.notes import MOST_BARS, Bars, NotesProblem, read_notes
from tunes.study import chart_of

MOST_SENT = 2_000_000  # letters of a draft
RIGHTS_HELP = (
    "A solo written out is study material of the class: it stays with the people who may see the tune. "
    "For example: played by our own ensemble; or written out for study from a recording that we own."
)


class BeginForm(forms.Form):
    """Which solo, on which recording, over which chart, and which bars of it."""

    recording = forms.ModelChoiceField(Recording.objects.none(), required=False, empty_label="none of these")
    revision = forms.ModelChoiceField(ChartRevision.objects.none(), label="Over which chart", empty_label=None)
    player = forms.CharField(
        max_length=120,
        label="Who plays it",
        widget=forms.TextInput(attrs={"list": "solo-players", "autocomplete": "off"}),
    )
    instrument = forms.ChoiceField(required=False, label="On what")
    first_chorus = forms.IntegerField(min_value=1, max_value=200, initial=1, label="From chorus")
    first_bar = forms.IntegerField(min_value=1, max_value=999, initial=1, label="from bar")
    last_chorus = forms.IntegerField(min_value=1, max_value=200, initial=1, label="to chorus")
    last_bar = forms.IntegerField(min_value=1, max_value=999, label="to bar")
    rights = forms.CharField(
        max_length=400,
        required=False,
        label="What gives you the right to write it down",
        help_text=RIGHTS_HELP,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, tune: Tune, revisions: list[ChartRevision], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.form_bars = form_length(chart_of(revisions[0].text)) if revisions else 0
        names = {row.pk: row.version.name for row in revisions}
        self.fields["recording"].queryset = tune.recordings.all()  # type: ignore[attr-defined]
        self.fields["revision"].queryset = ChartRevision.objects.filter(pk__in=[row.pk for row in revisions])  # type: ignore[attr-defined]
        self.fields["revision"].label_from_instance = lambda row: names.get(row.pk, "")  # type: ignore[attr-defined]
        self.fields["instrument"].choices = [("", "not said"), *instrument_choices()]  # type: ignore[attr-defined]
        self.fields["last_bar"].initial = self.form_bars

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("revision"):
            self.form_bars = form_length(chart_of(data["revision"].text))
        wanted: list[Any] = [data.get(name) for name in ("first_chorus", "first_bar", "last_chorus", "last_bar")]
        if None in wanted:
            return data
        covers = Covers(*wanted)
        for name, value in (("first_bar", covers.first_bar), ("last_bar", covers.last_bar)):
            if value > self.form_bars:
                self.add_error(name, f"A chorus of this chart has {self.form_bars} bars.")
        count = len(covers.places(self.form_bars))
        if count < 1:
            self.add_error("last_chorus", "It ends before it begins: choose a later bar.")
        elif count > MOST_BARS:
            self.add_error("last_chorus", f"That is {count} bars; write at most {MOST_BARS} in one solo.")
        data["covers"] = covers
        return data


class HeadForm(BeginForm):
    """What a solo says of itself, changed afterwards; over which chart it stands is fixed."""

    def __init__(self, *args: Any, solo: Solo, **kwargs: Any) -> None:
        initial = {
            name: getattr(solo, name)
            for name in ("player", "instrument", "rights", "first_chorus", "first_bar", "last_chorus", "last_bar")
        }
        tune = solo.revision.version.tune
        super().__init__(
            *args, tune=tune, revisions=[solo.revision], initial=initial | {"recording": solo.recording_id}, **kwargs
        )
        del self.fields["revision"]
        self.fields["last_bar"].initial = solo.last_bar


class NotesForm(forms.Form):
    """A draft as the page sends it: `notes` is JSON; `serial` the write it was based on; `client` names the window."""

    notes = forms.CharField(max_length=MOST_SENT)
    serial = forms.IntegerField(min_value=0, max_value=2**31 - 1, required=False)
    client = forms.CharField(max_length=40, required=False)
    over = forms.BooleanField(required=False)

    bars: Bars

    def __init__(self, *args: Any, count: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.count = count

    def clean_notes(self) -> Any:
        try:
            stored = json.loads(self.cleaned_data["notes"])
            self.bars = read_notes(stored, self.count)
        except (json.JSONDecodeError, RecursionError) as error:
            raise forms.ValidationError("The notes could not be read. Reload the page; they are kept here.") from error
        except NotesProblem as problem:
            raise forms.ValidationError(str(problem)) from problem
        return stored


class ShareForm(forms.Form):
    """With which ensemble; nobody when left empty."""

    ensemble = forms.ModelChoiceField(Ensemble.objects.none(), required=False, label="Share with", empty_label="nobody")

    def __init__(self, *args: Any, user: Any, solo: Solo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        mine = (ensembles_led(user) | ensembles_played(user)).distinct()
        self.fields["ensemble"].queryset = mine  # type: ignore[attr-defined]
        self.fields["ensemble"].label_from_instance = lambda row: row.in_term  # type: ignore[attr-defined]
        self.fields["ensemble"].initial = solo.shared_with_id


class FileForm(forms.Form):
    """A file of notes, known by its content. `content` are its bytes."""

    file = forms.FileField(
        label="File of notes",
        help_text=f"MusicXML (.musicxml, .xml, .mxl), MIDI, ABC or Humdrum; at most {MOST_BYTES // 2**20} MB. Its first part is read "
                  "from bar 1 of the solo on.",
    )  # fmt: skip

    content: bytes

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(f"The file is too large: at most {MOST_BYTES // 2**20} MB.")
        self.content = file.read()
        try:
            kind_of(self.content)
        except Refused as error:
            raise forms.ValidationError(str(error)) from error
        return file


PLACE = r"^\d{1,6}(/\d{1,4})?$"


class WordForm(forms.Form):
    """What a person says of a note or a passage, named by the onset of its first and last note."""

    kind = forms.ChoiceField(choices=SoloWord.Kind.choices)
    first = forms.RegexField(PLACE, max_length=24)
    last = forms.RegexField(PLACE, max_length=24)
    role = forms.ChoiceField(choices=[("", ""), *((role, role) for role in ROLES)], required=False)
    text = forms.CharField(max_length=200, required=False)


def bars_asked(text: str, count: int) -> set[int] | None:
    """ "3, 10" → {2, 9}; None for what is no list of bars of the solo.

    >>> bars_asked("3, 10", 12) == {2, 9}, bars_asked("13", 12), bars_asked("", 12)
    (True, None, set())
    """
    words = text.replace(",", " ").split()
    if len(words) > 200 or not all(word.isascii() and word.isdigit() and 1 <= int(word[:6]) <= count for word in words):
        return None
    return {int(word) - 1 for word in words}
