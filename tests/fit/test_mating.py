"""Near misses between standard designations, in words."""

import pytest

from fishplate.build.designations import Family, parse_designation
from fishplate.fit.mating import mate


@pytest.mark.parametrize(
    ("family", "first", "second", "outcome", "words"),
    [
        ("thread", "M10x1.25", "M10x1.25", "mates", "agrees"),
        ("thread", "M10", "M10x1.5", "mates", "agrees"),
        ("thread", "AN-6", "9/16-18 UNF", "mates", "check that both seats are 37° flare"),
        ("thread", "M10x1.25", "M10x1.5", "nearly", "starts and binds, pitch 1.25 mm against 1.5 mm"),
        ("thread", "M8", "5/16-18", "nearly", "starts and binds"),
        ("thread", "G 1/8", "M10x1", "nearly", "starts and binds"),
        ("thread", "M12x1.25", "1/2-20", "nearly", "screws in loose and can strip, 0.7 mm small"),
        ("thread", "1/2-20", "M12x1.25", "differs", "does not start, 0.7 mm too large"),
        ("thread", "1/2 NPT", "R 1/2", "nearly", "flanks are 60° against 55°"),
        ("thread", "1/4 NPT", "R 1/4", "nearly", "starts and binds"),
        ("thread", "R 1/4", "G 1/4", "nearly", "may split the port"),
        ("thread", "G 1/4", "R 1/4", "nearly", "does not seal"),
        ("thread", "M12x1.5", "M14x1.5", "differs", "slides through"),
        ("thread", "M12x1.5 LH", "M12x1.5", "differs", "left-hand"),
        ("pattern", "5x4.5", "5x114.3", "mates", "agrees"),
        ("pattern", "5x112", "5x114.3", "nearly", "every hole is 1.15 mm out"),
        ("pattern", "5x120", "5x120.65", "nearly", "every hole is 0.33 mm out"),
        ("pattern", "5x100/114.3", "5x114.3", "mates", "agrees"),
        ("pattern", "4x100/4x108", "4x100", "mates", "agrees"),
        ("pattern", "5x100/112", "5x114.3", "nearly", "every hole is 1.15 mm out"),
        ("pattern", "5x100/112", "5x130", "differs", "a circle of 112 mm against 130 mm"),
        ("pattern", "4x100", "5x100", "differs", "4 holes against 5"),
        ("pattern", "5x100", "5x112", "differs", "a circle of 100 mm"),
        ("spline", "26x1 1/8", "26x1 1/8 in", "mates", "agrees"),
        ("spline", "26 splines", "26x1 1/8", "nearly", "a count alone does not make a fit"),
        ("spline", "26x1 1/8", "10x1 1/8", "differs", "26 teeth against 10"),
        ("spline", "26x1 1/8", "26x1 3/16", "nearly", "slides on loose"),
        ("spline", "W30x2x14", "W30x1.25x14", "differs", "module"),
        ("spline", "26T 24/48", "26x1 1/8", "mates", "agrees"),
        ("spline", "26T 24/48", "26T 16/32", "differs", "module 1.06 mm against 1.59 mm"),
        ("spline", "26T 24/48", "26T 24/48 45°", "nearly", "flanks of 30° against 45°"),
        ("spline", "W30x2x14", "N30x2x14", "mates", "agrees"),
        ("spline", "W30x2x14", "W30x2x14", "differs", "both are the shaft"),
        ("spline", "6x23x28", "6x23x26", "differs", "28 mm against 26 mm"),
        ("spline", "10x112x125", "10x102x125", "differs", "at the root"),
        ("spline", "10x42x48", "10T 6/12", "differs", "straight-sided against involute"),
        # ISO 7-1, scope: external taper in internal parallel or taper threads; ISO 228-1: not jointing threads
        ("thread", "R 1/4", "Rp 1/4", "mates", "made for it"),
        ("thread", "R 1/4", "Rc 1/4", "mates", "agrees"),
        ("thread", "G 1/4", "Rp 1/4", "nearly", "may be too tight"),
        ("thread", "1/4-20 UNC", "1/4 BSW", "nearly", "flanks are 60° against 55°"),
        ("thread", "1/2-13 UNC", "1/2 BSW", "nearly", "starts and binds"),
        ("thread", "5/16 BSF", "5/16-22 BSF", "mates", "agrees"),
        ("thread", "10-32", "M5", "nearly", "screws in loose"),
        ("thread", "AN-6", "-6 ORB", "nearly", "the seats do not: 37° flare against O-ring boss"),
        ("connector", "6.3 mm blade tab", "6.3 mm blade receptacle", "mates", "agrees"),
        ("connector", "4.8 mm blade", "6.3 mm blade", "nearly", "runs hot"),
        ("connector", "ISO 1724", "ISO 3732", "nearly", "coded otherwise"),
        ("connector", "sealed 4-way key A", "sealed 4-way key B", "nearly", "keyed A against B"),
        ("connector", "sealed 4-way", "sealed 6-way", "nearly", "another shell"),
        ("connector", "ISO 11446 plug", "ISO 11446 plug", "differs", "both are the plug"),
    ],
)
def test_what_goes_in_and_what_it_goes_into(
    family: Family, first: str, second: str, outcome: str, words: str
) -> None:  # fmt: skip
    found = mate(parse_designation(first, family), parse_designation(second, family))
    assert (found.outcome, words in found.text) == (outcome, True), found.text
