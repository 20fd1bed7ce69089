"""Shape studies: noses and moves, thousands of variants, the least change that keeps limits."""
