"""The service around the scheduler."""
