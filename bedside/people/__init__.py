"""Who may sign in and what they may do: accounts, passwords, sessions, roles, tablets."""
