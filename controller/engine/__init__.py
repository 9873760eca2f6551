"""(state, now, input) → decision. Pure; no decision is made anywhere else."""
