"""Bedside: the morning blood round, from the order to the labelled tube and the written-up incident."""
