"""What of the repertoire is written in the audit log when it is deleted."""

from studio.audit import watch_deletions
from tunes.models import Idiom, Melody, Phrase, Recording, RecordingFile, Solo, Tune

watch_deletions(Tune, lambda row: f"Tune “{row.title}”")
watch_deletions(Recording, lambda row: f"Recording “{row}” of “{row.tune.title}”")
watch_deletions(RecordingFile, lambda row: f"Sound file of “{row.recording}”")
watch_deletions(Melody, lambda row: f"Notation of the melody, “{row.version.name}”")
watch_deletions(Idiom, lambda row: f"Name “{row.name}” of a progression")
watch_deletions(Phrase, lambda row: f"Phrase “{row.label}”")
watch_deletions(Solo, lambda row: f"Solo written out from “{row.recording}”")
