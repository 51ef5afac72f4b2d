"""What the house keeps: the only rooms with peewee in them."""
