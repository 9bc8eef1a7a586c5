"""Standard uncertainty: first order and Monte Carlo."""
