"""Our MusicXML against the published schema.

Source: W3C MusicXML 4.0 schema (Music Notation Community Group) as the package `musicxml` ships it; its two imports as
`xmlschema` ships them.
"""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from lxml import etree

from reduce import analyse, rulebook
from reduce.model.draft import Draft
from reduce.notate import condensed, musicxml
from reduce.pipeline import draft as drafted
from tests.notate.scores import drafts, level

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.musicxml"))


def _folder(package: str) -> Path:
    found = find_spec(package)
    if found is None or found.origin is None:
        pytest.skip(f"{package} is not installed")
    return Path(found.origin).parent


class Shipped(etree.Resolver):
    """The imports of the schema from packages instead of from the network."""

    def resolve(self, url, public, context):  # type: ignore[no-untyped-def]
        places = {"xml.xsd": ("xmlschema", "schemas/XML/xml.xsd"), "xlink.xsd": ("xmlschema", "schemas/XLINK/xlink.xsd")}
        place = places.get(url.rsplit("/", 1)[-1])
        return self.resolve_filename(str(_folder(place[0]) / place[1]), context) if place else None


@pytest.fixture(scope="session")
def schema() -> etree.XMLSchema:
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Shipped())
    return etree.XMLSchema(etree.parse(str(_folder("musicxml") / "generate_classes" / "musicxml_4_0.xsd"), parser))


def faults(schema: etree.XMLSchema, data: bytes) -> list[str]:
    return [] if schema.validate(etree.fromstring(data)) else [str(error) for error in schema.error_log][:3]


def test_the_schema_refuses_what_is_wrong(schema: etree.XMLSchema) -> None:
    """The check can fail: a note without a pitch, rest or unpitched is refused."""
    wrong = b"<score-partwise version='4.0'><part-list><score-part id='P1'><part-name/></score-part></part-list>"
    wrong += b"<part id='P1'><measure number='1'><note><duration>1</duration></note></measure></part></score-partwise>"
    assert faults(schema, wrong)


@settings(max_examples=50, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(draft=drafts())
def test_any_draft_is_valid(schema: etree.XMLSchema, draft: Draft) -> None:
    """Whatever the ticks, metres, marks: the file is valid MusicXML 4.0."""
    assert [] == faults(schema, musicxml(draft, level()))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_samples_are_valid(schema: etree.XMLSchema, path: Path) -> None:
    """Draft and condensed score of our samples at an easy and at the hardest level."""
    for name in ("late-beginner", "advanced"):
        result = drafted(path, level=name)
        assert [] == faults(schema, musicxml(result.draft, result.rules.level, result.rules))
    texture, _ = analyse.texture(result.score, rulebook.load("advanced"))
    assert [] == faults(schema, condensed(result.score, texture))
