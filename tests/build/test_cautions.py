"""One sentence for each hazard, the same in fit, work and plan."""

import tomllib
from importlib.resources import files
from typing import get_args

from fishplate.build import build_from_data
from fishplate.build.cautions import hazard_lines, of_figures, who_decides
from fishplate.build.parts import Hazard
from fishplate.fit.cautions import caution_for
from fishplate.work.cautions import cautions_for


def test_every_hazard_has_its_sentence_and_no_other_has() -> None:
    table = tomllib.loads(files("fishplate.build").joinpath("data/cautions.toml").read_text("utf-8"))
    assert list(table["hazards"]) == list(get_args(Hazard))
    assert all(text.endswith(".") for text in table["hazards"].values())


def test_the_same_hazard_reads_the_same_before_a_job_and_at_an_interface() -> None:
    build = build_from_data({
        "systems": [{"id": "front", "name": "Front axle", "hazards": ["steering"]}],
        "interfaces": [{"id": "i", "name": "Place", "systems": ["front"], "hazards": ["lifting", "brakes"]}],
    })  # fmt: skip
    at_interface = caution_for(build, build.interfaces[0], grave=False)
    before_job = cautions_for(["lifting", "steering", "brakes"])
    assert at_interface == " ".join([*before_job[:-1], of_figures()])
    assert before_job[-1] == who_decides()


def test_words_defer_to_the_local_code_and_approve_nothing() -> None:
    for text in (who_decides(), of_figures()):
        assert "local" in text
        assert "licensed" in text
        assert "no approval" in text or "not an approval" in text
    assert hazard_lines([]) == ()
