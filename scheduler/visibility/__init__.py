"""What can be seen when: windows, brightness, merit, opportunities."""
