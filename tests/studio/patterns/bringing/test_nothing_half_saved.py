"""Property: whatever bytes come, a pattern is saved whole or not at all."""

from __future__ import annotations

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from classroom.models import History
from studio.core.reading import PatternError
from studio.models import Pattern, Project
from tests.studio.patterns.making import DISC, RINGED, THIN, bring


@st.composite
def spoilt_files(draw: st.DrawFn) -> bytes:
    """A good file with some bytes overwritten, cut out, or put in."""
    data = bytearray(draw(st.sampled_from([DISC, RINGED, THIN])))
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(data) - 1))
        length = draw(st.integers(0, 12))
        data[place : place + length] = draw(
            st.one_of(
                st.binary(max_size=8), st.sampled_from([b"1e400", b"NaN", b"-", b"&x;", b"<"])
            )
        )
    return bytes(data)


def counts(evidence: Path) -> tuple[int, int, int]:
    files = sum(1 for path in evidence.rglob("*") if path.is_file())
    return Pattern.objects.count(), History.objects.count(), files


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.one_of(spoilt_files(), st.binary(max_size=60)))
def test_a_pattern_is_saved_whole_or_not_at_all(
    project: Project, evidence: Path, data: bytes
) -> None:
    before = counts(evidence)
    known = set(Pattern.objects.values_list("pk", flat=True))
    try:
        pattern = bring(project, data)
    except PatternError:
        assert counts(evidence) == before
        return
    if pattern.pk in known:  # these bytes are a version already: it is current again, if not still
        versions, told, files = before
        assert counts(evidence) in {before, (versions, told + 1, files)}
        return
    assert counts(evidence) == tuple(count + 1 for count in before)
    stored = Pattern.objects.get(pk=pattern.pk)
    assert stored.may_be_handed_in == (not stored.stops)
    assert all(piece.outline.is_valid for piece in stored.drawing.pieces)
    with stored.file.open("rb") as kept:
        assert kept.read() == data
