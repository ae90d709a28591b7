"""Filtration and consolidation of a compressible layer in one solver (JAX inside)."""

from cakewright.physics.expression.curve import ExpressionCurve, expression_curve

__all__ = ["ExpressionCurve", "expression_curve"]
