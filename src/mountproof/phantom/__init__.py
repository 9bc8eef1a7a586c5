"""A made-up dentition with known truth, for the demo and for tests."""
