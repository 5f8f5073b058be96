"""What nights out bring where they are few, learned from weather years lived through before the season.

A night out kept for a later one is worth what that will bring then: after all that is seen in between, on a
night as long as it is. Reckoned from today's wishes it is far too much, for many nights promise the same
targets, and a policy that believes in it stays at home night after night.
"""

from __future__ import annotations

from .following import Following
from .simulation import draw_weather, live

YEARS = 30  # lived through; a second time, with what the first has taught, brought nothing more
SEED = 2**31
"""Of their weather: no seed whose years are told as odds."""


def rehearsed(policy: Following) -> Following:
    """Return the policy that knows what its nights out will bring, where they are limited; else itself.

    Parameters
    ----------
    policy : Goes out whenever that is worth its cost, for it expects nothing of later nights.
    """
    if not policy.limits:
        return policy
    season = policy.season
    live(season, policy, draw_weather(season.chain, YEARS, SEED))
    return Following(
        season, policy.published, policy.limits, policy.outing_cost, policy.steadiness, policy.pricing,
        policy.announced, policy.brought,
    )  # fmt: skip
