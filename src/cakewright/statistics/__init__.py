"""Sampling, sensitivity, regression with covariance, reconciliation, charts, designed tests."""
