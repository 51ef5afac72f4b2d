"""What is pending, who goes where and in which order, whose names are easily mixed up, and who has
taken it out.
"""
