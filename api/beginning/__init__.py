"""From nothing to a scenario: towns by name, a form as scenario.toml, pasted lines as a wish-list."""
