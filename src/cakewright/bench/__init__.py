"""Laboratory readings -> law parameters with their covariance, judged for quality."""
