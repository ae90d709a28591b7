"""The sludge law and its file."""

from __future__ import annotations

import numpy as np
import pytest

from cakewright.errors import DataError, OutOfRangeError, UnknownNameError
from cakewright.sludge.law import LAW_PARAMETERS, SludgeLaw, Space, from_space, to_space
from cakewright.sludge.law_prior import prior_of_class
from cakewright.sludge.law_text import law_to_toml, parse_law

PRIOR = prior_of_class("was")


def _law() -> SludgeLaw:
    """A law with correlations and words in every field."""
    rng = np.random.default_rng(0)
    root = rng.normal(0, 0.1, (14, 14))
    return SludgeLaw(
        sludge="soy 'froth'\n\"quoted\"",
        sludge_class="was",
        parameters=PRIOR.parameters,
        covariance=PRIOR.covariance + root @ root.T,
        dose_low=0.002,
        dose_high=0.016,
        polymer="polymer B",
        tests=("F1", "J1"),
        notes=("a note",),
        invented=True,
    )


def test_file_round_trip_is_exact() -> None:
    """Writing and reading gives back every number and word."""
    law = _law()
    back = parse_law(law_to_toml(law))
    assert np.array_equal(back.covariance, law.covariance)
    assert back.parameters == law.parameters
    for name in ("sludge", "sludge_class", "dose_low", "dose_high", "polymer", "tests", "notes",
                 "invented"):  # fmt: skip
        assert getattr(back, name) == getattr(law, name)


def test_samples_have_the_mean_and_covariance() -> None:
    """Drawn parameters, on their lines, have the law's centre and covariance."""
    law = _law()
    drawn = law.sample(40_000, np.random.default_rng(1))
    lines = np.column_stack(
        [
            np.log(drawn[n]) if s is Space.LOG else np.log(drawn[n] / (1 - drawn[n]))
            for n, s in LAW_PARAMETERS.items()
        ]
    )[1:]
    spread = np.sqrt(np.diag(law.covariance))
    assert np.abs((lines.mean(axis=0) - law.centre) / spread).max() < 0.03
    assert np.abs((np.cov(lines.T) - law.covariance) / np.outer(spread, spread)).max() < 0.03


def test_first_sample_is_the_point_case() -> None:
    """Sample 0 is the most likely law."""
    drawn = _law().sample(5, np.random.default_rng(1))
    for parameter in _law().parameters:
        assert drawn[parameter.name][0] == pytest.approx(parameter.value)
        assert drawn[parameter.name].shape == (5,)


def test_prior_quantiles_are_those_of_the_table() -> None:
    """10 % and 90 % points of the prior are the published or judged ends."""
    density = PRIOR.parameter("yield_scale")
    assert density.quantile(-1.2815515655) == pytest.approx(60.0, rel=1e-6)
    assert density.quantile(1.2815515655) == pytest.approx(375.0, rel=1e-6)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("cakewright sludge law 1", "another format", "format: got 'another format'"),
        ("[parameters.gel_point]", "[parameters.gelpoint]", "parameters.gel_point: got nothing"),
        ('unit = "Pa"', 'unit = "kPa"', "parameters.yield_scale.unit: got 'kPa'"),
        ('basis = "published"', 'basis = "guessed"', "'guessed' is not a valid Basis"),
        ("order = [", "order = ['x', ", "order of the covariance"),
    ],
)
def test_faults_of_a_law_file(old: str, new: str, words: str) -> None:
    """Each fault of a law file is told with its place."""
    text = law_to_toml(_law())
    assert old in text
    with pytest.raises(DataError) as caught:
        parse_law(text.replace(old, new, 1))
    assert words in str(caught.value)


def test_broken_toml_is_told() -> None:
    """A text that is no TOML at all."""
    with pytest.raises(DataError, match="write the law again"):
        parse_law("format = ")


def test_impossible_laws_are_refused() -> None:
    """Missing parameters, wrong shapes, negative variances, unknown names."""
    with pytest.raises(OutOfRangeError, match="missing, unknown or out of order"):
        SludgeLaw("s", "was", PRIOR.parameters[:3], np.eye(3))
    with pytest.raises(OutOfRangeError, match="covariance of shape"):
        SludgeLaw("s", "was", PRIOR.parameters, np.eye(3))
    with pytest.raises(OutOfRangeError, match="is not one"):
        SludgeLaw("s", "was", PRIOR.parameters, -np.eye(14))
    with pytest.raises(UnknownNameError, match="no law parameter"):
        PRIOR.value("stiffness")
    with pytest.raises(OutOfRangeError, match="between 0 and 1"):
        to_space(1.5, Space.LOGIT)
    with pytest.raises(OutOfRangeError, match="normals per sample"):
        PRIOR.at_normals(np.zeros((2, 3)))


@pytest.mark.parametrize("space", list(Space))
def test_lines_invert(space: Space) -> None:
    """There and back."""
    assert from_space(to_space(0.3, space), space) == pytest.approx(0.3)
