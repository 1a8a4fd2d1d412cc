"""The build file: create, open, read, write, undo, redo; history, attachments, memo.

- `build_file`: the file itself
- `model`: changes, batches, attachments; `errors`: a write against a stale revision; `wording`: changes in words
- `rows`, `positions`: from a build to rows and back, what differs, and the order of lists
- `journal`: every change with before and after, undo and redo by batch
- `memory`: attachments, and results worked out before
- `disk_memo`: the user's cache of results, outside the file
- `schema`, `migrations`, `connection`: tables, older layouts, and what makes a write durable
"""

from .build_file import BuildFile
from .disk_memo import DiskMemo, cache_folder
from .errors import Conflict, RevisionConflict
from .migrations import Migration
from .model import Attachment, Batch, Change, Snapshot, with_reasons
from .wording import batch_words, change_words

__all__ = [
    "Attachment",
    "Batch",
    "BuildFile",
    "Change",
    "Conflict",
    "DiskMemo",
    "Migration",
    "RevisionConflict",
    "Snapshot",
    "batch_words",
    "cache_folder",
    "change_words",
    "with_reasons",
]
