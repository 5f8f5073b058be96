"""Tests of jobs that outlive the process that works on them."""
