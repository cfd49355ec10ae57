"""A demo whose loading is cut short leaves nothing behind."""

from __future__ import annotations

import pytest

from studio.demo import compose, load
from studio.models import Programme, User


@pytest.mark.django_db(transaction=True)
def test_a_demo_that_is_cut_short_leaves_an_empty_site(monkeypatch: pytest.MonkeyPatch) -> None:
    def cut(world: compose.DemoWorld) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(compose, "_chairs", cut)
    with pytest.raises(KeyboardInterrupt):
        load.load_if_empty(say=lambda line: None)
    assert not User.objects.exists()
    assert not Programme.objects.exists()
