"""Do the shared cases bite? Small mistakes are made in the rules, one at a time, and the cases must notice each.

`python -m tests.mutations python` and `python -m tests.mutations javascript` make every mistake there is (some minutes
each) and print how many were noticed, with those that were not. What is left over, and why, is in `survivors.md`.
"""
