"""Published data of people and of test impactors."""
