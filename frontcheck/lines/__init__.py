"""Reference lines and wrap-around distances, by rule set."""
