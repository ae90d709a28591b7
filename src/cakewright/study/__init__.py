"""The study file: fields, defaults with basis, all faults at once, versions."""

from cakewright.study.correlations import correlation_pairs
from cakewright.study.entry import machine_said, read_quantity, said_as
from cakewright.study.fields import Field, class_labels, fields, machine_keys, origin_kinds
from cakewright.study.model import Study
from cakewright.study.plausible import Question, questions
from cakewright.study.quantity_text import Decimals, Spread, parse_quantity
from cakewright.study.read import FORMAT_VERSION, parse_study
from cakewright.study.template import render_template

__all__ = [
    "FORMAT_VERSION",
    "Decimals",
    "Field",
    "Question",
    "Spread",
    "Study",
    "class_labels",
    "correlation_pairs",
    "fields",
    "machine_keys",
    "machine_said",
    "origin_kinds",
    "parse_quantity",
    "parse_study",
    "questions",
    "read_quantity",
    "render_template",
    "said_as",
]
