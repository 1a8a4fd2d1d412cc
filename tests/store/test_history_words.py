"""What a batch did is said the same whether its changes are read or only counted."""

from __future__ import annotations

from pathlib import Path

import pytest

from fishplate.build import Build
from fishplate.store import BuildFile, batch_words
from fishplate.web.desk import put_all, without


@pytest.mark.parametrize("most", [0, 3, 12])
def test_words_of_batches_are_those_of_their_changes(path: Path, small: Build, most: int) -> None:
    file = BuildFile.create(path, small, author="sam@garage")
    parts = {part.id: part for part in small.parts}
    noted = put_all(small, "parts", {id_: part.model_copy(update={"note": "x"}) for id_, part in parts.items()})
    turned = noted.model_copy(update={"parts": noted.parts[::-1]})
    added = put_all(turned, "parts", {f"new-{n}": parts["hub"].model_copy(update={"id": f"new-{n}"}) for n in range(9)})
    for build in (noted, turned, added, without(added, "parts", "new-3")):
        file.write(build, revision=file.revision, author="sam@garage")
    file.undo(revision=file.revision, author="kim@phone")
    history = file.history()
    said = {batch.number: batch_words(batch.changes, most=most) for batch in history}
    assert file.words([batch.number for batch in history], most=most) == said
    heads = file.heads()
    assert [(head.mark, head.kind, head.takes) for head in heads] == [(b.mark, b.kind, b.takes) for b in history]
    assert all(not head.changes for head in heads)
